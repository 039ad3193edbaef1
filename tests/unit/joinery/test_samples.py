"""Every joint of the catalogue between boards of every thickness that it allows."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from kdkit.diagnostics import Severity
from kdkit.inspect import inspect_product
from kdkit.joinery.placed import Bore, Slot
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from tests.samples import CATALOGUE, JOINTS, Sample, make_sample, pairs

Vector = NDArray[np.float64]


def line(sample: Sample, cut: Bore | Slot) -> tuple[Vector, Vector]:
    """A cut's mouth and direction in the product, from the bare numbers of frame and cut."""
    frame = sample.assembly.part(cut.part).frame
    axes = np.array([frame.i, frame.j, frame.k])
    return np.array(frame.origin) + np.array(cut.mouth) @ axes, np.array(cut.into) @ axes


def off_the_line(point: Vector, start: Vector, way: Vector) -> float:
    return float(np.linalg.norm(np.cross(point - start, way)))


def check_mates(sample: Sample) -> int:
    """Cuts that share a mate lie on one line, opposed or through each other."""
    groups: dict[tuple[str | None, str], list[Bore | Slot]] = {}
    for cut in (*sample.joinery.bores, *sample.joinery.slots):
        if cut.mate is not None:
            groups.setdefault((cut.fastener, cut.mate), []).append(cut)
    for cuts in groups.values():
        assert {c.part for c in cuts} == {"side", "shelf"}
        start, way = line(sample, cuts[0])
        for other in cuts[1:]:
            point, along = line(sample, other)
            assert off_the_line(point, start, way) < 0.01
            assert abs(abs(float(along @ way)) - 1) < 1e-9
    slots = {c.mate: c for c in sample.joinery.slots}
    for slot in sample.joinery.slots:
        twin = slots[slot.mate]
        frame, other = (sample.assembly.part(s.part).frame for s in (slot, twin))
        along = np.array(slot.along) @ np.array([frame.i, frame.j, frame.k])
        there = np.array(twin.along) @ np.array([other.i, other.j, other.k])
        assert abs(abs(float(along @ there)) - 1) < 1e-9
    return len(groups)


def check_items_on_bores(sample: Sample) -> None:
    """Every round item that goes in along the joint lies on the line of a bore of its own."""
    for fastener in sample.joinery.fasteners:
        cuts = [
            line(sample, cut)
            for cut in (*sample.joinery.bores, *sample.joinery.slots)
            if cut.fastener == fastener.id
        ]
        for item in fastener.items:
            entry = CATALOGUE.items[item.item]
            if not cuts or entry.pieces[0].at != (0.0, 0.0) or entry.title in LYING_ON_IT:
                continue
            origin, out = np.array(item.frame.origin), np.array(item.frame.k)
            assert any(
                off_the_line(origin, start, way) < 0.01 and abs(abs(float(out @ way)) - 1) < 1e-9
                for start, way in cuts
            ), item.item


LYING_ON_IT = (
    *("Corner bracket", "Corner block", "Mounting plate"),
    *("Closed rail socket", "Open rail socket", "Rail clip"),
)


def spread(allowed: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Pairs in which every thickness of either member comes up, and the extremes together."""
    thin, thick = (pick(a for a, _ in allowed) for pick in (min, max))
    found = [p for p in allowed if p[0] in (thin, thick)]
    found = [
        p for p in found if p[1] in {pick(b for a, b in found if a == p[0]) for pick in (min, max)}
    ]
    for member in (0, 1):
        for n, size in enumerate(sorted({p[member] for p in allowed})):
            if not any(p[member] == size for p in found):
                having = [p for p in allowed if p[member] == size]
                found.append(having[n % len(having)])
    return found


def test_a_spread_leaves_no_thickness_out() -> None:
    allowed = [(a, b) for a in (12, 15, 18, 25) for b in (9, 16, 18, 22, 30) if a <= b + 8]
    found = spread(allowed)
    assert set(found) <= set(allowed)
    for member in (0, 1):
        assert {p[member] for p in found} == {p[member] for p in allowed}
    assert {(12, 9), (12, 30), (25, 18), (25, 30)} <= set(found)
    assert len(found) < len(allowed)


@pytest.mark.parametrize("key", JOINTS)
def test_a_sample_at_every_thickness(key: str) -> None:
    fitting = CATALOGUE.fittings[key]
    mated = any(b.mate for b in (*fitting.bores, *fitting.slots))
    for t_butting, t_receiving in spread(pairs(key)):
        sample = make_sample(key, t_butting, t_receiving)
        if mated:
            assert check_mates(sample) == len(sample.joinery.fasteners) * len(
                {c.mate for c in (*fitting.bores, *fitting.slots) if c.mate}
            )
        check_items_on_bores(sample)
        found = inspect_product(sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
        bad = [p for p in found if p.severity is not Severity.ADVICE]
        # A sample shows one of the two sides that hold a drawer or a rail.
        assert [p for p in bad if p.code != "held-on-one-side"] == [], (t_butting, t_receiving)


@pytest.mark.parametrize("key", JOINTS)
def test_a_sample_can_be_put_together(key: str) -> None:
    t_butting, t_receiving = pairs(key)[-1]
    sample = make_sample(key, t_butting, t_receiving)
    plan, problems = make_plan(sample.resolved, sample.assembly, sample.joinery, sample.catalogue)
    assert isinstance(plan, Plan), problems
    used: dict[str, int] = {}
    for step in plan.steps:
        for item, count in step.items.items():
            used[item] = used.get(item, 0) + count
    there: dict[str, int] = {}
    home = {
        (f.id, i.item)
        for f in sample.joinery.fasteners
        for i in f.items
        for a in sample.joinery.fittings[f.fitting].actions
        if a.item == i.item and a.stage == "workshop"
    }
    for fastener in sample.joinery.fasteners:
        for item in fastener.items:
            if (fastener.id, item.item) not in home:
                there[item.item] = there.get(item.item, 0) + 1
    assert used == there
