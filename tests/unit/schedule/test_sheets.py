"""Sheets for ordering: every panel once, apart by the kerf, cut from side to side."""

from __future__ import annotations

import itertools
import math
import pathlib
import random
from dataclasses import replace

import pytest

from kdkit.catalogue.entries import BoardMaterial, Catalogue, Strength
from kdkit.diagnostics import Severity
from kdkit.pipeline import Request, check
from kdkit.schedule.batch import of_batch
from kdkit.schedule.nesting.layouts import _packed
from kdkit.schedule.nesting.sheet_bound import FINE, Piece, fewest_sheets
from kdkit.schedule.schedules import CutLine
from kdkit.schedule.sheets import BoardOrder, Saw, SheetPlan, find_cuts, order_boards
from kdkit.schedule.views import PanelViews, SurfaceView, list_views
from tests.product_files import results_of

EXAMPLES = pathlib.Path(__file__).parents[3] / "examples"
FACE = SurfaceView(surface="face", y_down=False, outlines=(((0, 0), (1, 0), (1, 1)),))


def panel(
    letter: str, cut: tuple[float, float], quantity: int = 1, grain: str = "none"
) -> PanelViews:
    line = CutLine(
        letter=letter, title=letter, parts=(letter,) * quantity, quantity=quantity,
        board="carcass", material="stuff", thickness=18, finished=cut, cut=cut, bands={},
        grain=grain, mass_kg=2.0, area=cut[0] * cut[1], pair=None, shaped=False,
    )  # fmt: skip
    return PanelViews(cut=line, datum="", x_runs="top", y_runs="back", views=(FACE,))


def catalogue(*sheets: tuple[float, float]) -> Catalogue:
    board = BoardMaterial(
        title="Stuff", family="mdf", thicknesses=(18,), grained=False, sheets=sheets,
        strength=(Strength(thickness=(1, 50), density=700),), sources=("made up",),
    )  # fmt: skip
    return Catalogue(boards={"stuff": board})


@pytest.mark.parametrize(
    ("sheet", "strip", "count", "left"),
    [((2440, 1220), (1220, 300), 8, 17.6), ((1220, 2440), (2440, 300), 4, 10.4)],
)
def test_strips_from_a_sheet(
    sheet: tuple[float, float], strip: tuple[float, float], count: int, left: float
) -> None:
    """n = ⌊(W + k)/(w + k)⌋ with a kerf of 3.2: 2440/300 gives 8 and 17.6 left, 1220/300
    gives 4 and 10.4 left. Source: computed."""
    assert math.floor((sheet[0] + 3.2) / (300 + 3.2)) == count
    (order,) = order_boards([panel("A", strip, count)], catalogue(sheet), Saw(kerf=3.2, trim=0))
    assert len(order.sheets) == 1
    assert sheet[0] - max(p.place[2] for p in order.sheets[0].laid) == pytest.approx(left)
    (order,) = order_boards([panel("A", strip, count + 1)], catalogue(sheet), Saw(kerf=3.2, trim=0))
    assert len(order.sheets) == 2


def check_plan(plan: SheetPlan, kerf: float, trim: float) -> None:
    """Panels lie inside the trimmed sheet and a kerf apart; the cuts cross no panel."""
    for piece in plan.laid:
        x0, y0, x1, y1 = piece.place
        assert min(x0, y0) >= trim - 0.02
        assert x1 <= plan.size[0] - trim + 0.02
        assert y1 <= plan.size[1] - trim + 0.02
    for one, two in itertools.combinations((p.place for p in plan.laid), 2):
        gap = max(one[0] - two[2], two[0] - one[2], one[1] - two[3], two[1] - one[3])
        assert gap >= kerf - 0.03
    saw_through(plan, kerf, trim)


def saw_through(plan: SheetPlan, kerf: float, trim: float) -> None:
    """Make the cuts one after another; every panel must then lie alone."""
    pieces = [(trim, trim, plan.size[0] - trim, plan.size[1] - trim)]
    for cut in plan.cuts:
        assert cut.piece in pieces
        pieces.remove(cut.piece)
        x0, y0, x1, y1 = cut.piece
        beyond = cut.at + kerf
        if cut.across_x:
            parts = [(x0, y0, cut.at, y1), (min(beyond, x1), y0, x1, y1)]
        else:
            parts = [(x0, y0, x1, cut.at), (x0, min(beyond, y1), x1, y1)]
        pieces += parts
        for panel in plan.laid:
            inside = (cut.piece[0] - 0.03 <= panel.place[0] and panel.place[2] <= x1 + 0.03
                      and y0 - 0.03 <= panel.place[1] and panel.place[3] <= y1 + 0.03)  # fmt: skip
            if inside:
                low, high = panel.place[not cut.across_x], panel.place[2 + (not cut.across_x)]
                assert high <= cut.at + 0.03 or low >= beyond - 0.03
    for panel in plan.laid:
        homes = [
            p for p in pieces
            if p[0] - 0.03 <= panel.place[0] and p[1] - 0.03 <= panel.place[1]
            and panel.place[2] <= p[2] + 0.03 and panel.place[3] <= p[3] + 0.03
        ]  # fmt: skip
        assert len(homes) == 1
        (home,) = homes
        assert home[2] - home[0] - (panel.place[2] - panel.place[0]) <= kerf + 0.03
        assert home[3] - home[1] - (panel.place[3] - panel.place[1]) <= kerf + 0.03
    for offcut in plan.offcuts:
        assert offcut in pieces
        assert min(offcut[2] - offcut[0], offcut[3] - offcut[1]) >= 100


