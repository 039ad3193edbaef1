"""``packing.csv``: every piece in its place, in the order in which it goes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from kdkit.publish.files.columns import Column, fixed, mm, product_columns, table_rows
from kdkit.publish.packing.job import PackingJob
from kdkit.publish.wording.messages import Messages
from kdkit.schedule.packing import Carton, Packing, Piece, Placed

__all__ = ["Row", "packing_rows", "piece_title", "rows_of"]


@dataclass(frozen=True)
class Row:
    """A piece with its carton and the number of its layer, from the bottom."""

    carton: Carton
    layer: int
    placed: Placed


def rows_of(packing: Packing) -> Iterator[Row]:
    """Yield every piece in the order in which it goes in."""
    for carton in packing.cartons:
        for n, layer in enumerate(carton.layers, start=1):
            for placed in layer.placed:
                yield Row(carton, n, placed)


def piece_title(piece: Piece, messages: Messages) -> str:
    """Return a piece in words."""
    return messages.plain("packing.hardware_box") if piece.is_hardware else piece.title


def packing_rows(job: PackingJob) -> list[list[object]]:
    """Return the rows of ``packing.csv``; places are of a lower corner, from a lower corner of
    the contents."""
    say = job.messages.plain

    def wrapped(row: Row) -> str:
        return say("table.yes") if row.placed.piece.wrapped else say("table.no")

    columns = [
        Column("packing.column_carton", lambda row: row.carton.number),
        Column("packing.column_layer", lambda row: row.layer),
        Column("table.letter", lambda row: row.placed.piece.mark),
        Column("table.title", lambda row: piece_title(row.placed.piece, job.messages)),
        Column("packing.column_parts", lambda row: "; ".join(row.placed.piece.parts)),
        Column("packing.column_length", lambda row: row.placed.piece.size[0], mm(1)),
        Column("packing.column_width", lambda row: row.placed.piece.size[1], mm(1)),
        Column("packing.column_height", lambda row: row.placed.piece.size[2], mm(1)),
        Column("packing.column_mass", lambda row: row.placed.piece.mass_kg, fixed(3)),
        Column("packing.column_x", lambda row: row.placed.box[0], mm(1)),
        Column("packing.column_y", lambda row: row.placed.box[1], mm(1)),
        Column("packing.column_z", lambda row: row.placed.box[2], mm(1)),
        Column(
            "packing.column_across",
            lambda row: say("table.yes") if row.placed.turned else say("table.no"),
        ),
        Column("packing.column_wrapped", wrapped),
        Column("packing.column_step", lambda row: row.placed.piece.first or None),
        *product_columns(job.results),
    ]
    return table_rows(columns, rows_of(job.packing), job.messages)
