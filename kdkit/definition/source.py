"""A definition file, read: plain data, and where each key and value stands.

Longer than most modules: which files are opened, from where and how many, is decided here
and nowhere else.
"""

from __future__ import annotations

import pathlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from kdkit.definition.tree import Entry, Node, Place, parse_tree, plain_value
from kdkit.diagnostics import Path, Problem, Source, error

__all__ = [
    "MAX_BYTES",
    "MAX_UNIT_FILES",
    "Definition",
    "load_definition",
    "load_document",
]

MAX_BYTES = 1_000_000
MAX_UNIT_FILES = 50
MAX_BYTES_IN_ALL = 2 * MAX_BYTES
"""Bytes that a definition, its unit files and its catalogues may have together."""

_WIDEST_NAME = 200
_WIDEST_LINE = 500


@dataclass(frozen=True, kw_only=True)
class Definition:
    """One definition file with the unit files that it uses.

    Args:
        file: its name as it was given, for messages.
        folder: where it lies; its other files lie there or below.
        data: dicts, lists, texts, numbers, truth values and None; nothing else.
        units: definitions of ``units: {…: {file: NAME}}``, by NAME as written.
        catalogues: the maker's catalogue files, checked to lie inside ``folder``.
        root: the tree with places; only ``locate`` reads it.
    """

    file: str
    folder: pathlib.Path
    data: Any
    root: Node = field(repr=False)
    lines: tuple[str, ...] = field(repr=False)
    units: Mapping[str, Definition] = field(default_factory=dict)
    catalogues: tuple[pathlib.Path, ...] = ()

    def locate(
        self, path: Path, *, on_key: bool = False, span: tuple[int, int] | None = None
    ) -> Source | None:
        """Return the place of a value, or of its nearest parent that was written.

        A path that goes on behind a unit's ``file`` leads into that file. A value
        of several lines is pointed at by its key, or by its first line in a list.
        """
        node = self.root
        entry: Entry | None = None
        for index, step in enumerate(path):
            if node.entries is None:
                inner = self.units.get(node.text)
                if inner is not None and path[index - 1] == "file":
                    return inner.locate(path[index:], on_key=on_key, span=span)
                return self._source_of(node, entry, on_key=False, span=None)
            following = _child(node, step)
            if following is None:
                return self._source_of(node, entry, on_key=False, span=None)
            entry, node = following, following.node
        return self._source_of(node, entry, on_key=on_key, span=span)

    def line_text(self, source: Source) -> str:
        """Return the text of a line, in this file, a unit's or a catalogue."""
        if source.file == self.file:
            inside = 1 <= source.line <= len(self.lines)
            return self.lines[source.line - 1] if inside else ""
        for inner in self.units.values():
            text = inner.line_text(source)
            if text:
                return text
        for catalogue in self.catalogues:
            if source.file == str(catalogue):
                found, _ = _read_text(catalogue, source.file)
                lines = (found or "").split("\n")
                return lines[source.line - 1] if 1 <= source.line <= len(lines) else ""
        return ""

    def _source_of(
        self, node: Node, entry: Entry | None, *, on_key: bool, span: tuple[int, int] | None
    ) -> Source:
        key = entry.key_place if entry is not None else None
        place = node.place
        if key is not None and (on_key or (node.entries is not None and node.block)):
            place = key
        elif span is not None:
            place = self._characters(node, span)
        if place.end_line == place.line:
            end = place.end_column
        else:
            end = len(self._line(place.line).rstrip())
        return Source(
            file=self.file,
            line=place.line + 1,
            column=place.column + 1,
            end_column=max(end, place.column + 1) + 1,
        )

    def _line(self, number: int) -> str:
        return self.lines[number] if number < len(self.lines) else ""

    def _characters(self, node: Node, span: tuple[int, int]) -> Place:
        """Return the place of some characters of a text, if it stands there as it is."""
        place = node.place
        if node.entries is not None or place.end_line != place.line:
            return place
        written = self._line(place.line)[place.column : place.end_column]
        offset = written.rfind(node.text)
        if offset < 0 or not 0 <= span[0] <= len(node.text):
            return place
        start = place.column + offset + span[0]
        end = place.column + offset + min(max(span[1], span[0] + 1), len(node.text) + 1)
        return Place(place.line, start, place.line, end)


