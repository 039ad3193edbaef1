"""A drawing's file (DXF) opened: how much of it is read, what it was mended of, its unit
and its layers.

The file is judged by its bytes and by the number of its records before the library makes
anything of it, because the library's work grows faster than the number of blocks and layers.
"""

from __future__ import annotations

import io
import logging
import pathlib
from collections import Counter
from collections.abc import Sequence

from ezdxf import recover
from ezdxf.audit import AuditError, Auditor
from ezdxf.document import Drawing

from kdkit.diagnostics import Problem, Source, advice, error
from kdkit.imports.numbers import IN_MM

__all__ = ["choose_layers", "drawing_advice", "drawing_problem", "open_drawing", "read_scale"]

MAX_BYTES = 3_000_000
MAX_RECORDS = 20_000

_INSUNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 10: 914.4, 14: 100.0}
"""mm by the header's unit. Source: the DXF reference on $INSUNITS, from memory; inch, foot
and yard are exact by the international agreement of 1959."""

_OWN = ("face outline", "face opening")
"""Layers of the panels that `kdkit workshop` writes."""
_BINARY = b"AutoCAD Binary DXF"
_AGAIN = "open it in a drawing program and save it again as DXF"
_CHANGES_SHAPES = frozenset(
    {
        AuditError.REMOVED_INVALID_GRAPHIC_ENTITY,
        AuditError.UNDEFINED_BLOCK,
        AuditError.UNDEFINED_BLOCK_NAME,
        AuditError.INVALID_BLOCK_REFERENCE_CYCLE,
        AuditError.INVALID_FLOATING_POINT_VALUE,
        AuditError.INVALID_EXTRUSION_VECTOR,
        AuditError.INVALID_MAJOR_AXIS,
        AuditError.INVALID_VERTEX_COUNT,
        AuditError.INVALID_SPLINE_DEFINITION,
        AuditError.INVALID_SPLINE_CONTROL_POINT_COUNT,
        AuditError.INVALID_SPLINE_FIT_POINT_COUNT,
        AuditError.INVALID_SPLINE_KNOT_VALUE_COUNT,
        AuditError.INVALID_SPLINE_WEIGHT_COUNT,
        AuditError.INVALID_ELLIPSE_RATIO,
    }
)
"""What the library mends or drops that an outline may need; styles and colours are not."""

# The library tells every oddity in its log; what matters of it comes back as a problem.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def open_drawing(path: pathlib.Path) -> tuple[Drawing | None, list[Problem]]:
    """Return the drawing in a file and advice on what was mended; or None and the problem."""
    name = str(path)
    if path.exists() and not path.is_file():
        return None, [error("file-not-read", f"{name} is no ordinary file")]
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except OSError as fault:
        return None, [error("file-not-read", f"{name}: {fault.strerror or fault}")]
    code, message, help = _judge(raw)
    if code:
        return None, [drawing_problem(code, message, name, help)]
    try:
        drawing, auditor = recover.read(io.BytesIO(raw))
    except Exception as fault:  # whatever a damaged file leads the library to
        words = " ".join(str(fault).split())[:120] or type(fault).__name__
        message = f"the drawing is damaged: {words}"
        return None, [drawing_problem("drawing-not-read", message, name, _AGAIN)]
    return _audited(drawing, auditor, name)


