"""The manual as a document: what standards and law want it to say, one test each.

Sources: IEC/IEEE 82079-1:2019, from memory: identification, intended use, safety beside
the action, contents check, tools and persons, ordered steps with the expected result,
care, spare parts, disposal, date, version, language. Regulation (EU) 2023/988, Art. 9:
type, batch or serial number; the maker's name, postal and electronic address. ANSI
Z535.4 and Z535.6: meaning and form of signal words.
"""

from __future__ import annotations

import html as html_text
import pathlib
import re

import pytest

from kdkit.publish import publish
from tests import handmade

MAKER = {
    "name": "Quernmoss Workshop",
    "address": "The Old Kiln, 3 Mill Lane, Quernmoss",
    "contact": "bench@quernmoss.example",
}


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("requirements") / "out"
    said = handmade.product(
        product="Test bookcase",
        revision="C",
        batch="B-17",
        date="2026-11-25",
        maker=MAKER,
        safety={"wall_restraint": "required", "load_per_shelf": 12, "use": "dry-indoor"},
    )
    files, problems = publish(handmade.results(said), folder)
    assert files is not None, problems
    return (pathlib.Path(folder) / "manual.html").read_text(encoding="utf-8")


def section(page: str, id: str) -> str:
    """Return a section's words."""
    body = page[page.index(f' id="{id}">') :]
    return words(body[: body.index("</section>")])


def words(markup: str) -> str:
    return html_text.unescape(" ".join(re.sub("<[^>]*>", " ", markup).split()))


def steps(page: str) -> list[str]:
    return re.findall(r'<section class="step.*?</section>', page, re.DOTALL)


def test_product_version_batch_date_and_language(page: str) -> None:
    cover = section(page, "cover")
    for fact in ("Test bookcase", "Revision C", "Batch B-17", "Date 2026-11-25"):
        assert fact in cover
    assert "Language English" in cover
    assert '<html lang="en">' in page


def test_maker_with_postal_and_electronic_address(page: str) -> None:
    cover = section(page, "cover")
    assert all(text in cover for text in MAKER.values())


def test_intended_use_and_load(page: str) -> None:
    before = section(page, "before")
    assert "What it is for" in before
    assert "dry room" in before
    assert "12 kg on each shelf" in before


def test_contents_are_checked_before_the_work(page: str) -> None:
    before = section(page, "before")
    assert "compare them with the lists" in before
    assert "missing or damaged" in before
    assert page.index('id="parts"') < page.index('id="hardware"') < page.index('id="steps"')


def test_tools_persons_and_time(page: str) -> None:
    before = section(page, "before")
    assert "Screwdriver" in before
    assert re.search(r"One person|\d persons", before)
    assert re.search(r"about \d+ (minutes|hours?)", before)


def test_cautions_stand_in_the_step_before_its_actions(page: str) -> None:
    for step in steps(page):
        for caution in re.finditer('<div class="caution', step):
            assert caution.start() < step.index('<ol class="lines">')
    nailing = next(s for s in steps(page) if "nail" in words(s))
    assert "eye protection" in words(nailing)
    fixing = next(s for s in steps(page) if "into the wall" in words(s))
    assert "no cable or pipe" in words(fixing)


def test_signal_words_have_their_meaning_and_form(page: str) -> None:
    """Alert symbol with DANGER, WARNING and CAUTION; none with NOTICE."""
    found = re.findall(r'<div class="caution (\w+)">(.*?)</div>', page, re.DOTALL)
    assert {level for level, _ in found} == {"warning", "caution", "notice"}
    for level, inner in found:
        assert f">{level.upper()}</strong>" in inner
        assert ('class="sign"' in inner) is (level != "notice")
    text = section(page, "before")
    assert "WARNING: could kill or injure badly" in text
    assert "CAUTION: could injure" in text
    assert "NOTICE: could damage" in text
    tip_over = [inner for level, inner in found if level == "warning" and "tips over" in inner]
    assert tip_over


def test_steps_are_ordered_and_each_says_what_to_see_afterwards(page: str) -> None:
    numbers = [int(n) for n in re.findall(r'id="step-(\d+)"', page)]
    assert numbers == list(range(1, len(numbers) + 1))
    for step in steps(page):
        assert '<p class="result">' in step


def test_final_check_care_taking_apart_spares_and_disposal(page: str) -> None:
    final, after = section(page, "final"), section(page, "after")
    assert "No hardware is left over" in final
    assert "Care" in final
    for heading in ("Taking apart", "Spare parts", "Disposal"):
        assert heading in after
    assert "revision C" in after
    assert "B-17" in after
    assert MAKER["contact"] in after
    assert "anticlockwise until the joint lets go. Then take off" in after


def test_pointer_to_local_rules_and_qualified_help(page: str) -> None:
    before = section(page, "before")
    assert "differ from place to place" in before
    assert "qualified person" in before


def test_the_manual_says_to_keep_it(page: str) -> None:
    assert "Keep these instructions" in section(page, "cover")


def test_lifting_by_two_says_why(page: str) -> None:
    for step in steps(page):
        if re.search(r"[2-9] persons", words(step)):
            assert "Two persons are needed: " in words(step)
