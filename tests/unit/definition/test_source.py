"""Places of keys and values, and every way a file can be wrong before it means anything."""

from __future__ import annotations

import pathlib
import re
from typing import Any

import pytest

from kdkit.definition import Definition, load_definition, load_document
from kdkit.definition.gate import Refused, check_number
from kdkit.definition.source import MAX_BYTES
from kdkit.definition.tree import MAX_DEPTH
from kdkit.diagnostics import Problem, locate_problems, render_problem


def write(folder: pathlib.Path, text: str | bytes, name: str = "box.yaml") -> pathlib.Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def sound(folder: pathlib.Path, text: str) -> Definition:
    definition, problems = load_definition(write(folder, text))
    assert problems == ()
    assert definition is not None
    return definition


def refused(folder: pathlib.Path, text: str | bytes) -> Problem:
    """Return the first problem of a file that must not be read."""
    definition, problems = load_definition(write(folder, text))
    assert definition is None
    assert problems
    return problems[0]


def test_scalars_are_those_of_the_core_schema(tmp_path: pathlib.Path) -> None:
    """YAML 1.2.2, section 10.3.2: yes, on and 12:30 are text, 0o17 is a number."""
    data = sound(
        tmp_path,
        """\
a: [1, -2, 0o17, 0x1F, 1.5, .5, 1e2, +3]
b: [true, False, null, ~]
c: [yes, off, 12:30, 1_000, 0b1, 2026-11-25, '1', "true"]
y: on
d: !!str 5
e: !!float 5
f: ! 7
empty:
""",
    ).data
    assert data["a"] == [1, -2, 15, 31, 1.5, 0.5, 100.0, 3]
    assert data["b"] == [True, False, None, None]
    assert data["c"] == ["yes", "off", "12:30", "1_000", "0b1", "2026-11-25", "1", "true"]
    assert data["y"] == "on"
    assert (data["d"], data["e"], data["f"], data["empty"]) == ("5", 5.0, "7", None)


TEXT = """\
product: Box
panels:
  shelf:
    x: [left.x1 + 2, "right.x0"]
    z: {from: 582}
    note: 'it''s'
joints:
  - join: shelf
    to: side
  - {join: a, to: b}
long: |
  two
  lines
"""


@pytest.mark.parametrize(
    ("path", "arguments", "expected"),
    [
        (("product",), {}, "Box"),
        (("product",), {"on_key": True}, "product"),
        (("panels", "shelf", "x"), {}, '[left.x1 + 2, "right.x0"]'),
        (("panels", "shelf", "x", 0), {}, "left.x1 + 2"),
        (("panels", "shelf", "x", 0), {"span": (0, 7)}, "left.x1"),
        (("panels", "shelf", "x", 1), {"span": (6, 8)}, "x0"),
        (("panels", "shelf", "z", "from"), {}, "582"),
        (("panels", "shelf", "z", "from"), {"on_key": True}, "from"),
        (("panels", "shelf", "note"), {"span": (3, 4)}, "'it''s'"),
        (("panels", "shelf"), {}, "shelf"),
        (("panels", "shelf", "board"), {}, "shelf"),
        (("panels", "shelf", "y", 0), {"on_key": True}, "shelf"),
        (("panels", "shelf", "z", "to"), {}, "{from: 582}"),
        (("joints", 0), {}, "join: shelf"),
        (("joints", 0, "to"), {}, "side"),
        (("joints", 1), {}, "{join: a, to: b}"),
        (("joints", 7), {}, "joints"),
        (("long",), {}, "|"),
    ],
)
def test_locate(
    tmp_path: pathlib.Path, path: tuple[str | int, ...], arguments: dict[str, Any], expected: str
) -> None:
    definition = sound(tmp_path, TEXT)
    source = definition.locate(path, **arguments)
    assert source is not None
    line = definition.line_text(source)
    assert line[source.column - 1 : source.end_column - 1] == expected


def test_a_value_behind_an_alias_lies_at_its_anchor(tmp_path: pathlib.Path) -> None:
    definition = sound(tmp_path, "a: &x {b: 1}\nc: *x\n")
    assert definition.data == {"a": {"b": 1}, "c": {"b": 1}}
    alias, inside = definition.locate(("c",)), definition.locate(("c", "b"))
    assert alias is not None
    assert inside is not None
    assert (alias.line, alias.column, inside.line, inside.column) == (2, 4, 1, 11)


