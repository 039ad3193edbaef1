"""What needs a hold on either side: drawers on runners, hanging rails in sockets."""

from __future__ import annotations

from collections.abc import Iterable

from kdkit.diagnostics import Problem, warning
from kdkit.inspect.drawers import find_drawers
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.rails import rail_holds

__all__ = ["check_both_sides_held"]


def check_both_sides_held(inspection: Inspection) -> Iterable[Problem]:
    """A drawer runs on two runners; a rail lies in two sockets, or a socket and a hook."""
    for drawer in find_drawers(inspection):
        if len(drawer.sides) == 1:
            yield warning(
                "held-on-one-side",
                f"{drawer.name} has a runner on one side only",
                drawer.path,
                where=drawer.name,
                help="join its other side with a runner too, to the part that it runs along",
            )
    for name, (_, held) in rail_holds(inspection).items():
        if len(held) == 1:
            yield warning(
                "held-on-one-side",
                f"{name} is held at one end only",
                inspection.part(name).path,
                where=name,
                help="join its other end with a socket too, or hold it with `rail-hook-60`",
            )