def _judge(raw: bytes) -> tuple[str, str, str]:
    """Return code, message and help of why the bytes are not given to the library, or ""s."""
    if len(raw) > MAX_BYTES:
        message = f"the drawing is larger than {MAX_BYTES // 1000} kB"
        return "file-too-large", message, "keep the outline of one panel"
    if raw.startswith(_BINARY):
        help = "save it as DXF in text form"
        return "drawing-not-read", "the file is a DXF in binary form", help
    if b"\0" in raw or b"SECTION" not in raw[:2000]:
        help = "save it as DXF in text form"
        return "drawing-not-read", "the file is not a DXF in text form", help
    lines = raw.split(b"\n")
    if b"EOF" not in (line.strip() for line in lines[-20:]):
        return (
            "drawing-not-read",
            "the drawing ends in the middle: its last record is missing",
            (f"copy the file once more, or {_AGAIN}"),
        )
    # Every other line is a group code; 0 begins a record.
    records = sum(1 for line in lines[::2] if line.strip() == b"0")
    if records > MAX_RECORDS:
        message = f"the file has {records} records, at most {MAX_RECORDS} are read"
        return "drawing-not-read", message, "keep the outline of one panel, and purge the drawing"
    return "", "", ""


def _audited(drawing: Drawing, auditor: Auditor, name: str) -> tuple[Drawing | None, list[Problem]]:
    for entry in auditor.errors:
        words = " ".join(entry.message.split())[:120]
        help = _AGAIN
        if entry.code == AuditError.INVALID_BLOCK_REFERENCE_CYCLE:
            words, help = "a block holds itself", "correct the blocks, or explode them"
        message = f"the drawing is damaged: {words}"
        return None, [drawing_problem("drawing-not-read", message, name, help)]
    mended = Counter(
        " ".join(entry.message.split())[:120]
        for entry in auditor.fixes
        if entry.code in _CHANGES_SHAPES
    )
    told = [
        drawing_advice(f"something damaged was mended or left out: {words}", name, _AGAIN)
        for words in list(mended)[:20]
    ]
    if len(mended) > 20:
        message = f"{len(mended) - 20} more damaged things were mended or left out"
        told.append(drawing_advice(message, name, _AGAIN))
    return drawing, told


def read_scale(
    drawing: Drawing, unit: str | None, name: str, problems: list[Problem]
) -> float | None:
    """Return mm for one unit of the drawing; None, and a problem more, if nothing says it."""
    if unit is not None:
        return IN_MM[unit]
    code = drawing.header.get("$INSUNITS", 0)
    if code in _INSUNITS:
        return _INSUNITS[code]
    said = str(code)[:20]
    message = "the drawing does not say its unit" if not code else f"the drawing's unit is {said}"
    help = "say --unit mm, --unit cm or --unit in"
    problems.append(drawing_problem("drawing-unit", message, name, help))
    return None


def choose_layers(
    drawing: Drawing, asked: Sequence[str], name: str, problems: list[Problem]
) -> tuple[frozenset[str] | None, tuple[str, ...]]:
    """Return the layers to read, None for all that are shown; and which are skipped."""
    there = {layer.dxf.name.casefold(): layer.dxf.name for layer in drawing.layers}
    there |= {e.dxf.layer.casefold(): e.dxf.layer for e in drawing.modelspace()}
    for layer in asked:
        if layer.casefold() not in there:
            listed = ", ".join(sorted(there.values())[:12])
            message = f"the drawing has no layer {layer[:60]!r}"
            problems.append(drawing_problem("drawing-not-read", message, name, f"layers: {listed}"))
    if asked:
        return frozenset(layer.casefold() for layer in asked), ()
    if _OWN[0] in there:
        used = {e.dxf.layer for e in drawing.modelspace()}
        return frozenset(_OWN), tuple(sorted(x for x in used if x.casefold() not in _OWN))
    return None, ()


def drawing_problem(code: str, message: str, file: str, help: str, where: str = "") -> Problem:
    """Return an error in a drawing; ``where`` is in the drawing's own words."""
    source = Source(file=file, line=1, column=1, end_column=2)
    return Problem(code=code, message=message, help=help, where=where, source=source)


def drawing_advice(message: str, file: str, help: str) -> Problem:
    """Return what was passed over."""
    told = advice("drawing-entity", message, help=help)
    source = Source(file=file, line=1, column=1, end_column=2)
    return Problem(
        code=told.code, message=message, severity=told.severity, help=help, source=source
    )
