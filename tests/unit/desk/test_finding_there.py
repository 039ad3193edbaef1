"""A clerk finds what a caller has, and gives it back as it was issued."""

from __future__ import annotations

import hashlib
import re

import pytest

from kdkit.archive import Archive, find, list_files
from tests.unit.desk.conftest import Caller


@pytest.mark.parametrize(
    ("words", "leads"),
    [
        ("pg-31", "/batch/1"),
        ("Peg shelf", "/revision/1"),
        ("peg sh", "/revision/1"),
        ("Peg shelf A", "/revision/1"),
        ("Peg shelf revision a", "/revision/1"),
        ("peg PG-31", "/batch/1"),
        ("Peg shelf|A|PG-31", "/batch/1"),
        ("Peg shelf|A|PG-31|1\r", "/batch/1?bag=1#hardware"),
        ("Peg shelf|A", "/revision/1"),
        (
            '{"bag":"1","product":"Peg shelf","revision":"A","batch":"PG-31","grams":[38.4,0.5]}',
            "/batch/1?bag=1#hardware",
        ),
        ("Peg shelf|A|NO-1|1", "/revision/1"),
    ],
)
def test_one_thing_alone_is_shown_at_once(words: str, leads: str, caller: Caller) -> None:
    answer = caller.get("/", query_string={"q": words})
    assert (answer.status_code, answer.headers["Location"]) == (303, leads)


def test_the_manual_comes_before_the_files(caller: Caller) -> None:
    text = caller.get("/batch/1").text
    screen = text.index(">Manual on the screen</a>")
    assert screen < text.index(">Manual to print</a>") < text.index('id="files"')
    heads = re.findall(r'<th scope="colgroup" colspan="4">([a-z]+)</th>', text)
    assert heads == ["manual", "workshop", "record", "definition"]
    files = re.findall(r'<td><a href="[^"]+">([^<]+)</a>', text[text.index('id="files"') :])
    assert files[0] == "cutlist.csv"  # plain files before those in folders
    assert files.index("plan.json") < files.index("figures/cover.svg")


def test_what_is_misspelt_is_offered(caller: Caller) -> None:
    text = caller.get("/?q=Pag+shel").text
    assert '<a href="/?q=Peg%20shelf">Peg shelf</a>' in text
    assert "nor one written alike" in caller.get("/?q=zzzzz").text
    assert '<a href="/revision/1">Peg shelf, revision A</a>' in caller.get("/").text


def test_every_file_is_given_byte_for_byte(caller: Caller, archive: Archive) -> None:
    (batch,) = find(archive, "PG-31").batches
    text = caller.get("/batch/1").text
    files = list_files(archive, batch)
    assert len(files) > 30
    for file in files:
        answer = caller.get(f"/batch/1/file/{file.sum}")
        assert hashlib.sha256(answer.data).hexdigest() == file.sum
        assert len(answer.data) == file.size
        assert file.sum in text
        assert "sandbox" in answer.headers["Content-Security-Policy"]
    manual = next(f for f in files if f.path == "manual.pdf")
    shown = caller.get(f"/batch/1/file/{manual.sum}")
    assert shown.mimetype == "application/pdf"
    assert shown.headers["Content-Disposition"].startswith("inline")
    saved = caller.get(f"/batch/1/file/{manual.sum}?save=1")
    assert saved.headers["Content-Disposition"] == "attachment; filename*=UTF-8''manual.pdf"
    drawn = next(f for f in files if f.path.endswith(".dxf"))
    answer = caller.get(f"/batch/1/file/{drawn.sum}")
    assert answer.headers["Content-Disposition"].startswith("attachment")


def test_the_list_is_that_of_the_batch(caller: Caller) -> None:
    text = caller.get("/batch/1").text
    rows = re.findall(r'<td class="count">(\d+)</td>.*?<code>([\w.-]+)</code>', text, re.DOTALL)
    assert rows == [("2", "cam-bolt-34"), ("2", "dowel-8x35"), ("2", "cam-lock-15")]
    assert "12 made" in text
    assert "<h1>Peg shelf, revision A, batch PG-31</h1>" in text


@pytest.mark.parametrize(
    "address",
    [
        "/batch/2",
        "/revision/99999999999999999999",
        "/revision/-1",
        "/revision/1/file/" + "0" * 64,
        "/revision/1/file/" + "A" * 64,
        "/revision/1/file/../../etc/passwd",
        "/revision/1/file/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/revision/1/send?what=no-such-item",
        "/revision/1/how?what=part%20Z",
        "/revision/1/sheet/manual.pdf?what=part%20B",
        "/slip/9", "/slip/1,9", "/slip/x",
        "/slip/" + ",".join(map(str, range(1, 60))),
        "/order/1", "/order/7",
    ],
)  # fmt: skip
def test_what_is_not_there_is_said_to_be_not_there(address: str, caller: Caller) -> None:
    answer = caller.get(address)
    assert answer.status_code == 404
    assert "There is no such page." in answer.text


def test_a_damaged_file_is_named_and_not_given(caller: Caller, archive: Archive) -> None:
    (batch,) = find(archive, "PG-31").batches
    file = next(f for f in list_files(archive, batch) if f.path == "manual.pdf")
    with archive.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER content_no_update")
        connection.exec_driver_sql("UPDATE content SET packed = x'00' WHERE sum = ?", (file.sum,))
    answer = caller.get(f"/batch/1/file/{file.sum}")
    assert answer.status_code == 503
    assert "manual.pdf in the archive" in answer.text


def test_the_true_size_is_kept_for_a_browser(caller: Caller) -> None:
    before = caller.get("/batch/1/send?what=cam-lock-15").text
    (wide,) = re.findall(r'width="([\d.]+)" height="[\d.]+" alt="Picture of Cam lock', before)
    assert float(wide) == pytest.approx(31.8 * 96 / 25.4, abs=0.01)  # mm of the issued picture
    caller.get("/scale?try=1.25")
    assert caller.send("/scale", scale="1.25").status_code == 303
    after = caller.get("/batch/1/send?what=cam-lock-15").text
    (wide,) = re.findall(r'width="([\d.]+)" height="[\d.]+" alt="Picture of Cam lock', after)
    assert float(wide) == pytest.approx(31.8 * 1.25 * 96 / 25.4, abs=0.01)
    for wrong in ("nan", "9", "x", ""):
        caller.get("/scale")
        assert caller.send("/scale", scale=wrong).status_code == 400
    assert caller.get("/scale?try=x").status_code == 400
    assert caller.get("/scale?try=nan").status_code == 200
