"""The one gate for numbers and texts that come from outside.

Definitions, catalogues, languages, the command line and products made in Python all come
through here, so that the same value gets the same answer wherever it was written.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Any

__all__ = [
    "LARGEST",
    "LONGEST_LINES",
    "LONGEST_TITLE",
    "SMALLEST",
    "Refused",
    "Unread",
    "advise_number",
    "check_lines",
    "check_name",
    "check_number",
    "check_title",
    "find_unprintable",
    "shown",
]

LARGEST = 1e9
"""No number is further from zero, whatever it counts."""

SMALLEST = 1e-9
"""No number but zero itself is nearer to it: what is divided by it stays a number."""

LONGEST_TITLE = 120
LONGEST_LINES = 20_000
LONGEST_NAME = 40

# Marks that turn the direction of the text after them: a label could be made to
# read as another one. And the mark of a file's beginning, which belongs nowhere else.
_TURNING = frozenset(
    "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c\ufeff"
)
# Control characters, surrogates, private use, unassigned and noncharacters, line and
# paragraph separators: nothing that a font could show.
_UNPRINTABLE = frozenset(("Cc", "Cs", "Co", "Cn", "Zl", "Zp"))
# Format characters (zero width), spaces, and marks without a letter to stand on.
_SHOWS_NOTHING = frozenset(("Cf", "Zs", "Mn", "Me", "Cc"))
# Letters and signs that are drawn as an empty space: Hangul fillers, the blank of Braille.
_BLANK = frozenset("\u115f\u1160\u3164\uffa0\u2800")
# Letters of other alphabets that nobody tells from a Latin one. Source: "confusables" of
# Unicode Technical Standard 39, from memory; the commonest alone.
_LIKE_LATIN = frozenset("аеорсухіјѕԁһԛԝАВЕКМНОРСТУХІЈЅοΑΒΕΖΗΙΚΜΝΟΡΤΥΧ")


class Refused(ValueError):  # noqa: N818  # it says what happened to the value
    """A value that may not come in; ``code`` is a problem code."""

    def __init__(self, code: str, message: str, help: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.help = help


class Unread(float):
    """What stands in a file as a number and is none that can be reckoned with.

    It stays where it was written, so that everything else there is read too; its field
    refuses it in words of its own.

    Args:
        value: what it comes to, infinite or not a number.
        told: as a message quotes it.
        help: what to do.
    """

    told: str
    help: str

    def __new__(cls, value: float, told: str, help: str = "") -> Unread:
        made = super().__new__(cls, value)
        made.told, made.help = told, help
        return made


def shown(value: Any) -> str:
    """Return a value as a message may quote it: short, in words a maker knows."""
    if isinstance(value, Unread):
        return value.told
    if value is None:
        return "nothing"
    if value is True or value is False:
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a mapping (name: value)"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        return f"the text {value[:40]!r}"
    if isinstance(value, float) and not math.isfinite(value):
        return f"{value:g}"
    if isinstance(value, int | float):
        return f"the number {value:g}" if abs(value) < 1e15 else "a very large number"
    return "something else"


def check_number(
    value: Any, *, most: float = LARGEST, what: str = "a number", unit: str = ""
) -> float:
    """Return a number that can be reckoned with; never ``-0.0``.

    Args:
        value: from outside, of any type.
        most: it may be as far from zero as this, either way.
        what, unit: what is expected here, in a maker's words, and what it counts.

    Raises:
        Refused: it is no number, too large (infinite, or with hundreds of digits), or so
            near to zero that it was not meant.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise Refused("wrong-type", f"expected {what}, found {shown(value)}", advise_number(value))
    if isinstance(value, float) and not math.isfinite(value):
        help = value.help if isinstance(value, Unread) else ""
        help = help or f"write a plain number{' of' + unit if unit else ''}"
        raise Refused("number-not-finite", f"expected {what}, found {shown(value)}", help)
    if abs(value) > most:  # compared before it is made a float: an int may not fit into one
        found = f"{value:g}{unit}" if abs(value) < 1e300 or isinstance(value, float) else "it"
        raise Refused(
            "out-of-range",
            f"{found} is more than {most:g}{unit}",
            "lengths are in mm" if unit else "",
        )
    if 0 < abs(value) < SMALLEST:
        raise Refused(
            "out-of-range",
            f"{value:g} is nearer to zero than {SMALLEST:g}",
            "write 0 if it is none",
        )
    return float(value) + 0.0


_IN_MM = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4}
_WITH_UNIT = re.compile(r"([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*(mm|cm|m|in|\"|)")


