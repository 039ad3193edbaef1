"""Where the panels of a list stand, as far as names and sizes say it.

Two sides and what lies between them tell most of a carcass: a fixed shelf can only lie
between the sides, so what is as long as it lies there too, and what is longer by both
sides' thickness lies over or under them. Where that does not answer, it is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kdkit.imports.panel_list import ListedPanel
from kdkit.imports.roles import free_name, role_of
from kdkit.units import mm_text

__all__ = ["Arrangement", "JointAsked", "Place", "PlacedPanel", "arrange"]

_SAME = 3.0
"""mm; lengths that differ less say the same of where a panel lies."""
_LOOSE = 6.0
"""mm; play of an adjustable shelf, both ends together. Source: common practice."""
_BACK_MARGIN = 60.0
"""mm; how much shorter than its sides a back may be and still stand upright."""
_LYING = ("shelf", "adjustable", "bottom", "top")
_UPRIGHT = ("left", "right", "side", "divider")


@dataclass(frozen=True)
class Place:
    """A panel's extent on one axis, written; with what was asked or inferred of it."""

    axis: str
    written: str
    asked: str = ""
    inferred: str = ""


@dataclass(frozen=True, kw_only=True)
class PlacedPanel:
    """One panel of the definition.

    Args:
        mirrors: the other of a pair, if the list may mean a mirrored one.
        asked: a question about all its axes together.
        edges: the side that each edge of the list is; empty if that is not known.
    """

    name: str
    panel: ListedPanel
    role: str
    places: tuple[Place, ...]
    mirrors: str = ""
    asked: str = ""
    grain: str = ""
    edges: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class JointAsked:
    """Parts that are joined, it is not known with what; ``to`` is empty if not known."""

    join: tuple[str, ...]
    to: tuple[str, ...]
    asked: str


@dataclass(frozen=True)
class Arrangement:
    """All panels; ``parameters`` are starts of spans that are asked for, by name."""

    panels: tuple[PlacedPanel, ...]
    parameters: dict[str, str]
    joints: tuple[JointAsked, ...]
    inferred: tuple[str, ...]


@dataclass
class _Named:
    name: str
    panel: ListedPanel
    role: str
    first: str
    """The name of the first panel of the same row."""


def arrange(panels: Sequence[ListedPanel]) -> Arrangement:
    """Return the panels of a list, with every question that is left."""
    return _Arranging(_named(panels)).arrange()


def _named(panels: Sequence[ListedPanel]) -> list[_Named]:
    """Return one entry for each panel; two sides of one row are the left and the right."""
    found: list[_Named] = []
    taken = {"boards"}
    for panel in panels:
        role = role_of(panel.name)
        pair = role == "side" and panel.quantity == 2
        first = ""
        for n in range(panel.quantity):
            wished = panel.name
            if panel.quantity > 1:
                wished = f"{panel.name[:24]} {n + 1}"
            each = role
            if pair and not {"left_side", "right_side"} & (taken - {first}):
                each = ("left", "right")[n]
                wished = f"{each} side"
            name = free_name(wished, taken, "panel")
            first = first or name
            taken.add(name)
            found.append(_Named(name, panel, each, first))
    return found


def _span(start: str, size: float) -> str:
    length = mm_text(size, 4)
    return f"[0, {length}]" if start == "0" else f"[{start}, {start} + {length}]"


