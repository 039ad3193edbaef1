"""Outcomes as people and programs read them: problems, the plan in words, data."""

from __future__ import annotations

import json
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from kdkit.diagnostics import Problem, Severity, SourceMap, render_problem
from kdkit.frames import AXES, Vec3
from kdkit.plan.motion.moves import moves_words
from kdkit.plan.plan import Operation, Plan, WhyTwo, WorkshopPlan
from kdkit.visible import inline, is_seen, printable

__all__ = [
    "direction_words",
    "inline",
    "json_text",
    "moves_words",
    "plan_text",
    "printable",
    "problem_data",
    "problems_text",
    "seen_json",
    "tally",
]

TRAVEL = {
    "+x": "to the right",
    "-x": "to the left",
    "+y": "to the back",
    "-y": "to the front",
    "+z": "upwards",
    "-z": "downwards",
}


def problems_text(problems: Sequence[Problem], sources: SourceMap | None) -> str:
    """Return all problems as text, one blank line between them."""
    return "\n\n".join(printable(render_problem(_in_lines(p), sources)) for p in problems)


def _in_lines(problem: Problem) -> Problem:
    """Return a problem whose words cannot begin a line of their own and pose as another."""
    related = tuple(replace(r, message=inline(r.message)) for r in problem.related)
    return replace(
        problem,
        message=inline(problem.message),
        # Lines of kdkit's own begin with blanks, as no message does.
        where="\n  ".join(inline(line) for line in problem.where.split("\n  ")),
        help=inline(problem.help),
        related=related,
    )


def tally(problems: Sequence[Problem]) -> str:
    """Return how many problems there are: ``2 errors, 1 warning``, or ``no problems``."""
    counts = Counter(p.severity for p in problems)
    plurals = {
        Severity.ERROR: "errors",
        Severity.WARNING: "warnings",
        Severity.ADVICE: "pieces of advice",
    }
    singulars = {
        Severity.ERROR: "error",
        Severity.WARNING: "warning",
        Severity.ADVICE: "piece of advice",
    }
    said = [
        f"{counts[level]} {singulars[level] if counts[level] == 1 else plurals[level]}"
        for level in Severity
        if counts[level]
    ]
    return ", ".join(said) or "no problems"


def problem_data(problem: Problem) -> dict[str, Any]:
    """Return a problem as plain data; lines and columns count from 1."""
    data: dict[str, Any] = {
        "code": problem.code,
        "severity": problem.severity.value,
        "message": problem.message,
        "path": list(problem.path),
        "where": problem.where,
        "help": problem.help,
        **_place_data(problem),
    }
    if problem.asked:
        data["asked"] = problem.asked
    if problem.related:
        data["related"] = [
            {"message": r.message, "path": list(r.path), **_place_data(r)} for r in problem.related
        ]
    return data


def _place_data(located: Any) -> dict[str, Any]:
    source = located.source
    if source is None:
        return {"file": None, "line": None, "column": None, "end_column": None}
    return {
        "file": source.file,
        "line": source.line,
        "column": source.column,
        "end_column": source.end_column,
    }


def json_text(data: Mapping[str, Any]) -> str:
    """Return data as JSON, readable, letters as they are and all else as its escape."""
    return seen_json(json.dumps(data, indent=2, ensure_ascii=False))


def seen_json(text: str) -> str:
    """Return JSON with what cannot be seen in it escaped; it says the same.

    Source:
        RFC 8259, section 7: any character of a string may be escaped, beyond U+FFFF as a
        surrogate pair. Outside of strings JSON is ASCII.
    """
    return "".join(c if is_seen(c) else json.dumps(c)[1:-1] for c in text)


def direction_words(direction: Vec3) -> str:
    """Return a direction in the product frame in words, or its three numbers."""
    for name, axis in AXES.items():
        if all(abs(a - b) < 1e-6 for a, b in zip(direction, axis, strict=True)):
            return TRAVEL[name]
    return "along ({:.3f}, {:.3f}, {:.3f})".format(*direction)