def advise_number(value: Any) -> str:
    """Return advice for a text that was meant as a number: without unit, with a point."""
    read = _WITH_UNIT.fullmatch(value.strip()) if isinstance(value, str) else None
    if read is None:
        return "write a plain number, without quotes or unit"
    plain = f"{float(read[1].replace(',', '.')) * _IN_MM[read[2]]:.10g}"
    if read[2]:
        return f"lengths are in mm and have no unit: {plain}"
    return f"write it without quotes and with a decimal point: {plain}"


def check_title(value: Any) -> str:
    """Return a text of one line, in composed letters, without spaces round it.

    Raises:
        Refused: it is no text, too long, holds what cannot be printed, or shows nothing.
    """
    text = _text(value, LONGEST_TITLE, "longer texts belong under `texts`")
    _check_printable(text, "", " in one line of text")
    return text.strip()


def check_lines(value: Any) -> str:
    """Return a text of several lines.

    Raises:
        Refused: it is no text, too long, holds what cannot be printed, or shows nothing.
    """
    text = _text(value, LONGEST_LINES, "")
    _check_printable(text, "\n\t", "")
    return text


def check_name(value: Any) -> str:
    """Return a name that formulas can use.

    Raises:
        Refused: it is no name, or one that looks like another.
    """
    if not isinstance(value, str):
        raise Refused("wrong-type", f"expected a name, found {shown(value)}")
    named = repr(value[:60])
    if "-" in value:
        raise Refused(
            "bad-name",
            f"the name {named} has a hyphen, which a formula would read as minus",
            f"write {value[:60].replace('-', '_')}",
        )
    if not value.isidentifier() or "__" in value or value.startswith("_"):
        raise Refused(
            "bad-name",
            f"{named} cannot be a name",
            "use letters, digits and _, a letter first: left_side",
        )
    if len(value) > LONGEST_NAME:
        raise Refused("bad-name", f"a name has at most {LONGEST_NAME} characters")
    if value == "boards":
        raise Refused("bad-name", "'boards' is a word of the formulas", "choose another name")
    _check_letters(value, named)
    return value


_NO_FILE_HAS = re.compile(r'[/\\:*?"<>|]')
LONGEST_KEY = 80


def check_key(value: Any) -> str:
    """Return a catalogue entry's name, which becomes part of files' names.

    Raises:
        Refused: it is no text of one line, is empty or long, or no file can be named so.
    """
    key = check_title(value)
    if not key:
        raise Refused("bad-name", "a name shows nothing", "write a word: screw-4x30")
    bad = _NO_FILE_HAS.search(key)
    if bad is not None:
        message = f"the name {key[:60]!r} has {bad[0]!r}, which no file's name can have"
        raise Refused("bad-name", message, "use letters, digits, dots, hyphens and spaces")
    if len(key) > LONGEST_KEY:
        raise Refused("bad-name", f"a name has at most {LONGEST_KEY} characters here")
    return key


def _check_letters(name: str, named: str) -> None:
    """Two names that look the same must be the same."""
    if any(character in _BLANK for character in name):
        raise Refused("bad-name", f"the name {named} has an invisible letter", "delete it")
    plain = unicodedata.normalize("NFKC", name)
    if plain != name:
        raise Refused(
            "bad-name", f"the name {named} has letters in an odd form", f"write {plain[:60]}"
        )
    odd = next((c for c in name if c in _LIKE_LATIN), None)
    if odd is not None and any("a" <= c.lower() <= "z" for c in name):
        raise Refused(
            "bad-name",
            f"the name {named} has a {unicodedata.name(odd).lower()}, which looks like a Latin one",
            "write the whole name in one alphabet",
        )


def find_unprintable(text: str, but: str = "") -> str | None:
    """Return the first character of a text that no text of a product may hold, or None.

    Args:
        text: from outside.
        but: control characters that may stand in it all the same.
    """
    for character in text:
        if character not in but and (
            unicodedata.category(character) in _UNPRINTABLE or character in _TURNING
        ):
            return character
    return None


def _text(value: Any, longest: int, help: str) -> str:
    if not isinstance(value, str):
        raise Refused(
            "wrong-type", f"expected a text, found {shown(value)}", 'put it in quotes: "…"'
        )
    if len(value) > longest:
        message = f"the text has {len(value)} characters, at most {longest} fit here"
        raise Refused("text-too-long", message, help)
    return unicodedata.normalize("NFC", value)


def _check_printable(text: str, but: str, where: str) -> None:
    bad = find_unprintable(text, but)
    if bad is not None:
        message = f"the character U+{ord(bad):04X} cannot be printed{where}"
        raise Refused("bad-text", message, "delete it")
    if text and all(unicodedata.category(c) in _SHOWS_NOTHING or c in _BLANK for c in text):
        raise Refused(
            "bad-text",
            "the text shows nothing: it holds spaces or invisible characters alone",
            "write a word, or leave it out",
        )
