"""``kdkit run``: what a whole run needs is the sum of what its products need."""

from __future__ import annotations

import csv
import hashlib
import json
import math
import pathlib

import openpyxl
import pypdf
import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.definition import load_document
from kdkit.packing import find_cartons
from kdkit.pipeline import Request, check
from kdkit.production.needs import Made, needs_of
from kdkit.production.reading import read_run
from kdkit.schedule.packing import PackingRules
from tests.every_output import CORNER

OTHER = """\
kdkit: 1
product: Rail on a post
parameters: {width: {value: 300, min: 200, max: 600}}
boards: {pine: {material: pine, thickness: 45}}
panels:
  post: {board: pine, x: {from: 0}, y: [0, 60], z: [0, 600], face: +x}
  arm: {board: pine, x: [45, width], y: [0, 60], z: {to: 500}}
joints: [{join: arm, to: post, fittings: [{fitting: dowel-10x40-glued, count: 1}]}]
safety: {wall_restraint: none}
"""

RUN = """\
run: Week 49
batch: W-49
products:
  - {file: corner.yaml, quantity: 7}
  - {file: other.yaml, quantity: 3, set: {width: 400}, gtin: "6291041500213"}
spares: 5
stock: stock.csv
currency: EUR
buy:
  cam-lock-15: {pack: 10, price: 1.5}
  dowel-8x35: {pack: 50}
  cam-bold-34: {pack: 5}
"""

STOCK = "article,amount\ncam-lock-15,4\ndowel-8x35,500\npine:45x60:3000,1\nnot-needed,9\n"


def write_run(folder: pathlib.Path) -> pathlib.Path:
    for name, text in (
        ("corner.yaml", CORNER),
        ("other.yaml", OTHER),
        ("run.yaml", RUN),
        ("stock.csv", STOCK),
    ):
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def folder(tmp_path: pathlib.Path) -> pathlib.Path:
    return write_run(tmp_path)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[pathlib.Path, str]:
    """The run's folder with its results in ``out``, and what the command said."""
    folder = write_run(tmp_path_factory.mktemp("run"))
    return folder, ran("run", folder / "run.yaml", "--out", folder / "out")


def ran(*arguments: object, code: int = 0) -> str:
    result = CliRunner().invoke(group, [str(a) for a in arguments])
    assert result.exit_code == code, result.output
    return result.output


def table(file: pathlib.Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.DictReader(stream))


def alone(file: pathlib.Path, width: float | None = None) -> dict[str, float]:
    """What one piece of a product needs, but for sheets and timber."""
    outcome = check(Request(file=file, parameters={"width": width} if width else {}), risks=False)
    assert outcome.results is not None, outcome.problems
    packing = find_cartons(outcome.results, PackingRules())
    made = Made(number=1, quantity=1, results=outcome.results, packing=packing, gtin="")
    return {article.key: n for article, n in needs_of(made).items()}


def test_a_run_is_the_sum_of_its_products(done: tuple[pathlib.Path, str]) -> None:
    folder, _ = done
    one, other = alone(folder / "corner.yaml"), alone(folder / "other.yaml", 400)
    whole = {row["Article"]: row for row in table(folder / "out" / "needs.csv")}
    laid_out = {key for key, row in whole.items() if row["Kind"] in ("sheet", "timber")}
    assert {*one, *other} == {*whole} - laid_out
    for key, row in whole.items():
        if key not in laid_out:  # laid out over the whole run: no sum
            assert float(row["Need"]) == pytest.approx(
                7 * one.get(key, 0.0) + 3 * other.get(key, 0.0), abs=0.001
            )
        need, spare = float(row["Need"]), float(row["Spares"])
        assert spare == (math.ceil(need * 0.05 - 1e-9) if row["Kind"] == "hardware" else 0)
        stock = float(row["In stock"])
        assert float(row["Short"]) == pytest.approx(max(0, need + spare - stock), abs=0.001)
        bought = float(row["Packs"]) * float(row["In a pack"])
        assert bought - float(row["Short"]) == pytest.approx(float(row["Over"]), abs=0.001)
        assert 0 <= float(row["Over"]) < float(row["In a pack"])
    lock = whole["cam-lock-15"]
    # Two a corner and a spare in its bag, seven corners, two spares, four there: 19 short,
    # two packs of 10, one over.
    assert [lock[k] for k in ("Need", "Spares", "Short", "Packs", "Over", "Cost EUR")] == [
        "21", "2", "19", "2", "1", "3.00",
    ]  # fmt: skip
    assert whole["dowel-8x35"]["Short"] == "0"
    # Timber: a post of 600 and an arm of 355, three times, 5 kerfs of 4.4 and 2 · 20 of trim
    # are 2927: one length of 3000, which is there.
    assert [whole["pine:45x60:3000"][k] for k in ("Need", "In stock", "Short")] == ["1", "1", "0"]
    stops = [(r["Saw"], r["Stop (mm)"], r["Pieces"]) for r in table(folder / "out" / "timber.csv")]
    assert stops == [("crosscut", "600", "3"), ("crosscut", "355", "3")]
    parts = table(folder / "out" / "parts.csv")
    assert sum(int(row["Pieces in the run"]) for row in parts) == 7 * 2 + 3 * 2
    area = sum(
        float(row["Cut length (mm)"]) * float(row["Cut width (mm)"])
        * int(row["Pieces in the run"]) / 1e6
        for row in parts
    )  # fmt: skip
    boards = table(folder / "out" / "boards.csv")
    assert sum(float(r["Area of the cut sizes (m²)"]) for r in boards) == pytest.approx(
        area, abs=0.002
    )
    picked: dict[str, int] = {}
    for row in table(folder / "out" / "picking.csv"):
        picked[row["Item"]] = picked.get(row["Item"], 0) + int(row["In the run"])
    hardware = {k: int(r["Need"]) for k, r in whole.items() if r["Kind"] == "hardware"}
    assert picked == hardware


