"""An archive with two small revisions of invented bytes, and one batch."""

from __future__ import annotations

import json
import pathlib
from collections.abc import Callable, Iterator

import pytest

from kdkit.archive import (
    Archive,
    Batch,
    IssuedFile,
    Revision,
    new_archive,
    open_archive,
    store_batch,
    store_revision,
)
from kdkit.archive.issued import DEFINITION, MANUAL, RECORD

MakeRevision = Callable[..., tuple[Revision, list[IssuedFile]]]


def content(product: str, revision: str, **more: object) -> tuple[Revision, list[IssuedFile]]:
    """Return a revision and its files, which say nothing but whose they are."""
    made = Revision(
        product=product,
        revision=revision,
        variant=str(more.get("variant", "")),
        settings={"set": {}, "paper": "a4"},
        definition="rack.yaml",
        written_by="kdkit 0.0.test",
    )
    told = json.dumps({"form": 1, "hardware": [], "parts": [], "steps": []}).encode()
    files = [
        IssuedFile(kind=DEFINITION, path="rack.yaml", data=f"{product} {revision}".encode()),
        IssuedFile(kind=RECORD, path="record.json", data=told),
        IssuedFile(kind=MANUAL, path="manual.pdf", data=f"pages of {product} {more}".encode()),
        IssuedFile(kind=MANUAL, path="figures/step-1.svg", data=b"<svg/>" * 50),
    ]
    return made, files


@pytest.fixture
def file(tmp_path: pathlib.Path) -> pathlib.Path:
    """Return an archive's file with ``Shoe rack`` A and B and the batch LN-204 of B."""
    place = tmp_path / "w.sqlite"
    assert new_archive(str(place)) == ()
    archive = opened(place)
    first, _ = store_revision(archive, *content("Shoe rack", "A"))
    second, _ = store_revision(archive, *content("Shoe rack", "B"))
    assert first is not None
    assert second is not None
    batch = Batch(batch="LN-204", revision=second, count=40, made="week 7")
    own = [IssuedFile(kind=MANUAL, path="manual.pdf", data=b"pages that say LN-204")]
    assert store_batch(archive, batch, own)[1] == ()
    archive.close()
    return place


def opened(place: pathlib.Path) -> Archive:
    archive, problems = open_archive(str(place))
    assert problems == ()
    assert archive is not None
    return archive


@pytest.fixture
def archive(file: pathlib.Path) -> Iterator[Archive]:
    one = opened(file)
    yield one
    one.close()
