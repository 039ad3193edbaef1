"""Finding what a caller has, and giving it back as it was issued."""

from __future__ import annotations

import mimetypes
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

import flask
import werkzeug

from kdkit.archive import (
    Batch,
    Revision,
    batch_numbered,
    batches_of,
    file_of_sum,
    find,
    find_said,
    in_force,
    list_files,
    read_label,
    revision_numbered,
    superseded,
)
from kdkit.archive.issued import DEFINITION, MANUAL, PACKING, RECORD, WORKSHOP
from kdkit.desk.papers import HERE
from kdkit.desk.shared import CARD, FILE_POLICY, keep, page, scale, this_desk
from kdkit.reprinting import record_of
from kdkit.sending import bag_names, in_bag

__all__ = ["PAGES", "Whose", "whose"]

PAGES = flask.Blueprint("pages", __name__)

_SHOWN = 60
_KINDS = (MANUAL, WORKSHOP, PACKING, RECORD, DEFINITION)
"""Files in the order of who asks for them: the buyer, the workshop, the packer, the archive."""
_MAIN = ("manual.html", "manual.pdf", "hardware.csv", "carton-labels.pdf")
_LARGEST_NUMBER = 2**31 - 1
_YEAR = 365 * 86_400

TYPES = {
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".svg": "image/svg+xml",
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json",
    ".yaml": "text/plain; charset=utf-8",
    ".nc": "text/plain; charset=utf-8",
}
"""What a browser may show; everything else is saved."""


@dataclass(frozen=True)
class Whose:
    """A revision, or one of its batches, as addresses name it.

    Args:
        base: the beginning of its addresses.
    """

    revision: Revision
    batch: Batch | None
    base: str

    @property
    def all(self) -> Revision | Batch:
        """Whose files are meant."""
        return self.batch or self.revision

    @property
    def told(self) -> dict[str, Any]:
        """What every page about it is given."""
        return {
            "meant": self,
            "revision": self.revision,
            "batch": self.batch,
            "base": self.base,
        }


def whose(kind: str, number: int) -> Whose:
    """Return what an address means; there is no page if it means nothing."""
    archive = this_desk().archive
    if number > _LARGEST_NUMBER:
        flask.abort(404)
    if kind == "batch":
        batch = batch_numbered(archive, number)
        if batch is None:
            flask.abort(404)
        return Whose(batch.revision, batch, f"/batch/{number}")
    revision = revision_numbered(archive, number)
    if revision is None:
        flask.abort(404)
    return Whose(revision, None, f"/revision/{number}")


@PAGES.get("/")
def found_page() -> werkzeug.Response:
    """Show what typed or scanned words may mean; lead there if it is one thing alone."""
    text = " ".join(flask.request.args.get("q", "").split())[:400]
    archive = this_desk().archive
    found = find_said(archive, text, _SHOWN + 1)
    if text and len(found.batches) == 1:
        label = read_label(text)
        bag = f"?bag={quote(label.bag)}#hardware" if label is not None and label.bag else ""
        return flask.redirect(f"/batch/{found.batches[0].number}{bag}", 303)
    if text and not found.batches and len(found.revisions) == 1:
        return flask.redirect(f"/revision/{found.revisions[0].number}", 303)
    return page(
        "found.html",
        query=text,
        query_first=True,
        text=text,
        revisions=found.revisions[:_SHOWN],
        batches=found.batches[:_SHOWN],
        more=len(found.revisions) > _SHOWN,
        near=found.near,
    )


