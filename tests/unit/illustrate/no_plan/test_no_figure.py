"""Pictures of a no: every direction has one, with its letters, loop and arrow."""

from __future__ import annotations

import math
import pathlib

import pytest

from kdkit.illustrate import draw_no_plan
from kdkit.illustrate.no_plan.overview import Captioned, compose_overview, wrap_text
from kdkit.illustrate.paper.figure import Area, Circle, Figure, Line, Text
from kdkit.illustrate.paper.layout import text_width
from kdkit.plan import make_plan
from kdkit.plan.no_plan import NoPlan
from kdkit.plan.plan import Impossible, OrderRefused
from tests.products import CASE, RING, made


def no_plan(folder: pathlib.Path, text: str) -> NoPlan:
    resolved, assembly, joinery, catalogue = made(folder, text)
    verdict, (problem,) = make_plan(resolved, assembly, joinery, catalogue)
    assert isinstance(verdict, Impossible | OrderRefused)
    return NoPlan(
        resolved=resolved,
        assembly=assembly,
        joinery=joinery,
        catalogue=catalogue,
        verdict=verdict,
        problem=problem,
    )


def letters(figure: Figure) -> list[str]:
    return sorted(p.text for p in figure.primitives if isinstance(p, Text))


def in_bounds(figure: Figure) -> bool:
    points = [p for s in figure.primitives if isinstance(s, Area) for p in s.outer]
    points += [p for s in figure.primitives if isinstance(s, Line) for p in s.points]
    return all(-1 <= x <= figure.width + 1 and -1 <= y <= figure.height + 1 for x, y in points)


def arrow_heads(figure: Figure) -> int:
    """Filled triangles and band arrows."""
    return sum(isinstance(p, Area) and p.tone == "arrow" for p in figure.primitives)


def test_a_picture_for_every_direction_with_its_loop(tmp_path: pathlib.Path) -> None:
    no = no_plan(tmp_path, RING)
    assert isinstance(no.verdict, Impossible)
    figures = draw_no_plan(no)
    assert list(figures) == ["parts", *(f"way-{n}" for n in range(1, 7))]
    assert arrow_heads(figures["parts"]) == 0
    for n, (_, walk) in enumerate(no.verdict.loops, start=1):
        figure = figures[f"way-{n}"]
        assert letters(figure) == ["A", "B", "C"]
        assert in_bounds(figure)
        edges = {(b.part, b.by) for b in walk}
        assert arrow_heads(figure) == len(edges) + 1  # and the arrow of the direction


def test_letters_stand_apart_and_on_their_parts(tmp_path: pathlib.Path) -> None:
    figures = draw_no_plan(no_plan(tmp_path, RING))
    for figure in figures.values():
        balls = [p.centre for p in figure.primitives if isinstance(p, Circle) and p.radius > 3]
        assert len(balls) == 3
        for n, one in enumerate(balls):
            for other in balls[:n]:
                assert math.dist(one, other) > 7.2


def test_opposite_directions_have_opposite_arrows(tmp_path: pathlib.Path) -> None:
    no = no_plan(tmp_path, RING)
    figures = draw_no_plan(no)

    def tip(name: str) -> tuple[float, float]:
        figure = figures[name]
        band = next(p for p in figure.primitives if isinstance(p, Area) and p.tone == "arrow")
        middle = next(p for p in figure.primitives if isinstance(p, Circle)).centre
        xs = [x for x, _ in band.outer]
        ys = [y for _, y in band.outer]
        return (sum(xs) / len(xs) - middle[0], sum(ys) / len(ys) - middle[1])

    right, left = tip("way-1"), tip("way-2")
    up, down = tip("way-5"), tip("way-6")
    assert right[0] > 0 > left[0]
    assert up[1] < 0 < down[1]


def test_a_refused_order_shows_the_clash_of_each_reason(tmp_path: pathlib.Path) -> None:
    no = no_plan(tmp_path, f"{CASE}order: [left, bottom, right, top, shelf, back]\n")
    assert isinstance(no.verdict, OrderRefused)
    figures = draw_no_plan(no)
    assert list(figures) == ["clash-1", "clash-2"]
    for figure in figures.values():
        assert letters(figure) == ["A", "B", "C", "D"]
        assert in_bounds(figure)
        crosses = [p for p in figure.primitives if isinstance(p, Area) and p.tone == "arrow"]
        assert len(crosses) == 3  # the arrow and two strokes of the cross


def test_words_are_wrapped_to_their_width() -> None:
    text = "Each part on it cannot move that way unless the next one moves with it"
    lines = wrap_text(text, 2.5, 40.0)
    assert " ".join(lines) == text
    assert len(lines) > 3
    assert all(text_width(line, 2.5) <= 40.0 for line in lines)
    for long in (
        "Incomprehensibilities",
        "WERKZEUGSCHRANK",
        "Щ" * 120,
        "one " + "x" * 120 + " two",
    ):
        broken = wrap_text(long, 2.5, 20.0)
        assert "".join(broken) == long.replace(" ", "")
        assert all(text_width(line, 2.5) <= 20.0 for line in broken)
    assert wrap_text("xy", 2.5, 0.1) == ["x", "y"]
    assert wrap_text("", 2.5, 5.0) == []


def test_a_sheet_sets_panels_two_abreast_without_overlap() -> None:
    figure = Figure(width=60, height=40, primitives=(), title="", description="")
    panel = Captioned(figure=figure, heading="Up", lines=("one", "two"))
    sheet = compose_overview("No", ("why",), panel, [panel] * 3, description="said")
    heads = [p.at for p in sheet.primitives if isinstance(p, Text) and p.text == "Up"]
    assert len(heads) == 4
    assert heads[1][1] == pytest.approx(heads[2][1])
    assert heads[1][0] < heads[2][0]
    assert heads[3][1] > heads[1][1] + 40
    assert sheet.description == "said"
    assert max(p.at[1] for p in sheet.primitives if isinstance(p, Text)) < sheet.height
