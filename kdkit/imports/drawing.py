"""A panel's shape from a drawing (DXF): one closed outline, what lies inside as openings.

Lines and arcs are joined where their ends meet; arcs, circles as outlines, ellipses and
splines become polygons whose corners lie on the curve and whose sides leave it by no more
than a tolerance. Blocks are opened. What has no part in an outline is told, never dropped
in silence.
"""

from __future__ import annotations

import io
import math
import pathlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.insert import Insert
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline

from kdkit.diagnostics import Problem, Source, advice, error
from kdkit.frames import Vec2
from kdkit.imports.numbers import IN_MM
from kdkit.imports.shapes import Curve, Shape, find_shape

__all__ = ["FINEST", "Drawn", "load_outline"]

MAX_BYTES = 3_000_000
MAX_ENTITIES = 5000
MAX_POINTS = 50_000
MAX_DEPTH = 8
FINEST = 0.01
"""mm, the least tolerance that may be asked for."""

_INSUNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 10: 914.4, 14: 100.0}
"""mm by the header's unit. Source: the DXF reference on $INSUNITS, from memory; inch, foot
and yard are exact by the international agreement of 1959."""

_OWN = ("face outline", "face opening")
"""Layers of the panels that `kdkit workshop` writes."""
_FLAT = 0.01


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """A shape from a drawing; ``layers`` are those that it was taken from."""

    file: str
    shape: Shape
    layers: tuple[str, ...]


class _TooMuch(Exception):  # noqa: N818 - ends the reading, never leaves this module
    """The drawing holds more than is read."""


def load_outline(
    path: pathlib.Path,
    *,
    layers: Sequence[str] = (),
    unit: str | None = None,
    tolerance: float = 0.1,
) -> tuple[Drawn | None, tuple[Problem, ...]]:
    """Read the one outline of a drawing and the openings in it.

    Args:
        path: a DXF file as text.
        layers: the only ones to look at; none: all that are shown, or the face's own in a
            file that kdkit wrote.
        unit: a key of ``IN_MM``; None: what the header says.
        tolerance: mm, how far a side of the polygon may be from its arc.

    Returns:
        The shape in mm, where the drawing has it, and advice; or None and the problems.
    """
    name = str(path)
    drawing, problem = _open(path, name)
    if drawing is None:
        return None, (problem,) if problem is not None else ()
    problems: list[Problem] = []
    scale = _scale(drawing, unit, name, problems)
    taken, skipped = _layers(drawing, layers, name, problems)
    if scale is None or any(not p.code.startswith("drawing-entity") for p in problems):
        return None, tuple(problems)
    reading = _Reading(drawing, name, scale, tolerance, taken)
    try:
        curves = reading.read()
    except _TooMuch as fault:
        return None, (_at("drawing-not-read", str(fault), name, "delete what is no outline"),)
    except Exception as fault:  # whatever a damaged entity leads the library to
        words = " ".join(str(fault).split())[:120] or type(fault).__name__
        return None, (_at("drawing-not-read", f"the drawing is damaged: {words}", name, ""),)
    problems += reading.problems
    shape, faults = find_shape(curves)
    problems += [
        _at("drawing-outline", fault.message, name, fault.help, fault.where) for fault in faults
    ]
    if shape is None or any(p.code != "drawing-entity" for p in problems):
        return None, tuple(problems)
    if skipped:
        listed = ", ".join(repr(layer[:40]) for layer in skipped[:12])
        message = f"only the layers of the face were read, not {listed}"
        problems.append(_advice(message, name, "name others with --layer"))
    return Drawn(file=name, shape=shape, layers=tuple(sorted(reading.used))), tuple(problems)


def _open(path: pathlib.Path, name: str) -> tuple[Drawing | None, Problem | None]:
    if path.exists() and not path.is_file():
        return None, error("file-not-read", f"{name} is no ordinary file")
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except OSError as fault:
        return None, error("file-not-read", f"{name}: {fault.strerror or fault}")
    if len(raw) > MAX_BYTES:
        message = f"the drawing is larger than {MAX_BYTES // 1000} kB"
        return None, _at("file-too-large", message, name, "keep the outline of one panel")
    if b"\0" in raw or b"SECTION" not in raw[:2000]:
        help = "save it as DXF in text form"
        return None, _at("drawing-not-read", "the file is not a DXF in text form", name, help)
    try:
        drawing, auditor = recover.read(io.BytesIO(raw))
    except Exception as fault:  # whatever a damaged file leads the library to
        words = " ".join(str(fault).split())[:120] or type(fault).__name__
        help = "open it in a drawing program and save it again as DXF"
        return None, _at("drawing-not-read", f"the drawing is damaged: {words}", name, help)
    if auditor.has_errors:
        words = " ".join(auditor.errors[0].message.split())[:120]
        return None, _at("drawing-not-read", f"the drawing is damaged: {words}", name, "")
    return drawing, None


