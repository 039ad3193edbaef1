"""The catalogue: the built-in data are sound, and a maker's files go over them."""

from __future__ import annotations

import json
import math
import pathlib

import pytest

from kdkit.catalogue import Catalogue, Item, Piece, built_in_files, load_catalogue, shipped
from kdkit.catalogue.shipped import load_shipped
from kdkit.definition.source import load_document
from kdkit.diagnostics import Problem, render_problem

DENSITY = {  # g/mm3, stated beside each mass in the data
    "steel": 7.85e-3,
    "zinc alloy": 6.7e-3,
    "beech": 0.72e-3,
    "plastic": 1.1e-3,
}


@pytest.fixture(scope="module")
def built_in() -> Catalogue:
    catalogue, problems = load_catalogue()
    assert problems == ()
    assert catalogue is not None
    return catalogue


def load(tmp_path: pathlib.Path, text: str) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    file = tmp_path / "own.yaml"
    file.write_text(text, encoding="utf-8")
    return load_catalogue([file])


def test_the_usual_ways_to_join_are_there(built_in: Catalogue) -> None:
    wanted = (
        "cam-and-bolt-24 cam-and-bolt-34 cam-and-bolt-slim dowel-6x30 dowel-8x30 dowel-8x35"
        " dowel-10x40 dowel-6x30-glued dowel-8x30-glued dowel-8x35-glued dowel-10x40-glued"
        " connecting-screw-7x50 connecting-screw-5x40 screw-4x50 screw-4x50-counterbored"
        " back-screwed back-nailed back-in-groove glued bare shelf-support-5 levelling-foot"
        " handle-128 tip-restraint"
    )
    assert set(wanted.split()) <= set(built_in.fittings)
    families = {board.family for board in built_in.boards.values()}
    assert families == {*("particleboard", "mdf", "plywood", "hardboard", "solid-timber", "glass")}


def test_every_entry_says_where_its_figures_come_from(built_in: Catalogue) -> None:
    for section in (built_in.boards, built_in.items, built_in.fittings):
        for name, entry in section.items():
            assert entry.sources, name  # type: ignore[attr-defined]
            assert all(len(source) > 10 for source in entry.sources), name  # type: ignore[attr-defined]


def test_a_wall_anchor_is_not_supplied(built_in: Catalogue) -> None:
    unsupplied = [name for name, item in built_in.items.items() if not item.supplied]
    assert unsupplied == ["wall-anchor"]


def volume(item: Item) -> float:
    """The volume of an item's shape; a thread counts as a cylinder of 0.8 of its diameter."""
    total = 0.0
    for piece in item.pieces:
        height = piece.z1 - piece.z0
        d0 = piece.d0 * (0.8 if piece.surface == "thread" else 1.0)
        d1 = piece.d1 if piece.d1 is not None else d0
        if piece.kind == "cylinder":
            total += math.pi / 4 * d0**2 * height
        elif piece.kind == "cone":
            total += math.pi / 12 * (d0**2 + d0 * d1 + d1**2) * height
        elif piece.kind == "hexagon":
            total += math.sqrt(3) / 2 * d0**2 * height
        elif piece.kind == "lens":  # two segments of a circle on one chord
            half, rise = d0 / 2, height / 2
            radius = (half**2 + rise**2) / (2 * rise)
            turn = 2 * math.asin(half / radius)
            total += radius**2 * (turn - math.sin(turn)) * d1
        else:
            total += d0 * d1 * height
    return total


def test_nuts_weigh_their_shape_less_the_hole(built_in: Catalogue) -> None:
    def ring(d: float, hole: float, height: float) -> float:
        return math.pi / 4 * (d**2 - hole**2) * height

    nut = math.pi / 4 * 10**2 * 12 - math.pi / 4 * 6**2 * 10  # the thread runs across
    assert built_in.items["barrel-nut-m6"].mass == pytest.approx(nut * 7.85e-3, rel=0.02)
    tee = ring(7.7, 6, 9) + ring(19, 6, 1.5)
    assert built_in.items["tee-nut-m6"].mass == pytest.approx(tee * 7.85e-3, rel=0.02)
    insert = ring(0.8 * 10, 6, 13)
    assert built_in.items["threaded-insert-m6x13"].mass == pytest.approx(insert * 6.7e-3, rel=0.02)
    insert = ring(0.8 * 12, 8, 15)
    assert built_in.items["threaded-insert-m8x15"].mass == pytest.approx(insert * 6.7e-3, rel=0.02)
    foot = math.pi / 4 * (12**2 * 22.5 - 8**2 * 24) + math.pi / 12 * 1.5 * (144 + 126 + 110.25)
    assert built_in.items["foot-insert"].mass == pytest.approx(foot * 1.1e-3, rel=0.001)


