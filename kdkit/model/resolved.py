"""What a definition comes to once every formula has its number.

Everything here is final: units are opened into their parts (named
``unit.part``), mirrors are worked out, every part has its outline in its own
frame and its place in the product. Lengths in mm, masses in kg.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kdkit.diagnostics import Path
from kdkit.frames import AXES, PRODUCT, Frame, Vec2, Vec3
from kdkit.model.says import Board, Product

__all__ = [
    "FittingPlacement",
    "HandBoreSpec",
    "OrderSaid",
    "Part",
    "PutOn",
    "Resolved",
    "ResolvedFixture",
    "ResolvedJoint",
    "RoundCutOut",
    "RowsSpec",
    "Standpoint",
    "SystemRowsSpec",
    "UnitUse",
]


@dataclass(frozen=True, kw_only=True)
class RoundCutOut:
    """A round opening right through; centre in the panel frame."""

    centre: Vec2
    diameter: float


@dataclass(frozen=True, kw_only=True)
class HandBoreSpec:
    """A bore typed by the maker; mouth and direction in the panel frame."""

    mouth: Vec3
    into: Vec3
    diameter: float
    depth: float
    through: bool
    purpose: str
    mate: str | None
    path: Path


@dataclass(frozen=True, kw_only=True)
class Part:
    """A panel, member or bought part as a prism: outline × thickness in a frame.

    The panel frame: the face lies in z = 0 with z out of it, the body fills
    −thickness ≤ z ≤ 0, x runs along the length (the grain), y along the width;
    the outline starts at the datum corner region and runs counter-clockwise seen
    from outside the face, with min x = min y = 0.

    Args:
        name: key in the definition; in a unit ``unit.key``.
        kind: ``panel`` or ``bought``.
        board: key under ``boards``, None for a bought part.
        material: catalogue key, None for a bought part.
        frame: the panel frame in the product.
        outline: corners in the panel frame, not closed.
        edge_sides: for each outline segment (corner n to n+1) the side it looks
            to before any turn (front, back, left, right, top, bottom), or "" for
            a slanted or inner (notch) segment.
        bands: for each outline segment the edge band's thickness, 0 for none.
        bevels: for each outline segment how far the edge leans off square, degrees; above 0
            the long point lies on the face, below 0 on the back; () where none leans. The
            outline runs through the long points.
        cutouts: polygonal openings, clockwise or not.
        smooth: the outline stands for a curve (rod, tube): no edge lines between
            its segments.
        mass: of a bought part, kg.
        grain_along_x: always True for grained boards; False means no grain.
        mirror_of: the panel it was mirrored from.
        loose: laid in, joined by nothing.
        unit: the unit it belongs to, "" for none.
    """

    name: str
    title: str
    kind: str
    path: Path
    frame: Frame
    outline: tuple[Vec2, ...]
    thickness: float
    board: str | None = None
    material: str | None = None
    edge_sides: tuple[str, ...] = ()
    bands: tuple[float, ...] = ()
    bevels: tuple[float, ...] = ()
    cutouts: tuple[tuple[Vec2, ...], ...] = ()
    round_cutouts: tuple[RoundCutOut, ...] = ()
    bores: tuple[HandBoreSpec, ...] = ()
    smooth: bool = False
    mass: float | None = None
    grain_along_x: bool = True
    mirror_of: str | None = None
    loose: bool = False
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Standpoint:
    """Who says a joint, a fixture or a row of bores: the product, or a unit in it.

    Sides, directions and the starts of runs are the sayer's own. A unit that is turned
    takes them along, so that every use of it is a copy, bore for bore.

    Args:
        unit: the unit's name in the product, "" for the product itself.
        frame: the sayer's coordinates, in the product.
    """

    unit: str = ""
    frame: Frame = PRODUCT

    def way(self, name: str) -> Vec3:
        """Return one of the sayer's own directions, such as ``-y``, in the product."""
        return self.frame.vector_to_outer(AXES[name])

    def holds(self, part: str) -> bool:
        """Tell whether the part of that name belongs to the sayer."""
        return not self.unit or part.startswith(f"{self.unit}.")

    def from_outside(self, unit: str, placed: Frame) -> Standpoint:
        """Return the standpoint as the user of a unit sees it."""
        name = f"{unit}.{self.unit}" if self.unit else unit
        return Standpoint(unit=name, frame=placed.frame_to_outer(self.frame))


