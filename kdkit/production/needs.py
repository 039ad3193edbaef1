"""What a run needs, summed over its products, and what is to be bought for it.

Articles are named as in the definitions and the catalogue: an item by its key
(``cam-lock-15``), a sheet ``particleboard-p2:18:2800x2070``, edge band
``band:particleboard-p2:1`` in metres (with the board's own title where it has one:
``particleboard-p2 (White):18:2800x2070``, since another decor is another article), a stock
length of timber ``pine:45x60:3000``, a bought part by its title and size, a board that is sold
in neither sheets nor lengths (glass) by each size that is cut. Lengths in mm, metres where a
unit says m.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from kdkit.catalogue.entries import Catalogue
from kdkit.production.said import Purchase
from kdkit.publish.results import Results, board_title
from kdkit.schedule.packing import Packing
from kdkit.schedule.sheets import BoardOrder
from kdkit.schedule.timber import is_timber
from kdkit.schedule.views import PanelViews, list_views
from kdkit.units import mm_text

__all__ = [
    "Article",
    "Made",
    "Need",
    "add_up",
    "needs_of",
    "run_panels",
    "to_buy",
]

_ENOUGH = 1e-6  # of an article: sums of metres are compared no finer


@dataclass(frozen=True, kw_only=True)
class Made:
    """One line of a run, worked out. ``number`` counts from 1."""

    number: int
    quantity: int
    results: Results
    packing: Packing
    gtin: str

    @property
    def title(self) -> str:
        """The product with its variant."""
        title = str(getattr(self.results.resolved.said, "product", ""))
        variant = self.results.resolved.variant
        return f"{title} ({variant})" if variant else title


@dataclass(frozen=True, order=True)
class Article:
    """Something that is bought; ``unit`` is ``m`` or "" for pieces."""

    kind: str
    key: str
    title: str
    size: str
    unit: str = ""


@dataclass(frozen=True, kw_only=True)
class Need:
    """What a run takes of one article, and what is to be bought of it.

    Args:
        need: the sum over all products, with the spares in their bags; ``spare`` comes on top.
        stock: what is there, None without a list of stock.
        short: need and spare less what is there, at least 0.
        packs: to be bought; ``over`` is what is then left of them.
        cost: of the packs, None without a price.
    """

    article: Article
    need: float
    spare: float
    stock: float | None
    short: float
    packs: int
    pack: float
    over: float
    cost: float | None


def needs_of(made: Made) -> dict[Article, float]:
    """Return what one line of a run needs, all its pieces together, but for sheets and timber.

    Those are laid out over the whole run; what is left of one goes to the next product.
    """
    results = made.results
    found: Counter[Article] = Counter()
    for line in results.schedules.hardware:
        if line.supplied:
            spares = sum(
                one.spares
                for bag in results.schedules.bags
                for one in bag.items
                if one.item == line.item
            )
            found[Article("item", line.item, line.title, line.size)] += line.quantity + spares
    for bought in results.schedules.bought:
        size = " × ".join(mm_text(side) for side in bought.size)
        key = f"{bought.title}:{size.replace(' × ', 'x')}"
        found[Article("bought", key, bought.title, size)] += bought.quantity
    sums: dict[Article, float] = {a: float(n * made.quantity) for a, n in found.items()}
    for article, metres in _running(results):
        sums[article] = sums.get(article, 0.0) + metres * made.quantity
    return sums


def _running(results: Results) -> Iterator[tuple[Article, float]]:
    """Yield edge band of one product, in metres, without allowance, and panes bought to size."""
    views = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    for view in views:
        line = view.cut
        board = results.catalogue.boards.get(line.material)
        title = board_title(results, line.board, line.material)
        for band in view.view("face").bands:
            t = mm_text(band.thickness, 2)
            article = Article(
                "band", f"band:{board_key(results, line.board, line.material)}:{t}", title, t, "m"
            )
            yield article, math.dist(band.start, band.end) * line.quantity / 1000
        if board is not None and not board.sheets and not is_timber(board):
            size = " × ".join(mm_text(side) for side in (*line.cut, line.thickness))
            key = f"{board_key(results, line.board, line.material)}:{size.replace(' × ', 'x')}"
            yield Article("bought", key, title, size), float(line.quantity)


def board_key(results: Results, board: str, material: str) -> str:
    """Return what a board is called among articles: its material, with a title of its own."""
    said = results.resolved.boards.get(board)
    return f"{material} ({said.title})" if said is not None and said.title else material


def run_panels(run: Sequence[Made]) -> tuple[PanelViews, ...]:
    """Return the panels of a whole run; letters as in ``2·A``: of line 2."""
    panels: list[PanelViews] = []
    for made in run:
        results = made.results
        for view in list_views(results.resolved, results.joinery, results.plan, results.schedules):
            line = view.cut
            cut = replace(
                line,
                letter=f"{made.number}·{line.letter}",
                quantity=line.quantity * made.quantity,
                board=board_title(results, line.board, line.material),
            )
            panels.append(replace(view, cut=cut))
    return tuple(panels)


def add_up(
    needs: Iterable[Mapping[Article, float]], orders: Sequence[BoardOrder], catalogue: Catalogue
) -> dict[Article, float]:
    """Return the sum over all lines, with the sheets and the timber of the whole run."""
    found: dict[Article, float] = {}
    for each in needs:
        for article, n in each.items():
            found[article] = found.get(article, 0.0) + n
    for order in orders:
        for size, n in Counter(sheet.size for sheet in order.sheets).items():
            words = " × ".join(mm_text(side) for side in (*size, order.thickness))
            wide = "x".join(mm_text(side) for side in size)
            key = f"{_named(order, catalogue)}:{mm_text(order.thickness)}:{wide}"
            article = Article("sheet", key, order.board, words)
            found[article] = found.get(article, 0.0) + n
        for timber in order.timber:
            for stock, n in timber.by_stock.items():
                words = " × ".join(mm_text(side) for side in (*timber.section, stock))
                section = "x".join(mm_text(side) for side in timber.section)
                key = f"{_named(order, catalogue)}:{section}:{mm_text(stock)}"
                article = Article("timber", key, order.board, words)
                found[article] = found.get(article, 0.0) + n
    return found


def _named(order: BoardOrder, catalogue: Catalogue) -> str:
    """Return what an order's board is called among articles, as ``board_key`` does."""
    entry = catalogue.boards.get(order.material)
    own = entry is not None and order.board != entry.title
    return f"{order.material} ({order.board})" if own else order.material


