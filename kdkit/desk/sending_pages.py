"""From "two cams are missing" to a slip, the workshop's order, and how it is put in."""

from __future__ import annotations

import re
import secrets
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

import flask
import werkzeug

from kdkit.archive import (
    Batch,
    Sent,
    batches_of,
    files_of,
    find,
    in_force,
    list_files,
    log_sent,
    sent_for,
    superseded,
)
from kdkit.archive.finding import damaged
from kdkit.archive.issued import MANUAL
from kdkit.archive.opening import ArchiveFailed
from kdkit.definition.gate import Refused, check_title
from kdkit.desk.pages import Whose, as_file, pictures, whose
from kdkit.desk.papers import slip_lines
from kdkit.desk.shared import page, scale, this_desk
from kdkit.desk.words import says
from kdkit.reprinting import record_of
from kdkit.sending import (
    MOST,
    WHY,
    Asked,
    bag_names,
    choose_sent,
    lookalikes,
    panel_order,
    steps_of,
    where_it_lies,
)

__all__ = ["PAGES"]

PAGES = flask.Blueprint("sending", __name__)

_MM = 96 / 25.4
"""CSS pixels of a millimetre, as browsers count them."""
_SURE = 42.0
_MOST_NOTES = 40
_PART = "part "
_SIZE = re.compile(rb'<svg [^>]*?\bwidth="([0-9.]+)mm" height="([0-9.]+)mm"')

Thing = Mapping[str, Any]


@PAGES.get("/<any(revision, batch):kind>/<int:number>/send")
def send_page(kind: str, number: int) -> flask.Response:
    """Lead from a product to what is sent: first by pictures, then how many and why."""
    meant = whose(kind, number)
    archive, request = this_desk().archive, flask.request
    record = record_of(archive, meant.revision)
    what, words = request.args.get("what", "")[:200], request.args.get("words", "")[:100]
    together = _numbers(request.args.get("with", ""))
    if what:
        return _form(meant, record, what, together)
    wanted = words.casefold().split()
    drawn = pictures(meant)
    things = _things(meant, record, [line for line in record["hardware"] if line["supplied"]])
    parts = [{**p, "picture": drawn.get(f"part-{p['letter']}", "")} for p in record["parts"]]
    return page(
        "choose.html",
        **meant.told,
        words=words,
        things=[t for t in things if _has(t, wanted)],
        parts=[p for p in parts if _has(p, wanted)],
        bags=bag_names(record),
        together=together,
    )


def _has(thing: Thing, wanted: Sequence[str]) -> bool:
    """Tell whether each word is in it, or another that callers have for the same."""
    text = f"{thing['title']} {thing['size']} {thing.get('item', '')}".casefold()
    text += f" {thing.get('letter', '')} {' '.join(thing.get('names', ()))}".casefold()
    return all(says(text, word) for word in wanted)


def _things(meant: Whose, record: Mapping[str, Any], lines: Sequence[Thing]) -> list[Thing]:
    """Return hardware lines with their pictures, as large on the screen as they are."""
    names = {f"figures/item-{line['item']}.svg": line["item"] for line in lines}
    archive = this_desk().archive
    sums = {names[f.path]: f.sum for f in list_files(archive, meant.all) if f.path in names}
    data = {f.path: f.data for f in files_of(archive, meant.all, (MANUAL,), paths=names)}
    things: list[Thing] = []
    for line in lines:
        drawn = data.get(f"figures/item-{line['item']}.svg", b"")
        size = _SIZE.search(drawn[:2000])
        width, height = (float(size[1]), float(size[2])) if size else (0.0, 0.0)
        shrunk = line.get("shrunk", 0) or (1 if max(width, height) < _SURE else 0)
        things.append(
            {
                **line,
                "holds": where_it_lies(record, line),
                "picture": f"{meant.base}/file/{sums[line['item']]}" if size else "",
                "wide": round(width * _MM * scale(), 2),
                "high": round(height * _MM * scale(), 2),
                "shrunk": shrunk,
            }
        )
    return things


