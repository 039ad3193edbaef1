"""Customer service in small: three products, six revisions, ten batches, two items superseded.

    .venv/bin/python examples/customer_service.py examples/out/service
    .venv/bin/kdkit desk examples/out/service/workshop.sqlite

The first makes an archive from the definitions in this folder, as a maker would over two years,
notes what callers were sent, and counts everything over again: what a batch has sold, what was
sent, what the tables say. It takes some minutes, for every revision is drawn. The second opens
the desk over it.
"""

from __future__ import annotations

import csv
import io
import pathlib
import random
import re
import sys
from collections import Counter
from collections.abc import Callable, Sequence

from kdkit.archive import (
    Archive,
    Revision,
    all_revisions,
    batches_of,
    count_sent,
    files_of,
    in_force,
    log_sent,
    new_archive,
    open_archive,
    sent_for,
    superseded,
    verify_archive,
)
from kdkit.archive.instead import what_does_not_fit
from kdkit.archive.superseding import Superseded, record_superseded
from kdkit.catalogue import load_catalogue
from kdkit.issuing import failed, issue, make_batch
from kdkit.reprinting import record_of
from kdkit.run import Request
from kdkit.sending import WHY, Asked, choose_sent

HERE = pathlib.Path(__file__).parent
PRODUCTS = {"bookcase.yaml": 600, "hall-bench.yaml": 900, "low-cabinet.yaml": 1200}
"""Definitions, and the width that revision B makes 12 mm larger."""
BATCHES = (2, 1, 2, 2, 1, 2)
"""Of each revision; the counts of products follow in ``SOLD``."""
SOLD = (40, 25, 60, 30, 18, 50, 36, 44, 20, 32)
OWN = """\
items:
  zinc-cam-15: {like: cam-lock-15, title: Zinc cam lock}
  beech-dowel-8x35: {like: dowel-8x35, title: Beech dowel}
"""
SUPERSEDED = (("cam-lock-15", "zinc-cam-15"), ("dowel-8x35", "beech-dowel-8x35"))

Say = Callable[[str], None]


def issue_all(archive: Archive, folder: pathlib.Path, say: Say) -> list[Revision]:
    """Issue revisions A and B of each definition."""
    issued = []
    for name, width in PRODUCTS.items():
        text = (HERE / name).read_text(encoding="utf-8")
        for revision in ("A", "B"):
            wide = width if revision == "A" else width + 12
            said, changed = re.subn(r"(?m)^revision: .*$", f"revision: {revision}", text, count=1)
            said, also = re.subn(rf"(width: \{{value: ){width}\b", rf"\g<1>{wide}", said, count=1)
            assert (changed, also) == (1, 1), f"{name} is not as this script knows it"
            file = folder / name
            file.write_text(said, encoding="utf-8", newline="\n")
            done = issue(archive, Request(file=file))
            if failed(done) or done.revision is None:
                told = done.outcome.problems if done.outcome is not None else ()
                raise SystemExit(f"{name} {revision}: {[*told, *done.problems]}")
            say(f"issued {done.revision.title}")
            issued.append(done.revision)
    return issued


def fill(
    archive: Archive, revisions: Sequence[Revision], own: pathlib.Path, *, draw: random.Random
) -> Counter[tuple[str, str, str]]:
    """Record batches, what is superseded, and notes; return pieces sent by product, batch, item.

    Args:
        own: is written: the maker's catalogue with the items that are sent today.
    """
    sold = iter(SOLD)
    for revision, count in zip(revisions, BATCHES, strict=False):
        for n in range(count):
            number = f"{revision.product.split()[0][:2].upper()}{revision.revision}-{n + 1}"
            done = make_batch(archive, revision, number, count=next(sold), as_issued=True)
            assert not failed(done), done.problems
    own.write_text(OWN, encoding="utf-8")
    catalogue, problems = load_catalogue((own,))
    assert catalogue is not None, problems
    for old, new in SUPERSEDED:
        assert what_does_not_fit(catalogue, old, new) == ()
        title = f"{catalogue.items[new].title} {catalogue.items[new].size}"
        record_superseded(
            archive, Superseded(item=old, instead=new, title=title, since="2026-06-01")
        )
    today = in_force(superseded(archive))
    noted: Counter[tuple[str, str, str]] = Counter()
    for revision in revisions:
        record = record_of(archive, revision)
        items = [line["item"] for line in record["hardware"] if line["supplied"]]
        parts = [f"part {part['letter']}" for part in record["parts"]]
        for batch in batches_of(archive, revision):
            for n in range(max(3, batch.count // 8)):
                item = draw.choice(parts if n % 5 == 4 else items)
                pieces, why = draw.randint(1, 4), draw.choice(WHY)
                sent, wrong = choose_sent(record, [Asked(item, pieces)], why, f"O-{n}", today)
                assert not wrong, wrong
                log_sent(archive, revision, batch, sent)
                noted[revision.product, batch.batch, item] += pieces
    return noted


def differences(archive: Archive, noted: Counter[tuple[str, str, str]]) -> list[str]:
    """Count everything over again by other ways; return in words what differs."""
    found = [problem.message for problem in verify_archive(archive)[1]]
    logged: Counter[tuple[str, str, str]] = Counter()
    for note in sent_for(archive, newest=10**6):
        logged[note.product, note.batch, note.item] += note.quantity
    counted: Counter[tuple[str, str, str]] = Counter()
    for row in count_sent(archive, most=10**6):
        counted[row.product, row.batch, row.item] += row.pieces
        if sum(row.whys.values()) != row.pieces:
            found.append(f"{row.batch} {row.item}: reasons do not add up")
        made = {b.batch: b.count for r in all_revisions(archive) for b in batches_of(archive, r)}
        if row.made != made.get(row.batch, 0):
            found.append(f"{row.batch}: {row.made} made")
    for name, other in (("the log", logged), ("the counts", counted)):
        if other != noted:
            found.append(f"{name}: {(other - noted) + (noted - other)} is otherwise than noted")
    for revision in all_revisions(archive):
        record = record_of(archive, revision)
        (table,) = files_of(archive, revision, paths=("hardware.csv",))
        rows = csv.DictReader(io.StringIO(table.data.decode("utf-8-sig")))
        printed = {row["Item"]: int(row["Quantity"]) for row in rows}
        if printed != {line["item"]: line["quantity"] for line in record["hardware"]}:
            found.append(f"{revision.title}: the table and the record differ")
        for line in record["hardware"]:
            if line["quantity"] != line["fitted"] + sum(line["steps"].values()):
                found.append(f"{revision.title}: {line['item']} is not all used in steps")
    return found


def main() -> int:
    """Make the archive in a folder that is not there yet."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    folder = pathlib.Path(sys.argv[1])
    folder.mkdir(parents=True)
    file = folder / "workshop.sqlite"
    assert new_archive(str(file)) == ()
    archive, _ = open_archive(str(file))
    assert archive is not None
    revisions = issue_all(archive, folder, print)
    noted = fill(archive, revisions, folder / "own.yaml", draw=random.Random(1))
    wrong = differences(archive, noted)
    batches = sum(len(batches_of(archive, r)) for r in revisions)
    print(f"{len(revisions)} revisions, {batches} batches, {len(superseded(archive))} superseded,")
    print(f"{sum(noted.values())} pieces sent; {len(wrong)} numbers differ", *wrong, sep="\n")
    print(f"open the desk:  kdkit desk {file}")
    archive.close()
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
