"""From "two cams are missing" to a slip, the workshop's order, and what goes missing most."""

from __future__ import annotations

import io
import re

import pypdf
import pytest

from kdkit.archive import Archive, Superseded, sent_for
from kdkit.archive.superseding import record_superseded
from kdkit.desk.shared import Desk
from tests.unit.desk.conftest import Caller

SEND = "/batch/1/send?what=cam-lock-15"


def test_two_cams_are_missing(caller: Caller, archive: Archive) -> None:
    text = caller.get("/batch/1/send?words=cams").text
    assert "Cam lock Ø15" in text
    assert "Cam bolt 47 long" in text
    assert "Dowel" not in text
    text = caller.get(SEND).text
    assert "Which of these is it?" in text
    assert re.findall(r'name="what" value="([^"]+)"', text) == ["cam-lock-15", "cam-bolt-34"]
    answer = caller.send(SEND, what="cam-bolt-34", quantity="2", why="missing", reference="1187")
    assert answer.status_code == 303
    slip = caller.get(answer.headers["Location"]).text
    assert "Cam bolt 47 long, for setback 34" in slip
    assert "batch <b>PG-31</b>" in slip
    assert "Order <b>1187</b>" in slip
    note = sent_for(archive)[0]
    told = (note.item, note.quantity, note.why, note.batch, note.reference)
    assert told == ("cam-bolt-34", 2, "missing", "PG-31", "1187")


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("pegs", ["dowel-8x35"]),
        ("pin", ["dowel-8x35"]),
        ("disc", ["cam-lock-15", "cam-bolt-34"]),
        ("post", ["cam-bolt-34"]),
        ("screws", ["cam-bolt-34"]),
    ],
)
def test_callers_words_find_what_they_mean(words: str, found: list[str], caller: Caller) -> None:
    text = caller.get(f"/batch/1/send?words={words}").text
    things = re.findall(r"/send\?what=([a-z][a-z0-9-]+)\"", text)
    assert sorted(things) == sorted(found)


def test_a_form_sent_twice_is_noted_once(caller: Caller, archive: Archive) -> None:
    caller.get(SEND)
    said = {"what": "cam-lock-15", "quantity": "1", "why": "lost"}
    first, second = caller.send(SEND, **said), caller.send(SEND, **said)
    assert first.headers["Location"] == second.headers["Location"]
    assert len(sent_for(archive)) == 2  # with the one that was there
    caller.get(SEND)
    third = caller.send(SEND, **said)
    assert third.headers["Location"] != first.headers["Location"]


def test_several_things_share_a_slip(caller: Caller) -> None:
    caller.get(SEND)
    first = caller.send(SEND, what="cam-lock-15", quantity="1", why="lost").headers["Location"]
    number = first.rsplit("/", 1)[-1]
    text = caller.get(f"/batch/1/send?with={number}").text
    assert f"what=dowel-8x35&amp;with={number}" in text
    caller.get(f"/batch/1/send?what=dowel-8x35&with={number}")
    both = caller.send("/batch/1/send?what=dowel-8x35", what="dowel-8x35", quantity="4",
                       why="lost").headers["Location"]  # fmt: skip
    slip = caller.get(both).text
    assert "Cam lock Ø15" in slip
    assert "Dowel 8 × 35" in slip


def test_a_bag_is_all_that_is_in_it(caller: Caller, archive: Archive) -> None:
    text = caller.get("/batch/1/send?what=bag%201").text
    assert "2 × Dowel 8 × 35" in text
    caller.send("/batch/1/send?what=bag%201", what="bag 1", quantity="1", why="lost")
    sent = {n.item: n.quantity for n in sent_for(archive) if n.why == "lost"}
    assert sent == {"cam-bolt-34": 2, "cam-lock-15": 2, "dowel-8x35": 2}


def test_a_panel_comes_with_its_order_and_drawing(caller: Caller) -> None:
    caller.get("/batch/1/send?what=part%20B")
    answer = caller.send("/batch/1/send?what=part%20B", what="part B", quantity="1", why="damaged")
    slip = caller.get(answer.headers["Location"]).text
    (order,) = re.findall(r'href="(/order/\d+)"', slip)
    page = caller.get(order).text
    assert "302 × 190 × 18 mm" in page
    assert "bore of 15.00, 13.40 deep, in the back at (34.00, 60.00)" in page
    assert "panel-B.dxf" in page
    assert "panel-A.dxf" not in page
    assert "B-back-t23.nc" in page
    assert "A-face-t8.nc" not in page
    drawing = caller.get(f"{order}/drawing.pdf")
    pages = [p.extract_text() for p in pypdf.PdfReader(io.BytesIO(drawing.data)).pages]
    assert pages
    assert all("B Floor" in text and "A Side" not in text for text in pages)
    how = caller.get("/batch/1/how?what=part%20B").text
    assert "Draw the sheet" in how
    assert "The picture of step 3" in how


