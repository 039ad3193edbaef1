"""What a catalogue says: boards, items and fittings, as frozen pydantic models.

The fastener frame, in which a fitting writes its bores and items:

* origin on the contact plane, on the mid-thickness of the butting member (plus
  the ``across`` of the joint), at one position along the run;
* ``k`` out of the receiving member's surface into the butting member;
* ``j`` to the side of the butting member that is worked from (where a cam's
  housing opens);
* ``i`` = j × k, along the run.

A fixture has one member, the receiving one; k is out of its surface.

Formulas (text) may use ``t_butting``, ``t_receiving`` (thickness through which k
runs in the receiving member; its board thickness when its face receives),
``sunk`` (depth to which the butting member stands in the receiving one) and the
fitting's ``options`` by name. Lengths in mm, masses in g.

Where the members do not touch, the frame is the meeting's (``geometry/meetings.py``):
``facing`` has its origin on the receiving surface at that one's front end, k to the
butting member, j the way that it comes out; ``hung`` (a door) where the planes of the
door's inner surface and of the other's inner surface meet, k out of the latter, j out of
the door. Formulas then also know ``gap`` (between the surfaces; of a door to the front
edge), ``overlay`` (of a door: its hinge edge beyond the inner surface, below 0 when inset)
and ``behind`` (facing: the butting member's front end behind the receiving one's).

The item frame: z along the item's axis, z = 0 at the mouth it goes into, the
item fills z < 0 inside and z > 0 outside; it goes in along −z.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, StrictBool, Tag

from kdkit.catalogue.bagging import OTHER_KIND, HardwareKind, LabelSheet, Scale
from kdkit.catalogue.entry import (
    Count,
    Density,
    Entry,
    Grams,
    Minutes,
    Place,
    Range,
    SheetSide,
    Size,
    Stress,
    Thickness,
    Words,
)
from kdkit.catalogue.kinds import Kind, Load
from kdkit.catalogue.looks import Look
from kdkit.catalogue.machines import Machine
from kdkit.model.words import Length, Markdown, Name, Number, Text, mapping_or_one

__all__ = [
    "Action",
    "BoardMaterial",
    "BoreRule",
    "Called",
    "Catalogue",
    "Counts",
    "Fitting",
    "FreeSpace",
    "Item",
    "ItemRule",
    "Lean",
    "Limits",
    "Need",
    "Piece",
    "SlotRule",
    "Strength",
    "Time",
    "Tool",
]

Formula = Length
Direction = Literal["+i", "-i", "+j", "-j", "+k", "-k"]
Member = Literal["butting", "receiving"]
Stage = Literal["workshop", "home"]
Family = Literal["particleboard", "mdf", "plywood", "hardboard", "solid-timber", "glass"]


Weather = Literal["no", "coated", "yes"]


class Strength(Entry):
    """Board figures over a range of thickness; N/mm², kg/m³.

    Of grained boards ``moe`` and ``mor`` are those along the grain, ``moe_across`` and
    ``mor_across`` those across it.
    """

    thickness: Range
    density: Density
    moe: Stress | None = None
    mor: Stress | None = None
    moe_across: Stress | None = None
    mor_across: Stress | None = None
    internal_bond: Stress | None = None


class BoardMaterial(Entry):
    """A board.

    Args:
        lengths: what timber is bought in; without them those of common practice.
        weather: whether it stands the weather, as it is or only coated.
        movement: of solid wood, how much wider it grows across the grain, as a share of its
            width, for each percent of moisture more.
    """

    title: Words
    family: Family
    thicknesses: tuple[Thickness, ...]
    strength: tuple[Strength, ...] = Field(min_length=1)
    grained: StrictBool
    faced: StrictBool = False  # its face and back are coated: no glue holds on them
    sheets: tuple[tuple[SheetSide, SheetSide], ...] = ()
    lengths: tuple[SheetSide, ...] = Field(default=(), max_length=20)
    thickness_tolerance: Annotated[Number, Field(ge=0, le=10)] = 0.3
    weather: Weather = "no"
    movement: Annotated[Number, Field(gt=0, le=0.02)] | None = None
    sources: tuple[Markdown, ...]


class Piece(Entry):
    """A piece of an item's shape, from z0 to z1 (mm, item frame), about the item's axis.

    ``cylinder`` has d0, ``cone`` d0 at z0 and d1 at z1, ``hexagon`` d0 across
    flats, ``box`` d0 along x and d1 along y, ``lens`` d0 along x between two arcs that
    meet at its ends, and d1 along y. ``at`` moves it off the axis, in (x, y).
    ``material``: what it is made of where that is not what the item says.
    """

    kind: Literal["cylinder", "cone", "hexagon", "box", "lens"]
    z0: Place
    z1: Place
    d0: Size
    d1: Size | None = None
    surface: Literal["plain", "thread", "flutes"] = "plain"
    at: tuple[Place, Place] = (0.0, 0.0)
    material: Text = ""


class Item(Entry):
    """A piece of hardware that is counted and bagged.

    Args:
        title: English; other languages come from the message catalogues.
        kind: of hardware, by which it is bagged and spares are counted.
        size: as printed after the title: "8 × 35".
        mass: g; left out, it follows from the pieces, what they are made of, and the holes.
        holes: diameter and length of what is taken off the pieces and not drawn, mm.
        drive: recess by its standard name ("cross recess Z2", "hexagon key 4"), or None.
        recess_z: where the drive recess is drawn (z of the head's top), if any.
        supplied: False for something the buyer chooses (an anchor for the wall).
        machine_thread: it holds in a nut or an insert, not in wood.
        look: what is drawn, where the pieces alone do not tell it.
    """

    title: Words
    kind: Text = OTHER_KIND
    size: Text = ""
    mass: Grams
    drive: Text | None = None
    recess_z: Place | None = None
    pieces: tuple[Piece, ...] = Field(min_length=1)
    material: Text = ""
    holes: tuple[tuple[Size, Size], ...] = ()
    supplied: StrictBool = True
    machine_thread: StrictBool = False
    look: Look | None = None
    sources: tuple[Markdown, ...]


class FreeSpace(Entry):
    """A cylinder that hand and tool need, in the item's frame, along +z from z = 0.

    Over the first ``blade`` of its length it is only ``blade_diameter`` wide.
    """

    diameter: Size
    length: Size
    blade: Size = 0.0
    blade_diameter: Size = 8.0


class Tool(Entry):
    """A tool, and the room it takes.

    Args:
        room: ways to hold it, the comfortable one first; each a cylinder on the item's
            axis with the hand in it, the tool set on the item. The length counts from
            the item's head; what an item travels while it is driven comes on top.
        instead_of: the tool that it stands in for where that one has no room: a shorter
            one, or one with a longer blade.
        open_minutes: of a glue, how long it may lie spread until the joint is closed.
    """

    title: Words
    size: Text = ""
    room: tuple[FreeSpace, ...] = ()
    instead_of: Text | None = None
    open_minutes: Minutes | None = None
    sources: tuple[Markdown, ...] = ()


class Lean(Entry):
    """A direction aslant: from ``along`` it leans towards ``towards``, by ``angle`` in degrees."""

    along: Direction
    towards: Direction
    angle: Formula


Way = Annotated[
    Annotated[Direction, Tag("@one")] | Annotated[Lean, Tag("@mapping")],
    Discriminator(mapping_or_one),
]


class BoreRule(Entry):
    """One bore: mouth and direction in the fastener frame.

    ``mate`` names a line shared by bores of both members: bores with the same
    ``mate`` in one fastener must be coaxial. ``sloped``: a recess with the slope of a
    screw's head, made by a countersink; ``diameter`` is then that at its mouth. ``deeper``: so
    much deeper a blind bore may be without harm to what stands in it, so that one depth stop
    serves several fittings (1 for screws and pins that bear on the surface: common practice, no
    source).
    """

    member: Member
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    into: Way
    diameter: Formula
    depth: Formula | Literal["through"]
    purpose: Words
    stage: Stage = "workshop"
    mate: Text | None = None
    sloped: StrictBool = False
    deeper: Size = 0.0
    meets: tuple[Text, ...] = ()  # purposes of this fastener's bores that it should cross


class SlotRule(Entry):
    """One slot: the middle of its mouth and its directions in the fastener frame.

    It is ``routed``, as long as ``length`` says with half-round ends and a flat bottom, or
    plunged with a disc cutter of diameter ``disc``: then its bottom is an arc, and its
    length at the surface follows from the depth. ``width`` is across it. ``meets`` names the
    bores and slots of the same fastener that it may run into: a recess within a recess.
    """

    member: Member
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    into: Direction
    along: Direction
    width: Formula
    depth: Formula
    length: Formula | None = None
    disc: Formula | None = None
    purpose: Words
    stage: Stage = "workshop"
    mate: Text | None = None
    meets: tuple[Text, ...] = ()  # purposes of this fastener's bores and slots


class ItemRule(Entry):
    """An item in a fastener; ``out`` is the item's +z in the fastener frame.

    ``carried_by`` is the member it is fixed in before the two are mated; it goes
    with that member and sticks out of it. Items that go in afterwards (a screw)
    are carried by none.
    """

    item: Text
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    out: Way
    carried_by: Member | None = None


class Action(Entry):
    """One thing done, in order. ``mate`` stands for bringing the members together.

    ``free``: the space for hand and tool, where the tool's own ``room`` does not say it.
    """

    do: Literal[
        "insert",
        "screw-in",
        "screw-on",
        "glue",
        "mate",
        "drive",
        "nail",
        "turn",
        "clamp",
        "wait",
        "cap",
        "press",
        "fix",
        "drill",
        "trim",
        "slide-in",
        "lay-on",
        "hang",
        "run-in",
        "adjust",
    ]
    item: Text | None = None
    stage: Stage = "home"
    tool: Text | None = None
    free: FreeSpace | None = None
    minutes: Minutes = 0.0
    hint: Markdown = ""


class Limits(Entry):
    """Each limit in mm; None where the fitting has none."""

    butting_thickness: Range | None = None
    receiving_thickness: Range | None = None
    end_distance: Size | None = None  # least, position to the contact's end
    edge_distance: Size | None = None  # least, bore axis to the member's edge
    pitch: Range | None = None
    gap: Range | None = None  # between members that do not touch
    skin: Size = 3.0
    families: tuple[Family, ...] | None = None  # board families it suits
    span: Size | None = None  # longest part that may hang in two of them with nothing between


class Need(Entry):
    """A measure that a joint must give, or the fitting does not work in it.

    Args:
        what: in words, as a message begins: "the door's edge to the cup".
        value, least, most: formulas as of bores, mm.
    """

    what: Text
    value: Formula
    least: Formula | None = None
    most: Formula | None = None


class Counts(Entry):
    """How many of a fitting a part takes, by its length along the run and by its mass.

    Each row is (at most so much, so many), rising; the row that asks for more counts.
    """

    run: tuple[tuple[Size, Count], ...] = ()
    mass: tuple[tuple[Size, Count], ...] = ()


class Called(Entry):
    """What the buyer's manual calls a fitting, inside a sentence: one, and several."""

    one: Text
    many: Text


class Fitting(Entry):
    """A way to join two members, or something fixed on one.

    Args:
        contact: kinds of contact it is made for.
        ends, pitch: default spread along the run.
        holds: what the joint does once made: ``pinned`` (members only move apart
            along k: dowels, bolts), ``captured`` (in a groove: geometry says),
            ``free`` (screws and nails: geometry says).
        reversible: comes apart again without damage.
        mitred: for edges that meet at the slanted ends of members, for no square corner.
        title: for the maker; says which of several like fittings it is.
        called: for the buyer; the title if left out.
        visible: what stays visible ("nothing", "cam face", "screw head").
        way: the way in which a pinned butting member leaves, in the fastener frame. Where
            it lies along i, and nobody says `opens`, i looks right, back or up, so that both
            ends of a rail leave the same way.
        options: defaults of the options that formulas may use. An item's name may hold an
            option in braces: ``runner-{length}``.
        choices: for an option that comes in sizes only, all of them.
        needs: what must come out right, beyond ``limits``.
        counts: how many a butting member takes when nobody says; without it ``ends`` and
            ``pitch`` say.
        place: where a fixture goes when nobody says: at the four corners of its
            surface (``inset`` from both edges), in the middle of it, or at the
            middle of its upper (on a lying surface: back) edge, ``inset`` below it.
        groove: width and depth formulas, for fittings that are a groove.
        cautions: what the manual warns of where the fitting is used.
    """

    title: Words
    called: Called | None = None
    kind: Literal["joint", "fixture"]
    contact: tuple[
        Literal[
            "edge-face", "edge-edge", "mitre", "face-face", "sunk", "surface", "facing", "hung"
        ],
        ...,
    ]
    ends: Size | None = None
    pitch: Annotated[Number, Field(ge=1, le=10_000)] | None = None
    items: tuple[ItemRule, ...] = ()
    bores: tuple[BoreRule, ...] = ()
    slots: tuple[SlotRule, ...] = ()
    groove_width: Formula | None = None
    groove_depth: Formula | None = None
    actions: tuple[Action, ...] = ()
    holds: Literal["pinned", "captured", "free"] = "free"
    way: Direction = "+k"
    reversible: StrictBool
    mitred: StrictBool = False
    visible: Text = "nothing"
    options: dict[Name, Number] = Field(default={})
    choices: dict[Name, tuple[Number, ...]] = Field(default={})
    needs: tuple[Need, ...] = ()
    counts: Counts | None = None
    place: Literal["corners", "middle", "upper-middle"] | None = None
    limits: Limits = Limits()
    cautions: tuple[Literal["castors", "wall_hung"], ...] = ()
    sources: tuple[Markdown, ...]


class Time(Entry):
    """How long something takes, in minutes: an estimate."""

    title: Words
    minutes: Minutes
    sources: tuple[Markdown, ...]


_PLAIN = HardwareKind(title="other hardware", spread=0.02, sources=())
_OTHER = "other"
_UNTOLD = 0.25  # minutes; for a catalogue that says nothing; common practice, no source


class Catalogue(Entry):
    """All that is known to one product: boards, hardware, work, machines, kinds of furniture."""

    boards: dict[str, BoardMaterial] = Field(default={})
    items: dict[str, Item] = Field(default={})
    tools: dict[str, Tool] = Field(default={})
    fittings: dict[str, Fitting] = Field(default={})
    times: dict[str, Time] = Field(default={})
    machines: dict[str, Machine] = Field(default={})
    loads: dict[str, Load] = Field(default={})
    kinds: dict[str, Kind] = Field(default={})
    hardware_kinds: dict[str, HardwareKind] = Field(default={})
    scales: dict[str, Scale] = Field(default={})
    label_sheets: dict[str, LabelSheet] = Field(default={})

    def hardware_kind(self, item: str) -> HardwareKind:
        """Return the kind of an item; a plain one where the catalogue knows none of its name."""
        return self.hardware_kinds.get(self.items[item].kind, _PLAIN)

    def minutes_for(self, what: str) -> float:
        """Return how long an action or a piece of machining takes: an estimate, in minutes."""
        time = self.times.get(what, self.times.get(_OTHER))
        return time.minutes if time is not None else _UNTOLD
