"""Texts that try to get out of the place where they stand, and results that hold them.

The texts are put into the values that the writers take, past the checks of the
definition: a product made in Python, or a check that forgot a character, brings the same.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st
from pydantic import BaseModel

from kdkit.definition.gate import LONGEST_TITLE
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages

__all__ = ["ANY_TEXT", "HOSTILE", "NASTY", "hostile_messages", "with_text"]

NASTY = (
    "(", ")", "%", ";", "/", "#", "[", "]", "{", "}", "<", ">", "&", "'", '"', "\\", "^", "=", "*",
    "\n", "\r", "\r\n", "\t", "\0", "\x07", "\x1b[2J", "\x1b]0;x\x07", "\x7f", "\x85", "\x9b2J",
    "\u2028", "\u2029", "\u202e", "\u2066", "\u200b", "\u200f", "\ufeff", "\u00ad",
    "\ud800", "\udfff", "\ufffe", "\uffff", "\U0001fffe", "\ue000", "\U000f0000", "\u0378",
    "\uff08", "\uff09", "\ufe5a", "\u207d", "\u208e", "\uff27\uff11", "\uff3a\uff0d\uff15\uff10",
    "\uff1b", "\uff05", "\u2474", "\u0660\u0661", "\u096b", "\u2460", "\u00b2", "\ufb01", "\u212a",
    "e\u0301", "G\u0301", "\u0301", "\u1d43", "\uff1d", "\uff0b", "\uff0d", "\uff20",
    "G1 Z-50", "G0 X-999 Y-999", "M3", "M30", "MSG,", "N10", "G\u200b1", "G1\u0301",
    "\r\nG1 Z-50\r\n", ")G1 Z-50(", "\uff09G1 Z-50\uff08", "\uff09\uff27\uff11 \uff3a-50\uff08",
)  # fmt: skip
"""What some reader of some file takes for more than a letter."""

HOSTILE = {
    "brackets": "\uff09\uff27\uff11 \uff3a\uff0d\uff15\uff10\uff08 )G1 Z-50( %",
    "lines": "a\r\nG1 Z-50\r\n  0\nENDSEC\n\u2028b\x85c\x0bd",
    "markup": "</title></style></script><script>alert(1)</script>]]><!--<img src=x onerror=a()>",
    "quotes": "\"' onload='x' style=\"x\" `\\` \\\\X2\\\\ ');\n#1=CLOSED_SHELL('',());('",
    "codes": "%%c ^J ^M \\P \\U+0041 \\M+18140 {\\fx;a} %<\\AcVar x>%",
    "terminal": "\x1b[2J\x1b]0;x\x07 \x9b31m \u202ecipot\u202c \u2066x\u2069 \u200b\x7f\x08",
    "formula": "=1+1",
    "hidden formula": "\u200b\ufeff \u00a0\uff1d1+1",
    "nothing": "\ud800\udfff\ud83d \ufffe\uffff\U0010ffff \ue000\u0378\x00\x01",
    "braces": "{0} {x} {{% raw %}} {product.__class__}",
    "long": "x\u0301" * (LONGEST_TITLE // 2),
}
"""By what they are aimed at."""

ANY_TEXT = st.one_of(
    st.text(st.characters(exclude_categories=()), max_size=60),
    st.lists(
        st.one_of(st.sampled_from(NASTY), st.characters(exclude_categories=())), max_size=12
    ).map("".join),
)
"""Text of any script, lone surrogates and unassigned characters included."""

_FREE = {
    "Product": ("product", "revision", "batch", "date"),
    "Maker": ("name", "address", "contact"),
    "Texts": ("title", "introduction", "use", "care", "disposal", "spares"),
    "Parameter": ("title",),
    "Board": ("title",),
    "Panel": ("title",),
    "Bought": ("title",),
    "Unit": ("title",),
    "HandBore": ("purpose",),
    "Resolved": ("variant",),
    "ResolvedUnit": ("title",),
    "Part": ("title",),
    "CutLine": ("title", "board"),
    "BoughtLine": ("title",),
    "DrilledPanel": ("title",),
    "DrillLine": ("purpose",),
    "SlotLine": ("purpose",),
    "Bore": ("purpose",),
    "HardwareLine": ("title", "size"),
    "BoardMaterial": ("title",),
    "Item": ("title", "size", "material"),
    "Tool": ("title", "size"),
    "Fitting": ("title",),
    "Called": ("one", "many"),
    "Action": ("hint",),
    "Time": ("title",),
}
"""Fields that hold a text of somebody's, by class; no other place refers to them."""


def with_text(results: Results, text: str) -> Results:
    """Return results in which every free text is the given one."""
    swap = functools.partial(_swapped, text=text, done={})
    return replace(
        results,
        resolved=swap(results.resolved),
        catalogue=swap(results.catalogue),
        schedules=swap(results.schedules),
        joinery=swap(results.joinery),
        assembly=swap(results.assembly),
    )


def _swapped(value: Any, *, text: str, done: dict[int, tuple[Any, Any]]) -> Any:
    if id(value) in done:
        return done[id(value)][1]
    swap = functools.partial(_swapped, text=text, done=done)
    free = _FREE.get(type(value).__name__, ())
    made = value
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {f.name: getattr(value, f.name) for f in dataclasses.fields(value) if f.init}
        new = {n: text if n in free and v is not None else swap(v) for n, v in fields.items()}
        if any(new[n] is not v for n, v in fields.items()):
            made = replace(value, **new)
    elif isinstance(value, BaseModel):
        fields = {name: getattr(value, name) for name in type(value).model_fields}
        made = value.model_copy(
            update={n: text if n in free else swap(v) for n, v in fields.items()}
        )
    elif isinstance(value, Mapping):
        made = {key: swap(inner) for key, inner in value.items()}
    elif isinstance(value, tuple) and type(value) is tuple:
        new_items = tuple(swap(inner) for inner in value)
        if any(a is not b for a, b in zip(new_items, value, strict=True)):
            made = new_items
    done[id(value)] = (value, made)
    return made


def hostile_messages(messages: Messages, text: str) -> Messages:
    """Return a language whose every sentence has the text before and behind its own."""
    shut = text.replace("{", "{{").replace("}", "}}")
    return Messages(
        {
            key: messages.unfilled(key)
            if key.startswith("meta.")
            else f"{shut}{messages.unfilled(key)}{shut}"
            for key in messages.keys
        }
    )
