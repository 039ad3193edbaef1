"""A folder for results: claimed before any work, written beside its place, moved in whole."""

from __future__ import annotations

import contextlib
import errno
import os
import pathlib
import stat
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from types import TracebackType

from kdkit.delivery.listed import make_list, open_folder, read_list
from kdkit.delivery.moves import exchange, signals_held, sync
from kdkit.delivery.place import (
    cannot_write,
    find_place,
    refuse_contents,
    refuse_inputs,
    refuse_place,
)
from kdkit.delivery.work import NEW, OLD, PlaceTaken, Work, take_work
from kdkit.diagnostics import Problem, advice, error, has_errors
from kdkit.interrupts import stop_if_asked

__all__ = ["Claim", "claim_folder", "let_go", "take_place", "write_folder"]

Found = tuple[Problem, ...]
_TRIES = 10


class Claim:
    """A place that no other run can write to until it is let go, as a context.

    What the names lead to was looked up when it was made: the folder above is held by a
    descriptor, so that neither a change of the current folder nor a link that is turned
    elsewhere matters from then on.
    """

    def __init__(
        self,
        named: pathlib.Path,
        place: pathlib.Path,
        command: str,
        work: Work,
        made: Sequence[pathlib.Path],
    ) -> None:
        self.command = command
        self._named, self._place, self._work, self._made = named, place, work, made
        self._known = _look(work)

    def __enter__(self) -> Claim:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.release()

    def release(self) -> None:
        """Clear the working folder, and folders above that were made and stay empty."""
        with signals_held():
            self._work.close()
            let_go(self._work.above, self._made)

    def refuse_inputs(self, files: Iterable[pathlib.Path]) -> Found:
        """Tell if the place holds one of the files that the run reads."""
        return _asked(self._named, refuse_inputs(self._place, files))

    def judge(self) -> Found:
        """Tell what a broken run had left, and why what stands in the place must stay."""
        found, self._work.found = tuple(self._work.found), []
        try:
            return _asked(self._named, *found, self._judge())
        except OSError as fault:
            return _asked(self._named, *found, cannot_write(self._place, fault))

    def deliver(
        self, write: Callable[[pathlib.Path], None], product: str = ""
    ) -> tuple[tuple[pathlib.Path, ...] | None, Found]:
        """Fill a new folder and put it in the place of the old one.

        ``write`` gets an empty folder on the same disk. If it raises, or anything fails
        before the last move, the old folder stays as it was. What stands in the place is
        looked at once more directly before it is moved, and again before it is taken away.

        Args:
            product: whose results they are; that those of another were replaced is told.

        Returns:
            The written files in their place, sorted, without the list; or None, and why.
        """
        work = self._work
        try:
            os.mkdir(NEW, dir_fd=work.fd)
            fresh = open_folder(NEW, work.fd)
            try:
                work.remember(fresh)
                write(_path_of(fresh, work.path / NEW))
                names = self._seal(fresh, product)
                before = self._product_there()
                with signals_held():
                    stop_if_asked()  # an interrupt that a library swallowed just before
                    refusal = self._move_in(fresh)
                    work.clear()
            finally:
                os.close(fresh)
        except OSError as fault:
            refusal = cannot_write(self._place, fault)
        found, work.found = tuple(work.found), []
        if refusal is not None:
            return None, _asked(self._named, refusal, *found)
        shown = self._shown()
        if before and product and before != product:
            found = (*found, _replaced(shown, before, product))
        return tuple(sorted(shown / name for name in names)), _asked(self._named, *found)

    def _product_there(self) -> str:
        """Return the product whose results stand in the place, "" for none that is known."""
        with contextlib.suppress(OSError):
            folder = open_folder(self._work.target, self._work.above)
            try:
                listed = read_list(folder)
            finally:
                os.close(folder)
            return listed.product if listed is not None else ""
        return ""

    def _seal(self, fresh: int, product: str) -> list[str]:
        """Put the list of its files into a folder, and have everything on the disk."""
        if not os.path.samestat(os.stat(self._work.path / NEW), os.fstat(fresh)):
            raise FileNotFoundError(
                errno.ENOENT, "the folder above was moved while kdkit was writing"
            )
        text, names = make_list(fresh, self.command, product)
        self._work.write_list(text, fresh)
        return names

    def _move_in(self, fresh: int) -> Problem | None:
        work, now = self._work, _look(self._work)
        refusal = self._judge()
        if refusal is None and now is not None and self._known is not None:
            refusal = None if os.path.samestat(now, self._known) else self._turned()
        if refusal is not None:
            return refusal
        if now is not None:
            os.fchmod(fresh, stat.S_IMODE(now.st_mode))
        above, name = work.above, work.target
        if now is None or _is_empty(work):
            # Fails if something has come into it since.
            os.rename(NEW, name, src_dir_fd=work.fd, dst_dir_fd=above)
        elif exchange(work.fd, NEW, above, name):
            if not os.path.samestat(os.stat(NEW, dir_fd=work.fd, follow_symlinks=False), now):
                exchange(work.fd, NEW, above, name)
                return self._turned()
        else:
            os.rename(name, OLD, src_dir_fd=above, dst_dir_fd=work.fd)
            try:
                if not os.path.samestat(os.stat(OLD, dir_fd=work.fd, follow_symlinks=False), now):
                    os.rename(OLD, name, src_dir_fd=work.fd, dst_dir_fd=above)
                    return self._turned()
                os.rename(NEW, name, src_dir_fd=work.fd, dst_dir_fd=above)
            except OSError:
                os.rename(OLD, name, src_dir_fd=work.fd, dst_dir_fd=above)
                raise
        sync(above)
        sync(work.fd)
        return None

    def _judge(self) -> Problem | None:
        try:
            folder = open_folder(self._work.target, self._work.above)
        except FileNotFoundError:
            return None
        except NotADirectoryError:
            return error(
                "output-not-a-folder",
                f"{self._place} is a file or a link now",
                help="name a folder that does not exist yet, or one of an earlier run",
            )
        try:
            return refuse_contents(folder, self._place, self.command)
        finally:
            os.close(folder)

    def _turned(self) -> Problem:
        return error(
            "output-not-ours",
            f"{self._place} was replaced by another folder while this run was at work",
            help="run again, if that folder is one that kdkit wrote",
        )

    def _shown(self) -> pathlib.Path:
        """Return the place by the name that was asked for, if that still leads there."""
        with contextlib.suppress(OSError):
            if os.path.samefile(self._named, self._place):
                return self._named
        return self._place


