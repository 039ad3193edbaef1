"""The page of all joints: every entry has its section, and the committed copy is fresh."""

from __future__ import annotations

import html
import pathlib
import re

import pytest

from kdkit.catalogue import Catalogue
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.publish.catalogue_page import render_page, render_section, write_sections
from kdkit.publish.catalogue_page.section import Section, write_section
from kdkit.publish.wording.messages import Messages, load_messages
from tests.cabinets import built_in
from tests.rounding import same_but_for_rounding

ROOT = pathlib.Path(__file__).parent.parent.parent.parent
COMMITTED = ROOT / "examples" / "joints" / "index.html"
CATALOGUE = built_in()
HANDFUL = ("cam-and-bolt-34", "biscuit-20", "housed", "pocket-screw-4x32", "shelf-support-5")
AGAIN = "write it anew: kdkit catalogue --out examples/joints --no-pdf"


@pytest.fixture(scope="module")
def style() -> Style:
    found, problems = load_style()
    assert found is not None, problems
    return found


@pytest.fixture(scope="module")
def messages() -> Messages:
    return load_messages("en")


@pytest.fixture(scope="module")
def committed() -> str:
    return COMMITTED.read_text(encoding="utf-8")


def sections_of(page: str) -> dict[str, str]:
    found = re.findall(r'(<section class="entry" id="([^"]+)">.*?</section>)', page, re.DOTALL)
    return {key: text for text, key in found}


def test_every_entry_has_its_section(committed: str) -> None:
    assert set(sections_of(committed)) == set(CATALOGUE.fittings), AGAIN
    listed = re.findall(r'<td><a href="#([^"]+)">', committed)
    assert listed == list(sections_of(committed))
    assert len(committed) < 3_000_000


@pytest.mark.parametrize("key", HANDFUL)
def test_the_committed_copy_is_fresh(
    key: str, committed: str, messages: Messages, style: Style
) -> None:
    section = write_section(CATALOGUE, key, messages, style)
    fresh = render_section(section, messages)
    assert same_but_for_rounding(sections_of(committed)[key], fresh), AGAIN


def test_a_joint_says_what_work_it_suits(messages: Messages, style: Style) -> None:
    section = write_section(CATALOGUE, "pocket-screw-4x32", messages, style)
    facts = {str(name): str(value) for name, value in section.facts}
    assert facts["Suits"] == "frame"


def test_every_section_of_the_committed_copy_has_its_parts(committed: str) -> None:
    for key, text in sections_of(committed).items():
        fitting = CATALOGUE.fittings[key]
        assert "<svg" in text, key
        assert '<ol class="steps">\n<li>' in text, key
        worked = fitting.bores or fitting.slots or fitting.groove_width is not None
        assert ('class="member"' in text) is bool(worked), key
        assert ("There is no sample" in text) is False, key
        for rule in fitting.items:
            if "{" not in rule.item:
                assert CATALOGUE.items[rule.item].title in text, (key, rule.item)


def test_it_needs_no_network_and_no_script(committed: str) -> None:
    assert "<script" not in committed
    assert re.findall(r'(?:src|href)="(?!#)[^"]*"', committed) == []
    assert set(re.findall(r"url\((.{5})", committed)) == {"data:"}


def one(section: Section, name: str) -> str:
    (value,) = (str(v) for k, v in section.facts if str(k) == name)
    return value


def test_facts_come_from_the_entry(messages: Messages, style: Style) -> None:
    section = write_section(CATALOGUE, "cam-and-bolt-34", messages, style)
    low, high = CATALOGUE.fittings["cam-and-bolt-34"].limits.butting_thickness or (0, 0)
    assert one(section, "Butting member") == f"{low:g} to {high:g} mm"
    assert one(section, "Comes apart again") == "yes"
    assert one(section, "In sight afterwards") == "cam face"
    assert [(h.title, h.quantity) for h in section.hardware] == [("Cam bolt", 2), ("Cam lock", 2)]
    captions = [drawing.caption for drawing in section.drawings]
    assert len(captions) == 3
    assert [c.split(".")[0] for c in captions] == ["Side A", "Shelf B", "Shelf B"]


def test_steps_leave_out_what_only_turns_the_sample(messages: Messages, style: Style) -> None:
    section = write_section(CATALOGUE, "housed-glued", messages, style)
    (step,) = section.steps
    assert step.lines[0].startswith("Try it dry first")
    assert step.lines[1].startswith("Spread glue")
    assert "to set" in step.lines[-1]


def test_a_maker_s_own_fitting_gets_its_section(messages: Messages, style: Style) -> None:
    own = CATALOGUE.fittings["dowel-8x30"].model_copy(update={"title": "Our <own> dowel"})
    catalogue = Catalogue(
        boards=CATALOGUE.boards,
        items=CATALOGUE.items,
        tools=CATALOGUE.tools,
        machines=CATALOGUE.machines,
        fittings={"our-dowel": own},
    )
    page = render_page(write_sections(catalogue, messages, style), messages)
    assert list(sections_of(page)) == ["our-dowel"]
    assert "Our &lt;own&gt; dowel" in page
    assert "<own>" not in page


def test_a_fitting_without_a_sample_says_why(messages: Messages, style: Style) -> None:
    limits = CATALOGUE.fittings["dowel-8x30"].limits
    thin = limits.model_copy(update={"butting_thickness": (200.0, 200.0)})
    bad = CATALOGUE.fittings["dowel-8x30"].model_copy(
        update={"options": {"face_depth": -5.0}, "limits": thin}
    )
    catalogue = CATALOGUE.model_copy(update={"fittings": {"bad": bad}})
    section = write_section(catalogue, "bad", messages, style)
    assert section.figure is None
    assert section.troubles
    assert section.troubles[0] in html.unescape(render_section(section, messages))
