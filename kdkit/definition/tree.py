"""YAML text → a tree of plain values, each with its place.

The tree is built from the parser's events, so nothing in the text can construct
an object, and the limits are checked while reading: a hostile file stops at the
limit, not after it was expanded.

Longer than most modules: the builder, its limits and the words for what the scanner refuses
belong to one way of reading.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.error import MarkedYAMLError, YAMLError
from ruamel.yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    Event,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from ruamel.yaml.scanner import Scanner

from kdkit.definition.gate import Refused
from kdkit.definition.scalars import CORE_TAGS, Scalar, read_scalar
from kdkit.diagnostics import Problem, Source, error

__all__ = ["MAX_DEPTH", "MAX_NODES", "Entry", "Node", "parse_tree", "plain_value"]

MAX_NODES = 50_000
MAX_DEPTH = 40

_FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x85\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]"
)

# Tags and anchors cost the scanner more than their length; no sensible word is so long.
# Each is looked for from its beginning alone: from every letter on it would take the square.
_IN_WORD = r"[^\s\x80-\U0010ffff()\[\]{},:]"
_ENDLESS_WORD = re.compile(rf"(?<!{_IN_WORD}){_IN_WORD}{{2000}}|(?<![!-~])[\"-~]*![!-~]{{500}}")


@dataclass(frozen=True)
class Place:
    """Where something stands: lines and columns from 0, the end one past the last."""

    line: int
    column: int
    end_line: int
    end_column: int


@dataclass
class Entry:
    """One key of a mapping (``key_place`` is set) or one item of a list."""

    node: Node
    key_place: Place | None = None


@dataclass
class Node:
    """A value. ``entries`` is a dict for a mapping, a list for a list, else None."""

    place: Place
    scalar: Scalar = None
    text: str = ""
    entries: dict[str, Entry] | list[Entry] | None = None
    size: int = 1
    block: bool = False


@dataclass
class _Open:
    """A collection whose end has not come yet."""

    node: Node
    anchor: str | None
    key: tuple[str, Place] | None = None
    keys: dict[str, Place] = field(default_factory=dict)


class _Stop(Exception):  # noqa: N818  # ends the reading, never leaves this module
    def __init__(self, problem: Problem) -> None:
        self.problem = problem


def parse_tree(text: str, file: str) -> tuple[Node | None, tuple[Problem, ...]]:
    """Return the root of the text's one document, or the problems that prevent it.

    Args:
        text: the whole file.
        file: its name as people know it, for the places.

    Returns:
        ``(root, ())`` or ``(None, problems)``. Duplicate keys and values that
        cannot be read are all reported; a syntax error ends the reading.
    """
    bad = _FORBIDDEN.search(text)
    if bad:
        message = f"the control character U+{ord(bad.group()):04X} cannot stand in a definition"
        where = _place_of(text, bad.start())
        return None, (_problem("yaml-syntax", message, where, file, "delete it"),)
    endless = _ENDLESS_WORD.search(text)
    if endless:
        message = "a word without end"
        where = _place_of(text, endless.start())
        return None, (_problem("yaml-too-large", message, where, file, "put spaces in"),)
    builder = _Builder(file, text)
    try:
        builder.read(_events(text))
    except _Stop as stop:
        builder.problems.append(stop.problem)
    except _TooDeep as deep:
        builder.problems.append(builder.too_deep(deep.place).problem)
    except MarkedYAMLError as fault:
        builder.problems.append(_syntax_problem(fault, file, text))
    except (YAMLError, ValueError, OverflowError) as fault:
        where = builder.last or Place(0, 0, 0, 1)
        builder.problems.append(
            _problem("yaml-syntax", f"cannot be read from here on: {fault}", where, file, "")
        )
    if builder.problems:
        return None, tuple(builder.problems)
    if builder.root is None or (builder.root.entries is None and builder.root.scalar is None):
        return None, (
            _problem(
                "definition-empty",
                "the file is empty",
                Place(0, 0, 0, 1),
                file,
                "`kdkit new` writes a commented definition to start from",
            ),
        )
    return builder.root, ()


def plain_value(node: Node) -> Any:
    """Return the value without places: dict, list, text, number, truth value or None."""
    if isinstance(node.entries, dict):
        return {key: plain_value(entry.node) for key, entry in node.entries.items()}
    if isinstance(node.entries, list):
        return [plain_value(entry.node) for entry in node.entries]
    return node.scalar


class _TooDeep(Exception):  # noqa: N818  # ends the reading, never leaves this module
    """Brackets stand deeper in each other than allowed; ``place`` is of the last."""

    def __init__(self, place: Place) -> None:
        self.place = place


class _Scanner(Scanner):
    """Stops at the limit itself: a bracket may begin a key, so that it would first read on
    for a kilobyte, and look at all open brackets with each further one.
    """

    def fetch_flow_collection_start(self, TokenClass: Any, to_push: str) -> None:  # noqa: N803
        if self.flow_level >= MAX_DEPTH:
            mark = self.reader.get_mark()
            raise _TooDeep(Place(mark.line, mark.column, mark.line, mark.column + 1))
        super().fetch_flow_collection_start(TokenClass, to_push)


def _events(text: str) -> Iterator[Event]:
    yaml = YAML(typ="safe", pure=True)
    yaml.Scanner = _Scanner
    yield from yaml.parse(text)


class _Builder:
    """Builds the tree of one document; one instance a file."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.lines = text.split("\n")
        self.problems: list[Problem] = []
        self.root: Node | None = None
        self.last: Place | None = None
        self._open: list[_Open] = []
        self._anchors: dict[str, Node | None] = {}
        self._documents = 0
        self._nodes = 0

    def read(self, events: Iterator[Event]) -> None:
        for event in events:
            place = _place(event)
            self.last = place
            if isinstance(event, DocumentStartEvent):
                self._start_document(event, place)
            elif isinstance(event, AliasEvent):
                self._add_alias(event, place)
            elif isinstance(event, ScalarEvent):
                self._add_scalar(event, place)
            elif isinstance(event, MappingStartEvent | SequenceStartEvent):
                self._start_collection(event, place)
            elif isinstance(event, MappingEndEvent | SequenceEndEvent):
                self._end_collection(place)

    def _stop(self, code: str, message: str, place: Place, help: str = "") -> _Stop:
        return _Stop(_problem(code, message, place, self.file, help))

    def _start_document(self, event: DocumentStartEvent, place: Place) -> None:
        self._documents += 1
        if self._documents > 1:
            raise self._stop(
                "yaml-syntax",
                "a second document begins here",
                place,
                "one file holds one definition: delete the `---`",
            )
        if event.version is not None and tuple(event.version) != (1, 2):
            raise self._stop(
                "yaml-syntax", "only YAML 1.2 is read", place, "delete the `%YAML` line"
            )

    def _count(self, number: int, place: Place) -> None:
        self._nodes += number
        if self._nodes > MAX_NODES:
            raise self._stop(
                "yaml-too-large",
                f"more than {MAX_NODES} values, aliases counted as often as they are used",
                place,
                "a definition of 200 panels needs about 6000",
            )

    def _check_tag(self, event: Any, place: Place) -> str | None:
        tag = event.tag
        if tag is None or tag == "!":
            return None
        tag = str(tag)
        if tag not in CORE_TAGS:
            raise self._stop(
                "yaml-tag",
                f"the tag {_short_tag(tag)} is not allowed",
                place,
                "a definition holds plain values only: delete the tag",
            )
        return tag

    def _add_scalar(self, event: ScalarEvent, place: Place) -> None:
        tag = self._check_tag(event, place)
        # One form of each letter, so that what looks the same is the same key and name.
        text = unicodedata.normalize("NFC", str(event.value))
        plain = event.style is None or event.style == ""
        if self._wants_key():
            self._take_key(text, place, plain)
            self._anchor(event.anchor, Node(place, text, text))
            return
        try:
            value = read_scalar(text, plain=plain and event.tag != "!", tag=tag)
        except Refused as fault:
            self.problems.append(_problem(fault.code, fault.message, place, self.file, fault.help))
            value = None
        if plain and not event.value and self._open and self._open[-1].key is not None:
            place = self._open[-1].key[1]  # nothing stands after the key: the key is meant
        node = Node(place, value, text)
        self._anchor(event.anchor, node)
        self._add(node)

    def _add_alias(self, event: AliasEvent, place: Place) -> None:
        name = event.anchor
        if name not in self._anchors:
            raise self._stop(
                "yaml-alias", f"the alias *{name} has no anchor &{name} before it", place
            )
        target = self._anchors[name]
        if target is None:
            raise self._stop("yaml-alias", f"*{name} stands inside the value it stands for", place)
        if self._wants_key():
            if target.entries is not None:
                raise self._key_fault(place)
            self._take_key(target.text, place, plain=False)
            return
        if len(self._open) + _depth(target) > MAX_DEPTH:
            raise self.too_deep(place)
        self._add(Node(place, target.scalar, target.text, target.entries, target.size))

    def _start_collection(self, event: Any, place: Place) -> None:
        tag = self._check_tag(event, place)
        is_map = isinstance(event, MappingStartEvent)
        if tag is not None and tag.endswith(":map") != is_map:
            raise self._stop("yaml-tag", "the tag does not fit the value", place, "delete the tag")
        if self._wants_key():
            raise self._key_fault(place)
        if len(self._open) >= MAX_DEPTH:
            raise self.too_deep(place)
        entries: dict[str, Entry] | list[Entry] = {} if is_map else []
        node = Node(place, entries=entries, block=not event.flow_style)
        if event.anchor is not None:
            self._anchors[event.anchor] = None
        self._open.append(_Open(node, event.anchor))

    def _end_collection(self, place: Place) -> None:
        done = self._open.pop()
        start = done.node.place
        done.node.place = Place(start.line, start.column, place.end_line, place.end_column)
        if done.anchor is not None:
            self._anchors[done.anchor] = done.node
        self._add(done.node, counted=done.node.size - 1)

    def _anchor(self, name: str | None, node: Node) -> None:
        if name is not None:
            self._anchors[name] = node

    def _wants_key(self) -> bool:
        if not self._open:
            return False
        top = self._open[-1]
        return isinstance(top.node.entries, dict) and top.key is None

    def _take_key(self, text: str, place: Place, plain: bool) -> None:
        top = self._open[-1]
        self._count(1, place)
        top.node.size += 1
        if plain and text == "<<":
            raise self._stop(
                "yaml-merge-key",
                "merge keys (<<) are not supported",
                place,
                "write the keys out, or use an alias for the whole value",
            )
        if plain and text in ("", "~", "null"):
            raise self._key_fault(place)
        if text != text.strip() or not text:
            text = text.strip()
            told = f"the key {text[:60]!r} has blanks round it" if text else "a key shows nothing"
            help = "write it without them" if text else "write a word, or delete the line"
            self.problems.append(_problem("yaml-key", told, place, self.file, help))
        if text in top.keys:
            first = top.keys[text]
            self.problems.append(
                _problem(
                    "yaml-duplicate-key",
                    f"the key {text[:60]!r} stands twice, first on line {first.line + 1}",
                    place,
                    self.file,
                    "delete one, rename it, or put `- ` before it if a list's next entry begins",
                )
            )
        top.keys.setdefault(text, place)
        top.key = (text, place)

    def _key_fault(self, place: Place) -> _Stop:
        return self._stop("yaml-key", "a key must be plain text", place, "write `name: value`")

    def too_deep(self, place: Place) -> _Stop:
        return self._stop(
            "yaml-too-deep", f"values are nested more than {MAX_DEPTH} deep", place, ""
        )

    def _add(self, node: Node, counted: int = 0) -> None:
        """Put a finished value where it belongs; ``counted``: nodes counted before."""
        self._count(node.size - counted, node.place)
        if not self._open:
            self.root = node
            return
        top = self._open[-1]
        top.node.size += node.size
        if isinstance(top.node.entries, dict):
            assert top.key is not None  # the parser gives a key before every value
            key, key_place = top.key
            top.key = None
            top.node.entries.setdefault(key, Entry(node, key_place))
        elif isinstance(top.node.entries, list):
            top.node.entries.append(Entry(node))