def test_a_castor_weighs_its_steel_and_its_wheel(built_in: Catalogue) -> None:
    # By hand: plate 60 x 60 x 2.5, a swivel 9.5 high of 34 less 24 across, two cheeks of
    # 26 x 2.5 x 33, and a plastic wheel 50 across and 21.5 wide.
    steel = 60 * 60 * 2.5 + math.pi / 4 * (34**2 - 24**2) * 9.5 + 2 * 26 * 2.5 * 33
    wheel = math.pi / 4 * 50**2 * 21.5
    expected = steel * 7.85e-3 + wheel * 1.1e-3
    assert built_in.items["plate-castor-50"].mass == pytest.approx(expected, abs=0.01)
    brake = 28 * 26.5 * 5 * 1.1e-3
    braked = built_in.items["plate-castor-50-braked"]
    assert braked.mass == pytest.approx(expected + brake, abs=0.01)


def test_a_foot_weighs_its_bolt_its_nut_and_its_plastic(built_in: Catalogue) -> None:
    # By hand: 30 of M8 at 0.3186 g per mm, a hexagon 13 wide and 4 high, a plastic foot.
    steel = 30 * 0.3186 + math.sqrt(3) / 2 * 13**2 * 4 * 7.85e-3
    plastic = math.pi / 12 * 4 * (14**2 + 14 * 30 + 30**2) + math.pi / 4 * 30**2 * 4
    expected = steel + plastic * 1.1e-3
    assert built_in.items["levelling-foot"].mass == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("length", [30, 35, 50, 60])
def test_machine_screws_m6_weigh_what_their_thread_says(built_in: Catalogue, length: int) -> None:
    # Source: stress area pi/4 (d - 0.6495 P)^2, M6: 0.1765 g per mm; head as a frustum.
    head = math.pi / 12 * (10.5**2 + 10.5 * 6 + 6**2) * 3.3 * 7.85e-3
    mass = built_in.items[f"machine-screw-m6x{length}"].mass
    assert mass == pytest.approx(length * 0.1765 + head, abs=0.02)


def test_masses_follow_from_the_shapes(built_in: Catalogue) -> None:
    # What has a hole weighs less, and a machine thread is known better: both see above.
    checked = 0
    for name, item in built_in.items.items():
        if (
            item.material in DENSITY
            and not item.holes
            and not item.machine_thread
            and not any(piece.material for piece in item.pieces)
        ):
            assert item.mass == pytest.approx(
                volume(item) * DENSITY[item.material], rel=0.06, abs=0.03
            ), name
            checked += 1
    assert checked > 25


def test_a_beech_dowel_weighs_what_the_table_says(built_in: Catalogue) -> None:
    # By hand: 8 x 30 as a plain rod 1.09 g at 0.72 g/cm3; chamfered by 0.8 over 1 at both ends,
    # 1407.4 + 2 x 40.9 mm3.
    assert built_in.items["dowel-8x30"].mass == pytest.approx(1.072, abs=0.001)


def test_a_machine_screw_weighs_what_its_thread_says(built_in: Catalogue) -> None:
    # Source: shank pi/4 (d - 0.6495 P)^2, computed for M4: 0.0775 g per mm; head 8 x 3.1.
    expected = 25 * 0.0775 + math.pi / 4 * 8**2 * 3.1 * 7.85e-3
    assert built_in.items["machine-screw-m4x25"].mass == pytest.approx(expected, abs=0.01)


def meet(piece: Piece, other: Piece) -> bool:
    """Tell whether two pieces of an item, as boxes around them, touch or overlap."""

    def spans(p: Piece) -> list[tuple[float, float]]:
        d1 = p.d1 if p.d1 is not None else p.d0
        x, y = (p.d0, d1) if p.kind in ("box", "lens") else (max(p.d0, d1), max(p.d0, d1))
        around = [(c - d / 2, c + d / 2) for c, d in zip(p.at, (x, y), strict=True)]
        return [*around, (p.z0, p.z1)]

    return all(
        a0 <= b1 + 1e-6 and b0 <= a1 + 1e-6
        for (a0, a1), (b0, b1) in zip(spans(piece), spans(other), strict=True)
    )


def test_items_point_the_right_way(built_in: Catalogue) -> None:
    for name, item in built_in.items.items():
        lows = [p.z0 for p in item.pieces]
        assert lows == sorted(lows), name
        for n, piece in enumerate(item.pieces[1:], start=1):
            assert any(meet(piece, earlier) for earlier in item.pieces[:n]), (name, n)
        if item.recess_z is not None and "hexagon key" not in (item.drive or ""):
            assert item.recess_z == pytest.approx(item.pieces[-1].z1), name