def _replaced(place: pathlib.Path, before: str, product: str) -> Problem:
    return advice(
        "output-replaced",
        f"{place} held the results of {before}; those of {product} are there now",
        help="give each product a folder of its own with --out",
    )


def _path_of(fd: int, path: pathlib.Path) -> pathlib.Path:
    """Return a path into an open folder that nothing put in its place can lead astray.

    Where the system has no such paths it is the folder's own.
    """
    held = pathlib.Path(f"/proc/self/fd/{fd}")
    return held if held.is_dir() else path


def _look(work: Work) -> os.stat_result | None:
    try:
        return os.stat(work.target, dir_fd=work.above, follow_symlinks=False)
    except FileNotFoundError:
        return None


def _is_empty(work: Work) -> bool:
    folder = open_folder(work.target, work.above)
    try:
        return not os.listdir(folder)
    finally:
        os.close(folder)


def _asked(named: pathlib.Path, *problems: Problem | None) -> Found:
    """Return problems as such of the option that named the folder."""
    return tuple(replace(p, asked=f"--out {named}") for p in problems if p is not None)


def claim_folder(
    named: pathlib.Path, command: str, inputs: Iterable[pathlib.Path] = ()
) -> tuple[Claim | None, Found]:
    """Take a place for a command's results, before the run has done any work.

    It is refused if it is no place for results, if what stands there is not wholly the
    same command's and unchanged, if another run is at work there, or if nothing can be
    written. What a run that was broken off has left there is finished or cleared first.

    Args:
        named: a folder that need not be there; links are followed.
        command: whose results they are; those of another are not replaced.
        inputs: files that the run reads, as far as they are known.
    """
    try:
        place = find_place(named)
        refusal = refuse_place(named, place, inputs)
    except (OSError, RuntimeError, ValueError) as fault:
        refusal = cannot_write(named, fault)
    if refusal is not None:
        return None, _asked(named, refusal)
    try:
        with signals_held():
            claim = Claim(named, place, command, *take_place(place))
    except PlaceTaken as taken:
        return None, _asked(named, taken.problem)
    except OSError as fault:
        return None, _asked(named, cannot_write(place, fault))
    try:
        problems = claim.judge()
    except BaseException:
        claim.release()
        raise
    if has_errors(problems):
        claim.release()
        return None, problems
    return claim, problems


def take_place(place: pathlib.Path) -> tuple[Work, tuple[pathlib.Path, ...]]:
    """Open the folder above a place and lock a working folder in it.

    Folders above that are not there are made.

    Returns:
        the working folder, and the folders that were made.
    """
    for left in reversed(range(_TRIES)):
        made: list[pathlib.Path] = []
        above = -1
        try:
            for folder in reversed(place.parents):
                if not folder.is_dir():
                    with contextlib.suppress(FileExistsError):
                        folder.mkdir()
                        made.append(folder)
            above = open_folder(str(place.parent))
            return take_work(above, place.parent, place.name), tuple(made)
        except BaseException as fault:
            let_go(above, made)
            # Another run that ended without results may just have taken away what it had made.
            if not isinstance(fault, FileNotFoundError) or not left:
                raise
    raise AssertionError  # the last try returns or raises


def let_go(above: int, made: Sequence[pathlib.Path]) -> None:
    """Close the folder above a place; take away what was made for it and stayed empty."""
    if above >= 0:
        os.close(above)
    for folder in reversed(made):
        with contextlib.suppress(OSError):
            folder.rmdir()


def write_folder(
    folder: pathlib.Path | Claim,
    command: str,
    write: Callable[[pathlib.Path], None],
    product: str = "",
) -> tuple[tuple[pathlib.Path, ...] | None, Found]:
    """Write a folder whole: one that a run has claimed, or one that is claimed here.

    ``product``: whose results they are, "" for none.
    """
    if isinstance(folder, Claim):
        if folder.command != command:
            raise ValueError(f"claimed for {folder.command!r}, written by {command!r}")
        return folder.deliver(write, product)
    claim, problems = claim_folder(folder, command)
    if claim is None:
        return None, problems
    with claim:
        files, found = claim.deliver(write, product)
    return files, (*problems, *found)