def _scale(drawing: Drawing, unit: str | None, name: str, problems: list[Problem]) -> float | None:
    """Return mm for one unit of the drawing."""
    if unit is not None:
        return IN_MM[unit]
    code = drawing.header.get("$INSUNITS", 0)
    if code in _INSUNITS:
        return _INSUNITS[code]
    message = "the drawing does not say its unit" if not code else f"the drawing's unit is {code}"
    help = "say --unit mm, --unit cm or --unit in"
    problems.append(_at("drawing-unit", message, name, help))
    return None


def _layers(
    drawing: Drawing, asked: Sequence[str], name: str, problems: list[Problem]
) -> tuple[frozenset[str] | None, tuple[str, ...]]:
    """Return the layers to read, None for all that are shown; and which are skipped."""
    there = {layer.dxf.name.casefold(): layer.dxf.name for layer in drawing.layers}
    there |= {e.dxf.layer.casefold(): e.dxf.layer for e in drawing.modelspace()}
    for layer in asked:
        if layer.casefold() not in there:
            listed = ", ".join(sorted(there.values())[:12])
            message = f"the drawing has no layer {layer[:60]!r}"
            problems.append(_at("drawing-not-read", message, name, f"layers: {listed}"))
    if asked:
        return frozenset(layer.casefold() for layer in asked), ()
    if _OWN[0] in there:
        used = {e.dxf.layer for e in drawing.modelspace()}
        return frozenset(_OWN), tuple(sorted(x for x in used if x.casefold() not in _OWN))
    return None, ()