def test_the_files_of_a_run(done: tuple[pathlib.Path, str]) -> None:
    folder, _ = done
    out = folder / "out"
    book = openpyxl.load_workbook(out / "run.xlsx", read_only=True)
    assert len(book.sheetnames) == 7
    pages = [page.extract_text() for page in pypdf.PdfReader(out / "run.pdf").pages]
    assert "cam-lock-15" in "\n".join(pages)
    assert "layout 1 of 1, 1 ×" in pages[-2]
    assert "no plan needs fewer than 1." in pages[-2]
    assert "1 of 3000. 3 m bought; no plan buys less than 3 m." in pages[-1]
    labels = [page.extract_text() for page in pypdf.PdfReader(out / "carton-labels.pdf").pages]
    assert sum(text.count("Carton 1 of 1") for text in labels) == 10
    assert sum(text.count("(01)06291041500213 (10)W-49") for text in labels) == 3
    before = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in out.iterdir()}
    ran("run", folder / "run.yaml", "--out", out)
    assert {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in out.iterdir()} == before


def test_the_schema_of_a_run_takes_a_run_and_no_other(folder: pathlib.Path) -> None:
    import jsonschema
    from ruamel.yaml import YAML

    schema = json.loads(ran("schema", "--of", "run"))
    jsonschema.Draft202012Validator.check_schema(schema)
    said = YAML(typ="safe").load((folder / "run.yaml").read_text(encoding="utf-8"))
    check = jsonschema.Draft202012Validator(schema)
    assert list(check.iter_errors(said)) == []
    for wrong in ({"product": []}, {"products": []}, {"products": [{"file": "a.yaml"}]}):
        assert list(check.iter_errors({**said, **wrong})), wrong


def test_all_that_is_wrong_in_a_run_is_told_at_once(folder: pathlib.Path) -> None:
    (folder / "run.yaml").write_text(
        "run: Week 49\n"
        "products:\n"
        "  - {file: corner.yaml, quantity: 0}\n"
        "  - {file: ../other.yaml, quantity: 2}\n"
        '  - {file: nowhere.yaml, quantity: 2.5, gtin: "6291041500214"}\n'
        "  - {file: corner.yaml, quantiti: 3}\n"
        "spares: 120\n"
        "link: http://ex.example\n"
        "stock: stock.csv\n"
        "buy: {cam-lock-15: {pack: 0}}\n",
        encoding="utf-8",
    )
    (folder / "stock.csv").write_text(
        "article,amount\ncam-lock-15,many\ndowel-8x35,-1\n,4\nnail,1\nnail,2\n", encoding="utf-8"
    )
    said = ran("run", folder / "run.yaml", "--out", folder / "out", code=1)
    for place in (
        "run.yaml:3:", "run.yaml:4:", "run.yaml:5:", "run.yaml:6:", "run.yaml:7:", "run.yaml:8:",
        "run.yaml:10:", "stock.csv:2:", "stock.csv:3:", "stock.csv:4:", "stock.csv:6:",
    ):  # fmt: skip
        assert place in said, place
    assert "did you mean quantity?" in said
    assert "by the other digits it is 3" in " ".join(said.split())
    assert "there is no file 'nowhere.yaml'" in said
    assert not (folder / "out").exists()


def test_what_is_wrong_in_products_is_told_with_their_lines(folder: pathlib.Path) -> None:
    broken = CORNER.replace("cam-and-bolt", "cam-and-bold")
    (folder / "corner.yaml").write_text(broken, encoding="utf-8")
    run = RUN.replace("set: {width: 400}", "set: {width: 4000}")
    (folder / "run.yaml").write_text(run, encoding="utf-8")
    said = ran("run", folder / "run.yaml", "--out", folder / "out", code=1)
    assert "corner.yaml:11:" in said
    assert "cam-and-bold" in said
    assert "other.yaml:3:" in said


