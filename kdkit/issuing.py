"""One definition in, a revision frozen in an archive; and a batch of it.

A revision is everything: the definition's own files, the counts as data, the manual's folder,
the workshop's and the packer's. They are made as by the three commands that a maker tries
before, from files that are compared before and after, so that what is frozen is what was read.

A batch bears its number on manual and labels. Its files are made from the frozen definition,
not from what lies in a folder today, and only by a kdkit that still draws the revision byte
for byte as it was issued; if it does not, that is told, and the revision's files can stand
for the batch.
"""

from __future__ import annotations

import dataclasses
import os
import pathlib
from collections.abc import Collection, Mapping
from typing import Any

from kdkit import __version__
from kdkit.archive import (
    Archive,
    Batch,
    IssuedFile,
    Revision,
    all_revisions,
    files_of,
    store_batch,
    store_revision,
)
from kdkit.archive.issued import DEFINITION, MANUAL, PACKING, RECORD, WORKSHOP, refuse_path
from kdkit.archive.opening import ArchiveFailed
from kdkit.archive.record import make_record
from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.definition import Definition, load_definition
from kdkit.delivery import LIST, scratch_folder
from kdkit.diagnostics import Problem, Source, error, has_errors
from kdkit.packing import find_cartons
from kdkit.pipeline import build
from kdkit.publish.packing.folder import publish_packing
from kdkit.publish.results import Results
from kdkit.reprinting import record_of
from kdkit.run import Outcome, Progress, Request
from kdkit.schedule.packing import PackingRules
from kdkit.workshop import workshop

__all__ = [
    "Issued",
    "frozen_catalogues",
    "frozen_request",
    "issue",
    "make_batch",
    "without_scratch",
]

_TOLD = 6
_DRAWN = (MANUAL, WORKSHOP, PACKING)
PRODUCT = f"kdkit {__version__}"


class Issued:
    """How issuing ended.

    Args:
        outcome: of the last run; its problems are told with its definition.
        revision: None if nothing was issued.
        batch: the batch that was recorded, if one was asked for.
        problems: of the archive.
    """

    def __init__(
        self,
        outcome: Outcome | None,
        problems: tuple[Problem, ...] = (),
        revision: Revision | None = None,
        batch: Batch | None = None,
    ) -> None:
        self.outcome, self.problems = outcome, problems
        self.revision, self.batch = revision, batch


def issue(
    archive: Archive,
    request: Request,
    *,
    paper: str = "a4",
    progress: Progress = lambda _: None,
) -> Issued:
    """Freeze a definition's revision with everything that is derived from it.

    Args:
        request: the definition's file, its variant and parameters.
        paper: of the manual, ``a4`` or ``letter``.
    """
    file = request.file
    if file is None:
        raise ValueError("a revision is issued from a file")
    request = Request(file=file, variant=request.variant, parameters=request.parameters, batch="")
    before, _ = _own_files(file)
    refused = [why for path in before if (why := refuse_path(DEFINITION, path)) is not None]
    if refused:
        help = "give the file a name that every machine can have, and name it so"
        return Issued(None, tuple(error("issue-file-name", why, help=help) for why in refused))
    made = _make(archive, request, paper, progress)
    if isinstance(made, Outcome):
        return Issued(made)
    outcome, results, files = made
    after, definition = _own_files(file)
    if before != after or definition is None:
        told = "a file of the definition was changed while it was being issued"
        return Issued(outcome, (error("issue-changed", told, help="issue it again"),))
    said = results.resolved.said
    name = str(getattr(said, "revision", ""))
    if not name:
        problem = error(
            "issue-without-revision",
            "the definition names no revision",
            help="write revision: A",
        )
        return Issued(outcome, (problem,))
    revision = Revision(
        product=str(getattr(said, "product", "")),
        revision=name,
        variant=results.resolved.variant or "",
        settings={"set": dict(request.parameters), "paper": paper},
        definition=file.name,
        written_by=PRODUCT,
    )
    own = [IssuedFile(kind=DEFINITION, path=path, data=data) for path, data in after.items()]
    record = IssuedFile(kind=RECORD, path="record.json", data=make_record(results))
    progress("writing to the archive")
    try:
        there, problems = store_revision(archive, revision, [*own, record, *files])
    except ArchiveFailed as failed:
        return Issued(outcome, (failed.problem,))
    return Issued(outcome, problems, there)


