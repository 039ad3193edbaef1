"""The working folder beside a place: locked while a run lives, cleared by the next if not.

It is named for the place alone, so that two runs into one place meet in it. It holds
``lock`` with a line that marks it as kdkit's, ``new`` with what is being written (and then,
in exchange, what was replaced), and ``old`` where the disk cannot exchange two folders.

``lock`` also says which folder or file a run has made as ``new``, by its number on the disk:
that alone is emptied. Whatever else stands there was in the place, or is somebody's: of that
only what its list names and is unchanged is taken away, and the rest is put beside the place.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import os
import pathlib
import re
import stat
from dataclasses import dataclass, field

from kdkit.delivery.listed import LIST, open_folder, remove_listed
from kdkit.delivery.moves import move_without_replacing, sync
from kdkit.delivery.place import WORK
from kdkit.diagnostics import Problem, advice, error, warning

__all__ = ["NEW", "OLD", "PlaceTaken", "Work", "take_work"]

LOCK, NEW, OLD, LISTING = "lock", "new", "old", "list"
MARKER = b"working folder of kdkit; it may be deleted when no kdkit runs\n"
_MADE = re.compile(rb"new (\d+) (\d+)\n")
_TRIES = 200
_LONGEST = 200  # bytes; most file systems take 255


class PlaceTaken(Exception):  # noqa: N818 - no fault, it only ends the taking
    """The working folder is another run's, or not kdkit's; ``problem`` says which."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.message)
        self.problem = problem


@dataclass
class Work:
    """A working folder that this process has locked.

    Args:
        above: descriptor of the folder in which it stands, as does the place.
        target: name of the place in there.
        path: of the working folder.
        fd, lock: descriptors of the working folder and of the locked file in it.
    """

    above: int
    target: str
    path: pathlib.Path
    fd: int
    lock: int
    made: tuple[int, int] | None = None
    found: list[Problem] = field(default_factory=list)

    def remember(self, fd: int) -> None:
        """Note in the lock which folder or file, still empty, is the ``new`` of a run."""
        found = os.fstat(fd)
        self.made = (found.st_dev, found.st_ino)
        os.pwrite(self.lock, b"new %d %d\n" % self.made, len(MARKER))
        sync(self.lock)

    def write_list(self, text: bytes, new: int) -> None:
        """Put the list into ``new``, whole: from then on it counts as complete."""
        fd = os.open(LISTING, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666, dir_fd=self.fd)
        with os.fdopen(fd, "wb") as stream:
            stream.write(text)
            stream.flush()
            sync(fd)
        os.rename(LISTING, LIST, src_dir_fd=self.fd, dst_dir_fd=new)
        sync(new)

    def recover(self) -> None:
        """Finish or undo the moves of a run that was broken off, and clear what it left."""
        place = self.path.parent / self.target
        done = "cleared away"
        if self._has(OLD) and not _exists(self.target, self.above):
            back = NEW if self._is_complete(NEW) else OLD
            os.rename(back, self.target, src_dir_fd=self.fd, dst_dir_fd=self.above)
            sync(self.above)
            done = "finished: its results are in place" if back == NEW else "undone"
        self.found.append(
            advice(
                "output-cleared",
                f"what an earlier run into {place} left when it was broken off was {done}",
            )
        )
        self.clear()

    def clear(self) -> None:
        """Take away what is in the working folder, and nothing that kdkit did not write."""
        for name in (NEW, OLD):
            try:
                if self._has(name):
                    self._clear(name)
            except OSError as fault:
                self.found.append(
                    warning(
                        "output-kept",
                        f"{self.path / name} could not be cleared away: {fault.strerror or fault}",
                        help="the next run into the same place tries again",
                    )
                )
        with contextlib.suppress(FileNotFoundError):
            os.unlink(LISTING, dir_fd=self.fd)

    def close(self) -> None:
        """Clear the working folder, take it away and let the lock go."""
        try:
            self.clear()
            if os.listdir(self.fd) == [LOCK]:
                # The lock goes last: as long as it is there, no other run comes in.
                os.unlink(LOCK, dir_fd=self.fd)
                # Not empty, if another run has come in since: then it is that one's.
                os.rmdir(self.path.name, dir_fd=self.above)
        except OSError:
            pass  # what stays is locked by nobody and cleared by the next run
        finally:
            os.close(self.lock)
            os.close(self.fd)

    def _has(self, name: str) -> bool:
        return _exists(name, self.fd)

    def _is_made(self, name: str) -> bool:
        """Tell if something is what a run has made to be put in the place."""
        found = os.stat(name, dir_fd=self.fd, follow_symlinks=False)
        return (found.st_dev, found.st_ino) == self.made

    def _is_complete(self, name: str) -> bool:
        if not self._has(name) or not self._is_made(name):
            return False
        folder = open_folder(name, self.fd)
        try:
            return _exists(LIST, folder)
        finally:
            os.close(folder)

    def _clear(self, name: str) -> None:
        found = os.stat(name, dir_fd=self.fd, follow_symlinks=False)
        if not stat.S_ISDIR(found.st_mode):
            # A file that was to be put in its place; while it is empty, it is not noted yet.
            if self._is_made(name) or (stat.S_ISREG(found.st_mode) and not found.st_size):
                os.unlink(name, dir_fd=self.fd)
            else:
                self._keep(name)
            return
        folder = open_folder(name, self.fd)
        try:
            if (os.fstat(folder).st_dev, os.fstat(folder).st_ino) == self.made:
                _empty_unfinished(folder)
            elif _exists(LIST, folder):
                remove_listed(folder)
        finally:
            os.close(folder)
        try:
            os.rmdir(name, dir_fd=self.fd)
        except OSError as fault:
            if fault.errno not in (errno.ENOTEMPTY, errno.EEXIST):
                raise
            self._keep(name)

    def _keep(self, name: str) -> None:
        """Put a replaced folder that holds something of somebody's beside the place."""
        for number in range(1, _TRIES):
            kept = f"{self.target}.kept-{number}"
            if _exists(kept, self.above):
                continue
            with contextlib.suppress(FileExistsError):
                if not move_without_replacing(self.fd, name, self.above, kept):
                    os.rename(name, kept, src_dir_fd=self.fd, dst_dir_fd=self.above)
                break
        self.found.append(
            warning(
                "output-kept",
                f"something came into {self.target} while it was replaced; it is kept in "
                f"{self.path.parent / kept}",
                help="look through it and delete it when nothing in it is wanted",
            )
        )