def _form(
    meant: Whose,
    record: Mapping[str, Any],
    what: str,
    together: Sequence[int],
    status: int = 200,
    said: str = "",
) -> flask.Response:
    archive = this_desk().archive
    today = in_force(superseded(archive))
    chosen, problems = choose_sent(record, [Asked(what, 1)], WHY[0], "", {})
    if problems:
        flask.abort(404)
    alike = _things(meant, record, lookalikes(record, what))
    values = flask.request.form
    return page(
        "send.html",
        status,
        **meant.told,
        batches=batches_of(archive, meant.revision) if meant.batch is None else (),
        what=values.get("what", what),
        title=chosen[0].title if len(chosen) == 1 else what,
        inside=chosen if what.startswith("bag ") else (),
        alike=alike,
        today=today,
        whys=WHY,
        most=MOST,
        ruler=round(50 * _MM * scale(), 2),
        once=secrets.token_urlsafe(12),
        together=",".join(map(str, together)),
        said=said,
        values={name: values.get(name, "") for name in ("quantity", "why", "batch", "reference")},
    )


def _numbers(text: str) -> tuple[int, ...]:
    """Return the notes that an address names; there is no page if it is no list of them."""
    if not text:
        return ()
    if not re.fullmatch(r"[0-9]{1,9}(,[0-9]{1,9})*", text):
        flask.abort(404)
    found = tuple(dict.fromkeys(map(int, text.split(","))))
    if len(found) > _MOST_NOTES:
        flask.abort(404)
    return found


@PAGES.post("/<any(revision, batch):kind>/<int:number>/send")
def note_sent(kind: str, number: int) -> werkzeug.Response:
    """Note what is sent and lead to its slip."""
    meant, form = whose(kind, number), flask.request.form
    desk = this_desk()
    record = record_of(desk.archive, meant.revision)
    together, what = _numbers(form.get("with", "")), form.get("what", "")[:200]
    first = flask.request.args.get("what", what)[:200]
    count = form.get("quantity", "").strip()

    def again(said: str) -> flask.Response:
        return _form(meant, record, first, together, 400, said)

    if not (count.isascii() and count.isdigit() and len(count) < 7 and 1 <= int(count) <= MOST):
        return again(f"Say how many pieces, from 1 to {MOST}.")
    if form.get("why") not in WHY:
        return again("Say why it is sent.")
    try:
        reference = form.get("reference", "").strip() and check_title(form["reference"].strip())
    except Refused as fault:
        return again(f"The order's number: {fault.message}.")
    batch = _batch(meant, form.get("batch", ""))
    today = in_force(superseded(desk.archive))
    asked = [Asked(what, int(count))]
    sent, problems = choose_sent(record, asked, form["why"], reference, today)
    if problems:
        return again("Choose what is sent.")

    def work() -> str:
        numbers = log_sent(desk.archive, meant.revision, batch, sent)
        return "/slip/" + ",".join(map(str, (*together, *numbers)))

    mark = f"{flask.g.cookie} {form.get('once', '')[:100]}"
    return flask.redirect(desk.once(mark, work), 303)


def _batch(meant: Whose, said: str) -> Batch | None:
    """Return the batch that is meant: the address's own, or one of the revision's."""
    if meant.batch is not None or not said:
        return meant.batch
    found = [b for b in batches_of(this_desk().archive, meant.revision) if b.batch == said]
    if not found:
        flask.abort(400, "the revision has no such batch")
    return found[0]


def _noted(text: str) -> tuple[Whose, list[Sent]]:
    """Return notes that an address names, in its order, and whose they are: all of one."""
    numbers = _numbers(text)
    archive = this_desk().archive
    notes = {note.number: note for note in sent_for(archive, numbers=numbers)}
    if not numbers or set(notes) != set(numbers):
        flask.abort(404)
    last = notes[numbers[-1]]
    if last.batch:
        found = [
            b for b in find(archive, last.product, batch=last.batch).batches
            if b.revision.number == last.revision_number
        ]  # fmt: skip
        if len(found) != 1:
            told = f"note {last.number} names a batch {last.batch[:80]!r} that is not there"
            raise ArchiveFailed(damaged(told))
        meant = whose("batch", found[0].number)
    else:
        meant = whose("revision", last.revision_number)
    if any(note.revision_number != meant.revision.number for note in notes.values()):
        flask.abort(404)
    return meant, [notes[number] for number in numbers]


@PAGES.get("/slip/<numbers>")
def slip_page(numbers: str) -> flask.Response:
    """Show the slip of some notes, to be printed."""
    meant, notes = _noted(numbers)
    record = record_of(this_desk().archive, meant.revision)
    return page(
        "slip.html",
        revision=meant.revision,
        batch=meant.batch.batch if meant.batch else "",
        reference=", ".join(dict.fromkeys(n.reference for n in notes if n.reference)),
        lines=slip_lines(record, notes),
        numbers=",".join(str(n.number) for n in notes),
        links=True,
        base=meant.base,
    )


