"""Every command that writes, ended at random moments: the place holds old or new, whole.

    .venv/bin/python tests/bench/bench_kill.py --runs 20
    .venv/bin/python tests/bench/bench_kill.py --modes moves,full,ten --runs 1000

Modes:
  uniform   the real command, a signal at any moment of its time
  delivery  the same, from when it begins to write until its end
  moves     ready files written and moved in by the same code, without the work before
  ten       ten of the command at once into one folder
  full      the disk full at 50 sizes, ready files, and at a few the real command (needs root)

Each run is a process of its own, forked from one that has kdkit imported, so that it costs
no imports. After each, the next claim of the folder must leave nothing beside it; every
tenth time it is a whole undisturbed run. Faults are listed, and the exit status is 1.
"""

from __future__ import annotations

import argparse
import collections
import hashlib
import importlib
import os
import pathlib
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field

ROOT = pathlib.Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from kdkit.cli import main  # noqa: E402
from kdkit.cli.group import COMMANDS as KNOWN  # noqa: E402
from kdkit.delivery import claim_folder, write_folder  # noqa: E402
from tests.products import RING  # noqa: E402

for module, _ in KNOWN.values():
    importlib.import_module(module)  # here, so that the forks need not
importlib.import_module("kdkit.publish.typesetting.pdf")

BOX = """\
kdkit: 1
product: Angle
parameters: {width: 300}
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 200], z: [0, 200], face: +x}
  floor: {board: carcass, x: [side.x1, width], y: [0, 200], z: {from: 0}, face: +z}
joints:
  - {join: floor, to: side, fittings: [{fitting: dowel-8x35}, {fitting: cam-and-bolt, ends: 64}]}
safety: {wall_restraint: none}
"""
LIST = "name,quantity,length,width,thickness,board\nside,2,400,300,18,P2\n"
COMMANDS = {
    "build": ("build box.yaml", "build box.yaml --set width=310"),
    "plan": ("plan ring.yaml", "plan ring2.yaml"),
    "apart": ("apart box.yaml --to-carry", "apart box.yaml --to-carry --set width=310"),
    "workshop": ("workshop box.yaml --files dxf", "workshop box.yaml --files dxf,xlsx"),
    "catalogue": ("catalogue --no-pdf", "catalogue --no-pdf"),
    "new": ("new cabinet", "new cabinet"),
    "start": ("start list.csv", "start list.csv"),
}
"""Each with what gives its one result and its other; the page of joints has only one."""
FILES = ("new", "start")
SIGNALS = {"KILL": signal.SIGKILL, "TERM": signal.SIGTERM, "INT": signal.SIGINT}
Sums = dict[str, str]


def sums(target: pathlib.Path) -> Sums:
    """Return the SHA-256 of a file or of all that is in a folder; nothing if it is not there."""
    if target.is_file():
        return {"": hashlib.sha256(target.read_bytes()).hexdigest()}
    return {
        p.relative_to(target).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        if p.is_file()
        else "folder"
        for p in target.rglob("*")
    }


def started(work: Callable[[], int], said: pathlib.Path) -> int:
    """Do something in a process of its own; return its id."""
    child = os.fork()
    if child:
        return child
    code = 70
    try:
        out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1)
        os.dup2(out, 2)
        code = work()
    except KeyboardInterrupt:
        code = 130
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else 1
    finally:
        with suppress(BaseException):
            sys.stdout.flush()
            sys.stderr.flush()
        os._exit(code)


def ended(child: int) -> int:
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def command(args: list[str]) -> Callable[[], int]:
    def work() -> int:
        sys.argv = ["kdkit", *args]
        main()
        return 0

    return work


def ready(target: pathlib.Path, name: str, files: dict[str, bytes]) -> Callable[[], int]:
    """Return what writes ready files as a command would."""

    def write(fresh: pathlib.Path) -> None:
        for file, text in files.items():
            (fresh / file).parent.mkdir(exist_ok=True)
            (fresh / file).write_bytes(text)

    def work() -> int:
        written, problems = write_folder(target, name, write)
        print(*(p.message for p in problems), *(p.code for p in problems), sep="\n")
        return 0 if written else 1

    return work


