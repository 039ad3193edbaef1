"""Which joints are possible, in words for the terminal, as data and as rows of a table."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from kdkit.cli.show import printable
from kdkit.diagnostics import Problem
from kdkit.samples.choose import Choice, Chosen
from kdkit.samples.cost import Cost
from kdkit.samples.pair_facts import PairFacts
from kdkit.units import mm_text

__all__ = ["choice_data", "choice_rows", "choice_text"]

_MEET = {
    "edge-face": "an edge stands on a face",
    "edge-edge": "two edges meet",
    "face-face": "two faces lie on each other",
    "sunk": "one stands in the other",
    "mitre": "two mitred edges meet",
    "hung": "a door hangs on a side",
    "facing": "two parts face each other over a gap",
}
_HEADS = (
    "joint",
    "bores",
    "pieces",
    "set-ups",
    "workshop",
    "home",
    "holds",
    "within",
    "draws",
    "glue",
    "suits",
    "apart",
    "in sight",
    "tools",
)
_ESTIMATE = (
    "Minutes are an estimate to compare by: common practice, no source. Bores and set-ups are"
    " those of the butting + the receiving part; slots (s) and grooves (g) are named."
)

_FACTS = (
    "Holds: N that pull the two apart, an estimate and no rating; - is no figure. Within: mm by"
    " which work may be off. Draws: it pulls the two tight by itself, else clamps do. Glue:"
    " minutes under pressure. Common practice, no source, but for what holds."
)


def choice_text(chosen: Chosen) -> str:
    """Return the table of possible joints, then why each other one is ruled out."""
    return printable("\n".join(_lines(chosen)))


def _lines(chosen: Chosen) -> Iterator[str]:
    yield f"{chosen.butting}  to  {chosen.receiving}"
    sunk = f" {mm_text(chosen.sunk)} mm deep" if chosen.sunk else ""
    yield f"{_MEET.get(chosen.contact, chosen.contact)}{sunk}, {mm_text(chosen.run)} mm long"
    if chosen.in_use:
        yield f"there now: {', '.join(chosen.in_use)}"
    if chosen.nearby:
        yield (
            f"judged among the {chosen.nearby[0]} of {chosen.nearby[1]} parts that touch them; "
            "kdkit check judges the whole once one is chosen"
        )
    possible = [c for c in chosen.choices if c.cost is not None]
    others = [c for c in chosen.choices if c.cost is None]
    yield ""
    if possible:
        yield f"Possible: {len(possible)} of {len(chosen.choices)}"
        yield from _table([_HEADS, *(_row(c) for c in possible)])
        yield _ESTIMATE
        yield _FACTS
        yield from _formulas(possible)
    else:
        yield f"None of {len(chosen.choices)} joints is possible."
    if others:
        yield ""
        yield "Ruled out"
        for choice in others:
            yield f"  {choice.fitting}"
            yield from (f"    {_reason(p)}" for p in choice.reasons)


def _table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]))]
    for row in rows:
        cells = [cell.ljust(wide) for cell, wide in zip(row, widths, strict=True)]
        yield f"  {'  '.join(cells)}".rstrip()


def _row(choice: Choice) -> tuple[str, ...]:
    cost = choice.cost
    assert cost is not None
    return (
        choice.fitting if choice.count is None else f"{choice.fitting} (count: {choice.count})",
        _machining(cost),
        str(cost.pieces),
        _pair({name: len(s) for name, s in cost.surfaces.items()}),
        _minutes(cost.workshop_minutes),
        _minutes(cost.home_minutes),
        *_facts(choice.facts),
        ", ".join(choice.suits).replace("-", " ") or "-",
        "yes" if cost.reversible else "no",
        cost.visible,
        ", ".join(cost.tools) or "none",
    )


def _facts(facts: PairFacts | None) -> tuple[str, ...]:
    """Return what a fitting holds, how exact it is made, whether it draws, its glue's minutes."""
    assert facts is not None
    return (
        "-" if facts.hold is None else f"{facts.hold.force:.0f}",
        f"{facts.accuracy:g}",
        "yes" if facts.draws else "no",
        "no" if facts.glue_minutes is None else _minutes(facts.glue_minutes),
    )


def _formulas(possible: Sequence[Choice]) -> Iterator[str]:
    """Yield every formula once, with what it was worked out from for each fitting."""
    held = [(c.fitting, c.facts.hold) for c in possible if c.facts and c.facts.hold]
    for formula in dict.fromkeys(hold.formula for _, hold in held):
        own = [(name, hold) for name, hold in held if hold.formula == formula]
        yield f"Holds by F = {formula}, {own[0][1].source}:"
        yield from (f"  {name}: {hold.of}" for name, hold in own)


def _pair(counts: dict[str, int]) -> str:
    return f"{counts['butting']}+{counts['receiving']}"


def _machining(cost: Cost) -> str:
    """Return the bores of both members, and slots and grooves where there are some."""
    said = []
    for counts, sign in ((cost.bores, ""), (cost.slots, "s"), (cost.grooves, "g")):
        if any(counts.values()):
            said.append(_pair(dict(counts)) + sign)
    return " ".join(said) or "0+0"


