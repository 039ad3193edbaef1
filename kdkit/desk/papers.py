"""Pages out of templates: what stands on the desk, and papers that stand alone in a file."""

from __future__ import annotations

import base64
import functools
import pathlib
from collections.abc import Mapping, Sequence
from typing import Any

import jinja2

from kdkit.archive import Archive, Batch, IssuedFile, Revision, Sent
from kdkit.sending import PanelOrder, panel_order, steps_of
from kdkit.units import mm_text

__all__ = ["HERE", "SlipLine", "render", "slip_lines", "write_papers"]

HERE = pathlib.Path(__file__).parent / "templates"

SlipLine = Mapping[str, Any]
_PART = "part "


@functools.lru_cache(maxsize=1)
def _environment() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters["mm"] = mm_text
    made.filters["mass"] = lambda value: f"{value:.1f}"
    made.filters["size"] = lambda value: " × ".join(map(mm_text, value))
    made.filters["bytes"] = _bytes
    return made


def _bytes(count: int) -> str:
    return f"{count} bytes" if count < 10_000 else f"{count / 1000:.0f} kB"


def render(template: str, **values: Any) -> str:
    """Return a page; every text in it is escaped."""
    return _environment().get_template(template).render(**values)


def slip_lines(record: Mapping[str, Any], sent: Sequence[Sent]) -> list[SlipLine]:
    """Return what stands on a slip, a line for each note."""
    return [
        {
            "number": one.number,
            "quantity": one.quantity,
            "title": one.title,
            "item": one.item,
            "instead": one.instead,
            "bag": one.bag,
            "why": one.why,
            "letter": one.item.removeprefix(_PART) if one.item.startswith(_PART) else "",
            "steps": steps_of(record, one.item),
        }
        for one in sent
    ]


def write_papers(
    archive: Archive,
    whose: Revision | Batch,
    record: Mapping[str, Any],
    sent: Sequence[Sent],
    place: pathlib.Path,
) -> None:
    """Write a slip, and for each panel in it the workshop's order, into an empty folder.

    Raises:
        ArchiveFailed: a file of the revision could not be read.
    """
    style = {"css": (HERE / "paper.css").read_text(encoding="utf-8"), "layout": "paper.html"}
    revision = whose.revision if isinstance(whose, Batch) else whose
    head = {
        "revision": revision,
        "batch": whose.batch if isinstance(whose, Batch) else "",
        "reference": sent[0].reference if sent else "",
    }
    slip = render("slip.html", lines=slip_lines(record, sent), links=False, **head, **style)
    (place / "slip.html").write_text(slip, encoding="utf-8", newline="")
    for one in sent:
        if not one.item.startswith(_PART):
            continue
        letter = one.item.removeprefix(_PART)
        order = panel_order(archive, whose, record, letter)
        assert order is not None  # the line was checked against the same record
        folder = place / f"part-{letter}"
        folder.mkdir(exist_ok=True)
        page = render(
            "order.html", order=order, quantity=one.quantity, why=one.why,
            picture=_picture(order), drawing="drawing.pdf" if order.drawing else "",
            files=[(f.path, _name(f)) for f in order.files], **head, **style,
        )  # fmt: skip
        (folder / "order.html").write_text(page, encoding="utf-8", newline="")
        if order.drawing:
            (folder / "drawing.pdf").write_bytes(order.drawing)
        for file in order.files:
            (folder / _name(file)).write_bytes(file.data)


def _name(file: IssuedFile) -> str:
    return file.path.rsplit("/", 1)[-1]


def _picture(order: PanelOrder) -> str:
    """Return a part's picture as an address that holds it whole, "" if there is none."""
    drawn = next((f.data for f in order.files if f.path.startswith("figures/")), b"")
    text = base64.b64encode(drawn).decode("ascii")
    return f"data:image/svg+xml;base64,{text}" if drawn else ""
