"""Volumes of drilled panels against solids of a general CAD kernel (build123d, on OCP).

The kernel integrates curved solids to about 1e-8 of their size, so agreement is asked to
1e-6; the housing with its edge bore is also held against an independent integral (scipy).
"""

from __future__ import annotations

import math

import pytest

from kdkit.frames import PRODUCT, Vec3, add, scaled, unit
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.volume import drilled_volume, prism_volume
from tests.bevelled import offcuts, plate
from tests.cabinets import carcass, carcass_joints, fixture, place

build123d = pytest.importorskip("build123d")

PANEL = Part(
    name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
    outline=((0, 0), (600, 0), (600, 300), (0, 300)),
)  # fmt: skip
POCKET: Vec3 = (0.0, -math.cos(math.radians(15)), -math.sin(math.radians(15)))


def bore(
    surface: str, mouth: Vec3, into: Vec3, diameter: float, depth: float, through: bool = False
) -> Bore:
    return Bore(
        part="panel", surface=surface, mouth=mouth, into=unit(into), diameter=diameter,
        depth=depth, through=through, purpose="bore", path=(),
    )  # fmt: skip


def groove(y: float, depth: float, surface: str = "face") -> Groove:
    plan = ((0.0, y), (600.0, y), (600.0, y + 4), (0.0, y + 4))
    return Groove(part="panel", surface=surface, polygon=plan, depth=depth, path=(), joint="")


HOUSING = bore("face", (100, 24, 0), (0, 0, -1), 15, 13.5)
EDGE_BORE = bore("edge:0", (100, 0, -9), (0, 1, 0), 8, 24)

CASES: dict[str, tuple[tuple[Bore, ...], tuple[Groove, ...]]] = {
    "nothing": ((), ()),
    "through": ((bore("face", (100, 24, 0), (0, 0, -1), 5, 18, True),), ()),
    "cam housing and its edge bore": ((HOUSING, EDGE_BORE), ()),
    "two bores side by side, cut into each other": (
        (HOUSING, bore("face", (110, 24, 0), (0, 0, -1), 15, 10)), ()),
    "bore over a groove": ((bore("face", (100, 284, 0), (0, 0, -1), 8, 12),), (groove(280, 8),)),
    "edge bore under a groove": (
        (bore("edge:2", (100, 300, -9), (0, -1, 0), 8, 30),), (groove(280, 8),)),
    "groove from the back": ((bore("face", (100, 284, 0), (0, 0, -1), 8, 12),),
                             (groove(280, 8, "back"),)),
    "bore running out of the edge": ((bore("face", (100, 3, 0), (0, 0, -1), 15, 13.5),), ()),
    "edge bore running out of the face": ((bore("edge:0", (100, 0, -3), (0, 1, 0), 8, 24),), ()),
    "two edge bores crossing at a corner": (
        (bore("edge:0", (10, 0, -9), (0, 1, 0), 8, 24),
         bore("edge:3", (0, 12, -8), (1, 0, 0), 8, 30)), ()),
    "skew edge bore": ((bore("edge:0", (100, 0, -9), (0.3, 1, 0), 8, 30), HOUSING), ()),
    "pocket with its pilot": (
        (bore("face", (100, 33.6, 0), POCKET, 9.5, 20),
         bore("face", (100, 33.6, 0), POCKET, 4, 45)), ()),
    "slanted through bore": ((bore("face", (100, 100, 0), (0.4, 0.2, -1), 6, 22, True),), ()),
}  # fmt: skip


def cylinder(part: Part, one: Bore) -> object:
    """Return the bore as the kernel's cylinder; a slanted one reaches out of its mouth."""
    square = abs(
        sum(a * b for a, b in zip(one.into, surface_frame(part, one.surface).k, strict=True))
    )
    out = 0.0 if square > 1 - 1e-9 else 60.0
    start = add(one.mouth, scaled(one.into, -out))
    length = one.depth + out + (60.0 if one.through and out else 0.0)
    align = (build123d.Align.CENTER, build123d.Align.CENTER, build123d.Align.MIN)
    plane = build123d.Plane(origin=start, z_dir=one.into)
    return plane * build123d.Cylinder(one.diameter / 2, length, align=align)


