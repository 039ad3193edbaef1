"""The account of a no: as text, data, sheet and page; the data hold a proof to check."""

from __future__ import annotations

import json
import pathlib
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from kdkit.illustrate import draw_no_plan
from kdkit.plan import make_plan
from kdkit.plan.no_plan import NoPlan, check_claims, study_no_plan, tell_cures
from kdkit.plan.plan import Impossible, OrderRefused
from kdkit.plan.verify import verify_impossible
from kdkit.publish.no_plan import (
    certificate_of,
    give_account,
    load_certificate,
    no_plan_data,
    no_plan_text,
    publish_no_plan,
)
from kdkit.publish.wording.messages import load_messages
from tests.products import CASE, PACKED_RING, RING, made


def studied(folder: pathlib.Path, text: str) -> NoPlan:
    resolved, assembly, joinery, catalogue = made(folder, text)
    verdict, (problem,) = make_plan(resolved, assembly, joinery, catalogue)
    assert isinstance(verdict, Impossible | OrderRefused)
    return study_no_plan(resolved, assembly, joinery, catalogue, verdict, problem)


@pytest.fixture
def ring(tmp_path: pathlib.Path) -> NoPlan:
    return studied(tmp_path, RING)


def said(no: NoPlan) -> str:
    return no_plan_text(give_account(no, load_messages("en")))


def test_text_names_every_part_direction_and_reason_but_no_step(ring: NoPlan) -> None:
    text = said(ring)
    assert text.startswith("Corner of three boards cannot be put together\n")
    for line in ("A  Left side", "B  Rear", "C  Floor"):
        assert f"  {line}\n" in text
    for way in ("To the right", "To the left", "To the back", "To the front", "Upwards"):
        assert re.search(rf"^{way}: [ABC](?: → [ABC])+$", text, re.MULTILINE)
    assert "and confirms it" in text
    assert "then there is a plan of 4 steps" in " ".join(text.split())
    assert "Step 1" not in text
    assert max(map(len, text.splitlines())) <= 92


def test_a_check_that_fails_is_said(ring: NoPlan) -> None:
    text = said(replace(ring, faults=("left can move along (1, 0, 0) without rear",)))
    assert "does not confirm" in text
    assert "left can move along" in text


def test_no_cures_are_said_with_what_was_tried(ring: NoPlan) -> None:
    assert ring.cures is not None
    none = replace(ring, cures=replace(ring.cures, cures=(), tried=7, left_out=3, size=2))
    assert "None of 7 changes that were tried, up to 2 at a time" in said(none)
    assert "at least 3 more were not" in " ".join(said(none).split())
    assert "none of the 7 changes tried" in tell_cures(none).help


def test_best_cure_is_the_help_of_the_problem(ring: NoPlan) -> None:
    problem = tell_cures(ring)
    assert problem.code == "no-assembly-order"
    assert "run over the end of" in problem.help
    assert "then there is a plan of 4 steps" in problem.help


def test_data_hold_a_certificate_that_checks_again(ring: NoPlan) -> None:
    data = json.loads(json.dumps(no_plan_data(ring)))
    proof = certificate_of(data)
    assert proof == ring.verdict
    assert verify_impossible(proof, ring.assembly, ring.joinery, ring.catalogue) == ()
    data["loops"][0]["blocks"].pop()
    broken = certificate_of(data)
    assert broken is not None
    assert verify_impossible(broken, ring.assembly, ring.joinery, ring.catalogue)
    assert data["check"] == {"holds": True, "faults": []}
    assert data["cures"]["found"][0]["changes"][0]["kind"] == "swap"


@pytest.mark.parametrize(
    "data",
    [
        None,
        [],
        {"verdict": "order-refused"},
        {"verdict": "impossible", "parts": "abc", "loops": []},
        {"verdict": "impossible", "parts": ["a"], "loops": [3]},
        {"verdict": "impossible", "parts": ["a"], "loops": [{"direction": [1, 2], "blocks": []}]},
        {
            "verdict": "impossible",
            "parts": ["a"],
            "loops": [{"direction": [1, 0, 0], "blocks": [{"part": "a", "by": 4, "reason": ""}]}],
        },
    ],
)
def test_other_data_hold_no_certificate(data: object) -> None:
    assert certificate_of(data) is None