def test_caret_stands_inside_the_formula(tmp_path: pathlib.Path) -> None:
    definition = sound(tmp_path, TEXT)
    problem = Problem(
        code="formula-name", message="m", path=("panels", "shelf", "x", 0), span=(0, 4)
    )
    shown = render_problem(locate_problems([problem], definition)[0], definition)
    assert shown.splitlines()[1:] == [
        '    4 |     x: [left.x1 + 2, "right.x0"]',
        "      |         ^^^^",
    ]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_every_system(tmp_path: pathlib.Path, end: str) -> None:
    definition = sound(tmp_path, "a: 1\nb: 2\n".replace("\n", end))
    source = definition.locate(("b",))
    assert source is not None
    assert (source.line, definition.line_text(source)) == (2, "b: 2")


def test_a_byte_order_mark_is_no_text(tmp_path: pathlib.Path) -> None:
    definition, problems = load_definition(write(tmp_path, b"\xef\xbb\xbfproduct: Box\n"))
    assert problems == ()
    assert definition is not None
    assert definition.data == {"product": "Box"}


def bombs() -> str:
    """Thousands of nested aliases: 10^9 values if they were opened."""
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]" for n in range(1, 10)]
    return "\n".join(lines) + "\n"


# what: (text, code, line, column)
REFUSED: dict[str, tuple[str | bytes, str, int, int]] = {
    "empty": ("", "definition-empty", 1, 1),
    "comment only": ("# nothing\n", "definition-empty", 1, 1),
    "list": ("- a\n- b\n", "definition-not-a-mapping", 1, 1),
    "text": ("hello\n", "definition-not-a-mapping", 1, 1),
    "not UTF-8": ("product: Box\nmaker: Stühle\n".encode("latin-1"), "file-not-text", 2, 10),
    "UTF-16": ("product: Box\n".encode("utf-16"), "file-not-text", 1, 1),
    "control character": ("a: 1\nb: x\x07y\n", "yaml-syntax", 2, 5),
    "line separator": ("a: x\u2028y\n", "yaml-syntax", 1, 5),
    "tab": ("a:\n\tb: 1\n", "yaml-tab", 2, 1),
    "object tag": ("a: 1\nb: !!python/object/apply:os.system ['x']\n", "yaml-tag", 2, 4),
    "own tag": ("a: !sum 3\n", "yaml-tag", 1, 4),
    "core tag outside the schema": ("a: !!set {x}\n", "yaml-tag", 1, 4),
    "tag that does not fit": ("a: !!int x\n", "yaml-tag", 1, 4),
    "collection tag that does not fit": ("a: !!seq {x: 1}\n", "yaml-tag", 1, 4),
    "duplicate key": ("a: 1\nb: 2\na: 3\n", "yaml-duplicate-key", 3, 1),
    "the same key with a blank": ("a: 1\n'a ': 3\n", "yaml-key", 2, 1),
    "key of blanks": ("a: 1\n'  ': 3\n", "yaml-key", 2, 1),
    "key of nothing": ("a: 1\n'': 3\n", "yaml-key", 2, 1),
    "merge key": ("a: &a {x: 1}\nb:\n  <<: *a\n", "yaml-merge-key", 3, 3),
    "list as key": ("? [a, b]\n: 1\n", "yaml-key", 1, 3),
    "empty key": (": 1\n", "yaml-key", 1, 1),
    "unknown alias": ("a: *b\n", "yaml-alias", 1, 4),
    "alias of itself": ("a: &a [1, *a]\n", "yaml-alias", 1, 11),
    "open bracket": ("a: [1, 2\nb: 3\n", "yaml-syntax", 2, 2),
    "bad indent": ("a:\n   b: 1\n  c: 2\n", "yaml-syntax", 3, 3),
    "open quote": ('a: "x\n', "yaml-syntax", 2, 1),
    "impossible character": ('a: "\\UFFFFFFFF"\n', "yaml-syntax", 1, 1),
    "two documents": ("a: 1\n---\nb: 2\n", "yaml-syntax", 2, 1),
    "YAML 1.1": ("%YAML 1.1\n---\na: yes\n", "yaml-syntax", 2, 1),
    "nested lists": ("a: " + "[" * 1500, "yaml-too-deep", 1, 4 + MAX_DEPTH),
    "nested aliases": (bombs(), "yaml-too-large", 5, 0),
    "too many values": ("a: [" + "1, " * 60_000 + "1]\n", "yaml-too-large", 1, 0),
    "endless word": ("a: 1\nb: " + "!" * 900_000, "yaml-too-large", 2, 4),
    "too large": (b"# " + b"x" * MAX_BYTES, "file-too-large", 1, 1),
}


