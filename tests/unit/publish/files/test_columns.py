from __future__ import annotations

from dataclasses import dataclass

from kdkit.publish.files.columns import Column, Number, fixed, mm, per_kind, table_rows
from kdkit.publish.files.tables import render_rows
from kdkit.publish.wording.messages import load_messages


@dataclass(frozen=True)
class Round:
    across: float


@dataclass(frozen=True)
class Square:
    side: float
    title: str


COLUMNS = [
    Column("table.title", per_kind({Round: None, Square: lambda s: s.title})),
    Column("table.diameter", per_kind({Round: lambda r: r.across, Square: None}), mm(2)),
    Column("table.band", per_kind({Round: None, Square: lambda s: s.side}), fixed(1),
           {"side": "left"}),
]  # fmt: skip


def test_a_row_is_blank_where_its_kind_has_nothing() -> None:
    rows = [Round(7.125), Square(-0.04, "=a")]
    table = table_rows(COLUMNS, rows, load_messages("en"))
    assert table == [
        ["Title", "Diameter (mm)", "Band left (mm)"],
        ["", "7.12", ""],
        ["=a", "", "-0.0"],
    ]


def test_numbers_stay_numbers_and_texts_are_guarded() -> None:
    table = table_rows(COLUMNS, [Round(-3.0), Square(-3.0, "-3")], load_messages("en"))
    assert isinstance(table[1][1], Number)
    assert render_rows(table).split("\r\n")[1:3] == [",-3,", "'-3,,-3.0"]
