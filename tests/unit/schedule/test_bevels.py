"""Bevelled panels in the cut list, the drilling and the views of surfaces."""

from __future__ import annotations

import math

import pytest

from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Part
from kdkit.parts.sameness import find_mirror, is_same_piece, read_workpiece
from kdkit.schedule import make_schedules
from kdkit.schedule.cutting import cut_size, list_bevels, short_size
from kdkit.schedule.schedules import BevelLine, Schedules
from kdkit.schedule.views import PanelViews, list_views
from tests.bevelled import mitred_box, plate
from tests.cabinets import built_in, joint, resolved, use

CORNERS = (("top", "left"), ("top", "right"), ("floor", "left"), ("floor", "right"))


def scheduled(parts: list[Part]) -> tuple[Schedules, tuple[PanelViews, ...], Joinery]:
    product = resolved(parts, [joint(a, b, use("mitre-dowel-6x20")) for a, b in CORNERS])
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    assert joinery is not None, problems
    schedules = make_schedules(product, assembly, joinery, built_in(), None)
    return schedules, list_views(product, joinery, None, schedules), joinery


def test_long_and_short_points_in_the_cut_list() -> None:
    """640 × 640 in 18: four boards of 640 at the long points, 604 at the short ones."""
    lines = scheduled(mitred_box())[0].cut
    assert sum(line.quantity for line in lines) == 4
    for line in lines:
        assert max(line.finished) == max(line.cut) == pytest.approx(640)
        assert line.short is not None
        assert sorted(line.short) == pytest.approx([300, 604])
        assert {b.angle_deg for b in line.bevels} == {45.0}
        assert {b.long for b in line.bevels} in ({"face"}, {"back"})
        # The mean of both lengths: what is sawn off weighs nothing; the bores take some grams.
        assert 0.998 * 650 * 622 * 300 * 18e-9 < line.mass_kg <= 650 * 622 * 300 * 18e-9


def test_bevels_are_told_by_side() -> None:
    part = plate(0, 45, 0, -30)
    assert cut_size(part) == (600, 300)
    t = part.thickness
    assert short_size(part)[0] == pytest.approx(600 - t * max(1, math.tan(math.radians(30))))
    assert list_bevels(part) == (
        BevelLine(side="right", angle_deg=45.0, long="face"),
        BevelLine(side="left", angle_deg=30.0, long="back"),
    )


def piece(part: Part) -> object:
    return read_workpiece(part, [], [])


def test_which_bevelled_panels_are_one_piece() -> None:
    long_ends = plate(0, 45, 0, 45)
    other_side = plate(0, -45, 0, -45)  # turned over it is the same
    aslant = plate(0, 45, 0, -45)
    one_end, other_end = plate(0, 45, 0, 0), plate(0, 0, 0, 45)
    assert is_same_piece(piece(long_ends), piece(other_side))
    assert not is_same_piece(piece(long_ends), piece(plate()))
    assert not is_same_piece(piece(long_ends), piece(aslant))
    assert not is_same_piece(piece(long_ends), piece(plate(0, 45, 0, 30)))
    assert is_same_piece(piece(one_end), piece(other_end))
    # Bevels on two edges in a row, leaning opposite ways: a left one and a right one.
    left, right = plate(45, -45, 0, 0), plate(45, 0, 0, -45)
    assert not is_same_piece(piece(left), piece(right))
    assert find_mirror(piece(left), piece(right)) is not None


def test_bores_in_a_bevel_are_measured_down_its_slope() -> None:
    schedules, panels, joinery = scheduled(mitred_box())
    middle, off = 18 / math.sqrt(2), 0.35 * 18
    for drilled in schedules.drilling:
        assert len(drilled.bores) == len([b for b in joinery.bores if b.part == drilled.named_on])
        for bore in drilled.bores:
            assert bore.angle_deg == 90.0  # square to the bevel
            assert bore.towards_deg is None
            # Towards the short points, which lie on the face or on the back of the board.
            assert min(abs(bore.y - middle - off), abs(bore.y - middle + off)) < 1e-9
    for panel in panels:
        check_views(panel)


def check_views(panel: PanelViews) -> None:
    edges = {v.surface: v for v in panel.views if v.is_edge}
    leaning = [v for v in edges.values() if v.leans]
    square = [v for v in edges.values() if not v.leans]
    assert len(leaning) == len(square) == 2
    for view in leaning:
        assert view.leans == 45.0
        assert view.box[3] - view.box[1] == pytest.approx(18 * math.sqrt(2))
        assert len(view.bores) == 4
    for view in square:
        assert view.shows_bevel
        assert {round(p[0], 6) for p in view.outlines[0]} == {0, 18, 622, 640}
    for surface in ("face", "back"):
        view = panel.view(surface)
        long = {bevel.is_long for bevel in view.bevels}
        assert len(long) == 1
        axis = 0 if panel.cut.finished[0] > 500 else 1
        reach = [p[axis] for p in view.outlines[0]]
        assert max(reach) - min(reach) == pytest.approx(640 if long == {True} else 604)
        assert view.box[axis + 2] - view.box[axis] == pytest.approx(640)