def test_screw_heads_are_twice_the_shank(built_in: Catalogue) -> None:
    # Source: countersunk head diameter = 2d (3.5: 7, 4: 8, 5: 10), common practice.
    heads = {
        key: max(p.d1 or p.d0 for p in built_in.items[key].pieces)
        for key in ("screw-3.5x35", "screw-4x50", "screw-5x60")
    }
    assert heads == {"screw-3.5x35": 7, "screw-4x50": 8, "screw-5x60": 10}


def test_nails_are_three_times_as_long_as_what_they_hold(built_in: Catalogue) -> None:
    # Source: from memory of FM 5-426, Carpentry, US Department of the Army, 1995.
    for key, nail in (("back-nailed", "nail-1.4x25"), ("nailed-2.5x55", "nail-2.5x55")):
        held = built_in.fittings[key].limits.receiving_thickness
        assert held is not None
        length = -min(p.z0 for p in built_in.items[nail].pieces)
        assert length >= 3 * held[1]


def test_a_maker_adds_and_changes_without_python(tmp_path: pathlib.Path) -> None:
    catalogue, problems = load(
        tmp_path,
        """\
boards:
  poplar-plywood:
    title: Poplar plywood
    family: plywood
    thicknesses: [15]
    strength: [{thickness: [15, 15.5], density: 420}]
    grained: true
    sources: [the mill's own sheet]
fittings:
  dowel-8x35:
    like: dowel-8x35
    pitch: 96
  deep-groove:
    like: back-in-groove
    options: {clearance: 2}
  deeper-groove:
    like: deep-groove
    options: {clearance: 3}
""",
    )
    assert problems == ()
    assert catalogue is not None
    assert catalogue.boards["poplar-plywood"].strength[0].density == 420
    assert catalogue.fittings["dowel-8x35"].pitch == 96
    assert catalogue.fittings["dowel-8x35"].ends == 32
    assert catalogue.fittings["deeper-groove"].options == {
        "clearance": 3,
        "play": 0.3,
        "through": 0,
    }
    assert catalogue.fittings["back-in-groove"].options["clearance"] == 1


def test_reading_a_makers_file_leaves_the_built_in_catalogue_alone(
    tmp_path: pathlib.Path, built_in: Catalogue
) -> None:
    load(tmp_path, "fittings: {bare: {like: bare, title: Other}}")
    again, _ = load_catalogue()
    assert again == built_in


FAULTS = [
    ("fitings: {}", "catalogue-key", 1, "did you mean fittings?"),
    ("items:\n  peg: {title: Peg, mas: 1, pieces: [], sources: []}", "catalogue-key", 2, "mass"),
    ("tools:\n  saw: [1]", "catalogue-value", 2, ""),
    ("tools: 3", "catalogue-value", 1, ""),
    ("tools:\n  saw: {size: big}", "catalogue-value", 2, ""),
    (
        "fittings:\n  a: {like: dowel-8x53}",
        "catalogue-name",
        2,
        "did you mean dowel-8x35",
    ),
    ("fittings:\n  a: {like: b}\n  b: {like: a}", "catalogue-like", 2, "everything itself"),
    (
        "fittings:\n  a:\n    like: dowel-8x35\n    items:\n      - {item: dowl-8x35, out: -k}",
        "catalogue-name",
        5,
        "did you mean dowel-8x35?",
    ),
    (
        "fittings:\n  a:\n    like: dowel-8x35\n    actions:\n"
        "      - {do: insert, item: dowel-8x35, tool: hamer}",
        "catalogue-name",
        5,
        "did you mean hammer?",
    ),
    (
        "fittings:\n  a:\n    like: dowel-8x35\n    bores:\n"
        "      - {member: butting, into: +k, diameter: 8, depth: t_buting / 2, purpose: x}",
        "formula-name",
        5,
        "did you mean t_butting?",
    ),
    (
        "fittings:\n  a:\n    like: dowel-8x35\n    bores:\n"
        "      - {member: butting, into: +k, diameter: 8, depth: 8 +, purpose: x}",
        "formula-syntax",
        5,
        "",
    ),
    (
        "fittings:\n  a:\n    like: dowel-8x35\n    bores:\n"
        "      - {member: buting, into: +k, diameter: 8, depth: 8, purpose: x}",
        "catalogue-value",
        5,
        "",
    ),
    ("fittings:\n  a:\n    like: dowel-8x35\n    pitch: 0", "catalogue-value", 4, ""),
    (
        "items:\n  peg:\n    title: Peg\n    mass: 1\n    sources: [x]\n    pieces:\n"
        "      - {kind: cone, z0: 4, z1: 2, d0: 3}",
        "catalogue-value",
        7,
        "",
    ),
    (
        "boards:\n  b: {like: mdf, strength: [{thickness: [9, 20], density: -1}]}",
        "catalogue-value",
        2,
        "",
    ),
]


