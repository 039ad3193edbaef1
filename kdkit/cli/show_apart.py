"""How a product comes apart, in words for the terminal."""

from __future__ import annotations

from collections.abc import Iterator

from kdkit.cli.show import direction_words, moves_words, printable
from kdkit.plan.plan import Operation, OperationKind, Plan
from kdkit.plan.taking_apart import TakenApart

__all__ = ["apart_text"]

_SAID = {
    OperationKind.TURN: "turn it",
    OperationKind.STAND: "stand it up",
    OperationKind.UNDO: "undo",
    OperationKind.REMOVE: "take off",
    OperationKind.FIT: "fit",
    OperationKind.MATE: "put on",
    OperationKind.FASTEN: "fasten",
    OperationKind.LOAD: "put in",
    OperationKind.FIXTURE: "fit",
}


def apart_text(apart: TakenApart) -> str:
    """Return the steps out and back, and what is undone and what is not."""
    return printable("\n".join(_lines(apart)))


def _lines(apart: TakenApart) -> Iterator[str]:
    if apart.wanted is not None:
        yield f"to replace {apart.wanted}: {_count(len(apart.out.steps), 'step')} out"
        if apart.comes_with:
            yield f"it comes out in one piece with {', '.join(apart.comes_with)}"
    else:
        yield (
            f"to carry it: {_count(len(apart.out.steps), 'step')} out, "
            f"{_count(len(apart.pieces), 'piece')}"
        )
    yield f"search: {apart.search}"
    yield f"undone: {', '.join(apart.undone) or 'no joint'}"
    if apart.fixed:
        yield f"they stay closed, for good or from the workshop: {', '.join(apart.fixed)}"
    for title, plan in (("Out", apart.out), ("Back", apart.back)):
        if plan.steps:
            yield ""
            yield title
            yield from _steps(plan)
    if apart.wanted is None and len(apart.pieces) > 1:
        yield ""
        yield "Pieces"
        for piece in apart.pieces:
            yield f"  {', '.join(piece)}"


def _steps(plan: Plan) -> Iterator[str]:
    for step in plan.steps:
        persons = "" if step.persons == 1 else f", {step.persons} persons"
        yield f"  {step.number} ({step.posture.value}{persons})"
        for name in step.operations:
            yield f"    {_words(plan.operation(name))}"


def _words(operation: Operation) -> str:
    kind = operation.kind
    words = [_SAID.get(kind, kind.value)]
    if kind in (OperationKind.TURN, OperationKind.STAND):
        return f"{words[0]}: {operation.posture.value}"
    if operation.items and kind is OperationKind.UNDO:
        words.append(", ".join(f"{n} {item}" for item, n in operation.items.items()))
        words.append("between" if operation.joints else "on")
    words.append(", ".join(operation.parts))
    if operation.moves:
        words.append(moves_words(operation.moves))
    elif operation.direction is not None:
        words.append(direction_words(operation.direction))
    if operation.items and kind is not OperationKind.UNDO:
        words.append("with " + ", ".join(f"{n} {item}" for item, n in operation.items.items()))
    if operation.tool is not None:
        words.append(f"using {operation.tool}")
    return " ".join(words)


def _count(n: int, thing: str) -> str:
    return f"{n} {thing}" if n == 1 else f"{n} {thing}s"