@pytest.mark.parametrize(
    ("stock", "told"),
    [
        ("thing,count\na,1\n", "no column article and no column amount"),
        ("", "holds nothing"),
        ("article,amount\n\x07,1\n", "cannot be printed"),
        ("article,amount,Amount\ncam,1,2\n", "has 2 columns amount"),
        ("article;amount\ncam;1.000\n", "can be read as 1000 or as 1.000"),
        ("article,amount\ncaf\u00e9,1\ncafe\u0301,2\n", "stands twice"),
        ("article,amount\ncam,nan\n", "is not a number"),
        ("article,amount\ncam,1e3\n", "is not a number"),
        ("article;amount\ncam;-0,5\n", "less than nothing"),
        ("article,amount\ncam," + "9" * 30 + "\n", "is more than 1e+09"),
    ],
)
def test_lists_of_stock_that_are_none(folder: pathlib.Path, stock: str, told: str) -> None:
    (folder / "stock.csv").write_text(stock, encoding="utf-8")
    assert told in ran("run", folder / "run.yaml", "--out", folder / "out", code=1)


def test_decimals_are_read_as_the_list_writes_them(folder: pathlib.Path) -> None:
    """A spreadsheet of another land writes semicolons, decimal commas, points for thousands."""
    stock = "article;amount\ncam-lock-15;1.200,5\npine:45x60;1,25\ndowel-8x35;1.500\n"
    (folder / "stock.csv").write_text(stock, encoding="utf-8")
    document, _ = load_document(folder / "run.yaml")
    assert document is not None
    read, problems = read_run(document)
    assert (problems, read is None) == ((), False)
    assert read is not None
    assert read.stock == {"cam-lock-15": 1200.5, "pine:45x60": 1.25, "dowel-8x35": 1500.0}


def test_an_article_that_nothing_needs_is_told(done: tuple[pathlib.Path, str]) -> None:
    assert "run-article-unused" in done[1]
    assert "did you mean cam-bolt-34?" in done[1]


def test_a_catalogue_that_means_something_else_is_told(folder: pathlib.Path) -> None:
    (folder / "own.yaml").write_text(
        "items:\n  cam-lock-15: {like: cam-lock-15, title: Other lock, sources: [common practice, "
        "no source]}\n",
        encoding="utf-8",
    )
    text = OTHER.replace("boards:", "catalogues: [own.yaml]\nboards:")
    (folder / "other.yaml").write_text(text, encoding="utf-8")
    said = ran("run", folder / "run.yaml", "--out", folder / "out", code=1)
    assert "run-catalogues-differ" in said
    assert "run.yaml:5:" in said


def test_another_decor_is_another_article(folder: pathlib.Path) -> None:
    """One board in two titles: no stock of one is given to the other, and the saw is told which."""
    white = CORNER.replace("thickness: 18}", "thickness: 18, title: White}")
    (folder / "white.yaml").write_text(white, encoding="utf-8")
    (folder / "run.yaml").write_text(
        "run: Two\nproducts: [{file: corner.yaml, quantity: 1}, {file: white.yaml, quantity: 1}]\n"
        "stock: stock.csv\n",
        encoding="utf-8",
    )
    (folder / "stock.csv").write_text(
        "article,amount\nband:particleboard-p2 (White):1,50\ncam-and-bolt,3\n", encoding="utf-8"
    )
    said = " ".join(ran("run", folder / "run.yaml", "--out", folder / "out").split())
    needs = {row["Article"]: row for row in table(folder / "out" / "needs.csv")}
    assert float(needs["band:particleboard-p2 (White):1"]["Short"]) == 0
    assert float(needs["band:particleboard-p2:1"]["In stock"]) == 0
    assert float(needs["band:particleboard-p2:1"]["Short"]) > 0
    assert {"particleboard-p2:18:", "particleboard-p2 (White):18:"} <= {
        key.rpartition(":")[0] + ":" for key in needs
    }
    boards = {row["Board"] for row in table(folder / "out" / "parts.csv")}
    assert "White" in boards
    assert "carcass" not in boards
    assert "the stock's 'cam-and-bolt' is no article of the run" in said


def test_the_manual_is_on_the_check_sheet(folder: pathlib.Path) -> None:
    ran("pack", folder / "corner.yaml", "--out", folder / "cartons")
    pages = pypdf.PdfReader(folder / "cartons" / "packing.pdf").pages
    assert any("Assembly instructions" in page.extract_text() for page in pages)
