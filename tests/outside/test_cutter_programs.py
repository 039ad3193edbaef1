"""Programs of a cutter, run over a block of wood by a judge that kdkit's code knows nothing of."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from shapely.geometry import LineString, Point, Polygon, box

from kdkit.catalogue import load_catalogue
from kdkit.catalogue.machines import Machine as Bought
from kdkit.catalogue.machines import MachineTool
from kdkit.frames import Vec2
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.programs.program_blocks import left_out, list_setups
from kdkit.publish.workshop.programs.programs import render_programs
from kdkit.schedule.schedules import GrooveLine, SlotLine
from kdkit.schedule.views import PanelViews, SurfaceView, list_views
from tests import handmade
from tests.outside.canned_cycles import Machine, Move, ProgramError
from tests.outside.cutter_sweeps import Cutter, Judge
from tests.product_files import results_of

CATALOGUE, _ = load_catalogue()
assert CATALOGUE is not None
ROUTER = CATALOGUE.machines["router"]


def cutting(machine: Bought, **more: object) -> Bought:
    return machine.model_copy(update={"cutting": machine.cutting.model_copy(update=more)})


MACHINES = {
    "router": ROUTER,
    "changer": CATALOGUE.machines["router-with-changer"],
    "chords": cutting(ROUTER, arcs=False, direction="conventional"),
    "skin": cutting(ROUTER, holding="skin", run_out=2.0),
}


def groove(x: Vec2, y: Vec2, depth: float = 6.0, surface: str = "face") -> GrooveLine:
    return GrooveLine(surface=surface, x=x, y=y, depth=depth)


def rectangle(x0: float, y0: float, x1: float, y1: float) -> tuple[Vec2, ...]:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def arch(length: float, width: float, radius: float) -> tuple[Vec2, ...]:
    """A panel of which one corner is a quarter of a circle, in sides of 2.5 degrees."""
    turn = [
        (length - radius + radius * math.sin(a), width - radius + radius * math.cos(a))
        for a in (math.radians(90 - 2.5 * n) for n in range(37))
    ]
    return ((0.0, 0.0), (length, 0.0), *turn, (0.0, width))


WHOLE = rectangle(0, 0, 400, 200)
TOOTH = ((0, 0), (400, 0), (400, 120), (250, 120), (250, 200), (0, 200))
DENT = ((0, 0), (150, 0), (150, 60), (230, 60), (230, 0), (400, 0), (400, 200), (0, 200))

ODD: dict[str, tuple[tuple[Vec2, ...], dict[str, object]]] = {
    "groove from edge to edge of a strip narrower than the run-out": (
        rectangle(0, 0, 300, 4), {"grooves": (groove((100, 118), (0, 4)),)}),
    "groove as wide as the cutter": (WHOLE, {"grooves": (groove((0, 400), (96, 104)),)}),
    "rebate along an edge, narrower than the cutter": (
        WHOLE, {"grooves": (groove((0, 400), (195, 200)),)}),
    "rebate stopped at both ends": (WHOLE, {"grooves": (groove((60, 340), (0, 15)),)}),
    "housing stopped at one end": (WHOLE, {"grooves": (groove((100, 116.2), (0, 150)),)}),
    "housing stopped at both ends": (WHOLE, {"grooves": (groove((100, 116), (30, 150), 7),)}),
    "crossing grooves of two depths": (
        WHOLE, {"grooves": (groove((100, 116), (0, 200), 8), groove((0, 400), (60, 64), 5))}),
    "square recess of the cutter's size": (WHOLE, {"grooves": (groove((50, 53), (50, 53), 3),)}),
    "recess over all of a corner": (WHOLE, {"grooves": (groove((350, 400), (150, 200)),)}),
    "opening nearer to an edge than the cutter": (
        WHOLE, {"openings": (rectangle(100, 150, 200, 197),)}),
    "small opening of which nothing comes loose": (
        WHOLE, {"openings": (rectangle(100, 100, 117, 115),)}),
    "opening with an inside corner": (
        WHOLE, {"openings": (
            ((50, 50), (150, 50), (150, 100), (100, 100), (100, 150), (50, 150)),)}),
    "round openings": (WHOLE, {"rounds": (((100.0, 100.0), 60.0), ((200.0, 60.0), 17.0))}),
    "shape with an inside corner": (TOOTH, {}),
    "dent with two inside corners, a groove that ends in it": (
        DENT, {"grooves": (groove((180, 196), (60, 160)),)}),
    "groove that ends before the far side of a notch": (
        (*DENT[:2], (150, 60), (160, 60), (160, 0), *DENT[5:]),
        {"grooves": (groove((60, 150), (20, 40)),)}),
    "curved edge, with a groove that ends at it": (
        arch(400, 200, 120), {"grooves": (groove((330, 346.2), (60, 181)),)}),
    "tiny panel": (rectangle(0, 0, 24, 20), {"grooves": (groove((0, 24), (6, 14), 4),)}),
    "slots": (WHOLE, {"slots": (
        SlotLine(surface="face", start=(50, 50), end=(90, 80), width=8, depth=12, disc=None,
                 purpose="slot", stage="workshop", fastener=None),
        SlotLine(surface="face", start=(150, 50), end=(200, 50), width=14, depth=10, disc=None,
                 purpose="slot", stage="workshop", fastener=None))}),
}  # fmt: skip


def panel_of(outline: tuple[Vec2, ...], **more: object) -> tuple[PanelViews, object]:
    results = handmade.results()
    panel = list_views(results.resolved, results.joinery, results.plan, results.schedules)[0]
    xs, ys = zip(*outline, strict=True)
    flat = replace(panel.view("face"), outlines=(outline,), bores=(), grooves=(), bands=())
    cut = replace(panel.cut, finished=(max(xs), max(ys)), thickness=16.0, bevels=())
    view = replace(flat, **more)  # type: ignore[arg-type]
    return replace(panel, cut=cut, views=(view,)), results


def programs_of(panel: PanelViews, results: object, machine: Bought) -> dict[str, str]:
    job = WorkshopJob(results=results, panels=(panel,), messages=load_messages("en"),  # type: ignore[arg-type]
                      paper="a4", machine=machine)  # fmt: skip
    setups = list_setups([panel], machine)
    return {name: text for s in setups for name, text in render_programs(s, job).items()}


def shape_of(view: SurfaceView, ring: tuple[Vec2, ...]) -> Polygon:
    sign = -1 if view.y_down else 1
    return Polygon([(x, sign * y) for x, y in ring])


def cutters_of(machine: Bought) -> dict[int, Cutter]:
    def cutter(tool: MachineTool) -> Cutter:
        return Cutter(diameter=tool.diameter, reach=tool.reach, most=tool.pass_depth or 0.0,
                      feed=tool.feed, down=tool.plunge_feed or 0.0,
                      ramp=None if tool.plunges else tool.ramp)  # fmt: skip

    return {n: cutter(t) for n, t in machine.tools.items() if t.kind == "cutter"}


def moves_of(name: str, text: str) -> list[Move]:
    named = re.search(r"-t(\d+)", name)
    tool = int(named[1]) if named else 0
    return Machine(at=(0, 0, 40), tool=tool, length_known=tool > 0).run(text)


def judge_of(panel: PanelViews, view: SurfaceView, machine: Bought) -> Judge:
    outline = shape_of(view, view.outlines[0])
    stays = outline
    for ring in view.openings:
        stays = stays.difference(shape_of(view, ring))
    for centre, diameter in view.rounds:
        sign = -1 if view.y_down else 1
        stays = stays.difference(Point(centre[0], sign * centre[1]).buffer(diameter / 2, 128))
    recesses = [(shape_of(view, rectangle(g.x[0], g.y[0], g.x[1], g.y[1])), g.depth)
                for g in view.grooves if not g.slanted]  # fmt: skip
    recesses += [(_stadium(view, s), s.depth) for s in view.slots if s.disc is None]
    return Judge(
        block=box(*outline.bounds), stays=stays, recesses=recesses, thick=panel.cut.thickness,
        beyond=1.0, beside=machine.cutting.run_out, safe=30.0, near=3.0,
    )  # fmt: skip


def _stadium(view: SurfaceView, slot: SlotLine) -> Polygon:
    sign = -1 if view.y_down else 1
    (x0, y0), (x1, y1) = slot.start, slot.end
    share = slot.width / 2 / math.dist(slot.start, slot.end)
    dx, dy = (x1 - x0) * share, (y1 - y0) * share
    line = LineString([(x0 + dx, sign * (y0 + dy)), (x1 - dx, sign * (y1 - dy))])
    return line.buffer(slot.width / 2, 128)


def sharp(ring: tuple[Vec2, ...]) -> int:
    """Return how many corners of a ring turn by more than 45 degrees."""
    count = 0
    for n, b in enumerate(ring):
        a, c = ring[n - 1], ring[(n + 1) % len(ring)]
        one, two = math.atan2(b[1] - a[1], b[0] - a[0]), math.atan2(c[1] - b[1], c[0] - b[0])
        count += abs((two - one + math.pi) % (2 * math.pi) - math.pi) > math.pi / 4
    return count


def judged(panel: PanelViews, view: SurfaceView, machine: Bought, texts: dict[str, str]) -> None:
    judge, cutters = judge_of(panel, view, machine), cutters_of(machine)
    for name, text in texts.items():
        judge.run(moves_of(name, text), cutters)
    used = max((cutters[m.tool].diameter for name, text in texts.items()
                for m in moves_of(name, text) if m.tool in cutters), default=0.0)  # fmt: skip
    judge.ask_for_recesses(used)
    thick = panel.cut.thickness
    held = max(machine.cutting.tab_height, machine.cutting.skin)
    corners = sum(sharp(ring) for ring in (*view.openings, view.outlines[0]))
    judge.ask_for_the_shape(thick - held, corners, used)


OTHERWISE = {
    "changer": ["crossing grooves of two depths", "shape with an inside corner"],
    "chords": ["round openings", "slots", "curved edge, with a groove that ends at it"],
    "skin": ["round openings", "shape with an inside corner", "opening with an inside corner",
             "housing stopped at one end"],
}  # fmt: skip
"""What another machine does otherwise."""


@pytest.mark.parametrize(
    ("name", "machine"),
    [*((name, "router") for name in ODD),
     *((name, machine) for machine, names in OTHERWISE.items() for name in names)],
)  # fmt: skip
def test_odd_cuts_are_made_once_and_spoil_nothing(name: str, machine: str) -> None:
    outline, more = ODD[name]
    panel, results = panel_of(outline, **more)
    texts = programs_of(panel, results, MACHINES[machine])
    assert texts
    assert left_out(panel, MACHINES[machine]) == {}
    judged(panel, panel.views[0], MACHINES[machine], texts)


@pytest.mark.parametrize("name", ["low-cabinet", "wardrobe"])
def test_the_examples_are_cut_as_their_schedules_say(name: str) -> None:
    results = results_of(name)
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    machine = ROUTER.model_copy(update={"stands": 3000.0})
    cut = 0
    for panel in panels:
        texts = programs_of(panel, results, machine)
        assert not any(":" in why for why in left_out(panel, machine)), panel.letter
        for view in panel.views:
            prefix = f"{panel.letter}-{view.surface.replace(':', '-')}-t5"
            here = {n: t for n, t in texts.items() if re.match(prefix + r"[12]-", n)}
            if here:
                cut += 1
                judged(panel, view, machine, here)
    assert cut


def right_program(name: str = "housing stopped at one end") -> tuple[PanelViews, str, str]:
    outline, more = ODD[name]
    panel, results = panel_of(outline, **more)
    ((file, text),) = programs_of(panel, results, ROUTER).items()
    return panel, file, text


def without_cuts(text: str) -> str:
    """Leave out all that is cut, but the way to the first place."""
    lines = text.splitlines()
    return "\n".join(line for line in lines if not line.startswith(("G1", "G2", "G3")))


def first(pattern: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        changed = re.sub(pattern, new, text, count=1, flags=re.MULTILINE)
        assert changed != text, pattern
        return changed

    return change


def each(pattern: str, new: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        changed = re.sub(pattern, new, text, flags=re.MULTILINE)
        assert changed != text, pattern
        return changed

    return change


@pytest.mark.parametrize(
    ("case", "wrong", "why"),
    [
        ("housing stopped at one end", first(r"^G0 Z30\r?\n(?=G0 X)", ""), "travels|full speed"),
        ("housing stopped at one end", without_cuts, "is left in a recess"),
        ("housing stopped at one end", first(r"^G1 Z0 F800", "G0 Z-1\nG1 F800"), "full speed"),
        ("housing stopped at one end", first(r"^G1 (X\S+ )?(Y\S+) F3600", r"G0 \1\2"), "travels"),
        ("housing stopped at one end", each(r"X112\.2\b", "X112.25"), "spoils"),
        ("housing stopped at one end", each(r"Z-3\b", "Z-6"), "in one pass|degrees into wood"),
        ("housing stopped at one end", each(r"Z-6\b", "Z-6.05"), "spoils"),
        ("housing stopped at one end", each(r"Z-6\b", "Z-5.95"), "is left in a recess"),
        ("housing stopped at one end", first(r"^S16000 M3", "S16000"), "stands still"),
        ("housing stopped at one end", each("F3600", "F9000"), "feeds with"),
        ("housing stopped at one end", each(r"Y5\b", "Y40"), "beside the panel"),
        ("round openings", first(r"I-26\b", "I-25.9"), "radii of an arc"),
        ("round openings", each(r"I(-?)26\b", r"I\g<1>26.001"), ""),
        ("round openings", each(r"Z-17\b", "Z-18"), "mm deep"),
        ("shape with an inside corner", without_cuts, "of the outline is not cut"),
    ],
)  # fmt: skip
def test_a_wrong_program_is_caught(case: str, wrong: Callable[[str], str], why: str) -> None:
    panel, file, text = right_program(case)
    changed = {file: wrong(text)}
    if why:
        with pytest.raises(ProgramError, match=why):
            judged(panel, panel.views[0], ROUTER, changed)
    else:
        judged(panel, panel.views[0], ROUTER, changed)  # within what a control forgives


def test_a_length_of_another_tool_is_caught() -> None:
    outline, more = ODD["groove as wide as the cutter"]
    panel, results = panel_of(outline, **more)
    ((_, text),) = programs_of(panel, results, MACHINES["changer"]).items()
    with pytest.raises(ProgramError, match="length of another tool"):
        Machine(at=(0, 0, 40)).run(text.replace("G43 H52", "G43 H51"))


def test_a_groove_of_the_cutter_s_width_is_one_lane() -> None:
    _, _, text = right_program("groove as wide as the cutter")
    cuts = [m for m in moves_of("a-t52", text) if m.kind == "feed" and m.feed == 3600]
    assert len({m.end[1] for m in cuts}) == 1


@pytest.mark.parametrize(
    ("more", "outline", "machine", "told"),
    [
        ({"grooves": (groove((100, 102.9), (0, 200)),)}, WHOLE, ROUTER, "groove:narrow"),
        ({"grooves": (groove((100, 104), (0, 200), 15),)}, WHOLE, ROUTER, "groove:narrow"),
        ({"grooves": (replace(groove((0, 99), (0, 99)), slanted=True),)}, WHOLE, ROUTER,
         "groove:slanted"),
        ({"openings": (rectangle(50, 50, 53, 90),)}, WHOLE, ROUTER, "opening:narrow"),
        ({}, (*DENT[:1], (150, 0), (150, 60), (156, 60), (156, 0), *DENT[5:]), ROUTER,
         "outline:narrow"),
        ({"slots": (SlotLine(surface="face", start=(50, 50), end=(110, 50), width=4, depth=10,
                             disc=100.0, purpose="slot", stage="workshop", fastener=None),)},
         WHOLE, ROUTER, "slot:disc"),
        ({"openings": (rectangle(50, 50, 150, 90),)}, WHOLE,
         ROUTER.model_copy(update={"travel": (300.0, 300.0)}), "opening:large"),
        ({"openings": (rectangle(50, 50, 150, 90),)}, WHOLE,
         ROUTER.model_copy(update={"tools": {8: ROUTER.tools[8]}}), "opening:cutter"),
    ],
)  # fmt: skip
def test_what_no_cutter_makes_is_refused_with_its_reason(
    more: dict[str, object], outline: tuple[Vec2, ...], machine: Bought, told: str
) -> None:
    panel, results = panel_of(outline, **more)
    assert left_out(panel, machine) == {told: 1}
    assert programs_of(panel, results, machine) == {}
