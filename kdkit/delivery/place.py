"""Where results may go: the place that a name leads to, and what must not stand there."""

from __future__ import annotations

import os
import pathlib
import re
import stat
from collections.abc import Iterable, Sequence

from kdkit.delivery.listed import LIST, Findings, Listed, compare, read_list
from kdkit.diagnostics import Problem, error

__all__ = [
    "WORK",
    "cannot_write",
    "find_place",
    "refuse_contents",
    "refuse_inputs",
    "refuse_place",
]

WORK = ".kdkit-work"
"""How the name of a working folder ends."""

REPOSITORIES = (".git", ".hg", ".svn", ".bzr", ".jj", "_darcs")
MARKS_BEFORE = ("plan.json", "workshop.json", "impossible.json", "order.json", "index.html")
"""What folders of kdkit held before there was a list in them."""

ANOTHER = "name a folder that does not exist yet, an empty one, or one of an earlier run"
_SHOWN = 3


def find_place(named: pathlib.Path) -> pathlib.Path:
    """Return the place that a name leads to, without links, ``.`` and ``..``.

    A link to a folder is followed, once: what it leads to is the folder that is meant, and
    the link stays. So are links among the folders above.

    Raises:
        OSError, RuntimeError: links lead in a ring, or a folder above may not be searched.
        ValueError: no file can have that name.
    """
    return named.resolve()


def refuse_place(
    named: pathlib.Path, place: pathlib.Path, inputs: Iterable[pathlib.Path]
) -> Problem | None:
    """Tell why no results may go to a place, whatever is in it."""
    for part in (named, *named.parents):
        if part.is_symlink() and not part.exists():
            return _not_a_folder(f"{part} is a link that leads nowhere")
    for part in (place, *place.parents):
        if part.exists() and not part.is_dir():
            return _not_a_folder(f"{part} is a file")
    why = _why_not(place)
    if why:
        return _no_place(place, why)
    return refuse_inputs(place, inputs)


def refuse_inputs(place: pathlib.Path, inputs: Iterable[pathlib.Path]) -> Problem | None:
    """Tell if a folder for results holds, or is, a file that the run reads."""
    for file in inputs:
        for way in (pathlib.Path(os.path.abspath(file)), pathlib.Path(os.path.realpath(file))):
            if way.is_relative_to(place):
                return _no_place(place, f"it holds {file}, which this run reads")
    return None


def _why_not(place: pathlib.Path) -> str:
    if place == place.parent:
        return "it is the top of the file system"
    for holder, what in ((_here(), "the current folder"), (_home(), "the home folder")):
        if holder is not None and holder.is_relative_to(place):
            return f"it {'is' if holder == place else 'holds'} {what}"
    for part in place.parts:
        if part in REPOSITORIES:
            return f"it is within the inner folder of a repository ({part})"
        if part.endswith(WORK):
            return "it is within a working folder of kdkit"
    inner = next((name for name in REPOSITORIES if os.path.lexists(place / name)), None)
    if inner is not None:
        return f"it is the top of a repository ({inner})"
    outer = next((p for p in place.parents if os.path.lexists(p / LIST)), None)
    if outer is not None:
        return f"it is within {outer}, which holds results of another run"
    mount = next((p for p in _mounts() if p.is_relative_to(place)), None)
    if mount == place or os.path.ismount(place):
        return "a disk is mounted there"
    return "" if mount is None else f"a disk is mounted inside, at {mount}"


def _here() -> pathlib.Path | None:
    try:
        return pathlib.Path(os.path.realpath(os.getcwd()))
    except OSError:  # it was deleted
        return None


def _home() -> pathlib.Path | None:
    home = os.path.expanduser("~")
    return pathlib.Path(os.path.realpath(home)) if os.path.isabs(home) else None


def _mounts() -> list[pathlib.Path]:
    """Return every place where a disk is mounted, as far as the system says.

    Source: proc_pid_mountinfo(5) of Linux: the fifth field, with space, tab, line end and
    backslash as ``\\040`` and so on.
    """
    try:
        lines = pathlib.Path("/proc/self/mountinfo").read_bytes().splitlines()
    except OSError:
        return []
    fields = [line.split(b" ")[4] for line in lines if line.count(b" ") > 4]
    return [
        pathlib.Path(os.fsdecode(re.sub(rb"\\(\d{3})", lambda m: bytes([int(m[1], 8)]), field)))
        for field in fields
    ]


