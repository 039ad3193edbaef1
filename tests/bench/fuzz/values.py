"""Values that definitions are spoilt with: numbers, texts, formulas, words."""

from __future__ import annotations

import random
from typing import Any

from tests.bench.fuzz.trees import Pairs, Raw, to_tree

__all__ = ["any_text", "formula", "near", "number", "other_kind"]

_NUMBERS: tuple[Any, ...] = (
    0, Raw("-0.0"), 0.0, 1, -1, 2, 0.1, 0.5, 1e-9, -1e-9, 1e-6, 1e-300, 5e-324, 3, 18, 19, 32,
    90, 180, 360, 44.999, 89.999, 500, 501, 2000, 5000, 99_999, 1e5, 1e6, 1e9, 1e12, 1e15, 2**53,
    2**63, 2**64, 1e100, 1.7976931348623157e308, Raw("1e309"), Raw("-1e309"), Raw(".nan"),
    Raw(".inf"), Raw("-.inf"), Raw("nan"), Raw("NaN"), Raw("inf"), Raw("9" * 400),
    Raw("-" + "9" * 400), Raw("0." + "0" * 399 + "1"), Raw("1" + "0" * 4400), Raw("0x1F"),
    Raw("0o17"), Raw("017"), Raw("1_000"), Raw("1:30"), Raw("+5"), Raw(".5"), Raw("5."),
    Raw("1e3"), Raw("1,5"), Raw("１８"), Raw("٣"), "18", "18 mm", "1/2", "through",
)  # fmt: skip

_TEXTS: tuple[str, ...] = (
    "", " ", "x", "'", '"', "\\", "/", "../../etc/passwd", "/dev/zero", "%s%d%n", "{0}", "{name}",
    "{{ 7*7 }}", "<b>&amp;</b>", "]]>", "--", "<!--", "(unbalanced", "%", "O1000 (M30)", ";M3",
    "=1+1", "@sum", "+cmd", "-1", "null", "true", "~", "NaN", "a" * 300, "W" * 5000,
    "long word " * 400, "zero\u200bwidth", "soft\u00adhyphen", "no\u00a0break", "a\nb", "a\r\nb",
    "a\tb", "bell\x07", "nul\x00", "esc\x1b[31mred\x1b[0m", "del\x7f", "nel\x85",
    "ls\u2028ps\u2029",
    "\ufeffbom", "\u202eright to left", "\u2066isolate\u2069", "\ud800", "\udfff low", "\uffff",
    "e\u0301\u0301\u0301\u0301" * 20, "Z\u0334\u0335\u0336\u0337\u0338algo", "größe", "Ωμέγα",
    "дверь", "דלת", "باب خشبي", "दरवाज़ा", "ประตู", "扉", "문", "門板", "🚪", "👩‍👩‍👧‍👦", "𝔉𝔯𝔞𝔨𝔱𝔲𝔯",
    "ﷺ", "½ Ø → × −", "İi ıI ß ẞ ﬁ", "A" + "\u0300" * 500, "$(touch x)", "`id`", "a;b,c\"d",
    "[link](javascript:alert(1))", "![x](x.png)", "# head\n\n> " * 30, "* " * 40 + "x", "- " * 200,
    "```\ncode", "| a | b |\n|--|--|\n| 1 | 2 |", "<script>alert(1)</script>", "http://x",
    "[a](https://x.example/" + "y" * 3000 + ")", "&#x41;&#0;&#xD800;", "**" * 500, "_" * 999,
    "[" * 200, "[](" * 100, "1. " * 100, "? how wide",
    "con", "nul", ".", "..", ".hidden", "a/b", "a\\b",
)  # fmt: skip

_ALPHABETS = (
    "abcdefghijklmnopqrstuvwxyz0123456789_.- ",
    "+-*/(),. 0123456789abxyz",
    "{}[]:,&*#?|<>=!%@`\"'\\ -\n\t",
    "äöüßéèçñøåÆ×½−–„“",
    "ЖшыАбвѐ",
    "אבגדابتث",
    "日本語中文한국어",
    "\u200b\u200d\u200e\u202a\u202c\u2060\ufe0f\u0301",
    "".join(chr(n) for n in range(32)) + "\x7f\x80\x9f",
)


def number(rng: random.Random) -> Any:
    """Return a number, or what looks like one."""
    pick = rng.random()
    if pick < 0.5:
        return rng.choice(_NUMBERS)
    if pick < 0.7:
        return rng.randint(-400, 800)
    if pick < 0.9:
        return round(rng.uniform(-400, 800), rng.randint(0, 12))
    return rng.choice((-1, 1)) * 10 ** rng.uniform(-12, 12)


def near(rng: random.Random, value: float) -> Any:
    """Return a number that was perturbed, from a hair to its double."""
    hair = rng.choice((1e-12, 1e-9, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.1, 0.5, 1, 2, 6, 18))
    changed: list[Any] = [
        value + hair, value - hair, value + hair, value - hair, -value, value * 2, value / 2,
        value * 10, value + rng.randint(-40, 40), round(value * rng.uniform(0, 3), 3), float(value),
        str(value), f"{value} + {hair!r}", f"{value} - {hair!r}",
    ]  # fmt: skip
    return rng.choice(changed)


def any_text(rng: random.Random) -> str:
    """Return a text of any script, in any length."""
    if rng.random() < 0.6:
        return rng.choice(_TEXTS)
    alphabet = rng.choice(_ALPHABETS)
    return "".join(rng.choice(alphabet) for _ in range(rng.choice((1, 2, 5, 12, 40, 200))))


def formula(rng: random.Random, names: list[str], depth: int = 0) -> str:
    """Return a formula of the grammar over some names; now and then not quite of it."""
    pick = rng.random()
    if depth > 4 or pick < 0.35:
        if names and rng.random() < 0.6:
            name = rng.choice(names)
            return name if rng.random() < 0.93 else name + rng.choice(("x", ".x0", ".", "_", " 1"))
        return str(rng.choice((0, 1, 2, 3, 9, 18, 32, 37, 0.5, "1e9", "1e-9", ".5", "5.", "1e400")))
    inner = [formula(rng, names, depth + 1) for _ in range(2)]
    if pick < 0.75:
        return f"{inner[0]} {rng.choice('+-*/+-')} {inner[1]}"
    if pick < 0.82:
        return f"({inner[0]})" if rng.random() < 0.95 else f"({inner[0]}"
    if pick < 0.87:
        return f"-{inner[0]}"
    called = rng.choice(("min", "max", "round_to", "floor", "ceil", "abs", "on_grid", "sqrt"))
    one = called in ("floor", "ceil", "abs")
    values = inner[:1] if one is (rng.random() < 0.95) else inner
    return f"{called}({', '.join(values)})"


def other_kind(rng: random.Random) -> Any:
    """Return a value of some kind that is probably not the right one."""
    return rng.choice(
        (
            lambda: None,
            lambda: rng.random() < 0.5,
            lambda: number(rng),
            lambda: any_text(rng),
            lambda: [],
            lambda: Pairs(),
            lambda: [number(rng) for _ in range(rng.randint(1, 5))],
            lambda: to_tree({any_text(rng)[:20]: number(rng)}),
            lambda: [[], [[]]],
            lambda: [any_text(rng), None],
            lambda: rng.choice(
                ("face", "back", "front", "left", "right", "top", "bottom", "all", "through",
                 "+x", "-x", "+y", "-y", "+z", "-z", "x", "y", "z", "none", "full", "required")
            ),
        )
    )()  # fmt: skip
