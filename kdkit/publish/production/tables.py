"""The tables of a run, each a list of columns for CSV, workbook and paper alike."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from kdkit.production.needs import Made, Need
from kdkit.publish.files.columns import Column, Value, fixed, mm, table_rows
from kdkit.publish.results import board_title
from kdkit.publish.wording.messages import Messages
from kdkit.publish.workshop.cutting_list import (
    cut_columns,
    list_cutting,
    list_timber,
    timber_columns,
)
from kdkit.schedule.saw import Saw
from kdkit.schedule.schedules import BoughtLine, CutLine, HardwareLine
from kdkit.schedule.sheets import BoardOrder
from kdkit.schedule.views import PanelViews
from kdkit.units import mm_text

__all__ = ["RunJob", "RunTable", "run_tables"]


@dataclass(frozen=True, kw_only=True)
class RunJob:
    """A run, worked out, and how it is said and printed.

    Args:
        panels: of all products; ``saw``: with which sheets and timber are laid out.
    """

    title: str
    batch: str
    currency: str
    made: tuple[Made, ...]
    orders: tuple[BoardOrder, ...]
    needs: tuple[Need, ...]
    messages: Messages
    paper: str
    panels: tuple[PanelViews, ...]
    saw: Saw


@dataclass(frozen=True, kw_only=True)
class RunTable:
    """A table by the name of its file; ``shares`` of a page's width, column by column."""

    name: str
    title: str
    rows: list[list[object]]
    shares: tuple[float, ...]


@dataclass(frozen=True)
class _Part:
    made: Made
    line: CutLine | BoughtLine


@dataclass(frozen=True)
class _Pick:
    """An item in one bag of a product, spares included, or fitted in its workshop ("")."""

    made: Made
    line: HardwareLine
    bag: str
    count: int


def _picks(made: Made) -> Iterator[_Pick]:
    schedules = made.results.schedules
    lines = {line.item: line for line in schedules.hardware}
    for bag in schedules.bags:
        for one in bag.items:
            yield _Pick(made, lines[one.item], bag.name, one.count)
    for line in schedules.hardware:
        if line.supplied and line.workshop:
            yield _Pick(made, line, "", line.workshop)


def run_tables(job: RunJob) -> tuple[RunTable, ...]:
    """Return all tables: what is made and bought, the parts, what is sawn, the hardware to pick."""
    picks = [pick for made in job.made for pick in _picks(made)]
    return (
        _table(job, "products", _products(), job.made),
        _table(job, "boards", _boards(), job.orders),
        _table(job, "needs", _needs(job), job.needs),
        _table(job, "parts", _parts(), list(_all_parts(job.made))),
        *_sawn(job),
        _table(job, "picking", _picking(job), picks),
    )


def _sawn(job: RunJob) -> Iterator[RunTable]:
    """Yield what is sawn from sheets and from timber, where there are some."""

    def named(order: BoardOrder) -> str:
        return f"{order.board}, {mm_text(order.thickness)} mm"

    cuts = list_cutting(job.orders, job.panels, named)
    if cuts:
        yield _table(job, "cuts", cut_columns(job.messages), cuts)
    timber = list_timber(job.orders, job.panels, named)
    if timber:
        yield _table(job, "timber", timber_columns(job.messages), timber)


def _table(job: RunJob, name: str, columns: Sequence[Column], rows: Sequence[object]) -> RunTable:
    return RunTable(
        name=name,
        title=job.messages.plain(f"run.{name}"),
        rows=table_rows(columns, rows, job.messages),
        shares=tuple(column.share for column in columns),
    )


def _products() -> list[Column]:
    def said(name: str) -> Value:
        return lambda made: str(getattr(made.results.resolved.said, name, ""))

    def settings(made: Made) -> str:
        named = made.results.resolved.parameters
        return "; ".join(f"{name} {value:g}" for name, value in named.items())

    return [
        Column("run.line", lambda made: made.number, share=0.06),
        Column("cover.product", lambda made: made.title, share=0.28),
        Column("cover.revision", said("revision"), share=0.1),
        Column("run.quantity", lambda made: made.quantity, share=0.08),
        Column("run.settings", settings, share=0.26),
        Column("run.gtin", lambda made: made.gtin, share=0.14),
        Column("run.cartons", lambda made: len(made.packing.cartons) * made.quantity, share=0.08),
    ]


