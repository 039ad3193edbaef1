"""One new file, whole and never over another."""

from __future__ import annotations

import os
import pathlib
import stat
from collections.abc import Callable
from typing import BinaryIO

from kdkit.delivery.folder import let_go, take_place
from kdkit.delivery.moves import move_without_replacing, signals_held, sync
from kdkit.delivery.place import cannot_write
from kdkit.delivery.work import NEW, PlaceTaken, Work
from kdkit.diagnostics import Problem, error

__all__ = ["refuse_file", "write_new_file"]


def refuse_file(file: pathlib.Path) -> tuple[Problem, ...]:
    """Tell why a new file cannot be made, as far as can be seen before there is a text."""
    if str(file) == "-":  # elsewhere it means the standard output; a file of that name vexes
        return (
            error(
                "output-not-written",
                "'-' is no name for a new file, and it is not printed either",
                help="name the file, such as shelf.yaml",
            ),
        )
    try:
        found = file.lstat()
    except FileNotFoundError:
        if file.parent.is_dir():
            return ()
        return (
            error(
                "output-not-written",
                f"{file} could not be written: there is no folder {file.parent}",
                help="make that folder first, or name a file in one that is there",
            ),
        )
    except (OSError, ValueError) as fault:
        return (cannot_write(file, fault),)
    return (_there(file, found),)


def _there(file: pathlib.Path, found: os.stat_result | None) -> Problem:
    leads_nowhere = found is not None and stat.S_ISLNK(found.st_mode) and not file.exists()
    what = ", as a link that leads nowhere" if leads_nowhere else ""
    return error(
        "output-there",
        f"{file} is there already{what}",
        help="name another file; kdkit never writes over one",
    )


def write_new_file(
    file: pathlib.Path, content: str | Callable[[BinaryIO], None]
) -> tuple[Problem, ...]:
    """Write a file that is not there yet; it appears whole or not at all.

    Args:
        content: a text, or what writes the file's bytes into an open stream.

    Returns:
        Why it was not written, or what was found of an earlier run that was broken off.
    """
    refused = refuse_file(file)
    if refused:
        return refused
    try:
        place = file.parent.resolve() / file.name
        with signals_held():
            work, made = take_place(place)
            try:
                _write(work, content)
            finally:
                work.close()
                let_go(work.above, made)
    except PlaceTaken as taken:
        return (taken.problem,)
    except FileExistsError:
        return refuse_file(file) or (_there(file, None),)
    except (OSError, RuntimeError, ValueError) as fault:
        return (cannot_write(file, fault),)
    return tuple(work.found)


def _write(work: Work, content: str | Callable[[BinaryIO], None]) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL
    fd = os.open(NEW, flags, 0o666, dir_fd=work.fd)
    with os.fdopen(fd, "wb") as stream:
        work.remember(fd)
        if isinstance(content, str):
            stream.write(content.encode("utf-8"))
        else:
            content(stream)
        stream.flush()
        sync(fd)
    if not move_without_replacing(work.fd, NEW, work.above, work.target):
        os.link(NEW, work.target, src_dir_fd=work.fd, dst_dir_fd=work.above, follow_symlinks=False)
    sync(work.above)
