"""Changed inputs for what a workshop does with products: pack them, run them, keep them.

An archive that is forged has its sums put right again: who forges does that too.
"""

from __future__ import annotations

import copy
import hashlib
import io
import json
import pathlib
import random
import sqlite3
import tempfile
import zipfile
from functools import lru_cache

from kdkit.archive import (
    Archive,
    export_revision,
    find,
    new_archive,
    open_archive,
)
from tests.bench.fuzz import files, mutate, spoil, values
from tests.bench.fuzz.corpus import ROOT, World
from tests.bench.fuzz.trees import Pairs, emit, to_tree

__all__ = ["a_run", "a_stock", "an_archive", "an_import", "pack_options"]

_ISSUED = ROOT / "tests" / "golden" / "archive" / "first.sqlite"
_RUN = {
    "run": "Week 49",
    "batch": "W-49",
    "products": [
        {"file": "case.yaml", "quantity": 3, "gtin": "6291041500213"},
        {"file": "case.yaml", "quantity": 1, "set": {"width": 300}},
    ],
    "spares": 5,
    "stock": "stock.csv",
    "currency": "EUR",
    "buy": {"cam-lock-15": {"pack": 10, "price": 1.5}, "dowel-8x35": {"pack": 50}},
}
_CHANGES = tuple(
    do
    for name, do in mutate.CHANGES
    if name in ("drop", "swap_keys", "repeat", "misspell", "typo_in_value", "other_value",
                "other_number", "other_text", "moved")
)  # fmt: skip


def a_run(rng: random.Random, world: World) -> bytes:
    """Return a run's file, more or less changed; it names ``case.yaml`` and ``stock.csv``."""
    tree = to_tree(copy.deepcopy(_RUN))
    assert isinstance(tree, Pairs)
    if rng.random() < 0.6:  # most products have no such parameter
        tree[2][1][1:] = []
    for _ in range(rng.choice((0, 0, 1, 1, 2, 4))):
        rng.choice(_CHANGES)(tree, rng, world)
    text = emit(tree, rng)
    if rng.random() < 0.1:
        text = spoil.spoil_yaml(text, rng)
    return text.encode("utf-8", "surrogatepass")


def a_stock(rng: random.Random) -> bytes:
    """Return a list of stock, as CSV or as a workbook under the name of one."""
    rows = [["article", "amount"], ["cam-lock-15", "4"], ["dowel-8x35", "500"]]
    for _ in range(rng.choice((0, 1, 3))):
        rows.append([values.any_text(rng), rng.choice((str(values.number(rng)), "1,5", "x"))])
    return files.a_table(rows, rng)


def pack_options(rng: random.Random) -> list[str]:
    """Return options of ``pack``."""
    options = rng.choice(
        ([], [], ["--most-mass", "6"], ["--cushion", "0"], ["--interleaf", "20"],
         ["--gtin", "6291041500213"], ["--gtin", "6291041500214"], ["--paper", "letter"],
         ["--most-mass", "nan"], ["--link", "https://example.test/x"])
    )  # fmt: skip
    return list(options)


@lru_cache(maxsize=1)
def _kept() -> tuple[bytes, bytes, bytes]:
    """Return an empty archive, one with a product and its batch, and that product exported."""
    with tempfile.TemporaryDirectory() as folder:
        top = pathlib.Path(folder)
        new_archive(str(top / "new.sqlite"))
        (top / "w.sqlite").write_bytes(_ISSUED.read_bytes())
        archive, _ = open_archive(str(top / "w.sqlite"))
        assert isinstance(archive, Archive)
        (revision,) = find(archive, "Peg shelf").revisions
        export_revision(archive, revision, top / "a.zip")
        archive.close()
        names = ("new.sqlite", "w.sqlite", "a.zip")
        empty, full, packed = ((top / name).read_bytes() for name in names)
        return empty, full, packed


def an_import(rng: random.Random) -> tuple[bytes, bytes]:
    """Return an empty archive and an exported revision that was changed."""
    empty, _, packed = _kept()
    if rng.random() < 0.25:
        return empty, spoil.spoil_bytes(packed, rng)
    with zipfile.ZipFile(io.BytesIO(packed)) as read:
        contents = {name: read.read(name) for name in read.namelist()}
    said = contents.pop("revision.json")
    if rng.random() < 0.6:  # the record, under its new sum
        listed = json.loads(said)
        (entry,) = (one for one in listed["files"] if one["kind"] == "record")
        record = files.a_certificate(contents[f"files/{entry['sum']}"], rng)
        entry["sum"] = hashlib.sha256(record).hexdigest()
        contents[f"files/{entry['sum']}"] = record
        said = json.dumps(listed).encode()
    else:
        said = files.a_certificate(said, rng)
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as write:
        write.writestr("revision.json", said)
        for name, data in contents.items():
            write.writestr(name, data)
    return empty, made.getvalue()


def an_archive(rng: random.Random) -> bytes:
    """Return an archive in which a row was changed past kdkit, or some bytes."""
    full = _kept()[1]
    if rng.random() < 0.3:
        return spoil.spoil_bytes(full, rng)
    connection = sqlite3.connect(":memory:")
    connection.deserialize(full)
    triggers = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    for (name,) in triggers.fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for _ in range(rng.choice((1, 1, 2))):
        table = rng.choice(("revision", "revision_file", "batch", "batch_file", "sent", "content"))
        columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        value = rng.choice(
            (values.any_text(rng).encode("utf-8", "replace").decode(), b"\xff\x00", -1, 10**12,
             "../../evil", "", "[]", "part ZZ", None)
        )  # fmt: skip
        try:
            connection.execute(f"UPDATE {table} SET {rng.choice(columns)} = ?", (value,))
        except sqlite3.Error:
            continue  # two rows may not have the same key, and some may not be empty
    connection.commit()
    raw = connection.serialize()
    connection.close()
    return bytes(raw)
