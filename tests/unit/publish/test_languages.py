"""A second language needs its files alone: no English word stays in manual and tables.

A language is made of the English one by writing every letter as ``ø``, and the same for
the names that it may give the catalogue's entries. What is then left of English stands
in the code. The reasons that the planner gives for an order that fails are its own words
and not in the catalogue of messages; they are in no manual.
"""

from __future__ import annotations

import pathlib
import re
from collections.abc import Iterator

import pytest

from kdkit.catalogue import Catalogue
from kdkit.pipeline import Request, build
from kdkit.publish.wording import messages as messages_module
from kdkit.publish.wording.messages import Messages, load_messages

PRODUCT = """\
kdkit: 1
product: Qq
kind: [bookcase, outdoor]
revision: Q
maker: {name: Qq, address: Qq, contact: Qq}
boards:
  carcass: {material: particleboard-p2, thickness: 18, title: Qq}
  thin: {material: hardboard, thickness: 3, title: Qq}
panels:
  qa: {title: Qa, board: carcass, x: {from: 0}, y: [0, 300], z: [0, 900], face: +x,
    bands: {front: 1}}
  qb: {title: Qb, mirror: qa, x: {to: 600}}
  qc: {title: Qc, board: carcass, x: [qa.x1, qb.x0], y: [0, 300], z: {from: 882}, face: -z}
  qd: {title: Qd, board: carcass, x: [qa.x1, qb.x0], y: [0, 300], z: {from: 60}, face: -z}
  qe: {title: Qe, board: carcass, x: [19, 581], y: [10, 290], z: {from: 386.5}, loose: true}
  qf: {title: Qf, board: thin, x: [2, 598], y: {from: 300}, z: [2, 898]}
joints:
  - join: qc
    to: [qa, qb]
    fittings: [{fitting: cam-and-bolt, at: [60, -60]}, {fitting: dowel-8x35, at: [100, -100]}]
  - join: qd
    to: [qa, qb]
    fittings: [{fitting: connecting-screw-7x50, at: [60, -60]}]
  - {join: qf, to: [qa, qb, qc, qd], fittings: [{fitting: back-nailed}]}
fixtures:
  - {fitting: tip-restraint, on: qc, face: back, at: [[300, 280, 900]]}
  - fitting: shelf-support-5
    on: [qa, qb]
    rows: {front: 37, back: 37, first: 96, last: 800}
    carries: qe
safety: {use: dry-indoor, wall_restraint: required, load_per_shelf: 10, heavy_part: 3}
"""


def muffled(text: str) -> str:
    """Return a text with its letters as ø, but for its places in braces."""
    return re.sub(r"\{[^}]*\}|[A-Za-z]+", _muffle, text)


def _muffle(found: re.Match[str]) -> str:
    word = found.group()
    return word if word.startswith("{") else "ø" * len(word)


def names_of(catalogue: Catalogue) -> Iterator[tuple[str, str]]:
    """Yield the key of every name that a language may give, and the catalogue's own."""
    for kind in ("items", "boards", "tools", "fittings"):
        for key, entry in getattr(catalogue, kind).items():
            yield f"{kind}.{key}", entry.title
    for key, load in catalogue.loads.items():
        yield f"load_words.{key}", load.words
    for key, kind in catalogue.kinds.items():
        yield f"kinds.{key}", kind.title
        yield from ((f"kind_cautions.{text}", text) for text in kind.cautions)
        yield from ((f"standards.{rule}", rule) for rule in kind.standards)
    for key, item in catalogue.items.items():
        yield f"item_sizes.{key}", item.size
    for key, tool in catalogue.tools.items():
        yield f"tool_sizes.{key}", tool.size
    for key, fitting in catalogue.fittings.items():
        if fitting.called is not None:
            yield f"called_one.{key}", fitting.called.one
            yield f"called_many.{key}", fitting.called.many
        for action in fitting.actions:
            yield f"hints.{action.hint}", action.hint
        for bore in fitting.bores:
            yield f"purposes.{bore.purpose}", bore.purpose
        for slot in fitting.slots:
            yield f"purposes.{slot.purpose}", slot.purpose


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[pathlib.Path]:
    home = tmp_path_factory.mktemp("language")
    (home / "qq.yaml").write_text(PRODUCT)
    first = build(Request(file=home / "qq.yaml"), home / "english")
    assert first.results is not None, first.problems
    english = load_messages("en")
    entries = {
        key: (text if key.startswith("meta.") else muffled(text))
        for key, text in (
            *((key, english.unfilled(key)) for key in english.keys),
            *names_of(first.results.catalogue),
        )
    }
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(messages_module, "load_messages", lambda language: Messages(entries))
        outcome = build(Request(file=home / "qq.yaml"), home / "other")
        assert outcome.complete, outcome.problems
        yield home / "other"


def english_in(texts: list[str]) -> list[str]:
    """Return the texts in which three letters of English stand together."""
    return sorted({text for text in texts if re.search(r"(?<![A-Za-z])[A-Za-z]{3,}", text)})


def test_the_manual_has_no_word_but_the_language_s(folder: pathlib.Path) -> None:
    page = (folder / "manual.html").read_text(encoding="utf-8")
    page = re.sub(r"<(style|script)\b.*?</\1>", "", page, flags=re.DOTALL)
    texts = re.findall(r">([^<]+)<", page) + re.findall(r'aria-label="([^"]*)"', page)
    assert sum("øø" in text for text in texts) > 100
    assert english_in(texts) == []


def test_figures_have_no_word_but_the_language_s(folder: pathlib.Path) -> None:
    for file in sorted((folder / "figures").glob("*.svg")):
        picture = re.sub(r"<style>.*?</style>", "", file.read_text("utf-8"), flags=re.DOTALL)
        assert english_in(re.findall(r">([^<]+)<", picture)) == [], file.name


@pytest.mark.parametrize("name", ["cutlist.csv", "drilling.csv", "hardware.csv"])
def test_tables_have_no_word_but_the_language_s(folder: pathlib.Path, name: str) -> None:
    """Names that programs read (keys of items, boards, parts and joints) stay as they are."""
    key = r"[a-z0-9.-]+( (on|to) [a-z0-9.-]+)?(: \d+)?"
    text = (folder / name).read_text(encoding="utf-8-sig")
    assert "øø" in text
    cells = [cell.strip() for cell in re.split(r'[,;"\r\n]+', text)]
    words = [cell for cell in cells if not re.fullmatch(key, cell)]
    assert english_in(words) == []
