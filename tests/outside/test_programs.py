"""Drilling programs run by an interpreter that kdkit's code knows nothing of."""

from __future__ import annotations

import csv
import math
import pathlib
import re

import pytest

from kdkit.pipeline import Request, check
from kdkit.publish.files.tables import render_drilling
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop
from tests.outside.canned_cycles import Machine, Move, ProgramError
from tests.product_files import product_file

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
    "block", ["X1 Y1", "G81 X1 Z3 R1", "G1 X5", "G7 X1", "(a (b) c)", "G0 X", "G81 X1 R2"]
)
def test_the_interpreter_refuses(block: str) -> None:
    with pytest.raises((ProgramError, KeyError)):
        Machine().block(block)


@pytest.fixture(
    scope="module", params=["bookcase", "low-cabinet", "hall-bench", "two-doors", "wardrobe"]
)
def written(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Results, pathlib.Path]:
    outcome = check(Request(file=product_file(request.param)))
    assert outcome.results is not None
    folder = tmp_path_factory.mktemp("programs") / "w"
    files, _ = publish_workshop(outcome.results, folder, ["programs"])
    assert files is not None
    return outcome.results, folder / "programs"


def table(path: pathlib.Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8-sig").splitlines()))


def test_programs_make_the_holes_of_the_drilling_table(
    written: tuple[Results, pathlib.Path],
) -> None:
    results, folder = written
    diameters = {int(r["Tool"]): float(r["Diameter (mm)"]) for r in table(folder / "tools.csv")}
    text = render_drilling(results, load_messages("en")).removeprefix("\ufeff")
    wanted: dict[Kind, list[tuple[float, float]]] = {}
    for row in csv.DictReader(text.splitlines()):
        if row["Kind"] != "bore" or row["Drilled at"] != "workshop":
            continue
        if float(row["Angle to the surface (deg)"]) != 90:
            continue
        depth = float(row["Depth (mm)"]) + (BEYOND if row["Through"] == "yes" else 0.0)
        kind = (row["Letter"], row["Surface"], float(row["Diameter (mm)"]), round(depth, 2))
        wanted.setdefault(kind, []).append((float(row["x (mm)"]), float(row["y (mm)"])))
    found: dict[Kind, list[tuple[float, float]]] = {}
    for file in sorted(folder.glob("*.nc")):
        letter, surface, y_sign = heading(file.read_text("ascii"))
        for move in holes(Machine(at=(0, 0, 100)).run(file.read_text("ascii"))):
            x, y, z = move.end
            kind = (letter, surface, diameters[move.tool], round(-z, 2))
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
        if move.kind == "feed":
            key = (move.tool, *move.end[:2], number)
            if key not in deepest or move.end[2] < deepest[key].end[2]:
                deepest[key] = move
    return list(deepest.values())


def test_programs_travel_safely(written: tuple[Results, pathlib.Path]) -> None:
    _, folder = written
    files = sorted(folder.glob("*.nc"))
    assert files
    cycles = set()
    for file in files:
        at, tool = (0.0, 0.0, 100.0), 0
        for move in Machine(at=at).run(file.read_text("ascii")):
            sideways = move.end[:2] != at[:2]
            if move.kind == "rapid" and sideways:
                assert at[2] >= SAFE, file.name
                assert move.end[2] >= SAFE, file.name
            if move.kind == "feed":
                assert not sideways
                assert move.turning, file.name
                assert at[2] <= NEAR
            if move.tool != tool:
                assert at[2] >= SAFE
            at, tool = move.end, move.tool
            cycles.add(move.cycle)
        assert at[2] >= SAFE
    assert {81, 83} <= cycles


def test_a_program_drills_inside_its_panel(written: tuple[Results, pathlib.Path]) -> None:
    _, folder = written
    for file in sorted(folder.glob("*.nc")):
        text = file.read_text("ascii")
        room = {
            f"{end} {axis}": float(number)
            for number, end, axis in re.findall(r"\((\S+) mm - (least|greatest) ([XY]) of", text)
        }
        x0, x1, y0, y1 = (room[f"{end} {axis}"] for axis in "XY" for end in ("least", "greatest"))
        for move in holes(Machine(at=(0, 0, 100)).run(text)):
            assert x0 < move.end[0] < x1
            assert y0 < move.end[1] < y1