class _Reading:
    """Turns the entities of one drawing into curves; one instance a drawing."""

    def __init__(
        self,
        drawing: Drawing,
        name: str,
        scale: float,
        tolerance: float,
        layers: frozenset[str] | None,
    ) -> None:
        self.drawing = drawing
        self.name = name
        self.scale = scale
        self.tolerance = tolerance / scale
        self.layers = layers
        self.problems: list[Problem] = []
        self.used: set[str] = set()
        self.left = MAX_ENTITIES
        self.points_left = MAX_POINTS

    def read(self) -> list[Curve]:
        curves: list[Curve] = []
        others: Counter[tuple[str, str]] = Counter()
        hidden: Counter[str] = Counter()
        for entity, layer, handle in self._entities(self.drawing.modelspace(), "", "", 0):
            if self.layers is not None and layer.casefold() not in self.layers:
                continue
            if self.layers is None and self._is_hidden(layer):
                hidden[layer] += 1
                continue
            curve = self._curve(entity, layer, handle)
            if curve is None:
                others[entity.dxftype(), layer] += 1
            else:
                self.used.add(layer)
                curves.append(curve)
        for (kind, layer), count in sorted(others.items()):
            message = f"{count} × {kind} on the layer {layer[:60]!r} has no part in an outline"
            self.problems.append(_advice(message, self.name, "it was left out"))
        for layer, count in sorted(hidden.items()):
            message = f"{count} things on the hidden layer {layer[:60]!r} were left out"
            self.problems.append(_advice(message, self.name, "name it with --layer to read it"))
        return curves

    def _entities(
        self, entities: Iterable[DXFEntity], outer_layer: str, outer_handle: str, depth: int
    ) -> Iterator[tuple[DXFEntity, str, str]]:
        """Give every entity, blocks opened, with its layer and the handle to look for.

        What lies on layer 0 of a block is on the layer that the block was put on.
        """
        for entity in entities:
            self.left -= 1
            if self.left < 0:
                raise _TooMuch(f"the drawing has more than {MAX_ENTITIES} things in it")
            layer = entity.dxf.get("layer", "0")
            if outer_layer and layer == "0":
                layer = outer_layer
            handle = outer_handle or str(entity.dxf.handle or "")
            if not isinstance(entity, Insert):
                yield entity, layer, handle
                continue
            if depth >= MAX_DEPTH:
                raise _TooMuch(f"blocks are nested more than {MAX_DEPTH} deep")
            copies = [entity] if entity.mcount <= 1 else entity.multi_insert()
            for copy in copies:
                yield from self._entities(copy.virtual_entities(), layer, handle, depth + 1)

    def _is_hidden(self, layer: str) -> bool:
        if layer not in self.drawing.layers:
            return False
        said = self.drawing.layers.get(layer)
        return said.is_off() or said.is_frozen()

    def _curve(self, entity: DXFEntity, layer: str, handle: str) -> Curve | None:
        where = f"layer {layer[:60]!r}, handle {handle or '?'}"
        if isinstance(entity, Circle) and not isinstance(entity, Arc):
            centre = self._flat([entity.ocs().to_wcs(entity.dxf.center)], where)
            radius = abs(entity.dxf.radius) * self.scale
            if not 0.05 <= radius <= 1e5:
                self._fault(f"a circle of {2 * radius:g} mm diameter", where)
                return None
            points = self._ring(centre[0], radius)
            return Curve(points, True, where, (centre[0], 2 * radius))
        if isinstance(entity, LWPolyline | Polyline):
            if isinstance(entity, Polyline) and not (
                entity.is_2d_polyline or entity.is_3d_polyline
            ):
                return None
            found: list[Vec2] = []
            for piece in entity.virtual_entities():
                self.left -= 1
                if self.left < 0:
                    raise _TooMuch(f"the drawing has more than {MAX_ENTITIES} things in it")
                steps = self._flat(self._vertices(piece), where)
                if (
                    found
                    and steps
                    and math.dist(found[-1], steps[0]) > math.dist(found[-1], steps[-1])
                ):
                    steps.reverse()
                found += steps if not found else steps[1:]
            if len(found) < 2:
                return None
            return Curve(tuple(found), bool(entity.is_closed), where)
        if isinstance(entity, Line | Arc | Ellipse | Spline):
            points = tuple(self._flat(self._vertices(entity), where))
            closed = len(points) > 3 and math.dist(points[0], points[-1]) < 1e-6
            return Curve(points, closed, where) if len(points) > 1 else None
        return None

    def _vertices(self, entity: DXFEntity) -> Iterable[Sequence[float]]:
        if isinstance(entity, Line):
            return [tuple(entity.dxf.start), tuple(entity.dxf.end)]
        if isinstance(entity, Arc):
            return self._arc(entity)
        if isinstance(entity, Ellipse | Spline):
            return (tuple(v) for v in entity.flattening(self.tolerance))
        return []

    def _arc(self, arc: Arc) -> Iterator[Sequence[float]]:
        """Give points on an arc, those where it reaches furthest along x and y among them."""
        radius, begin = abs(arc.dxf.radius), arc.dxf.start_angle % 360
        sweep = (arc.dxf.end_angle - begin) % 360 or 360.0
        if not 0 < radius * self.scale < 1e6:
            yield (math.inf, 0.0, 0.0)
            return
        step = 2 * math.degrees(math.acos(1 - min(self.tolerance / radius, 0.5)))
        quarters = [a for a in range(90, 900, 90) if begin < a < begin + sweep]
        marks = [begin, *quarters, begin + sweep]
        angles = [begin]
        for low, high in pairwise(marks):
            number = max(1, math.ceil((high - low) / step))
            if number > self.points_left:
                raise _TooMuch(f"the drawing has more than {MAX_POINTS} points")
            angles += [low + (high - low) * (n + 1) / number for n in range(number)]
        centre, ocs = arc.dxf.center, arc.ocs()
        for angle in angles:
            a = math.radians(angle)
            x, y = centre.x + radius * math.cos(a), centre.y + radius * math.sin(a)
            yield tuple(ocs.to_wcs((x, y, centre.z)))

    def _flat(self, vertices: Iterable[Sequence[float]], where: str) -> list[Vec2]:
        points: list[Vec2] = []
        for x, y, z in vertices:
            self.points_left -= 1
            if self.points_left < 0:
                raise _TooMuch(f"the drawing has more than {MAX_POINTS} points")
            if not all(math.isfinite(v) and abs(v * self.scale) < 1e6 for v in (x, y, z)):
                self._fault("a point lies further away than any panel reaches", where)
                return [(0.0, 0.0)]
            if abs(z * self.scale) > _FLAT:
                self._fault("it does not lie flat, in z = 0", where)
                return [(0.0, 0.0)]
            points.append((x * self.scale, y * self.scale))
        return points

    def _ring(self, centre: Vec2, radius: float) -> tuple[Vec2, ...]:
        """Return a circle as a polygon with corners on it."""
        sagitta = min(self.tolerance * self.scale, radius / 2)
        number = 4 * max(3, math.ceil(math.pi / math.acos(1 - sagitta / radius) / 4))
        self.points_left -= number
        if self.points_left < 0:
            raise _TooMuch(f"the drawing has more than {MAX_POINTS} points")
        turns = (2 * math.pi * n / number for n in range(number))
        return tuple(
            (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in turns
        )

    def _fault(self, message: str, where: str) -> None:
        problem = _at("drawing-outline", message, self.name, "correct it in the drawing", where)
        if len(self.problems) < 50:
            self.problems.append(problem)


def _at(code: str, message: str, file: str, help: str, where: str = "") -> Problem:
    source = Source(file=file, line=1, column=1, end_column=2)
    return Problem(code=code, message=message, help=help, where=where, source=source)


def _advice(message: str, file: str, help: str) -> Problem:
    told = advice("drawing-entity", message, help=help)
    source = Source(file=file, line=1, column=1, end_column=2)
    return Problem(
        code=told.code, message=message, severity=told.severity, help=help, source=source
    )
