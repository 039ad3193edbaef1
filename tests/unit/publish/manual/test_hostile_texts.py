"""The manual with texts that try to get out of it: read back by a parser of HTML and of PDF."""

from __future__ import annotations

import io
import json
import pathlib
import re
from html.parser import HTMLParser
from typing import Any

import pypdf
import pytest
from hypothesis import given, settings

from kdkit.publish import publish
from kdkit.publish.manual.manual import page_script
from kdkit.publish.typesetting.pdf import make_sheets
from kdkit.publish.wording.markdown_text import render_markdown
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.plain_text import one_line, writable
from kdkit.publish.workshop.drawings.drawing_sheet import DrawingSheet
from tests import handmade
from tests.hostile_texts import ANY_TEXT, HOSTILE, with_text

MARKDOWN = {"p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "em", "strong", "code", "pre"} | {
    "blockquote", "hr", "br"
}  # fmt: skip
SCRIPT = re.compile(r'<script type="module">' + re.escape(page_script()) + "</script>")
ACTIONS = ("/JavaScript", "/JS", "/Launch", "/URI", "/SubmitForm", "/GoToR", "/EmbeddedFile")


class Tags(HTMLParser):
    """Every element with the names of its attributes, and where things come from."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[tuple[str, tuple[str, ...]]] = set()
        self.addresses: set[str] = set()
        self.declared: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.add((tag, tuple(sorted(name for name, _ in attrs))))
        self.addresses |= {
            v or "" for n, v in attrs if n in ("href", "src", "xlink:href", "action", "data")
        }

    def handle_comment(self, data: str) -> None:
        self.declared.append(data)

    def unknown_decl(self, data: str) -> None:
        self.declared.append(data)

    def handle_pi(self, data: str) -> None:
        self.declared.append(data)


def tags_of(html: str) -> Tags:
    parser = Tags()
    parser.feed(html)
    parser.close()
    return parser


@pytest.fixture(scope="module")
def harmless(tmp_path_factory: pytest.TempPathFactory) -> Tags:
    folder = tmp_path_factory.mktemp("harmless") / "out"
    written, _ = publish(with_text(handmade.results(), "plain"), folder)
    assert written is not None
    return tags_of(SCRIPT.sub("", (folder / "manual.html").read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", HOSTILE)
def test_a_manual_has_the_same_elements_whatever_its_texts_say(
    name: str, harmless: Tags, tmp_path: pathlib.Path
) -> None:
    results = with_text(handmade.results(), HOSTILE[name])
    written, problems = publish(results, tmp_path / "out")
    assert written is not None, problems
    html = (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")
    html, scripts = SCRIPT.subn("", html)
    assert scripts == 1  # kdkit's own, which no text changes
    found = tags_of(html)
    assert found.seen - {(tag, ()) for tag in MARKDOWN} <= harmless.seen
    assert found.declared == harmless.declared
    assert all(address.startswith("#") for address in found.addresses)
    assert not any(
        tag == "script" or any(a.startswith("on") for a in names) for tag, names in found.seen
    )
    assert html == writable(html)
    inspect_pdf((tmp_path / "out" / "manual.pdf").read_bytes())
    json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    for file in tmp_path.rglob("*.svg"):
        svg = tags_of(file.read_text(encoding="utf-8"))
        assert {tag for tag, _ in svg.seen} <= {
            "svg",
            "title",
            "desc",
            "g",
            "path",
            "circle",
            "text",
            "style",  # the font that the picture is set in
        }
        assert svg.addresses == set()


def inspect_pdf(data: bytes) -> pypdf.PdfReader:
    """Look for anything in a PDF that acts, and for a title that cannot be read."""
    reader = pypdf.PdfReader(io.BytesIO(data))
    for number in range(1, len(reader.xref[0]) + 1):
        thing = reader.get_object(pypdf.generic.IndirectObject(number, 0, reader))
        if isinstance(thing, dict):
            assert not set(_names(thing)) & set(ACTIONS)
    assert "/OpenAction" not in reader.root_object
    title = (reader.metadata or {}).get("/Title", "")
    assert writable(str(title)) == title
    return reader


def _names(thing: Any) -> list[str]:
    return [*thing.keys(), *(v for v in thing.values() if isinstance(v, str))]


@pytest.mark.parametrize("name", HOSTILE)
def test_sheets_take_any_text(name: str) -> None:
    sheet = DrawingSheet(210, 297, HOSTILE[name])
    sheet.text((20, 20), HOSTILE[name][:200])
    reader = inspect_pdf(
        make_sheets([sheet.render()], (210, 297), HOSTILE[name], load_messages("en"))
    )
    assert len(reader.pages) == 1
    assert len(str((reader.metadata or {}).get("/Title", "")).splitlines()) < 2
    assert {tag for tag, _ in tags_of(sheet.render()).seen} == {"svg", "title", "g", "text"}


@given(text=ANY_TEXT)
@settings(deadline=None)
def test_markdown_becomes_no_more_than_its_elements(text: str) -> None:
    html, _ = render_markdown(text, ("texts", "en", "use"))
    found = tags_of(html)
    assert found.seen <= {(tag, ()) for tag in MARKDOWN}
    assert found.declared == []


@given(text=ANY_TEXT)
def test_what_is_writable_stays_and_is_written(text: str) -> None:
    once = writable(text)
    once.encode("utf-8")
    assert writable(once) == once
    assert len(once) == len(text)
    line = one_line(text)
    assert line == "".join(line.splitlines())
    assert one_line(line) == line


def test_letters_of_every_script_are_writable() -> None:
    text = "Tür, Étagère\n\t戸棚 דלת باب दरवाज़ा 🚪 × Ø ½ \u200d"
    assert writable(text) == text


def test_a_long_line_ends_in_an_ellipsis() -> None:
    assert one_line("shelf of oak", 6) == "shelf…"
    assert one_line("shelf", 6) == "shelf"