class _Arranging:
    """Finds the places of one list's panels."""

    def __init__(self, named: list[_Named]) -> None:
        self.named = named
        self.parameters: dict[str, str] = {}
        self.inferred: list[str] = []
        self.left, self.right = self._pair()
        self.inner = self._inner_length()
        self.between = [n.name for n in named if self._lies(n) == "between"]
        self.under = next(
            (n for n in named if n.role == "bottom" and self._lies(n) == "over"), None
        )

    def arrange(self) -> Arrangement:
        if any(n.role in _LYING + _UPRIGHT for n in self.named):
            self.inferred.append("front edges of sides, shelves, tops and bottoms are flush")
        if self.inner is not None:
            told = mm_text(self.inner, 4)
            self.inferred.append(f"{told} lie between the sides, from the lengths of the shelves")
        panels = tuple(self._placed(n) for n in self.named)
        return Arrangement(panels, self.parameters, tuple(self._joints()), tuple(self.inferred))

    def _pair(self) -> tuple[_Named | None, _Named | None]:
        lefts = [n for n in self.named if n.role == "left"]
        rights = [n for n in self.named if n.role == "right"]
        others = [n for n in self.named if n.role == "side"]
        if len(lefts) == len(rights) == 1 and not others:
            a, b = lefts[0].panel, rights[0].panel
            same = ("length", "width", "thickness", "board", "bands", "bands_said")
            if all(getattr(a, key) == getattr(b, key) for key in same):
                return lefts[0], rights[0]
        return None, None

    def _inner_length(self) -> float | None:
        """Return the length between the sides, if the shelves say it."""
        if self.left is None:
            return None
        fixed = [n.panel.length for n in self.named if n.role == "shelf"]
        if fixed:
            return max(fixed) if max(fixed) - min(fixed) <= _SAME else None
        loose = [n.panel.length for n in self.named if n.role == "adjustable"]
        ends = {n.panel.length for n in self.named if n.role in ("top", "bottom")}
        inner = [end for end in ends if loose and 0 <= end - max(loose) <= _LOOSE]
        return inner[0] if len(inner) == 1 else None

    def _lies(self, named: _Named) -> str:
        """Return ``between`` the sides, ``over`` both, or "" if that is not known."""
        if self.inner is None or self.left is None:
            return ""
        length, thickness = named.panel.length, self.left.panel.thickness
        if named.role in (*_LYING, "plinth", "rail"):
            low = _LOOSE if named.role == "adjustable" else _SAME
            if -low <= length - self.inner <= _SAME:
                return "between"
            if (
                named.role in ("top", "bottom")
                and thickness is not None
                and abs(length - self.inner - 2 * thickness) <= _SAME
            ):
                return "over"
        return ""

    def _start(self, named: _Named, axis: str, what: str) -> str:
        """Return a parameter for where a span of known size starts, and ask for it."""
        name = f"{named.name}_{axis}"
        self.parameters[name] = f"where does {named.name} begin, at {what}?"
        return name

    def _placed(self, named: _Named) -> PlacedPanel:
        role = named.role
        if role in _UPRIGHT:
            return self._upright(named)
        if role in _LYING:
            return self._lying(named)
        if role == "back" and self.left is not None:
            return self._back(named)
        if role in ("plinth", "rail"):
            return self._across(named)
        return self._unknown(named)

    def _upright(self, named: _Named) -> PlacedPanel:
        panel, name = named.panel, named.name
        edges = {"long1": "front", "long2": "back", "short1": "top", "short2": "bottom"}
        if self.right is not None and named is self.right and self.left is not None:
            start = f"{self.between[0]}.x1" if self.between else ""
            if start:
                x = Place("x", f"{{from: {start}}}", inferred="at the end of what lies between")
            else:
                x = Place("x", _one_end("its left face"), asked=f"where does {name} stand?")
            return PlacedPanel(
                name=name, panel=panel, role=named.role, places=(x,), mirrors=self.left.name
            )
        foot, inferred = "0", "it stands on the floor"
        if self.under is not None:
            foot, inferred = f"{self.under.name}.z1", "it stands on the bottom, which is longer"
        if named.role == "divider":
            bottom = next((n.name for n in self.named if n.role == "bottom"), "")
            foot, inferred = f"{bottom}.z1", "it stands on the bottom"
            if not bottom:
                foot, inferred = self._start(named, "z", "its lower end"), ""
        if named is self.left:
            x = Place("x", "{from: 0}", inferred="the left end of the product")
        else:
            asked = f"where does {name} stand, from left to right?"
            x = Place("x", _one_end("its left face"), asked=asked + self._mirror_hint(named))
        places = (
            x,
            Place("y", _span("0", panel.width)),
            Place("z", _span(foot, panel.length), inferred=inferred),
        )
        return PlacedPanel(
            name=name, panel=panel, role=named.role, places=places, grain="z", edges=edges
        )

    def _mirror_hint(self, named: _Named) -> str:
        if named.panel.quantity != 2 or named.first == named.name:
            return ""
        return (
            f" If it is the mirror image of {named.first}, keep only its title, its x and "
            f"`mirror: {named.first}`"
        )

    def _lying(self, named: _Named) -> PlacedPanel:
        panel, name, lies = named.panel, named.name, self._lies(named)
        edges = {"long1": "front", "long2": "back", "short1": "left", "short2": "right"}
        kind = f"{name} ({_sizes(panel)})"
        if lies == "between" and self.left is not None and self.inner is not None:
            play = (self.inner - panel.length) / 2 if named.role == "adjustable" else 0.0
            start = f"{self.left.name}.x1" + (f" + {mm_text(play, 4)}" if play > 0 else "")
            x = Place("x", _span(start, panel.length), inferred="between the sides")
        elif lies == "over":
            x = Place("x", _span("0", panel.length), inferred="over both sides")
        elif self.left is not None and named.role in ("top", "bottom"):
            x = Place(
                "x",
                _span(self._start(named, "x", "its left end"), panel.length),
            )
        else:
            x = Place("x", _span(self._start(named, "x", "its left end"), panel.length))
        if named.role == "top" and lies and self.left is not None:
            end = "to" if lies == "between" else "from"
            z = Place("z", f"{{{end}: {self.left.name}.z1}}", inferred="at the top of the sides")
        elif named.role == "bottom" and lies == "over":
            z = Place(
                "z", _one_end("its underside"), asked=f"how high above the floor lies {kind}?"
            )
        else:
            plinth = next((n.name for n in self.named if n.role == "plinth"), "")
            hint = f" On the plinth it is {plinth}.z1" if plinth and named.role == "bottom" else ""
            if named.role == "top" and self.left is not None:
                hint = f" On the sides it is {self.left.name}.z1; for between write {{to: …}}"
            z = Place(
                "z",
                _one_end("its underside"),
                asked=f"how high is the underside of {kind} above the floor?{hint}",
            )
        places = [x, Place("y", _span("0", panel.width)), z]
        if named.role == "adjustable":
            places.append(Place("loose", "true", inferred="from its name: laid in, not joined"))
        return PlacedPanel(
            name=name, panel=panel, role=named.role, places=tuple(places), grain="x", edges=edges
        )

    def _back(self, named: _Named) -> PlacedPanel:
        assert self.left is not None  # the caller looked
        panel, height = named.panel, self.left.panel.length
        upright = abs(panel.length - height) <= _BACK_MARGIN
        lying = abs(panel.width - height) <= _BACK_MARGIN
        if upright == lying or self.right is None:
            return self._unknown(named)
        across, up = (panel.width, panel.length) if upright else (panel.length, panel.width)
        middle = mm_text(across, 4)
        x1 = f"{self.right.name}.x1"
        places = (
            Place("x", f"[({x1} - {middle}) / 2, ({x1} + {middle}) / 2]", inferred="in the middle"),
            Place(
                "y",
                _one_end("its front"),
                asked=f"where is the front of {named.name}? Laid on it is {self.left.name}.y1",
            ),
            Place("z", _span(self._start(named, "z", "its lower edge"), up)),
        )
        long = ("left", "right") if upright else ("top", "bottom")
        short = ("top", "bottom") if upright else ("left", "right")
        edges = dict(zip(("long1", "long2", "short1", "short2"), (*long, *short), strict=True))
        return PlacedPanel(
            name=named.name,
            panel=panel,
            role="back",
            places=places,
            grain="z" if upright else "x",
            edges=edges,
        )

    def _across(self, named: _Named) -> PlacedPanel:
        panel, name = named.panel, named.name
        if self._lies(named) == "between" and self.left is not None:
            x = Place(
                "x", _span(f"{self.left.name}.x1", panel.length), inferred="between the sides"
            )
        else:
            x = Place("x", _span(self._start(named, "x", "its left end"), panel.length))
        if named.role == "plinth":
            z = Place("z", _span("0", panel.width), inferred="a plinth stands on the floor")
        else:
            z = Place("z", _span(self._start(named, "z", "its lower edge"), panel.width))
        y = Place(
            "y",
            _one_end("its front"),
            asked=f"how far behind the front is {name}?" + self._mirror_hint(named),
        )
        edges = {"long1": "top", "long2": "bottom", "short1": "left", "short2": "right"}
        return PlacedPanel(
            name=name, panel=panel, role=named.role, places=(x, y, z), grain="x", edges=edges
        )

    def _unknown(self, named: _Named) -> PlacedPanel:
        thickness = "" if named.panel.thickness is None else " (thickness)"
        asked = (
            f"how does {named.name} stand, {_sizes(named.panel)}{thickness}? Write x, y and z: "
            "[from, to] on two axes, {from: …} or {to: …} on the axis of its thickness"
            f".{self._mirror_hint(named)}"
        )
        places = tuple(Place(axis, f'"? from and to along {axis}"') for axis in "xyz")
        return PlacedPanel(
            name=named.name, panel=named.panel, role=named.role, places=places, asked=asked
        )

    def _joints(self) -> list[JointAsked]:
        joints = []
        done: set[str] = set()
        if self.left is not None and self.right is not None:
            sides = (self.left.name, self.right.name)
            done.update(sides)
            lying = tuple(n.name for n in self.named if n.role in ("top", "bottom", "shelf"))
            upright = tuple(n.name for n in self.named if n.role in ("plinth", "rail"))
            for names, example in (
                (lying, "cam-and-bolt and dowel-8x35"),
                (upright, "dowel-8x35"),
            ):
                if names:
                    listed = ", ".join(names)
                    asked = f"what joins {listed} to the sides? For instance {example}"
                    joints.append(JointAsked(names, sides, asked))
                    done.update(names)
            for n in self.named:
                if n.role == "back":
                    to = (*sides, *(m.name for m in self.named if m.role in ("top", "bottom")))
                    asked = f"what joins {n.name}? For instance back-nailed"
                    joints.append(JointAsked((n.name,), to, asked))
                    done.add(n.name)
        loose = {n.name for n in self.named if n.role == "adjustable"}
        joints += [
            JointAsked((n.name,), (), f"to which parts is {n.name} joined, and with what fittings?")
            for n in self.named
            if n.name not in done | loose
        ]
        return joints


def _one_end(what: str) -> str:
    return f'{{from: "? {what}"}}'


def _sizes(panel: ListedPanel) -> str:
    sizes = [panel.length, panel.width] + ([panel.thickness] if panel.thickness else [])
    return " × ".join(mm_text(size, 4) for size in sizes)
