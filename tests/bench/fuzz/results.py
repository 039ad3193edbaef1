"""What a command wrote, read again: whole, well formed, and of one mind with itself."""

from __future__ import annotations

import csv
import io
import json
import pathlib
import struct
import zipfile
from collections import Counter
from collections.abc import Iterator
from xml.etree import ElementTree

from tests.bench.fuzz.cases import Case

__all__ = ["read_results"]

Found = tuple[str, str, str]
_BUILD = {"manual.pdf", "manual.html", "cutlist.csv", "drilling.csv", "hardware.csv", "plan.json"}
_LINE_ENDS = "\r\n"


def read_results(case: Case, out: str) -> Iterator[Found]:
    """Yield (kind, where, words) for everything that is wrong with what a command gave."""
    if "--json" in case.argv:
        yield from _of_json(out, f"{case.command} --json")
        return
    listed = [line for line in out.split("\n") if line]
    there = {str(p) for p in pathlib.Path(case.out).rglob("*") if p.is_file()}
    if missing := sorted(set(listed) - there):
        yield "listed but not written", case.command, str(missing[:9])
    for name in sorted(there):
        yield from _of_file(pathlib.Path(name))
    if case.command == "build":
        short = _BUILD - {str(pathlib.PurePath(n).relative_to(case.out)) for n in there}
        if short:
            yield "incomplete", case.command, str(sorted(short))
        else:
            yield from _of_counts(pathlib.Path(case.out))


def _of_json(text: str, where: str) -> Iterator[Found]:
    def refuse(word: str) -> None:
        raise ValueError(f"{word} is not JSON")

    try:
        json.loads(text, parse_constant=refuse)
    except ValueError as fault:
        yield "not JSON", where, f"{fault}\n{text[:500]}"


def _of_file(path: pathlib.Path) -> Iterator[Found]:
    raw, kind = path.read_bytes(), path.suffix
    if not raw:
        yield "empty file", kind, str(path)
    elif kind == ".pdf":
        if not raw.startswith(b"%PDF-") or b"%%EOF" not in raw[-64:]:
            yield "not a PDF", path.name, str(raw[:40])
    elif kind == ".json":
        yield from _of_json(raw.decode("utf-8", "replace"), path.name)
    elif kind == ".svg":
        try:
            ElementTree.fromstring(raw)
        except ElementTree.ParseError as fault:
            yield "not XML", kind, f"{path}: {fault}"
    elif kind == ".glb":
        if raw[:4] != b"glTF" or struct.unpack("<I", raw[8:12])[0] != len(raw):
            yield "not glTF", path.name, str(raw[:20])
    elif kind == ".xlsx":
        with zipfile.ZipFile(path) as package:
            if package.testzip() is not None:
                yield "not a workbook", path.name, ""
    elif kind in (".nc", ".dxf", ".csv", ".html"):
        yield from _of_text(path, raw)


def _of_text(path: pathlib.Path, raw: bytes) -> Iterator[Found]:
    kind = path.suffix
    try:
        text = raw.decode("ascii" if kind == ".nc" else "utf-8-sig")
    except UnicodeDecodeError as fault:
        yield "bytes that do not belong", kind, f"{path}: {fault}"
        return
    bad = sorted({c for c in text if (c < " " or "\x7f" <= c < "\xa0") and c not in _LINE_ENDS})
    if bad:
        at = min(text.index(c) for c in bad)
        near = ascii(text[max(0, at - 60) : at + 40])
        yield "control characters", kind, f"{path}: {bad} near {near}"
    if kind == ".dxf":
        codes = text.split("\n")[:-1:2]
        if any(not code.strip().lstrip("-").isdigit() for code in codes) or "EOF" not in text[-8:]:
            yield "not DXF", kind, str(path)
    elif kind == ".csv":
        widths = {len(row) for row in csv.reader(io.StringIO(text, newline=""))}
        if len(widths) > 1:
            yield "rows of several lengths", path.name, str(widths)


def _of_counts(folder: pathlib.Path) -> Iterator[Found]:
    """Hardware: in all = in the workshop and by steps = by operations = by joints."""
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    by_step: Counter[str] = Counter()
    for step in plan["steps"]:
        by_step.update(step["items"])
    by_work: Counter[str] = Counter()
    for work in plan["operations"]:
        by_work.update(work["items"])
    if +by_step != +by_work:
        yield "plan.json contradicts itself", "items", f"{by_step - by_work} {by_work - by_step}"
    known = {work["id"] for work in plan["operations"]}
    told = [name for step in plan["steps"] for name in step["operations"]]
    if sorted(told) != sorted(known):
        yield "plan.json contradicts itself", "operations", str(sorted(known ^ set(told))[:9])
    with (folder / "hardware.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        name, all_told = row["Item"], int(row["Quantity"])
        steps = sum(int(n) for k, n in row.items() if k.startswith("Step "))
        made = int(row["Fitted in the workshop"])
        if steps + made != all_told:
            yield "hardware.csv contradicts itself", "steps", f"{name}: {row}"
        if steps != by_step[name]:
            yield "hardware.csv contradicts plan.json", "steps", f"{name}: {steps}, {by_step}"
        joints = row.get("Joint or fixture: count") or ""
        by_joint = sum(int(part.rpartition(": ")[2]) for part in joints.split("; ") if part)
        if by_joint != all_told:
            yield "hardware.csv contradicts itself", "joints", f"{name}: {row}"
    if extra := set(+by_step) - {row["Item"] for row in rows}:
        yield "hardware.csv contradicts plan.json", "items", str(sorted(extra))
