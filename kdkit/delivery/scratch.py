"""A folder for what a run lays out on its way, of which a run that was ended leaves nothing.

It stands beside the file that the run works for, or among the system's temporary files. Each
run has a locked folder of its own in it; what no run holds a lock on was left by one that was
ended, and the next takes it away. The last run to end takes the whole away.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import pathlib
import secrets
import shutil
import stat
import tempfile
from collections.abc import Iterator

__all__ = ["scratch_folder"]

_LOCK, _RUN = "lock", "run-"
_TRIES = 100


@contextlib.contextmanager
def scratch_folder(beside: pathlib.Path | None) -> Iterator[pathlib.Path]:
    """Give an empty folder, which is gone at the end; first clear what dead runs left.

    Args:
        beside: the file that the run works for; None: among the system's temporary files.

    Raises:
        OSError: it cannot be made, or what stands in its place is not ours.
    """
    top = _top(beside)
    with _locked(top):
        _sweep(top)
        own = top / f"{_RUN}{secrets.token_hex(8)}"
        own.mkdir(mode=0o700)
        held = os.open(own, os.O_RDONLY | os.O_DIRECTORY)
        fcntl.flock(held, fcntl.LOCK_EX)
    try:
        yield own
    finally:
        shutil.rmtree(own, ignore_errors=True)
        os.close(held)
        with contextlib.suppress(OSError), _locked(top):
            _sweep(top)
            if os.listdir(top) == [_LOCK]:
                (top / _LOCK).unlink()
                top.rmdir()


def _top(beside: pathlib.Path | None) -> pathlib.Path:
    if beside is None:
        return pathlib.Path(tempfile.gettempdir()) / f"kdkit-scratch-{os.getuid()}"
    place = beside.resolve()
    return place.parent / f".{place.name[:150]}.kdkit-scratch"


@contextlib.contextmanager
def _locked(top: pathlib.Path) -> Iterator[None]:
    """Hold the lock of the folder of all runs; make the folder if it is not there."""
    for _ in range(_TRIES):
        with contextlib.suppress(FileExistsError):
            top.mkdir(mode=0o700)
        try:
            found = top.lstat()
            if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
                raise FileExistsError(f"{top} is not a folder of kdkit's")
            lock = os.open(top / _LOCK, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
        except FileNotFoundError:  # the last run that ended took it away
            continue
        try:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if _is_there(top / _LOCK, lock):
                yield
                return
        finally:
            os.close(lock)
    raise OSError(f"{top} is made and taken away again and again")


def _is_there(path: pathlib.Path, fd: int) -> bool:
    try:
        return os.path.samestat(path.lstat(), os.fstat(fd))
    except FileNotFoundError:
        return False


def _sweep(top: pathlib.Path) -> None:
    """Take away the folders of runs that hold no lock any more."""
    for name in os.listdir(top):
        if not name.startswith(_RUN):
            continue
        try:
            fd = os.open(top / name, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW)
        except OSError:
            continue
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            continue
        else:
            shutil.rmtree(top / name, ignore_errors=True)
        finally:
            os.close(fd)
