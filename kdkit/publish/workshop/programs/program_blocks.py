"""Drilling programs as values: tools, set-ups, canned cycles. Lengths in mm.

For a plain three-axis router: one set-up for each surface, drills square to it only.
Work zero is the datum of the surface, Z 0 on the surface, X to the right as in the
drawings; where y runs down, the panel lies on the side of negative Y.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.frames import Vec2
from kdkit.schedule.schedules import DrillLine
from kdkit.schedule.views import PanelViews, SurfaceView

__all__ = [
    "BREAK_THROUGH",
    "NEAR_HEIGHT",
    "SAFE_HEIGHT",
    "Cycle",
    "Setup",
    "Tool",
    "left_out",
    "list_setups",
    "list_tools",
]

SAFE_HEIGHT = 30.0
"""Height above the surface at which the tool travels, mm; above clamps. Common practice."""

NEAR_HEIGHT = 3.0
"""Height at which feeding begins, mm. Common practice, no source."""

BREAK_THROUGH = 1.0
"""How far a through bore goes into the spoil board, mm. Common practice, no source."""

_DWELL = 0.5  # s, so that the floor of a housing comes out clean
_FLAT_FROM = 15.0  # bores this wide are housings with a flat floor
_DEEP = 3.0  # deeper than this many diameters: chips are cleared on the way
_PECK = 2.0  # diameters in one go
# All four: common practice, no source.


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A drill: number in the programs, diameter, turns a minute, feed in mm a minute."""

    number: int
    diameter: float
    speed: int
    feed: int


@dataclass(frozen=True, kw_only=True)
class Cycle:
    """One bore: ``code`` 81, 82 or 83, place, floor (negative), and what the code needs."""

    code: int
    x: float
    y: float
    floor: float
    dwell: float | None = None
    peck: float | None = None


@dataclass(frozen=True, kw_only=True)
class Setup:
    """One surface lying up: the bores of each tool in the order in which they are made."""

    panel: PanelViews
    view: SurfaceView
    runs: tuple[tuple[Tool, tuple[Cycle, ...]], ...]

    @property
    def name(self) -> str:
        """Return the name of its file without the ending: ``A-face``, ``B-edge-front``."""
        return f"{self.panel.letter}-{self.view.surface.replace(':', '-')}"

    @property
    def mark(self) -> str:
        """Return a number that its program and its plot share, and hardly any other program.

        It stands for the names that a program must not hold: whoever runs it can see
        whether the sheet in their hand belongs to it.
        """
        said = [
            self.name,
            *(f"{round(end, 2) + 0.0:.2f}" for end in self.view.box),
            *(
                f"{tool.number} {tool.diameter:.3f} {c.code} "
                f"{round(c.x, 2) + 0.0:.2f} {round(c.y, 2) + 0.0:.2f} {round(c.floor, 2):.2f}"
                for tool, cycles in self.runs
                for c in cycles
            ),
        ]
        return f"{zlib.crc32(chr(10).join(said).encode()):010d}"

    @property
    def path(self) -> tuple[Vec2, ...]:
        """Return the places over which the tool travels, from work zero."""
        return ((0.0, 0.0), *((c.x, c.y) for _, cycles in self.runs for c in cycles))


def _is_drilled(view: SurfaceView, bore: DrillLine) -> bool:
    """Tell whether a bore is for a program: one in a bevelled edge wants a set-up of its own."""
    return bore.stage == "workshop" and bore.towards_deg is None and view.leans == 0


def left_out(panel: PanelViews) -> tuple[int, int, int, int]:
    """Return how many things of the workshop no program makes.

    Returns:
        Slanted bores, bores in bevelled edges, grooves, slots.
    """
    bores = [(v, b) for v in panel.views for b in v.bores if b.stage == "workshop"]
    slanted = sum(b.towards_deg is not None for _, b in bores)
    bevelled = sum(b.towards_deg is None and v.leans != 0 for v, b in bores)
    grooves = sum(len(view.grooves) for view in panel.views)
    slots = sum(slot.stage == "workshop" for view in panel.views for slot in view.slots)
    return slanted, bevelled, grooves, slots


def list_tools(panels: Sequence[PanelViews]) -> tuple[Tool, ...]:
    """Return one drill for each diameter, numbered from the thinnest.

    Source:
        Speed and feed are starting values of common practice for drills in board; no
        source. The tool's own figures come first.
    """
    diameters = sorted(
        {
            round(bore.diameter, 3)
            for panel in panels
            for view in panel.views
            for bore in view.bores
            if _is_drilled(view, bore)
        }
    )
    return tuple(
        Tool(
            number=n,
            diameter=d,
            speed=4000 if d <= 12 else 3000 if d <= 20 else 2000,
            feed=1000 if d <= 12 else 600 if d <= 20 else 400,
        )
        for n, d in enumerate(diameters, start=1)
    )


def list_setups(panels: Sequence[PanelViews], tools: Sequence[Tool]) -> Iterator[Setup]:
    """Yield the set-ups of all panels; a surface without square bores has none."""
    for panel in panels:
        for view in panel.views:
            runs = []
            for tool in tools:
                cycles = [
                    _cycle(view, bore)
                    for bore in view.bores
                    if _is_drilled(view, bore) and round(bore.diameter, 3) == tool.diameter
                ]
                if cycles:
                    runs.append((tool, tuple(_to_and_fro(cycles))))
            if runs:
                yield Setup(panel=panel, view=view, runs=tuple(runs))


def _to_and_fro(cycles: Sequence[Cycle]) -> Iterator[Cycle]:
    """Yield bores of one kind after the other, row by row, every second row backwards."""
    rows: dict[tuple[int, float, float], list[Cycle]] = {}
    for cycle in cycles:
        rows.setdefault((cycle.code, -cycle.floor, round(abs(cycle.y), 2)), []).append(cycle)
    for n, key in enumerate(sorted(rows)):
        yield from sorted(rows[key], key=lambda c: c.x, reverse=n % 2 == 1)


def _cycle(view: SurfaceView, bore: DrillLine) -> Cycle:
    x, y = view.seen((bore.x, bore.y))
    floor = -(bore.depth + BREAK_THROUGH) if bore.through else -bore.depth
    if -floor > _DEEP * bore.diameter:
        return Cycle(code=83, x=x, y=y, floor=floor, peck=_PECK * bore.diameter)
    if bore.diameter >= _FLAT_FROM and not bore.through:
        return Cycle(code=82, x=x, y=y, floor=floor, dwell=_DWELL)
    return Cycle(code=81, x=x, y=y, floor=floor)
