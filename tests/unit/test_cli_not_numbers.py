"""Numbers that are none, wherever a file may write one: told at their field, with all else."""

from __future__ import annotations

import pathlib
import re

from click.testing import CliRunner

from kdkit.cli.group import group

PRODUCT = """\
kdkit: 1
product: Corner
boards:
  carcass: {material: particleboard-p2, thickness: .nan}
parameters: {w: {value: .inf, min: 1e999}}
panels:
  side: {board: carcass, x: {from: .nan}, y: [0, 250], z: [0, 40o]}
  shelf: {bord: carcass, x: [18, 300], y: [0, .nan], z: {from: 200}, bands: {front: -.inf}}
joints:
  - {join: shelf, to: sde, fittings: [{fitting: cam-and-bolt, at: [.nan, -64]}]}
safety: {wall_restraint: .nan, loads: {shelf: 999999999999999999999999999999999999999999999}}
"""

OWN = """\
boards: {mine: {like: mdf, title: .nan, sheets: [[.inf, 2000]]}}
items: {peg: {like: dowel-8x35, mass: .nan, kidn: dowel}}
fittings: {"f-{d}": {like: dowel-8x35, sizes: [{d: .nan}, {d: 8}, {d: 1e999}]}}
machines: {m: {like: router, top: .nan}}
"""

RUN = """\
run: .nan
products:
  - {file: corner.yaml, quantity: .inf, set: {w: .nan}}
  - {file: none.yaml, quantity: 1.5}
spares: .nan
buy: {cam-lock-15: {pack: .nan, price: -.inf}}
"""


def _told(folder: pathlib.Path, *args: str) -> list[tuple[str, str]]:
    """Return place and code of every problem that a command tells."""
    done = CliRunner().invoke(group, [*args[:1], str(folder / args[1]), *args[2:]])
    assert (done.exit_code, isinstance(done.exception, SystemExit)) == (1, True)
    assert "cut" not in done.stderr
    found = re.findall(r"([a-z]+\.yaml:\d+):\d+: error: .*? \[([a-z-]+)\]", done.stderr)
    return sorted(found)


def test_a_definition_tells_of_them_and_of_all_else(tmp_path: pathlib.Path) -> None:
    (tmp_path / "corner.yaml").write_text(PRODUCT, encoding="utf-8")
    none = "number-not-finite"
    assert _told(tmp_path, "check", "corner.yaml") == sorted(
        [("corner.yaml:4", none), ("corner.yaml:5", none), ("corner.yaml:5", none),
         ("corner.yaml:7", none), ("corner.yaml:7", "formula-syntax"),
         ("corner.yaml:8", none), ("corner.yaml:8", none), ("corner.yaml:8", "unknown-key"),
         ("corner.yaml:10", none), ("corner.yaml:10", "unknown-part"),
         ("corner.yaml:11", none), ("corner.yaml:11", "unknown-word")]
    )  # fmt: skip


def test_a_catalogue_tells_of_them_and_of_all_else(tmp_path: pathlib.Path) -> None:
    (tmp_path / "own.yaml").write_text(OWN, encoding="utf-8")
    product = PRODUCT[: PRODUCT.index("boards")] + "catalogues: [own.yaml]\n"
    (tmp_path / "corner.yaml").write_text(product, encoding="utf-8")
    none, value = "number-not-finite", "catalogue-value"
    told = [one for one in _told(tmp_path, "check", "corner.yaml") if one[0].startswith("own")]
    assert told == sorted(
        [("own.yaml:1", value), ("own.yaml:1", none), ("own.yaml:2", none),
         ("own.yaml:2", "catalogue-key"), ("own.yaml:3", none), ("own.yaml:3", none),
         ("own.yaml:4", value)]
    )  # fmt: skip


def test_a_run_tells_of_them_and_of_all_else(tmp_path: pathlib.Path) -> None:
    (tmp_path / "corner.yaml").write_text("kdkit: 1\n", encoding="utf-8")
    (tmp_path / "run.yaml").write_text(RUN, encoding="utf-8")
    none, kind = "number-not-finite", "wrong-type"
    assert _told(tmp_path, "run", "run.yaml", "--out", str(tmp_path / "out")) == sorted(
        [("run.yaml:1", kind), ("run.yaml:3", kind), ("run.yaml:3", none),
         ("run.yaml:4", kind), ("run.yaml:4", "file-not-read"), ("run.yaml:5", none),
         ("run.yaml:6", none), ("run.yaml:6", none)]
    )  # fmt: skip


def test_the_words_fit_the_field(tmp_path: pathlib.Path) -> None:
    (tmp_path / "run.yaml").write_text(RUN, encoding="utf-8")
    done = CliRunner().invoke(group, ["run", str(tmp_path / "run.yaml"), "--out", "o"])
    assert "expected a text, found .nan [wrong-type]" in done.stderr
    assert "quantity: expected a whole number, found .inf [wrong-type]" in done.stderr
    assert "expected a number, found -.inf [number-not-finite]" in done.stderr
    assert "of mm" not in done.stderr
