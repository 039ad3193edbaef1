"""The command line of the fuzzer; see the package's docstring."""

from __future__ import annotations

import argparse
import gc
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from typing import Any

from tests.bench.fuzz.cases import KINDS, Case, make_case
from tests.bench.fuzz.corpus import ROOT, World, load_world
from tests.bench.fuzz.judge import Failure, Templates, make_templates, run_case
from tests.bench.fuzz.reduce import reduce_case
from tests.bench.fuzz.report import Tally, summary, write_group
from tests.bench.fuzz.workers import Limits, run_alone, run_batches

BATCH = {"check": 250, "long": 25, "files": 250, "shop": 25}
LIMITS = {
    "check": Limits(seconds=20),
    "long": Limits(seconds=120),
    "files": Limits(seconds=20),
    "shop": Limits(seconds=120),
}
TWICE = {"check": 100, "long": 50, "files": 50, "shop": 50}
"""Every so many cases one is run again in another process, with other hashes."""
TOLD_EVERY = 20.0


def read_range(text: str) -> tuple[int, int]:
    """Read ``N`` or ``FROM:TO``."""
    first, colon, last = text.partition(":")
    return (int(first), int(last)) if colon else (0, int(first))


def main() -> int:
    """Run what is asked; return 1 if anything failed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.fuzz",
        description=sys.modules["tests.bench.fuzz"].__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--check", type=read_range, default=(0, 0), metavar="N|FROM:TO")
    parser.add_argument("--long", type=read_range, default=(0, 0), metavar="N|FROM:TO")
    parser.add_argument("--files", type=read_range, default=None, metavar="N|FROM:TO")
    parser.add_argument("--shop", type=read_range, default=(0, 0), metavar="N|FROM:TO")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=pathlib.Path, help="folder for what failed, and the state")
    parser.add_argument("--no-reduce", action="store_true", help="keep failing inputs as they are")
    parser.add_argument("--show", metavar="KIND:NUMBER", help="write one case's files")
    parser.add_argument("--again", metavar="KIND:NUMBER", help="run one case and tell all")
    parser.add_argument("--digests", metavar="NAMES", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    world = load_world()
    if asked.show or asked.again:
        return _one(asked, world)
    with tempfile.TemporaryDirectory(prefix="kdkit-fuzz-earlier-") as earlier:
        templates = _templates(pathlib.Path(earlier), world)
        if asked.digests:
            return _digests(asked, world, templates)
        if asked.out is None:
            parser.error("--out is needed")
        return _run(asked, world, templates)


def _templates(folder: pathlib.Path, world: World) -> Templates:
    """Run each command once: it warms what is kept, and gives folders to write over."""
    two = next(s for s in world.small if s.name.endswith("two-boards.yaml"))
    return make_templates(folder, two.text.encode(), world.certificate[0])


def _run(asked: argparse.Namespace, world: World, templates: Templates) -> int:
    out: pathlib.Path = asked.out
    out.mkdir(parents=True, exist_ok=True)
    state = out / "done.jsonl"
    tally, done = Tally(), set()
    for line in state.read_text(encoding="utf-8").splitlines() if state.exists() else ():
        data = json.loads(line)
        if data["corpus"] != world.digest or data["seed"] != asked.seed:
            print(f"{out} holds a run of another corpus or seed; name another folder")
            return 2
        done.add(tuple(data["batch"]))
        tally.merge(data["tally"])
    ranges = {"check": asked.check, "long": asked.long, "files": asked.files or asked.long}
    ranges["shop"] = asked.shop
    total = sum(last - first for first, last in ranges.values())
    print(f"corpus {world.digest}, seed {asked.seed}, {total} cases, {len(done)} batches done")
    gc.collect()
    gc.freeze()
    start = told = time.monotonic()
    work = _batches(ranges, done, asked.seed, world)
    before = sum(tally.cases.values())
    for key, results in run_batches(work, templates, asked.workers):
        kind = key[0]
        mine = Tally()
        for result in results:
            sampled = result.number % TWICE[kind] == 0
            mine.add(kind, result, sampled=sampled)
            for failure in result.failures:
                if failure.group not in tally.groups:
                    tally.groups[failure.group] = []
                    _write(failure, kind, result.number, asked, world, templates)
        tally.merge(mine.as_data())
        with state.open("a", encoding="utf-8") as file:
            said = {"batch": key, "corpus": world.digest, "seed": asked.seed}
            file.write(json.dumps({**said, "tally": mine.as_data()}) + "\n")
        if time.monotonic() - told > TOLD_EVERY:
            told = time.monotonic()
            cases = sum(tally.cases.values())
            print(
                f"{told - start:.0f} s: {cases} of {total} cases, "
                f"{(cases - before) / (told - start):.0f}/s, {len(tally.counts)} groups",
                flush=True,
            )
    unlike = _twice(tally, asked)
    text = summary(
        tally, wall=time.monotonic() - start, digest=world.digest, seed=asked.seed, unlike=unlike
    )
    (out / "summary.txt").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 1 if tally.counts or unlike else 0


def _batches(
    ranges: dict[str, tuple[int, int]], done: set[Any], seed: int, world: World
) -> Iterator[Any]:
    for kind in ("long", "shop", "files", "check"):
        first, last = ranges[kind]
        for at in range(first, last, BATCH[kind]):
            until = min(at + BATCH[kind], last)
            if (kind, at, until) not in done:
                make = partial(_make, seed, kind, world)
                yield (kind, at, until), list(range(at, until)), make, LIMITS[kind]


def _make(seed: int, kind: str, world: World, number: int) -> Case:
    return make_case(seed, kind, number, world)


def _write(
    failure: Failure,
    kind: str,
    number: int,
    asked: argparse.Namespace,
    world: World,
    templates: Templates,
) -> None:
    case = make_case(asked.seed, kind, number, world)
    smaller = case
    slow = failure.kind.startswith(("hang", "waits", "memory"))
    if not asked.no_reduce and not slow:

        def fails(other: Case) -> bool:
            result = run_alone(other, templates, replace(LIMITS[kind], seconds=10))
            return any(f.group == failure.group for f in result.failures)

        smaller = reduce_case(case, fails, tries=150 if kind == "check" else 40)
    folder = write_group(asked.out, failure, case, smaller)
    print(f"{case.name}: {failure.group}\n  {folder}", flush=True)


def _twice(tally: Tally, asked: argparse.Namespace) -> list[str]:
    """Run the sampled cases in another process, with other hashes; return those unlike."""
    if not tally.digests:
        return []
    names = asked.out / "twice.json"
    names.write_text(json.dumps(sorted(tally.digests)), encoding="utf-8")
    argv = [sys.executable, "-m", "tests.bench.fuzz", "--seed", str(asked.seed)]
    argv += ["--digests", str(names), "--workers", str(asked.workers)]
    env = {**os.environ, "PYTHONHASHSEED": "4711", "PYTHONPATH": str(ROOT)}
    run = subprocess.run(argv, cwd=ROOT, env=env, capture_output=True, text=True, check=False)
    if run.returncode:
        return [f"the second run failed: {run.stderr[-500:]}"]
    again = json.loads(run.stdout)
    return sorted(n for n, d in tally.digests.items() if again.get(n) != d)


def _digests(asked: argparse.Namespace, world: World, templates: Templates) -> int:
    names = json.loads(pathlib.Path(asked.digests).read_text(encoding="utf-8"))
    found = {}

    def batches() -> Iterator[Any]:
        for kind in KINDS:
            numbers = [int(n.partition(":")[2]) for n in names if n.startswith(f"{kind}:")]
            for at in range(0, len(numbers), BATCH[kind]):
                make = partial(_make, asked.seed, kind, world)
                yield kind, numbers[at : at + BATCH[kind]], make, LIMITS[kind]

    for kind, results in run_batches(batches(), templates, asked.workers):
        found.update({f"{kind}:{r.number}": r.digest for r in results})
    print(json.dumps(found))
    return 0


def _one(asked: argparse.Namespace, world: World) -> int:
    kind, _, number = (asked.show or asked.again).partition(":")
    case = make_case(asked.seed, kind, int(number), world)
    print(f"{case.name}: {case.origin}\nkdkit {' '.join(case.argv)}\nbefore: {case.before}")
    if asked.show:
        folder = asked.out or pathlib.Path(tempfile.mkdtemp(prefix="kdkit-case-"))
        folder.mkdir(parents=True, exist_ok=True)
        for name, raw in case.files.items():
            (folder / name).write_bytes(raw)
            print(folder / name)
        return 0
    with tempfile.TemporaryDirectory(prefix="kdkit-fuzz-earlier-") as earlier:
        needs = case.before == "result"
        templates = _templates(pathlib.Path(earlier), world) if needs else {}
        verdict = run_case(case, templates)
    print(f"status {verdict.status}, {verdict.seconds:.2f} s, codes {', '.join(verdict.codes)}")
    for failure in verdict.failures:
        print(f"{failure.group}\n{failure.text}")
    return 1 if verdict.failures else 0


if __name__ == "__main__":
    sys.exit(main())