def refuse_contents(folder: int, place: pathlib.Path, command: str) -> Problem | None:
    """Tell why what a folder holds may not be replaced by the results of a command.

    A file of the list that is missing is no reason: nothing can be lost by it.

    Args:
        folder: a descriptor of it.
        place: its name in the message.
    """
    if not os.listdir(folder):
        return _no_right(folder, place, ())
    listed = read_list(folder)
    if listed is None:
        return _unlisted(folder, place)
    found = compare(folder, listed)
    if found.foreign:
        return error(
            "output-not-ours",
            f"{place} holds what kdkit did not write: {_some(found.foreign)}",
            help="move that elsewhere and run again, or name another folder",
        )
    if listed.command != command:
        return error(
            "output-of-another",
            f"{place} holds the results of `kdkit {listed.command}`, not of `kdkit {command}`",
            help="name another folder, or delete this one if it is no longer wanted",
        )
    if found.changed:
        return error(
            "output-changed",
            f"{place} holds files that were changed since kdkit wrote them: {_some(found.changed)}",
            help="keep what you changed under another name and delete it here, or name "
            "another folder",
        )
    return _no_right(folder, place, listed.folders)


def _unlisted(folder: int, place: pathlib.Path) -> Problem:
    empty = Listed("", (), {})
    found: Findings = compare(folder, empty)
    names = found.foreign
    if LIST in os.listdir(folder):
        return error(
            "output-not-ours",
            f"{place} holds a {LIST} that is not as kdkit wrote it, so it is not known what is "
            "kdkit's",
            help="delete the folder if nothing in it is wanted, or name another",
        )
    if any(mark in names for mark in MARKS_BEFORE):
        return error(
            "output-not-ours",
            f"{place} has no {LIST}, so it is not known what is kdkit's: {_some(names)}",
            help="versions of kdkit before this one wrote none: delete the folder yourself if "
            "nothing in it is wanted, or name another",
        )
    return error(
        "output-not-ours",
        f"{place} holds what kdkit did not write: {_some(names)}",
        help=ANOTHER,
    )


def _no_right(folder: int, place: pathlib.Path, inner: Sequence[str]) -> Problem | None:
    """Tell if a folder could not be moved away or emptied.

    A folder with the sticky bit lets only its owner, the owner of what is in it and the
    superuser move things out. Source: path_resolution(7), rename(2).
    """
    for name in (".", *inner):
        there = os.access(name, os.F_OK, dir_fd=folder)  # one that is missing is no trouble
        if there and not os.access(name, os.W_OK | os.X_OK, dir_fd=folder):
            why = "it may not be written" if name == "." else f"{name} in it may not be written"
            return _not_written(place, why)
    above, found = os.stat("..", dir_fd=folder), os.fstat(folder)
    if above.st_mode & stat.S_ISVTX and os.geteuid() not in (0, above.st_uid, found.st_uid):
        return _not_written(place, "it belongs to somebody else")
    return None


def cannot_write(place: pathlib.Path, fault: Exception) -> Problem:
    """Return the problem that a fault of the system makes of a place."""
    return _not_written(place, getattr(fault, "strerror", None) or str(fault))


def _not_written(place: pathlib.Path, why: str) -> Problem:
    return error(
        "output-not-written",
        f"{place} could not be written: {why}",
        help="check the place, the rights and the free space; what was there before is unchanged",
    )


def _not_a_folder(message: str) -> Problem:
    return error("output-not-a-folder", message, help=ANOTHER)


def _no_place(place: pathlib.Path, why: str) -> Problem:
    return error(
        "output-place",
        f"{place} cannot be the folder for results: {why}",
        help="name a folder of its own for them, best one that does not exist yet",
    )


def _some(names: Sequence[str]) -> str:
    """Return the first few names and how many more there are."""
    more = len(names) - _SHOWN
    return ", ".join(names[:_SHOWN]) + (f" and {more} more" if more > 0 else "")
