"""Wording by key, from one file a language; no other module holds a sentence.

A file is TOML with nested tables. A message has places in braces. A message that counts is a
table of plural forms (``one``, ``other``), chosen by the rule named in ``meta.plural``. What is
filled in is escaped, so a title can never become markup. What a language does not say, English
says: a translation can grow message by message. ``python -m kdkit.publish.wording de``
prints the file anew, with what is missing in English behind a ``#``.
"""

from __future__ import annotations

import importlib.resources
import json
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from string import Formatter
from typing import Any

from markupsafe import Markup, escape

from kdkit.definition.gate import check_lines
from kdkit.diagnostics import Problem, Severity, error, warning

__all__ = [
    "Messages",
    "check_wording",
    "find_wording",
    "has_large_nouns",
    "languages",
    "load_messages",
    "missing_from",
    "to_translate",
]

_PLURAL_RULES: dict[str, Callable[[int], str]] = {
    "one-other": lambda n: "one" if n == 1 else "other",
    "other": lambda n: "other",
}
"""Source: cardinal rules for whole numbers of the Unicode CLDR, from memory."""


FOLDER = importlib.resources.files("kdkit.publish") / "languages"
"""Where the languages lie, a file each."""

_ENGLISH = "en"
_MODULE = "kdkit.publish.wording"
_META = ("meta.language", "meta.lowercase_names", "meta.plural")
_MOST_NAMED = 10


def languages() -> tuple[str, ...]:
    """Return the languages that there are files for."""
    names = (entry.name for entry in FOLDER.iterdir() if entry.name.endswith(".toml"))
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def load_messages(language: str) -> Messages:
    """Return the messages of a language, English where it has none; KeyError for an unknown one.

    What is wrong with the file of a language is told by ``check_wording``.
    """
    if language not in languages():
        raise KeyError(language)
    entries = {**_read(_ENGLISH), **_read(language)}
    return Messages({key: str(value) for key, value in entries.items()})


def find_wording(language: str) -> tuple[Messages | None, tuple[Problem, ...]]:
    """Return the messages of the language that a definition names, or the errors."""
    problems = tuple(p for p in check_wording(language) if p.severity is Severity.ERROR)
    return (None if problems else load_messages(language)), problems


def check_wording(language: str) -> tuple[Problem, ...]:
    """Return what is wrong with a language's file, and what it has not yet, as a warning."""
    if language not in languages():
        return (
            error(
                "language-unknown",
                f"there is no wording for the language {language!r}",
                ("language",),
                help=f"known: {', '.join(languages())}",
            ),
        )
    return () if language == _ENGLISH else tuple(_check_language(language))


def missing_from(language: str) -> dict[str, str]:
    """Return what English says and a language does not, by key, in the order of the file."""
    english, found = _read(_ENGLISH), _read(language)
    spare = ".one" if found.get("meta.plural") == "other" else "\0"
    return {
        key: str(text)
        for key, text in english.items()
        if key not in found and not key.endswith(spare)
    }


def to_translate(language: str) -> str:
    """Return a language's file anew, in the order of the English one.

    What it does not say yet stands there in English behind a ``#``.
    """
    english, found = _read(_ENGLISH), _read(language) if language in languages() else {}
    missing = missing_from(language) if found else english
    english["meta.language"] = language
    tables: dict[str, list[str]] = {}
    for key in dict.fromkeys((*english, *found)):
        if key in found or key in missing:
            home, _, name = key.rpartition(".")
            value = json.dumps(found.get(key, english.get(key)), ensure_ascii=False)
            mark = "" if key in found else "# "
            tables.setdefault(home, []).append(f"{mark}{_bare(name)} = {value}")
    lines = []
    for home, entries in tables.items():
        lines += ["", f"[{'.'.join(map(_bare, home.split('.')))}]", *entries]
    return "\n".join(lines[1:]) + "\n"


def _bare(name: str) -> str:
    """Return a name as a key of TOML."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)


def _read(language: str) -> dict[str, Any]:
    """Return a language's entries by dotted key, as they are written."""
    text = (FOLDER / f"{language}.toml").read_text(encoding="utf-8")
    return dict(_flatten(tomllib.loads(text)))


def _check_language(language: str) -> Iterator[Problem]:
    """Yield what is wrong with a language's file, measured against the English one."""
    name, english = f"{language}.toml", _read(_ENGLISH)
    try:
        found = _read(language)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        yield _bad_language(f"not readable as TOML: {fault}", name, "")
        return
    plural = found.get("meta.plural")
    if plural is not None and plural not in _PLURAL_RULES:
        known = ", ".join(_PLURAL_RULES)
        yield _bad_language(f"meta.plural: {plural!r} is no rule", name, f"known: {known}")
    needed = [key for key in _META if key not in found]
    if needed:
        yield _bad_language(f"missing: {', '.join(needed)}", name, "no other language can say this")
    for key, value in found.items():
        why = _why_no_message(value, english.get(key))
        if why:
            yield _bad_language(f"{key}: {why}", name, "")
    missing = [key for key in missing_from(language) if key not in needed]
    if missing:
        rest = len(missing) - _MOST_NAMED
        more = f" and {rest} more" if rest > 0 else ""
        yield warning(
            "language-incomplete",
            f"not in this language yet, so said in English: "
            f"{', '.join(missing[:_MOST_NAMED])}{more}",
            ("language",),
            where=f"languages/{name}",
            help=f"`python -m {_MODULE} {language}` prints the file with all of them",
        )


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