def load_document(
    path: pathlib.Path, file: str | None = None
) -> tuple[Definition | None, tuple[Problem, ...]]:
    """Read one YAML file whose top is a mapping.

    Args:
        path: the file.
        file: its name in messages; ``str(path)`` if left out.

    Returns:
        The definition, or None and every problem found. Nothing is raised for
        what stands in the file.
    """
    name = str(path) if file is None else file
    text, problem = _read_text(path, name)
    if text is None:
        return None, (problem,) if problem is not None else ()
    root, problems = parse_tree(text, name)
    if root is None:
        return None, _with_lines(problems, text)
    if not isinstance(root.entries, dict):
        return None, (
            _at_start(
                "definition-not-a-mapping",
                "the file must hold keys with values",
                name,
                "begin with `kdkit: 1` and `product: NAME`",
            ),
        )
    return (
        Definition(
            file=name,
            folder=path.parent,
            data=plain_value(root),
            root=root,
            lines=tuple(text.split("\n")),
        ),
        (),
    )


def load_definition(path: pathlib.Path) -> tuple[Definition | None, tuple[Problem, ...]]:
    """Read a definition and the unit files it uses.

    Unit files and catalogues must be relative, and lie in the definition's folder
    or below it once links are followed; a unit file that uses itself, however far
    round, is refused.
    """
    return _load(path, str(path), path.parent, (), _Opened())


@dataclass
class _Opened:
    """What was opened so far for one definition."""

    files: int = 0
    size: int = 0
    told: bool = False

    def add(self, path: pathlib.Path) -> bool:
        """Count a file in; False when it would be too much."""
        try:
            size = path.stat().st_size
        except OSError:
            size = 0  # reading it says why
        self.files += 1
        self.size += size
        return self.files <= MAX_UNIT_FILES and self.size <= MAX_BYTES_IN_ALL


def _load(
    path: pathlib.Path,
    name: str,
    top: pathlib.Path,
    users: tuple[pathlib.Path, ...],
    opened: _Opened,
) -> tuple[Definition | None, tuple[Problem, ...]]:
    document, problems = load_document(path, name)
    if document is None:
        return None, problems
    found: list[Problem] = []
    here = (*users, path.resolve())
    units: dict[str, Definition] = {}
    for at, text in _unit_files(document.data):
        if text in units:
            continue
        target, problem = path_inside(top, document.folder, text, at)
        if target is None:
            found.append(_placed(document, problem))
        elif target.resolve() in here:
            found.append(
                _placed(
                    document,
                    error(
                        "unit-loop",
                        f"the unit file {text!r} uses itself",
                        at,
                        help="a unit may use other units, but never come back to its own file",
                    ),
                )
            )
        elif not opened.add(target):
            if not opened.told:  # every file after it would say the same
                found.append(_placed(document, _too_much(at)))
            opened.told = True
        else:
            shown = str(pathlib.PurePath(name).parent / text)
            inner, below = _load(target, shown, top, here, opened)
            if inner is None and below and below[0].code == "file-not-read":
                below = (_placed(document, error("file-not-read", below[0].message, at)),)
            found.extend(below)
            if inner is not None:
                units[text] = inner
    catalogues: list[pathlib.Path] = []
    for at, text in _catalogue_files(document.data):
        target, problem = path_inside(top, document.folder, text, at)
        if target is None:
            found.append(_placed(document, problem))
        elif not target.is_file():
            found.append(
                _placed(document, error("file-not-read", f"there is no file {text!r}", at))
            )
        elif not opened.add(target):
            if not opened.told:  # every file after it would say the same
                found.append(_placed(document, _too_much(at)))
            opened.told = True
        else:
            catalogues.append(target)
    if found:
        return None, tuple(found)
    return (
        Definition(
            file=document.file,
            folder=document.folder,
            data=document.data,
            root=document.root,
            lines=document.lines,
            units=units,
            catalogues=tuple(catalogues),
        ),
        (),
    )


def _too_much(at: Path) -> Problem:
    return error(
        "file-too-large",
        f"the definition's files are more than {MAX_UNIT_FILES}, or larger than "
        f"{MAX_BYTES_IN_ALL // 1000} kB together",
        at,
        help="use fewer or smaller files",
    )


