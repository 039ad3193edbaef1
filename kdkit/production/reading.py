"""A run's file and its list of stock: read whole, all that is wrong told at once."""

from __future__ import annotations

import pathlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from pydantic import ValidationError

from kdkit.definition import Definition
from kdkit.definition.gate import Refused, check_number
from kdkit.definition.source import path_inside
from kdkit.definition.trade_numbers import check_lot
from kdkit.diagnostics import Path, Problem, error
from kdkit.imports.numbers import NumberError, decimal_mark, read_amount
from kdkit.imports.table import Table, cell_problem, load_table
from kdkit.model.reading.faults import fault_problem, follows_from_items, without_misspelt_twice
from kdkit.production.said import ProductionRun

__all__ = ["RunFile", "read_run"]

_COLUMNS = ("article", "amount")


@dataclass(frozen=True, kw_only=True)
class RunFile:
    """A run as it is read.

    Args:
        files: the definition of each line of its products.
        stock: how much of each article is there; None without a list.
        stock_file: that list.
    """

    said: ProductionRun
    files: tuple[pathlib.Path, ...]
    stock: Mapping[str, float] | None = None
    stock_file: pathlib.Path | None = field(default=None)


def read_run(document: Definition) -> tuple[RunFile | None, tuple[Problem, ...]]:
    """Return what a run's file says, its list of stock with it, or every problem in them."""
    problems: list[Problem] = []
    said: ProductionRun | None = None
    try:
        said = ProductionRun.model_validate(document.data)
    except ValidationError as fault:
        found = [
            fault_problem(one, ProductionRun)
            for one in fault.errors(include_url=False)
            if not follows_from_items(one)
        ]
        problems += without_misspelt_twice(found)
    data = document.data
    lines = data.get("products")
    files = [
        _file(document, line.get("file"), ("products", n, "file"), problems)
        for n, line in enumerate(lines if isinstance(lines, list | tuple) else ())
        if isinstance(line, dict)
    ]
    stock, stock_file = None, None
    if data.get("stock") is not None:
        stock_file = _file(document, data["stock"], ("stock",), problems)
        if stock_file is not None:
            table, found_in = load_table(stock_file)
            problems += found_in
            stock = _amounts(table, problems) if table is not None else None
    if said is not None and said.batch and any(line.gtin for line in said.products):
        try:
            check_lot(said.batch)
        except Refused as refused:
            problems.append(error(refused.code, refused.message, ("batch",), help=refused.help))
    if said is None or problems:
        return None, tuple(problems)
    known = tuple(file for file in files if file is not None)
    return RunFile(said=said, files=known, stock=stock, stock_file=stock_file), ()


def _file(
    document: Definition, text: object, at: Path, problems: list[Problem]
) -> pathlib.Path | None:
    """Return a file that the run names; what is wrong with its name is added to the problems."""
    if not isinstance(text, str):
        return None  # the model tells
    target, problem = path_inside(document.folder, document.folder, text.strip(), at)
    if problem is not None:
        words = problem.message.replace("definition's folder", "run's folder")
        help = "put the file beside the run's file, or below it, and write its name"
        problems.append(replace(problem, message=words, help=help))
        return None
    if target is not None and not target.is_file():
        problems.append(error("file-not-read", f"there is no file {text[:80]!r}", at))
        return None
    return target


def _amounts(table: Table, problems: list[Problem]) -> dict[str, float] | None:
    """Return the amounts of a list of stock by their articles."""
    head = table.rows[0]
    names = [cell.casefold() for cell in head.cells]
    missing = [column for column in _COLUMNS if column not in names]
    twice = [column for column in _COLUMNS if names.count(column) > 1]
    if missing or twice:
        words = [f"has no column {' and no column '.join(missing)}"] if missing else []
        words += [f"has {names.count(column)} columns {column}" for column in twice]
        problems.append(
            cell_problem(
                "list-heading",
                f"the list of stock {' and '.join(words)}",
                table,
                head,
                help="its first row names the columns: article, amount",
            )
        )
        return None
    article, amount = (names.index(column) for column in _COLUMNS)
    written = [row.cells[amount] for row in table.rows[1:] if len(row.cells) > amount]
    mark = table.mark or decimal_mark(written)
    found: dict[str, float] = {}
    for row in table.rows[1:]:
        cells = [*row.cells, *[""] * (max(article, amount) + 1 - len(row.cells))]
        key, text = cells[article], cells[amount]
        try:
            value = check_number(read_amount(text, mark))
            if value < 0:
                raise Refused("out-of-range", f"{value:g} is less than nothing", "write 0")
        except (Refused, NumberError) as refused:
            column = amount if amount < len(row.cells) else None
            problems.append(
                cell_problem("list-cell", refused.message, table, row, column, refused.help)
            )
            continue
        if not key or key in found:
            what = f"{key[:60]!r} stands twice" if key else "the row names no article"
            help = "add the amounts up in one row" if key else "name it, or delete the row"
            problems.append(cell_problem("list-cell", what, table, row, None, help))
            continue
        found[key] = value
    return found
