"""A file of products and quantities in; what the whole run needs out.

Every product goes through the same stages as by itself; the sheets alone are laid out over
all of them together.
"""

from __future__ import annotations

import pathlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from kdkit.catalogue.entries import Catalogue
from kdkit.definition import Definition, load_document
from kdkit.definition.formula import near_names
from kdkit.delivery import RUN
from kdkit.diagnostics import Problem, error, warning
from kdkit.packing import find_cartons
from kdkit.pipeline import run_stages
from kdkit.production.needs import Made, Need, add_up, needs_of, run_panels, to_buy
from kdkit.production.reading import RunFile, read_run
from kdkit.publish.packing.folder import heavy_cartons, refuse_lot
from kdkit.publish.production.folder import publish_run
from kdkit.publish.production.tables import RunJob
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import find_wording
from kdkit.run import Outcome, Progress, Request, Run
from kdkit.schedule.batch import MOST_PANELS
from kdkit.schedule.packing import MOST_MASS, PackingRules
from kdkit.schedule.saw import Saw
from kdkit.schedule.sheets import BoardOrder, order_boards
from kdkit.units import mm_text

__all__ = ["MOST_PANELS", "produce"]


def produce(
    file: pathlib.Path,
    folder: pathlib.Path,
    *,
    saw: Saw = Saw(),  # noqa: B008 - it cannot be changed
    paper: str = "a4",
    progress: Progress = lambda _: None,
) -> Outcome:
    """Work a production run out and write its files.

    Args:
        file: the run's file.
        folder: is made, or replaced if an earlier run wrote it.
        saw: kerf and trim for the sheets.
        paper: ``a4``, ``a3`` or ``letter``.
        progress: is told the product and its stage.
    """
    with Run(Request(file=file), progress) as run, run.claim_folder(folder, RUN) as claim:
        document = run.stage("reading the run", load_document, file)
        run.definition = document
        read = run.stage("reading what is made", read_run, document)
        others = (read.stock_file,) if read.stock_file is not None else ()
        run.judge(claim.refuse_inputs((*read.files, *others)))
        messages = run.stage("choosing the language", find_wording, read.said.language)
        made = _make_all(run, read)
        catalogue = run.stage("joining the catalogues", _join_catalogues, made)
        panels = sum(c.quantity * m.quantity for m in made for c in m.results.schedules.cut)
        if panels > MOST_PANELS:
            run.judge((_too_many(panels),))
        run.progress("laying out sheets and timber")
        panels_of_all = run_panels(made)
        orders = order_boards(panels_of_all, catalogue, saw)
        needs = to_buy(
            add_up([needs_of(each) for each in made], orders, catalogue),
            spares=read.said.spares,
            stock=read.stock,
            purchases=read.said.buy,
        )
        run.judge(_not_needed(read, needs))
        run.judge(_not_known(read, needs, catalogue))
        run.judge(_unplaced(orders))
        job = RunJob(
            title=read.said.run,
            batch=read.said.batch,
            currency=read.said.currency,
            made=made,
            orders=orders,
            panels=panels_of_all,
            needs=needs,
            messages=messages,
            paper=paper,
            saw=saw,
        )
        run.files = run.stage("writing the run's files", publish_run, job, claim, read.said.link)
    return run.outcome()


def _make_all(run: Run, read: RunFile) -> tuple[Made, ...]:
    """Work out every product; what is wrong with any of them is told for all at once."""
    rules = PackingRules(most_mass=read.said.most_mass or MOST_MASS)
    done: dict[object, Results] = {}
    made: list[Made] = []
    found: list[Problem] = []
    for n, (line, file) in enumerate(zip(read.said.products, read.files, strict=True)):
        key = (file, line.variant, tuple(line.set.items()))
        if key not in done:
            name = f"{n + 1} of {len(read.files)}, {file.name}"

            def tell(stage: str, name: str = name) -> None:
                run.progress(f"{name}: {stage}")

            one = Run(
                Request(
                    file=file,
                    variant=line.variant,
                    parameters=line.set,
                    batch=read.said.batch or None,
                ),
                tell,
            )
            one.claim = run.claim
            with one:
                run_stages(one)
            outcome = one.outcome()
            found += [_with_text(p, outcome.definition, n) for p in outcome.problems]
            if outcome.results is None or not outcome.complete:
                continue
            done[key] = outcome.results
        results = done[key]
        packing = find_cartons(results, rules)
        found += [_of_line(p, n) for p in heavy_cartons(packing)]
        batch = str(getattr(results.resolved.said, "batch", ""))
        found += [_of_line(p, n) for p in refuse_lot(batch, line.gtin)]
        made.append(
            Made(
                number=n + 1,
                quantity=line.quantity,
                results=results,
                packing=packing,
                gtin=line.gtin,
            )
        )
    run.judge(found)
    return tuple(made)


