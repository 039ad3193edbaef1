"""Scalars of the YAML 1.2 core schema: text → number, truth value, nothing or text.

Source:
    YAML 1.2.2, section 10.3.2, "Tag Resolution" of the core schema: the regular
    expressions below are that table's.
"""

from __future__ import annotations

import math
import re

from kdkit.definition.gate import Refused, Unread, advise_number, check_number, shown

__all__ = ["CORE_TAGS", "Scalar", "read_number", "read_scalar"]

Scalar = None | bool | int | float | str

CORE_TAGS = frozenset(
    f"tag:yaml.org,2002:{name}" for name in ("null", "bool", "int", "float", "str", "seq", "map")
)
"""The only tags a definition may write; none of them builds anything but plain data."""

_NULL = re.compile(r"|~|null|Null|NULL")
_TRUE = re.compile(r"true|True|TRUE")
_FALSE = re.compile(r"false|False|FALSE")
_INT = re.compile(r"[-+]?[0-9]+")
_OCTAL = re.compile(r"0o[0-7]+")
_HEX = re.compile(r"0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_LONGEST_NUMBER = 40


def read_scalar(text: str, *, plain: bool, tag: str | None = None) -> Scalar:
    """Return the value of a scalar.

    Args:
        text: as YAML hands it over, quotes and folding already undone.
        plain: written without quotes, so that it may be a number.
        tag: a tag of ``CORE_TAGS`` that was written, or None.

    Returns:
        The value; ``Unread`` for a number that is infinite, none, or too long to be one.

    Raises:
        Refused: the text does not fit its tag.
    """
    if tag is not None:
        return _read_tagged(text, tag.rsplit(":", 1)[1])
    return _read_plain(text) if plain else text


def read_number(text: str) -> float:
    """Return the number that a text on the command line holds, by the same rules.

    Raises:
        Refused: it holds none.
    """
    value = _read_plain(text.strip()) if text.strip() else text
    if isinstance(value, str):
        raise Refused("wrong-type", f"{shown(text)} is no number", advise_number(text))
    return check_number(value)


def _read_tagged(text: str, name: str) -> Scalar:
    if name == "str":
        return text
    value = _read_plain(text)
    if name == "null" and value is None:
        return None
    if name == "bool" and isinstance(value, bool):
        return value
    if name == "int" and isinstance(value, int) and not isinstance(value, bool):
        return value
    if name == "float" and isinstance(value, int | float) and not isinstance(value, bool):
        return value if isinstance(value, Unread) else float(value)
    raise Refused("yaml-tag", f"the tag !!{name} does not fit {text[:40]!r}", "leave the tag out")


def _read_plain(text: str) -> Scalar:
    if _NULL.fullmatch(text):
        return None
    if _TRUE.fullmatch(text):
        return True
    if _FALSE.fullmatch(text):
        return False
    if _NOT_FINITE.fullmatch(text):
        return Unread(float(text.replace(".", "")), text)
    first = text[0]
    if first not in "+-.0123456789":
        return text
    if len(text) > _LONGEST_NUMBER:
        if _FLOAT.fullmatch(text) or _HEX.fullmatch(text) or _OCTAL.fullmatch(text):
            told = f"a number of {len(text)} characters"
            return Unread(math.inf, told, f"write at most {_LONGEST_NUMBER} characters")
        return text
    if _INT.fullmatch(text):
        return int(text)
    if _OCTAL.fullmatch(text):
        return int(text[2:], 8)
    if _HEX.fullmatch(text):
        return int(text[2:], 16)
    if _FLOAT.fullmatch(text):
        value = float(text)
        return value if math.isfinite(value) else Unread(value, text)
    return text
