"""Cases in forked processes, so that one that hangs or grows takes nothing else with it.

The parent has everything imported and forks a worker for a batch. The worker says which case
it begins and what came of it; the parent reads that and watches the worker's processor time
and memory. A worker that passes a limit shows its stack (``faulthandler``) and is killed; the
case is noted and, alone, tried once more, and the batch goes on behind it.
"""

from __future__ import annotations

import contextlib
import faulthandler
import gc
import json
import os
import pathlib
import resource
import select
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from tests.bench.fuzz.cases import Case
from tests.bench.fuzz.judge import Failure, Templates, run_case

__all__ = ["Limits", "Result", "run_alone", "run_batches"]

MakeCase = Callable[[int], Case]
_TICK = os.sysconf("SC_CLK_TCK")
_PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What one case may take: seconds of processor time, bytes of memory."""

    seconds: float = 20.0
    memory: int = 1_000_000_000
    waits: float = 15.0
    """A case that does nothing for so many times ``seconds`` is stuck."""


@dataclass
class Result:
    """What came of one case, as the parent has it."""

    number: int
    command: str
    status: int | None
    codes: list[str] = field(default_factory=list)
    failures: list[Failure] = field(default_factory=list)
    digest: str = ""
    seconds: float = 0.0
    memory: int = 0


@dataclass
class _Worker:
    pid: int
    pipe: int
    stack: pathlib.Path
    numbers: list[int]
    limits: Limits
    buffer: bytes = b""
    at: int | None = None
    cpu_before: float = 0.0
    since: float = 0.0
    results: list[Result] = field(default_factory=list)


def run_batches(
    batches: Iterable[tuple[Any, list[int], MakeCase, Limits]], templates: Templates, workers: int
) -> Iterator[tuple[Any, list[Result]]]:
    """Run batches of case numbers in some workers at a time; yield each when it is done."""
    pending = iter(batches)
    running: dict[int, tuple[_Worker, Any, MakeCase, list[Result]]] = {}
    more = True
    while more or running:
        while more and len(running) < workers:
            batch = next(pending, None)
            if batch is None:
                more = False
                break
            key, numbers, make, limits = batch
            worker = _start(numbers, make, templates, limits)
            running[worker.pipe] = worker, key, make, []
        if not running:
            break
        ready, _, _ = select.select(list(running), [], [], 0.25)
        for pipe, (worker, key, make, done) in list(running.items()):
            ended = _read(worker) if pipe in ready else False
            reason = None if ended else _over(worker)
            if not ended and reason is None:
                continue
            if reason is not None:
                ended = True
            status = _end(worker, reason)
            done += worker.results
            del running[pipe]
            rest = worker.numbers[len(worker.results) :]
            if worker.at is not None:
                done.append(_lost(worker, make, reason, status, templates))
                rest = rest[1:]
            if rest:
                again = _start(rest, make, templates, worker.limits)
                running[again.pipe] = again, key, make, done
            else:
                yield key, done


def run_alone(case: Case, templates: Templates, limits: Limits) -> Result:
    """Run one case in a process of its own; a hang or a death is a failure of it."""
    worker = _start([0], lambda _: case, templates, limits)
    while True:
        ready, _, _ = select.select([worker.pipe], [], [], 0.1)
        if ready and _read(worker):
            reason = None
            break
        reason = _over(worker)
        if reason is not None:
            break
    status = _end(worker, reason)
    if worker.at is None and worker.results:
        return worker.results[0]
    return Result(0, case.command, None, failures=[_death(worker, reason, status)])


def _lost(
    worker: _Worker, make: MakeCase, reason: str | None, status: int, templates: Templates
) -> Result:
    """Return the result of a case that took its worker with it, after another try alone."""
    assert worker.at is not None
    first = _death(worker, reason, status)
    result = run_alone(make(worker.at), templates, worker.limits)
    result.number = worker.at
    if not result.failures:
        result.failures = [Failure(f"{first.kind}, not when alone", first.where, first.text)]
    return result


def _death(worker: _Worker, reason: str | None, status: int) -> Failure:
    stack = worker.stack.read_text(errors="replace") if worker.stack.exists() else ""
    frames = [line for line in stack.split("\n") if "/kdkit/" in line and "/tests/" not in line]
    where = "outside kdkit"
    if frames:
        file, _, name = frames[0].strip().partition(", line ")
        inside = file.rpartition("/kdkit/")[2].strip('"')
        where = f"{inside}:{name.rpartition(' in ')[2]}"
    worker.stack.unlink(missing_ok=True)
    kind = reason or f"died of {status}"
    return Failure(kind, where, stack[:6000])


def _start(numbers: list[int], make: MakeCase, templates: Templates, limits: Limits) -> _Worker:
    out, into = os.pipe()
    handle, stack = tempfile.mkstemp(prefix="kdkit-fuzz-stack-")
    os.close(handle)
    sys.stdout.flush()
    sys.stderr.flush()
    pid = os.fork()
    if pid == 0:
        status = 1
        try:
            os.close(out)
            _work(numbers, make, templates, limits, into, stack)
            status = 0
        except BaseException:
            with open(stack, "a") as file, contextlib.suppress(Exception):
                traceback.print_exc(file=file)
        finally:
            os._exit(status)
    os.close(into)
    os.set_blocking(out, False)
    return _Worker(pid, out, pathlib.Path(stack), numbers, limits, since=time.monotonic())


def _work(
    numbers: list[int],
    make: MakeCase,
    templates: Templates,
    limits: Limits,
    into: int,
    stack: str,
) -> None:
    """Be a worker: say ``S number cpu`` before a case and ``D json`` behind it."""
    gc.unfreeze()
    with open(stack, "w") as file:
        faulthandler.register(signal.SIGUSR1, file, all_threads=False)
        faulthandler.enable(file)
        size = int(pathlib.Path("/proc/self/statm").read_text().split()[0]) * _PAGE
        resource.setrlimit(resource.RLIMIT_AS, (size + 2 * limits.memory,) * 2)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        for number in numbers:
            os.write(into, f"S {number} {time.process_time()}\n".encode())
            case = make(number)
            verdict = run_case(case, templates)
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
            data = {
                "number": number,
                "command": case.command,
                "status": verdict.status,
                "codes": verdict.codes,
                "failures": [[f.kind, f.where, f.text] for f in verdict.failures],
                "digest": verdict.digest,
                "seconds": round(verdict.seconds, 4),
                "memory": peak,
            }
            _write_all(into, b"D " + json.dumps(data).encode() + b"\n")


def _write_all(pipe: int, raw: bytes) -> None:
    while raw:
        raw = raw[os.write(pipe, raw) :]


def _read(worker: _Worker) -> bool:
    """Take in what the worker said; return whether it closed its end."""
    ended = False
    while True:
        try:
            raw = os.read(worker.pipe, 1 << 16)
        except BlockingIOError:
            break
        if not raw:
            ended = True
            break
        worker.buffer += raw
    *lines, worker.buffer = worker.buffer.split(b"\n")
    for line in lines:
        if line.startswith(b"S "):
            _, number, cpu = line.split()
            worker.at, worker.cpu_before = int(number), float(cpu)
            worker.since = time.monotonic()
        elif line.startswith(b"D "):
            data = json.loads(line[2:])
            data["failures"] = [Failure(*f) for f in data["failures"]]
            worker.results.append(Result(**data))
            worker.at = None
    return ended


def _over(worker: _Worker) -> str | None:
    """Return which limit the worker's case has passed, or None."""
    try:
        fields = pathlib.Path(f"/proc/{worker.pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return None
    if worker.at is None:
        return None
    cpu = (int(fields[11]) + int(fields[12])) / _TICK
    if cpu - worker.cpu_before > worker.limits.seconds:
        return "hang"
    if int(fields[21]) * _PAGE > worker.limits.memory:
        return "memory"
    if time.monotonic() - worker.since > worker.limits.waits * worker.limits.seconds:
        return "waits"
    return None


def _end(worker: _Worker, reason: str | None) -> int:
    """Let the worker end, by force if it has passed a limit; return how it ended."""
    if reason is not None:
        with contextlib.suppress(ProcessLookupError):
            os.kill(worker.pid, signal.SIGUSR1)
            time.sleep(0.3)
            os.kill(worker.pid, signal.SIGKILL)
    _, status = os.waitpid(worker.pid, 0)
    os.close(worker.pipe)
    if worker.at is None:
        worker.stack.unlink(missing_ok=True)
    return os.waitstatus_to_exitcode(status)