def slot_solid(slot: Slot) -> object:
    """Return a slot as the kernel's solid: a disc, or a box with a cylinder at either end."""
    axis = build123d.Vector(*slot.into).cross(build123d.Vector(*slot.along))
    if slot.disc is not None:
        centre = add(slot.mouth, scaled(slot.into, slot.depth - slot.disc / 2))
        plane = build123d.Plane(origin=centre, x_dir=slot.along, z_dir=axis)
        return plane * build123d.Cylinder(slot.disc / 2, slot.width)
    plane = build123d.Plane(origin=slot.mouth, x_dir=slot.along, z_dir=slot.into)
    plan = build123d.SlotOverall(slot.length, slot.width)
    return build123d.extrude(plane * plan, amount=slot.depth, dir=slot.into)


def kernel_volume(
    part: Part, bores: list[Bore], grooves: list[Groove], slots: list[Slot] | None = None
) -> float:
    face = build123d.make_face(build123d.Polyline(*part.outline, close=True))
    body = build123d.extrude(face, amount=part.thickness, dir=(0, 0, -1))
    for cut_off in offcuts(part):
        start = [tuple(p) for p in cut_off[:4].tolist()]
        wedge = build123d.make_face(build123d.Polyline(*start, close=True))
        reach = cut_off[4] - cut_off[0]
        length = float((reach @ reach) ** 0.5)
        body -= build123d.extrude(wedge, amount=length, dir=tuple((reach / length).tolist()))
    for ring in part.cutouts:
        opening = build123d.make_face(build123d.Polyline(*ring, close=True))
        body -= build123d.extrude(opening, amount=part.thickness, dir=(0, 0, -1))
    for hole in part.round_cutouts:
        at = build123d.Pos(hole.centre[0], hole.centre[1], -part.thickness / 2)
        body -= at * build123d.Cylinder(hole.diameter / 2, part.thickness)
    for one in bores:
        body -= cylinder(part, one)
    for slot in slots or ():
        body -= slot_solid(slot)
    for cut in grooves:
        if cut.surface.startswith("edge:"):
            frame = surface_frame(part, cut.surface)
            plane = build123d.Plane(origin=frame.origin, x_dir=frame.i, z_dir=frame.k)
            plan = build123d.make_face(build123d.Polyline(*cut.polygon, close=True))
            body -= build123d.extrude(plane * plan, amount=cut.depth, dir=scaled(frame.k, -1.0))
            continue
        plan = build123d.make_face(build123d.Polyline(*cut.polygon, close=True))
        top = 0.0 if cut.surface == "face" else cut.depth - part.thickness
        body -= build123d.Pos(0, 0, top) * build123d.extrude(plan, amount=cut.depth, dir=(0, 0, -1))
    return float(body.volume)


@pytest.mark.parametrize("case", CASES)
def test_hand_built_panels(case: str) -> None:
    bores, grooves = CASES[case]
    ours = drilled_volume(PANEL, bores, grooves)
    assert ours == pytest.approx(kernel_volume(PANEL, list(bores), list(grooves)), rel=1e-6)
    if bores or grooves:
        assert ours < prism_volume(PANEL)


def test_housing_and_edge_bore_against_an_independent_integral() -> None:
    integrate = pytest.importorskip("scipy.integrate")

    def common(x: float) -> float:
        housing, edge = math.sqrt(7.5**2 - x * x), math.sqrt(4.0**2 - x * x)
        return float((24 - (24 - housing)) * (min(0.0, -9 + edge) - max(-13.5, -9 - edge)))

    both = integrate.quad(common, -4, 4, epsabs=1e-11)[0]
    taken = math.pi * (7.5**2 * 13.5 + 4.0**2 * 24) - both
    ours = drilled_volume(PANEL, [HOUSING, EDGE_BORE])
    assert ours == pytest.approx(600 * 300 * 18 - taken, rel=1e-11)


