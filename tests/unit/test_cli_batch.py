"""``kdkit workshop --count``: a batch is bought, cut and counted as one."""

from __future__ import annotations

import csv
import json
import pathlib

import openpyxl
import pypdf
import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

FRAME = """\
kdkit: 1
product: Stand
boards:
  pine: {material: pine, thickness: 45}
  shelf: {material: particleboard-p2, thickness: 18}
panels:
  post: {board: pine, x: {from: 0}, y: [0, 60], z: [0, 700], face: +x}
  other: {mirror: post, x: {to: 600}}
  rail: {board: pine, x: [45, 555], y: [0, 60], z: {to: 500}}
  shelf: {board: shelf, x: [45, 555], y: [0, 260], z: {from: 500}, bands: {front: 1}}
joints:
  - {join: rail, to: [post, other], fittings: [{fitting: dowel-10x40-glued, count: 1}]}
  - {join: shelf, to: rail, fittings: [glued]}
safety: {wall_restraint: none}
"""
MITRED = """\
kdkit: 1
product: Frame
boards: {oak: {material: oak, thickness: 20}}
panels:
  upper: {board: oak, x: [0, 500], y: {from: 0}, z: [440, 500], face: -y, outline: [[0, 500], [60, 440], [440, 440], [500, 500]]}
  left: {board: oak, x: [0, 60], y: {from: 0}, z: [0, 500], face: -y, outline: [[0, 0], [60, 60], [60, 440], [0, 500]]}
  right: {mirror: left, x: [440, 500]}
  lower: {board: oak, x: [0, 500], y: {from: 0}, z: [0, 60], face: -y, outline: [[0, 0], [500, 0], [440, 60], [60, 60]]}
joints:
  - {join: [upper, lower], to: [left, right], fittings: [flat-mitre-glued]}
safety: {wall_restraint: none}
"""  # noqa: E501


def ran(*arguments: object, code: int = 0) -> str:
    result = CliRunner().invoke(group, [str(a) for a in arguments])
    assert result.exit_code == code, result.output
    return result.output


def table(file: pathlib.Path) -> list[dict[str, str]]:
    return list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))


def words_of(file: pathlib.Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(file).pages)


