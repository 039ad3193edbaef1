"""The one gate through which text gets into a program.

A control takes every character of a program for an order unless it knows better, and
controls differ in what they know. So a program holds no text of a definition, a catalogue
or the command line at all: names and titles stand on the sheets of ``read-first.pdf``, and
the program shares a number with its plot. Comments are kdkit's own words, and since those
come from a language file they pass through here all the same:

- compatibility characters are taken apart first (a full-width bracket is a bracket, a
  full-width G is a G), and the allow-list is the last thing that touches the text: letters,
  space, dot and hyphen of ASCII. What it leaves out cannot end a comment (brackets, line
  ends), begin another kind of it (``;``), skip a block (``/``), end the program (``%``),
  compute (``#``, ``[``), or make the comment an order to the control (``MSG`` and a comma);
- a number stands before the words, never behind one. A word of a program is a letter and
  then a number (ISO 6983-1), so a control that reads on inside a comment finds none;
- a comment fills a line of its own that no control cuts.

What is left: a control that neither knows comments nor stops at a bracket nor asks for the
number behind a letter. Such a control would need programs without any comment.

Filtering names was tried, and a normalisation got round it.
"""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterable

from kdkit.units import mm_text

__all__ = ["LONGEST_LINE", "comment_lines", "program_number", "words_of"]

LONGEST_LINE = 80
"""Characters of a line; many controls cut what is longer. Common practice, no source."""

_FARTHEST = 100_000.0
"""No word of a program has a larger number; lengths of a definition end there, mm."""

_REFUSED = re.compile(r"[^A-Za-z .-]+")


def comment_lines(words: str, number: float | str | None = None) -> tuple[str, ...]:
    """Return words as comments, each a line of its own; none if nothing can be written.

    Args:
        words: kdkit's own; any character that is not allowed becomes a space, digits too.
        number: stands before the words, in mm; a whole number as text is written as it is.

    Raises:
        ValueError: a fault in kdkit: the number is none, or out of any sane range.
    """
    apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", words))
    apart = "".join(c for c in apart if not unicodedata.combining(c))
    plain = " ".join(_REFUSED.sub(" ", apart).split())
    if not plain:
        return ()
    if number is not None:
        first = number if isinstance(number, str) else program_number(number)
        if not re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", first, re.ASCII):
            raise ValueError(f"{first!r} is no number to begin a comment with")
        plain = f"{first} {plain}"
    return tuple(f"({line})" for line in textwrap.wrap(plain, LONGEST_LINE - 2))


def words_of(programs: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what a control must know to run some programs, from the programs themselves.

    Returns:
        The G and M words by number, ``G0`` before ``G17``, and the letters of all others.
    """
    found = {
        word
        for program in programs
        for line in program.splitlines()
        if not line.startswith("(")
        for word in re.findall(r"[A-Z]-?[0-9.]+", line)
    }
    codes = sorted((w[0], int(w[1:])) for w in found if w[0] in "GM")
    letters = sorted({w[0] for w in found if w[0] not in "GM"})
    return tuple(f"{letter}{number}" for letter, number in codes), tuple(letters)


def program_number(value: float) -> str:
    """Return a number as a program has it: a point, no exponent, three decimals at most.

    Raises:
        ValueError: a fault in kdkit: it is not finite, or larger than anything that is made.
    """
    if not math.isfinite(value) or abs(value) > _FARTHEST:
        raise ValueError(f"{value} in a program")
    return mm_text(value, 3)
