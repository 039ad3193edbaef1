"""The files of a run, written in one go."""

from __future__ import annotations

import pathlib

from kdkit.delivery import RUN, Claim, write_folder
from kdkit.diagnostics import Problem
from kdkit.publish.files.tables import render_rows
from kdkit.publish.packing.carton_labels import draw_labels, labels_of
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.production.sheets import draw_run
from kdkit.publish.production.tables import RunJob, run_tables
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES
from kdkit.publish.workshop.exchange.spreadsheet import make_workbook

__all__ = ["publish_run"]


def publish_run(
    job: RunJob, folder: pathlib.Path | Claim, domain: str
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write a run's tables as CSV, workbook and PDF, and a label for every carton.

    Raises:
        EngineFailed: a library could not write something; the folder is as it was.
    """
    say, size = job.messages.plain, PAPER_SIZES[job.paper]
    tables = run_tables(job)

    def write(fresh: pathlib.Path) -> None:
        for table in tables:
            text = render_rows(table.rows)
            (fresh / f"{table.name}.csv").write_text(text, encoding="utf-8", newline="")
        book = make_workbook(job.title, [(table.title, table.rows) for table in tables])
        (fresh / "run.xlsx").write_bytes(book)
        sheets = draw_run(job, tables)
        title = say("run.title", run=job.title)
        pdf = make_sheets([s.render() for s in sheets], size, title, job.messages)
        (fresh / "run.pdf").write_bytes(pdf)
        labels = []
        for made in job.made:
            own = PackingJob(
                results=made.results,
                packing=made.packing,
                messages=load_messages(getattr(made.results.resolved.said, "language", "en")),
                paper=job.paper,
                gtin=made.gtin,
                domain=domain,
            )
            labels += list(labels_of(own)) * made.quantity
        drawn = draw_labels(labels, job.paper, job.messages)
        title = say("run.labels_title", run=job.title)
        pdf = make_sheets([s.render() for s in drawn], size, title, job.messages)
        (fresh / "carton-labels.pdf").write_bytes(pdf)

    return write_folder(folder, RUN, write, job.title)
