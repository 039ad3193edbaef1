"""One revision as a file, to take from one archive into another.

A ZIP: ``revision.json`` with what is said of it, its batches and the list of files, and each
file under its SHA-256. What comes in is untrusted: sizes are bounded before they are
unpacked, every sum and seal is recomputed, and a path that could leave a folder is refused.
"""

from __future__ import annotations

import datetime
import io
import json
import pathlib
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, BinaryIO

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kdkit.archive.finding import batches_of, files_of
from kdkit.archive.issued import (
    DEFINITION,
    KINDS,
    RECORD,
    Batch,
    IssuedFile,
    Revision,
    refuse_path,
)
from kdkit.archive.opening import Archive
from kdkit.archive.record import read_record
from kdkit.archive.storing import store_batch, store_revision
from kdkit.definition.gate import Refused, check_name, check_number, check_title
from kdkit.delivery import write_new_file
from kdkit.diagnostics import Problem, error

__all__ = ["export_revision", "import_revision"]

_LIST = "revision.json"
_FORM = 1
_LARGEST, _FILES = 1 << 30, 20_000  # bytes unpacked, files
_PAPERS = ("a4", "letter")
_DATE = (1980, 1, 1, 0, 0, 0)  # the same content gives the same bytes


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class _File(_Strict):
    kind: str = Field(pattern=f"^({'|'.join(KINDS)})$")
    path: str = Field(max_length=400)
    sum: str = Field(pattern="^[0-9a-f]{64}$")


class _BatchSaid(_Strict):
    batch: str
    count: int = Field(ge=0, le=10**9)
    made: str
    own: bool
    recorded: str = Field(pattern=r"^[0-9T:+-]{1,40}$")
    files: list[_File]


class _RevisionSaid(_Strict):
    form: int
    product: str
    revision: str
    variant: str
    settings: dict[str, Any]
    definition: str = Field(max_length=400)
    written_by: str
    issued: str = Field(pattern=r"^[0-9T:+-]{1,40}$")
    files: list[_File]
    batches: list[_BatchSaid]


def export_revision(
    archive: Archive, revision: Revision, file: pathlib.Path
) -> tuple[Problem, ...]:
    """Write a revision and its batches into a new file.

    Raises:
        ArchiveFailed: the archive could not be read, or a file in it is damaged.
    """
    contents: dict[str, bytes] = {}

    def listed(files: Sequence[IssuedFile]) -> list[dict[str, str]]:
        contents.update({f.sum: f.data for f in files})
        return [{"kind": f.kind, "path": f.path, "sum": f.sum} for f in files]

    batches = []
    for batch in batches_of(archive, revision):
        own = _own_files(archive, batch)
        said = {"batch": batch.batch, "count": batch.count, "made": batch.made, "own": batch.own}
        batches.append({**said, "recorded": batch.recorded, "files": listed(own)})
    told = {
        "form": _FORM,
        "product": revision.product,
        "revision": revision.revision,
        "variant": revision.variant,
        "settings": dict(revision.settings),
        "definition": revision.definition,
        "written_by": revision.written_by,
        "issued": revision.issued,
        "files": listed(files_of(archive, revision)),
        "batches": batches,
    }

    def write(stream: BinaryIO) -> None:
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as packed:
            text = json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True)
            packed.writestr(zipfile.ZipInfo(_LIST, _DATE), text)
            for name, data in sorted(contents.items()):
                info = zipfile.ZipInfo(f"files/{name}", _DATE)
                info.compress_type = zipfile.ZIP_DEFLATED
                packed.writestr(info, data)

    return write_new_file(file, write)


def _own_files(archive: Archive, batch: Batch) -> tuple[IssuedFile, ...]:
    """Return the files that a batch has otherwise than its revision."""
    of_revision = {(f.kind, f.path, f.sum) for f in files_of(archive, batch.revision)}
    return tuple(f for f in files_of(archive, batch) if (f.kind, f.path, f.sum) not in of_revision)