def test_files_that_are_no_certificate_are_problems(tmp_path: pathlib.Path) -> None:
    for name, text in (("a", "{"), ("b", "[" * 100_000), ("c", "{}"), ("d", '{"verdict": 1e999}')):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        proof, (problem,) = load_certificate(file)
        assert proof is None
        assert problem.code == "certificate-bad"


def test_folder_has_text_data_sheet_and_page(ring: NoPlan, tmp_path: pathlib.Path) -> None:
    figures = draw_no_plan(ring)
    target = tmp_path / "why"
    files, problems = publish_no_plan(ring, figures, target)
    assert problems == ()
    assert files is not None
    assert [f.name for f in files] == [
        "impossible.html",
        "impossible.json",
        "impossible.svg",
        "impossible.txt",
    ]
    assert (target / "impossible.txt").read_text(encoding="utf-8") == said(ring)
    sheet = ET.parse(target / "impossible.svg").getroot()
    words = " ".join("".join(t.itertext()) for t in sheet.iter("{http://www.w3.org/2000/svg}text"))
    assert "cannot be put together" in words
    for way in ("To the right", "Downwards"):
        assert f"{way}: A" in words
    page = (target / "impossible.html").read_text(encoding="utf-8")
    assert page.count("<svg") == 7
    assert "<script" not in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    read, _ = load_certificate(target / "impossible.json")
    assert read is not None
    assert read[0] == ring.verdict
    assert check_claims(read[1], ring.resolved) == ()
    again, _ = publish_no_plan(ring, figures, target)
    assert again == files


def test_a_refused_order_is_told_with_the_nearest(tmp_path: pathlib.Path) -> None:
    no = studied(tmp_path, f"{CASE}order: [left, bottom, right, top, shelf, back]\n")
    text = said(no)
    assert text.startswith("Case: the order cannot be kept\n")
    assert "Not moving to the left\n" in text
    assert "[bottom, right, top, shelf, back, left]" in text
    data = no_plan_data(no)
    assert data["verdict"] == "order-refused"
    assert data["position"] == 3
    assert data["nearest"]["moved"] == ["left"]
    files, _ = publish_no_plan(no, draw_no_plan(no), tmp_path / "why")
    assert files is not None
    assert [f.name for f in files][:2] == ["order.html", "order.json"]
    page = files[0].read_text(encoding="utf-8")
    assert page.count("<svg") == 2


def test_a_title_cannot_become_markup(tmp_path: pathlib.Path) -> None:
    no = studied(tmp_path, RING.replace("title: Floor", 'title: "<b>Floor</b>"'))
    files, _ = publish_no_plan(no, draw_no_plan(no), tmp_path / "why")
    assert files is not None
    for file in files[::2]:
        assert "<b>" not in file.read_text(encoding="utf-8")


def test_parts_packed_as_one_have_one_letter_and_their_titles(tmp_path: pathlib.Path) -> None:
    titled = PACKED_RING.replace("title: Rear", "title: Rear & more")
    no = studied(tmp_path, titled)
    assert no.problem.message.endswith(
        "Left side (left) and Floor (floor), packed as one; Rear & more (rear)"
    )
    assert not no.faults
    text = said(no)
    assert "  A  Left side and Floor, packed as one\n  B  Rear & more\n" in text
    assert "none of" not in text.lower().partition("what would change it")[2].partition("how")[0]
    data = json.loads(json.dumps(no_plan_data(no)))
    assert data["letters"]["A"] == {"part": "left + floor", "title": "Left side + Floor"}
    proof = certificate_of(data)
    assert proof is not None
    assert verify_impossible(proof, no.assembly, no.joinery, no.catalogue) == ()
    figures = draw_no_plan(no)
    assert set(figures) == {"parts", *(f"way-{n}" for n in range(1, 7))}
    assert figures["parts"].title == "A, B"
    assert figures["way-1"].title == "A → B → A"


def test_nothing_to_try_is_not_called_none_of_0(ring: NoPlan) -> None:
    assert ring.cures is not None
    bare = replace(ring, cures=replace(ring.cures, cures=(), tried=0, left_out=0))
    assert "No change to these joints was found" in said(bare)
    assert "no change to these joints was found" in tell_cures(bare).help