@pytest.fixture(scope="module")
def batches(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    folder = tmp_path_factory.mktemp("batch")
    (folder / "stand.yaml").write_text(FRAME, encoding="utf-8")
    for count in (1, 7):
        files = "order,xlsx,bags" if count > 1 else "order,xlsx"
        ran("workshop", folder / "stand.yaml", "--out", folder / str(count), "--count", count,
            "--files", files, "--lengths", "3000", "--keep", "500")  # fmt: skip
    return folder


def test_everything_is_counted_for_all_pieces(batches: pathlib.Path) -> None:
    one, seven = (openpyxl.load_workbook(batches / n / "tables.xlsx") for n in ("1", "7"))
    for sheet in (0, 2):
        rows = [list(book.worksheets[sheet].values) for book in (one, seven)]
        at = rows[0][0].index("Quantity")
        assert [row[at] for row in rows[1][1:]] == [7 * row[at] for row in rows[0][1:]]
        assert len(rows[0]) > 1
    bands = [table(batches / n / "order.csv")[1]["Edge band"] for n in ("1", "7")]
    assert bands == ["1 mm: 0.51 m", "1 mm: 3.57 m"]
    assert "fill each bag 7 times" in words_of(batches / "7" / "picking.pdf")
    assert json.loads((batches / "7" / "workshop.json").read_text(encoding="utf-8"))["count"] == 7
    labels = "\n".join(
        p.extract_text() for p in pypdf.PdfReader(batches / "7" / "labels.pdf").pages
    )
    assert labels.count("of 14") == 14  # two posts alike, seven times
    assert "post, 14 of 14" in labels


def test_a_batch_is_not_so_many_times_one_plan(batches: pathlib.Path) -> None:
    """Posts of 700 and rails of 510: one stand leaves 1004 of a bar, seven need 14 · 704.4 +
    7 · 514.4 = 13462.4 of 2964.4 a bar: five bars at the least."""
    orders = [table(batches / n / "order.csv") for n in ("1", "7")]
    assert [order[0]["Lengths"] for order in orders] == ["45 × 60: 1 of 3000", "45 × 60: 5 of 3000"]
    assert [order[0]["At least"] for order in orders] == ["45 × 60: 3 m", "45 × 60: 15 m"]
    assert [order[1]["Sheets"] for order in orders] == ["1 × 2440 × 1220"] * 2
    words = words_of(batches / "7" / "order.pdf")
    assert "5 of 3000. 5 lengths; no plan needs fewer than 5." in words
    assert "Sheets in all: 1; no plan needs fewer than 1." in words
    assert "For 7 pieces of the product" in words


def test_stops_are_set_once_and_offcuts_listed(batches: pathlib.Path) -> None:
    rows = table(batches / "1" / "timber.csv")
    assert [(r["No."], r["Saw"], r["Stop (mm)"], r["Pieces"]) for r in rows] == [
        ("1", "crosscut", "700", "2"),
        ("2", "crosscut", "510", "1"),
        ("", "keep", "1036.8", "1"),  # 3000 - 2 * 20 - 2 * 704.4 - 514.4
    ]
    seven = [r for r in table(batches / "7" / "timber.csv") if r["Saw"] == "crosscut"]
    assert [(r["Stop (mm)"], r["Pieces"]) for r in seven] == [("700", "14"), ("510", "7")]


def test_the_saw_of_every_cut_is_named(batches: pathlib.Path, tmp_path: pathlib.Path) -> None:
    cuts = table(batches / "1" / "cuts.csv")
    assert [(r["Saw"], r["Fence (mm)"]) for r in cuts] == [("crosscut", "510"), ("rip", "259")]
    assert cuts[-1]["Gives"] == "C"
    (tmp_path / "frame.yaml").write_text(MITRED, encoding="utf-8")
    ran("workshop", tmp_path / "frame.yaml", "--out", tmp_path / "out", "--files", "order")
    rows = table(tmp_path / "out" / "timber.csv")
    assert [(r["Saw"], r["Where"]) for r in rows if r["Saw"] == "mitre"] == [
        ("mitre", f"{side} end, fence turned 45° off square")
        for side in ("bottom", "top")  # all four are alike
    ]
    words = words_of(tmp_path / "out" / "order.pdf")
    assert "common practice, no source" not in words  # the board says its lengths


def test_what_no_length_has_room_for_is_told_at_its_line(tmp_path: pathlib.Path) -> None:
    (tmp_path / "stand.yaml").write_text(FRAME, encoding="utf-8")
    told = ran("workshop", tmp_path / "stand.yaml", "--out", tmp_path / "out", "--files", "order",
               "--lengths", "735")  # fmt: skip
    assert "stand.yaml:8:10: warning: A is cut 700 mm long" in told
    assert "[no-length-fits]" in told
    assert "--lengths" in told


@pytest.mark.parametrize(
    ("words", "said", "code"),
    [
        (("--count", "0"), "0 is not in the range 1<=x<=1000", 2),
        (("--lengths", "3000,x"), "is no number", 2),
        (("--lengths", "3"), "is not in the range", 2),
        (("--count", "900"), "make at most 750 in one go", 1),
    ],
)
def test_wrong_requests(
    words: tuple[str, ...], said: str, code: int, tmp_path: pathlib.Path
) -> None:
    (tmp_path / "stand.yaml").write_text(FRAME, encoding="utf-8")
    told = ran("workshop", tmp_path / "stand.yaml", "--out", tmp_path / "out", *words, code=code)
    assert said in told
    assert not (tmp_path / "out").exists()