def path_inside(
    top: pathlib.Path, folder: pathlib.Path, text: str, at: Path
) -> tuple[pathlib.Path | None, Problem | None]:
    """Return the file that a definition names, or why it may not be opened.

    Args:
        top: folder that must hold it, links followed.
        folder: folder that the name counts from.
        text: the name as written, with ``/`` between folders.
        at: where it is written.
    """

    def refused(why: str) -> tuple[None, Problem]:
        return None, error(
            "path-outside-folder",
            f"the file {text[:80]!r} {why}",
            at,
            help="put the file beside the definition and write its name",
        )

    # File systems count bytes, not characters.
    if (
        not text
        or len(text.encode("utf-8", "replace")) > _WIDEST_NAME
        or any(ord(c) < 32 for c in text)
    ):
        return refused("has no usable name")
    if "\\" in text or ":" in text or text.startswith(("/", "~")):
        return refused("must be a name inside the definition's folder")
    target = folder / text
    try:
        inside = target.resolve().is_relative_to(top.resolve())
    except (OSError, RuntimeError, ValueError):  # the last: letters that no file can have
        return refused("leads nowhere")
    if not inside:
        return refused("lies outside the definition's folder")
    return target, None


def _unit_files(data: Any) -> list[tuple[Path, str]]:
    """Return every unit ``file`` in the data, units defined in place included."""
    found: list[tuple[Path, str]] = []
    pending: list[tuple[Path, Any]] = [((), data)]
    while pending:
        path, product = pending.pop(0)
        if not isinstance(product, dict):
            continue
        units = product.get("units")
        for name, said in units.items() if isinstance(units, dict) else ():
            if isinstance(said, dict) and isinstance(said.get("file"), str):
                found.append(((*path, "units", name, "file"), said["file"]))
        inner = product.get("unit_definitions")
        for name, said in inner.items() if isinstance(inner, dict) else ():
            pending.append(((*path, "unit_definitions", name), said))
    return found


def _catalogue_files(data: Any) -> list[tuple[Path, str]]:
    said = data.get("catalogues")
    if not isinstance(said, list):
        return []
    return [(("catalogues", n), text) for n, text in enumerate(said) if isinstance(text, str)]


def _read_text(path: pathlib.Path, name: str) -> tuple[str | None, Problem | None]:
    try:
        if not path.is_file():
            there = "is a folder" if path.is_dir() else "is no ordinary file"
            why = there if path.exists() else "does not exist"
            return None, error("file-not-read", f"{name} {why}")
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except (OSError, ValueError) as fault:
        return None, error("file-not-read", f"{name} cannot be read: {fault}")
    if len(raw) > MAX_BYTES:
        return None, _at_start(
            "file-too-large",
            f"the file is larger than {MAX_BYTES // 1000} kB",
            name,
            "split it into units, each in its own file",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        before = raw[: fault.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        return None, Problem(
            code="file-not-text",
            message=f"the byte 0x{raw[fault.start]:02X} is not UTF-8 text",
            help="save the file as UTF-8",
            source=Source(file=name, line=line, column=column, end_column=column + 1),
        )
    return text.replace("\r\n", "\n").replace("\r", "\n"), None


def _with_lines(problems: Sequence[Problem], text: str) -> tuple[Problem, ...]:
    """Return the problems of a file that gives no definition, each with its line."""
    lines = text.split("\n")
    placed = []
    for problem in problems:
        source = problem.source
        if source is not None and source.line <= len(lines):
            source = replace(source, text=lines[source.line - 1].rstrip("\r")[:_WIDEST_LINE])
        placed.append(replace(problem, source=source))
    return tuple(placed)


def _at_start(code: str, message: str, file: str, help: str) -> Problem:
    return Problem(
        code=code,
        message=message,
        help=help,
        source=Source(file=file, line=1, column=1, end_column=2),
    )


def _placed(document: Definition, problem: Problem | None) -> Problem:
    assert problem is not None  # the callers made one
    return Problem(
        code=problem.code,
        message=problem.message,
        path=problem.path,
        help=problem.help,
        source=document.locate(problem.path),
    )


def _child(node: Node, step: str | int) -> Entry | None:
    if isinstance(node.entries, dict):
        return node.entries.get(str(step))
    if isinstance(node.entries, list) and isinstance(step, int) and 0 <= step < len(node.entries):
        return node.entries[step]
    return None