def test_what_is_sent_today_is_sent(caller: Caller, archive: Archive) -> None:
    record_superseded(
        archive,
        Superseded(item="cam-lock-15", instead="zinc-cam", title="Zinc cam", since="2026-01-01"),
    )
    assert "Sent today since 2026-01-01: Zinc cam (zinc-cam)" in caller.get("/batch/1").text
    text = caller.get(SEND).text
    assert "<h1>Send Cam lock Ø15</h1>" in text
    assert "Sent today instead: Zinc cam" in text
    answer = caller.send(SEND, what="cam-lock-15", quantity="1", why="missing")
    assert "zinc-cam, sent instead of cam-lock-15" in caller.get(answer.headers["Location"]).text
    note = sent_for(archive)[0]
    assert (note.item, note.instead, note.title) == ("cam-lock-15", "zinc-cam", "Zinc cam")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"quantity": "0"}, "Say how many pieces, from 1 to 10000."),
        ({"quantity": "²"}, "Say how many pieces"),
        ({"quantity": ""}, "Say how many pieces"),
        ({"why": "because"}, "Say why it is sent."),
        ({"what": "cam-lock-99"}, "Choose what is sent."),
        ({"reference": "x" * 300}, "The order&#39;s number:"),
        ({"reference": "a\x00b"}, "The order&#39;s number:"),
    ],
)
def test_what_cannot_be_noted_is_said_and_the_form_kept(
    said: dict[str, str], told: str, caller: Caller, archive: Archive
) -> None:
    caller.get(SEND)
    whole = {"what": "cam-lock-15", "quantity": "7", "why": "lost", **said}
    answer = caller.send(SEND, **whole)
    assert answer.status_code == 400
    assert told in answer.text
    assert len(sent_for(archive)) == 1
    if "quantity" not in said:
        assert 'value="7"' in answer.text


def test_a_batch_that_is_not_of_the_revision_is_refused(caller: Caller) -> None:
    caller.get("/revision/1/send?what=dowel-8x35")
    said = {"what": "dowel-8x35", "quantity": "1", "why": "lost"}
    wrong = caller.send("/revision/1/send?what=dowel-8x35", batch="XX-1", **said)
    assert wrong.status_code == 400
    right = caller.send("/revision/1/send?what=dowel-8x35", batch="PG-31", **said)
    assert "batch <b>PG-31</b>" in caller.get(right.headers["Location"]).text


def test_what_goes_missing_most_is_counted_by_hundred_made(caller: Caller) -> None:
    for _ in range(2):
        caller.get(SEND)
        caller.send(SEND, what="cam-lock-15", quantity="5", why="damaged", reference="77")
    text = caller.get("/log?product=peg").text
    row = re.search(r"<code>cam-lock-15</code>(.*?)</tr>", text, re.DOTALL)
    assert row is not None
    cells = re.findall(r'<td class="count">([^<]*)</td>', row[1])
    # Three notes of twelve products: 25 in 100; 12 pieces: 2 missing, 10 damaged.
    assert cells == ["25.0", "3", "12", "2", "10", "–", "–"]
    assert "Written alike" in caller.get("/log?product=Pag+shelf").text
    caller.get("/log")
    done = caller.send("/log/forget", reference="77")
    text = caller.get(done.headers["Location"]).text
    assert "2 notes no longer bear that number." in text
    assert ">77<" not in text


def test_the_sheet_for_a_panel_is_drawn_from_the_frozen_definition(
    caller: Caller, desk: Desk
) -> None:
    """It takes a run of kdkit, some seconds: the one place where the desk starts a process."""
    at = "/revision/1/how?what=part%20B"
    caller.get(at)
    assert caller.send(at).status_code == 303
    assert "The sheet is being drawn" in caller.get(at).text
    with desk.sheets._work:  # until the run that began has ended
        pass
    for _ in range(3):
        with desk.sheets._work:
            if "On the screen" in caller.get(at).text:
                break
    assert "Drawn today by this kdkit" in caller.get(at).text
    sheet = caller.get("/revision/1/sheet/manual.pdf?what=part%20B")
    assert sheet.data.startswith(b"%PDF-")
    shown = caller.get("/revision/1/sheet/manual.html?what=part%20B")
    assert "Peg shelf" in shown.text
    assert "sandbox" in shown.headers["Content-Security-Policy"]


def test_a_sheet_that_cannot_be_drawn_says_why(
    caller: Caller, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kdkit.desk.sheets.sys.executable", "/bin/false")
    at = "/revision/1/how?what=part%20A"
    caller.get(at)
    caller.send(at)
    for _ in range(200):
        with desk.sheets._work:
            if "There is no such sheet" in caller.get(at).text:
                break
    assert "kdkit ended without a word" in caller.get(at).text
