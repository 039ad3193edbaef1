"""Other people's files, spoilt: panel lists (CSV, XLSX), drawings (DXF), certificates (JSON)."""

from __future__ import annotations

import csv
import io
import json
import random
import tomllib
import zipfile
from functools import lru_cache
from typing import Any

from openpyxl import Workbook

from tests.bench.fuzz import values
from tests.bench.fuzz.corpus import ROOT
from tests.bench.fuzz.spoil import spoil_bytes
from tests.bench.fuzz.trees import Pairs, Raw, emit, places, to_tree

__all__ = ["a_certificate", "a_drawing", "a_panel_list"]

Rows = list[list[str]]
_MOMENT = (2026, 1, 1, 0, 0, 0)


@lru_cache(maxsize=1)
def _headings() -> dict[str, list[str]]:
    words = tomllib.loads((ROOT / "kdkit/imports/words.toml").read_text(encoding="utf-8"))
    return {**words["headings"], **words["bands"]}


@lru_cache(maxsize=1)
def _example() -> tuple[tuple[str, ...], ...]:
    text = (ROOT / "examples/panels.csv").read_text(encoding="utf-8")
    return tuple(tuple(row) for row in csv.reader(io.StringIO(text), delimiter=";"))


def a_panel_list(rng: random.Random) -> tuple[str, bytes]:
    """Return a file name and a panel list, more or less spoilt."""
    rows = [list(row) for row in _example()] if rng.random() < 0.5 else _made_up(rng)
    for _ in range(rng.choice((0, 1, 1, 2, 4, 9))):
        _spoil_rows(rows, rng)
    if rng.random() < 0.3:
        return "list.xlsx", _workbook(rows, rng)
    return "list.csv", _csv(rows, rng)


def a_table(rows: Rows, rng: random.Random) -> bytes:
    """Return rows as CSV or as a workbook; most of them, the first three whole, as they are."""
    if rng.random() < 0.6:
        return "\n".join(",".join(row[:2]) for row in rows[:3]).encode()
    for _ in range(rng.choice((0, 1, 2))):
        _spoil_rows(rows, rng)
    return _workbook(rows, rng) if rng.random() < 0.3 else _csv(rows, rng)


def _made_up(rng: random.Random) -> Rows:
    known = _headings()
    kinds = rng.sample(sorted(known), rng.randint(2, 12))
    kinds = list(dict.fromkeys(["name", "length", "width", "thickness", *kinds]))
    if rng.random() < 0.3:
        kinds = rng.sample(kinds, len(kinds))
    rows = [[_heading(rng, kind, known) for kind in kinds]]
    names = ["Left side", "Right side", "Top", "Bottom", "Shelf", "Back", "Drawer front", "Seite"]
    for n in range(rng.choice((0, 1, 3, 6, 12))):
        rows.append([_cell(rng, kind, names[n % len(names)]) for kind in kinds])
    return rows


def _heading(rng: random.Random, kind: str, known: dict[str, list[str]]) -> str:
    word = rng.choice(known[kind])
    return rng.choice(
        (word, word.title(), word.upper(), f"{word} (mm)", f"{word} [cm]", f"{word}.")
    )


def _cell(rng: random.Random, kind: str, name: str) -> str:
    if rng.random() < 0.04:
        return _odd(rng)
    if kind == "name":
        return name
    if kind in ("length", "width", "height", "depth"):
        length = rng.randint(50, 2000)
        return rng.choice(
            (str(length), f"{length}.5", f"{length},5", f"{length} mm", f"{length / 10}")
        )
    if kind == "thickness":
        return rng.choice(("18", "18.0", "18,0", "3", "19 mm", "¾", '3/4"'))
    if kind == "size":
        return rng.choice(("600 x 300", "600×300×18", "600 * 300", "600x300 mm"))
    if kind == "quantity":
        return rng.choice(("1", "2", "2x", "2 pcs", "4", "0", "-1", "1.5", ""))
    if kind == "board":
        return rng.choice(("Particleboard 18", "MDF", "Oak", "plywood-birch", "hardboard", ""))
    return rng.choice(("x", "", "1", "0.8", "yes", "no", "2L", "all", "long", "ABS 1 mm", "-"))


def _odd(rng: random.Random) -> str:
    if rng.random() < 0.5:
        return values.any_text(rng)
    return str(values.number(rng))


