"""What packs and adds up a run, with texts that try to get out of their place, read back."""

from __future__ import annotations

import csv
import io
import unicodedata
import xml.etree.ElementTree as ET

import openpyxl
import pytest

from kdkit.packing import find_cartons
from kdkit.production.needs import Made, add_up, needs_of, run_panels, to_buy
from kdkit.publish.files.tables import render_rows
from kdkit.publish.packing.carton_labels import draw_labels, labels_of
from kdkit.publish.packing.check_sheet import draw_check
from kdkit.publish.packing.folder import refuse_lot
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.packing.table import packing_rows
from kdkit.publish.production.sheets import draw_run
from kdkit.publish.production.tables import RunJob, run_tables
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop.exchange.spreadsheet import make_workbook
from kdkit.schedule.packing import PackingRules
from kdkit.schedule.sheets import Saw, order_boards
from tests import handmade
from tests.hostile_texts import HOSTILE, hostile_messages, with_text

GTIN = "6291041500213"
SVG = "{http://www.w3.org/2000/svg}"


def packed(text: str, everywhere: bool) -> PackingJob:
    """Return a job in which every free text, or every sentence, is the given one."""
    words = load_messages("en")
    results = with_text(handmade.results(), text)
    return PackingJob(
        results=results,
        packing=find_cartons(results, PackingRules()),
        messages=hostile_messages(words, text) if everywhere else words,
        paper="a4",
        gtin="" if refuse_lot(text, GTIN) else GTIN,  # as both commands ask first
        domain="https://example.test",
    )


def run_of(job: PackingJob, text: str) -> RunJob:
    made = Made(number=1, quantity=2, results=job.results, packing=job.packing, gtin=job.gtin)
    panels, saw = run_panels([made]), Saw()
    orders = order_boards(panels, job.results.catalogue, saw)
    sums = add_up([needs_of(made)], orders, job.results.catalogue)
    needs = to_buy(sums, spares=5, stock={}, purchases={})
    return RunJob(
        title=text, batch=text, currency=text, made=(made,), orders=orders, needs=needs,
        messages=job.messages, paper="a4", panels=panels, saw=saw,
    )  # fmt: skip


@pytest.mark.parametrize("everywhere", [False, True], ids=["titles", "language"])
@pytest.mark.parametrize("name", HOSTILE)
def test_tables_and_sheets_hold_texts_alone(name: str, everywhere: bool) -> None:
    text = HOSTILE[name]
    job = packed(text, everywhere)
    run = run_of(job, text)
    tables = run_tables(run)
    for rows in (packing_rows(job), *(table.rows for table in tables)):
        read = list(csv.reader(io.StringIO(render_rows(rows).removeprefix("\ufeff"), newline="")))
        assert [len(row) for row in read] == [len(row) for row in rows]
        for cell in (cell for row in read for cell in row):
            assert not unicodedata.normalize("NFKC", cell).startswith(("=", "@"))
            assert not any(unicodedata.category(c) in ("Cc", "Cs") for c in cell), ascii(cell)
    book = openpyxl.load_workbook(
        io.BytesIO(make_workbook(text, [(table.title, table.rows) for table in tables]))
    )
    assert len(book.worksheets) == len(tables)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert all(cell.data_type != "f" for cell in cells)
    checks = [sheet for carton in job.packing.cartons for sheet in draw_check(job, carton)]
    labels = draw_labels(labels_of(job), "a4", job.messages)
    for sheet in (*draw_run(run, tables), *checks, *labels):
        drawn = ET.fromstring(sheet.render())
        kinds = {element.tag.removeprefix(SVG) for element in drawn.iter()}
        assert not kinds & {"script", "img", "image", "foreignObject", "a", "style"}
        assert not any(key.startswith("on") for e in drawn.iter() for key in e.attrib)
