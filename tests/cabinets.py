"""Products of boards with joints and fixtures still to be placed, for the joinery's tests."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.diagnostics import Problem
from kdkit.frames import Frame, Vec3
from kdkit.geometry import Assembly, assemble
from kdkit.joinery import Bore, Joinery, place_fittings
from kdkit.model.resolved import (
    FittingPlacement,
    Part,
    Resolved,
    ResolvedFixture,
    ResolvedJoint,
)
from kdkit.model.says import Product
from tests.boxes import board

Use = tuple[str, dict[str, object]]


def use(fitting: str, **settings: object) -> FittingPlacement:
    """One fitting of a joint."""
    return FittingPlacement(
        fitting=fitting,
        path=("joints", 0, "fittings", 0),
        **settings,  # type: ignore[arg-type]
    )


def joint(joined: str, to: str, *fittings: FittingPlacement) -> ResolvedJoint:
    """One part joined to one other."""
    return ResolvedJoint(
        name=f"{joined}-{to}", path=("joints", 0), joined=joined, to=to, fittings=fittings
    )


def fixture(fitting: str, *on: str, **settings: object) -> ResolvedFixture:
    """A fixture, nothing said but what is given."""
    said: dict[str, object] = {
        "name": fitting,
        "path": ("fixtures", 0),
        "face": None,
        "at": None,
        "rows": None,
        "carries": (),
    }
    return ResolvedFixture(fitting=fitting, on=on, **{**said, **settings})  # type: ignore[arg-type]


def resolved(
    parts: Sequence[Part],
    joints: Sequence[ResolvedJoint] = (),
    fixtures: Sequence[ResolvedFixture] = (),
) -> Resolved:
    """A product of these parts."""
    return Resolved(
        said=Product(product="Test piece"),
        variant=None,
        parameters={},
        parts=tuple(parts),
        joints=tuple(joints),
        fixtures=tuple(fixtures),
        units=(),
        order=(),
    )


def built_in() -> Catalogue:
    """The catalogue that comes with kdkit."""
    catalogue, problems = load_catalogue()
    assert catalogue is not None, problems
    return catalogue


def try_to_place(
    parts: Sequence[Part],
    joints: Sequence[ResolvedJoint] = (),
    fixtures: Sequence[ResolvedFixture] = (),
) -> tuple[Joinery | None, tuple[Problem, ...], Assembly]:
    """Place fittings and return what comes of it, good or bad."""
    product = resolved(parts, joints, fixtures)
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, built_in())
    return joinery, problems, assembly


def place(
    parts: Sequence[Part],
    joints: Sequence[ResolvedJoint] = (),
    fixtures: Sequence[ResolvedFixture] = (),
) -> tuple[Joinery, Assembly]:
    """Place fittings that must go in without a word."""
    joinery, problems, assembly = try_to_place(parts, joints, fixtures)
    assert joinery is not None, problems
    assert problems == ()
    return joinery, assembly


def mouths(joinery: Joinery, assembly: Assembly, part: str, purpose: str) -> list[Vec3]:
    """Bore mouths in the product, rounded, in order."""
    frame = assembly.part(part).frame
    found = [
        frame.point_to_outer(b.mouth)
        for b in joinery.bores
        if b.part == part and b.purpose == purpose
    ]
    return sorted((round(x, 3), round(y, 3), round(z, 3)) for x, y, z in found)


def bores(joinery: Joinery, part: str, purpose: str) -> list[Bore]:
    """The bores of a part for one purpose."""
    return [b for b in joinery.bores if b.part == part and b.purpose == purpose]


def carcass(
    *,
    width: float = 600.0,
    depth: float = 300.0,
    height: float = 800.0,
    t: float = 18.0,
    at: Frame | None = None,
    scale: float = 1.0,
) -> tuple[Part, ...]:
    """Two sides, bottom and top between them, a back of 3 laid on from behind."""
    w, d, h = width * scale, depth * scale, height * scale
    where = {} if at is None else {"at": at}
    return (
        board("left", (0, 0, 0), (t, d, h), **where),  # type: ignore[arg-type]
        board("right", (w - t, 0, 0), (w, d, h), **where),  # type: ignore[arg-type]
        board("bottom", (t, 0, 60), (w - t, d, 60 + t), **where),  # type: ignore[arg-type]
        board("top", (t, 0, h - t), (w - t, d, h), **where),  # type: ignore[arg-type]
        board("back", (0, d, 60), (w, d + 3, h), **where),  # type: ignore[arg-type]
    )


def carcass_joints() -> tuple[ResolvedJoint, ...]:
    """Cams and dowels in the corners, the back screwed on."""
    corner = use("cam-and-bolt"), use("dowel-8x35")
    return (
        *(joint(lying, side, *corner) for lying in ("bottom", "top") for side in ("left", "right")),
        *(joint("back", n, use("back-screwed")) for n in ("left", "right", "bottom", "top")),
    )
