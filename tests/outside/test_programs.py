"""Drilling programs run by an interpreter that kdkit's code knows nothing of."""

from __future__ import annotations

import csv
import math
import pathlib
import re
from dataclasses import replace

import pytest

from kdkit.catalogue import load_catalogue
from kdkit.publish.files.tables import render_drilling
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from tests.outside.canned_cycles import (
    TOP,
    Machine,
    Move,
    ProgramError,
    width_at_the_surface,
)
from tests.product_files import results_of

SAFE, NEAR, BEYOND = 30.0, 3.0, 1.0

Kind = tuple[str, str, float, float]
"""Letter, surface, diameter, depth."""


def ends(moves: list[Move]) -> list[tuple[str, tuple[float, ...]]]:
    return [(m.kind, tuple(round(v, 6) for v in m.end)) for m in moves]


def test_the_published_example_of_g81() -> None:
    """Source: NIST IR 6556, example 1 of the G81 cycle."""
    machine = Machine(at=(1, 2, 3), feed=100)
    assert ends(machine.block("G90 G81 G98 X4 Y5 Z1.5 R2.8")) == [
        ("rapid", (4, 5, 3)),
        ("rapid", (4, 5, 2.8)),
        ("feed", (4, 5, 1.5)),
        ("rapid", (4, 5, 3)),
    ]


def test_the_published_example_of_repeats() -> None:
    """Source: the same text, example 2 (from memory): three repeats, incremental."""
    machine = Machine(at=(1, 2, 3), feed=100)
    assert ends(machine.block("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3")) == [
        ("rapid", (1, 2, 4.8)),
        ("rapid", (5, 7, 4.8)),
        ("feed", (5, 7, 4.2)),
        ("rapid", (5, 7, 4.8)),
        ("rapid", (9, 12, 4.8)),
        ("feed", (9, 12, 4.2)),
        ("rapid", (9, 12, 4.8)),
        ("rapid", (13, 17, 4.8)),
        ("feed", (13, 17, 4.2)),
        ("rapid", (13, 17, 4.8)),
    ]


def test_dwell_and_pecks() -> None:
    machine = Machine(at=(0, 0, 10), feed=100)
    dwell = machine.block("G82 X1 Y1 Z-3 R2 P0.5")
    assert [(m.kind, m.seconds) for m in dwell if m.kind == "dwell"] == [("dwell", 0.5)]
    pecks = machine.block("G83 X5 Y5 Z-5 R2 Q3")
    assert [m.end[2] for m in pecks if m.kind == "feed"] == [-1, -4, -5]


@pytest.mark.parametrize(
    "block",
    ["X1 Y1", "G81 X1 Z3 R1", "G1 X5", "G7 X1", "(a (b) c)", "G0 X", "G81 X1 R2", "G53 G0 X0",
     "G0 Z151", "T1 M6"],
)  # fmt: skip
def test_the_interpreter_refuses(block: str) -> None:
    with pytest.raises((ProgramError, KeyError)):
        Machine().block(block)


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ("M3\nG53 G0 Z0\nT2 M6", "while it turns"),
        ("G0 Z30\nT2 M6", "stands in the way"),
        ("G53 G0 Z0\nT2 M6\nM3\nG0 Z30", "length of the tool is not known"),
        ("G53 G0 Z0\nT2 M6\nM3\nG43 H3\nG0 Z30", "length of another tool"),
        ("G53 G0 Z0\nT2 M6\nM3\nG0 X5 Y5 Z30", "length of the tool is not known"),
    ],
)
def test_the_interpreter_refuses_a_change_that_endangers_somebody(wrong: str, why: str) -> None:
    with pytest.raises(ProgramError, match=why):
        Machine(at=(0, 0, 100)).run(f"%\n{wrong}\nM30\n%")


def test_a_change_as_it_should_be_passes() -> None:
    right = "%\nM5\nG53 G0 Z0\nT2 M6\nS100 M3\nG0 X5 Y5\nG43 H2\nG0 Z30\nM5\nG53 G0 Z0\nG49\nM30\n%"
    assert [m.end[2] for m in Machine(at=(0, 0, 9)).run(right)] == [TOP, TOP, 30, TOP]


