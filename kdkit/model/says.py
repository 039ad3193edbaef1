"""What a maker may say: the definition's words as frozen pydantic models.

The same classes are the Python way in (``Product(product=..., panels=...)``) and
the source of the JSON Schema. A length is a number of mm or a formula as text
("left_side.x1 + 2"); formulas are still text here, ``resolve`` evaluates them.

A part's sides (``x0`` left, ``x1`` right, ``y0`` front, ``y1`` back, ``z0`` bottom,
``z1`` top) are its extents before its ``turns``: a sloping panel is written as it
would stand upright, then turned.

Longer than most modules, so that the whole language stands in one place, in the order in
which a maker meets it.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    GetJsonSchemaHandler,
    PrivateAttr,
    StrictBool,
    Tag,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError

from kdkit.model.left_out import NOTHING, LeftOut
from kdkit.model.limits import BOARD_THICKNESS, LONGEST_SIDE, MOST_LOAD
from kdkit.model.words import (
    Axis,
    Band,
    BoreFace,
    Facing,
    FixtureFace,
    Gtin,
    Length,
    Markdown,
    Name,
    NameOrNames,
    Number,
    Opening,
    Option,
    Side,
    SizeOrSpan,
    Text,
    Title,
    mapping_or_one,
)

__all__ = [
    "Bevel",
    "Board",
    "Bought",
    "CutOut",
    "FittingUse",
    "Fixture",
    "HandBore",
    "Joint",
    "Length",
    "Maker",
    "Notch",
    "OneEnd",
    "Panel",
    "Parameter",
    "Product",
    "Rows",
    "Safety",
    "Said",
    "SystemRows",
    "Texts",
    "Turn",
    "Unit",
]


class Said(BaseModel):
    """A frozen model that refuses unknown keys; mappings are kept in key order."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _in_key_order(cls, data: Any) -> Any:
        """Sort each mapping by its keys, so that their order can mean nothing later on."""
        if not isinstance(data, Mapping):
            return data
        return {key: _sorted_by_key(value) for key, value in data.items()}


def _check_keys(value: Mapping[Any, Any]) -> None:
    """Refuse two keys that are the same once they are read; a file's keys were looked at before."""
    seen: set[str] = set()
    for key in value:
        if isinstance(key, str):
            read = unicodedata.normalize("NFC", key).strip()
            if read in seen:
                text = f"the key {read[:60]!r} stands twice"
                help = "delete one, or rename it"
                raise PydanticCustomError(
                    "yaml-duplicate-key", "{text}", {"text": text, "help": help}
                )
            seen.add(read)


def _sorted_by_key(value: Any) -> Any:
    if not isinstance(value, Mapping):
        return value
    _check_keys(value)
    pairs = sorted(value.items(), key=lambda item: str(item[0]))
    return {key: _sorted_by_key(inner) for key, inner in pairs}


def _list_or_mapping(value: Any) -> str:
    return "@list" if isinstance(value, list | tuple) else "@mapping"


def _no_mapping(value: Any) -> Any:
    """Refuse what says of parts more than that they come next."""
    if isinstance(value, Mapping):
        raise PydanticCustomError(
            "wrong-type",
            "{text}",
            {
                "text": "an order names parts and units, one after the other, not a mapping",
                "help": "what must only be on before something else stands under `put_before`",
            },
        )
    return value


def _one_or_list(value: Any) -> str:
    return "@list" if isinstance(value, list | tuple) else "@one"


def _fitting_by_name(value: Any) -> Any:
    return {"fitting": value} if isinstance(value, str) else value