def _minutes(minutes: float) -> str:
    return f"{minutes:.1f}".removesuffix(".0")


def _reason(problem: Problem) -> str:
    return f"{problem.message} [{problem.code}]"


def choice_data(chosen: Chosen) -> dict[str, Any]:
    """Return the choices as plain data; minutes are estimates."""
    return {
        "butting": chosen.butting,
        "receiving": chosen.receiving,
        "contact": chosen.contact,
        "run": round(chosen.run, 4),
        "sunk": round(chosen.sunk, 4),
        "in_use": list(chosen.in_use),
        "nearby": list(chosen.nearby) if chosen.nearby else None,
        "joints": [_data(choice) for choice in chosen.choices],
    }


def _data(choice: Choice) -> dict[str, Any]:
    data: dict[str, Any] = {
        "fitting": choice.fitting,
        "title": choice.title,
        "suits": list(choice.suits),
        "possible": choice.cost is not None,
        "count": choice.count,
    }
    cost = choice.cost
    if cost is not None:
        data |= {
            "fasteners": cost.fasteners,
            "bores": dict(cost.bores),
            "slots": dict(cost.slots),
            "grooves": dict(cost.grooves),
            "set_ups": {name: list(s) for name, s in cost.surfaces.items()},
            "items": dict(cost.items),
            "tools": list(cost.tools),
            "workshop_minutes": round(cost.workshop_minutes, 2),
            "home_minutes": round(cost.home_minutes, 2),
            "wait_minutes": round(cost.wait_minutes, 2),
            "glue": cost.glue,
            "reversible": cost.reversible,
            "visible": cost.visible,
        }
    facts = choice.facts
    if facts is not None:
        hold = facts.hold
        data |= {
            "holds": None if hold is None else round(hold.force),
            "holds_by": None if hold is None else f"F = {hold.formula}; {hold.of}; {hold.source}",
            "accuracy": facts.accuracy,
            "draws_together": facts.draws,
            "glue_minutes": facts.glue_minutes,
        }
    data["reasons"] = [
        {"code": p.code, "severity": p.severity.value, "message": p.message, "help": p.help}
        for p in choice.reasons
    ]
    return data


def _yes(so: bool) -> str:
    return "yes" if so else "no"


def _of_cost(value: Callable[[Cost], object]) -> Callable[[Choice], object]:
    """Return what takes a value from a joint's cost, blank for one that is not possible."""
    return lambda choice: "" if choice.cost is None else value(choice.cost)


def _of_facts(value: Callable[[PairFacts], object]) -> Callable[[Choice], object]:
    """Return what takes a value from what is said of a joint, blank for one not possible."""
    return lambda choice: "" if choice.facts is None else value(choice.facts)


_COLUMNS: dict[str, Callable[[Choice], object]] = {
    "joint": lambda choice: choice.fitting,
    "title": lambda choice: choice.title,
    "suits": lambda choice: "; ".join(choice.suits),
    "possible": lambda choice: _yes(choice.cost is not None),
    "count": lambda choice: "" if choice.count is None else choice.count,
    "fasteners": _of_cost(lambda cost: cost.fasteners),
    "bores_butting": _of_cost(lambda cost: cost.bores["butting"]),
    "bores_receiving": _of_cost(lambda cost: cost.bores["receiving"]),
    "slots": _of_cost(lambda cost: sum(cost.slots.values())),
    "grooves": _of_cost(lambda cost: sum(cost.grooves.values())),
    "pieces": _of_cost(lambda cost: cost.pieces),
    "items": _of_cost(lambda cost: "; ".join(f"{n} × {item}" for item, n in cost.items.items())),
    "set_ups": _of_cost(lambda cost: sum(len(s) for s in cost.surfaces.values())),
    "tools": _of_cost(lambda cost: "; ".join(cost.tools)),
    "workshop_minutes": _of_cost(lambda cost: round(cost.workshop_minutes, 2)),
    "home_minutes": _of_cost(lambda cost: round(cost.home_minutes, 2)),
    "wait_minutes": _of_cost(lambda cost: round(cost.wait_minutes, 2)),
    "glue": _of_cost(lambda cost: _yes(cost.glue)),
    "reversible": _of_cost(lambda cost: _yes(cost.reversible)),
    "visible": _of_cost(lambda cost: cost.visible),
    "holds": _of_facts(lambda facts: "" if facts.hold is None else round(facts.hold.force)),
    "accuracy": _of_facts(lambda facts: facts.accuracy),
    "draws_together": _of_facts(lambda facts: _yes(facts.draws)),
    "ruled_out_because": lambda choice: "; ".join(p.message for p in choice.reasons),
}
"""By heading, which no language changes: what stands in the column of a joint."""


def choice_rows(chosen: Chosen) -> list[list[object]]:
    """Return a heading and a row for every joint, for a spreadsheet."""
    rows = ([value(choice) for value in _COLUMNS.values()] for choice in chosen.choices)
    return [[*_COLUMNS], *rows]
