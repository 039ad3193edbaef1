"""A folder for what a run lays out: gone at its end, and after one that was killed."""

from __future__ import annotations

import os
import pathlib
import signal
import subprocess
import sys

import pytest

from kdkit.delivery import scratch_folder

KILLED = """
import os, pathlib, signal, sys
from kdkit.delivery import scratch_folder
with scratch_folder(pathlib.Path(sys.argv[1])) as folder:
    (folder / "half").mkdir()
    (folder / "half" / "a").write_text("x")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def names(folder: pathlib.Path) -> list[str]:
    return sorted(os.listdir(folder))


def test_it_is_gone_at_the_end_also_of_a_fault(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "w.sqlite"
    with scratch_folder(file) as folder:
        (folder / "a").write_text("x")
        assert names(tmp_path) == [".w.sqlite.kdkit-scratch"]
        assert folder.stat().st_mode & 0o077 == 0
    with pytest.raises(KeyError), scratch_folder(file) as folder:
        raise KeyError
    assert names(tmp_path) == []


def test_what_a_killed_run_left_goes_at_the_next(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "w.sqlite"
    ended = subprocess.run([sys.executable, "-c", KILLED, str(file)], check=False)
    assert ended.returncode == -signal.SIGKILL
    (left,) = (tmp_path / ".w.sqlite.kdkit-scratch").glob("run-*")
    assert (left / "half" / "a").exists()
    with scratch_folder(file):
        assert not left.exists()
    assert names(tmp_path) == []


def test_runs_at_once_do_not_touch_each_other(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "w.sqlite"
    with scratch_folder(file) as one:
        (one / "a").write_text("x")
        with scratch_folder(file) as two:
            assert one != two
        assert (one / "a").read_text() == "x"
    assert names(tmp_path) == []


def test_what_is_somebodys_is_left_alone(tmp_path: pathlib.Path) -> None:
    file, top = tmp_path / "w.sqlite", tmp_path / ".w.sqlite.kdkit-scratch"
    top.mkdir()
    (top / "mine").write_text("x")
    with scratch_folder(file):
        pass
    assert (top / "mine").read_text() == "x"
    other = tmp_path / ".v.sqlite.kdkit-scratch"
    other.symlink_to(top)
    with pytest.raises(FileExistsError), scratch_folder(tmp_path / "v.sqlite"):
        pass
    assert names(top) == ["lock", "mine"]