@pytest.mark.parametrize("what", REFUSED)
def test_refused_with_a_place(tmp_path: pathlib.Path, what: str) -> None:
    text, code, line, column = REFUSED[what]
    problem = refused(tmp_path, text)
    assert problem.code == code
    assert problem.source is not None
    assert problem.source.line == line
    assert column in (0, problem.source.column)
    assert "Traceback" not in render_problem(problem)


def test_all_values_that_cannot_be_read_are_reported(tmp_path: pathlib.Path) -> None:
    _, problems = load_definition(write(tmp_path, "a: !!int x\na: 1\nb: !!bool y\n"))
    assert [p.code for p in problems] == ["yaml-tag", "yaml-duplicate-key", "yaml-tag"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (".nan", ".nan"), ("-.inf", "-.inf"), ("1e999", "1e999"), ("!!float .inf", ".inf"),
        ("9" * 1500, "a number of 1500 characters"), ("0x" + "f" * 300, "a number of 302"),
    ],
)  # fmt: skip
def test_a_number_that_is_none_stays_for_its_field_to_refuse(
    tmp_path: pathlib.Path, text: str, told: str
) -> None:
    """Refused here, it would hide everything else that is wrong in the file."""
    definition, problems = load_definition(write(tmp_path, f"a: 1\nb: {text}\n"))
    assert (problems, definition is None) == ((), False)
    assert definition is not None
    with pytest.raises(Refused, match=re.escape(f"expected a number, found {told}")) as refused:
        check_number(definition.data["b"])
    assert refused.value.code == "number-not-finite"


def test_deep_aliases_count_where_they_are_used(tmp_path: pathlib.Path) -> None:
    deep = "a: &a " + "[" * 30 + "1" + "]" * 30 + "\nb: " + "[" * 30 + "*a" + "]" * 30 + "\n"
    assert refused(tmp_path, deep).code == "yaml-too-deep"


def test_a_missing_file_and_a_folder(tmp_path: pathlib.Path) -> None:
    for path in (tmp_path / "none.yaml", tmp_path):
        definition, problems = load_definition(path)
        assert definition is None
        assert [p.code for p in problems] == ["file-not-read"]


# ------------------------------------------------------------------ other files


@pytest.mark.parametrize(
    "name",
    [
        "../secret.yaml",
        "a/../../secret.yaml",
        "/etc/passwd",
        "~/x.yaml",
        "C:\\x.yaml",
        "file:///etc/passwd",
        "http://192.0.2.1/x.yaml",
        "link.yaml",
        "linked/secret.yaml",
        "",
        "x" * 500,
    ],
)
def test_a_file_outside_the_folder_is_refused(tmp_path: pathlib.Path, name: str) -> None:
    folder = tmp_path / "inside"
    secret = write(tmp_path, "product: Secret\n", "secret.yaml")
    folder.mkdir()
    (folder / "link.yaml").symlink_to(secret)
    (folder / "linked").symlink_to(tmp_path)
    for key in ("units: {u: {file: ", "catalogues: ["):
        closing = "}}" if "{" in key else "]"
        definition, problems = load_definition(
            write(folder, f"product: Box\n{key}{name!r}{closing}\n")
        )
        assert definition is None
        assert [p.code for p in problems] == ["path-outside-folder"]
        assert problems[0].source is not None
        assert problems[0].source.line == 2


def test_unit_files_are_read_with_their_own_places(tmp_path: pathlib.Path) -> None:
    write(tmp_path, "product: Drawer\npanels: {front: {x: 5}}\n", "parts/drawer.yaml")
    definition = sound(tmp_path, "product: Box\nunits:\n  top: {file: parts/drawer.yaml}\n")
    source = definition.locate(("units", "top", "file", "panels", "front", "x"))
    assert source is not None
    assert source.file.endswith("parts/drawer.yaml")
    assert (source.line, source.column) == (2, 21)
    assert definition.line_text(source) == "panels: {front: {x: 5}}"
    at_user = definition.locate(("units", "top", "file"))
    assert at_user is not None
    assert (at_user.file, at_user.line) == (definition.file, 3)