@PAGES.get("/order/<int:number>")
def order_page(number: int) -> flask.Response:
    """Show the workshop's order for a panel that was sent."""
    meant, note, order = _ordered(number)
    links = {f.path: f"{meant.base}/file/{f.sum}" for f in order.files}
    return page(
        "order.html",
        order=order,
        revision=meant.revision,
        batch=meant.batch.batch if meant.batch else "",
        reference=note.reference,
        quantity=note.quantity,
        why=note.why,
        picture=next((links[p] for p in links if p.startswith("figures/")), ""),
        drawing=f"/order/{number}/drawing.pdf" if order.drawing else "",
        files=list(links.items()),
    )


@PAGES.get("/order/<int:number>/drawing.pdf")
def drawing_page(number: int) -> flask.Response:
    """Give the pages of a panel out of the issued drawings."""
    _, _, order = _ordered(number)
    if not order.drawing:
        flask.abort(404)
    answer = flask.Response(order.drawing, mimetype="application/pdf")
    return as_file(answer, f"drawing-{order.part['letter']}.pdf", save=False)


def _ordered(number: int) -> tuple[Whose, Sent, Any]:
    meant, (note,) = _noted(str(number))
    if not note.item.startswith(_PART):
        flask.abort(404)
    archive = this_desk().archive
    record = record_of(archive, meant.revision)
    order = panel_order(archive, meant.all, record, note.item.removeprefix(_PART))
    if order is None:
        flask.abort(404)
    return meant, note, order


@PAGES.get("/<any(revision, batch):kind>/<int:number>/how")
def how_page(kind: str, number: int) -> flask.Response:
    """Show how something is put in: its steps as issued; for a panel, a sheet drawn for it."""
    meant, what, record, name = _how(kind, number)
    sheet = this_desk().sheets.get(meant.revision, name) if name else None
    drawn = pictures(meant)
    steps = [(n, drawn.get(f"step-{n}", "")) for n in steps_of(record, what)]
    title = next(
        (f"{line['title']} {line['size']}".strip() for line in record["hardware"]
         if line["item"] == what),
        "",
    )  # fmt: skip
    if name:
        letter = what.removeprefix(_PART)
        title = next(f"{p['title']} ({letter})" for p in record["parts"] if p["letter"] == letter)
    return page(
        "how.html",
        **meant.told,
        what=what,
        title=title,
        steps=steps,
        part=name,
        sheet=sheet,
        at=f"{meant.base}/how?what={quote(what)}",
    )


@PAGES.post("/<any(revision, batch):kind>/<int:number>/how")
def ask_sheet(kind: str, number: int) -> werkzeug.Response:
    """Have the sheet for a panel drawn."""
    meant, what, _, name = _how(kind, number)
    if not name:
        flask.abort(400, "a sheet is drawn for a panel")
    if not this_desk().sheets.ask(meant.revision, name):
        flask.abort(503, "too many sheets wait to be drawn; try again in a minute")
    return flask.redirect(f"{meant.base}/how?what={quote(what)}", 303)


@PAGES.get(
    "/<any(revision, batch):kind>/<int:number>/sheet/<any('manual.pdf', 'manual.html'):file>"
)
def sheet_page(kind: str, number: int, file: str) -> flask.Response:
    """Give a sheet that was drawn."""
    meant, _, _, name = _how(kind, number)
    sheet = this_desk().sheets.get(meant.revision, name)
    if sheet is None or file not in sheet.files:
        flask.abort(404)
    kind = "application/pdf" if file.endswith(".pdf") else "text/html"
    return as_file(flask.Response(sheet.files[file], mimetype=kind), file, save=False)


def _how(kind: str, number: int) -> tuple[Whose, str, Mapping[str, Any], str]:
    """Return whose, what is asked, the record, and the definition's name of a part, or ""."""
    meant, what = whose(kind, number), flask.request.args.get("what", "")[:200]
    record = record_of(this_desk().archive, meant.revision)
    if what.startswith(_PART):
        letter = what.removeprefix(_PART)
        names = [p["names"] for p in record["parts"] if p["letter"] == letter]
        if not names:
            flask.abort(404)
        return meant, what, record, names[0][0]
    if what not in {line["item"] for line in record["hardware"]}:
        flask.abort(404)
    return meant, what, record, ""
