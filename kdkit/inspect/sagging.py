"""What bears a load: does it sag, does it break. Advice with its assumptions, never a rating."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from kdkit.diagnostics import Problem, Severity
from kdkit.inspect.beam import bend
from kdkit.inspect.bearing import Borne, find_borne
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.spans import Span, spans_of
from kdkit.inspect.strength import GRAVITY, IN_TIME, RESERVE, creep_factors
from kdkit.model.resolved import Part
from kdkit.parts.size import face_area
from kdkit.units import mm_text

__all__ = ["MOST_SAG", "SEEN_SAG", "check_sagging"]

SEEN_SAG = 200.0
"""A sag of 1/200 of the span is plainly seen. Common practice, no source."""

MOST_SAG = 144.0
"""A shelf that sags by more than 1/144 of its span is not good work. Source: Architectural Woodwork
Standards, 1st edition, 2009, shelf deflection under 40 and 50 lb/ft²."""

_RANK = {Severity.ADVICE: 0, Severity.WARNING: 1, Severity.ERROR: 2}


@dataclass(frozen=True, kw_only=True)
class _Bending:
    """How one part bends under its own mass and a load: sag at once, mm, and stress, N/mm²."""

    part: Part
    span: Span
    sag: float
    stress: float
    moe: float
    mor: float | None


def check_sagging(inspection: Inspection) -> Iterable[Problem]:
    """Tell of what sags or breaks under the loads that are stated for it, or its own mass.

    Where the maker states no load, the usual one of such furniture is taken, and what is told
    for it weighs less.
    """
    found = find_borne(inspection)
    stated = {part.name for borne in found if borne.said for part, _ in borne.parts}
    told: dict[tuple[object, ...], list[Problem]] = {}
    for borne in found:
        for part, share in borne.parts:
            if not borne.said and part.name in stated:
                continue
            mass = borne.mass * share
            if borne.entry.on == "shelves" and not borne.said:
                mass *= face_area(part) * 1e-6  # usual is for each square metre
            for problem in _judged(inspection, borne, part, mass):
                alike = problem.message.removeprefix(part.name)
                told.setdefault((problem.code, problem.severity, alike), []).append(problem)
    for first, *others in told.values():
        where = f"{first.where}, and {len(others)} more like it" if others else first.where
        yield replace(first, where=where)


def _judged(inspection: Inspection, borne: Borne, part: Part, mass: float) -> Iterator[Problem]:
    loaded = _least_bent(inspection, part, mass)
    if loaded is None:
        return
    own = _least_bent(inspection, part, 0.0)
    bare = own is not None and _weight(inspection, own, None)[0] is not None
    heaviest = Severity.ADVICE
    if borne.said:
        heaviest = Severity.ERROR
    elif borne.kind or bare:
        heaviest = Severity.WARNING
    said = f"under {mm_text(mass)} kg spread" if borne.said else _supposed(mass)
    promised = inspection.resolved.said.safety.most_sag
    sags, breaks = _weight(inspection, loaded, promised)
    family = inspection.family(part)
    mild, strict = creep_factors(family)
    span = loaded.span
    help = (
        f"assumed: {_supports(span)}, its own mass counted, E = {mm_text(loaded.moe, 0)}"
        f" N/mm²{_way(inspection, part, span)}, {_creep_words(family, mild, strict)}; an estimate,"
        " no rating. A thicker board, a shorter span or a rail under it helps"
    )
    worst = f", up to {mm_text(strict * loaded.sag)} mm" if strict > mild else ""
    sagging = f"would sag about {mm_text(mild * loaded.sag)} mm{worst} in time"
    over = f"over {mm_text(span.free, 0)} mm {said}"
    if breaks is not None and loaded.mor is not None:
        kept = IN_TIME[family or ""]
        what = "breaks in time" if breaks is Severity.ERROR else "has little in reserve"
        yield _problem(
            "shelf-breaks",
            f"{part.name} {what} {over}: it is bent with {mm_text(loaded.stress)} N/mm², the board"
            f" bears {mm_text(kept * loaded.mor)} for long"
            + (f"; it {sagging}" if sags is not None else ""),
            part,
            min(breaks, heaviest, key=_RANK.__getitem__),
            f"{help}; of its bending strength, {mm_text(loaded.mor)} N/mm²,"
            f" {mm_text(100 * kept, 0)} % stay under a load for months (k_mod, from memory of"
            f" {'EN 16612' if family == 'glass' else 'EN 1995-1-1'}), and a sound design has"
            f" {mm_text(RESERVE, 2)} times in reserve",
        )
        if sags is not Severity.ERROR:
            return
    if sags is not None:
        limit = (
            f"the maker promises {mm_text(promised)} mm at most"
            if promised is not None and sags is Severity.ERROR
            else f"{mm_text(span.free / SEEN_SAG)} mm is plainly seen,"
            f" {mm_text(span.free / MOST_SAG)} mm the most in good work"
        )
        yield _problem(
            "shelf-sags",
            f"{part.name} {sagging} {over} ({limit})",
            part,
            min(sags, heaviest, key=_RANK.__getitem__),
            help,
        )


def _problem(code: str, text: str, part: Part, severity: Severity, help: str) -> Problem:
    return Problem(
        code=code, message=text, severity=severity, path=part.path, where=part.name, help=help
    )


def _weight(
    inspection: Inspection, bent: _Bending, promised: float | None
) -> tuple[Severity | None, Severity | None]:
    """Return how grave a sag and a stress are, None for one that is in order."""
    family = inspection.family(bent.part)
    sag = creep_factors(family)[0] * bent.sag
    sags: Severity | None = None
    if promised is not None and sag > promised:
        sags = Severity.ERROR
    elif sag > bent.span.free / MOST_SAG:
        sags = Severity.WARNING
    elif sag > bent.span.free / SEEN_SAG:
        sags = Severity.ADVICE
    breaks: Severity | None = None
    kept = IN_TIME.get(family or "")
    if bent.mor is not None and kept is not None:
        if bent.stress > kept * bent.mor:
            breaks = Severity.ERROR
        elif bent.stress > kept * bent.mor / RESERVE:
            breaks = Severity.WARNING
    return sags, breaks


def _least_bent(inspection: Inspection, part: Part, mass: float) -> _Bending | None:
    """Return how a part bends the way in which it bends less; None where nothing is known.

    Args:
        mass: of the load, kg; the part's own comes on top.
    """
    strength = inspection.strength(part)
    if strength is None or strength.moe is None:
        return None
    board = inspection.catalogue.boards.get(part.material or "")
    grained = board is not None and board.grained and part.grain_along_x
    found = []
    for span in spans_of(inspection, part):
        across = grained and not span.along
        moe = strength.moe_across if across and strength.moe_across else strength.moe
        mor = strength.mor_across if across and strength.mor_across else strength.mor
        section = span.width * part.thickness**2 / 6
        bent = bend(
            length=span.length,
            supports=span.supports,
            load=(mass + inspection.masses.parts[part.name]) * GRAVITY / span.length,
            stiffness=moe * section * part.thickness / 2,
            held=span.held,
        )
        found.append(
            _Bending(
                part=part,
                span=span,
                sag=bent.sag,
                stress=bent.moment / section,
                moe=moe,
                mor=mor,
            )
        )
    return min(found, key=lambda bent: bent.sag) if found else None


def _supposed(mass: float) -> str:
    return f"under {mm_text(mass)} kg spread, the usual load, as none is stated"


def _supports(span: Span) -> str:
    if span.held:
        return "it is held stiff at one end and juts out"
    n = len(span.supports)
    return "it rests at both ends" if n == 2 else f"it rests at {n} places"


def _way(inspection: Inspection, part: Part, span: Span) -> str:
    board = inspection.catalogue.boards.get(part.material or "")
    if board is None or not board.grained or not part.grain_along_x:
        return ""
    return " along the grain" if span.along else " across the grain, where wood is weak"


def _creep_words(family: str | None, mild: float, strict: float) -> str:
    if family == "glass":
        return "no creep, not toughened"
    if mild == strict:
        return f"creep × {mm_text(strict)} (1 + k_def, from memory of EN 1995-1-1)"
    return (
        f"creep × {mm_text(mild)} (guidance of European makers of MDF, from memory)"
        f" up to × {mm_text(strict, 2)}"
        " (1 + k_def, EN 1995-1-1, service class 1)"
    )
