"""What was sent and what goes missing most, so that the maker mends the cause."""

from __future__ import annotations

from collections.abc import Sequence

import flask
import werkzeug

from kdkit.archive import (
    Revision,
    SentCount,
    count_sent,
    find,
    forget_reference,
    sent_for,
)
from kdkit.desk.shared import page, this_desk
from kdkit.sending import WHY

__all__ = ["PAGES"]

PAGES = flask.Blueprint("log", __name__)

_NOTES, _COUNTS = 100, 60


@PAGES.get("/log")
def log_page() -> flask.Response:
    """Show what goes missing most, then the newest notes; of one product, or of all."""
    archive = this_desk().archive
    product = " ".join(flask.request.args.get("product", "").split())[:400]
    found = find(archive, product) if product else None
    revisions = found.revisions if found is not None else None
    notes = [
        note
        for one in (revisions if revisions is not None else (None,))
        for note in sent_for(archive, one, _NOTES)
    ]
    notes.sort(key=lambda note: -note.number)
    return page(
        "log.html",
        product=product,
        near=found.near if found is not None else (),
        counts=_counts(revisions),
        notes=notes[:_NOTES],
        whys=WHY,
        forgot=flask.request.args.get("forgot", "")[:9],
    )


def _counts(revisions: Sequence[Revision] | None) -> Sequence[SentCount]:
    """Return the counts; those of all are kept until something is noted, for there are many."""
    desk = this_desk()
    if revisions is not None:
        return count_sent(desk.archive, revisions, _COUNTS)
    newest = next((note.number for note in sent_for(desk.archive, newest=1)), 0)
    if desk.counted[0] != newest:
        desk.counted = (newest, count_sent(desk.archive, None, _COUNTS))
    return desk.counted[1]


@PAGES.post("/log/forget")
def forget() -> werkzeug.Response:
    """Take an order's number out of every note."""
    reference = flask.request.form.get("reference", "").strip()
    if not reference:
        flask.abort(400, "name the order's number")
    count = forget_reference(this_desk().archive, reference)
    return flask.redirect(f"/log?forgot={count}", 303)