def _spoil_rows(rows: Rows, rng: random.Random) -> None:
    kind = rng.randrange(11)
    if not rows or kind == 0:
        rows.insert(0, [_odd(rng) for _ in range(rng.randint(0, 5))])
        return
    row = rng.choice(rows)
    at = rng.randrange(len(row)) if row else 0
    if kind in (1, 2, 3) and row:
        row[at] = _odd(rng)
    elif kind == 4:
        row.insert(at, _odd(rng))
    elif kind == 5 and row:
        del row[at]
    elif kind == 6:
        rows.remove(row)
    elif kind == 7:
        rows.extend([list(row) for _ in range(rng.choice((1, 2, 50, 700)))])
    elif kind == 8:
        rng.shuffle(rows)
    elif kind == 9:
        rng.shuffle(row)
    else:
        row.extend([_odd(rng)] * rng.choice((1, 3, 300)))


def _csv(rows: Rows, rng: random.Random) -> bytes:
    out = io.StringIO()
    quoting = rng.choice((csv.QUOTE_MINIMAL, csv.QUOTE_MINIMAL, csv.QUOTE_ALL))
    ends = rng.choice(("\n", "\n", "\r\n", "\r"))
    writer = csv.writer(out, delimiter=rng.choice(",,;\t|"), quoting=quoting, lineterminator=ends)
    writer.writerows(rows)
    text = rng.choice(("", "", "", "\ufeff", "sep=;\n", "Some list\n\n")) + out.getvalue()
    code = rng.choice(("utf-8",) * 6 + ("utf-16", "latin-1", "cp1252", "utf-32"))
    raw = text.encode(code, "surrogatepass" if code.startswith("utf") else "replace")
    return spoil_bytes(raw, rng) if rng.random() < 0.25 else raw


def _workbook(rows: Rows, rng: random.Random) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows[:900]:
        sheet.append([_excel(text, rng) for text in row])
    if rng.random() < 0.2:
        book.create_sheet("Second").append(["name", "length", "width"])
    out = io.BytesIO()
    book.save(out)
    parts = {}
    with zipfile.ZipFile(out) as package:
        for name in package.namelist():
            parts[name] = package.read(name)
    if rng.random() < 0.6:
        _spoil_parts(parts, rng)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, raw in parts.items():
            if name.startswith("docProps/core"):
                raw = b'<?xml version="1.0"?><cp:coreProperties xmlns:cp="http://schemas.openxmlformats.org/package/2006/metadata/core-properties"/>'
            package.writestr(zipfile.ZipInfo(name, _MOMENT), raw)
    raw = out.getvalue()
    return spoil_bytes(raw, rng) if rng.random() < 0.2 else raw


def _excel(text: str, rng: random.Random) -> Any:
    clean = "".join(c for c in text if c >= " " and not "\ud800" <= c <= "\udfff" and c < "\ufffe")
    clean = clean[:3000]
    if rng.random() < 0.6:
        try:
            number = float(clean)
        except ValueError:
            return clean
        return number if abs(number) < 1e300 else clean
    return clean


def _spoil_parts(parts: dict[str, bytes], rng: random.Random) -> None:
    name = rng.choice(sorted(parts))
    kind = rng.randrange(9)
    if kind == 0:
        del parts[name]
    elif kind == 1:
        other = rng.choice(sorted(parts))
        parts[name], parts[other] = parts[other], parts[name]
    elif kind == 2:
        parts[name] = spoil_bytes(parts[name], rng)
    elif kind == 3:
        parts[name] = b""
    elif kind == 4:
        entity = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>'
        parts[name] = parts[name].replace(b"?>", b"?>" + entity, 1)
    elif kind == 5:
        parts["xl/worksheets/sheet1.xml"] = _spoil_numbers(
            parts.get("xl/worksheets/sheet1.xml", b""), rng
        )
    elif kind == 6:
        parts["../" + name] = parts[name]
    elif kind == 7:
        parts[name] = parts[name] + b" " * 30_000_000 if rng.random() < 0.1 else parts[name] * 2
    else:
        words = [b'r="', b't="s"', b"<v>", b's="', b"sheetId", b"count=", b"rId1", b"<row"]
        word = rng.choice(words)
        parts[name] = parts[name].replace(word, rng.choice([b"", word + b"9", b'r="ZZZ99999999']))


