"""A sample of every joint fitting of the catalogue: two boards in every allowed thickness."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kdkit.catalogue import Catalogue, Fitting
from kdkit.geometry import Assembly, assemble
from kdkit.joinery import Joinery, place_fittings
from kdkit.model.resolved import Part, Resolved, ResolvedJoint
from tests.boxes import board
from tests.cabinets import built_in, joint, resolved, use

THICKNESSES = (3.0, 4.0, 6.0, 9.0, 12.0, 15.0, 16.0, 18.0, 19.0, 22.0, 25.0, 28.0, 30.0, 40.0)
CATALOGUE = built_in()
JOINTS = tuple(sorted(n for n, f in CATALOGUE.fittings.items() if f.kind == "joint"))


@dataclass(frozen=True)
class Sample:
    """Two boards with one fitting, placed."""

    resolved: Resolved
    assembly: Assembly
    joinery: Joinery
    catalogue: Catalogue


def allowed(limits: tuple[float, float] | None, most: float = 40.0) -> list[float]:
    """The thicknesses within a fitting's limits."""
    low, high = limits or (12.0, 30.0)
    return [t for t in THICKNESSES if low <= t <= min(high, most)] or [low]


def pairs(key: str) -> list[tuple[float, float]]:
    """Every pair of butting and receiving thicknesses that a fitting allows.

    Where the receiving member must be far thicker than boards are, it is a post that is
    met on its edge: its second figure is then its width.
    """
    limits = CATALOGUE.fittings[key].limits
    low, _ = limits.receiving_thickness or (12.0, 30.0)
    receiving = [low, 60.0] if is_frame(key) else allowed(limits.receiving_thickness)
    return [(b, r) for b in allowed(limits.butting_thickness) for r in receiving]


def is_frame(key: str) -> bool:
    """Tell whether a fitting joins members edge to edge only because of the wood it needs."""
    fitting = CATALOGUE.fittings[key]
    low, _ = fitting.limits.receiving_thickness or (12.0, 30.0)
    return low > 20.0 and "edge-edge" in fitting.contact


def make_boards(key: str, t_butting: float, t_receiving: float) -> list[Part]:
    """Two boards that meet as the fitting wants it: one butts on the other."""
    fitting = CATALOGUE.fittings[key]
    wood = {"material": _material(fitting)}
    if is_frame(key):
        return [
            board("side", (0, 0, 0), (t_receiving, t_butting, 600), **wood),
            board("shelf", (t_receiving, 0, 200), (500, t_butting, 340), **wood),
        ]
    if key.startswith("rebated"):
        deep = t_receiving * 2 / 3
        return [
            board("side", (0, 0, 0), (t_receiving, 300, 800), **wood),
            board("shelf", (t_receiving - deep, 0, 800 - t_butting), (600, 300, 800), **wood),
        ]
    if fitting.contact == ("sunk",):
        deep = min(6.0, t_receiving / 3)
        return [
            board("side", (0, 0, 0), (t_receiving, 300, 800), **wood),
            board("shelf", (t_receiving - deep, 0, 400), (600, 300, 400 + t_butting), **wood),
        ]
    if fitting.contact == ("face-face",):
        return [
            board("side", (0, 0, 0), (t_receiving, 300, 800), **wood),
            board("shelf", (t_receiving, 0, 0), (t_receiving + t_butting, 300, 800), **wood),
        ]
    return [
        board("side", (0, 0, 0), (t_receiving, 300, 800), **wood),
        board("shelf", (t_receiving, 0, 400), (600, 300, 400 + t_butting), **wood),
    ]


def _material(fitting: Fitting) -> str:
    families = fitting.limits.families or ("particleboard",)
    return {
        "particleboard": "particleboard-p2",
        "plywood": "plywood-birch",
        "mdf": "mdf",
        "solid-timber": "beech",
        "hardboard": "hardboard",
    }[families[0]]


def make_sample(key: str, t_butting: float, t_receiving: float) -> Sample:
    """Place a fitting with its own spread between two boards, without a word of complaint."""
    parts = make_boards(key, t_butting, t_receiving)
    joints: list[ResolvedJoint] = [joint("shelf", "side", use(key))]
    product = resolved(parts, joints)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, CATALOGUE)
    assert joinery is not None, problems
    assert problems == ()
    return Sample(product, assembly, joinery, CATALOGUE)


def every_sample() -> Iterator[tuple[str, float, float]]:
    """Every fitting with every pair of thicknesses."""
    for key in JOINTS:
        for t_butting, t_receiving in pairs(key):
            yield key, t_butting, t_receiving