def _boards() -> list[Column]:
    def bands(order: BoardOrder) -> float:
        return sum(metres for _, metres in order.bands)

    def bought(order: BoardOrder) -> float | None:
        return sum(one.bought for one in order.timber) / 1000 if order.timber else None

    def least(order: BoardOrder) -> float | None:
        return sum(one.bound for one in order.timber) / 1000 if order.timber else None

    return [
        Column("run.board", lambda order: order.board, share=0.2),
        Column("table.thickness", lambda order: order.thickness, mm(2), share=0.08),
        Column("run.panels", lambda order: order.count, share=0.08),
        Column("run.area", lambda order: order.area / 1e6, fixed(3), share=0.1),
        Column("run.bands", bands, fixed(2), share=0.1),
        Column("run.sheets", lambda order: len(order.sheets) or None, share=0.07),
        Column("run.fewest", lambda order: order.fewest or None, share=0.07),
        Column("run.timber_bought", bought, fixed(2), share=0.07),
        Column("run.timber_least", least, fixed(2), share=0.07),
        Column(
            "run.used",
            lambda order: order.used * 100 if order.sheets else None,
            fixed(0),
            share=0.08,
        ),
        Column("run.unplaced", lambda order: "; ".join(order.unplaced), share=0.08),
    ]


def _needs(job: RunJob) -> list[Column]:
    say = job.messages.plain

    def named(need: Need) -> str:
        article = need.article
        if article.kind == "item":
            return job.messages.name("items", article.key, article.title)
        return article.title

    def size(need: Need) -> str:
        article = need.article
        if article.kind == "item":
            return job.messages.name("item_sizes", article.key, article.size)
        return article.size

    return [
        Column("run.kind", lambda need: say(f"run.kind_{need.article.kind}"), share=0.08),
        Column("run.article", lambda need: need.article.key, share=0.19),
        Column("table.title", named, share=0.17),
        Column("table.size", size, share=0.12),
        Column(
            "run.unit", lambda n: say("run.metre" if n.article.unit else "run.piece"), share=0.05
        ),
        Column("run.need", lambda need: need.need, mm(3), share=0.06),
        Column("run.spare", lambda need: need.spare, mm(3), share=0.05),
        Column("run.stock", lambda need: need.stock, mm(3), share=0.06),
        Column("run.short", lambda need: need.short, mm(3), share=0.06),
        Column("run.packs", lambda need: need.packs, share=0.04),
        Column("run.pack", lambda need: need.pack, mm(3), share=0.04),
        Column("run.over", lambda need: need.over, mm(3), share=0.04),
        Column("run.cost", lambda need: need.cost, fixed(2), {"currency": job.currency}, 0.04),
    ]


def _all_parts(run: Sequence[Made]) -> Iterator[_Part]:
    for made in run:
        schedules = made.results.schedules
        lines: tuple[CutLine | BoughtLine, ...] = (*schedules.cut, *schedules.bought)
        for line in lines:
            yield _Part(made, line)


def _parts() -> list[Column]:
    def board(part: _Part) -> str:
        line = part.line
        if not isinstance(line, CutLine):
            return ""
        return board_title(part.made.results, line.board, line.material)

    def cut(n: int) -> Value:
        return lambda p: p.line.cut[n] if isinstance(p.line, CutLine) else p.line.size[n]

    def thick(part: _Part) -> float:
        line = part.line
        return line.thickness if isinstance(line, CutLine) else line.size[2]

    return [
        Column("run.line", lambda part: part.made.number, share=0.06),
        Column("cover.product", lambda part: part.made.title, share=0.22),
        Column("table.letter", lambda part: part.line.letter, share=0.07),
        Column("table.title", lambda part: part.line.title, share=0.21),
        Column("run.board", board, share=0.1),
        Column("run.cut_length", cut(0), mm(1), share=0.09),
        Column("run.cut_width", cut(1), mm(1), share=0.09),
        Column("table.thickness", thick, mm(2), share=0.07),
        Column("run.pieces", lambda part: part.line.quantity * part.made.quantity, share=0.09),
    ]


def _picking(job: RunJob) -> list[Column]:
    def named(pick: _Pick) -> str:
        return job.messages.name("items", pick.line.item, pick.line.title)

    def size(pick: _Pick) -> str:
        return job.messages.name("item_sizes", pick.line.item, pick.line.size)

    return [
        Column("run.line", lambda pick: pick.made.number, share=0.06),
        Column("cover.product", lambda pick: pick.made.title, share=0.2),
        Column("run.bag", lambda pick: pick.bag, share=0.07),
        Column("table.item", lambda pick: pick.line.item, share=0.19),
        Column("table.title", named, share=0.18),
        Column("table.size", size, share=0.12),
        Column("run.in_bag", lambda pick: pick.count if pick.bag else 0, share=0.06),
        Column("run.fitted", lambda pick: 0 if pick.bag else pick.count, share=0.06),
        Column("run.in_all", lambda pick: pick.count * pick.made.quantity, share=0.06),
    ]