def _depth(node: Node) -> int:
    """Return how deep a value is nested; bounded, for no value is deeper than allowed."""
    if node.entries is None:
        return 0
    entries = node.entries.values() if isinstance(node.entries, dict) else node.entries
    return 1 + max((_depth(entry.node) for entry in entries), default=0)


def _place(event: Event) -> Place:
    start, end = event.start_mark, event.end_mark
    if start is None or end is None:
        return Place(0, 0, 0, 1)
    return Place(start.line, start.column, end.line, end.column)


def _place_of(text: str, index: int) -> Place:
    line = text.count("\n", 0, index)
    column = index - (text.rfind("\n", 0, index) + 1)
    return Place(line, column, line, column + 1)


def _short_tag(tag: str) -> str:
    return tag.replace("tag:yaml.org,2002:", "!!")[:60]


def _problem(code: str, message: str, place: Place, file: str, help: str) -> Problem:
    end = place.end_column if place.end_line == place.line else place.column + 1
    source = Source(
        file=file,
        line=place.line + 1,
        column=place.column + 1,
        end_column=max(end, place.column + 1) + 1,
    )
    made = error(code, message, help=help)
    return Problem(code=code, message=made.message, help=help, source=source)


def _syntax_problem(fault: MarkedYAMLError, file: str, text: str) -> Problem:
    mark = fault.problem_mark or fault.context_mark
    line, column = (mark.line, mark.column) if mark is not None else (0, 0)
    lines = text.split("\n")
    here = lines[line] if line < len(lines) else ""
    indent = here[: len(here) - len(here.lstrip())]
    spot = here[column : column + 1]
    if "\t" in indent or spot == "\t":
        at = here.index("\t")
        return _problem(
            "yaml-tab",
            "a tab stands here; YAML indents with spaces only",
            Place(line, at, line, at + 1),
            file,
            "replace it by spaces",
        )
    began = "" if fault.context_mark is None else f" on line {fault.context_mark.line + 1}"
    message, help = _in_plain_words(str(fault.problem), str(fault.context), began)
    return _problem("yaml-syntax", message, Place(line, column, line, column + 1), file, help)


