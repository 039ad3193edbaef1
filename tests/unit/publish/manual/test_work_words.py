"""What a joiner is told in its place: turned first, taped before it falls, fronts set last."""

from __future__ import annotations

from functools import cache

from kdkit.illustrate.paper.style import load_style
from kdkit.publish.manual.content import Manual, write_manual
from kdkit.publish.manual.loose_cams import falling_out
from kdkit.publish.manual.steps import StepContent
from kdkit.publish.wording.messages import load_messages
from tests.product_files import results_of


@cache
def manual_of(name: str) -> Manual:
    style, _ = load_style()
    assert style is not None
    return write_manual(results_of(name), load_messages("en"), style)[0]


def words(step: StepContent) -> list[str]:
    return [str(line.striptags()) for line in step.lines]


def place(lines: list[str], said: str) -> int:
    return next(n for n, line in enumerate(lines) if said in line)


def test_the_work_is_turned_before_strips_go_under_it() -> None:
    lines = next(
        some for step in manual_of("low-cabinet").steps if "strips" in " ".join(some := words(step))
    )
    assert place(lines, "Turn it upside down") < place(lines, "Lay strips of wood")
    assert place(lines, "Lay strips of wood") < place(lines, "straight on")


def test_cams_whose_bores_come_to_look_down_are_taped() -> None:
    """The bottom of the low cabinet takes its cams from below and then lies on them."""
    results = results_of("low-cabinet")
    found = falling_out(results.plan, results.joinery)
    assert "bottom" in next(iter(found.values()))
    told = list(found.values())
    assert len({part for parts in told for part in parts}) == sum(map(len, told))  # each once
    (line,) = [
        line for step in manual_of("low-cabinet").steps for line in words(step) if "tape" in line
    ]
    assert line.startswith("Put tape over the cam locks in bottom")


def test_cams_that_look_aside_stay() -> None:
    """The hall bench's cams sit in the inner faces of rails, which stand while they are loose."""
    results = results_of("hall-bench")
    assert "shoe_shelf" not in str(falling_out(results.plan, results.joinery))


def test_low_turns_are_no_matter_of_the_room() -> None:
    """The wardrobe, 2131 high, is one; what reaches less than a door does is none."""
    told = [line for step in manual_of("low-cabinet").steps for line in words(step)]
    assert not [line for line in told if "it reaches" in line]
    assert len(manual_of("low-cabinet").room) == 1
    assert len(manual_of("wardrobe").room) == 2


def test_fronts_are_set_when_their_drawers_are_in() -> None:
    steps = manual_of("wardrobe").steps
    run_in = [step for step in steps if any("push it in until" in line for line in words(step))]
    assert run_in
    for step in run_in:
        assert "until the gaps all round are even" in words(step)[-1]
    early = [line for step in steps if step not in run_in for line in words(step)]
    assert not [line for line in early if "shift the front" in line.lower()]
