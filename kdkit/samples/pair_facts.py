"""What is said of a fitting for the pair of boards in hand: its hold, its accuracy, its glue.

The hold is an estimate where a published formula covers the case; everything else has no
figure, rather than a guessed one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from kdkit.catalogue import Catalogue, Fitting
from kdkit.frames import dot
from kdkit.geometry import Assembly, Contact, ContactKind
from kdkit.inspect.fasteners import Driven, driven_items, shank_of
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.strength import (
    nail_withdrawal,
    particleboard_withdrawal,
    screw_withdrawal,
)
from kdkit.joinery import Joinery
from kdkit.model import Resolved
from kdkit.units import TOLERANCE

__all__ = ["Hold", "PairFacts", "draws_together", "is_mitred", "pair_facts"]

BORES = 0.2
"""mm by which bores of both boards that share a dowel, bolt or cam may be off each other."""

SLOTS = 0.5
"""mm by which slots may be off each other across them; along them there is play."""

MARKED = 1.0
"""mm by which a board may lie off its mark, where nothing in the two must meet."""
# All three: common practice, no source.

_DRAWING = {"turn", "drive", "screw-on"}
_SOURCE = "from memory of the Wood Handbook, FPL-GTR-282, 2021, chapter 8"
_SQUARE = 1e-3  # cosine, below which a run lies square to a member


@dataclass(frozen=True)
class Hold:
    """What pulls the boards of a joint apart, N, square to their contact; an estimate.

    Args:
        formula, source: as printed; ``of``: what it was worked out from.
    """

    force: float
    formula: str
    of: str
    source: str


@dataclass(frozen=True)
class PairFacts:
    """What is said of a fitting for one pair.

    Args:
        hold: None where there is no figure.
        accuracy: mm by which the work may be off, common practice.
        draws: it pulls the two tight by itself; else clamps or a push do.
        glue_minutes: under pressure; None without glue.
    """

    hold: Hold | None
    accuracy: float
    draws: bool
    glue_minutes: float | None


def pair_facts(
    resolved: Resolved,
    assembly: Assembly,
    joinery: Joinery,
    catalogue: Catalogue,
    fitting: Fitting,
    wait_minutes: float,
) -> PairFacts:
    """Return what is said of a fitting in a product of two parts alone.

    Args:
        wait_minutes: until its glue has set.
    """
    glued = any(action.do == "glue" for action in fitting.actions)
    return PairFacts(
        hold=_hold(Inspection(resolved, assembly, joinery, catalogue)),
        accuracy=_accuracy(joinery),
        draws=draws_together(fitting),
        glue_minutes=wait_minutes if glued else None,
    )


def draws_together(fitting: Fitting) -> bool:
    """Tell whether something turned or driven home after the boards meet pulls them tight."""
    done = [action.do for action in fitting.actions]
    after = done[done.index("mate") + 1 :] if "mate" in done else done
    return not _DRAWING.isdisjoint(after)


def is_mitred(assembly: Assembly, contact: Contact) -> bool:
    """Tell whether two edges meet at a slant to the length of one of their boards."""
    if contact.kind is not ContactKind.EDGE_EDGE:
        return False
    for name in (contact.butting, contact.receiving):
        cosine = abs(dot(assembly.part(name).frame.i, contact.frame.i))
        if _SQUARE < cosine < 1 - _SQUARE:
            return True
    return False


def _accuracy(joinery: Joinery) -> float:
    """Return how far the work may be off: what both boards were worked for must meet."""
    worked: dict[str, set[str]] = {}
    for bore in joinery.bores:
        if bore.stage == "workshop" and not bore.spare and bore.fastener is not None:
            worked.setdefault(bore.fastener, set()).add(bore.part)
    if any(len(parts) > 1 for parts in worked.values()):
        return BORES
    return SLOTS if joinery.slots or joinery.grooves else MARKED


def _hold(inspection: Inspection) -> Hold | None:
    """Return what the screws or nails of a joint hold together; None where they do not hold it.

    Those that go aslant, nails into end grain, and screws into boards for which there is no
    formula have no figure.
    """
    forces: list[float] = []
    formula = words = ""
    for driven in driven_items(inspection):
        doing = {a.do for a in driven.fitting.actions if a.item == driven.item.item}
        if any(action.do == "fix" for action in driven.fitting.actions):
            return None  # a bracket or block lies between: screws in both boards, across
        nailed = "nail" in doing
        threaded = any(piece.surface == "thread" for piece in driven.entry.pieces)
        if driven.entry.machine_thread or not (nailed or ("drive" in doing and threaded)):
            continue  # a dowel is driven too
        found = _pull(inspection, driven, nailed)
        if found is None:
            return None
        force, formula, words = found
        forces.append(force)
    if not forces:
        return None
    return Hold(math.fsum(forces), f"n · {formula}", f"n {len(forces)}, {words}", _SOURCE)


def _pull(inspection: Inspection, driven: Driven, nailed: bool) -> tuple[float, str, str] | None:
    """Return what pulls one screw or nail out, by which formula, of what."""
    strength = inspection.strength(driven.part)
    board = inspection.catalogue.boards.get(driven.part.material or "")
    side = _side(driven)
    if strength is None or board is None or driven.inside <= 0 or side is None:
        return None
    gravity, d, length = strength.density / 1000, shank_of(driven.entry), driven.inside
    words = f"D {d:g}, L {length:g} mm, G {gravity:g}"
    if board.family == "solid-timber":
        if nailed and side != "end":
            force = nail_withdrawal(specific_gravity=gravity, diameter=d, length=length)
            return force, "54.12·G^(5/2)·D·L", words
        if not nailed:
            force = screw_withdrawal(specific_gravity=gravity, diameter=d, length=length)
            if side == "end":
                return 0.75 * force, "0.75 · 108.25·G²·D·L (end grain)", words
            return force, "108.25·G²·D·L", words
    if board.family == "particleboard" and not nailed:
        edge = side != "face"
        force = particleboard_withdrawal(
            specific_gravity=gravity, diameter=d, length=length, edge=edge
        )
        return force, f"{31.8 if edge else 41.1}·D^(1/2)·(L − D/3)^(5/4)·G²", words
    return None


def _side(driven: Driven) -> str | None:
    """Return what an item goes square into: ``face``, ``edge`` or ``end``; None if aslant."""
    frame, along = driven.part.frame, driven.item.frame.k
    for axis, side in ((frame.k, "face"), (frame.j, "edge"), (frame.i, "end")):
        if abs(dot(axis, along)) > 1 - TOLERANCE:
            return side
    return None