def _in_plain_words(problem: str, context: str, began: str) -> tuple[str, str]:
    """Return what a maker can do about the parser's complaint, and its words if unknown."""
    if "flow" in context:
        opened, closed = ("{", "}") if "mapping" in context else ("[", "]")
        return (
            f"the list or mapping opened with `{opened}`{began} does not go on like this",
            f"put a comma between its entries, and close it with `{closed}`",
        )
    if "mapping values are not allowed" in problem:
        return (
            "a second `: ` stands in this line",
            'put a text that holds `: ` in quotes: "…"; begin a new line for a new key',
        )
    if "quoted scalar" in context:
        return f"the quote opened{began} is not closed", "close it on the same line"
    if "expected <block end>" in problem and "scalar" in problem:
        return (
            "a text goes on where it should have ended",
            "look for a quote that is not closed in the lines above, or a missing `: `",
        )
    if "expected <block end>" in problem:
        return (
            f"this line is indented otherwise than the entries that began{began}",
            "entries of one list or mapping begin in the same column",
        )
    if "could not find expected ':'" in problem:
        return "a key without `: ` after it", "write `name: value`, with a space after the colon"
    words = ", ".join(w for w in (problem, "" if context == "None" else context + began) if w)
    return (
        f"not valid YAML: {' '.join(words.split())}",
        "compare the indentation, colons, quotes and brackets of this line and the one before",
    )