def _own_files(file: pathlib.Path) -> tuple[dict[str, bytes], Definition | None]:
    """Return the bytes of a definition and of all files that it names, by their paths."""
    definition, _ = load_definition(file)
    if definition is None:
        return {}, None
    top = definition.folder
    found = {file.name: file.read_bytes()}

    def add(one: Definition, folder: pathlib.PurePath) -> None:
        for catalogue in one.catalogues:
            found[_below(catalogue, top)] = catalogue.read_bytes()
        for name, unit in one.units.items():
            path = folder / name
            found[path.as_posix()] = (top / path).read_bytes()
            add(unit, path.parent)

    add(definition, pathlib.PurePath())
    return found, definition


def _below(file: pathlib.Path, top: pathlib.Path) -> str:
    try:
        return file.relative_to(top).as_posix()
    except ValueError:
        return file.resolve().relative_to(top.resolve()).as_posix()


def _make(
    archive: Archive, request: Request, paper: str, progress: Progress
) -> Outcome | tuple[Outcome, Results, list[IssuedFile]]:
    """Return what the commands write of a definition; or the outcome that stopped."""
    with scratch_folder(archive.file) as top:
        manual = build(request, top / MANUAL, paper=paper, progress=progress)
        results = manual.results
        if not manual.complete or results is None:
            return manual
        shop = workshop(request, top / WORKSHOP, paper=paper, progress=progress)
        if not shop.complete:
            return shop
        progress("packing")
        packing = find_cartons(results, PackingRules())
        packed, told = publish_packing(results, packing, top / PACKING, paper=paper)
        manual = dataclasses.replace(manual, problems=(*manual.problems, *told))
        if packed is None:
            return dataclasses.replace(manual, complete=False)
        files = [
            IssuedFile(
                kind=kind, path=file.relative_to(top / kind).as_posix(), data=file.read_bytes()
            )
            for kind in _DRAWN
            for file in sorted((top / kind).rglob("*"))
            if file.is_file() and file.name != LIST
        ]
    return manual, results, files


def make_batch(
    archive: Archive,
    revision: Revision,
    number: str,
    *,
    count: int = 0,
    made: str = "",
    as_issued: bool = False,
    progress: Progress = lambda _: None,
) -> Issued:
    """Record a batch of an issued revision, with manual and labels that bear its number.

    Args:
        number: as it stands on labels.
        count: how many products, 0 if it is not known.
        made: when, as the maker writes it.
        as_issued: the revision's own files hold for it; nothing is drawn.
    """
    files: list[IssuedFile] = []
    outcome: Outcome | None = None
    try:
        if not as_issued:
            issued = files_of(archive, revision)
            with scratch_folder(archive.file) as folder:
                request = frozen_request(revision, issued, folder)
                drawn = _draw_batch(archive, revision, issued, request, number, progress)
                drawn = _told_plainly(drawn, folder)
            if isinstance(drawn, Issued):
                return drawn
            outcome, files = drawn
        batch = Batch(batch=number, revision=revision, count=count, made=made, own=not as_issued)
        progress("writing to the archive")
        there, problems = store_batch(archive, batch, files)
    except ArchiveFailed as failed:
        return Issued(outcome, (failed.problem,))
    return Issued(outcome, problems, revision, there)


def frozen_request(
    revision: Revision, issued: tuple[IssuedFile, ...], folder: pathlib.Path
) -> Request:
    """Lay a revision's own files out and return what asks for it once more."""
    for file in issued:
        if file.kind == DEFINITION:
            place = folder / file.path
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(file.data)
    values: Mapping[str, Any] = revision.settings.get("set", {})
    return Request(
        file=folder / revision.definition,
        variant=revision.variant or None,
        parameters=values,
        batch="",
    )


