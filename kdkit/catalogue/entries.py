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

from typing import Literal

from pydantic import BaseModel, ConfigDict

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

Formula = float | str
Direction = Literal["+i", "-i", "+j", "-j", "+k", "-k"]
Member = Literal["butting", "receiving"]
Stage = Literal["workshop", "home"]


class Entry(BaseModel):
    """A frozen model that refuses unknown keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Strength(Entry):
    """Board figures over a range of thickness; N/mm², kg/m³."""

    thickness: tuple[float, float]
    density: float
    moe: float | None = None
    mor: float | None = None
    internal_bond: float | None = None


class BoardMaterial(Entry):
    title: str
    family: Literal["particleboard", "mdf", "plywood", "hardboard", "solid-timber", "glass"]
    thicknesses: tuple[float, ...]
    strength: tuple[Strength, ...]
    grained: bool
    sheets: tuple[tuple[float, float], ...] = ()
    thickness_tolerance: float = 0.3
    sources: tuple[str, ...]


class Piece(Entry):
    """A piece of an item's shape, from z0 to z1 (mm, item frame), about the item's axis.

    ``cylinder`` has d0, ``cone`` d0 at z0 and d1 at z1, ``hexagon`` d0 across
    flats, ``box`` d0 along x and d1 along y, ``lens`` d0 along x between two arcs that
    meet at its ends, and d1 along y. ``at`` moves it off the axis, in (x, y).
    """

    kind: Literal["cylinder", "cone", "hexagon", "box", "lens"]
    z0: float
    z1: float
    d0: float
    d1: float | None = None
    surface: Literal["plain", "thread", "flutes"] = "plain"
    at: tuple[float, float] = (0.0, 0.0)


class Item(Entry):
    """A piece of hardware that is counted and bagged.

    Args:
        title: English; other languages come from the message catalogues.
        size: as printed after the title: "8 × 35".
        drive: recess by its standard name ("cross recess Z2", "hexagon key 4"), or None.
        recess_z: where the drive recess is drawn (z of the head's top), if any.
        supplied: False for something the buyer chooses (an anchor for the wall).
        machine_thread: it holds in a nut or an insert, not in wood.
    """

    title: str
    size: str = ""
    mass: float
    drive: str | None = None
    recess_z: float | None = None
    pieces: tuple[Piece, ...]
    material: str = ""
    supplied: bool = True
    machine_thread: bool = False
    sources: tuple[str, ...]


class FreeSpace(Entry):
    """A cylinder that hand and tool need, in the item's frame, along +z from z = 0.

    Over the first ``blade`` of its length it is only ``blade_diameter`` wide.
    """

    diameter: float
    length: float
    blade: float = 0.0
    blade_diameter: float = 8.0


class Tool(Entry):
    """A tool, and the room it takes.

    Args:
        room: ways to hold it, the comfortable one first; each a cylinder on the item's
            axis with the hand in it, the tool set on the item. The length counts from
            the item's head; what an item travels while it is driven comes on top.
        instead_of: the tool that it stands in for where that one has no room.
    """

    title: str
    size: str = ""
    room: tuple[FreeSpace, ...] = ()
    instead_of: str | None = None
    sources: tuple[str, ...] = ()


class Lean(Entry):
    """A direction aslant: from ``along`` it leans towards ``towards``, by ``angle`` in degrees."""

    along: Direction
    towards: Direction
    angle: Formula


class BoreRule(Entry):
    """One bore: mouth and direction in the fastener frame.

    ``mate`` names a line shared by bores of both members: bores with the same
    ``mate`` in one fastener must be coaxial.
    """

    member: Member
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    into: Direction | Lean
    diameter: Formula
    depth: Formula | Literal["through"]
    purpose: str
    stage: Stage = "workshop"
    mate: str | None = None
    meets: tuple[str, ...] = ()  # purposes of this fastener's bores that it should cross


class SlotRule(Entry):
    """One slot: the middle of its mouth and its directions in the fastener frame.

    It is ``routed``, as long as ``length`` says with half-round ends and a flat bottom, or
    plunged with a disc cutter of diameter ``disc``: then its bottom is an arc, and its
    length at the surface follows from the depth. ``width`` is across it.
    """

    member: Member
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    into: Direction
    along: Direction
    width: Formula
    depth: Formula
    length: Formula | None = None
    disc: Formula | None = None
    purpose: str
    stage: Stage = "workshop"
    mate: str | None = None


class ItemRule(Entry):
    """An item in a fastener; ``out`` is the item's +z in the fastener frame.

    ``carried_by`` is the member it is fixed in before the two are mated; it goes
    with that member and sticks out of it. Items that go in afterwards (a screw)
    are carried by none.
    """

    item: str
    at: tuple[Formula, Formula, Formula] = (0.0, 0.0, 0.0)
    out: Direction | Lean
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
    item: str | None = None
    stage: Stage = "home"
    tool: str | None = None
    free: FreeSpace | None = None
    minutes: float = 0.0
    hint: str = ""


class Limits(Entry):
    """Each limit in mm; None where the fitting has none."""

    butting_thickness: tuple[float, float] | None = None
    receiving_thickness: tuple[float, float] | None = None
    end_distance: float | None = None  # least, position to the contact's end
    edge_distance: float | None = None  # least, bore axis to the member's edge
    pitch: tuple[float, float] | None = None
    gap: tuple[float, float] | None = None  # between members that do not touch
    skin: float = 3.0
    families: tuple[str, ...] | None = None  # board families it suits
    span: float | None = None  # longest part that may hang in two of them with nothing between


class Need(Entry):
    """A measure that a joint must give, or the fitting does not work in it.

    Args:
        what: in words, as a message begins: "the door's edge to the cup".
        value, least, most: formulas as of bores, mm.
    """

    what: str
    value: Formula
    least: Formula | None = None
    most: Formula | None = None


class Counts(Entry):
    """How many of a fitting a part takes, by its length along the run and by its mass.

    Each row is (at most so much, so many), rising; the row that asks for more counts.
    """

    run: tuple[tuple[float, int], ...] = ()
    mass: tuple[tuple[float, int], ...] = ()


class Called(Entry):
    """What the buyer's manual calls a fitting, inside a sentence: one, and several."""

    one: str
    many: str


class Fitting(Entry):
    """A way to join two members, or something fixed on one.

    Args:
        contact: kinds of contact it is made for.
        suits: the kinds of work that a joint is used in by the trade's practice; () when
            nobody says. Advice only: nothing is refused by it.
        ends, pitch: default spread along the run.
        holds: what the joint does once made: ``pinned`` (members only move apart
            along k: dowels, bolts), ``captured`` (in a groove: geometry says),
            ``free`` (screws and nails: geometry says).
        reversible: comes apart again without damage.
        title: for the maker; says which of several like fittings it is.
        called: for the buyer; the title if left out.
        visible: what stays visible ("nothing", "cam face", "screw head").
        way: the way in which a pinned butting member leaves, in the fastener frame.
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

    title: str
    called: Called | None = None
    kind: Literal["joint", "fixture"]
    contact: tuple[
        Literal[
            "edge-face", "edge-edge", "mitre", "face-face", "sunk", "surface", "facing", "hung"
        ],
        ...,
    ]
    suits: tuple[Literal["frame", "carcass", "panel-assembly", "face-frame"], ...] = ()
    ends: float | None = None
    pitch: float | None = None
    items: tuple[ItemRule, ...] = ()
    bores: tuple[BoreRule, ...] = ()
    slots: tuple[SlotRule, ...] = ()
    groove_width: Formula | None = None
    groove_depth: Formula | None = None
    actions: tuple[Action, ...] = ()
    holds: Literal["pinned", "captured", "free"] = "free"
    way: Direction = "+k"
    reversible: bool
    visible: str = "nothing"
    options: dict[str, float] = {}
    choices: dict[str, tuple[float, ...]] = {}
    needs: tuple[Need, ...] = ()
    counts: Counts | None = None
    place: Literal["corners", "middle", "upper-middle"] | None = None
    limits: Limits = Limits()
    cautions: tuple[Literal["castors", "wall_hung"], ...] = ()
    sources: tuple[str, ...]


class Time(Entry):
    """How long something takes, in minutes: an estimate."""

    title: str
    minutes: float
    sources: tuple[str, ...]


_OTHER = "other"
_UNTOLD = 0.25  # minutes; for a catalogue that says nothing; common practice, no source


class Catalogue(Entry):
    """All boards, items, tools, fittings and times known to one product."""

    boards: dict[str, BoardMaterial] = {}
    items: dict[str, Item] = {}
    tools: dict[str, Tool] = {}
    fittings: dict[str, Fitting] = {}
    times: dict[str, Time] = {}

    def minutes_for(self, what: str) -> float:
        """Return how long an action or a piece of machining takes: an estimate, in minutes."""
        time = self.times.get(what, self.times.get(_OTHER))
        return time.minutes if time is not None else _UNTOLD
