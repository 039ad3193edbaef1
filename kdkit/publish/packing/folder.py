"""The packer's files, written in one go."""

from __future__ import annotations

import pathlib

from kdkit.definition.gate import Refused
from kdkit.definition.trade_numbers import DOMAIN, check_lot
from kdkit.delivery import PACKING, Claim, write_folder
from kdkit.diagnostics import Problem, error, warning
from kdkit.publish.files.tables import render_rows
from kdkit.publish.packing.carton_labels import draw_labels, labels_of
from kdkit.publish.packing.check_sheet import draw_check
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.packing.layer_sheets import draw_layers
from kdkit.publish.packing.table import packing_rows
from kdkit.publish.results import Results, whose
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.wording.messages import find_wording
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES
from kdkit.schedule.packing import Packing

__all__ = ["heavy_cartons", "publish_packing", "refuse_lot"]


def refuse_lot(batch: str, gtin: str) -> tuple[Problem, ...]:
    """Return an error if a batch's number cannot stand in a code beside a GTIN."""
    if not (gtin and batch):
        return ()
    try:
        check_lot(batch)
    except Refused as fault:
        return (error(fault.code, fault.message, ("batch",), help=fault.help),)
    return ()


def heavy_cartons(packing: Packing) -> tuple[Problem, ...]:
    """Return a warning for each carton with one piece that alone is heavier than was asked."""
    found = []
    for carton in packing.cartons:
        if carton.gross_kg <= packing.rules.most_mass:
            continue
        who = "a trolley or straps" if carton.needs_aid else f"{carton.persons} persons"
        found.append(
            warning(
                "carton-heavy",
                f"carton {carton.number} weighs {carton.gross_kg:.1f} kg, more than "
                f"{packing.rules.most_mass:g} kg: {who} carry it",
                where=", ".join(p.piece.mark for p in carton.placed if p.piece.mark),
                help="divide the part, or allow more with --most-mass",
            )
        )
    return tuple(found)


def publish_packing(
    results: Results,
    packing: Packing,
    folder: pathlib.Path | Claim,
    *,
    paper: str = "a4",
    gtin: str = "",
    domain: str = DOMAIN,
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write ``packing.pdf``, ``packing.csv`` and ``carton-labels.pdf`` into a folder.

    Args:
        folder: claimed, or to be claimed here; on any failure it stays as it was.
        paper: ``a4``, ``a3`` or ``letter``.
        gtin, domain: for the labels' codes; without a GTIN they have none.

    Raises:
        EngineFailed: a library could not write something; the folder is as it was.
    """
    messages, problems = find_wording(getattr(results.resolved.said, "language", "en"))
    if messages is None:
        return None, problems
    job = PackingJob(
        results=results,
        packing=packing,
        messages=messages,
        paper=paper,
        gtin=gtin,
        domain=domain,
    )
    wrong = refuse_lot(job.said("batch"), gtin)
    if wrong:
        return None, wrong
    size = PAPER_SIZES[paper]

    def write(fresh: pathlib.Path) -> None:
        sheets = [sheet for carton in packing.cartons for sheet in draw_layers(job, carton)]
        sheets += [sheet for carton in packing.cartons for sheet in draw_check(job, carton)]
        title = messages.plain("packing.title", product=job.title)
        pdf = make_sheets([s.render() for s in sheets], size, title, messages)
        (fresh / "packing.pdf").write_bytes(pdf)
        labels = draw_labels(labels_of(job), paper, messages)
        title = messages.plain("packing.labels_title", product=job.title)
        pdf = make_sheets([s.render() for s in labels], size, title, messages)
        (fresh / "carton-labels.pdf").write_bytes(pdf)
        text = render_rows(packing_rows(job))
        (fresh / "packing.csv").write_text(text, encoding="utf-8", newline="")

    files, found = write_folder(folder, PACKING, write, whose(results.resolved))
    return files, (*heavy_cartons(packing), *found)