def test_the_width_of_a_sink_by_hand() -> None:
    """60 degrees: 1 / sqrt 3 out on each side for each mm down; 90 degrees: as much as down."""
    assert width_at_the_surface(4.0, 90, 0, 20) == pytest.approx(8.0)
    assert width_at_the_surface(2.5, 90, 3, 20) == pytest.approx(8.0)
    assert width_at_the_surface(3.0, 60, 1, 20) == pytest.approx(1 + 2 * 3**0.5)
    with pytest.raises(ProgramError, match="wider"):
        width_at_the_surface(11.0, 90, 0, 20)


MACHINES = ("router", "router-plain-moves", "router-with-changer")


@pytest.fixture(
    scope="module", params=["bookcase", "low-cabinet", "hall-bench", "two-doors", "wardrobe"]
)
def checked(request: pytest.FixtureRequest) -> Results:
    return results_of(request.param)


@pytest.fixture(scope="module", params=MACHINES)
def written(
    request: pytest.FixtureRequest, checked: Results, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Results, pathlib.Path]:
    folder = tmp_path_factory.mktemp("programs") / "w"
    machine = checked.catalogue.machines[request.param]
    tall = machine.model_copy(update={"stands": 3000.0})  # nothing is left to a jig
    catalogue = checked.catalogue.model_copy(update={"machines": {"tall": tall}})
    results = replace(checked, catalogue=catalogue)
    files, problems = publish_workshop(results, folder, ["programs"], machine="tall")
    assert files is not None
    assert all("tool" not in p.message and "machine" not in p.message for p in problems)
    return results, folder / "programs"


def moves_of(file: pathlib.Path) -> list[Move]:
    """Run a file; where a person has put the tool in, it is the one that the name says."""
    named = re.search(r"-t(\d+)(-[a-z]+)?$", file.stem)
    tool = int(named[1]) if named else 0
    return Machine(at=(0, 0, 40), tool=tool, length_known=tool > 0).run(file.read_text("ascii"))


CUTTERS = (51, 52)
"""Of the machines that are shipped: what they do is judged in ``test_cutter_programs``."""


