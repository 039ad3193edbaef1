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
from typing import Any

from markupsafe import Markup, escape

from kdkit.diagnostics import Problem, error

__all__ = ["Messages", "find_wording", "languages", "load_messages"]

_PLURAL_RULES: dict[str, Callable[[int], str]] = {
    "one-other": lambda n: "one" if n == 1 else "other",
    "other": lambda n: "other",
}
"""Source: cardinal rules for whole numbers of the Unicode CLDR, from memory."""


def languages() -> tuple[str, ...]:
    """Return the languages that there are catalogues for."""
    folder = importlib.resources.files("kdkit.publish") / "languages"
    names = (entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple(sorted(name.removesuffix(".toml") for name in names))


def load_messages(language: str) -> Messages:
    """Return the catalogue of a language; KeyError if there is none."""
    if language not in languages():
        raise KeyError(language)
    folder = importlib.resources.files("kdkit.publish") / "languages"
    entries: dict[str, str] = {}
    for place in (folder, folder / "workshop", folder / "joints"):
        file = place / f"{language}.toml"
        entries.update(_flatten(tomllib.loads(file.read_text(encoding="utf-8"))))
    return Messages(entries)


def find_wording(language: str) -> tuple[Messages | None, tuple[Problem, ...]]:
    """Return the catalogue of the language that a definition names, or what is wrong."""
    if language in languages():
        return load_messages(language), ()
    return None, (
        error(
            "language-unknown",
            f"there is no wording for the language {language!r}",
            ("language",),
            help=f"known: {', '.join(languages())}",
        ),
    )


def _flatten(table: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, dict):
            yield from _flatten(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", str(value)


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
        """Return a title as it stands inside a sentence."""
        lowers = self._entries["meta.lowercase_names"] == "yes"
        if lowers and len(name) > 1 and name[0].isupper() and not name[1].isupper():
            return name[0].lower() + name[1:]
        return name

    def listed(self, entries: Sequence[object]) -> Markup:
        """Return "a, b and c"."""
        shown = [escape(entry) for entry in entries]
        if len(shown) < 2:
            return Markup("").join(shown)
        return self.text("list.comma").join(shown[:-1]) + self.text("list.last") + shown[-1]
