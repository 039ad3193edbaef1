"""Bores as the workshop reads them: from a datum corner, mirrored for a mirror image."""

from __future__ import annotations

import math

import pytest

from kdkit.frames import PRODUCT
from kdkit.joinery.placed import Bore, Groove, Joinery
from kdkit.model.resolved import Part, Resolved
from kdkit.schedule import make_schedules
from kdkit.schedule.schedules import DrilledPanel
from tests import handmade


def drilling() -> dict[str, DrilledPanel]:
    made = make_schedules(
        handmade.resolved(),
        handmade.assembly(),
        handmade.joinery(),
        handmade.catalogue(),
        handmade.plan(),
    )
    return {panel.letter: panel for panel in made.drilling}


def drilled(part: Part, *bores: Bore, grooves: tuple[Groove, ...] = ()) -> DrilledPanel:
    resolved = Resolved(
        said=handmade.product(),
        variant=None,
        parameters={},
        parts=(part,),
        joints=(),
        fixtures=(),
        units=(),
        order=(),
    )
    joinery = Joinery(joints=(), fixtures=(), bores=bores, grooves=grooves, fasteners=())
    (panel,) = make_schedules(
        resolved, handmade.assembly(), joinery, handmade.catalogue(), None
    ).drilling
    return panel


def test_a_mirror_pair_shows_the_same_numbers_from_the_mirrored_corner() -> None:
    left, right = drilling()["A"], drilling()["B"]
    assert left.datum == right.datum == "front bottom"
    assert (left.x_runs, left.y_runs) == (right.x_runs, right.y_runs) == ("top", "back")
    shown = [
        [(b.surface, b.x, b.y, b.diameter, b.depth) for b in panel.bores] for panel in (left, right)
    ]
    assert shown[0] == shown[1]
    assert ("face", 300.0, 37.0, 5.0, 12.0) in shown[0]
    assert ("face", 9.0, 60.0, 5.0, 11.0) in shown[0]


def test_edges_are_measured_from_the_datum_and_from_the_face() -> None:
    shelf = drilling()["C"]
    assert (shelf.datum, shelf.x_runs, shelf.y_runs) == ("front left", "right", "back")
    edge = [(b.surface, b.x, b.y) for b in shelf.bores if b.surface == "edge:left"]
    assert edge == [("edge:left", 60.0, 9.0), ("edge:left", 240.0, 9.0)]


def test_bores_are_sorted_by_surface_then_row() -> None:
    for panel in drilling().values():
        keys = [(b.surface.startswith("edge"), b.surface, b.y, b.x) for b in panel.bores]
        assert keys == sorted(keys)


def test_a_mirror_pair_lying_flat_has_mirrored_words() -> None:
    sides = ("front", "right", "back", "left")
    parts = [handmade.panel(n, PRODUCT, (400.0, 300.0), edge_sides=sides) for n in ("one", "two")]
    bores = [
        Bore(
            part=name,
            surface=surface,
            mouth=(x, y, z),
            into=into,
            diameter=8.0,
            depth=12.0,
            through=False,
            purpose="dowel",
            path=(),
        )
        for name, surface, (x, y, z), into in (
            ("one", "face", (30.0, 50.0, 0.0), (0.0, 0.0, -1.0)),
            ("two", "face", (370.0, 50.0, 0.0), (0.0, 0.0, -1.0)),
            ("one", "edge:3", (0.0, 70.0, -7.0), (1.0, 0.0, 0.0)),
            ("two", "edge:1", (400.0, 70.0, -7.0), (-1.0, 0.0, 0.0)),
        )
    ]
    resolved = Resolved(
        said=handmade.product(),
        variant=None,
        parameters={},
        parts=tuple(parts),
        joints=(),
        fixtures=(),
        units=(),
        order=(),
    )
    joinery = Joinery(joints=(), fixtures=(), bores=tuple(bores), grooves=(), fasteners=())
    one, two = make_schedules(
        resolved, handmade.assembly(), joinery, handmade.catalogue(), None
    ).drilling
    assert (one.datum, one.x_runs) == ("front left", "right")
    assert (two.datum, two.x_runs) == ("front right", "left")
    assert [(b.x, b.y) for b in one.bores] == [(b.x, b.y) for b in two.bores]
    assert [b.surface for b in one.bores] == ["face", "edge:left"]
    assert [b.surface for b in two.bores] == ["face", "edge:right"]


