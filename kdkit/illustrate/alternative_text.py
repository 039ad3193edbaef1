"""What a figure shows, in a sentence, for those who cannot see it."""

from __future__ import annotations

from collections.abc import Sequence

from kdkit.frames import Vec3
from kdkit.geometry.assembly import Assembly
from kdkit.illustrate.build_state import StepState
from kdkit.illustrate.view import View
from kdkit.plan.plan import Operation, OperationKind, Posture
from kdkit.schedule.schedules import Schedules

__all__ = ["LIES", "describe_step"]

LIES = {
    Posture.STANDING: "upright",
    Posture.ON_LEFT: "on its left side",
    Posture.ON_RIGHT: "on its right side",
    Posture.ON_FRONT: "on its front",
    Posture.ON_BACK: "on its back",
    Posture.UPSIDE_DOWN: "upside down",
}


def describe_step(
    state: StepState, assembly: Assembly, schedules: Schedules, view: View
) -> tuple[str, str]:
    """Return title and description of a step's figure."""
    titles = {line.item: line.title for line in schedules.hardware}
    sentences: list[str] = []
    for operation in state.operations:
        sentence = _sentence(operation, assembly, schedules, view, titles)
        sentence = sentence[:1].upper() + sentence[1:]
        if sentence and sentence not in sentences:
            sentences.append(sentence)
    text = ". ".join(sentences) or "The work as it stands"
    return f"Step {state.step.number}", f"Step {state.step.number}: {text}."


def _names(parts: Sequence[str], assembly: Assembly, schedules: Schedules) -> str:
    names = [
        f"{assembly.part(p).title or p} {schedules.letter_of(p)}" for p in parts
    ]
    if len(names) > 4:
        return f"{len(names)} parts"
    return " and ".join(dict.fromkeys(names))


def _sentence(
    operation: Operation,
    assembly: Assembly,
    schedules: Schedules,
    view: View,
    titles: dict[str, str],
) -> str:
    parts = _names(operation.parts, assembly, schedules)
    counted = " and ".join(
        f"{count} × {titles.get(item, item).lower()}" for item, count in operation.items.items()
    )
    match operation.kind:
        case OperationKind.FIT | OperationKind.FIXTURE:
            return f"{counted or 'hardware'} fitted to {parts}"
        case OperationKind.GLUE:
            return f"glue is put on {parts}"
        case OperationKind.MATE:
            onto = _names(operation.onto, assembly, schedules)
            return f"{parts} put onto {onto} {_from(operation.direction, view)}"
        case OperationKind.LOAD:
            return f"{parts} laid in {_from(operation.direction, view)}"
        case OperationKind.FASTEN:
            return f"{counted} fixed" if counted else f"the joints of {parts} tightened"
        case OperationKind.CAP:
            return f"{counted} put on"
        case OperationKind.SQUARE:
            return "the two diagonals are measured and made equal"
        case OperationKind.TURN | OperationKind.STAND:
            return f"the work is turned {LIES[operation.posture]}"
        case OperationKind.SECURE:
            return f"{counted or 'the restraint'} fixed to the wall"
        case _:
            return "wait until the glue has set"


def _from(direction: Vec3 | None, view: View) -> str:
    """Return from which side of the room a part travels."""
    if direction is None:
        return "from the front"
    x, y, z = view.vector_to_floor(direction)
    if abs(z) >= max(abs(x), abs(y)) - 1e-9:
        return "from above" if z < 0 else "from below"
    if abs(y) >= abs(x) - 1e-9:
        return "from the front" if y > 0 else "from behind"
    return "from the left" if x > 0 else "from the right"
