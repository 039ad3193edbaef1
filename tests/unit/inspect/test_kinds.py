"""Kinds of furniture: loads that suit them, rules named, plain measures compared, the weather."""

from __future__ import annotations

import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

CHAIR = """\
kdkit: 1
product: Chair
kind: KIND
boards: {post: {material: beech, thickness: 40}, rail: {material: beech, thickness: 20}}
panels:
  left: {board: post, x: {from: 0}, y: [0, 40], z: [0, 430], grain: z}
  right: {board: post, x: {to: 500}, y: [0, 40], z: [0, 430], grain: z}
  seat: {board: rail, x: [0, 500], y: [0, 40], z: {from: 430}, grain: x}
joints:
  - {join: [left, right], to: seat, fittings: [dowel-8x30-glued]}
safety: SAFETY
"""

COT = """\
kdkit: 1
product: Cot
kind: cot
boards: {end: {material: beech, thickness: 20}, base: {material: plywood-birch, thickness: 12}}
panels:
  left: {board: end, x: {from: 0}, y: [0, 640], z: [100, HIGH], grain: z}
  right: {board: end, x: {to: 600}, y: [0, 640], z: [100, HIGH], grain: z}
  back: {board: end, x: [20, 580], y: {to: 640}, z: [100, HIGH], grain: x}
  base: {board: base, x: [20, 580], y: [20, 620], z: {from: 200}, grain: x}
  low: {board: end, x: [20, 580], y: {from: 0}, z: [200, 260], grain: x}
  top: {board: end, x: [20, 580], y: {from: 0}, z: [HIGH - 60, HIGH], grain: x}
BARS
joints:
  - {join: [back, low, top], to: [left, right], fittings: [dowel-8x35-glued]}
  - {join: base, to: [left, right], fittings: [glued]}
  - {join: [NAMES], to: [low, top], fittings: [glued]}
safety: {wall_restraint: none, loads: {bed: 40}}
"""


def told(folder: pathlib.Path, text: str, *options: str) -> str:
    """Return what `check` says of a definition, its places left out."""
    file = folder / "piece.yaml"
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(group, ["check", *options, str(file)])
    return f"{result.output}exit {result.exit_code}"


def chair(kind: str, safety: str) -> str:
    return CHAIR.replace("KIND", kind).replace("SAFETY", safety)


def cot(high: int = 860, missing: int = 0) -> str:
    """A cot whose front has eight bars 56 apart or less, of which some may be missing."""
    bars = {f"bar_{n}": 20 + 55 + n * 70 for n in range(8)}
    for n in range(missing):
        del bars[f"bar_{n + 2}"]
    lines = [
        f"  {name}: {{board: end, x: [{x}, {x + 15}], y: {{from: 0}}, z: [260, HIGH - 60],"
        " grain: z}"
        for name, x in bars.items()
    ]
    text = COT.replace("BARS", "\n".join(lines)).replace("NAMES", ", ".join(bars))
    return text.replace("HIGH", str(high))


class TestLoads:
    def test_a_chair_has_a_seat_load_and_no_shelf(self, tmp_path: pathlib.Path) -> None:
        found = told(tmp_path, chair("chair", "{load_per_shelf: 110}"), "--strict")
        assert "110 kg are stated for each shelf, but a chair carries no such load" in found
        assert "exit 1" in found
        found = told(tmp_path, chair("chair", "{loads: {seat: 60}}"))
        assert "load-not-borne" not in found
        assert "load-not-said" not in found

    def test_a_load_beyond_reason_is_not_silent(self, tmp_path: pathlib.Path) -> None:
        assert "load-unusual" in told(tmp_path, chair("seat", "{loads: {seat: 900}}"))
        assert "load-unusual" not in told(tmp_path, chair("seat", "{loads: {seat: 200}}"))

    def test_no_load_is_told(self, tmp_path: pathlib.Path) -> None:
        found = told(tmp_path, chair("seat", "{}"))
        assert "no load is stated for a seat" in found
        assert "usual: seat: 130" in found

    @pytest.mark.parametrize(
        ("kind", "safety", "said"),
        [
            ("chairs", "{}", "did you mean chair?"),
            ("[seat, tabel]", "{}", "did you mean table?"),
            ("seat", "{loads: {seet: 40}}", "did you mean seat?"),
            ("case", "{load_per_shelf: 3, loads: {shelf: 4}}", "is stated twice"),
        ],
    )
    def test_slips_are_told_with_their_place(
        self, tmp_path: pathlib.Path, kind: str, safety: str, said: str
    ) -> None:
        found = told(tmp_path, chair(kind, safety))
        assert said in found
        assert "piece.yaml:" in found
        assert "exit 1" in found

    def test_a_definition_without_a_kind_has_no_warning(self, tmp_path: pathlib.Path) -> None:
        text = chair("seat", "{load_per_shelf: 5}").replace("kind: seat\n", "")
        found = told(tmp_path, text, "--strict")
        assert "kind" not in found
        assert "exit 0" in found


