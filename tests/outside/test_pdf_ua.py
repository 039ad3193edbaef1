"""The printed manual against PDF/UA-1, as far as a program can judge it.

Source: ISO 14289-1 by way of the Matterhorn Protocol 1.1 (PDF Association, 2021), which
divides it into checkpoints; their numbers and what each asks are from memory. No general
validator is in the packages that these tests can install (the usual ones are Java
programs with a download of their own), so this reads the file with pypdf alone and shares
no code with what wrote it. What only a person can judge (is this the right reading
order? does this text fit its picture?) is not looked at here.
"""

from __future__ import annotations

import itertools
import pathlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pypdf
import pytest
from pypdf.generic import ContentStream, DictionaryObject

STANDARD_TYPES = frozenset(
    """
    Document Part Sect Div Art BlockQuote Caption TOC TOCI Index NonStruct Private P H H1 H2 H3
    H4 H5 H6 L LI Lbl LBody Table TR TH TD THead TBody TFoot Span Quote Note Reference BibEntry
    Code Link Annot Ruby RB RT RP Warichu WT WP Figure Formula Form
    """.split()  # noqa: SIM905 - as a list of strings it would fill a page
)
"""Source: ISO 32000-1, 14.8.4 (standard structure types)."""

PARENTS = {
    "LI": {"L"},
    "Lbl": {"LI", "Note"},
    "LBody": {"LI"},
    "TR": {"Table", "THead", "TBody", "TFoot"},
    "TH": {"TR"},
    "TD": {"TR"},
    "THead": {"Table"},
    "TBody": {"Table"},
    "TFoot": {"Table"},
}
CHILDREN = {"L": {"LI", "L", "Caption"}, "LI": {"Lbl", "LBody"}, "TR": {"TH", "TD"}}
"""Source: ISO 32000-1, tables 336 and 337."""

