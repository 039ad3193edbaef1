"""Standard streams that are closed, full or left early, and limits on memory."""

from __future__ import annotations

import pathlib
import resource
import subprocess
import sys

import pytest

ROOT = pathlib.Path(__file__).parents[2]
CHECK = "check examples/hall-bench.yaml"


def shell(line: str) -> subprocess.CompletedProcess[str]:
    """Run a line in which KDKIT stands for the command."""
    return subprocess.run(
        ["bash", "-c", line.replace("KDKIT", f"{sys.executable} -m kdkit")],
        capture_output=True, text=True, cwd=ROOT, timeout=300, check=False,
    )  # fmt: skip


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&-", "<&- >&- 2>&-"])
def test_a_closed_stream_changes_no_verdict(closed: str) -> None:
    run = shell(f"KDKIT {CHECK} {closed}; echo $?")
    assert run.stdout.splitlines()[-1] == "0"
    assert "Traceback" not in run.stderr
    assert "Error" not in run.stderr


def test_no_file_gets_the_number_of_a_closed_stream(tmp_path: pathlib.Path) -> None:
    run = shell(f"KDKIT new frame {tmp_path}/a.yaml >&- 2>&- <&-; echo $?")
    assert run.stdout == "0\n"
    assert (tmp_path / "a.yaml").read_text(encoding="utf-8").endswith("\n")
    assert "a.yaml" not in (tmp_path / "a.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["schema", "--help", "new frame /dev/null/x"])
def test_a_full_stdout_or_stderr_is_no_traceback(command: str) -> None:
    run = shell(f"KDKIT {command} 2>/dev/full >/dev/full; echo $?")
    assert run.stdout == "1\n"
    assert run.stderr == ""


def test_a_full_stdout_is_told() -> None:
    run = shell("KDKIT schema >/dev/full; echo $? >&2")
    assert run.stderr == "error: No space left on device: stdout\n1\n"


def test_a_reader_that_has_enough_is_told_nothing() -> None:
    assert len(shell("KDKIT schema").stdout) > 66_000  # more than waits in a pipe
    # The shell reads no further than the line; `head` may take all there is.
    run = shell('KDKIT schema | { read -r line; echo "$line"; }; echo ${PIPESTATUS[0]}')
    assert run.stdout == "{\n1\n"
    assert run.stderr == ""


@pytest.mark.parametrize(("command", "least"), [(CHECK, 256), ("build x.yaml --out x", 512)])
def test_a_limit_on_memory_that_is_too_low_is_told(command: str, least: int) -> None:
    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (200 * 2**20, 200 * 2**20))

    run = subprocess.run(
        [sys.executable, "-m", "kdkit", *command.split()],
        capture_output=True, text=True, cwd=ROOT, preexec_fn=limit, check=False,
    )  # fmt: skip
    assert run.returncode == 1
    assert f"the limit on memory is 200 MB, kdkit {command.split()[0]} needs {least} MB" in (
        run.stderr
    )
