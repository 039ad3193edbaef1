"""What the steps say, derived from operations and the fittings' actions."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from kdkit.plan.plan import Operation, OperationKind, Plan, Posture, Slide, Tilt
from kdkit.publish.manual.sentences import Deed, Sentences, told_once
from kdkit.publish.manual.steps import write_steps
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names
from tests import handmade


def names() -> Names:
    made = handmade.results()
    return Names(made.resolved, made.catalogue, made.schedules, load_messages("en"), {})


def lines(*operations: Operation) -> list[str]:
    writer = Sentences(handmade.joinery(), names(), load_messages("en"))
    return [shown(line) for line in writer.lines(operations)]


def shown(markup: str) -> str:
    return re.sub("<[^>]*>", "", markup).replace("\u00a0", " ")


def step_lines(plan: Plan, number: int) -> list[str]:
    step = plan.steps[number - 1]
    return lines(*(plan.operation(id) for id in step.operations))


def test_fitting_before_mating() -> None:
    assert step_lines(handmade.plan(), 1) == [
        "Push 4 × dowel 2 in all into 2 × C (bottom, top) as far as they go.",
        "Screw 4 × cam bolt 1 in all into left side A and right side B until the collar sits "
        "on the surface.",
    ]


def test_mating_then_locking() -> None:
    assert step_lines(handmade.plan(), 2) == [
        "Push left side A straight on, level, against 2 × C (bottom, top).",
        "Push 2 × cam lock 3 into left side A as far as they go.",
        "Turn 2 × cam lock 3 clockwise, about half a turn, until tight.",
    ]


def test_squaring_comes_before_the_back() -> None:
    told = step_lines(handmade.plan(), 4)
    assert told[0].startswith("Measure both diagonals")
    assert told[1].startswith("Lower back D straight down onto")
    assert told[2] == "Drive in 4 × nail 4 where drawn."


@pytest.mark.parametrize(
    ("posture", "direction", "begins"),
    [
        (Posture.STANDING, (0.0, 0.0, -1.0), "Lower"),
        (Posture.STANDING, (0.0, 0.0, 1.0), "Push left side A straight up"),
        (Posture.STANDING, (1.0, 0.0, 0.0), "Push left side A straight on"),
        (Posture.ON_LEFT, (-1.0, 0.0, 0.0), "Lower"),
        (Posture.ON_RIGHT, (1.0, 0.0, 0.0), "Lower"),
        (Posture.ON_FRONT, (0.0, -1.0, 0.0), "Lower"),
        (Posture.ON_BACK, (0.0, 1.0, 0.0), "Lower"),
        (Posture.UPSIDE_DOWN, (0.0, 0.0, 1.0), "Lower"),
    ],
)
def test_the_way_is_told_as_the_product_lies(
    posture: Posture, direction: tuple[float, float, float], begins: str
) -> None:
    operation = Operation(
        id="mate",
        kind=OperationKind.MATE,
        parts=("left_side",),
        onto=("bottom",),
        direction=direction,
        items={},
        posture=posture,
    )
    (line,) = lines(operation)
    assert line.startswith(begins)


def test_the_same_deed_on_several_parts_is_told_once() -> None:
    fits = [
        Operation(
            id=f"fit {part}",
            kind=OperationKind.FIT,
            parts=(part,),
            fasteners=tuple(
                f.id
                for f in handmade.joinery().fasteners
                if f.fitting == "cam-and-bolt" and f.receiving == part
            ),
            items={"cam-bolt-24": 2},
        )
        for part in ("left_side", "right_side")
    ]
    (line,) = lines(*fits)
    assert line.startswith("Screw 2 × cam bolt 1 into each of left side A and right side B")


def test_like_matings_are_told_once_with_what_follows_each() -> None:
    plan = handmade.plan()
    pairs = [
        plan.operation(id)
        for side in ("left_side", "right_side")
        for id in (f"mate {side}", f"lock {side}")
    ]
    told = lines(*pairs)
    assert told == [
        "Do the following with each of A and B, one after another.",
        "Push it straight on, level, against 2 × C (bottom, top).",
        "Push 2 × cam lock 3 into it as far as they go.",
        "Turn 2 × cam lock 3 clockwise, about half a turn, until tight.",
    ]


def test_unlike_matings_keep_their_order() -> None:
    plan = handmade.plan()
    other = replace(plan.operation("mate right_side"), id="x", direction=(0.0, -1.0, 0.0))
    told = lines(plan.operation("mate left_side"), plan.operation("lock left_side"), other)
    assert len(told) == 4
    assert told[3].startswith("Lower right side B")


def test_titles_cautions_and_results_of_the_steps() -> None:
    steps = write_steps(handmade.results(), names(), load_messages("en"), lambda key, words: None)
    assert [shown(step.title) for step in steps] == [
        "Fit the hardware into 2 × C, A and B",
        "Put on left side A",
        "Put on right side B",
        "Put on back D",
        "Fix it to the wall",
    ]
    assert [c.level for c in steps[3].cautions] == ["caution", "notice"]
    levels = [c.level for c in steps[4].cautions]  # the wall, the drill, it may fall, two, tilted
    assert levels == ["warning", "warning", "warning", "caution", "notice"]
    assert all(step.result for step in steps)


def test_fastening_is_undone_but_what_was_pushed_in_can_stay() -> None:
    plan = handmade.plan()
    writer = Sentences(handmade.joinery(), names(), load_messages("en"))
    told, left = writer.undone([plan.operation(id) for id in plan.steps[1].operations])
    assert [shown(line) for line in told] == [
        "Turn 2 × cam lock 3 anticlockwise until the joint lets go."
    ]
    assert left == {"cam-15": 2}
    told, left = writer.undone([plan.operation(id) for id in plan.steps[3].operations])
    assert [shown(line) for line in told] == ["Draw 4 × nail 4 out."]
    assert not left


def test_own_titles_of_a_language_win() -> None:
    made = handmade.results()
    own = Names(
        made.resolved,
        made.catalogue,
        made.schedules,
        load_messages("en"),
        {"left_side": "Window side"},
    )
    assert shown(own.parts(["left_side"])) == "window side A"
    assert own.group_title(["left_side", "right_side"]) == "Window side (1), Right side (1)"


def test_many_parts_are_told_by_their_letters() -> None:
    every = ["left_side", "right_side", "bottom", "top", "back"]
    told = shown(names().parts(every))
    assert told == "left side A, right side B, 2 × C (bottom, top) and back D"


def test_glue_alone_is_spread_too() -> None:
    glue = Operation(
        id="glue/top", kind=OperationKind.GLUE, parts=("top",), items={}, joints=("top to left",)
    )
    assert lines(glue) == ["Spread glue thinly on both touching surfaces of each joint: top C."]


def test_two_moves_and_tilting_in_plain_words() -> None:
    """As the work lies: up and down; and towards the sides of the finished product."""
    parts = handmade.results().assembly.parts
    writer = Sentences(handmade.joinery(), names(), load_messages("en"), parts)
    mate = handmade.plan().operation("mate back")  # the work lies on its front
    down, up = (0.0, -1.0, 0.0), (0.0, 0.0, 1.0)
    (line,) = writer.lines([replace(mate, moves=(Slide(down), Slide(up, 54.2)))])
    assert "in two moves: first straight down, then about 54 mm towards the top, into" in (
        shown(line)
    )
    about_foot = Tilt((0.0, 300.0, 0.0), (1.0, 0.0, 0.0), 30.0)
    (line,) = writer.lines([replace(mate, moves=(Slide(down), about_foot))])
    assert "tilted by about 30 degrees, as drawn. Bring it in straight down, until its bottom " in (
        shown(line)
    )
    assert "edge is where it belongs; then swing the other side straight down into" in shown(line)


def test_no_screw_is_told_before_the_plate_that_it_holds() -> None:
    def deed(do: str, item: str, n: int, part: str) -> Deed:
        return Deed(do, ((item, n),), (part,))

    deeds = [
        deed("fix", "plate", 2, "left"),
        deed("drive", "screw", 8, "left"),
        deed("fix", "plate", 4, "right"),
        deed("drive", "screw", 8, "right"),
    ]
    told = [(d.do, d.items[0][1], groups) for d, groups in told_once(deeds)]
    assert told == [
        ("fix", 2, [("left",)]),
        ("fix", 4, [("right",)]),
        ("drive", 8, [("left",), ("right",)]),
    ]


def test_what_is_done_twice_to_a_part_is_summed() -> None:
    pins = Deed("insert", (("pin", 7),), ("middle",))
    other = Deed("insert", (("pin", 7),), ("first",))
    told = [(d.items, groups) for d, groups in told_once([pins, other, pins])]
    assert told == [((("pin", 14),), [("middle",)]), ((("pin", 7),), [("first",)])]