PAINTING = frozenset(
    [b"S", b"s", b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*", b"sh", b"INLINE IMAGE"]
)
SHOWING = frozenset([b"Tj", b"TJ", b"'", b'"'])


@dataclass(frozen=True)
class Element:
    """A structure element, its type, that of its parent, and the content it holds."""

    kind: str
    parent: str
    data: DictionaryObject
    marks: tuple[tuple[int, int], ...]


@pytest.fixture(scope="module")
def pdf(built_bookcase: tuple[object, pathlib.Path]) -> pypdf.PdfReader:
    return pypdf.PdfReader(built_bookcase[1] / "manual.pdf", strict=True)


def numbers_of(pdf: Any) -> dict[int, int]:
    """Return each page's number by the number of its object."""
    return {p.indirect_reference.idnum: n for n, p in enumerate(pdf.pages) if p.indirect_reference}


@pytest.fixture(scope="module")
def elements(pdf: Any) -> list[Element]:
    pages = numbers_of(pdf)

    def walk(node: Any, parent: str) -> Iterator[Element]:
        kids = node.get("/K", [])
        below, marks = [], []
        for kid in kids if isinstance(kids, list) else [kids]:
            own = kid.get_object()
            if isinstance(own, int):
                marks.append((pages[node.raw_get("/Pg").idnum], own))
            elif "/S" in own:
                below.append(own)
            elif own.get("/Type") == "/MCR":
                page = own if "/Pg" in own else node
                marks.append((pages[page.raw_get("/Pg").idnum], int(own["/MCID"])))
        kind = str(node.get("/S", ""))[1:]
        if kind:
            yield Element(kind, parent, node, tuple(marks))
        for one in below:
            yield from walk(one, kind)

    return list(walk(pdf.root_object["/StructTreeRoot"], ""))


def painted(pdf: Any) -> Iterator[tuple[int, bytes, tuple[Any, ...], str]]:
    """Yield page, operator, its marks from outside in, and the font, for all that paints."""
    for number, page in enumerate(pdf.pages):
        stream = ContentStream(page["/Contents"], pdf)
        marks: list[Any] = []
        font, fonts = "", []
        for operands, operator in stream.operations:
            if operator in (b"BDC", b"BMC"):
                data = operands[1] if operator == b"BDC" else {}
                marks.append((str(operands[0])[1:], data.get("/MCID")))
            elif operator == b"EMC":
                marks.pop()
            elif operator == b"q":
                fonts.append(font)
            elif operator == b"Q":
                font = fonts.pop()
            elif operator == b"Tf":
                font = str(operands[0])
            elif operator == b"Do":
                form = page["/Resources"]["/XObject"][operands[0]]
                yield number, operator, tuple(marks), str(form["/Subtype"])
            elif operator in PAINTING or operator in SHOWING:
                yield number, operator, tuple(marks), font
        assert not marks, f"page {number + 1}: marked content is not closed"


def test_01_all_content_is_tagged_or_an_artifact(pdf: Any, elements: list[Element]) -> None:
    known = {mark for element in elements for mark in element.marks}
    seen = set()
    for page, operator, marks, _ in painted(pdf):
        where = f"page {page + 1}, operator {operator!r}"
        kinds = [kind for kind, _ in marks]
        tagged = [number for _, number in marks if number is not None]
        assert ("Artifact" in kinds) != bool(tagged), f"{where}: {marks}"
        assert kinds.count("Artifact") <= 1, where
        if tagged:
            assert (page, tagged[-1]) in known, f"{where}: in no structure element"
            seen.add((page, tagged[-1]))
    assert len(seen) > 300


def test_01_no_content_belongs_to_two_elements(elements: list[Element]) -> None:
    marks = [mark for element in elements for mark in element.marks]
    assert len(marks) == len(set(marks))


def test_01_heads_and_feet_of_pages_are_artifacts(pdf: Any) -> None:
    """They repeat on every page; read out they would cut into the steps."""
    for number, page in enumerate(pdf.pages[1:], start=2):
        texts = texts_with_marks(page)
        tagged = "".join(text for text, tagged in texts if tagged)
        rest = "".join(text for text, tagged in texts if not tagged)
        assert f"Page {number} of {len(pdf.pages)}" in rest
        assert f"Page {number} of" not in tagged
        assert ", revision " in rest


def texts_with_marks(page: Any) -> list[tuple[str, bool]]:
    """Return the characters of a page in the order of its content, each with whether it is
    tagged."""
    tables = {
        str(name): unicode_of(font.get_object())
        for name, font in page["/Resources"].get("/Font", {}).items()
    }
    marks: list[bool] = []
    found = []
    font = ""
    for operands, operator in ContentStream(page["/Contents"], page.pdf).operations:
        if operator in (b"BDC", b"BMC"):
            marks.append(operator == b"BDC" and "/MCID" in operands[1])
        elif operator == b"EMC":
            marks.pop()
        elif operator == b"Tf":
            font = str(operands[0])
        elif operator == b"TJ":
            for glyph in glyphs_of(operands[0]):
                found.append((tables[font].get(glyph, "?"), any(marks)))
    return found


def unicode_of(font: Any) -> dict[str, str]:
    """Return what each glyph of a font stands for."""
    table = font["/ToUnicode"].get_data().decode("latin-1")
    pairs = re.findall(r"<([0-9a-fA-F]{4})>\s*<([0-9a-fA-F]+)>", table)
    return {glyph.lower(): bytes.fromhex(text).decode("utf-16-be") for glyph, text in pairs}


def glyphs_of(shown: Any) -> list[str]:
    """Return the glyphs of a TJ operator, as hexadecimal numbers."""
    pieces = [piece for piece in shown if not isinstance(piece, (int, float))]
    return [g for piece in pieces for g in re.findall("....", bytes(piece.original_bytes).hex())]


def test_02_types_are_standard_ones(pdf: Any, elements: list[Element]) -> None:
    assert "/RoleMap" not in pdf.root_object["/StructTreeRoot"]
    assert {element.kind for element in elements} <= STANDARD_TYPES
    assert elements[0].kind == "Document"
    assert [e for e in elements if not e.parent] == [elements[0]]


def test_06_and_07_the_title_is_known_and_shown(pdf: Any) -> None:
    root = pdf.root_object
    data = root["/Metadata"].get_data().decode()
    assert re.search(r"<pdfuaid:part>\s*1\s*<|pdfuaid:part=.1.", data)
    title = re.search(r"<dc:title>.*?<rdf:li[^>]*>([^<]+)<", data, re.DOTALL)
    assert title is not None
    assert pdf.metadata is not None
    assert title.group(1) == pdf.metadata.title
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712 - PDF's own
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712
    assert not root["/MarkInfo"].get("/Suspects")


def test_09_lists_and_tables_are_built_as_such(elements: list[Element]) -> None:
    for element in elements:
        if element.kind in PARENTS:
            assert element.parent in PARENTS[element.kind], (element.kind, element.parent)
        if element.parent in CHILDREN:
            assert element.kind in CHILDREN[element.parent], (element.parent, element.kind)
    assert any(e.kind == "L" for e in elements)
    assert any(e.kind == "Table" for e in elements)


def test_11_the_language_is_declared(pdf: Any) -> None:
    assert re.fullmatch(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*", pdf.root_object["/Lang"])


def test_13_figures_have_words(elements: list[Element]) -> None:
    figures = [e for e in elements if e.kind == "Figure"]
    assert len(figures) > 40
    for figure in figures:
        words = str(figure.data.get("/Alt") or figure.data.get("/ActualText") or "")
        assert re.search(r"\w{3}", words), figure.data
        assert not re.search(r"\w-\w+-\w|\.svg", words), f"a file's or a key's name: {words!r}"


def test_14_headings_go_down_one_level_at_a_time(elements: list[Element]) -> None:
    levels = [int(e.kind[1]) for e in elements if re.fullmatch("H[1-6]", e.kind)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    for above, below in itertools.pairwise(levels):
        assert below <= above + 1
    assert not any(e.kind == "H" for e in elements)


def test_15_cells_lead_to_their_headers(elements: list[Element]) -> None:
    """By the headers' names in each cell, or by the headers' scope."""
    cells = [e for e in elements if e.kind in ("TH", "TD")]
    names = [str(e.data["/ID"]) for e in cells if e.kind == "TH" and "/ID" in e.data]
    assert names
    assert len(names) == len(set(names))
    for cell in cells:
        said = cell.data["/A"]
        assert said["/O"] == "/Table"
        if cell.kind == "TD":
            headers = [str(name) for name in said["/Headers"]]
            assert headers
            assert set(headers) <= set(names)


def test_20_21_25_26_nothing_hidden_bars_the_way(pdf: Any) -> None:
    root = pdf.root_object
    assert "/OCProperties" not in root
    assert "/AcroForm" not in root
    assert "/EmbeddedFiles" not in root.get("/Names", {})
    assert "/OpenAction" not in root
    assert not pdf.is_encrypted


def test_28_pages_are_tabbed_by_structure_and_links_say_where(
    pdf: Any, elements: list[Element]
) -> None:
    tagged = sum(1 for e in elements if e.kind == "Link")
    links = 0
    for page in pdf.pages:
        assert page["/Tabs"] == "/S"
        for annotation in page.get("/Annots", []):
            one = annotation.get_object()
            assert one["/Subtype"] == "/Link"
            assert one.get("/Contents"), "a link without words"
            assert "/StructParent" in one
            links += 1
    assert links == tagged


def test_30_forms_hold_no_marks_of_their_own(pdf: Any) -> None:
    """A drawing is one figure with one text; inside it nothing is marked or fetched."""
    drawn = {page for page, operator, _, kind in painted(pdf) if operator == b"Do" and kind}
    assert len(drawn) > 5
    for form in forms_of(pdf):
        assert "/Ref" not in form
        if form["/Subtype"] == "/Form":
            assert b"BDC" not in form.get_data()


def forms_of(pdf: Any) -> list[Any]:
    """Return every drawing that is kept apart from its page, those in others included."""
    found: dict[int, Any] = {}
    waiting = [page["/Resources"] for page in pdf.pages]
    while waiting:
        for reference in waiting.pop().get("/XObject", {}).values():
            form = reference.get_object()
            if id(form) not in found:
                found[id(form)] = form
                waiting.append(form.get("/Resources", {}))
    return list(found.values())


def fonts_of(pdf: Any) -> dict[tuple[int, str], Any]:
    found = {}
    for number, page in enumerate(pdf.pages):
        for name, font in page["/Resources"].get("/Font", {}).items():
            found[number, str(name)] = font.get_object()
    return found


def test_31_fonts_are_embedded_and_map_to_unicode(pdf: Any) -> None:
    fonts = fonts_of(pdf)
    assert fonts
    for font in fonts.values():
        assert font["/Subtype"] == "/Type0"
        (below,) = font["/DescendantFonts"]
        descriptor = below.get_object()["/FontDescriptor"]
        embedded = [k for k in ("/FontFile", "/FontFile2", "/FontFile3") if k in descriptor]
        assert embedded, font["/BaseFont"]
        assert font["/Encoding"] == "/Identity-H"
        if below.get_object()["/Subtype"] == "/CIDFontType2":
            assert below.get_object()["/CIDToGIDMap"] == "/Identity"
        assert font["/ToUnicode"].get_data()


def test_10_and_31_every_glyph_shown_has_a_character(pdf: Any) -> None:
    count = 0
    streams = [(p["/Resources"], p["/Contents"]) for p in pdf.pages]
    streams += [(f.get("/Resources", {}), f) for f in forms_of(pdf) if f["/Subtype"] == "/Form"]
    for resources, content in streams:
        tables = {
            str(name): unicode_of(font.get_object())
            for name, font in resources.get("/Font", {}).items()
        }
        font = ""
        for operands, operator in ContentStream(content, pdf).operations:
            if operator == b"Tf":
                font = str(operands[0])
            elif operator in SHOWING:
                assert operator == b"TJ"
                for glyph in glyphs_of(operands[0]):
                    assert glyph != "0000", "a missing glyph"
                    assert tables[font][glyph] not in ("\0", "\ufeff", "\ufffe")
                    count += 1
    assert count > 5000
