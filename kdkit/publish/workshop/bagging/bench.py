"""What goes to the bagging bench, written: a table, labels and a sheet to pick by."""

from __future__ import annotations

import pathlib

from kdkit.diagnostics import Problem
from kdkit.publish.files.tables import render_rows
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.workshop.bagging.bag_labels import draw_bag_labels
from kdkit.publish.workshop.bagging.bag_tables import bag_rows
from kdkit.publish.workshop.bagging.picking_sheet import draw_picking_sheet
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES
from kdkit.publish.workshop.job import WorkshopJob

__all__ = ["write_bagging"]


def write_bagging(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``bags.csv``, ``bag-labels.pdf`` and ``picking.pdf``; of no bags the table alone."""
    say = job.messages.plain
    rows = bag_rows(job.results, job.messages)
    (folder / "bags.csv").write_text(render_rows(rows), encoding="utf-8", newline="")
    if not job.results.schedules.bags:
        return ()
    for name, title, sheets, size in (
        ("bag-labels", "bag_label.title", draw_bag_labels(job), job.label_sheet.paper),
        ("picking", "picking.file_title", draw_picking_sheet(job), PAPER_SIZES[job.paper]),
    ):
        told = say(title, product=job.product)
        pdf = make_sheets([s.render() for s in sheets], size, told, job.messages)
        (folder / f"{name}.pdf").write_bytes(pdf)
    return ()