@pytest.mark.parametrize(("text", "code", "line", "help"), FAULTS)
def test_a_fault_in_a_makers_file_is_placed(
    tmp_path: pathlib.Path, text: str, code: str, line: int, help: str
) -> None:
    catalogue, problems = load(tmp_path, text)
    assert catalogue is None
    assert code in [p.code for p in problems]
    first = next(p for p in problems if p.code == code)
    assert first.source is not None
    assert first.source.file.endswith("own.yaml")
    assert first.source.line == line
    assert help in first.help
    assert "Traceback" not in render_problem(first)


def test_all_faults_come_at_once(tmp_path: pathlib.Path) -> None:
    _, problems = load(tmp_path, "tools: 3\nitms: {}\nfittings: {a: {like: nowhere}}")
    assert {p.code for p in problems} == {"catalogue-value", "catalogue-key", "catalogue-name"}


def test_an_unknown_key_does_not_hide_a_bad_formula(tmp_path: pathlib.Path) -> None:
    _, problems = load(
        tmp_path,
        """\
fittings:
  a:
    like: back-in-groove
    groove_depth: sunk + clearence
    limtis: {skin: 2}
""",
    )
    found = {p.code: p.source.line for p in problems if p.source is not None}
    assert found == {"catalogue-key": 5, "formula-name": 4}


def test_a_missing_file_is_a_problem(tmp_path: pathlib.Path) -> None:
    catalogue, problems = load_catalogue([tmp_path / "none.yaml"])
    assert catalogue is None
    assert [p.code for p in problems] == ["file-not-read"]


def test_the_built_in_files_come_in_a_fixed_order() -> None:
    names = [file.name for file in built_in_files()]
    assert names == sorted(names)
    assert "boards.yaml" in names


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("{into: {along: -k, towards: +k, angle: 15}}", "another axis"),
        ("{into: {along: -k, towards: +j, angle: lena}}", "lena"),
        ("{into: {along: -k, towards: +j}}", "angle is missing"),
        ("{into: {along: -k, toward: +j, angle: 15}}", "toward"),
    ],
)
def test_a_direction_that_leans_wrongly(tmp_path: pathlib.Path, written: str, said: str) -> None:
    text = f"""
fittings:
  mine:
    like: dowel-8x35
    options: {{lean: 15}}
    bores:
      - {{member: receiving, diameter: 8, depth: 12, purpose: dowel, {written[1:-1]}}}
"""
    catalogue, problems = load(tmp_path, text)
    assert catalogue is None
    assert any(said in f"{p.message} {p.help}" for p in problems), problems


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("length: 26, disc: 100", "either length or disc"),
        ("depth: 12", "either length or disc"),
        ("length: 26, along: -k", "square to"),
        ("length: long", "long"),
    ],
)
def test_a_slot_that_says_too_much_or_too_little(
    tmp_path: pathlib.Path, written: str, said: str
) -> None:
    slot = {"member": "receiving", "into": "-k", "along": "+i", "width": "6", "depth": "12"}
    slot |= dict(pair.split(": ") for pair in written.split(", "))
    slot["purpose"] = "mortise"
    row = ", ".join(f"{key}: {value}" for key, value in slot.items())
    text = f"fittings:\n  mine:\n    like: dowel-8x35\n    slots: [{{{row}}}]\n"
    catalogue, problems = load(tmp_path, text)
    assert catalogue is None
    assert any(said in f"{p.message} {p.help}" for p in problems), problems


def test_a_short_tool_stands_in_for_one_that_exists(tmp_path: pathlib.Path) -> None:
    text = """\
tools:
  stubby: {title: Short screwdriver, instead_of: screwdriver-h2, room: [{diameter: 30, length: 80}]}
  lost: {title: Lost screwdriver, instead_of: screwdriver-h9}
"""
    _, problems = load(tmp_path, text)
    assert [p.path for p in problems] == [("tools", "lost", "instead_of")]
    assert "screwdriver-h9" in problems[0].message