def _of_line(problem: Problem, n: int) -> Problem:
    return replace(problem, path=("products", n), source=None)


def _with_text(problem: Problem, definition: Definition | None, n: int) -> Problem:
    """Return a product's problem with its own line; one without a place is told at the run's."""
    source = problem.source
    if source is None:
        return problem if problem.asked else _of_line(problem, n)
    text = source.text or (definition.line_text(source) if definition is not None else "")
    return replace(problem, source=replace(source, text=text))


def _join_catalogues(made: Sequence[Made]) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    """Return one catalogue with the boards of all; a key must mean one board or item alone."""
    first = made[0].results.catalogue
    boards: dict[str, Any] = dict(first.boards)
    items: dict[str, Any] = dict(first.items)
    found = []
    for each in made[1:]:
        catalogue = each.results.catalogue
        pairs: tuple[tuple[str, dict[str, Any], Mapping[str, Any]], ...] = (
            ("board", boards, catalogue.boards),
            ("item", items, catalogue.items),
        )
        for kind, known, own in pairs:
            for key, entry in own.items():
                if known.setdefault(key, entry) != entry:
                    found.append(
                        error(
                            "run-catalogues-differ",
                            f"the {kind} {key!r} is another one here than in the lines before",
                            ("products", each.number - 1),
                            help="give one of the two another name in its catalogue file",
                        )
                    )
    if found:
        return None, tuple(found)
    return first.model_copy(update={"boards": boards, "items": items}), ()


def _unplaced(orders: Sequence[BoardOrder]) -> list[Problem]:
    """Return a warning for each panel that no sheet or no length of timber has room for."""
    found = []
    for order in orders:
        for letter in order.unplaced:
            n = int(letter.split("·")[0]) - 1
            if order.timber:
                longest = mm_text(max(order.timber[0].stocks))
                told = warning(
                    "no-length-fits",
                    f"{letter} is longer than every stock length of {order.board} gives: the "
                    f"longest is {longest}",
                    ("products", n),
                    help="join it from shorter pieces, or name longer stock with --lengths",
                )
            else:
                told = warning(
                    "no-sheet-fits",
                    f"{letter} is larger than every sheet of {order.board}",
                    ("products", n),
                    help="join it from narrower panels, or give the board larger sheets in a "
                    "catalogue",
                )
            found.append(told)
    return found


def _too_many(panels: int) -> Problem:
    return error(
        "too-many-parts",
        f"the run has {panels} panels, at most {MOST_PANELS} are laid out together",
        ("products",),
        help="divide it into several runs",
    )


def _not_known(read: RunFile, needs: Sequence[Need], catalogue: Catalogue) -> list[Problem]:
    """Return a warning for each article in stock that is very like one that falls short.

    A list of stock holds more than one run needs; a name that is nearly right does not help.
    """
    short = [need.article.key for need in needs if need.short > 0 and need.stock == 0]
    known = {need.article.key for need in needs} | set(catalogue.items)
    found = []
    for key in read.stock or {}:
        near = near_names(key, short) if key not in known else ()
        fitting = catalogue.fittings.get(key)
        items = [rule.item for rule in fitting.items] if fitting is not None else []
        meant = next((item for item in (*items, *near) if item in short), None)
        if key not in known and meant is not None:
            found.append(
                warning(
                    "run-article-unused",
                    f"the stock's {key[:80]!r} is no article of the run, and {meant} falls short",
                    ("stock",),
                    help=f"write {meant} if that is meant; needs.csv lists the articles",
                )
            )
    return found


def _not_needed(read: RunFile, needs: Sequence[Need]) -> list[Problem]:
    """Return a warning for each article under ``buy`` that the run does not need."""
    known = [need.article.key for need in needs]
    found = []
    for key in read.said.buy:
        if key not in known:
            near = near_names(key, known)
            found.append(
                replace(
                    warning(
                        "run-article-unused",
                        f"nothing in the run needs the article {key[:80]!r}",
                        ("buy", key),
                        help=f"did you mean {near[0]}?" if near else "needs.csv lists the articles",
                    ),
                    on_key=True,
                )
            )
    return found