class TestRules:
    def test_the_rules_are_named_and_what_is_not_judged(self, tmp_path: pathlib.Path) -> None:
        found = told(tmp_path, cot())
        assert "a cot falls under rules of its own: EN 716-1" in found
        assert "not judged here: the strength of its bars" in found
        assert "kind-measure" not in found

    def test_a_missing_bar_lets_a_child_s_head_through(self, tmp_path: pathlib.Path) -> None:
        found = told(tmp_path, cot(missing=1), "--strict")
        assert (
            "an opening in the front side lets a ball of 125 mm through; 60 mm is the most" in found
        )
        assert "16 CFR 1508.4" in found
        assert "exit 1" in found

    def test_a_low_cot_is_climbed_out_of(self, tmp_path: pathlib.Path) -> None:
        # the base's top lies at 212: 811 is 599 above it, 812 is 600
        assert "stands 599 mm high; 600 mm is the least" in told(tmp_path, cot(811))
        assert "kind-measure" not in told(tmp_path, cot(812))

    def test_a_high_bed_alone_needs_its_guard(self, tmp_path: pathlib.Path) -> None:
        low = cot(812, missing=1).replace("kind: cot", "kind: bunk")
        assert "kind-measure" not in told(tmp_path, low)  # its base lies below 600


class TestWeather:
    def test_outdoors_boards_fittings_and_glue_stand_it(self, tmp_path: pathlib.Path) -> None:
        found = told(tmp_path, chair("[seat, outdoor]", "{loads: {seat: 60}}"), "--strict")
        assert "Beech does not last outdoors" in found
        assert "only glue of durability class D4 lasts" in found
        assert "exit 1" in found
        oak = chair("[seat, outdoor]", "{loads: {seat: 60}}").replace("beech", "oak")
        assert "does not last" not in told(tmp_path, oak)

    def test_indoors_nobody_asks(self, tmp_path: pathlib.Path) -> None:
        assert "weather" not in told(tmp_path, chair("seat", "{loads: {seat: 60}}"))

    def test_steel_rusts_and_one_s_own_stainless_does_not(self, tmp_path: pathlib.Path) -> None:
        text = chair("seat", "{use: outdoor, loads: {seat: 60}}").replace("beech", "oak")
        text = text.replace("dowel-8x30-glued", "screw-4x50")
        found = told(tmp_path, text)
        assert "fittings of bare steel or zinc rust outdoors: screw-4x50" in found
        own = "items: {screw-4x50: {like: screw-4x50, material: stainless steel}}"
        (tmp_path / "own.yaml").write_text(own, encoding="utf-8")
        found = told(tmp_path, f"{text}catalogues: [own.yaml]\n")
        assert "rust outdoors" not in found


def test_what_hangs_needs_something_to_hang_by(tmp_path: pathlib.Path) -> None:
    found = told(tmp_path, chair("[case, wall-hung]", "{load_per_shelf: 5}"), "--strict")
    assert "nothing in it takes its weight there" in found
    assert "exit 1" in found


def test_nobody_ties_a_chair_to_the_wall(tmp_path: pathlib.Path) -> None:
    tall = "z: [0, 830]"
    text = chair("chair", "{loads: {seat: 60}}").replace("z: [0, 430]", tall, 1)
    text = text.replace("x: [0, 500], y: [0, 40]", "x: [40, 500], y: [0, 40]")
    text = text.replace("join: [left, right]", "join: right")
    text = text.replace(
        "safety:", "  - {join: seat, to: left, fittings: [dowel-8x35-glued]}\nsafety:"
    )
    assert "restraint-missing" not in told(tmp_path, text)
    assert "restraint-missing" in told(tmp_path, text.replace("kind: chair\n", ""))


OWN = """\
loads:
  lamp: {title: the lamp's arm, on: top, usual: 5, words: "WORDS", sources: ["computed"]}
kinds:
  lamp-table: {like: table, title: a lamp table, carries: [lamp]}
"""


@pytest.mark.parametrize(
    ("words", "fine"),
    [
        ("Hang {load} kg on it.", True),
        ("Hang it.", False),
        ("{load} {0.x}", False),
        ("{load", False),
    ],
)
def test_a_maker_adds_kinds_and_loads(tmp_path: pathlib.Path, words: str, fine: bool) -> None:
    (tmp_path / "own.yaml").write_text(OWN.replace("WORDS", words), encoding="utf-8")
    text = chair("lamp-table", "{loads: {lamp: 3}}") + "catalogues: [own.yaml]\n"
    found = told(tmp_path, text)
    assert ("exit 0" in found) is fine, found
    assert fine or "must say {load} once" in found