def _spoil_numbers(raw: bytes, rng: random.Random) -> bytes:
    pieces = raw.split(b"<v>")
    if len(pieces) > 1:
        at = rng.randrange(1, len(pieces))
        _, _, rest = pieces[at].partition(b"</v>")
        pieces[at] = str(values.number(rng)).encode() + b"</v>" + rest
    return b"<v>".join(pieces)


# -- drawings -------------------------------------------------------------------------------


def a_drawing(rng: random.Random) -> tuple[str, bytes]:
    """Return a file name and a drawing of one outline, more or less spoilt."""
    pairs = _header(rng) + _entities(rng)
    pairs += [["0", "ENDSEC"], ["0", "EOF"]]
    for _ in range(rng.choice((0, 0, 1, 1, 1, 2, 4))):
        _spoil_pairs(pairs, rng)
    ends = rng.choice(("\n", "\n", "\r\n"))
    text = "".join(f"{code}{ends}{value}{ends}" for code, value in pairs)
    raw = text.encode(rng.choice(("utf-8",) * 12 + ("cp1252", "utf-16")), "replace")
    return "drawing.dxf", spoil_bytes(raw, rng) if rng.random() < 0.1 else raw


def _header(rng: random.Random) -> list[list[str]]:
    version = rng.choice(("AC1009", "AC1015", "AC1021", "AC1027", "AC1032"))
    pairs = [["0", "SECTION"], ["2", "HEADER"], ["9", "$ACADVER"], ["1", version]]
    if rng.random() < 0.85:
        pairs += [
            ["9", "$INSUNITS"],
            ["70", str(rng.choice((4, 4, 4, 4, 4, 4, 4, 1, 5, 6, 0, 99, -1)))],
        ]
    pairs += [["0", "ENDSEC"]]
    if rng.random() < 0.4:
        inner = [["0", "LINE"], ["8", "0"], ["10", "0"], ["20", "0"], ["11", "9"], ["21", "0"]]
        inner = (
            [["0", "INSERT"], ["8", "0"], ["2", "B"], ["10", "0"], ["20", "0"]]
            if rng.random() < 0.1
            else inner
        )
        pairs += [
            ["0", "SECTION"],
            ["2", "BLOCKS"],
            ["0", "BLOCK"],
            ["8", "0"],
            ["2", "B"],
            ["70", "0"],
            ["10", "0"],
            ["20", "0"],
            *inner,
            ["0", "ENDBLK"],
            ["0", "ENDSEC"],
        ]
    return [*pairs, ["0", "SECTION"], ["2", "ENTITIES"]]


def _entities(rng: random.Random) -> list[list[str]]:
    w, h = rng.choice(((600, 300), (60.5, 30), (1, 1), (24, 12), (2000, 900)))
    corners = [(0, 0), (w, 0), (w, h), (0, h)]
    kind = rng.randrange(5)
    found: list[list[str]] = []
    if kind == 0:
        for (x, y), (u, v) in zip(corners, corners[1:] + corners[:1], strict=True):
            found += _entity("LINE", rng, (10, x), (20, y), (11, u), (21, v))
    elif kind == 1:
        found += _entity("LWPOLYLINE", rng, (90, 4), (70, rng.choice((1, 0, 129))))
        for x, y in corners:
            found += [["10", str(x)], ["20", str(y)]]
            if rng.random() < 0.3:
                found.append(["42", str(rng.choice((0.1, 1, -1, 1e9, -0.5, 0.0001)))])
    elif kind == 2:
        found += _entity("POLYLINE", rng, (66, 1), (70, 1))
        for x, y in corners:
            found += _entity("VERTEX", rng, (10, x), (20, y))
        found.append(["0", "SEQEND"])
    elif kind == 3:
        r = h / 2
        found += _entity("LINE", rng, (10, 0), (20, 0), (11, w), (21, 0))
        found += _entity("ARC", rng, (10, w), (20, r), (40, r), (50, 270), (51, 90))
        found += _entity("LINE", rng, (10, w), (20, h), (11, 0), (21, h))
        found += _entity("ARC", rng, (10, 0), (20, r), (40, r), (50, 90), (51, 270))
    else:
        found += _entity("SPLINE", rng, (70, 1), (71, 3), (72, 8), (73, 4))
        found += [["40", str(k)] for k in (0, 0, 0, 0, 1, 1, 1, 1)]
        for x, y in (*corners[:3], (0, 0)):
            found += [["10", str(x)], ["20", str(y)]]
    for _ in range(rng.choice((0, 0, 1, 3))):
        x, y = round(rng.uniform(0, w), 2), round(rng.uniform(0, h), 2)
        found += rng.choice(
            (
                _entity("CIRCLE", rng, (10, x), (20, y), (40, rng.choice((2.5, 5, 0, -3, 1e9)))),
                _entity(
                    "ELLIPSE",
                    rng,
                    (10, x),
                    (20, y),
                    (11, 10),
                    (21, 0),
                    (40, 0.5),
                    (41, 0),
                    (42, 6.2832),
                ),
                _entity(
                    "INSERT", rng, (2, "B"), (10, x), (20, y), (41, rng.choice((1, -1, 0, 1e6)))
                ),
                _entity(
                    "TEXT",
                    rng,
                    (10, x),
                    (20, y),
                    (40, 5),
                    (1, values.any_text(rng).replace("\n", " ")),
                ),
                _entity("HATCH", rng, (91, 0), (10, x), (20, y)),
                _entity("POINT", rng, (10, x), (20, y)),
            )
        )
    return found


