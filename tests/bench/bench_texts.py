"""How work on texts and files grows with their length: seconds, and the exponent.

An exponent of 1 is linear, 2 is quadratic. Each kind is doubled; those that reach a limit
are measured up to it.
"""

from __future__ import annotations

import gc
import io
import math
import pathlib
import sys
import tempfile
import time
from collections.abc import Callable

import xlsxwriter

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.definition.formula import (
    MAX_LENGTH,
    MAX_NESTING,
    Formula,
    near_names,
    parse_formula,
)
from kdkit.definition.gate import advise_number
from kdkit.definition.tree import MAX_DEPTH, parse_tree
from kdkit.imports.drawing import load_outline
from kdkit.imports.panel_list import load_panel_list
from kdkit.pipeline import Request, check
from kdkit.publish.wording.markdown_text import render_markdown

PIECES = (
    """
word_|[|![|*a_|*a_b|***a|`a|<!--_|<a href="|[a](b "|[a](|[a](<b|- a+|> a+|- |> |<a@|&#x|\\|[a]:+
""".strip()
    .replace("_", " ")
    .replace("+", "\n")
    .split("|")
)
FOLDER = pathlib.Path(tempfile.mkdtemp(prefix="kdkit-bench-"))


def report(name: str, work: Callable[[int], object], sizes: list[int]) -> None:
    """Print the seconds for each size and the exponent between the last two."""
    seconds = []
    for size in sizes:
        # The collector's sweeps depend on all that is alive, not on this work.
        gc.collect()
        gc.disable()
        start = time.process_time()
        work(size)
        seconds.append(max(time.process_time() - start, 1e-4))
        gc.enable()
    exponent = math.log(seconds[-1] / seconds[-2]) / math.log(sizes[-1] / sizes[-2])
    shown = "  ".join(f"{size}: {taken:.3f}" for size, taken in zip(sizes, seconds, strict=True))
    print(f"{name:34} exponent {exponent:5.2f}   {shown}", flush=True)


def drawing(body: str) -> pathlib.Path:
    head = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
    file = FOLDER / "drawing.dxf"
    file.write_text(f"{head}0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n", encoding="ascii")
    return file


def lines(size: int) -> object:
    body = "".join(f"0\nLINE\n8\n0\n10\n{n}\n20\n0\n11\n{n}\n21\n9\n" for n in range(size))
    return load_outline(drawing(body))


def circles(size: int) -> object:
    body = "".join(f"0\nCIRCLE\n8\n0\n10\n{n}\n20\n0\n40\n0.2\n" for n in range(size))
    return load_outline(drawing(body))


def rows(size: int) -> object:
    file = FOLDER / "list.csv"
    body = "".join(f"Side {n},1,700,300,18,MDF\n" for n in range(size))
    file.write_text(f"name,quantity,length,width,thickness,board\n{body}", encoding="utf-8")
    return load_panel_list(file)


def workbook(size: int) -> object:
    raw = io.BytesIO()
    with xlsxwriter.Workbook(raw) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["name", "quantity", "length", "width", "thickness", "board"])
        for n in range(size):
            sheet.write_row(n + 1, 0, [f"Side {n}", 1, 700, 300, 18, "MDF"])
    file = FOLDER / "list.xlsx"
    file.write_bytes(raw.getvalue())
    return load_panel_list(file)


def formula(text: str) -> object:
    """Parse a formula as often as its shortness asks for; it must be one."""
    for _ in range(300):
        found = parse_formula(text)
        assert isinstance(found, Formula), found
    return found


def definition(body: str) -> object:
    file = FOLDER / "product.yaml"
    file.write_text(f"kdkit: 1\nproduct: Box\n{body}\n", encoding="utf-8")
    return check(Request(file=file))


def main() -> None:
    """Measure every kind."""
    for piece in PIECES:

        def work(size: int, piece: str = piece) -> object:
            return render_markdown(piece * (size // len(piece)), ())

        report(f"Markdown {piece!r}", work, [5000, 10_000, 20_000])
    report("DXF, open lines", lines, [1000, 2000, 4000])
    report("DXF, circles", circles, [1000, 2000, 4000])
    report("CSV, rows", rows, [125, 250, 500])
    report("XLSX, rows", workbook, [125, 250, 500])
    most = (MAX_LENGTH + 1) // 2
    report("formula, sum", lambda n: formula("+".join(["1"] * n)), [most // 4, most // 2, most])
    report(
        "formula, brackets",
        lambda n: formula("(" * n + "1" + ")" * n),
        [MAX_NESTING // 4, MAX_NESTING // 2, MAX_NESTING],
    )
    report("number, spaces", lambda n: advise_number("1" + " " * n + "x"), [5000, 10_000, 20_000])
    report(
        "YAML, long words",
        lambda n: parse_tree("a: " + ("b" * 1999 + " ") * n, "a.yaml"),
        [100, 200, 400],
    )
    report(
        "YAML, long tags",
        lambda n: parse_tree("a: x" + (" " + "!" * 499) * n, "a.yaml"),
        [400, 800, 1600],
    )
    names = [f"{'panel' * 10}_{n}" for n in range(2000)]
    report("near names", lambda n: near_names("panels" * 10, names[:n]), [500, 1000, 2000])
    report("YAML, entries", lambda n: definition("x: [" + "1, " * n + "]"), [5000, 10_000, 20_000])
    report(
        "YAML, depth",
        lambda n: definition("x: " + "[" * n + "]" * n),
        [MAX_DEPTH // 2, 1000, 10_000],
    )
    report(
        "YAML, unknown keys",
        lambda n: definition("\n".join(f"k{i}: 1" for i in range(n))),
        [4000, 8000, 16_000],  # below them opening the catalogue is most of it
    )


if __name__ == "__main__":
    main()
