"""What a maker may say: the definition's words as frozen pydantic models.

The same classes are the Python way in (``Product(product=..., panels=...)``) and
the source of the JSON Schema. A length is a number of mm or a formula as text
("left_side.x1 + 2"); formulas are still text here, ``resolve`` evaluates them.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["Length", "Product"]  # extended as the file is refined

Length = Annotated[float | str, Field(description="mm, or a formula over parameters and sides")]
Axis = Literal["x", "y", "z"]
Side = Literal["front", "back", "left", "right", "top", "bottom"]
Facing = Literal["+x", "-x", "+y", "-y", "+z", "-z"]


class Said(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class OneEnd(Said):
    """One end of the thickness axis; the board gives the other.

    ``from`` is a Python keyword, so Python callers say ``OneEnd(start=...)``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    start: Length | None = Field(default=None, alias="from")
    to: Length | None = None


Span = Annotated[
    tuple[Length, Length] | OneEnd, Field(description="[from, to], or one end of the thickness")
]


class Parameter(Said):
    value: float
    min: float | None = None
    max: float | None = None
    step: float | None = None
    choices: tuple[float, ...] | None = None
    title: str = ""


class Board(Said):
    material: str
    thickness: float
    title: str = ""


class Notch(Said):
    """A rectangle out of a corner of the outline, or out of an edge."""

    at: tuple[Side, ...]  # two sides: a corner; one side: out of that edge
    x: Length | tuple[Length, Length] | None = None  # size from the corner, or a span
    y: Length | tuple[Length, Length] | None = None
    z: Length | tuple[Length, Length] | None = None


class CutOut(Said):
    """A rectangular (two spans) or round (centre and diameter) opening."""

    x: Length | tuple[Length, Length] | None = None
    y: Length | tuple[Length, Length] | None = None
    z: Length | tuple[Length, Length] | None = None
    diameter: Length | None = None
    corner_radius: Length | None = None


class Turn(Said):
    """A rotation applied to the panel after its extents; several apply in order."""

    axis: Axis
    angle: Length  # degrees, right-handed
    about: tuple[Length, Length, Length]


class HandBore(Said):
    """A bore that the maker types; ``mate`` names the panel it must meet, if any."""

    face: Literal["face", "back"] | Side
    x: Length | None = None  # product coordinates of the mouth; the two that lie
    y: Length | None = None  # in the plane of that face are needed
    z: Length | None = None
    diameter: Length
    depth: Length | Literal["through"]
    purpose: str = "bore"
    mate: str | None = None


class Panel(Said):
    board: str | None = None
    title: str = ""
    x: Span | None = None
    y: Span | None = None
    z: Span | None = None
    face: Facing | None = None  # where the face (datum side) looks
    grain: Axis | None = None  # the length axis; default the longer side
    bands: dict[Side | Literal["all"], float] = {}
    outline: tuple[tuple[Length, Length], ...] | None = None  # in-plane axes, alphabetical
    notches: tuple[Notch, ...] = ()
    cutouts: tuple[CutOut, ...] = ()
    turns: tuple[Turn, ...] = ()
    mirror: str | None = None  # take everything from that panel, mirrored left to right
    bores: tuple[HandBore, ...] = ()
    loose: bool = False  # an adjustable shelf: laid in, joined by nothing
    visible_face: bool = True


class Bought(Said):
    """A part that is bought: box, cylinder (rod) or tube; it takes joints as a panel does."""

    title: str = ""
    shape: Literal["box", "cylinder", "tube"]
    x: tuple[Length, Length]  # the box around it; a cylinder's axis is `along`
    y: tuple[Length, Length]
    z: tuple[Length, Length]
    along: Axis | None = None
    wall: Length | None = None  # of a tube
    mass: float  # kg
    turns: tuple[Turn, ...] = ()


class Unit(Said):
    """Another definition used inside this one."""

    file: str | None = None  # a definition file in the same folder tree
    define: str | None = None  # or one under `unit_definitions` in this file
    at: tuple[Length, Length, Length] = (0.0, 0.0, 0.0)
    turns: tuple[Turn, ...] = ()
    parameters: dict[str, Length] = {}
    variant: str | None = None


class FittingUse(Said):
    """How one fitting is spread along a contact.

    Give exact positions (``at``; negative from the far end), or ``count``, or let the
    rule do it (``ends`` and ``pitch``, each the fitting's own default if left out;
    ``grid`` rounds positions to multiples from the near end).
    """

    fitting: str
    at: tuple[Length, ...] | None = None
    count: int | None = None
    ends: Length | None = None
    pitch: Length | None = None
    grid: float | None = None
    opens: Literal["face", "back"] | Facing | None = None  # side of the edge member worked from
    across: Length = 0.0  # off the mid-thickness of the edge member
    options: dict[str, float | str] = {}


class Joint(Said):
    join: str | tuple[str, ...]
    to: str | tuple[str, ...]
    name: str | None = None
    fittings: tuple[FittingUse, ...]


class Rows(Said):
    """Rows of bores for adjustable shelves (32 mm system)."""

    front: Length | None = 37.0  # setback of the front row, None for no row
    back: Length | None = 37.0
    first: Length  # z of the lowest bore
    last: Length  # z not to be passed
    pitch: Length = 32.0


class Fixture(Said):
    """Something fixed on a part that joins nothing: foot, handle, restraint, shelf supports."""

    fitting: str
    on: str | tuple[str, ...]
    name: str | None = None
    face: Literal["face", "back"] | Side | None = None
    at: tuple[tuple[Length, Length, Length], ...] | None = None  # product coordinates
    rows: Rows | None = None
    carries: str | tuple[str, ...] | None = None  # loose shelves laid on it
    options: dict[str, float | str] = {}


class OrderHint(Said):
    """``before`` is put on before ``after``."""

    before: str | tuple[str, ...]
    after: str | tuple[str, ...]


class Maker(Said):
    name: str = ""
    address: str = ""
    contact: str = ""


class Safety(Said):
    use: Literal["indoor", "dry-indoor", "outdoor"] = "indoor"
    wall_restraint: Literal["required", "advised", "none"] = "advised"
    load_per_shelf: float | None = None  # kg, spread
    heavy_part: float = 15.0  # kg, from which two persons lift
    clothing_storage: bool = False


class Texts(Said):
    """Markdown, per language."""

    title: str = ""
    introduction: str = ""
    use: str = ""
    care: str = ""
    disposal: str = ""
    spares: str = ""
    parts: dict[str, str] = {}  # titles of parts in this language


class Product(Said):
    kdkit: Literal[1] = 1
    product: str
    revision: str = "A"
    batch: str = ""
    date: str = ""
    maker: Maker = Maker()
    language: str = "en"
    parameters: dict[str, float | Parameter] = {}
    variants: dict[str, dict[str, float]] = {}
    catalogues: tuple[str, ...] = ()
    boards: dict[str, Board] = {}
    panels: dict[str, Panel] = {}
    bought: dict[str, Bought] = {}
    unit_definitions: dict[str, Product] = {}
    units: dict[str, Unit] = {}
    joints: tuple[Joint, ...] = ()
    fixtures: tuple[Fixture, ...] = ()
    order: tuple[str | OrderHint, ...] = ()
    texts: dict[str, Texts] = {}
    bags: dict[str, tuple[str, ...]] = {}
    pack: dict[str, str | float] = {}
    safety: Safety = Safety()