def table(path: pathlib.Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def test_programs_make_the_holes_of_the_drilling_table(
    written: tuple[Results, pathlib.Path],
) -> None:
    results, folder = written
    tools = {int(r["Tool"]): r for r in table(folder / "tools.csv")}
    text = render_drilling(results, load_messages("en")).removeprefix("\ufeff")
    wanted: dict[Kind, list[tuple[float, float]]] = {}
    for row in csv.DictReader(text.splitlines()):
        if row["Kind"] != "bore" or row["Drilled at"] != "workshop":
            continue
        if float(row["Angle to the surface (deg)"]) != 90:
            continue
        depth = float(row["Depth (mm)"]) + (BEYOND if row["Through"] == "yes" else 0.0)
        diameter = float(row["Diameter (mm)"])
        if row["Purpose"] == "countersink":
            depth = 0.0  # of a slope, the width at the surface counts
        kind = (row["Letter"], row["Surface"], diameter, round(depth, 2))
        wanted.setdefault(kind, []).append((float(row["x (mm)"]), float(row["y (mm)"])))
    found: dict[Kind, list[tuple[float, float]]] = {}
    for file in sorted(folder.glob("*.nc")):
        letter, surface, y_sign = heading(file.read_text("ascii"))
        for move in holes(moves_of(file)):
            x, y, z = move.end
            tool = tools[move.tool]
            assert -z <= float(tool["Reach (mm)"])
            diameter, depth = float(tool["Diameter (mm)"]), -z
            if tool["Kind"] == "countersink":
                slope = float(tool["Angle (deg)"]), float(tool["Tip Ø (mm)"])
                depth, diameter = 0.0, round(width_at_the_surface(depth, *slope, diameter), 3)
            kind = (letter, surface, diameter, round(depth, 2))
            found.setdefault(kind, []).append((x, y_sign * y))
    assert sum(len(places) for places in wanted.values()) > 20
    assert sorted(found) == sorted(wanted)
    for kind, places in wanted.items():
        left = list(found[kind])
        for place in places:
            near = min(left, key=lambda p, at=place: math.dist(p, at))
            assert math.dist(near, place) < 0.01, (kind, place)  # the table has two places
            left.remove(near)
        assert left == [], kind


def heading(program: str) -> tuple[str, str, float]:
    """Return letter, surface and the sign between the table's y and Y, as the comments say."""
    said = re.search(r"\(kdkit - (\w+) - ", program)
    up = re.search(r"\(This side up - (.*)\)", program)
    number = re.search(r"\((\d+) is the number of the edge", program)
    assert said is not None
    assert (up is None) is not (number is None)
    surface = up[1] if up is not None else f"edge {number[1] if number else ''} from the datum"
    down = "Y is minus y" in program
    assert down or "X and Y are x and y of the drilling table" in program
    return said[1], surface, -1.0 if down else 1.0


def holes(moves: list[Move]) -> list[Move]:
    """Return the deepest feed move at each place, tool by tool."""
    deepest: dict[tuple[int, float, float, int], Move] = {}
    number, last = 0, None
    for move in moves:
        if move.end[:2] != last:
            number, last = number + 1, move.end[:2]
        if move.kind == "feed" and move.tool not in CUTTERS:
            key = (move.tool, *move.end[:2], number)
            if key not in deepest or move.end[2] < deepest[key].end[2]:
                deepest[key] = move
    return list(deepest.values())


def test_programs_travel_safely(written: tuple[Results, pathlib.Path]) -> None:
    results, folder = written
    files = sorted(folder.glob("*.nc"))
    assert files
    cycles = set()
    for file in files:
        at, drilled = (0.0, 0.0, 40.0), (math.inf, 0.0)
        moves = moves_of(file)
        assert moves[0].end == (0, 0, TOP), file.name  # up before anything else
        assert not moves[0].turning
        for move in moves:
            if move.tool in CUTTERS:
                at, drilled = move.end, (math.inf, 0.0)
                continue
            sideways = move.end[:2] != at[:2]
            if move.kind == "rapid" and sideways:
                assert at[2] >= SAFE, file.name
                assert move.end[2] >= SAFE, file.name
                drilled = (math.inf, 0.0)
            if move.kind == "rapid" and move.end[2] < NEAR:
                assert move.end[2] > drilled[0], file.name  # only where it has drilled already
            if move.kind == "feed":
                assert not sideways
                assert move.turning, file.name
                assert at[2] <= NEAR
                drilled = (move.end[2], 0.0)
            at = move.end
            cycles.add(move.cycle)
        assert at[2] == TOP
        assert not moves[-1].turning
    plain = not results.catalogue.machines["tall"].canned_cycles
    assert cycles >= ({None} if plain else {81, 83})
    assert not plain or cycles == {None}


def test_a_number_is_the_same_tool_in_every_product(
    written: tuple[Results, pathlib.Path],
) -> None:
    shipped, problems = load_catalogue()
    assert shipped is not None, problems
    for row in table(written[1] / "tools.csv"):
        tool = shipped.machines["router"].tools[int(row["Tool"])]
        assert tool.diameter == float(row["Diameter (mm)"])
        assert tool.kind == row["Kind"]


def test_a_program_drills_inside_its_panel(written: tuple[Results, pathlib.Path]) -> None:
    _, folder = written
    for file in sorted(folder.glob("*.nc")):
        text = file.read_text("ascii")
        room = {
            f"{end} {axis}": float(number)
            for number, end, axis in re.findall(r"\((\S+) mm - (least|greatest) ([XY]) of", text)
        }
        x0, x1, y0, y1 = (room[f"{end} {axis}"] for axis in "XY" for end in ("least", "greatest"))
        for move in holes(moves_of(file)):
            assert x0 < move.end[0] < x1
            assert y0 < move.end[1] < y1
