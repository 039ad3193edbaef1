"""The list of files by which kdkit knows a folder as its own.

A folder is kdkit's by sums, not by a name. It is replaced only while it is exactly what the
list says, from the same command. A missing file stops nothing, since nothing can be lost; a
changed one does. The place is claimed before the work and judged again before the move, in
one step of the disk where there is one.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import stat
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NoReturn

from kdkit import __version__
from kdkit.delivery.moves import sync

__all__ = [
    "APART",
    "BUILD",
    "CATALOGUE",
    "LIST",
    "NO_PLAN",
    "PACKING",
    "REPLACE",
    "REPRINT",
    "RUN",
    "WORKSHOP",
    "Findings",
    "Listed",
    "compare",
    "make_list",
    "open_folder",
    "read_list",
    "remove_listed",
]

BUILD, WORKSHOP, NO_PLAN, APART, CATALOGUE = "build", "workshop", "plan", "apart", "catalogue"
REPRINT, REPLACE, PACKING, RUN = "reprint", "replace", "pack", "run"
"""The commands whose results a folder may be listed as."""

LIST = "kdkit-files.json"
"""Lies in every folder that kdkit wrote. It bears no date, path or name of a user: the same
results have the same list."""

_ABOUT = "kdkit replaces this folder only while it holds these files, unchanged, and no others"
_KEYS = {"about", "written_by", "command", "folders", "files"}
_OF = "product"  # not in the lists of versions before it, nor where there is no product
_LARGEST = 64 << 20  # bytes; far more than a list of a million files
_SUM = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Listed:
    """What a list says: the command that wrote, folders, and each file's sum and size, and
    the product that they are of, "" where it does not say.

    Paths are relative to the folder with ``/`` between their parts.
    """

    command: str
    folders: tuple[str, ...]
    files: Mapping[str, tuple[str, int]]
    product: str = ""


@dataclass(frozen=True)
class Findings:
    """What a folder holds besides its list: names for people, sorted.

    What is missing is no finding: nothing of anybody's can be lost by its absence.
    """

    foreign: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()


def open_folder(name: str, dir_fd: int | None = None) -> int:
    """Open a folder, never through a link in its last part; return the descriptor."""
    try:
        return os.open(name, os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW, dir_fd=dir_fd)
    except OSError as fault:
        if fault.errno == errno.ELOOP:  # systems differ in what they say of a link
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), name) from None
        raise


def make_list(folder: int, command: str, product: str = "") -> tuple[bytes, list[str]]:
    """Return the text of the list for what lies in a folder, and the names of the files;
    have all of it on the disk.

    Raises:
        OSError: something could not be read or written through.
        ValueError: a writer made something else than files and folders.
    """
    folders: list[str] = []
    files: dict[str, dict[str, object]] = {}
    for path, inner, names, fd in _walk(folder):
        folders += [_joined(path, name) for name in inner]
        for name in names:
            relative = _joined(path, name)
            found = _digest(name, fd, through=True)
            if found is None:
                raise ValueError(f"{relative} is no ordinary file")
            files[relative] = {"sha256": found[0], "size": found[1]}
        sync(fd)
    data: dict[str, object] = {
        "about": _ABOUT,
        "written_by": f"kdkit {__version__}",
        "command": command,
        **({_OF: product} if product else {}),
        "folders": sorted(folders),
        "files": dict(sorted(files.items())),
    }
    return _as_text(data), list(files)


def _as_text(data: Mapping[str, object]) -> bytes:
    return (json.dumps(data, indent=2) + "\n").encode("ascii")


def read_list(folder: int) -> Listed | None:
    """Return a folder's list, or None if there is none that can be read."""
    try:
        fd = os.open(LIST, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=folder)
        with os.fdopen(fd, "rb") as stream:
            if not stat.S_ISREG(os.fstat(fd).st_mode):
                return None
            text = stream.read(_LARGEST + 1)
        return None if len(text) > _LARGEST else _parse(text)
    except (OSError, ValueError, RecursionError):
        return None


