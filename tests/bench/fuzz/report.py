"""What all cases came to: tallies, the groups of failures, and a folder for each group."""

from __future__ import annotations

import hashlib
import json
import pathlib
import shlex
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

from kdkit.diagnostics import CODES
from tests.bench.fuzz.cases import Case
from tests.bench.fuzz.judge import Failure
from tests.bench.fuzz.workers import Result

__all__ = ["Tally", "summary", "write_group"]

_VERDICTS = {0: "fine", 1: "problems", 2: "usage"}


@dataclass
class Tally:
    """Sums over results; it can be written and read again."""

    cases: Counter[str] = field(default_factory=Counter)
    verdicts: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    codes: Counter[str] = field(default_factory=Counter)
    groups: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    counts: Counter[str] = field(default_factory=Counter)
    memory: int = 0
    slowest: tuple[float, str] = (0.0, "")
    seconds: float = 0.0
    digests: dict[str, str] = field(default_factory=dict)

    def add(self, kind: str, result: Result, *, sampled: bool) -> list[Failure]:
        """Count a result in; return failures of groups that are new."""
        name = f"{kind}:{result.number}"
        self.cases[result.command] += 1
        verdict = "fault" if result.failures else _VERDICTS.get(result.status or 0, "fault")
        self.verdicts[result.command][verdict] += 1
        self.codes.update(result.codes)
        self.memory = max(self.memory, result.memory)
        self.slowest = max(self.slowest, (result.seconds, name))
        self.seconds += result.seconds
        if sampled and result.digest:
            self.digests[name] = result.digest
        fresh = []
        for failure in result.failures:
            if failure.group not in self.groups:
                fresh.append(failure)
            self.counts[failure.group] += 1
            if len(self.groups[failure.group]) < 20:
                self.groups[failure.group].append(name)
        return fresh

    def as_data(self) -> dict[str, Any]:
        """Return everything as plain data."""
        return {
            "cases": self.cases,
            "verdicts": self.verdicts,
            "codes": self.codes,
            "groups": self.groups,
            "counts": self.counts,
            "memory": self.memory,
            "slowest": self.slowest,
            "seconds": self.seconds,
            "digests": self.digests,
        }

    def merge(self, data: dict[str, Any]) -> None:
        """Add what another tally wrote."""
        self.cases.update(data["cases"])
        for command, verdicts in data["verdicts"].items():
            self.verdicts[command].update(verdicts)
        self.codes.update(data["codes"])
        for group, names in data["groups"].items():
            self.groups[group] = [*self.groups[group], *names][:20]
        self.counts.update(data["counts"])
        self.memory = max(self.memory, data["memory"])
        self.slowest = max(self.slowest, tuple(data["slowest"]))
        self.seconds += data["seconds"]
        self.digests.update(data["digests"])


def summary(tally: Tally, *, wall: float, digest: str, seed: int, unlike: list[str]) -> str:
    """Return the whole as text; its last line is the sum of it."""
    lines = [f"corpus {digest}, seed {seed}"]
    for command in sorted(tally.cases):
        said = ", ".join(f"{n} {word}" for word, n in sorted(tally.verdicts[command].items()))
        lines.append(f"  {command}: {tally.cases[command]} cases: {said}")
    never = sorted(set(CODES) - set(tally.codes))
    lines.append(f"  codes hit: {len(set(CODES) & set(tally.codes))} of {len(CODES)}")
    lines.append(f"  codes never hit: {', '.join(never) or 'none'}")
    for group, count in tally.counts.most_common():
        lines.append(f"  {count} × {group}: {', '.join(tally.groups[group][:5])}")
    lines += [f"  other bytes in another process: {name}" for name in unlike]
    hangs = sum(n for g, n in tally.counts.items() if g.startswith(("hang", "waits")))
    grown = sum(n for g, n in tally.counts.items() if g.startswith("memory"))
    faults = sum(tally.counts.values()) - hangs - grown
    cases = sum(tally.cases.values())
    lines.append(
        f"{cases} cases ({', '.join(f'{c} {n}' for c, n in sorted(tally.cases.items()))}); "
        f"{faults} faults, {hangs} hangs, {grown} past the memory, {len(unlike)} of "
        f"{len(tally.digests)} not alike twice; {len(tally.counts)} groups; "
        f"peak {tally.memory // 1_000_000} MB; slowest {tally.slowest[0]:.1f} s "
        f"({tally.slowest[1]}); {tally.seconds:.0f} s of work, {wall:.0f} s in all, "
        f"{cases / max(wall, 1e-9):.0f} cases/s"
    )
    return "\n".join(lines)


def write_group(out: pathlib.Path, failure: Failure, case: Case, smaller: Case) -> pathlib.Path:
    """Write a failing case, as it was and made smaller, with its command and traceback."""
    short = "".join(c if c.isalnum() else "-" for c in failure.group)[:80]
    mark = hashlib.sha256(failure.group.encode()).hexdigest()[:6]
    folder = out / "groups" / f"{short}-{mark}"
    folder.mkdir(parents=True, exist_ok=True)
    for name, raw in smaller.files.items():
        (folder / name).write_bytes(raw)
    whole = folder / "as-it-was"
    whole.mkdir(exist_ok=True)
    for name, raw in case.files.items():
        (whole / name).write_bytes(raw)
    said = [f"case: {case.name}", f"origin: {case.origin}", f"group: {failure.group}"]
    said += [f"command: kdkit {shlex.join(case.argv)}", f"before: {case.before or 'no folder'}"]
    (folder / "failure.txt").write_text(
        "\n".join([*said, "", failure.text, ""]), encoding="utf-8", errors="backslashreplace"
    )
    (folder / "case.json").write_text(
        json.dumps({"argv": list(case.argv), "out": case.out, "before": case.before}),
        encoding="utf-8",
    )
    return folder