@dataclass(frozen=True, kw_only=True)
class FittingPlacement:
    """``says.FittingUse`` with numbers; ``opens`` may be a direction of its sayer's own."""

    fitting: str
    path: Path
    at: tuple[float, ...] | None = None
    count: int | None = None
    ends: float | None = None
    pitch: float | None = None
    grid: float | None = None
    opens: str | None = None
    across: float = 0.0
    options: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class ResolvedJoint:
    """One joined part against one other: ``join`` × ``to`` is multiplied out.

    ``workshop``: it is made before packing.
    """

    name: str
    path: Path
    joined: str
    to: str
    fittings: tuple[FittingPlacement, ...]
    workshop: bool = False
    seen_from: Standpoint = Standpoint()


@dataclass(frozen=True, kw_only=True)
class RowsSpec:
    """``says.Rows`` with numbers; z in the product frame.

    ``system``: bores of the part's system rows from ``first`` to ``last`` (both may be
    infinite); then ``front`` and ``back`` only say whether there is such a row.
    """

    front: float | None
    back: float | None
    first: float
    last: float
    pitch: float
    system: bool = False


@dataclass(frozen=True, kw_only=True)
class SystemRowsSpec:
    """``says.SystemRows`` with numbers.

    Args:
        depth: None for through bores.
        back: setback of the back row, None where it follows from the grid.
        has_back: False when there is to be no back row.
        end: from the outer bores to the panel's ends, None where it follows from the height.
    """

    path: Path
    on: tuple[str, ...]
    faces: str = "inside"
    pitch: float = 32.0
    bore: float = 5.0
    depth: float | None = 13.0
    front: float = 37.0
    inset: float = 0.0
    back: float | None = None
    has_back: bool = True
    end: float | None = None
    balanced: bool = True
    full: bool = True
    fronts: tuple[str, ...] = ()
    reveal: float = 3.0
    seen_from: Standpoint = Standpoint()


@dataclass(frozen=True, kw_only=True)
class ResolvedFixture:
    """A fixture on its parts; positions in the product frame, ``face`` its sayer's own.

    ``turn``: degrees about the outward normal, anticlockwise as seen from outside.
    """

    name: str
    path: Path
    fitting: str
    on: tuple[str, ...]
    face: str | None
    at: tuple[Vec3, ...] | None
    rows: RowsSpec | None
    carries: tuple[str, ...]
    options: Mapping[str, float | str] = field(default_factory=dict)
    turn: float = 0.0
    seen_from: Standpoint = Standpoint()


@dataclass(frozen=True, kw_only=True)
class UnitUse:
    """A unit's name, title and the parts it holds."""

    name: str
    title: str
    parts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class OrderSaid:
    """One entry of ``order``: put ``first`` on before ``later``."""

    first: tuple[str, ...]
    later: tuple[str, ...]
    path: Path


@dataclass(frozen=True, kw_only=True)
class PutOn:
    """One entry in the author's row of parts: these are put on next, as one.

    ``said``: the entry in the author's words, for messages.
    """

    parts: tuple[str, ...]
    said: str
    path: Path


@dataclass(frozen=True, kw_only=True)
class Resolved:
    """The whole product with numbers; ``said`` keeps texts, maker, safety and bags.

    Args:
        order: all that ``order`` says, as pairs.
        sequence: the entries of the product's own ``order`` that stand in a row.
    """

    said: Product
    variant: str | None
    parameters: Mapping[str, float]
    parts: tuple[Part, ...]
    joints: tuple[ResolvedJoint, ...]
    fixtures: tuple[ResolvedFixture, ...]
    units: tuple[UnitUse, ...]
    order: tuple[OrderSaid, ...]
    boards: Mapping[str, Board] = field(default_factory=dict)
    """Every board in use; ``Part.board`` is a key of it, in units too."""
    sequence: tuple[PutOn, ...] = ()
    system_rows: tuple[SystemRowsSpec, ...] = ()

    def part(self, name: str) -> Part:
        """Return the part of that name.

        Raises:
            KeyError: there is none (a fault in kdkit: names were checked before).
        """
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)
