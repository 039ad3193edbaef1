"""``by-hand.pdf``: what a workshop sets without a machine, with tables of the same.

First the settings of a doweling jig, then the stops of saw and drill press, then a sheet for
every part. ``jig-settings.csv`` and ``stops.csv`` hold the tables.
"""

from __future__ import annotations

import pathlib
from collections.abc import Iterable, Sequence

from kdkit.diagnostics import Problem
from kdkit.publish.files.columns import Column, mm, product_columns, table_rows
from kdkit.publish.files.tables import render_rows, surface_words
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.workshop.drawings.drawing_sheet import PAPER_SIZES, DrawingSheet
from kdkit.publish.workshop.handwork.part_sheets import draw_part_sheets
from kdkit.publish.workshop.handwork.setting_words import (
    bit_words,
    depth_words,
    end_words,
    fence_words,
    part_words,
    place_words,
    side_end,
)
from kdkit.publish.workshop.handwork.table_pages import Group, SheetWriter, Table
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.fence_rows import FenceRow, count_changes, fence_rows
from kdkit.schedule.jig_rows import JigRow, jig_rows
from kdkit.schedule.stops import SawStop, Stop, drill_stops, saw_stops
from kdkit.units import mm_text

__all__ = ["draw_by_hand", "write_by_hand"]