def frozen_catalogues(
    archive: Archive, items: Collection[str]
) -> tuple[tuple[Revision, Catalogue], ...]:
    """Return the catalogues of the revisions that use any of some items, as they were frozen.

    Revisions whose own files are the same share one.

    Raises:
        ArchiveFailed: the archive could not be read, or a revision's own files cannot be.
    """
    kept: dict[tuple[tuple[str, str], ...], Catalogue] = {}
    found = []
    for revision in all_revisions(archive):
        record = record_of(archive, revision)
        if not any(line["item"] in items for line in record["hardware"]):
            continue
        issued = files_of(archive, revision, (DEFINITION,))
        key = tuple(sorted((file.path, file.sum) for file in issued))
        if key not in kept:
            kept[key] = _frozen_catalogue(archive, revision, issued)
        found.append((revision, kept[key]))
    return tuple(found)


def _frozen_catalogue(
    archive: Archive, revision: Revision, issued: tuple[IssuedFile, ...]
) -> Catalogue:
    with scratch_folder(archive.file) as folder:
        request = frozen_request(revision, issued, folder)
        assert request.file is not None
        definition, problems = load_definition(request.file)
        if definition is not None:
            catalogue, problems = load_catalogue(definition.catalogues)
            if catalogue is not None and not has_errors(problems):
                return catalogue
    why = problems[0].message if problems else "they cannot be read"
    said = f"the catalogues of {revision.title} are not understood: {why}"
    help = f"use {revision.written_by}, which issued it"
    raise ArchiveFailed(error("archive-newer", said, help=help))


_Drawn = Issued | tuple[Outcome, list[IssuedFile]]


def _told_plainly(drawn: _Drawn, folder: pathlib.Path) -> _Drawn:
    if not isinstance(drawn, Issued):
        return without_scratch(folder, drawn[0]), drawn[1]
    if drawn.outcome is not None:
        drawn.outcome = without_scratch(folder, drawn.outcome)
    return drawn


def without_scratch(folder: pathlib.Path, outcome: Outcome) -> Outcome:
    """Return an outcome whose places are named as in the archive, not by a scratch folder."""

    def plain(source: Source | None) -> Source | None:
        if source is None:
            return None
        text = source.text
        if not text and outcome.definition is not None:
            text = outcome.definition.line_text(source)
        name = source.file.removeprefix(f"{folder}{os.sep}")
        return dataclasses.replace(source, file=name, text=text)

    problems = tuple(
        dataclasses.replace(
            problem,
            source=plain(problem.source),
            related=tuple(dataclasses.replace(r, source=plain(r.source)) for r in problem.related),
        )
        for problem in outcome.problems
    )
    return dataclasses.replace(outcome, problems=problems)


def _draw_batch(
    archive: Archive,
    revision: Revision,
    issued: tuple[IssuedFile, ...],
    request: Request,
    number: str,
    progress: Progress,
) -> _Drawn:
    paper = str(revision.settings.get("paper", "a4"))
    progress("drawing the revision again to compare it")
    again = _make(archive, request, paper, progress)
    if isinstance(again, Outcome):
        return Issued(again, (_otherwise(revision, "it is refused"),))
    kinds = {f.kind for f in issued} & set(_DRAWN)
    old = {(f.kind, f.path): f.data for f in issued if f.kind in kinds}
    new = {(f.kind, f.path): f.data for f in again[2] if f.kind in kinds}
    differ = sorted(at for at in {*old, *new} if old.get(at) != new.get(at))
    if differ:
        told = ", ".join(f"{kind}/{path}" for kind, path in differ[:_TOLD])
        return Issued(again[0], (_otherwise(revision, f"{len(differ)} files differ: {told}"),))
    progress(f"drawing it with the batch's number {number}")
    request = Request(
        file=request.file, variant=request.variant, parameters=request.parameters, batch=number
    )
    with_number = _make(archive, request, paper, progress)
    if isinstance(with_number, Outcome):
        return Issued(with_number)
    outcome, _, files = with_number
    return outcome, [f for f in files if f.kind in kinds and old.get((f.kind, f.path)) != f.data]


def _otherwise(revision: Revision, how: str) -> Problem:
    return error(
        "batch-drawn-otherwise",
        f"this {PRODUCT} does not draw {revision.title} as {revision.written_by} issued it: {how}",
        help=f"use {revision.written_by}, let the issued files stand for the batch (--as-issued), "
        "or issue a new revision",
    )


def failed(issued: Issued) -> bool:
    """Tell whether something kept it from its end."""
    ended = issued.outcome is not None and not issued.outcome.complete
    return ended or has_errors(issued.problems)
