"""An issued revision once more: its files as they were, its hardware list, what changed.

Nothing here draws or counts anything: what comes out was frozen when it was issued.
"""

from __future__ import annotations

import fnmatch
import pathlib
from collections.abc import Mapping, Sequence
from typing import Any

from kdkit.archive import Archive, Batch, IssuedFile, Revision, files_of
from kdkit.archive.changes import Change, compare_records
from kdkit.archive.issued import RECORD
from kdkit.archive.opening import ArchiveFailed
from kdkit.archive.record import read_record
from kdkit.delivery import REPRINT, claim_folder
from kdkit.diagnostics import Problem, error, has_errors

__all__ = ["changes_since", "record_of", "write_reprint"]


def record_of(archive: Archive, revision: Revision) -> Mapping[str, Any]:
    """Return the counts of a revision as data.

    Raises:
        ArchiveFailed: the archive could not be read, or the record is damaged.
    """
    files = files_of(archive, revision, (RECORD,))
    try:
        if len(files) != 1:
            raise ValueError(f"there are {len(files)} of it")
        return read_record(files[0].data)
    except ValueError as fault:
        said = f"the record of {revision.title} cannot be read: {fault}"
        help = "take it from a back-up; or use the kdkit that issued it or a newer one"
        raise ArchiveFailed(error("archive-damaged", said, help=help)) from fault


def changes_since(archive: Archive, old: Revision, new: Revision) -> tuple[Change, ...]:
    """Return what differs between two issued revisions."""
    return compare_records(record_of(archive, old), record_of(archive, new))


def write_reprint(
    archive: Archive,
    whose: Revision | Batch,
    folder: pathlib.Path,
    only: Sequence[str] = (),
) -> tuple[tuple[pathlib.Path, ...], tuple[Problem, ...]]:
    """Write files as they were issued, byte for byte.

    Args:
        folder: is made, or replaced if an earlier reprint wrote it.
        only: names with ``*`` and ``?``; of the file, or with its folders before it.

    Raises:
        ArchiveFailed: the archive could not be read, or a file in it is damaged.
    """
    inputs = () if archive.file is None else (archive.file,)
    claim, problems = claim_folder(folder, REPRINT, inputs)
    if claim is None or has_errors(problems):
        return (), problems
    with claim:
        files = files_of(archive, whose)
        wanted = [f for f in files if not only or any(_fits(f, pattern) for pattern in only)]
        if not wanted:
            names = ", ".join(sorted({f.path.rsplit("/", 1)[-1] for f in files})[:12])
            said = f"no issued file is called {' or '.join(only)}"
            return (), (error("revision-unknown", said, help=f"there are {names} and others"),)

        def write(place: pathlib.Path) -> None:
            for file in wanted:
                target = place / file.kind / file.path
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(file.data)

        title = whose.title if isinstance(whose, Revision) else whose.revision.title
        written, more = claim.deliver(write, title)
    return written or (), (*problems, *more)


def _fits(file: IssuedFile, pattern: str) -> bool:
    whole = f"{file.kind}/{file.path}"
    return any(
        fnmatch.fnmatchcase(name, pattern)
        for name in (whole, file.path, file.path.rsplit("/", 1)[-1])
    )
