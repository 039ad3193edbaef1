"""An archive under knives and under load: what is lost, and how long an answer takes.

    .venv/bin/python tests/bench/bench_archive.py --kills 300
    .venv/bin/python tests/bench/bench_archive.py --revisions 10000 --notes 1000000
    .venv/bin/python tests/bench/bench_archive.py --clerks 20 --seconds 60

Kills: a process that issues a revision is ended (SIGKILL) at a random moment of its work; then
the archive must verify, and hold that revision whole or not at all. Size: an archive of so
many revisions and notes; the time of a search by name, by batch, misspelt, and of a reprint;
disk use. Clerks: so many processes at once that look up and note; every note must be there.
Faults are listed, and the exit status is 1.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import pathlib
import random
import signal
import statistics
import sys
import tempfile
import time
import zlib
from collections.abc import Callable
from dataclasses import replace

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

import sqlalchemy as sa

from kdkit.archive import (
    IssuedFile,
    Revision,
    Sent,
    count_sent,
    files_of,
    find,
    find_said,
    log_sent,
    new_archive,
    open_archive,
    sent_for,
    store_revision,
    verify_archive,
)
from kdkit.archive.issued import key_of
from kdkit.archive.opening import Archive
from kdkit.archive.tables import BATCH, CONTENT, REVISION, REVISION_FILE, SENT
from kdkit.desk.app import make_app
from kdkit.desk.shared import Desk

WORDS = ("ash", "reed", "moss", "kiln", "quern", "fern", "lode", "tarn", "wold", "heron")
KINDS = ("bench", "shelf", "rack", "chest", "desk", "stool", "cabinet", "table")


def opened(file: pathlib.Path) -> Archive:
    archive, problems = open_archive(str(file))
    assert archive is not None, problems
    return archive


def revision(name: str, which: str) -> Revision:
    return Revision(
        product=name, revision=which, variant="", settings={"set": {}, "paper": "a4"},
        definition="x.yaml", written_by="kdkit bench",
    )  # fmt: skip


def issue_random(file: pathlib.Path, number: int, size: int) -> None:
    draw = random.Random(number)
    files = [
        IssuedFile(kind="manual", path=f"{n}.bin", data=draw.randbytes(size)) for n in range(20)
    ]
    archive = opened(file)
    store_revision(archive, revision("Random", str(number)), files)
    os._exit(0)


def kills(file: pathlib.Path, count: int, draw: random.Random) -> list[str]:
    context = multiprocessing.get_context("fork")
    size = 100_000
    began = time.perf_counter()
    child = context.Process(target=issue_random, args=(file, -1, size))
    child.start()
    child.join()
    whole = time.perf_counter() - began
    faults, there = [], 0
    for number in range(count):
        child = context.Process(target=issue_random, args=(file, number, size))
        child.start()
        time.sleep(draw.uniform(0, whole * 1.1))
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        archive = opened(file)
        found = [r for r in find(archive, "Random").revisions if r.revision == str(number)]
        there += bool(found)
        if found and len(files_of(archive, found[0])) != 20:
            faults.append(f"kill {number}: half a revision")
        archive.close()
    archive = opened(file)
    read, problems = verify_archive(archive)
    faults += [p.message for p in problems]
    if read != there + 1:
        faults.append(f"{read} verified, {there + 1} found")
    archive.close()
    print(f"{count} kills within {whole * 1000:.0f} ms each: {there} whole, the rest not there")
    return faults


def fill(file: pathlib.Path, revisions: int, notes: int, draw: random.Random) -> None:
    """Put rows in as the archive itself would, many at a time."""
    archive = opened(file)
    first, _ = store_revision(
        archive, revision("First", "A"), [IssuedFile(kind="manual", path="m", data=b"m" * 200_000)]
    )
    assert first is not None
    with archive.writing() as connection:
        rows, batches = [], []
        for n in range(revisions):
            name = f"{draw.choice(WORDS)} {draw.choice(KINDS)} {n // 4}".capitalize()
            rows.append(
                {"id": n + 2, "product": name, "product_key": key_of(name),
                 "revision": "ABCD"[n % 4], "revision_key": "abcd"[n % 4],
                 "variant": "", "variant_key": "", "settings": "{}",
                 "definition": "x", "written_by": "kdkit bench", "issued": f"2026-{n:06}",
                 "seal": "0" * 64}
            )  # fmt: skip
            if n % 4 == 0:
                kept = name
            rows[-1]["product"], rows[-1]["product_key"] = kept, key_of(kept)
            batches.append(
                {"id": n + 1, "revision_id": n + 2, "product_key": key_of(kept),
                 "batch": f"BT-{n}", "batch_key": f"bt-{n}", "count": 10, "made": "", "own": True,
                 "recorded": "2026", "seal": "0" * 64}
            )  # fmt: skip
        connection.execute(REVISION.insert(), rows)
        connection.execute(BATCH.insert(), batches)
        for start in range(0, notes, 50_000):
            some = [
                {"at": "2026", "revision_id": n % revisions + 2, "batch_id": n % revisions + 1,
                 "item": f"item-{n % 300}", "title": "Cam", "quantity": 2, "why": "missing",
                 "reference": None}
                for n in range(start, min(start + 50_000, notes))
            ]  # fmt: skip
            connection.execute(SENT.insert(), some)
        # One record for all of them, so that each has a page at the desk.
        told = json.dumps({"form": 1, "hardware": [], "parts": [], "steps": []}).encode()
        name = hashlib.sha256(told).hexdigest()
        row = {"sum": name, "size": len(told), "packed": zlib.compress(told)}
        connection.execute(CONTENT.insert(), [row])
        records = [
            {"revision_id": n + 2, "kind": "record", "path": "record.json", "sum": name}
            for n in range(revisions)
        ]
        connection.execute(REVISION_FILE.insert(), records)
    archive.close()


def answers(file: pathlib.Path) -> None:
    archive = opened(file)
    with archive.reading() as connection:
        middle = connection.execute(sa.select(REVISION.c.product).offset(5000).limit(1)).scalar()
    assert middle is not None
    (first,) = find(archive, "First").revisions
    asked: dict[str, Callable[[], object]] = {
        "open": lambda: opened(file).close(),
        "by name": lambda: find(archive, middle),
        "by batch": lambda: find(archive, "BT-7777"),
        "by the beginning of a name": lambda: find(archive, middle[:6]),
        "misspelt": lambda: find(archive, middle[:-4] + "zq" + middle[-2:]),
        "files of a revision": lambda: files_of(archive, first),
        "notes of a revision": lambda: sent_for(archive, replace(first, number=5000)),
        "newest notes": lambda: sent_for(archive, newest=100),
        "a label's code": lambda: find_said(archive, f"{middle}|A|BT-5000|1"),
        "words and a revision": lambda: find_said(archive, f"{middle} C"),
        "words and no revision": lambda: find_said(archive, f"{middle} Q"),
        "counts of a product": lambda: count_sent(archive, find(archive, middle).revisions),
        "counts of all": lambda: count_sent(archive),
    }
    client = make_app(Desk(archive=archive, folder=file.parent)).test_client()
    for address in (
        "/", f"/?q={middle}", f"/?q={middle[:-4]}zq{middle[-2:]}", "/revision/5000",
        "/batch/5000", "/batch/5000/send", f"/log?product={middle}", "/log",
    ):  # fmt: skip
        asked[f"GET {address}"] = lambda address=address: client.get(address)  # type: ignore[misc]
    print(f"{file.stat().st_size / 1e6:.0f} MB")
    for name, ask in asked.items():
        times = []
        for _ in range(7):
            began = time.perf_counter()
            ask()
            times.append(time.perf_counter() - began)
        print(f"{name:36} {statistics.median(times) * 1000:7.1f} ms")
    archive.close()


def clerk(file: pathlib.Path, number: int, seconds: float, said: pathlib.Path) -> None:
    archive = opened(file)
    noted, slowest, ends = 0, 0.0, time.monotonic() + seconds
    while time.monotonic() < ends:
        began = time.perf_counter()
        (there,) = find(archive, "Desk one").revisions
        sent = Sent(number=0, at="", revision="", batch="", item=f"item-{number}", title="Cam",
                    quantity=1, why="missing", reference="")  # fmt: skip
        log_sent(archive, there, None, [sent])
        noted, slowest = noted + 1, max(slowest, time.perf_counter() - began)
        time.sleep(0.05)
    said.write_text(f"{noted} {slowest}")
    archive.close()
    os._exit(0)


def clerks(file: pathlib.Path, count: int, seconds: float) -> list[str]:
    archive = opened(file)
    there, _ = store_revision(
        archive, revision("Desk one", "A"), [IssuedFile(kind="manual", path="m", data=b"m")]
    )
    assert there is not None
    context = multiprocessing.get_context("fork")
    said = [file.parent / f"clerk-{n}" for n in range(count)]
    children = [
        context.Process(target=clerk, args=(file, n, seconds, said[n])) for n in range(count)
    ]
    for child in children:
        child.start()
    for child in children:
        child.join()
    told = [s.read_text().split() if s.exists() else ["0", "inf"] for s in said]
    noted = sum(int(n) for n, _ in told)
    found = len(sent_for(archive, there, newest=10**7))
    archive.close()
    slowest = max(float(s) for _, s in told)
    print(f"{count} clerks, {seconds:.0f} s: {noted} notes, slowest {slowest:.2f} s")
    return [] if noted == found and noted else [f"{noted} noted, {found} found"]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--revisions", type=int, default=0)
    parser.add_argument("--notes", type=int, default=0)
    parser.add_argument("--clerks", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    faults: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "a.sqlite"
        assert new_archive(str(file)) == ()
        draw = random.Random(asked.seed)
        if asked.kills:
            faults += kills(file, asked.kills, draw)
        if asked.clerks:
            faults += clerks(file, asked.clerks, asked.seconds)
        if asked.revisions:
            fill(file, asked.revisions, asked.notes, draw)
            answers(file)
    print(f"{len(faults)} faults", *faults, sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
