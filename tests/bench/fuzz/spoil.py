"""Changes of a text or of bytes that know nothing of what they mean, and YAML's own traps."""

from __future__ import annotations

import random
import re

from tests.bench.fuzz import values

__all__ = ["crossed", "spoil_bytes", "spoil_yaml"]

_SCALAR = re.compile(r"(?<=: )[^\s,{}\[\]]+")


def spoil_yaml(text: str, rng: random.Random) -> str:
    """Return a YAML text with one of its marks, indents, quotes or anchors gone wrong."""
    lines = text.split("\n")
    at = rng.randrange(len(lines))
    line = lines[at]
    kind = rng.randrange(22)
    if kind == 0:
        lines[at] = " " * rng.randint(1, 3) + line
    elif kind == 1:
        lines[at] = line[1:] if line.startswith(" ") else line
    elif kind == 2:
        lines[at] = line.replace("  ", "\t", 1) if "  " in line else "\t" + line
    elif kind == 3:
        lines.insert(at, line)
    elif kind == 4:
        del lines[at]
    elif kind == 5:
        other = rng.randrange(len(lines))
        lines[at], lines[other] = lines[other], line
    elif kind == 6:
        mark = rng.choice("{}[]:,&*#?|<>!%@`\"'\\-")
        spot = rng.randint(0, len(line))
        lines[at] = line[:spot] + mark + line[spot:]
    elif kind == 7:
        marks = [n for n, c in enumerate(line) if c in "{}[]:,\"'-"]
        if marks:
            spot = rng.choice(marks)
            lines[at] = line[:spot] + line[spot + 1 :]
    elif kind == 8:
        lines[at] = _SCALAR.sub(lambda m: f"&a {m.group()}", line, count=1)
        lines.append(rng.choice(("revision: *a", "batch: *b", "pack: *a", "texts: {en: *a}")))
    elif kind == 9:
        tag = rng.choice(
            (
                "!!str",
                "!!int",
                "!!float",
                "!!python/object:os.system",
                "!x",
                "!!null",
                "!<tag:yaml.org,2002:map>",
                "!!binary",
                "!!set",
                "!!omap",
                "!",
            )
        )
        lines[at] = _SCALAR.sub(lambda m: f"{tag} {m.group()}", line, count=1)
    elif kind == 10:
        lines[at] = _SCALAR.sub(lambda m: repr(m.group()), line)
    elif kind == 11:
        return text[: rng.randint(0, len(text))]
    elif kind == 12:
        lines.insert(
            at,
            rng.choice(
                (
                    "---",
                    "...",
                    "%YAML 1.1",
                    "%TAG ! x",
                    "<<: *a",
                    "? x",
                    "- ",
                    "[a, b]: c",
                    "? {a: b}\n: c",
                    "1: 2",
                    "null: x",
                    "'': x",
                )
            ),
        )
    elif kind == 13:
        return rng.choice(("\ufeff", "", "\n\n", "# x\n", "--- \n")) + text.replace(
            "\n", rng.choice(("\r\n", "\r", "\u2028", "\x85", "\n\n"))
        )
    elif kind == 14:
        deep = rng.choice((5, 39, 41, 200, 5000))
        opens, closes = rng.choice((("[", "]"), ("{a: ", "}"), ("- ", ""), ("[", "")))
        if rng.random() < 0.5:
            lines.append("pack: " + opens * deep + closes * deep)
        else:
            lines[at] = line + opens * deep
    elif kind == 15:
        lines[at] = line + " # " + values.any_text(rng)
    elif kind == 16:
        lines[at] = _SCALAR.sub(lambda m: values.any_text(rng), line, count=1)
    elif kind == 17:
        lines[at] = _SCALAR.sub("|", line, count=1)
        lines.insert(at + 1, "      text")
    elif kind == 18:
        bomb = ["a: &a [x, x, x, x, x, x, x, x, x]"]
        bomb += [
            f"{b}: &{b} [{', '.join(['*' + a] * 9)}]"
            for a, b in zip("abcdef", "bcdefg", strict=True)
        ]
        lines += bomb[: rng.randint(1, 7)]
    elif kind == 19:
        spot = rng.randint(0, len(line))
        lines[at] = line[:spot] + values.any_text(rng) + line[spot:]
    elif kind == 20:
        lines[at : at + rng.randint(1, 6)] = []
    else:
        start = rng.randrange(len(lines))
        lines[at:at] = lines[start : start + rng.randint(1, 8)]
    return "\n".join(lines)


def crossed(one: str, other: str, rng: random.Random) -> str:
    """Return the head of one text with the tail of another."""
    first, second = one.split("\n"), other.split("\n")
    return "\n".join(first[: rng.randint(0, len(first))] + second[rng.randrange(len(second)) :])


def spoil_bytes(raw: bytes, rng: random.Random) -> bytes:
    """Return bytes with some flipped, cut out, repeated or put in."""
    found = bytearray(raw)
    for _ in range(rng.choice((1, 1, 2, 5, 20))):
        if not found:
            break
        at = rng.randrange(len(found))
        kind = rng.randrange(6)
        if kind == 0:
            found[at] ^= 1 << rng.randrange(8)
        elif kind == 1:
            found[at] = rng.randrange(256)
        elif kind == 2:
            del found[at : at + rng.choice((1, 4, 60, 1000))]
        elif kind == 3:
            found[at:at] = rng.randbytes(rng.choice((1, 2, 4)))
        elif kind == 4:
            start = rng.randrange(len(found))
            found[at:at] = found[start : start + rng.choice((1, 10, 200))]
        else:
            del found[at:]
    return bytes(found)
