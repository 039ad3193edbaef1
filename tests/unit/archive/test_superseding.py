"""What is sent instead of an item: which day, followed to the last, and only what fits."""

from __future__ import annotations

import pathlib

import pytest
from sqlalchemy.exc import SQLAlchemyError

from kdkit.archive import Archive, Superseded, in_force, superseded
from kdkit.archive.instead import what_does_not_fit
from kdkit.archive.opening import ArchiveFailed
from kdkit.archive.superseding import before_it, record_superseded
from kdkit.catalogue import load_catalogue

OWN = """\
items:
  zinc-cam: {like: cam-lock-15, title: Zinc cam lock}
  cam-other-drive: {like: cam-lock-15, drive: hexagon key 4}
  thick-dowel: {like: dowel-8x35, pieces: [{kind: cylinder, z0: -24, z1: 11, d0: 8.5}]}
  smooth-dowel:
    like: dowel-8x35
    pieces:
      - {kind: cone, z0: -24, z1: -23, d0: 6.4, d1: 8}
      - {kind: cylinder, z0: -23, z1: 10, d0: 8}
      - {kind: cone, z0: 10, z1: 11, d0: 8, d1: 6.4}
"""


def row(item: str, instead: str, since: str = "2026-01-01") -> Superseded:
    return Superseded(item=item, instead=instead, title=instead.upper(), since=since)


def test_the_newest_row_of_a_day_holds(archive: Archive) -> None:
    for one in (row("a", "b"), row("a", "c", "2026-06-01"), row("a", "", "2026-09-01")):
        record_superseded(archive, one)
    rows = superseded(archive)
    assert [r.number for r in rows] == [1, 2, 3]
    assert in_force(rows, "2025-12-31") == {}
    assert in_force(rows, "2026-01-01")["a"].instead == "b"
    assert in_force(rows, "2026-06-01")["a"].instead == "c"
    assert in_force(rows, "2026-09-01") == {}
    assert in_force((*rows, row("a", "d", "2026-10-01")), "2026-12-01")["a"].instead == "d"


def test_a_row_of_replacements_is_followed_to_its_end() -> None:
    rows = (row("a", "b"), row("b", "c", "2026-06-01"), row("x", "a"))
    assert in_force(rows, "2026-05-01")["x"].instead == "b"
    assert {i: r.instead for i, r in in_force(rows, "2026-07-01").items()} == {
        "a": "c", "b": "c", "x": "c",
    }  # fmt: skip
    assert set(before_it(rows, "c")) == {"a", "b", "x"}
    ring = (row("a", "b"), row("b", "a"))
    assert in_force(ring, "2026-07-01") == {}  # it comes to an end


def test_a_row_stays_as_it_was_recorded(archive: Archive) -> None:
    record_superseded(archive, row("a", "b"))
    for deed in ("UPDATE superseded SET instead = 'z'", "DELETE FROM superseded"):
        with pytest.raises((SQLAlchemyError, ArchiveFailed)), archive.writing() as connection:
            connection.exec_driver_sql(deed)
    assert superseded(archive)[0].instead == "b"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("cam-lock-15", "zinc-cam", ""),
        ("cam-lock-15", "cam-lock-12", "it is 9 mm long, the other 11 mm"),
        ("dowel-8x35", "dowel-8x30", "it is 30 mm long, the other 35 mm"),
        ("dowel-8x35", "thick-dowel", "it is Ø8.5 across, the other Ø"),
        ("dowel-8x35", "smooth-dowel", "its surface is plain"),
        ("cam-lock-15", "cam-other-drive", "its drive is hexagon key 4"),
        ("rail-socket-closed-25", "rail-socket-open-25", "its bores or its way in"),
    ],
)
def test_only_what_goes_into_the_same_bores_fits(
    old: str, new: str, told: str, tmp_path: pathlib.Path
) -> None:
    file = tmp_path / "own.yaml"
    file.write_text(OWN, encoding="utf-8")
    catalogue, problems = load_catalogue((file,))
    assert catalogue is not None, problems
    said = "; ".join(what_does_not_fit(catalogue, old, new))
    assert told in said
    assert bool(said) is bool(told)


def test_every_shipped_item_fits_for_itself_and_none_for_another() -> None:
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    names = list(catalogue.items)
    assert [n for n in names if what_does_not_fit(catalogue, n, n)] == []
    for one in names:
        assert [n for n in names if n != one and not what_does_not_fit(catalogue, one, n)] == []