def write_by_hand(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write the sheets and both tables."""
    rows = jig_rows(job.panels, job.results.resolved, job.results.joinery)
    stops = drill_stops(row for panel in job.panels for row in fence_rows(panel))
    title = job.messages.plain("workshop.hand_title", product=job.product)
    sheets = [sheet.render() for sheet in draw_by_hand(job)]
    pdf = make_sheets(sheets, PAPER_SIZES[job.paper], title, job.messages)
    (folder / "by-hand.pdf").write_bytes(pdf)
    for name, columns, lines in (
        ("jig-settings.csv", _jig_columns(job), sorted(rows, key=_jig_setting)),
        ("stops.csv", _stop_columns(job), [(s, row) for s in stops for row in s.rows]),
    ):
        told = table_rows([*columns, *product_columns(job.results)], lines, job.messages)
        (folder / name).write_text(render_rows(told), encoding="utf-8", newline="")
    return ()


def draw_by_hand(job: WorkshopJob) -> tuple[DrawingSheet, ...]:
    """Return the sheets: jig, stops, then part by part."""
    say = job.messages.plain
    revision = job.revision or say("workshop.none")
    writer = SheetWriter(
        PAPER_SIZES[job.paper],
        lambda: say("workshop.hand_head", product=job.product, revision=revision),
    )
    writer.new_page()
    writer.words(say("workshop.hand_caution"))
    _draw_jig(writer, jig_rows(job.panels, job.results.resolved, job.results.joinery), job)
    _draw_saw(writer, saw_stops(job.results.schedules.cut), job)
    rows = [row for panel in job.panels for row in fence_rows(panel)]
    _draw_stops(writer, drill_stops(rows), job)
    draw_part_sheets(writer, job)
    writer.number_pages()
    return tuple(writer.sheets)


def _jig_setting(told: JigRow) -> tuple[float, float, float]:
    """Return what is set on the jig: bit, depth, distance."""
    row = told.row
    return (row.kind[0], row.kind[1], round(told.distance, 2))


def _groups(rows: Iterable[JigRow]) -> dict[tuple[float, float, float], list[JigRow]]:
    found: dict[tuple[float, float, float], list[JigRow]] = {}
    for told in sorted(rows, key=_jig_setting):
        found.setdefault(_jig_setting(told), []).append(told)
    return found


def _draw_jig(writer: SheetWriter, rows: Sequence[JigRow], job: WorkshopJob) -> None:
    if not rows:
        return
    say = job.messages.plain
    writer.heading(say("workshop.jig_heading"))
    writer.words(say("workshop.jig_words"))
    columns = (
        (say("workshop.hand_column_part"), 0.22),
        (say("workshop.hand_column_surface"), 0.1),
        (say("workshop.hand_column_fence"), 0.27),
        (say("workshop.hand_column_end"), 0.1),
        (say("workshop.hand_column_places"), 0.18),
        (say("workshop.hand_column_mate"), 0.13),
    )
    groups = []
    for n, found in enumerate(_groups(rows).values(), start=1):
        row = found[0].row
        parts = sum(told.row.panel.cut.quantity for told in found)
        heading = say(
            "workshop.jig_setting",
            n=n,
            bit=bit_words(job.messages, row),
            depth=depth_words(job.messages, row),
            distance=mm_text(found[0].distance, 2),
            rows=len(found),
            count=parts,
        )
        cells = [
            (
                part_words(job, told.row),
                surface_words(job.messages, told.row.view.surface),
                _fence(told, job),
                side_end(job.messages, told.end),
                place_words(told.row.positions),
                _mate_words(told, job),
            )
            for told in found
        ]
        groups.append(Group(heading, cells))
    writer.table(Table(columns, groups))


def _fence(told: JigRow, job: WorkshopJob) -> str:
    """Return what the jig's fence is set against: a face, an edge, or the mate's line."""
    if told.line is None:
        return fence_words(job.messages, told.row)
    return job.messages.plain(
        "workshop.jig_line_beyond" if told.beyond else "workshop.jig_line_before",
        letter=told.mate,
        line=mm_text(told.line, 2),
        side=job.messages.plain(f"sides.{told.line_from}"),
    )


def _mate_words(told: JigRow, job: WorkshopJob) -> str:
    """Return the other member, and how far its end lies in from this one's."""
    say = job.messages.plain
    text = told.mate
    if told.inset is not None and abs(told.inset) > 0.005:
        text += say("workshop.jig_inset", letter=told.mate, inset=mm_text(told.inset, 2))
    return text


def _draw_saw(writer: SheetWriter, stops: Sequence[SawStop], job: WorkshopJob) -> None:
    say = job.messages.plain
    writer.heading(say("workshop.saw_heading"))
    writer.words(say("workshop.saw_words"))
    columns = (
        (say("workshop.saw_column_stop"), 0.16),
        (say("workshop.saw_column_count"), 0.1),
        (say("workshop.saw_column_parts"), 0.74),
    )
    groups = [
        Group(
            say(f"workshop.saw_{kind}", n=len(mine)),
            [
                (
                    mm_text(stop.size, 2),
                    str(stop.count),
                    "; ".join(
                        say("workshop.hand_part", letter=c.letter, title=c.title, n=c.quantity)
                        for c in stop.lines
                    ),
                )
                for stop in mine
            ],
        )
        for kind in ("width", "length")
        if (mine := [stop for stop in stops if stop.kind == kind])
    ]
    writer.table(Table(columns, groups))


def _draw_stops(writer: SheetWriter, stops: Sequence[Stop], job: WorkshopJob) -> None:
    if not stops:
        return
    say = job.messages.plain
    bits, depths, fences = count_changes(stop.rows[0] for stop in stops)
    writer.heading(say("workshop.stop_heading"))
    writer.words(
        say("workshop.stop_words", bits=bits, depths=depths, fences=fences, stops=len(stops))
    )
    columns = (
        (say("workshop.stop_column_stop"), 0.42),
        (say("workshop.saw_column_count"), 0.08),
        (say("workshop.saw_column_parts"), 0.5),
    )
    groups: dict[object, list[Stop]] = {}
    for stop in stops:
        groups.setdefault(stop.rows[0].setting, []).append(stop)
    told = []
    for mine in groups.values():
        row = mine[0].rows[0]
        heading = say(
            "workshop.stop_setting",
            bit=bit_words(job.messages, row),
            depth=depth_words(job.messages, row),
            distance=mm_text(row.distance, 2),
        )
        served: dict[tuple[str, str], list[Stop]] = {}
        for stop in mine:
            parts = "; ".join(_stop_part(r, job) for r in stop.rows)
            served.setdefault((stop.side, parts), []).append(stop)
        cells = [
            (
                say(
                    "workshop.stop_at",
                    side=say(f"sides.{side}"),
                    places=place_words([stop.position for stop in same]),
                ),
                str(sum(r.panel.cut.quantity for r in same[0].rows)),
                parts,
            )
            for (side, parts), same in served.items()
        ]
        told.append(Group(heading, cells))
    writer.table(Table(columns, told))


def _stop_part(row: FenceRow, job: WorkshopJob) -> str:
    return job.messages.plain(
        "workshop.stop_part",
        letter=row.panel.cut.letter,
        n=row.panel.cut.quantity,
        surface=surface_words(job.messages, row.view.surface),
        fence=fence_words(job.messages, row),
    )


def _jig_columns(job: WorkshopJob) -> list[Column]:
    messages = job.messages
    return [
        Column("table.letter", lambda t: t.row.panel.cut.letter),
        Column("table.title", lambda t: t.row.panel.cut.title),
        Column("table.quantity", lambda t: t.row.panel.cut.quantity),
        Column("workshop.hand_column_surface",
               lambda t: surface_words(messages, t.row.view.surface)),
        Column("workshop.layer_diameter", lambda t: t.row.kind[0], mm(2)),
        Column("workshop.hand_column_depth", lambda t: None if t.row.kind[2] else t.row.kind[1],
               mm(2)),
        Column("workshop.hand_column_fence", lambda t: _fence(t, job)),
        Column("workshop.hand_column_distance", lambda t: t.distance, mm(2)),
        Column("workshop.hand_column_end", lambda t: side_end(messages, t.end)),
        Column("workshop.hand_column_places", lambda t: place_words(t.row.positions)),
        Column("workshop.hand_column_mate", lambda t: t.mate),
        Column("workshop.hand_column_line", lambda t: t.line, mm(2)),
    ]  # fmt: skip


def _stop_columns(job: WorkshopJob) -> list[Column]:
    messages = job.messages
    return [
        Column("workshop.layer_diameter", lambda t: t[1].kind[0], mm(2)),
        Column("workshop.hand_column_depth", lambda t: None if t[1].kind[2] else t[1].kind[1],
               mm(2)),
        Column("workshop.hand_column_distance", lambda t: t[1].distance, mm(2)),
        Column("workshop.stop_column_side", lambda t: messages.plain(f"sides.{t[0].side}")),
        Column("workshop.stop_column_place", lambda t: t[0].position, mm(2)),
        Column("table.letter", lambda t: t[1].panel.cut.letter),
        Column("table.quantity", lambda t: t[1].panel.cut.quantity),
        Column("workshop.hand_column_surface",
               lambda t: surface_words(messages, t[1].view.surface)),
        Column("workshop.hand_column_fence", lambda t: fence_words(messages, t[1])),
        Column("workshop.hand_column_end", lambda t: end_words(messages, t[1])),
    ]  # fmt: skip