def take_work(above: int, folder: pathlib.Path, target: str) -> Work:
    """Make the working folder for a place, or take over the one of a dead run; lock it.

    Args:
        above: descriptor of ``folder``, in which the place stands or will stand.
        target: name of the place.

    Raises:
        PlaceTaken: another run is at work there, or the folder is not kdkit's.
        OSError: it cannot be made or locked.
    """
    path = folder / _work_name(target)
    for _ in range(_TRIES):
        with contextlib.suppress(FileExistsError):
            os.mkdir(path.name, 0o700, dir_fd=above)
        try:
            fd = open_folder(path.name, above)
        except FileNotFoundError:  # cleared by the run that had made it
            continue
        except NotADirectoryError:
            raise PlaceTaken(_foreign(path)) from None
        try:
            work = _lock(Work(above, target, path, fd, -1))
        except BaseException:
            os.close(fd)
            raise
        if work is not None:
            return work
        os.close(fd)
    raise PlaceTaken(_busy(path, target))


def _lock(work: Work) -> Work | None:
    """Lock a working folder; None: it was taken away meanwhile."""
    if (inside := os.listdir(work.fd)) and LOCK not in inside:
        # Listed between the last two steps of a run that ends, it would have been empty.
        raise PlaceTaken(_foreign(work.path))
    flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK
    try:
        lock = os.open(LOCK, flags, 0o600, dir_fd=work.fd)
    except FileNotFoundError:
        return None
    except OSError:
        _drop(work)
        raise
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise PlaceTaken(_busy(work.path, work.target)) from None
        if not (
            _is(LOCK, work.fd, os.fstat(lock))
            and _is(work.path.name, work.above, os.fstat(work.fd))
        ):
            os.close(lock)
            return None
        # A second name of the file would be somebody's, who put it here.
        said = os.read(lock, 200) if os.fstat(lock).st_nlink == 1 else b"?"
        noted = _MADE.fullmatch(said.removeprefix(MARKER))
        if (said.removeprefix(MARKER) and not noted) or set(os.listdir(work.fd)) - (
            {LOCK, NEW, OLD, LISTING} if said else {LOCK}
        ):
            raise PlaceTaken(_foreign(work.path))
        work.lock = lock
        work.made = (int(noted[1]), int(noted[2])) if noted else None
        if said:
            work.recover()
        else:
            os.write(lock, MARKER)
            sync(lock)
            sync(work.fd)
    except BaseException as fault:
        if isinstance(fault, OSError):
            _drop(work)
        os.close(lock)
        raise
    return work


def _drop(work: Work) -> None:
    """Take a working folder away that could not be marked, as on a full disk."""
    with contextlib.suppress(OSError):
        if os.listdir(work.fd) == [LOCK] and not os.stat(LOCK, dir_fd=work.fd).st_size:
            os.unlink(LOCK, dir_fd=work.fd)
        os.rmdir(work.path.name, dir_fd=work.above)  # if it is empty


def _empty_unfinished(folder: int) -> None:
    """Take away what a run wrote before it came to its list; no links, no other disks."""
    disk = os.fstat(folder).st_dev
    for _, inner, names, fd in os.fwalk(".", topdown=False, dir_fd=folder):
        if os.fstat(fd).st_dev != disk:
            continue
        for name in names:
            os.unlink(name, dir_fd=fd)
        for name in inner:
            os.rmdir(name, dir_fd=fd)


def _work_name(target: str) -> str:
    name = f".{target}{WORK}"
    if len(os.fsencode(name)) <= _LONGEST:
        return name
    return f".{hashlib.sha256(os.fsencode(target)).hexdigest()[:32]}{WORK}"


def _exists(name: str, dir_fd: int) -> bool:
    try:
        os.stat(name, dir_fd=dir_fd, follow_symlinks=False)
    except FileNotFoundError:
        return False
    return True


def _is(name: str, dir_fd: int, known: os.stat_result) -> bool:
    try:
        return os.path.samestat(os.stat(name, dir_fd=dir_fd, follow_symlinks=False), known)
    except FileNotFoundError:
        return False


def _busy(path: pathlib.Path, target: str) -> Problem:
    return error(
        "output-busy",
        f"another run is writing to {path.parent / target}",
        help="wait until it has ended, or name another place",
    )


def _foreign(path: pathlib.Path) -> Problem:
    return error(
        "output-not-ours",
        f"{path} is in the way, and kdkit did not write what it holds",
        help="move it elsewhere, or name another place for the results",
    )