class _OrName:
    """In the JSON Schema, lets a fitting's name stand for a use that says nothing else."""

    def __get_pydantic_json_schema__(
        self, core: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return {"anyOf": [{"type": "string"}, handler(core)]}


class OneEnd(Said):
    """One end of an axis; the board gives the other: ``{from: 0}`` or ``{to: width}``.

    ``from`` is a Python keyword, so Python callers say ``OneEnd(start=...)``.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    start: Length | None = Field(default=None, alias="from")
    to: Length | None = None


Span = Annotated[
    Annotated[tuple[Length, Length], Tag("@list")] | Annotated[OneEnd, Tag("@mapping")],
    Discriminator(_list_or_mapping),
    Field(description="[from, to], or {from: …} or {to: …} on the thickness axis"),
]


class Parameter(Said):
    """A number that an order may change, within its limits."""

    value: Number = Field(description="used when nothing else is asked for")
    min: Number | None = None
    max: Number | None = None
    step: Annotated[Number, Field(ge=0.001)] | None = Field(
        default=None, description="allowed values are min (or value) plus whole steps"
    )
    choices: tuple[Number, ...] | None = Field(
        default=None, max_length=500, description="the only values allowed"
    )
    title: Title = ""


class Board(Said):
    """A board that panels are cut from."""

    material: Text = Field(description="key of a board in the catalogue: particleboard-p2")
    thickness: Annotated[Number, Field(ge=BOARD_THICKNESS[0], le=BOARD_THICKNESS[1])] = Field(
        description="mm"
    )
    title: Title = ""


class Notch(Said):
    """A rectangle out of a corner of the outline, or out of an edge.

    ``at`` two sides (``[front, bottom]``) is a corner: give the size on each axis.
    ``at`` one side is that edge: give the depth on its axis and a span on the other.
    A span counts in product coordinates, like the panel's own.
    """

    at: tuple[Side, ...] = Field(min_length=1, max_length=2)
    x: SizeOrSpan | None = Field(default=None, description="size from the corner, or [from, to]")
    y: SizeOrSpan | None = Field(default=None, description="size from the corner, or [from, to]")
    z: SizeOrSpan | None = Field(default=None, description="size from the corner, or [from, to]")


class CutOut(Said):
    """An opening right through: two spans, a centre and ``diameter``, or an ``outline``."""

    x: SizeOrSpan | None = Field(default=None, description="[from, to], or the centre")
    y: SizeOrSpan | None = Field(default=None, description="[from, to], or the centre")
    z: SizeOrSpan | None = Field(default=None, description="[from, to], or the centre")
    diameter: Length | None = None
    corner_radius: Length | None = None
    outline: tuple[tuple[Length, Length], ...] | None = Field(
        default=None,
        min_length=3,
        max_length=500,
        description="corners in product coordinates, as in a panel's outline; takes the place "
        "of everything else",
    )


class Turn(Said):
    """A rotation applied to the part after its extents; several apply in order."""

    axis: Axis
    angle: Length = Field(description="degrees; positive as a right-handed screw along the axis")
    about: tuple[Length, Length, Length] = Field(description="a point that stays where it is")


class Bevel(Said):
    """An edge sawn aslant: ``{angle: 45, long: back}``; the angle alone is long on the face.

    The panel's extents are those of its long points.
    """

    angle: Length = Field(description="degrees off square: 45 for the mitre of a square corner")
    long: Opening = Field(
        default="face",
        description="the broad side with the long point: face, back, or the way it looks (-x)",
    )


class HandBore(Said):
    """A bore that the maker types; ``mate`` names the panel it must meet, if any.

    The mouth is given in product coordinates (before any turn) on the two axes that
    lie in the plane of that side. In an edge the coordinate across the thickness may
    be left out: it is the middle.
    """

    face: BoreFace
    x: Length | None = None
    y: Length | None = None
    z: Length | None = None
    diameter: Length
    depth: Length = Field(description="mm from the mouth, or `through`")
    purpose: Title = "bore"
    mate: Text | None = None


BevelSaid = Annotated[
    Annotated[Length, Tag("@one")] | Annotated[Bevel, Tag("@mapping")],
    Discriminator(mapping_or_one),
    Field(description="degrees with the long point on the face, or {angle: …, long: …}"),
]


class Panel(Said):
    """A panel or member: a board's outline × thickness, written where it stands.

    Two axes have both ends, ``[from, to]``; the thickness axis has one, the board gives
    the other. A panel with a ``mirror`` takes from its original all but its place.
    """

    board: Text | None = Field(default=None, description="a key of `boards`")
    title: Title = ""
    x: Span | None = None
    y: Span | None = None
    z: Span | None = None
    face: Facing | None = Field(
        default=None,
        description="where the face (the datum side, with the rows) looks; "
        "default +x, -y or +z by the thickness axis",
    )
    grain: Axis | None = Field(default=None, description="length axis; default the longer side")
    bands: dict[Band, Annotated[Number, Field(ge=0, le=20)]] = Field(
        default={}, description="edge band thickness by side, or `all`"
    )
    let_in: dict[Side, Length] = Field(
        default={},
        description="how deep an edge stands in its neighbour, by side: a housing, a rebate, a "
        "groove; the spans then go from surface to surface, and the panel is longer by it",
    )
    bevels: dict[Band, BevelSaid] = Field(
        default={}, description="edges sawn aslant, as for a mitre, by side, or `all`"
    )
    outline: tuple[tuple[Length, Length], ...] | None = Field(
        default=None,
        min_length=3,
        max_length=500,
        description="corners in product coordinates on the two axes of the panel's plane, "
        "in the order x, y, z; takes the place of the spans on these axes",
    )
    notches: tuple[Notch, ...] = Field(default=(), max_length=100)
    cutouts: tuple[CutOut, ...] = Field(default=(), max_length=100)
    turns: tuple[Turn, ...] = Field(default=(), max_length=10)
    mirror: Text | None = Field(
        default=None,
        description="take everything from that panel, mirrored left to right; `x` says where",
    )
    bores: tuple[HandBore, ...] = Field(default=(), max_length=1000)
    loose: StrictBool = Field(
        default=False, description="an adjustable shelf: laid in, joined by nothing"
    )
    visible_face: StrictBool = True


class Bought(Said):
    """A part that is bought; it takes joints as a panel does.

    The spans are the box around it. A cylinder or tube runs along ``along``
    (default: its longest axis) and is round, so the other two sizes are equal.
    """

    title: Title = ""
    shape: Literal["box", "cylinder", "tube"]
    x: tuple[Length, Length]
    y: tuple[Length, Length]
    z: tuple[Length, Length]
    along: Axis | None = None
    wall: Length | None = Field(default=None, description="of a tube, mm")
    mass: Annotated[Number, Field(gt=0, le=1000)] = Field(description="kg")
    turns: tuple[Turn, ...] = Field(default=(), max_length=10)


class Unit(Said):
    """Another definition used inside this one; its parts are called ``unit.part``."""

    title: Title = ""
    file: str | None = Field(
        default=None, description="a definition file in this folder or below it"
    )
    define: Text | None = Field(default=None, description="a key of `unit_definitions`")
    at: tuple[Length, Length, Length] = Field(
        default=(0.0, 0.0, 0.0), description="where the unit's origin stands"
    )
    turns: tuple[Turn, ...] = Field(default=(), max_length=10)
    parameters: dict[str, Length] = Field(
        default={}, description="the unit's parameters, formulas of this definition"
    )
    variant: Text | None = None
    workshop: StrictBool = Field(
        default=False, description="all its joints are made in the workshop: it is packed as one"
    )


class FittingUse(Said):
    """How one fitting is spread along a contact.

    Give exact positions (``at``; negative from the far end), or ``count``, or let the
    rule do it (``ends`` and ``pitch``, each the fitting's own default if left out;
    ``grid`` rounds positions to multiples from the near end). Where nothing needs to
    be said, the fitting's name alone will do.
    """

    fitting: Text = Field(description="key of a fitting in the catalogue: cam-and-bolt")
    at: tuple[Length, ...] | None = Field(default=None, max_length=500)
    count: Annotated[int, Field(strict=True, ge=1, le=500)] | None = None
    ends: Length | None = Field(default=None, description="least distance to the contact's ends")
    pitch: Length | None = Field(default=None, description="largest distance between two")
    grid: Annotated[Number, Field(ge=0.1, le=LONGEST_SIDE)] | None = None
    opens: Opening | None = Field(
        default=None, description="side of the edge member that is worked from"
    )
    across: Length = Field(
        default=0.0, description="off the mid-thickness of the edge member, to the side worked from"
    )
    options: dict[Text, Option] = {}


class Joint(Said):
    """Parts joined to parts; where they touch is found, not typed.

    Each part of ``join`` is joined to each part of ``to``.
    """

    join: NameOrNames
    to: NameOrNames
    name: Title | None = None
    workshop: StrictBool = Field(
        default=False, description="made in the workshop: its parts are packed as one"
    )
    fittings: tuple[Annotated[FittingUse, BeforeValidator(_fitting_by_name), _OrName()], ...] = (
        Field(min_length=1, max_length=20)
    )


class SystemRows(Said):
    """System rows down upright panels (32 mm system): where they lie follows from the panel.

    The bores of shelf supports, hinge plates and runners that fall on a bore of a row are
    that bore. A panel is balanced when its height is 2·end + n·pitch; then the rows leave
    the same at both ends. ``back`` left out puts the back row a multiple of the pitch
    behind the front row; ``back: null`` leaves it away.
    """

    on: NameOrNames
    faces: Literal["inside", "face", "back", "both"] = Field(
        default="inside", description="sides of the panels; inside: to the middle of the product"
    )
    pitch: Length = 32.0
    bore: Length = Field(default=5.0, description="diameter, mm")
    depth: Length = Field(default=13.0, description="mm, or `through`")
    front: Length = Field(default=37.0, description="setback of the front row")
    inset: Length = Field(
        default=0.0,
        description="thickness of fronts that lie between the sides; the front row goes back by it",
    )
    back: Length | None = Field(
        default=None,
        description="setback of the back row, if it is not to follow from the grid; null for none",
    )
    end: Length | None = Field(
        default=None,
        description="from the lowest bore to the panel's end; default the same at both ends, "
        "at least 9.5",
    )
    balanced: StrictBool = Field(default=True, description="whether height = 2·end + n·pitch")
    drill: Literal["full", "used"] = Field(
        default="full", description="used: only the fields that fixtures with `rows` ask for"
    )
    fronts: NameOrNames | None = Field(
        default=None, description="doors and drawer fronts: each n·pitch − reveal high"
    )
    reveal: Length = Field(default=3.0, description="gap between fronts")


class Rows(Said):
    """Rows of bores for adjustable shelves (32 mm system).

    With ``system`` they are a stretch of the part's system rows, all of them if neither
    ``first`` nor ``last`` is given; ``front: null`` or ``back: null`` leaves out a row.
    """

    front: Length | None = Field(
        default=37.0, description="setback of the front row; null for no row"
    )
    back: Length | None = Field(default=37.0, description="setback of the back row; null for none")
    first: Length | None = Field(default=None, description="z of the lowest bore")
    last: Length | None = Field(default=None, description="z not to be passed")
    pitch: Length = 32.0
    system: StrictBool = Field(default=False, description="bores of the part's `system_rows`")


class Fixture(Said):
    """Something fixed on a part that joins nothing: foot, handle, restraint, shelf supports."""

    fitting: Text = Field(description="key of a fitting in the catalogue")
    on: NameOrNames
    name: Title | None = None
    face: FixtureFace | None = None
    at: tuple[tuple[Length, Length, Length], ...] | None = Field(
        default=None, max_length=500, description="points in product coordinates"
    )
    turn: Length = Field(
        default=0.0,
        description="degrees, anticlockwise as seen from outside: 90 sets a handle upright",
    )
    rows: Rows | None = None
    carries: NameOrNames | None = Field(default=None, description="loose shelves laid on it")
    options: dict[Text, Option] = {}


class Maker(Said):
    """Who makes it, as printed in the manual."""

    name: Title = ""
    address: Title = ""
    contact: Title = ""


LoadSaid = Annotated[Number, Field(gt=0, le=MOST_LOAD)]


class Safety(Said):
    """What the manual must warn of."""

    use: Literal["indoor", "dry-indoor", "outdoor"] = "indoor"
    wall_restraint: Literal["required", "advised", "none"] = "advised"
    load_per_shelf: LoadSaid | None = Field(
        default=None, description="kg, spread; short for `loads: {shelf: …}`"
    )
    loads: dict[Text, LoadSaid] = Field(
        default={}, description="kg by what bears them: seat, bed, rail, drawer, top, shelf"
    )
    most_sag: Annotated[Number, Field(gt=0, le=100)] | None = Field(
        default=None,
        description="mm, the most that anything under its load may sag in time, as promised",
    )
    heavy_part: Annotated[Number, Field(gt=0, le=100)] = Field(
        default=15.0, description="kg, from which two persons lift"
    )
    clothing_storage: StrictBool = False


class Texts(Said):
    """Markdown, per language."""

    title: Title = ""
    introduction: Markdown = ""
    use: Markdown = ""
    care: Markdown = ""
    disposal: Markdown = ""
    spares: Markdown = ""
    parts: dict[Text, Title] = Field(default={}, description="titles of parts in this language")


OrderEntry = Annotated[
    Annotated[Text, Tag("@one")]
    | Annotated[tuple[Text, ...], Field(min_length=1, max_length=500), Tag("@list")],
    Discriminator(_one_or_list),
    BeforeValidator(_no_mapping),
    Field(description="a part or unit put on next; a list: put together first, then put on as one"),
]
ParameterSaid = Annotated[
    Annotated[Length, Tag("@one")] | Annotated[Parameter, Tag("@mapping")],
    Discriminator(mapping_or_one),
    Field(description="a number, a number with limits, or a formula over other parameters"),
]


class Product(Said):
    """A knockdown product: panels, joints, and what the manual says about them."""

    kdkit: Literal[1] = Field(default=1, description="version of the definition's language")
    product: Title = Field(min_length=1, description="the product's name")
    kind: NameOrNames | None = Field(
        default=None,
        description="what kind of furniture it is: case, shelf, table, seat, bed, bunk, cot, "
        "wall-hung, outdoor, or one of your catalogue's; several in a list",
    )
    revision: Title = "A"
    batch: Title = ""
    gtin: Gtin = Field(default="", description="the article's number of GS1, with check digit")
    date: Title = ""
    maker: Maker = Maker()
    language: Text = "en"
    parameters: dict[Name, ParameterSaid] = {}
    variants: dict[Name, dict[str, Number]] = Field(
        default={}, description="named sets of parameter values"
    )
    catalogues: tuple[Text, ...] = Field(
        default=(), max_length=20, description="own catalogue files in this folder or below it"
    )
    boards: dict[Name, Board] = {}
    panels: dict[Name, Panel] = {}
    bought: dict[Name, Bought] = {}
    unit_definitions: dict[Name, Product] = Field(
        default={}, description="products used as units, written in place"
    )
    units: dict[Name, Unit] = {}
    joints: tuple[Joint, ...] = Field(default=(), max_length=2000)
    system_rows: tuple[SystemRows, ...] = Field(default=(), max_length=200)
    fixtures: tuple[Fixture, ...] = Field(default=(), max_length=2000)
    order: tuple[OrderEntry, ...] = Field(
        default=(), max_length=2000, description="what joins the growing work, one after the other"
    )
    put_before: dict[Text, NameOrNames] = Field(
        default={},
        description="what must be on before what, and no more than that: part or unit → parts "
        "or units that come later",
    )
    texts: dict[Text, Texts] = Field(default={}, description="by language code: en, de, fr")
    bags: dict[Text, tuple[Text, ...]] = Field(
        default={},
        description="what goes into which bag: bag name → keys of items or fittings; "
        "what is named nowhere is bagged as bag_by says",
    )
    bag_by: Literal["stage", "kind"] = Field(
        default="stage",
        description="how the rest of the hardware is bagged: a bag for each stage of the "
        "assembly, or for each kind of hardware",
    )
    safety: Safety = Safety()
    unit_files: dict[str, Product] = Field(
        default={},
        description="products of the units' files by file name; filled in when a file is read",
    )
    _left_out: LeftOut = PrivateAttr(default=NOTHING)

    @property
    def left_out(self) -> LeftOut:
        """What of it could not be read; nothing of a product that may be built."""
        return self._left_out

    def leaving_out(self, left_out: LeftOut, definitions: Mapping[str, Product]) -> Product:
        """Return the product as one of which something could not be read.

        Args:
            left_out: what that was.
            definitions: its unit definitions, each with what was left out of it.
        """
        product = self.model_copy(update={"unit_definitions": definitions} if definitions else {})
        product._left_out = left_out
        return product