def test_a_slanted_bore_gives_its_angle_and_direction() -> None:
    part = handmade.panel(
        "leg", PRODUCT, (400.0, 100.0), edge_sides=("front", "right", "back", "left")
    )
    lean = math.radians(15)
    bore = Bore(
        part="leg",
        surface="face",
        mouth=(200.0, 50.0, 0.0),
        into=(0.0, math.sin(lean), -math.cos(lean)),
        diameter=8.0,
        depth=15.0,
        through=False,
        purpose="dowel",
        path=(),
    )
    (line,) = drilled(part, bore).bores
    assert line.angle_deg == pytest.approx(75.0)
    assert line.towards_deg == pytest.approx(90.0)


def test_square_bores_have_no_direction() -> None:
    assert all(
        b.angle_deg == 90.0 and b.towards_deg is None
        for panel in drilling().values()
        for b in panel.bores
    )


def test_a_slanted_edge_is_numbered_from_the_datum_and_measured_along() -> None:
    part = handmade.panel(
        "side",
        PRODUCT,
        (0.0, 0.0),
        outline=((0.0, 0.0), (400.0, 0.0), (400.0, 100.0), (300.0, 200.0), (0.0, 200.0)),
        bands=(0.0,) * 5,
        edge_sides=("front", "right", "", "back", "left"),
    )
    middle = (350.0, 150.0, -9.0)
    bore = Bore(
        part="side",
        surface="edge:2",
        mouth=middle,
        into=(-math.sqrt(0.5), -math.sqrt(0.5), 0.0),
        diameter=8.0,
        depth=20.0,
        through=False,
        purpose="dowel",
        path=(),
    )
    (line,) = drilled(part, bore).bores
    assert line.surface == "edge:3"
    assert line.x == pytest.approx(math.dist((300, 200), (350, 150)))
    assert line.y == pytest.approx(9.0)
    assert line.angle_deg == pytest.approx(90.0)


def test_grooves_from_the_datum() -> None:
    part = handmade.panel(
        "side", PRODUCT, (400.0, 300.0), edge_sides=("back", "right", "front", "left")
    )
    groove = Groove(
        part="side",
        surface="face",
        polygon=((0.0, 12.0), (400.0, 12.0), (400.0, 16.0), (0.0, 16.0)),
        depth=8.0,
        path=(),
        joint="back",
    )
    panel = drilled(part, grooves=(groove,))
    assert panel.datum == "front left"
    (line,) = panel.grooves
    assert (line.x, line.y, line.depth) == ((0.0, 400.0), (284.0, 288.0), 8.0)


def test_a_groove_in_an_edge_is_measured_from_the_face() -> None:
    part = handmade.panel(
        "rail",
        PRODUCT,
        (500.0, 60.0),
        thickness=20.0,
        edge_sides=("front", "right", "back", "left"),
    )
    groove = Groove(
        part="rail",
        surface="edge:0",
        polygon=((50.0, -13.0), (450.0, -13.0), (450.0, -6.0), (50.0, -6.0)),
        depth=8.0,
        path=(),
        joint="panel",
    )
    (line,) = drilled(part, grooves=(groove,)).grooves
    assert line.surface == "edge:front"
    assert (line.x, line.y, line.depth) == ((50.0, 450.0), (6.0, 13.0), 8.0)


def test_a_groove_in_an_edge_is_measured_from_the_datum_and_the_face() -> None:
    """The groove's plan has z of the panel frame across: 0 at the face, negative inside."""
    part = handmade.panel(
        "rail", PRODUCT, (400.0, 80.0), edge_sides=("bottom", "right", "top", "left")
    )
    groove = Groove(
        part="rail",
        surface="edge:2",
        polygon=((0.0, -11.0), (350.0, -11.0), (350.0, -7.0), (0.0, -7.0)),
        depth=6.0,
        path=(),
        joint="panel",
    )
    panel = drilled(part, grooves=(groove,))
    assert (panel.datum, panel.x_runs) == ("bottom left", "right")
    (line,) = panel.grooves
    assert (line.surface, line.x, line.y) == ("edge:top", (50.0, 400.0), (7.0, 11.0))
