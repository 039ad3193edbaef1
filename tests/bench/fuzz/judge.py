"""One case through the command in this process, and everything that must never come of it.

A failure is one of: an exception; an exit status other than 0, 1, 2; a warning of Python or a
line of its logging; control characters on the terminal; a problem without a place or without
words; a status that its output does not bear out; a refusal that touched the folder for the
results; a result that is incomplete, cannot be read again, or contradicts itself. (Hangs and
memory are seen from outside, ``workers.py``.)
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import logging
import os
import pathlib
import shutil
import sys
import tempfile
import time
import traceback
import unicodedata
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import kdkit
from kdkit.cli import commands, show
from kdkit.definition.tree import parse_tree
from kdkit.diagnostics import Problem, Severity
from tests.bench.fuzz.cases import Case
from tests.bench.fuzz.results import read_results

__all__ = ["Failure", "Templates", "Verdict", "make_templates", "run_case"]

_HOME = str(pathlib.Path(kdkit.__file__).parent)
_UNPLACED = ("output-", "unknown-part", "unknown-joint", "unknown-variant", "unknown-parameter",
             "part-stays", "piece-too-large", "same-part-twice", "library-missing", "archive-",
             "revision-", "batch-", "item-", "carton-")  # fmt: skip
"""Codes that may be about what the command line says, which has no line."""

Templates = dict[str, pathlib.Path]


@dataclass(frozen=True)
class Failure:
    """What must not be: its kind, where in kdkit (or of what), and the whole of it."""

    kind: str
    where: str
    text: str

    @property
    def group(self) -> str:
        """Return what failures that are alike have in common."""
        return f"{self.kind} | {self.where}"


@dataclass
class Verdict:
    """What came of a case."""

    status: int | None = None
    codes: tuple[str, ...] = ()
    failures: list[Failure] = field(default_factory=list)
    digest: str = ""
    seconds: float = 0.0


@dataclass
class _Seen:
    problems: list[Problem] = field(default_factory=list)
    noises: list[Failure] = field(default_factory=list)


def run_case(case: Case, templates: Templates) -> Verdict:
    """Run a case in a folder of its own, and judge it."""
    home = os.getcwd()
    folder = pathlib.Path(tempfile.mkdtemp(prefix="kdkit-fuzz-"))
    try:
        os.chdir(folder)
        for name, raw in case.files.items():
            pathlib.Path(name).write_bytes(raw)
        if case.before == "letters":
            pathlib.Path(case.out).mkdir()
            pathlib.Path(case.out, "dear.txt").write_text("Dear")
        elif case.before:
            shutil.copytree(templates[case.command], case.out)
        return _judged(case)
    finally:
        os.chdir(home)
        shutil.rmtree(folder, ignore_errors=True)


def make_templates(folder: pathlib.Path, definition: bytes, ring: bytes) -> Templates:
    """Write what an earlier run of each command left, to be written over."""
    made = {}
    for command, more in (("build", []), ("workshop", []), ("apart", ["--to-carry"]), ("plan", [])):
        file = folder / f"{command}.yaml"
        file.write_bytes(ring if command == "plan" else definition)
        argv = (command, str(file), "--out", str(folder / command), *more)
        seen = _Seen()
        _call(argv, seen)
        if not (folder / command).is_dir():
            raise RuntimeError(f"no folder of an earlier {command}: {seen}")
        made[command] = folder / command
    return made


def _judged(case: Case) -> Verdict:
    before = _tree(case.out)
    start = time.process_time()
    seen = _Seen()
    status, out, err, failure = _call(case.argv, seen)
    verdict = Verdict(status=status, seconds=time.process_time() - start)
    verdict.codes = tuple(dict.fromkeys(p.code for p in seen.problems))
    found = verdict.failures
    found += seen.noises
    if failure is not None:
        found.append(failure)
    else:
        found += _of_status(case, status, seen.problems, out, err)
    found += _of_terminal(case, out, "stdout")
    found += _of_terminal(case, err, "stderr")
    found += _of_problems(seen.problems)
    after = _tree(case.out)
    found += _of_folder(case, status, before, after, out)
    if status == 0 and failure is None:
        found += _of_results(case, out)
    verdict.digest = _digest(status, out, err, after)
    return verdict


def _call(argv: tuple[str, ...], seen: _Seen) -> tuple[int | None, bytes, bytes, Failure | None]:
    """Call the command as its entry point does; the streams are bytes, as a shell sees them."""
    streams = [
        io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors="backslashreplace", newline="\n")
        for _ in range(2)
    ]
    kept = sys.stdout, sys.stderr
    status: int | None = None
    failure = None
    try:
        with _listening(seen):
            sys.stdout, sys.stderr = streams
            try:
                commands.group.main(args=list(argv), prog_name="kdkit")
            except SystemExit as end:
                status = end.code if isinstance(end.code, int) else 0 if end.code is None else 1
            except BaseException as fault:
                if isinstance(fault, KeyboardInterrupt):
                    raise
                failure = _fault(fault)
    finally:
        sys.stdout, sys.stderr = kept
    raw = []
    for stream in streams:
        stream.flush()
        raw.append(stream.detach().getvalue())  # type: ignore[attr-defined]
    return status, raw[0], raw[1], failure


@contextlib.contextmanager
def _listening(seen: _Seen) -> Iterator[None]:
    """Note the problems that are shown, Python's warnings and its logging."""
    render, data, warn = show.render_problem, show.problem_data, warnings.showwarning

    def rendered(problem: Problem, *rest: Any) -> str:
        seen.problems.append(problem)
        return render(problem, *rest)

    def as_data(problem: Problem) -> dict[str, Any]:
        seen.problems.append(problem)
        return data(problem)

    def warned(message: Any, category: type[Warning], file: str, line: int, *_: Any) -> None:
        stack = traceback.extract_stack()[:-1]
        text = f"{category.__name__}: {message}\n{''.join(traceback.format_list(stack[-12:]))}"
        seen.noises.append(Failure(f"python warning {category.__name__}", _frame(stack), text))

    class Listener(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            if not _would_be_shown(record.name, self):
                return
            stack = traceback.extract_stack()
            words = f"{record.name}: {record.getMessage()}"
            seen.noises.append(Failure(f"logged by {record.name}", _frame(stack), words[:2000]))

    listener = Listener(level=logging.WARNING)
    show.render_problem, show.problem_data = rendered, as_data
    logging.getLogger().addHandler(listener)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("always")
            for quiet in (DeprecationWarning, PendingDeprecationWarning, ResourceWarning):
                warnings.simplefilter("ignore", quiet)
            warnings.showwarning = warned  # type: ignore[assignment]
            yield
    finally:
        logging.getLogger().removeHandler(listener)
        show.render_problem, show.problem_data = render, data
        warnings.showwarning = warn


def _would_be_shown(name: str, but: logging.Handler) -> bool:
    """Return whether a logger's warnings reach the terminal when only we do not listen.

    A library that gives its logger a ``NullHandler`` says nothing by itself.
    """
    logger: logging.Logger | None = logging.getLogger(name)
    while logger is not None:
        if any(isinstance(h, logging.NullHandler) and h is not but for h in logger.handlers):
            return False
        logger = logger.parent if logger.propagate else None
    return True


def _frame(stack: traceback.StackSummary) -> str:
    """Return the innermost frame of kdkit."""
    own = [frame for frame in stack if frame.filename.startswith(_HOME)]
    if not own:
        return "outside kdkit"
    name = str(pathlib.PurePath(own[-1].filename).relative_to(_HOME))
    return f"{name}:{own[-1].name}"


def _fault(fault: BaseException) -> Failure:
    stack = traceback.extract_tb(fault.__traceback__)
    text = "".join(traceback.format_exception(fault, limit=-25))
    return Failure(type(fault).__name__, _frame(stack), text[-8000:])


def _of_status(
    case: Case, status: int | None, problems: list[Problem], out: bytes, err: bytes
) -> Iterator[Failure]:
    shown = f"status {status}\n{out[-1500:].decode('utf-8', 'replace')}\n" + err[-3000:].decode(
        "utf-8", "replace"
    )
    if status not in (0, 1, 2):
        yield Failure("exit status", f"{case.command} {status}", shown)
    if status == 2 and b"Error" not in err:
        yield Failure("wrong usage without a word", case.command, shown)
    worst = {p.severity for p in problems}
    if status == 1 and Severity.ERROR not in worst:
        strict = Severity.WARNING in worst and "--strict" in case.argv
        said = case.command in ("verify", "apart", "choose", "plan") and (
            out.strip() or err.strip()
        )
        if not strict and not said:
            yield Failure("status 1 without an error", case.command, shown)
    if status == 0 and Severity.ERROR in worst:
        yield Failure("status 0 with an error", case.command, shown)
    if status == 0 and not out.strip():
        yield Failure("status 0 without a word", case.command, shown)


def _of_terminal(case: Case, raw: bytes, stream: str) -> Iterator[Failure]:
    try:
        # A spreadsheet knows UTF-8 by the mark before it.
        text = raw.decode("utf-8-sig" if "--csv" in case.argv else "utf-8")
    except UnicodeDecodeError as fault:
        yield Failure("not UTF-8", f"{case.command} {stream}", str(fault))
        return
    allowed = "\n\r" if "--csv" in case.argv else "\n"
    bad = {c for c in text if unicodedata.category(c) == "Cc" and c not in allowed}
    if "--json" not in case.argv:
        bad |= {c for c in text if c in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"}
        bad |= {c for c in text if c in "\u2028\u2029\ufeff"}
    if bad:
        at = min(text.index(c) for c in bad)
        names = ", ".join(f"U+{ord(c):04X}" for c in sorted(bad))
        near = ascii(text[max(0, at - 200) : at + 100])
        yield Failure("control characters", f"{case.command} {stream}", f"{names}\n{near}")


def _of_problems(problems: list[Problem]) -> Iterator[Failure]:
    for problem in problems:
        if not problem.message.strip():
            yield Failure("empty message", problem.code, repr(problem))
        if any(c in problem.message for c in "\n\r"):
            yield Failure("message of several lines", problem.code, repr(problem)[:3000])
        if (
            problem.source is None
            and problem.severity is not Severity.ADVICE
            and not problem.code.startswith(_UNPLACED)
        ):
            yield Failure("problem without a place", problem.code, repr(problem)[:3000])


def _of_folder(
    case: Case, status: int | None, before: Any, after: Any, out: bytes
) -> Iterator[Failure]:
    known = {*case.files, case.out}
    if case.command == "start" and status == 0:
        known.add(case.argv[2])
    left = sorted(p.name for p in pathlib.Path().iterdir() if p.name not in known)
    if left:
        yield Failure("something left behind", f"{case.command} {left[0][:12]}", str(left))
    if not case.out or before == after:
        return
    wrote = status == 0 or (case.command == "plan" and f"{case.out}/".encode() in out)
    if not wrote:
        gone = sorted(set(before or ()) ^ set(after or ()))[:9]
        yield Failure("folder touched by a refusal", case.command, f"status {status}: {gone}")
    elif case.before == "letters":
        yield Failure("somebody's folder written over", case.command, f"status {status}")


def _of_results(case: Case, out: bytes) -> Iterator[Failure]:
    text = out.decode("utf-8", "replace")
    if case.command == "start":
        made = pathlib.Path(case.argv[2])
        root, problems = parse_tree(made.read_text(encoding="utf-8"), "out.yaml")
        if root is None:
            yield Failure("start wrote what cannot be read", problems[0].code, str(problems))
            return
        seen = _Seen()
        _, _, _, failure = _call(("check", case.argv[2]), seen)
        if failure is not None:
            yield failure
        for problem in seen.problems:
            if problem.code in ("unknown-key", "wrong-type", "missing-key", "bad-text", "bad-name"):
                yield Failure("start wrote a wrong definition", problem.code, str(problem)[:3000])
    elif case.command == "outline":
        root, problems = parse_tree(text, "outline")
        if root is None:
            yield Failure("outline that cannot be read", problems[0].code, f"{problems}\n{text}")
    elif case.command in ("build", "workshop") or "--json" in case.argv:
        for kind, where, words in read_results(case, text):
            yield Failure(kind, where, words)


def _tree(folder: str) -> dict[str, bytes] | None:
    if not folder or not os.path.isdir(folder):
        return None
    top = pathlib.Path(folder)
    return {str(p.relative_to(top)): p.read_bytes() for p in sorted(top.rglob("*")) if p.is_file()}


def _digest(status: int | None, out: bytes, err: bytes, tree: Any) -> str:
    """Return a digest of all that was given; lines of progress depend on the clock."""
    found = hashlib.sha256(f"{status}\0".encode())
    found.update(out)
    found.update(b"\n".join(line for line in err.split(b"\n") if not line.endswith("…".encode())))
    for name, raw in (tree or {}).items():
        found.update(name.encode() + b"\0" + raw)
    return found.hexdigest()[:32]