@pytest.mark.parametrize("name", ["bookcase", "low-cabinet", "hall-bench"])
def test_examples(name: str) -> None:
    results = results_of(name)
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    orders = order_boards(panels, results.catalogue)
    assert orders == order_boards(panels, results.catalogue)
    assert sum(order.count for order in orders) == sum(p.cut.quantity for p in panels)
    assert sum(order.mass_kg for order in orders) == pytest.approx(
        sum(p.cut.mass_kg * p.cut.quantity for p in panels)
    )
    for order in orders:
        for plan in order.sheets:
            check_plan(plan, 4.4, 10.0)
        mine = [p.cut for p in panels if p.cut.board == order.board]
        if order.sheets:
            laid = [piece.letter for plan in order.sheets for piece in plan.laid]
            assert sorted(laid) == sorted(line.letter for line in mine for _ in line.parts)
            assert 0 < order.used < 1


def test_grain_keeps_panels_along_the_sheet() -> None:
    panels = [panel("A", (700, 500), 9, "length"), panel("B", (400, 900), 4, "length")]
    (order,) = order_boards(panels, catalogue((2440, 1220)))
    assert not any(piece.turned for plan in order.sheets for piece in plan.laid)
    for plan in order.sheets:
        check_plan(plan, 4.4, 10.0)
    free = [replace(p, cut=replace(p.cut, grain="none")) for p in panels]
    (turned,) = order_boards(free, catalogue((2440, 1220)))
    assert len(turned.sheets) <= len(order.sheets)


def test_many_mixed_panels_can_be_cut() -> None:
    panels = [panel(f"P{n}", (150 + 37 * n % 620, 90 + 53 * n % 410), 1 + n % 3) for n in range(25)]
    (order,) = order_boards(panels, catalogue((2440, 1220), (2800, 2070)))
    for plan in order.sheets:
        check_plan(plan, 4.4, 10.0)
    assert sum(len(plan.laid) for plan in order.sheets) == sum(p.cut.quantity for p in panels)


def test_a_panel_larger_than_every_sheet_is_told() -> None:
    panels = [panel("A", (2600, 300)), panel("B", (600, 300))]
    (order,) = order_boards(panels, catalogue((2440, 1220)))
    assert order.unplaced == ("A",)
    assert [piece.letter for piece in order.sheets[0].laid] == ["B"]
    (order,) = order_boards(panels, catalogue((2440, 1220), (2800, 2070)))
    assert order.unplaced == ()


def test_boards_not_sold_in_sheets_have_none() -> None:
    (order,) = order_boards([panel("A", (600, 45), 3)], catalogue())
    assert (order.sheets, order.unplaced, order.count) == ((), (), 3)
    assert order.area == pytest.approx(3 * 600 * 45)


def test_a_pin_wheel_cannot_be_sawn() -> None:
    wheel = [(0.0, 0.0, 60.0, 36.0), (64.0, 0.0, 100.0, 60.0), (40.0, 64.0, 100.0, 100.0),
             (0.0, 40.0, 36.0, 100.0)]  # fmt: skip
    with pytest.raises(ValueError, match="side to side"):
        find_cuts((0.0, 0.0, 100.0, 100.0), wheel, 4.0)


def test_band_metres() -> None:
    results = results_of("bookcase")
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    orders: tuple[BoardOrder, ...] = order_boards(panels, results.catalogue)
    ours = sum(metres for order in orders for _, metres in order.bands)
    expected = 0.0
    for part in results.assembly.parts:
        for n, band in enumerate(part.bands):
            if band:
                a, b = part.outline[n], part.outline[(n + 1) % len(part.outline)]
                expected += math.dist(a, b) / 1000
    assert ours == pytest.approx(expected)
    assert expected > 1


WALL = """\
kdkit: 1
product: Wall
boards:
  wood: {{material: {material}, thickness: 18}}
panels:
  wall: {{board: wood, x: [0, {long}], y: {{from: 0}}, z: [0, {high}], grain: x}}
"""


