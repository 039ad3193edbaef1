"""Wording by key, from one catalogue a language; no other module holds a sentence.

A catalogue is a TOML file of nested tables; the workshop's words and those of the page of
joints stand in files of their own, in folders ``workshop`` and ``joints``. A message has
places in braces. A message that counts is a table of plural forms (``one``, ``other``),
chosen by the rule named in ``meta.plural``. What is filled in is escaped, so a title can
never become markup.
"""

from __future__ import annotations

import importlib.resources
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from string import Formatter
from typing import Any

from markupsafe import Markup, escape

from kdkit.definition.gate import check_lines
from kdkit.diagnostics import Problem, error

__all__ = ["Messages", "find_wording", "has_large_nouns", "languages", "load_messages"]

_PLURAL_RULES: dict[str, Callable[[int], str]] = {
    "one-other": lambda n: "one" if n == 1 else "other",
    "other": lambda n: "other",
}
"""Source: cardinal rules for whole numbers of the Unicode CLDR, from memory."""


FOLDER = importlib.resources.files("kdkit.publish") / "languages"
"""Where the languages lie, a file each here and in each of ``_PLACES`` below."""

_PLACES = ("", "workshop", "joints")
_ENGLISH = "en"
_MOST_NAMED = 10


def languages() -> tuple[str, ...]:
    """Return the languages that there are catalogues for."""
    names = (entry.name for entry in FOLDER.iterdir() if entry.name.endswith(".toml"))
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def load_messages(language: str) -> Messages:
    """Return the catalogue of a language; KeyError if there is none."""
    if language not in languages():
        raise KeyError(language)
    entries: dict[str, str] = {}
    for place in _PLACES:
        text = (FOLDER / place / f"{language}.toml").read_text(encoding="utf-8")
        entries.update((key, str(value)) for key, value in _flatten(tomllib.loads(text)))
    return Messages(entries)


def find_wording(language: str) -> tuple[Messages | None, tuple[Problem, ...]]:
    """Return the catalogue of the language that a definition names, or what is wrong."""
    if language not in languages():
        return None, (
            error(
                "language-unknown",
                f"there is no wording for the language {language!r}",
                ("language",),
                help=f"known: {', '.join(languages())}",
            ),
        )
    problems = () if language == _ENGLISH else tuple(_check_language(language))
    return (None if problems else load_messages(language)), problems


def _check_language(language: str) -> Iterator[Problem]:
    """Yield what is wrong with a language's files, measured against the English ones."""
    for place in _PLACES:
        name = f"{place}/{language}.toml".lstrip("/")
        english = (FOLDER / place / f"{_ENGLISH}.toml").read_text(encoding="utf-8")
        wanted = dict(_flatten(tomllib.loads(english)))
        try:
            text = (FOLDER / place / f"{language}.toml").read_text(encoding="utf-8")
            found = dict(_flatten(tomllib.loads(text)))
        except OSError:
            yield _bad_language(
                "the file is missing", name, "copy the English one and translate it"
            )
            continue
        except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
            yield _bad_language(f"not readable as TOML: {fault}", name, "")
            continue
        forms = {key for key in wanted if key.rpartition(".")[2] in ("one", "other")}
        plural = found.get("meta.plural")
        if place == "" and plural is not None and plural not in _PLURAL_RULES:
            known = ", ".join(_PLURAL_RULES)
            yield _bad_language(f"meta.plural: {plural!r} is no rule", name, f"known: {known}")
        spare = {key for key in forms if plural == "other" and key.endswith(".one")}
        missing = [key for key in wanted if key not in found and key not in spare]
        if missing:
            rest = len(missing) - _MOST_NAMED
            more = f" and {rest} more" if rest > 0 else ""
            yield _bad_language(
                f"missing: {', '.join(missing[:_MOST_NAMED])}{more}", name, "translate them, too"
            )
        for key, value in found.items():
            why = _why_no_message(value, wanted.get(key))
            if why:
                yield _bad_language(f"{key}: {why}", name, "")


def _why_no_message(value: Any, english: str | None) -> str:
    """Return what keeps a value from being a message in place of the English one, or ""."""
    try:
        text = value if isinstance(value, str) and not value.strip() else check_lines(value)
        places = {place for _, place, _, _ in Formatter().parse(text) if place is not None}
    except ValueError as fault:  # a refusal, or braces that do not pair
        return str(fault)
    if english is None:
        return ""
    known = {place for _, place, _, _ in Formatter().parse(english) if place is not None}
    odd = sorted(places - known - {"n"})
    return f"nothing fills the place {{{odd[0]}}}" if odd else ""


def _bad_language(message: str, file: str, help: str) -> Problem:
    return error("language-bad", message, ("language",), where=f"languages/{file}", help=help)


def _flatten(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flatten(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", value


class Messages:
    """The wording of one language. Keys are dotted; a missing key is a fault in kdkit."""

    def __init__(self, entries: Mapping[str, str]) -> None:
        self._entries = dict(entries)
        self._form = _PLURAL_RULES[self._entries["meta.plural"]]

    @property
    def language(self) -> str:
        """Return the language's tag."""
        return self._entries["meta.language"]

    @property
    def keys(self) -> tuple[str, ...]:
        """Return every key, sorted."""
        return tuple(sorted(self._entries))

    def __contains__(self, key: str) -> bool:
        return key in self._entries

    def unfilled(self, key: str) -> str:
        """Return the message as the catalogue has it, its places in braces."""
        return self._entries[key]

    def text(self, key: str, **values: object) -> Markup:
        """Return the message with its places filled; values are escaped unless Markup."""
        return escape(self._entries[key]).format(**values)

    def plain(self, key: str, **values: object) -> str:
        """Return the message as plain text, for tables and attributes."""
        return self._entries[key].format(**values)

    def count(self, key: str, n: int, **values: object) -> Markup:
        """Return the plural form of a message for n; n fills ``{n}``."""
        return self.text(f"{key}.{self._form(n)}", n=n, **values)

    def name(self, kind: str, key: str, default: str) -> str:
        """Return the language's own name of a catalogue entry, or the entry's title."""
        return self._entries.get(f"{kind}.{key}", default)

    def in_sentence(self, name: str) -> str:
        """Return a title as it stands inside a sentence.

        Its first letter becomes small where it is large only as the first: not in "MDF
        panel", "L-shaped shelf" or "Linke Seite".
        """
        lowers = self._entries["meta.lowercase_names"] == "yes"
        first = name.partition(" ")[0]
        large_for_once = first[:1].isupper() and first[1:].islower() and "-" not in first[:2]
        if lowers and large_for_once and not has_large_nouns(name):
            return name[0].lower() + name[1:]
        return name

    def listed(self, entries: Sequence[object]) -> Markup:
        """Return "a, b and c"."""
        shown = [escape(entry) for entry in entries]
        if len(shown) < 2:
            return Markup("").join(shown)
        return self.text("list.comma").join(shown[:-1]) + self.text("list.last") + shown[-1]


def has_large_nouns(title: str) -> bool:
    """Tell whether a title has large letters within, as "Linke Seite" or "Left Side" has.

    Whoever writes one so means its nouns to be large, in its other titles too.
    """
    return any(word[0].isupper() and word[1:].islower() for word in title.split()[1:])