_SUBCLASS = {
    "LWPOLYLINE": "AcDbPolyline",
    "SPLINE": "AcDbSpline",
    "ELLIPSE": "AcDbEllipse",
    "HATCH": "AcDbHatch",
}
"""What the library asks of the newer entities."""


def _entity(kind: str, rng: random.Random, *pairs: tuple[int, Any]) -> list[list[str]]:
    layer = "0" if rng.random() < 0.97 else rng.choice(("CUT", "HOLES", "face outline"))
    marks = [["100", "AcDbEntity"], ["100", _SUBCLASS[kind]]] if kind in _SUBCLASS else []
    return [["0", kind], ["8", layer], *marks, *[[str(code), str(value)] for code, value in pairs]]


def _spoil_pairs(pairs: list[list[str]], rng: random.Random) -> None:
    at = rng.randrange(len(pairs))
    kind = rng.randrange(8)
    if kind in (0, 1, 2):
        pairs[at][1] = rng.choice((str(values.number(rng)), values.any_text(rng), "LINE", "EOF"))
    elif kind == 3:
        pairs[at][0] = rng.choice(
            ("0", "10", "42", "70", "230", "210", "1000", "-5", "x", "999", "5")
        )
    elif kind == 4:
        del pairs[at]
    elif kind == 5:
        pairs.insert(at, list(rng.choice(pairs)))
    elif kind == 6:
        other = rng.randrange(len(pairs))
        pairs[at], pairs[other] = pairs[other], pairs[at]
    else:
        pairs[at : at + rng.choice((2, 6, 20))] = []


# -- certificates ---------------------------------------------------------------------------


def a_certificate(raw: bytes, rng: random.Random) -> bytes:
    """Return a certificate, more or less spoilt, in its tree or in its bytes."""
    if rng.random() < 0.15:
        return spoil_bytes(raw, rng)
    tree = to_tree(json.loads(raw))
    for _ in range(rng.choice((0, 1, 1, 2, 4))):
        found = list(places(tree))
        holder, index, _ = rng.choice(found)
        kind = rng.randrange(5)
        if kind == 0:
            other = rng.choice(found)
            holder[index], other[0][other[1]] = other[0][other[1]], holder[index]
        elif kind == 1:
            holder[index] = values.other_kind(rng)
        elif kind == 2:
            holder[index] = rng.choice(("left", "rear", "floor", "nobody", [], 1e400, "impossible"))
        elif isinstance(holder[index], list) and holder[index]:
            inner = holder[index]
            at = rng.randrange(len(inner))
            inner[at : at + 1] = [] if kind == 3 else [inner[at], inner[at]]
        else:
            holder[index] = rng.choice((values.number(rng), Raw("Infinity"), Raw("-NaN")))
        if len(found) > 20_000:
            break
    text = emit(tree)
    return (
        _as_json(tree).encode("utf-8", "surrogatepass")
        if rng.random() < 0.9
        else text.encode("utf-8", "surrogatepass")
    )


def _as_json(tree: Any) -> str:
    if isinstance(tree, Raw):
        return str(tree)
    if isinstance(tree, Pairs):
        return "{" + ", ".join(f"{json.dumps(str(k))}: {_as_json(v)}" for k, v in tree) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(_as_json(v) for v in tree) + "]"
    return json.dumps(tree)