@dataclass
class Case:
    """One command with its two results, which take turns in the place."""

    name: str
    folder: pathlib.Path
    works: list[Callable[[], int]]
    whole: list[Sums] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    seconds: float = 0.0
    writing: float = 0.0

    @property
    def target(self) -> pathlib.Path:
        return self.folder / "out"

    @property
    def said(self) -> pathlib.Path:
        return pathlib.Path.cwd() / f"{self.name}-{self.folder.name}.said"  # not on a full disk

    def prepare(self) -> None:
        """Make both results once, undisturbed; measure."""
        self.folder.mkdir()
        states = []
        for work in self.works:
            begun = time.monotonic()
            child = started(work, self.said)
            wrote = self.wait_for_writing(child)
            code = ended(child)
            now = time.monotonic()
            self.seconds, self.writing = now - begun, now - (wrote or now)
            if code not in (0, 1) or not self.target.exists():
                sys.exit(f"{self.name}: {code}: {self.said.read_text()}")
            states.append(sums(self.target))
            if self.name in FILES:
                self.target.unlink()
        self.whole = [{}, states[0]] if self.name in FILES else states

    def wait_for_writing(self, child: int) -> float | None:
        """Return when a run began to write; None: it ended first."""
        new = self.folder / ".out.kdkit-work" / "new"
        while not new.exists():
            if os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
                return None
            time.sleep(0.0002)
        return time.monotonic()

    def now(self) -> int | None:
        """Return which of the results is in place; None: neither, whole."""
        with suppress(OSError):
            found = sums(self.target)
            if found in self.whole:
                return self.whole.index(found)
        return None

    def left(self) -> list[str]:
        return [p.name for p in self.folder.iterdir() if p != self.target]


def disturb(case: Case, number: int, delivery: bool, draw: random.Random, nth: int) -> str:
    """End one run with a signal; return ``old``, ``new`` or ``wrong``."""
    before = case.now()
    if before is None:
        return "wrong"
    if case.name in FILES and before == 1:
        case.target.unlink()
        before = 0
    child = started(case.works[1 - before], case.said)
    if delivery:
        case.wait_for_writing(child)
        delay = draw.uniform(0, case.writing)
    else:
        delay = draw.uniform(0, case.seconds)
    time.sleep(delay)
    with suppress(ProcessLookupError):
        os.kill(child, number)
    code = ended(child)
    after = case.now()
    where = f"{case.name}, signal {number} after {delay * 1000:.2f} ms"
    if after is None:
        case.faults.append(f"{where}: neither old nor new: {sorted(sums(case.target))}")
        return "wrong"
    if code in (0, 1) and (case.left() or "Traceback" in case.said.read_text()):
        case.faults.append(f"{where}: ended {code}, left {case.left()}: {case.said.read_text()}")
    clear(case, nth, where)
    return "new" if after != before or case.whole[0] == case.whole[1] else "old"


def clear(case: Case, nth: int, where: str) -> None:
    """Let a run go undisturbed, or the beginning that all runs share; look beside the folder."""
    if nth % 10 == 0 or case.name in FILES:
        if case.name in FILES:
            case.target.unlink(missing_ok=True)
        begun = time.monotonic()
        code = ended(started(case.works[0], case.said))
        case.seconds = time.monotonic() - begun  # what else the machine does now counts
        if case.now() is None:
            case.faults.append(f"{where}: the next run ended {code}: {case.said.read_text()}")
    else:
        claim, problems = claim_folder(case.target, case.name)
        if claim is None:
            case.faults.append(f"{where}: the next run is refused: {problems}")
        else:
            claim.release()
    if case.left():
        case.faults.append(f"{where}: left behind: {case.left()}")


def ten_at_once(case: Case) -> str:
    """Start ten runs into one folder; return how many wrote."""
    children = []
    for n in range(10):
        said = case.folder.parent / f"ten-{n}"
        children.append((started(case.works[n % 2], said), said))
    wrote = 0
    for child, said in children:
        code, text = ended(child), said.read_text()
        wrote += "output-busy" not in text
        busy = "output-busy" in text
        if code not in ((1,) if busy else (0, 1)) or "Traceback" in text:
            case.faults.append(f"{case.name}, ten at once: {code}: {text}")
    if case.now() is None or case.left():
        case.faults.append(f"{case.name}, ten at once: left {case.left()}")
    return f"{wrote} wrote"


def fill_up(disk: pathlib.Path, free: int) -> pathlib.Path:
    """Leave so many bytes free on a disk; return the file that takes the rest."""
    filler = disk / "filler"
    there = os.statvfs(disk)
    with filler.open("wb") as stream:
        os.posix_fallocate(stream.fileno(), 0, max(1, there.f_bavail * there.f_frsize - free))
    return filler


def full_disk(case: Case, sizes: int) -> collections.Counter[str]:
    """Write with little room left; the results must be the old ones, or the new ones whole."""
    ends: collections.Counter[str] = collections.Counter()
    room = 2 * sum(p.stat().st_size + 4096 for p in case.target.rglob("*"))
    for n in range(sizes):
        free = room * n // sizes
        before = case.now()
        assert before is not None
        filler = fill_up(case.folder.parent, free)
        code = ended(started(case.works[1 - before], case.said))
        text, after = case.said.read_text(), case.now()
        filler.unlink()
        ends["old" if after == before else "new"] += 1
        told = "output-not-written" in text
        if after is None or case.left() or told is not (after == before) or "Traceback" in text:
            case.faults.append(f"{case.name}, {free} bytes free: {code}, {case.left()}: {text}")
            break
    return ends