def test_a_unit_file_that_is_wrong_or_missing(tmp_path: pathlib.Path) -> None:
    write(tmp_path, "product: [\n", "drawer.yaml")
    problem = refused(tmp_path, "product: Box\nunits: {a: {file: drawer.yaml}}\n")
    assert problem.code == "yaml-syntax"
    assert problem.source is not None
    assert problem.source.file.endswith("drawer.yaml")
    problem = refused(tmp_path, "product: Box\nunits: {a: {file: none.yaml}}\n")
    assert problem.code == "file-not-read"
    assert problem.source is not None
    assert (problem.source.line, problem.source.column) == (2, 19)


def test_a_unit_file_that_comes_back_to_itself(tmp_path: pathlib.Path) -> None:
    write(tmp_path, "product: B\nunits: {a: {file: box.yaml}}\n", "b.yaml")
    problem = refused(tmp_path, "product: A\nunits: {b: {file: b.yaml}}\n")
    assert problem.code == "unit-loop"
    assert problem.source is not None
    assert problem.source.file.endswith("b.yaml")


def test_catalogues_are_given_as_files(tmp_path: pathlib.Path) -> None:
    write(tmp_path, "boards: {}\n", "own/boards.yaml")
    definition = sound(tmp_path, "product: Box\ncatalogues: [own/boards.yaml]\n")
    assert definition.catalogues == (tmp_path / "own" / "boards.yaml",)
    assert refused(tmp_path, "catalogues: [own/none.yaml]\n").code == "file-not-read"


def test_a_document_opens_no_other_file(tmp_path: pathlib.Path) -> None:
    document, problems = load_document(write(tmp_path, "units: {a: {file: ../x.yaml}}\n"))
    assert problems == ()
    assert document is not None
    assert document.units == {}


def test_all_files_together_are_bounded(tmp_path: pathlib.Path) -> None:
    filler = "# " + "x " * 450_000
    for n in range(3):
        write(tmp_path, f"product: U{n}\n{filler}\n", f"u{n}.yaml")
    units = "".join(f"  u{n}: {{file: u{n}.yaml}}\n" for n in range(3))
    problem = refused(tmp_path, f"product: Box\nunits:\n{units}")
    assert problem.code == "file-too-large"
    assert problem.source is not None
    assert (problem.source.line, problem.source.column) == (5, 14)

    many = "".join(f"  u{n}: {{file: small{n}.yaml}}\n" for n in range(60))
    for n in range(60):
        write(tmp_path, "product: U\n", f"small{n}.yaml")
    assert refused(tmp_path, f"product: Box\nunits:\n{many}").code == "file-too-large"


def test_brackets_too_deep_are_told_before_what_follows_is_read(tmp_path: pathlib.Path) -> None:
    # A bracket may begin a key, so that a scanner would first look far ahead, at a cost that
    # grows with the square of the depth.
    text = "a: " + "[" * (MAX_DEPTH + 1) + " } @ `"
    assert refused(tmp_path, text).code == "yaml-too-deep"


@pytest.mark.parametrize(
    ("text", "column"),
    [
        ("a: " + "b" * 2000, 4),
        ("a: " + ("b" * 1999 + " ") * 3 + "c" * 2000, 6004),
        ("a: !" + "b" * 500, 4),
        ("a: " + ("!" + "b" * 499 + " ") * 3 + "c!" + "d" * 500, 1507),
    ],
)
def test_a_word_without_end_is_told_where_it_begins(
    tmp_path: pathlib.Path, text: str, column: int
) -> None:
    problem = refused(tmp_path, f"{text}\n")
    assert problem.code == "yaml-too-large"
    assert problem.source is not None
    assert problem.source.column == column


def test_words_that_end_are_read(tmp_path: pathlib.Path) -> None:
    file = write(tmp_path, "a: " + ("b" * 1999 + " ") * 3)
    assert load_document(file)[0] is not None