def test_openings_and_notches() -> None:
    part = Part(
        name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
        outline=((0, 0), (600, 0), (600, 250), (500, 250), (500, 300), (0, 300)),
        cutouts=(((100, 100), (200, 100), (200, 200), (100, 200)),),
        round_cutouts=(RoundCutOut(centre=(400, 150), diameter=60),),
    )  # fmt: skip
    bores = [
        bore("face", (97, 150, 0), (0, 0, -1), 10, 12),  # runs into the opening
        bore("edge:2", (550, 250, -9), (0, -1, 0), 8, 30),
    ]
    assert drilled_volume(part, bores) == pytest.approx(kernel_volume(part, bores, []), rel=1e-6)


def test_every_panel_of_a_carcass() -> None:
    restraint = fixture("tip-restraint", "top")
    joinery, assembly = place(carcass(), carcass_joints(), (restraint,))
    drilled = 0
    for part in assembly.parts:
        bores = [b for b in joinery.bores if b.part == part.name]
        grooves = [g for g in joinery.grooves if g.part == part.name]
        expected = kernel_volume(part, bores, grooves)
        assert drilled_volume(part, bores, grooves) == pytest.approx(expected, rel=1e-6), part.name
        drilled += bool(bores)
    assert drilled == 5


L_SHAPE = ((0, 0), (600, 0), (600, 200), (500, 200), (500, 300), (0, 300))
BEVELLED: dict[str, Part] = {
    "both ends, long points on one side": plate(0, 45, 0, 45),
    "both ends, long points opposite": plate(0, 45, 0, -45),
    "all round": plate(45, 45, 45, 45),
    "all round, all different": plate(45, -30, 60, -10),
    "beside a notch": plate(0, 45, 0, 0, 45, 45, outline=L_SHAPE),
    "round an opening": plate(
        45, 45, 45, 45, cutouts=(((100, 100), (200, 100), (220, 200), (100, 200)),),
        round_cutouts=(RoundCutOut(centre=(400, 150), diameter=60),)),
}  # fmt: skip


@pytest.mark.parametrize("part", BEVELLED.values(), ids=BEVELLED)
def test_bevelled_panels(part: Part) -> None:
    assert prism_volume(part) == pytest.approx(kernel_volume(part, [], []), rel=1e-6)


def square_to_bevel(part: Part, n: int, down: float, diameter: float, depth: float) -> Bore:
    """Return a bore square to a bevel, so far down its slope from the face."""
    frame = surface_frame(part, f"edge:{n}")
    mouth = frame.point_to_outer((100.0, -down, 0.0))
    return bore(f"edge:{n}", mouth, scaled(frame.k, -1.0), diameter, depth)


@pytest.mark.parametrize("down", [3.0, 12.7, 18.0, 25.0])
def test_bores_square_to_a_bevel(down: float) -> None:
    part = plate(0, 45, 0, -45)
    for n in (1, 3):
        one = square_to_bevel(part, n, down, 6, 11)
        ours = drilled_volume(part, [one])
        assert ours == pytest.approx(kernel_volume(part, [one], []), rel=1e-8)
        assert ours < prism_volume(part)


def test_grooves_and_bores_that_run_into_bevels() -> None:
    part = plate(45, 45, 45, 45)
    cuts = [groove(150, 8), groove(20, 8, "back")]
    bores = [
        bore("face", (100, 12, 0), (0, 0, -1), 8, 18, True),
        square_to_bevel(part, 1, 12, 6, 11),
    ]
    ours = drilled_volume(part, bores, cuts)
    assert ours == pytest.approx(kernel_volume(part, bores, cuts), rel=1e-8)


def test_a_mitre_in_numbers() -> None:
    """600 at the long points, 568 at the short ones, in 16: the mean is 584."""
    part = plate(0, 45, 0, 45, t=16.0)
    assert prism_volume(part) == pytest.approx(584 * 300 * 16, rel=1e-12)
