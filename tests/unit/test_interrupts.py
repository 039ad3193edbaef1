"""An interrupt ends a run with one line and 130, whenever it comes, and leaves nothing."""

from __future__ import annotations

import fcntl
import os
import pathlib
import signal
import subprocess
import sys
import time

import pytest

ROOT = pathlib.Path(__file__).parents[2]
BENCH = ROOT / "examples" / "hall-bench.yaml"
SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")


def line_of(name: str, what: str = "nothing was written") -> str:
    return f"interrupted{'' if name == 'SIGINT' else f' by {name}'}; {what}"


def told(stderr: str) -> list[str]:
    """Return what was said but for the names of the stages."""
    return [line for line in stderr.splitlines() if not line.endswith(" …")]


def python(*arguments: object, **more: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *map(str, arguments)],
        capture_output=True, text=True, cwd=ROOT, timeout=300, check=False, **more,  # type: ignore[call-overload]
    )  # fmt: skip


def stopped(name: str, moment: str, *arguments: object, tmp: pathlib.Path) -> list[str]:
    """Interrupt a command; return what it said. It left nothing, not in ``tmp`` either."""
    tmp.mkdir()
    run = python(
        "tests/stopped_command.py", name, moment, *arguments,
        env={**os.environ, "TMPDIR": str(tmp), "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.returncode == 130, run.stderr
    assert run.stdout == ""
    assert list(tmp.iterdir()) == []
    return told(run.stderr)


@pytest.mark.parametrize("name", SIGNALS)
@pytest.mark.parametrize("moment", ["click", "numpy", "shapely.lib", "kdkit.inspect.checks"])
def test_during_imports(name: str, moment: str, tmp_path: pathlib.Path) -> None:
    assert stopped(name, moment, "check", BENCH, tmp=tmp_path / "t") == [line_of(name)]


@pytest.mark.parametrize("moment", ["numpy._core._multiarray_umath", "numpy.linalg"])
def test_while_c_code_imports_and_prints_what_it_meets(moment: str, tmp_path: pathlib.Path) -> None:
    assert stopped("SIGINT", moment, "check", BENCH, tmp=tmp_path / "t") == [line_of("SIGINT")]


@pytest.mark.parametrize(("name", "moment"), [("SIGINT", "drawing"), ("SIGTERM", "weasyprint")])
def test_during_a_build_nothing_is_delivered(
    name: str, moment: str, tmp_path: pathlib.Path
) -> None:
    place = tmp_path / "place"
    place.mkdir()
    said = stopped(name, moment, "build", BENCH, "--out", place / "out", tmp=tmp_path / "t")
    assert said == [line_of(name)]
    assert list(place.iterdir()) == []


def test_after_delivery_it_says_what_was_written(tmp_path: pathlib.Path) -> None:
    reading, writing = os.pipe()  # full, so that the list of files waits for a reader
    fcntl.fcntl(writing, fcntl.F_SETFL, os.O_NONBLOCK)
    try:
        while True:
            os.write(writing, b"x" * 4096)
    except BlockingIOError:
        fcntl.fcntl(writing, fcntl.F_SETFL, 0)
    out = tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-m", "kdkit", "workshop", BENCH, "--out", out, "--files", "gltf"],
        stdout=writing, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    until = time.monotonic() + 300
    while len(list(tmp_path.iterdir())) != 1 or not out.exists():
        assert process.poll() is None
        assert time.monotonic() < until
        time.sleep(0.05)
    process.send_signal(signal.SIGTERM)
    _, said = process.communicate(timeout=60)
    os.close(reading)
    os.close(writing)
    assert process.returncode == 130
    assert told(said) == [line_of("SIGTERM", f"{out} had been written by then")]
    assert (out / "workshop.json").is_file()


LOST = """
import os, signal, sys
sys.path.insert(0, {root!r})
from kdkit import interrupts
signal.signal(signal.SIGINT, signal.default_int_handler)
interrupts.listen()
{lose}
try:
    while True:  # until the interrupt is raised once more
        signal.pause()
except interrupts.Interrupted:
    print("raised", interrupts.asked())
"""

CATCH_ALL = """
try:
    os.kill(os.getpid(), signal.SIGINT)
except BaseException:
    pass
"""

IN_DEL = """
class Gone:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        print("cleared away")
Gone()
"""

DELIVERING = """
import time
from kdkit.delivery.moves import signals_held
try:
    os.kill(os.getpid(), signal.SIGINT)  # lost just before; it comes again with the alarm
except BaseException:
    pass
try:
    with signals_held():
        time.sleep(0.3)
        os.kill(os.getpid(), signal.SIGTERM)
        print("whole")
except BaseException:
    print("at once")
"""

CLEARING = """
try:
    try:
        os.kill(os.getpid(), signal.SIGINT)
    finally:
        os.kill(os.getpid(), signal.SIGINT)  # an impatient second one
        signal.pause()  # and the timer's
        print("cleared away")
except BaseException:
    pass
"""


@pytest.mark.parametrize(
    ("lose", "said"),
    [
        (CATCH_ALL, []),
        (IN_DEL, ["cleared away"]),
        (DELIVERING, ["whole", "at once"]),
        (CLEARING, ["cleared away"]),
    ],
    ids=["caught", "in __del__", "delivering", "clearing away"],
)
def test_an_interrupt_that_is_lost_comes_again(lose: str, said: list[str]) -> None:
    run = python("-c", LOST.format(root=str(ROOT), lose=lose))
    assert run.stderr == ""
    assert run.stdout.splitlines() == [*said, "raised SIGINT"]


def test_what_was_ignored_stays_ignored() -> None:
    run = python(
        "-c",
        "import signal, sys; sys.path.insert(0, '.'); from kdkit import interrupts\n"
        "signal.signal(signal.SIGHUP, signal.SIG_IGN); interrupts.listen()\n"
        "signal.raise_signal(signal.SIGHUP); print(interrupts.asked())",
    )
    assert (run.stdout, run.stderr) == ("None\n", "")


NAMED = r"""
import os
from kdkit import interrupts
place = "o\x1b]0;x\x07\ny"
interrupts.may_write(place)
os.mkdir(place)
interrupts.end("SIGINT")
"""


def test_the_name_of_what_was_written_does_nothing_to_the_terminal(tmp_path: pathlib.Path) -> None:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", NAMED]
    done = subprocess.run(command, cwd=tmp_path, env=env, capture_output=True, check=False)
    assert done.returncode == 130
    said = r"interrupted; o\x1b]0;x\x07\x0ay had been written by then"
    assert done.stderr.decode() == f"{said}\n"
