"""A sample of every fixture of the catalogue: a small carcass with it where it belongs."""

from __future__ import annotations

from dataclasses import replace

from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, ResolvedFixture, ResolvedJoint, RowsSpec
from tests.boxes import board
from tests.cabinets import carcass, fixture, joint, resolved, use
from tests.samples import CATALOGUE, FIXTURES, Sample

__all__ = ["FIXTURES", "make_fixture_sample", "thicknesses"]

_CORNERS = ("left", "right")
_ON_A_RAIL = ("tip-restraint-rear", "wall-screw-through-rail")


def thicknesses(key: str) -> list[float]:
    """The board thicknesses that a fixture allows."""
    low, high = CATALOGUE.fittings[key].limits.receiving_thickness or (15.0, 25.0)
    return [t for t in (15.0, 16.0, 18.0, 19.0, 22.0, 25.0, 40.0) if low <= t <= high]


def make_fixture_sample(key: str, t: float) -> Sample:
    """Place a fixture on a carcass of boards of a thickness, without a word of complaint."""
    parts: list[Part] = [p for p in carcass(t=t) if p.name != "back"]
    dowel = use("dowel-8x30" if t < 19 else "dowel-10x40", ends=50, pitch=200)
    joints: list[ResolvedJoint] = [
        joint(lying, side, dowel) for lying in ("bottom", "top") for side in _CORNERS
    ]
    if key in _ON_A_RAIL:
        parts.append(board("rail", (t, 300 - t, 680 - t), (600 - t, 300, 800 - t)))
        joints += [joint("rail", side, replace(dowel, ends=30.0)) for side in _CORNERS]
    fixtures = _fixtures(key, t)
    for one in fixtures:
        for carried in one.carries:
            glass = "glass" in key
            shelf = board(carried, (t + 1, 20, 400), (599 - t, 280, 408 if glass else 418))
            material = "glass" if glass else "particleboard-p2"
            parts.append(replace(shelf, loose=True, material=material))
    product = resolved(parts, joints, fixtures)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, CATALOGUE)
    assert joinery is not None, problems
    assert problems == ()
    return Sample(
        resolved=product,
        assembly=assembly,
        joinery=joinery,
        catalogue=CATALOGUE,
        problems=inspect_product(product, assembly, joinery, CATALOGUE),
    )


def _fixtures(key: str, t: float) -> list[ResolvedFixture]:
    fitting = CATALOGUE.fittings[key]
    if "depth" in fitting.options and "rest" in fitting.options:
        rest = fitting.options["rest"]
        rows = RowsSpec(
            front=57.0, back=57.0, first=400 - rest - 64, last=400 - rest + 64, pitch=32.0
        )
        return [fixture(key, "left", "right", rows=rows, carries=("shelf",))]
    if key == "glass-ledge-30":
        points = tuple((x, y, 400.0) for x in (t, 600 - t) for y in (60.0, 240.0))
        return [fixture(key, "left", "right", at=points, carries=("shelf",))]
    if key in _ON_A_RAIL:
        return [fixture(key, "rail")]
    if key == "levelling-foot":  # into an edge
        return [fixture(key, "left", "right")]
    if fitting.place == "corners":
        return [fixture(key, "bottom")]
    if fitting.place == "middle":
        return [fixture(key, "left", face="left")]
    return [fixture(key, "top")]