@PAGES.get("/<any(revision, batch):kind>/<int:number>")
def whose_page(kind: str, number: int) -> flask.Response:
    """Show a revision or batch: its hardware, parts, files with their sums, its kin."""
    archive = this_desk().archive
    meant = whose(kind, number)
    files = list_files(archive, meant.all)
    record = record_of(archive, meant.revision)
    bag = flask.request.args.get("bag", "")[:100]
    kin = find(archive, meant.revision.product, most=_SHOWN).revisions
    return page(
        "whose.html",
        **meant.told,
        record=record,
        today=in_force(superseded(archive)),
        inside=in_bag(record, bag),
        bags=bag_names(record),
        files=sorted(files, key=lambda f: (_KINDS.index(f.kind), "/" in f.path, f.path)),
        main={f.path: f for f in files if f.path in _MAIN},
        batches=batches_of(archive, meant.revision)[:_SHOWN],
        kin=[
            r for r in kin
            if r.product == meant.revision.product and r.number != meant.revision.number
        ][:_SHOWN],
    )  # fmt: skip


@PAGES.get("/<any(revision, batch):kind>/<int:number>/file/<name>")
def file_page(kind: str, number: int, name: str) -> flask.Response:
    """Give a file as it was issued, byte for byte; it is named by its sum alone."""
    meant = whose(kind, number)
    if len(name) != 64 or not set(name) <= set("0123456789abcdef"):
        flask.abort(404)
    file = file_of_sum(this_desk().archive, meant.all, name)
    if file is None:
        flask.abort(404)
    called = file.path.rsplit("/", 1)[-1]
    ending = f".{called.rpartition('.')[2].lower()}"
    save = "save" in flask.request.args or ending not in TYPES
    answer = flask.Response(
        file.data, mimetype=None, content_type=TYPES.get(ending) or _type_of(called)
    )
    return as_file(answer, called, save=save, name=name)


def as_file(answer: flask.Response, called: str, *, save: bool, name: str = "") -> flask.Response:
    """Let an answer be a file: saved or shown, and nothing in it runs.

    Args:
        name: its sum, if it never changes.
    """
    how = "attachment" if save else "inline"
    # Source: the extended form of RFC 6266 (from memory); plain names go without it.
    answer.headers["Content-Disposition"] = f"{how}; filename*=UTF-8''{quote(called, safe='')}"
    answer.headers["Content-Security-Policy"] = FILE_POLICY
    if name:
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        answer.set_etag(name)
    return answer


def _type_of(called: str) -> str:
    return mimetypes.guess_type(called)[0] or "application/octet-stream"


@PAGES.get("/scale")
def scale_page() -> flask.Response:
    """Show a card to hold to the screen, in the size that this browser has now."""
    tried = scale()
    said = flask.request.args.get("try", "")
    try:
        tried = min(3.0, max(0.4, float(said))) if said else tried
    except ValueError:
        flask.abort(400, "a scale is a number")
    steps = [(words, round(tried * by, 4)) for words, by in _STEPS]
    return page("scale.html", tried=tried, steps=steps, card=CARD)


_STEPS = (
    ("much smaller", 0.9), ("smaller", 0.98), ("a little smaller", 0.995),
    ("a little larger", 1.005), ("larger", 1.02), ("much larger", 1.1),
)  # fmt: skip


@PAGES.post("/scale")
def keep_scale() -> werkzeug.Response:
    """Keep the size in which the card fitted, in this browser."""
    try:
        said = float(flask.request.form.get("scale", ""))
    except ValueError:
        flask.abort(400, "a scale is a number")
    if not 0.4 <= said <= 3.0:
        flask.abort(400, "a scale is from 0.4 to 3")
    answer = flask.redirect("/", 303)
    keep(answer, "kdkit_scale", f"{said:.4f}", _YEAR)
    return answer


@PAGES.get("/desk.css")
def style() -> flask.Response:
    """Give the one style sheet."""
    text = (HERE.parent / "desk.css").read_text(encoding="utf-8")
    answer = flask.Response(text, mimetype="text/css")
    answer.headers["Cache-Control"] = "private, max-age=600"
    return answer


def pictures(meant: Whose) -> Mapping[str, Any]:
    """Return the address of each issued figure, by its name."""
    files = list_files(this_desk().archive, meant.all)
    return {
        f.path.removeprefix("figures/").removesuffix(".svg"): f"{meant.base}/file/{f.sum}"
        for f in files
        if f.path.startswith("figures/")
    }