def inputs(folder: pathlib.Path) -> None:
    (folder / "box.yaml").write_text(BOX, encoding="utf-8")
    (folder / "ring.yaml").write_text(RING, encoding="utf-8")
    other = RING.replace("product: ", "product: Other ")
    (folder / "ring2.yaml").write_text(other, encoding="utf-8")
    (folder / "list.csv").write_text(LIST, encoding="utf-8")


def real(name: str, folder: pathlib.Path) -> Case:
    target = [] if name in FILES else ["--out"]
    works = [command([*args.split(), *target, str(folder / "out")]) for args in COMMANDS[name]]
    return Case(name, folder, works)


def made_ready(name: str, source: pathlib.Path, folder: pathlib.Path) -> Case:
    """Return a case that writes the files which a real run made, and others of like size."""
    files = {
        p.relative_to(source).as_posix(): p.read_bytes()
        for p in source.rglob("*")
        if p.is_file() and p.name != "kdkit-files.json"
    }
    other = {file: text[::-1] for file, text in files.items()}
    target = folder / "out"
    return Case(name, folder, [ready(target, name, files), ready(target, name, other)])


def row(case: Case, mode: str, kind: str, ends: collections.Counter[str], begun: float) -> None:
    told = ", ".join(f"{n} {end}" for end, n in sorted(ends.items()))
    took = time.monotonic() - begun
    print(f"{case.name:<10} {mode:<9} {kind:<5} {told:<28} {len(case.faults):>3}  {took:6.1f} s")
    sys.stdout.flush()


def run(options: argparse.Namespace, top: pathlib.Path) -> list[str]:
    draw = random.Random(options.seed)
    os.chdir(top)
    inputs(top)
    faults: list[str] = []
    print(f"{'command':<10} {'mode':<9} {'with':<5} {'in the place':<28} faults")
    for name in options.commands:
        case = real(name, top / name)
        case.prepare()
        for mode in options.modes:
            ready_case = case
            if mode in ("moves", "full") and name not in FILES:
                if mode == "full" and os.geteuid() != 0:
                    print(f"{name:<10} full      skipped: mounting a disk needs root")
                    continue
                ready_case = made_ready(name, case.target, top / f"{name}-{mode}")
            elif mode in ("moves", "full") or (mode == "ten" and name in FILES):
                continue
            begun = time.monotonic()
            ends: collections.Counter[str] = collections.Counter()
            if mode == "full":
                disk = top / f"{name}-disk"
                disk.mkdir()
                subprocess.run(
                    ["mount", "-t", "tmpfs", "-o", "size=64m", "bench", disk], check=True
                )
                try:
                    ready_case = made_ready(name, case.target, disk / "ready")
                    ready_case.prepare()
                    ends = full_disk(ready_case, 50)
                    row(ready_case, mode, "ready", ends, begun)
                    whole = real(name, disk / "real")
                    whole.prepare()
                    if whole.whole[0] != whole.whole[1]:
                        row(whole, mode, "real", full_disk(whole, min(options.runs, 50)), begun)
                    faults += [*ready_case.faults, *whole.faults]
                finally:
                    subprocess.run(["umount", disk], check=True)
                continue
            if mode == "ten":
                for _ in range(max(1, options.runs // 10)):
                    ends[ten_at_once(case)] += 1
                row(case, mode, "", ends, begun)
                continue
            if ready_case is not case:
                ready_case.prepare()
            for kind in options.signals:
                begun = time.monotonic()
                ends = collections.Counter(
                    disturb(ready_case, SIGNALS[kind], mode == "delivery", draw, n)
                    for n in range(options.runs)
                )
                row(ready_case, mode, kind, ends, begun)
            if ready_case is not case:
                faults += ready_case.faults
        faults += case.faults
    return faults


def read_options() -> argparse.Namespace:
    def several(known: list[str]) -> Callable[[str], list[str]]:
        def read(text: str) -> list[str]:
            if not set(text.split(",")) <= set(known):
                raise argparse.ArgumentTypeError(f"known: {','.join(known)}")
            return text.split(",")

        return read

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=20, help="of each command, mode and signal")
    parser.add_argument("--seed", type=int, default=1)
    for name, known in (
        ("commands", list(COMMANDS)),
        ("modes", ["uniform", "delivery", "moves", "ten", "full"]),
        ("signals", list(SIGNALS)),
    ):
        parser.add_argument(f"--{name}", type=several(known), default=known)
    return parser.parse_args()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="bench-kill-") as scratch:
        found = run(read_options(), pathlib.Path(scratch))
    print(*found, f"{len(found)} faults", sep="\n")
    sys.exit(1 if found else 0)
