"""Depths that differ by a hair, brought to one: one depth stop instead of two or three.

A fitting's entry says how much deeper than it asks a bore may be without harm (``deeper``).
Of bores of one diameter in one part those that may are bored as deep as the deepest that
they reach, where the skin below stays and nothing else in the part comes near. No bore is
ever made shallower: what stands in it must fit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kdkit.catalogue.entries import Fitting, Limits
from kdkit.joinery.members import Member
from kdkit.joinery.placed import Bore, Fastener, Groove, Slot
from kdkit.parts.cut_boxes import cut_box
from kdkit.units import TOLERANCE

__all__ = ["level_depths"]

_CLEAR = 3.0
"""Wood between a bore made deeper and anything that lay no nearer before, mm. Common practice,
no source."""

_NO_LIMITS = Limits()


def level_depths(
    bores: Sequence[Bore],
    others: Sequence[Groove | Slot],
    members: Mapping[str, Member],
    fasteners: Iterable[Fastener],
    fittings: Mapping[str, Fitting],
) -> tuple[Bore, ...]:
    """Return the bores in their order, some of them deeper; these say what was asked."""
    fitting_of = {f.id: fittings[f.fitting] for f in fasteners if f.fitting in fittings}
    alike: dict[tuple[str, float, str], list[int]] = {}
    for n, bore in enumerate(bores):
        if not (bore.through or bore.sloped):
            alike.setdefault((bore.part, round(bore.diameter, 3), bore.stage), []).append(n)
    kept = list(bores)
    for (part, _, _), numbers in alike.items():
        depths = sorted({kept[n].depth for n in numbers}, reverse=True)
        if len(depths) < 2 or not any(kept[n].deeper for n in numbers):
            continue
        member = members[part]
        around = np.array(
            [cut_box(member.part, c) for c in (*kept, *others) if c.part == part], dtype=np.float64
        )
        for n in numbers:
            bore = kept[n]
            fitting = fitting_of.get(bore.fastener or "")
            skin = max((fitting.limits if fitting else _NO_LIMITS).skin, 3.0)
            for depth in depths:
                if not TOLERANCE < depth - bore.depth <= bore.deeper + TOLERANCE:
                    continue
                deep = replace(bore, depth=depth, asked=bore.depth)
                room = member.depth_through(bore.mouth, bore.into)
                if room - depth >= skin - TOLERANCE and _clear(bore, deep, around, member):
                    kept[n] = deep
                    break
    return tuple(kept)


def _clear(bore: Bore, deep: Bore, around: NDArray[np.float64], member: Member) -> bool:
    """Tell whether a deeper bore comes near to nothing that it was not near to before."""
    before = _near(cut_box(member.part, bore), around)
    return not (_near(cut_box(member.part, deep), around) & ~before).any()


def _near(box: NDArray[np.float64], around: NDArray[np.float64]) -> NDArray[np.bool_]:
    low = (box[:3] <= around[:, 3:] + _CLEAR).all(axis=1)
    high = (around[:, :3] <= box[3:] + _CLEAR).all(axis=1)
    return np.asarray(low & high)
