"""A folder written beside its place and moved in whole."""

from __future__ import annotations

import os
import pathlib
import shutil
import tempfile
from collections.abc import Callable

from kdkit.diagnostics import Problem, error

__all__ = ["MARK", "write_folder"]

MARK = "plan.json"
"""A folder that holds this file was written by an earlier build and may be replaced."""


def write_folder(
    folder: pathlib.Path, write: Callable[[pathlib.Path], None], mark: str = MARK
) -> tuple[Problem, ...]:
    """Fill a new folder and put it in the place of the old one.

    ``write`` gets an empty folder on the same disk. If it raises, or anything fails
    before the last rename, the old folder stays as it was. A folder that is not empty
    and has not the ``mark`` of an earlier run is never touched.
    """
    folder = folder.absolute()
    refusal = _refusal(folder, mark)
    if refusal is not None:
        return (refusal,)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = pathlib.Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as fault:
        return (_cannot_write(folder, fault),)
    try:
        fresh = work / "new"
        fresh.mkdir()
        write(fresh)
        _swap(fresh, folder, work / "old")
    except OSError as fault:
        return (_cannot_write(folder, fault),)
    finally:
        shutil.rmtree(work, ignore_errors=True)
    return ()


def _swap(fresh: pathlib.Path, folder: pathlib.Path, old: pathlib.Path) -> None:
    if not folder.exists():
        os.rename(fresh, folder)
        return
    os.rename(folder, old)
    try:
        os.rename(fresh, folder)
    except OSError:
        os.rename(old, folder)
        raise


def _refusal(folder: pathlib.Path, mark: str) -> Problem | None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        return error(
            "output-not-a-folder",
            f"{folder} is not a folder",
            help="name a folder that does not exist yet, or one of an earlier build",
        )
    if folder.is_dir() and any(folder.iterdir()) and not (folder / mark).is_file():
        return error(
            "output-not-ours",
            f"{folder} holds files that no build wrote",
            help="name a folder that does not exist yet, or one of an earlier build",
        )
    return None


def _cannot_write(folder: pathlib.Path, fault: OSError) -> Problem:
    return error(
        "output-not-written",
        f"{folder} could not be written: {fault.strerror or fault}",
        help="check the place and its free space; what was there before is unchanged",
    )