@pytest.mark.parametrize(
    ("material", "long", "high", "told"),
    [
        ("particleboard-p2", 2780, 2050, False),
        ("particleboard-p2", 2781, 2050, True),
        ("particleboard-p2", 2780, 2051, True),
        ("oak", 3000, 1600, False),  # no board that is sold in sheets
    ],
)
def test_check_advises_of_what_no_sheet_has_room_for(
    tmp_path: pathlib.Path, material: str, long: int, high: int, told: bool
) -> None:
    file = tmp_path / "wall.yaml"
    file.write_text(WALL.format(material=material, long=long, high=high), encoding="utf-8")
    outcome = check(Request(file=file))
    assert outcome.complete, outcome.problems
    advised = [p for p in outcome.problems if p.code == "no-sheet-fits"]
    assert [p.message for p in advised] == (
        [f"A is cut {long} × {high} mm, larger than every sheet of its board"] if told else []
    )
    assert all(p.severity is Severity.ADVICE and p.source is not None for p in advised)


@pytest.mark.parametrize("count", [1, 20])
def test_a_batch_of_bookcases_needs_no_more_sheets_than_any_plan_must(count: int) -> None:
    results = results_of("bookcase")
    schedules = of_batch(results.schedules, count)
    panels = list_views(results.resolved, results.joinery, results.plan, schedules)
    for order in order_boards(panels, results.catalogue):
        assert order.fewest <= len(order.sheets) <= order.fewest * 1.02
        assert sum(len(plan.laid) for plan in order.sheets) == order.count
        for plan in order.sheets:
            check_plan(plan, 4.4, 10.0)
            assert not any(piece.turned for piece in plan.laid)  # their grain forbids it


MIXED = [((1179, 296), 2), ((564, 296), 3), ((562, 284), 2), ((564, 80), 1), ((340, 95), 4)]


@pytest.mark.parametrize(("grain", "kerf"), [("none", 4.4), ("length", 4.4), ("none", 0.0)])
def test_batches_are_laid_out_as_a_whole(grain: str, kerf: float) -> None:
    """Layouts of the whole batch are found where the packing library's need more sheets."""
    panels = [panel(f"P{n}", cut, each * 20, grain) for n, (cut, each) in enumerate(MIXED)]
    (order,) = order_boards(panels, catalogue((2440, 1220)), Saw(kerf=kerf))
    lines = [p.cut for p in panels]
    assert len(order.sheets) <= len(_packed(lines, (2440, 1220), kerf, 10.0))
    assert order.fewest <= len(order.sheets) <= order.fewest * 1.02 + 0.99
    letters = [piece.letter for plan in order.sheets for piece in plan.laid]
    assert sorted(letters) == sorted(line.letter for line in lines for _ in line.parts)
    for plan in order.sheets:
        check_plan(plan, kerf, 10.0)
        assert grain == "none" or not any(piece.turned for piece in plan.laid)


def test_strips_find_fewer_sheets_than_the_packing_library() -> None:
    cuts = [(1179, 296), (564, 296), (562, 284), (564, 80)]
    asked = zip(cuts, (40, 60, 40, 20), strict=True)
    panels = [panel(f"P{n}", cut, many) for n, (cut, many) in enumerate(asked)]
    lines = [p.cut for p in panels]
    (order,) = order_boards(panels, catalogue((2800, 2070)))
    assert len(order.sheets) == order.fewest == 6
    assert len(_packed(lines, (2800, 2070), 4.4, 10.0)) == 7


@pytest.mark.parametrize("seed", range(6))
def test_no_plan_is_below_the_bound(seed: int) -> None:
    """Panels cut out of whole sheets fit those sheets: a bound above them would be wrong."""
    draw = random.Random(seed)
    sheets, pieces = 3, []
    for _ in range(sheets):
        x = draw.randint(500, 1900)
        for wide, low in ((x, 0), (2440 - x, 0)):
            y = draw.randint(200, 1000)
            pieces += [(wide, y - low), (wide, 1220 - y)]
    own = [Piece(a * FINE, b * FINE, 1, draw.random() < 0.5) for a, b in pieces]
    assert fewest_sheets(own, (2440 * FINE, 1220 * FINE)) == sheets


@pytest.mark.parametrize("seed", range(2))
def test_thin_strips_can_be_sawn_without_a_kerf(seed: int) -> None:
    """Sizes that are no hundredths fill a sheet but for rounding, and nothing is left to saw."""
    draw = random.Random(seed)
    cuts = [(draw.uniform(1800, 2700), draw.uniform(30, 70)) for _ in range(3)]
    panels = [panel(f"P{n}", cut, 20, "length") for n, cut in enumerate(cuts)]
    (order,) = order_boards(panels, catalogue((2800, 2070)), Saw(kerf=0, trim=0))
    assert sum(len(plan.laid) for plan in order.sheets) == 60
    for plan in order.sheets:
        check_plan(plan, 0.0, 0.0)
