"""The wording: complete, counted right, escaped."""

from __future__ import annotations

import pathlib
import re
import string

import pytest

from kdkit.catalogue import load_catalogue
from kdkit.plan.plan import OperationKind, Posture
from kdkit.publish.wording.messages import Messages, languages, load_messages

PACKAGE = pathlib.Path(__file__).parents[4] / "kdkit" / "publish"
SOURCES = "\n".join(
    path.read_text(encoding="utf-8")
    for path in sorted((*PACKAGE.rglob("*.py"), *PACKAGE.glob("templates/*.j2")))
)
CALL = re.compile(r"""(?:text|plain|count)\(\s*["']([a-z_\-]+\.[a-z_.\-]+[a-z])["'][,)]""")
COMPUTED = (
    *(
        "after.apart_",
        "before.",
        "round.",
        "saw.",
        "icon.",
        "moves.",
        "who.",
        "caution.tip_",
        "cover.",
        "do.",
        "final.",
        "mate.",
        "result.",
        "picture.",
    ),
    *("runs.", "sides.", "signal.", "surface.", "table.", "title.", "operation."),
    *("joints.", "workshop.", "way.", "remove.", "no_plan.ways.", "packing.", "run."),
)
"""Tables from which the code takes entries by a name it has worked out."""


@pytest.mark.parametrize("language", languages())
def test_every_used_key_exists(language: str) -> None:
    messages = load_messages(language)
    used = CALL.findall(SOURCES)
    assert len(used) > 60
    assert [key for key in used if key not in messages and f"{key}.other" not in messages] == []


@pytest.mark.parametrize("language", languages())
def test_no_message_is_unused(language: str) -> None:
    unused = [
        key
        for key in load_messages(language).keys
        if f'"{key.removesuffix(".one").removesuffix(".other")}' not in SOURCES
        and not key.startswith((*COMPUTED, "meta."))
    ]
    assert unused == []


@pytest.mark.parametrize("language", languages())
def test_every_kind_of_operation_has_its_words(language: str) -> None:
    messages = load_messages(language)
    for kind in OperationKind:
        assert f"title.{kind.value}" in messages
        assert f"result.{kind.value}" in messages or kind in (
            OperationKind.GLUE,
            OperationKind.TURN,
        )
    for posture in Posture:
        assert f"operation.turn_{posture.value}" in messages


def test_every_action_of_the_catalogue_has_its_words() -> None:
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    messages = load_messages("en")
    for fitting in catalogue.fittings.values():
        for action in fitting.actions:
            if action.do not in ("mate", "slide-in", "lay-on", "hang", "run-in", "wait"):
                assert f"do.{action.do}" in messages


@pytest.mark.parametrize("language", languages())
def test_places_are_named(language: str) -> None:
    messages = load_messages(language)
    for key in messages.keys:
        for _, field, _, _ in string.Formatter().parse(messages._entries[key]):
            assert field is None or field.isidentifier(), key


def test_counts_choose_their_form() -> None:
    messages = load_messages("en")
    assert messages.count("steps.persons", 1) == "1 person"
    assert messages.count("steps.persons", 2) == "2 persons"
    assert messages.count("steps.persons", 0) == "0 persons"


def test_what_is_filled_in_is_escaped() -> None:
    messages = load_messages("en")
    assert "&lt;b&gt;" in messages.text("parts.mirror", letter="<b>")


def test_lists() -> None:
    messages = load_messages("en")
    assert messages.listed([]) == ""
    assert messages.listed(["a"]) == "a"
    assert messages.listed(["a", "b"]) == "a and b"
    assert messages.listed(["a", "<", "c"]) == "a, &lt; and c"


def test_names_inside_a_sentence() -> None:
    messages = load_messages("en")
    assert messages.in_sentence("Left side") == "left side"
    assert messages.in_sentence("MDF panel") == "MDF panel"
    assert messages.in_sentence("X") == "X"


def test_an_unknown_language() -> None:
    with pytest.raises(KeyError):
        load_messages("../en")


def test_a_language_with_one_form() -> None:
    messages = Messages({"meta.plural": "other", "meta.language": "x", "a.other": "{n} a"})
    assert messages.count("a", 1) == "1 a"