def import_revision(
    archive: Archive, file: pathlib.Path
) -> tuple[Revision | None, tuple[Problem, ...]]:
    """Take a revision and its batches from a file that ``export_revision`` wrote.

    Raises:
        ArchiveFailed: the database refused.
    """
    try:
        said, contents = _read(file)
        revision = Revision(
            product=_name("product", said.product),
            revision=_name("revision", said.revision),
            variant=said.variant and check_title(said.variant),
            settings=_settings(said.settings),
            definition=said.definition,
            written_by=_name("writer", said.written_by),
        )
        _check_time(said.issued)
        files = _files(said.files, contents)
        _check_whole(revision, files)
        batches = [
            (
                Batch(
                    batch=_name("batch", b.batch),
                    revision=revision,
                    count=b.count,
                    made=b.made and check_title(b.made),
                    own=b.own,
                ),
                _check_time(b.recorded),
                _files(b.files, contents),
            )
            for b in said.batches
        ]
    except (OSError, zipfile.BadZipFile, zlib.error, NotImplementedError, EOFError) as fault:
        return None, (_not_read(file, getattr(fault, "strerror", None) or str(fault)),)
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"]))
        return None, (_not_read(file, f"{_LIST}, {where}: {first['msg']}"),)
    except Refused as fault:
        return None, (_not_read(file, fault.message),)
    except (ValueError, RuntimeError, KeyError) as fault:
        return None, (_not_read(file, str(fault)),)
    there, problems = store_revision(archive, revision, files, issued=said.issued)
    if there is None:
        return None, problems
    found = list(problems)
    for batch, recorded, own in batches:
        _, more = store_batch(archive, replace(batch, revision=there), own, recorded=recorded)
        found += more
    return there, tuple(found)


def _name(what: str, said: str) -> str:
    """Return a name that is one; without it nobody finds what it is the name of."""
    name = check_title(said)
    if not name:
        raise ValueError(f"its {what} has no name")
    return name


def _check_time(said: str) -> str:
    datetime.datetime.fromisoformat(said)
    return said


def _settings(said: dict[str, Any]) -> dict[str, Any]:
    """Return what the run was asked, as it was; it is asked so again for every batch."""
    values = said.get("set", {})
    if not isinstance(values, dict) or said.get("paper", _PAPERS[0]) not in _PAPERS:
        raise ValueError("its settings are none")
    for name, value in values.items():
        check_name(name)
        check_number(value)
    return said


def _check_whole(revision: Revision, files: Sequence[IssuedFile]) -> None:
    """Refuse a revision that could not be drawn again, or whose counts could not be read."""
    if revision.definition not in {f.path for f in files if f.kind == DEFINITION}:
        raise ValueError(f"the definition {revision.definition[:80]!r} is not in it")
    records = [f for f in files if f.kind == RECORD]
    if len(records) != 1:
        raise ValueError(f"there are {len(records)} records in it, not one")
    read_record(records[0].data)


def _not_read(file: pathlib.Path, why: str) -> Problem:
    return error(
        "archive-not-read",
        f"{file} is no exported revision that can be read: {why[:200]}",
        help="export it again with `kdkit archive export`",
    )


def _read(file: pathlib.Path) -> tuple[_RevisionSaid, dict[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(file.read_bytes())) as packed:
        entries = packed.infolist()
        if len(entries) > _FILES or sum(e.file_size for e in entries) > _LARGEST:
            raise ValueError(f"it holds more than {_FILES} files or {_LARGEST >> 20} MB")
        names = [e.filename for e in entries]
        if _LIST not in names:
            raise ValueError(f"there is no {_LIST} in it")
        contents = {e.filename: _bounded(packed, e) for e in entries}
    said = _RevisionSaid.model_validate(json.loads(contents[_LIST]))
    if said.form != _FORM:
        raise ValueError(f"it is of form {said.form}; this kdkit reads form {_FORM}")
    return said, contents


def _bounded(packed: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    """Return an entry's bytes; no more than its head says are ever unpacked."""
    with packed.open(entry) as stream:
        data = stream.read(entry.file_size + 1)
    if len(data) != entry.file_size:
        raise ValueError(f"{entry.filename[:80]!r} is larger than it says")
    return data


def _files(said: Sequence[_File], contents: Mapping[str, bytes]) -> tuple[IssuedFile, ...]:
    files = []
    for one in said:
        refused = refuse_path(one.kind, one.path)
        if refused is not None:
            raise ValueError(refused)
        made = IssuedFile(kind=one.kind, path=one.path, data=contents.get(f"files/{one.sum}", b""))
        if made.sum != one.sum:
            raise ValueError(f"{one.path!r} is damaged or missing")
        files.append(made)
    places = {(f.kind, f.path) for f in files}
    if len(places) != len(files):
        raise ValueError("a file is listed twice")
    for kind, path in places:
        pieces = path.split("/")
        above = ("/".join(pieces[:n]) for n in range(1, len(pieces)))
        if any((kind, folder) in places for folder in above):
            raise ValueError(f"{path[:80]!r} lies in a file, not in a folder")
    return tuple(files)