def _parse(text: bytes) -> Listed | None:
    """Read a list; None also if it is not written as kdkit writes one: somebody changed it."""
    data: Any = json.loads(text)
    if not isinstance(data, dict) or set(data) - {_OF} != _KEYS or _as_text(data) != text:
        return None
    command, folders, files = (data.get(key) for key in ("command", "folders", "files"))
    if not (isinstance(command, str) and isinstance(folders, list) and isinstance(files, dict)):
        return None
    product = data.get(_OF, "")
    if not isinstance(product, str):
        return None
    if not all(isinstance(name, str) and _is_inside(name) for name in [*folders, *files]):
        return None
    read: dict[str, tuple[str, int]] = {}
    for name, said in files.items():
        digest, size = (said.get("sha256"), said.get("size")) if isinstance(said, dict) else (0, 0)
        if not (isinstance(digest, str) and _SUM.fullmatch(digest) and type(size) is int):
            return None
        read[name] = (digest, size)
    return Listed(command, tuple(folders), read, product)


def _is_inside(name: str) -> bool:
    parts = name.split("/")
    return name != LIST and "\0" not in name and not {"", ".", ".."} & set(parts)


def compare(folder: int, listed: Listed) -> Findings:
    """Look at everything in a folder and tell what is not as its list says.

    Links are not followed, and nothing is looked for on another disk mounted inside.
    """
    disk = os.fstat(folder).st_dev
    foreign: list[str] = []
    changed: list[str] = []
    for path, inner, names, fd in _walk(folder):
        for name in [*inner, *names]:
            relative = _joined(path, name)
            found = os.stat(name, dir_fd=fd, follow_symlinks=False)
            is_folder = stat.S_ISDIR(found.st_mode)
            known = relative in (listed.folders if is_folder else listed.files)
            kind = _kind(found.st_mode)
            if relative == LIST and kind == "":
                continue
            if not known or found.st_dev != disk or kind not in ("", "a folder"):
                foreign.append(f"{relative} ({kind})" if kind else relative)
                if name in inner:
                    inner.remove(name)
            elif not is_folder:
                digest, size = listed.files[relative]
                if found.st_size != size or _digest(name, fd) != (digest, size):
                    changed.append(relative)
    return Findings(tuple(sorted(foreign)), tuple(sorted(changed)))


def remove_listed(folder: int) -> bool:
    """Take away what the list names and is unchanged, by name, and then the list.

    Returns:
        whether the folder is empty now. False: something else is in it, which stays, as
        does the list.
    """
    listed = read_list(folder)
    if listed is None:
        return False
    for path, inner, names, fd in _walk(folder, from_below=True):
        for name in names:
            relative = _joined(path, name)
            with contextlib.suppress(OSError):  # a link, or no right to: it stays, and is told
                if relative in listed.files and _digest(name, fd) == listed.files[relative]:
                    os.unlink(name, dir_fd=fd)
        for name in inner:
            with contextlib.suppress(OSError):  # not empty: the same
                if _joined(path, name) in listed.folders:
                    os.rmdir(name, dir_fd=fd)
    if os.listdir(folder) != [LIST]:
        return False
    os.unlink(LIST, dir_fd=folder)
    return True


def _walk(
    folder: int, *, from_below: bool = False
) -> Iterator[tuple[str, list[str], list[str], int]]:
    """Go through a folder with a descriptor for each level; links are not followed."""
    return os.fwalk(".", topdown=not from_below, onerror=_give_up, dir_fd=folder)


def _give_up(fault: OSError) -> NoReturn:
    raise fault


def _joined(path: str, name: str) -> str:
    return f"{path}/{name}".removeprefix("./")


def _kind(mode: int) -> str:
    """Return what something is in words, "" for an ordinary file."""
    if stat.S_ISREG(mode):
        return ""
    if stat.S_ISDIR(mode):
        return "a folder"
    return "a link" if stat.S_ISLNK(mode) else "no ordinary file"


def _digest(name: str, dir_fd: int, *, through: bool = False) -> tuple[str, int] | None:
    """Return a file's SHA-256 and size, None if it is no ordinary file; see it on the disk."""
    fd = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK, dir_fd=dir_fd)
    with os.fdopen(fd, "rb") as stream:
        found = os.fstat(fd)
        if not stat.S_ISREG(found.st_mode):
            return None
        if through:
            sync(fd)
        return hashlib.file_digest(stream, "sha256").hexdigest(), found.st_size