def test_drivers_take_room_the_short_ones_less_and_the_long_ones_reach_further(
    built_in: Catalogue,
) -> None:
    for name, tool in built_in.tools.items():
        if tool.instead_of is not None:
            usual = built_in.tools[tool.instead_of]
            assert tool.size == usual.size, name
            for room, other in zip(tool.room, usual.room, strict=True):
                further = (room.length > other.length, room.blade > other.blade)
                assert further == (("long" in name),) * 2, name
    assert {t.instead_of for t in built_in.tools.values()} >= {"screwdriver-h2", "screwdriver-z2"}
    driven = {
        a.tool
        for f in built_in.fittings.values()
        for a in f.actions
        if a.do in ("drive", "turn") and a.tool is not None
    }
    assert driven
    assert [t for t in sorted(driven) if not built_in.tools[t].room] == []


def test_what_is_kept_of_the_shipped_files_is_what_stands_in_them(
    request: pytest.FixtureRequest,
) -> None:
    """After a change of a data file: ``pytest tests/unit/catalogue --rewrite-golden``."""
    if request.config.getoption("--rewrite-golden"):
        shipped.write_shipped()
    for file in built_in_files():
        kept, _ = load_shipped(file)
        read, _ = load_document(file)
        assert kept is not None
        assert read is not None
        assert kept.lines == ()  # not read again
        assert json.dumps(kept.data) == json.dumps(read.data), file.name


def test_a_shipped_file_that_was_changed_is_read_itself(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "tools.yaml").write_text("tools: {chisel: {title: Chisel}}\n")
    monkeypatch.setattr(shipped, "_DATA", tmp_path)
    document, problems = load_shipped(tmp_path / "tools.yaml")
    assert problems == ()
    assert document is not None
    assert list(document.data["tools"]) == ["chisel"]


def test_a_maker_who_spoils_an_entry_of_kdkits_is_shown_the_place(tmp_path: pathlib.Path) -> None:
    (tmp_path / "mine.yaml").write_text("tools:\n  chisel: {like: hammer, titel: Chisel}\n")
    _, problems = load_catalogue([tmp_path / "mine.yaml"])
    (problem,) = problems
    assert problem.source is not None
    assert (problem.source.file, problem.source.line) == (str(tmp_path / "mine.yaml"), 2)


TOOL = "{diameter: 8, speed: 900, feed: 200}"
NAMES = {
    "a way out": ("items: {'../../x': {like: dowel-8x35}}\n", "bad-name", "'/'"),
    "a drive": ("boards: {'c:oak': {like: oak}}\n", "bad-name", "':'"),
    "a family's member": (
        "items: {'x{a}': {like: dowel-8x35, sizes: [{a: '/y'}]}}\n",
        "bad-name",
        "'/'",
    ),
    "nothing": ("items: {'': {like: dowel-8x35}}\n", "yaml-key", "shows nothing"),
    "an empty title": (
        "items: {x: {like: dowel-8x35, title: ''}}\n",
        "catalogue-value",
        "is empty",
    ),
    "a tool twice": (
        f"machines: {{m: {{like: router, tools: {{1: {TOOL}, 01: {TOOL}}}}}}}\n",
        "catalogue-value",
        "'01' is no tool's number",
    ),
    "a tool with a plus": (
        f"machines: {{m: {{like: router, tools: {{+1: {TOOL}}}}}}}\n",
        "catalogue-value",
        "'+1' is no tool's number",
    ),
    "a cutter that says nothing of plunging": (
        "machines: {m: {like: router, tools: {1: {kind: cutter, diameter: 6, speed: 16000,"
        " feed: 3000, pass_depth: 4, plunge_feed: 500}}}}\n",
        "catalogue-value",
        "a cutter says nothing of plunges",
    ),
    "a drill with passes": (
        "machines: {m: {like: router, tools: {1: {diameter: 6, speed: 900, feed: 200,"
        " pass_depth: 4}}}}\n",
        "catalogue-value",
        "a drill has no pass_depth",
    ),
    "no run-out": (
        "machines: {m: {like: router, cutting: {run_out: 0}}}\n",
        "catalogue-value",
        "run_out is 0, it must be at least 0.5",
    ),
    "a tool with a blank": (
        f"machines: {{m: {{like: router, tools: {{' 1 ': {TOOL}}}}}}}\n",
        "yaml-key",
        "blanks round it",
    ),
}


@pytest.mark.parametrize("case", NAMES)
def test_names_that_would_be_lost_or_lead_astray(tmp_path: pathlib.Path, case: str) -> None:
    """Two spellings of one number put a drill of 5 mm under the number of one of 8."""
    text, code, told = NAMES[case]
    catalogue, problems = load(tmp_path, text)
    assert catalogue is None
    assert code in {p.code for p in problems}
    assert any(told in p.message for p in problems), [p.message for p in problems]
    assert all(p.source is not None for p in problems)