def plan_text(plan: Plan) -> str:
    """Return the plan in words: steps with their operations, then every reason."""
    return "\n".join(_plan_lines(plan))


def _times(plan: Plan | WorkshopPlan) -> str:
    """Return how long it is worked, and how long glue sets besides."""
    worked = f"about {plan.minutes:.0f} minutes"
    if not plan.wait_minutes:
        return worked
    return f"{worked} of work and {plan.wait_minutes:.0f} for glue to set"


def _plan_lines(plan: Plan) -> Iterator[str]:
    persons = "1 person" if plan.persons == 1 else f"{plan.persons} persons"
    steps = "1 step" if len(plan.steps) == 1 else f"{len(plan.steps)} steps"
    yield f"{steps}, {persons}, {_times(plan)}"
    yield f"moves considered: {plan.motion_class}"
    yield f"search: {plan.search}"
    least, most = plan.mating_orders
    count = f"{least}" if least == most else f"between {least} and {most}"
    yield (
        f"orders of bringing parts together that keep to all reasons: {count}; "
        f"{100 * plan.order_strength:.1f} % of pairs have a fixed order"
    )
    for made in plan.workshop:
        by_id = {operation.id: operation for operation in made.operations}
        yield ""
        yield f"In the workshop: {made.name}, {_times(made)}"
        for name in made.order:
            yield f"  {name}: {_operation_words(by_id[name])}"
    for step in plan.steps:
        yield ""
        of = f", {step.subassembly}" if step.subassembly else ""
        yield f"Step {step.number} ({step.posture.value}{of})"
        for name in step.shown:
            yield f"  {name}: {_operation_words(plan.operation(name))}"
        if step.times > 1:
            rest = step.operations[len(step.shown) :]
            copies = dict.fromkeys(plan.operation(name).subassembly for name in rest)
            yield f"  and the same for {', '.join(copies)}"
    yield ""
    yield "Why this order"
    rank = {name: n for n, name in enumerate(plan.order)}
    for edge in sorted(plan.precedences, key=lambda e: (rank[e.after], rank[e.before], e.reason)):
        yield f"  {edge.before} before {edge.after}: {edge.reason}"


def _operation_words(operation: Operation) -> str:
    words = [operation.kind.value, ", ".join(operation.parts)]
    if operation.moves:
        words.append(moves_words(operation.moves))
    elif operation.direction is not None:
        words.append(direction_words(operation.direction))
    if operation.onto:
        words.append(f"onto {', '.join(operation.onto)}")
    if operation.items:
        words.append("with " + ", ".join(f"{n} {item}" for item, n in operation.items.items()))
    if operation.tool is not None:
        words.append(f"using {operation.tool}")
    if operation.strips:
        words.append(
            f"(strips thicker than {math.ceil(operation.strips)} mm under it,"
            f" clear of {', '.join(operation.clear_of)})"
        )
    if operation.braced:
        words.append("(the other hand against the work)")
    if operation.in_hand:
        words.append(f"({', '.join(operation.in_hand)} kept in one hand)")
    if operation.why_two:
        words.append(f"({_two_words(operation)})")
    return printable(" ".join(word for word in words if word))


def _two_words(operation: Operation) -> str:
    """Why an operation takes more than one person."""
    why = {
        WhyTwo.HEAVY: f"{operation.mass:.0f} kg",
        WhyTwo.TURNED: f"{operation.mass:.0f} kg, {operation.hands:.0f} kg in the hands",
        WhyTwo.HELD: f"{', '.join(operation.held)} held until fastened",
        WhyTwo.PINS: f"{operation.pins} pins at once",
        WhyTwo.HUNG: "held against the wall until fixed",
        WhyTwo.FREE: "held until it is fixed to the wall",
    }
    return f"{operation.persons} persons: " + ", ".join(why[reason] for reason in operation.why_two)