def to_buy(
    sums: Mapping[Article, float],
    *,
    spares: float,
    stock: Mapping[str, float] | None,
    purchases: Mapping[str, Purchase],
) -> tuple[Need, ...]:
    """Return a line for each article: need, spares, stock, shortage, packs, what is over.

    Articles of one key share their stock in the order of the lines: none is counted twice.

    Args:
        spares: per cent of each item, rounded up to whole pieces, beyond those in the bags.
    """
    kinds = {kind: n for n, kind in enumerate(("sheet", "timber", "band", "bought", "item"))}
    left = dict(stock or {})
    found = []
    for article in sorted(sums, key=lambda a: (kinds[a.kind], a)):
        need = sums[article]
        spare = math.ceil(need * spares / 100 - _ENOUGH) if article.kind == "item" else 0
        there = left.get(article.key, 0.0)
        short = max(0.0, need + spare - there)
        left[article.key] = max(0.0, there - need - spare)
        purchase = purchases.get(article.key, Purchase())
        packs = math.ceil(short / purchase.pack - _ENOUGH)
        found.append(
            Need(
                article=article,
                need=need,
                spare=spare,
                stock=None if stock is None else there,
                short=short,
                packs=packs,
                pack=purchase.pack,
                over=max(0.0, packs * purchase.pack - short),
                cost=None if purchase.price is None else packs * purchase.price,
            )
        )
    return tuple(found)
