"""The picture of a sample pulled apart: everything is in it, and the hardware is in sight."""

from __future__ import annotations

import pytest

from kdkit.catalogue import Catalogue
from kdkit.frames import dot, sub
from kdkit.illustrate.figures.exploded_figure import _all_apart, _straight, draw_exploded
from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.style import Style, load_style
from kdkit.illustrate.staging.subject import Subject
from kdkit.plan import make_plan
from kdkit.plan.plan import OperationKind, Plan
from kdkit.samples import Sample, place_product, sample_product
from kdkit.schedule import make_schedules
from tests.samples import CATALOGUE, FIXTURES, JOINTS


@pytest.fixture(scope="module")
def style() -> Style:
    found, problems = load_style()
    assert found is not None, problems
    return found


def shown(key: str, catalogue: Catalogue = CATALOGUE) -> tuple[Sample, Plan, Subject]:
    sample, problems = place_product(sample_product(catalogue, key, seen=True), catalogue)
    assert sample is not None, problems
    plan, problems = make_plan(sample.resolved, sample.assembly, sample.joinery, catalogue)
    assert isinstance(plan, Plan), problems
    subject = Subject(assembly=sample.assembly, joinery=sample.joinery, catalogue=catalogue)
    return sample, plan, subject


def drawn(key: str, style: Style) -> Figure:
    sample, plan, subject = shown(key)
    schedules = make_schedules(
        sample.resolved, sample.assembly, sample.joinery, sample.catalogue, plan
    )
    figure = draw_exploded(subject, plan, schedules, style, title=key)
    assert figure is not None
    return figure


@pytest.mark.parametrize("key", [*JOINTS, *FIXTURES])
def test_all_hardware_stands_out(key: str) -> None:
    sample, plan, subject = shown(key)
    schedules = make_schedules(
        sample.resolved, sample.assembly, sample.joinery, sample.catalogue, plan
    )
    state = _all_apart(subject, plan, schedules)
    pieces = {(one.fastener.id, one.item.index) for one in state.items if one.new}
    assert pieces == {(f.id, i.index) for f in sample.joinery.fasteners for i in f.items}
    assert set(state.parts) == {part.name for part in sample.assembly.parts}


@pytest.mark.parametrize("key", ["cam-and-bolt-34", "corner-bracket-40", "handle-128", "housed"])
def test_a_figure_keeps_to_its_room(key: str, style: Style) -> None:
    figure = drawn(key, style)
    assert figure.width <= 140 + 2 * style.margin + 1
    assert figure.height <= 66 + 2 * style.margin + 20  # hardware may stand out of the box
    assert 0 < figure.scale <= 0.4
    assert figure == drawn(key, style)


def test_members_part_square_to_their_joint() -> None:
    _, plan, subject = shown("corner-bracket-40")
    (mate,) = (o for o in plan.operations if o.kind is OperationKind.MATE)
    way = _straight(mate, subject).direction
    assert way is not None
    contact = subject.joinery.joints[0].contact
    assert abs(dot(way, contact.frame.k)) == pytest.approx(1)
    inwards = sub(
        subject.assembly.part(contact.receiving).frame.origin,
        subject.assembly.part(contact.butting).frame.origin,
    )
    assert dot(way, inwards) < 0 or mate.parts == (contact.butting,)
