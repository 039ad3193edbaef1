"""A panel's shape from a drawing (DXF): one closed outline, what lies inside as openings.

Lines and arcs are joined where their ends meet; arcs, circles as outlines, ellipses and
splines become polygons whose corners lie on the curve and whose sides leave it by no more
than a tolerance. Blocks are opened. What has no part in an outline is told, never dropped
in silence.
"""

from __future__ import annotations

import math
import pathlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

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

from kdkit.diagnostics import Problem
from kdkit.frames import Vec2
from kdkit.imports.drawing_file import (
    choose_layers,
    drawing_advice,
    drawing_problem,
    open_drawing,
    read_scale,
)
from kdkit.imports.shapes import Curve, Shape, find_shape

__all__ = ["FINEST", "Drawn", "load_outline"]

MAX_ENTITIES = 5000
MAX_POINTS = 50_000
MAX_DEPTH = 8
MAX_VERTICES = 5000
"""Of one polyline or spline; a panel's outline may have 500 corners at the end."""
MAX_DEGREE = 25
"""Of a spline. Source: common practice of drawing programs, from memory; work and memory of
the evaluation grow with its square."""
FINEST = 0.01
"""mm, the least tolerance that may be asked for."""

_FLAT = 0.01
_STRAIGHT = 1e-7
"""Bulges below are straight sides: 1e-7 of a side of 10 m is a sagitta of half a micrometre."""
_MOST_TOLD = 30
_LEAST_SCALE = 1e-6
"""Of a block, and 1 by it the largest; a drawing in nanometres would need as little."""
_FARTHEST = 1e6
"""mm; nothing of a panel reaches further."""


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
    drawing, problems = open_drawing(path)
    if drawing is None:
        return None, tuple(problems)
    scale = read_scale(drawing, unit, name, problems)
    taken, skipped = choose_layers(drawing, layers, name, problems)
    if scale is None or any(not p.code.startswith("drawing-entity") for p in problems):
        return None, tuple(problems)
    reading = _Reading(drawing, name, scale, tolerance, taken)
    try:
        curves = reading.read()
    except _TooMuch as fault:
        help = "delete what is no outline, or name its layers with --layer"
        return None, (drawing_problem("drawing-not-read", str(fault), name, help),)
    problems += reading.problems
    if any(p.code == "drawing-outline" for p in problems):
        return None, tuple(problems)
    shape, faults = find_shape(curves)
    problems += [
        drawing_problem("drawing-outline", fault.message, name, fault.help, fault.where)
        for fault in faults
    ]
    if shape is None or any(p.code != "drawing-entity" for p in problems):
        return None, tuple(problems)
    if skipped:
        listed = ", ".join(repr(layer[:40]) for layer in skipped[:12])
        message = f"only the layers of the face were read, not {listed}"
        problems.append(drawing_advice(message, name, "name others with --layer"))
    return Drawn(file=name, shape=shape, layers=tuple(sorted(reading.used))), tuple(problems)


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
        self.not_opened: Counter[tuple[str, str]] = Counter()
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
            try:
                curve = self._curve(entity, layer, handle)
            except _TooMuch:
                raise
            except Exception as fault:  # whatever a damaged entity leads the library to
                words = " ".join(str(fault).split())[:80] or type(fault).__name__
                where = _where(layer, handle)
                self._fault(f"the {entity.dxftype()} cannot be read: {words}", where)
                continue
            if curve is None:
                others[entity.dxftype(), layer] += 1
            else:
                self.used.add(layer)
                curves.append(curve)
        told = sorted((others + self.not_opened).items())
        for (kind, layer), count in told[:_MOST_TOLD]:
            message = f"{count} × {kind} on the layer {layer[:60]!r} has no part in an outline"
            self.problems.append(drawing_advice(message, self.name, "it was left out"))
        if len(told) > _MOST_TOLD:
            message = f"{len(told) - _MOST_TOLD} more kinds of things have no part in an outline"
            self.problems.append(drawing_advice(message, self.name, "they were left out"))
        for layer, count in sorted(hidden.items())[:_MOST_TOLD]:
            message = f"{count} things on the hidden layer {layer[:60]!r} were left out"
            self.problems.append(
                drawing_advice(message, self.name, "name it with --layer to read it")
            )
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
            where = _where(layer, handle)
            scale = [entity.dxf.get(f"{axis}scale", 1.0) for axis in "xyz"]
            if not all(_LEAST_SCALE <= abs(each) <= 1 / _LEAST_SCALE for each in scale):
                said = " × ".join(f"{each:g}" for each in scale)
                self._fault(f"a block is put at a scale of {said}", where)
                continue
            for copy in self._copies(entity):
                block = copy.block()
                if block is None or block.block is None or block.block.is_xref:
                    self.not_opened["INSERT of what is not in the file", layer] += 1
                    continue

                def skip(dropped: DXFEntity, _: str, layer: str = layer) -> None:
                    self.not_opened[dropped.dxftype(), layer] += 1

                inside = self._opened(copy, skip, where)
                yield from self._entities(inside, layer, handle, depth + 1)

    def _opened(
        self, insert: Insert, skip: Callable[[DXFEntity, str], None], where: str
    ) -> Iterator[DXFEntity]:
        """Give what a block holds; a problem where the library cannot put it there."""
        try:
            yield from insert.virtual_entities(skipped_entity_callback=skip)
        except Exception as fault:  # whatever a damaged block leads the library to
            words = " ".join(str(fault).split())[:80] or type(fault).__name__
            self._fault(f"the block cannot be put there: {words}", where)

    def _copies(self, insert: Insert) -> Iterator[Insert]:
        """Give the copies of a row or array of blocks, counted before any is made."""
        counts = []
        for count, spacing in (("row_count", "row_spacing"), ("column_count", "column_spacing")):
            if not insert.dxf.get(spacing, 0.0):
                insert.dxf.set(count, 1)  # all of them lie in one place
            counts.append(max(insert.dxf.get(count, 1), 1))
        if counts[0] * counts[1] == 1:
            yield insert
            return
        if counts[0] * counts[1] > self.left:
            raise _TooMuch(
                f"a block is put {counts[0]:.6g} × {counts[1]:.6g} times, and the drawing may have "
                f"{MAX_ENTITIES} things in it"
            )
        for copy in insert.multi_insert():
            self.left -= 1
            if self.left < 0:
                raise _TooMuch(f"the drawing has more than {MAX_ENTITIES} things in it")
            yield copy

    def _is_hidden(self, layer: str) -> bool:
        if layer not in self.drawing.layers:
            return False
        said = self.drawing.layers.get(layer)
        return said.is_off() or said.is_frozen()

    def _curve(self, entity: DXFEntity, layer: str, handle: str) -> Curve | None:
        where = _where(layer, handle)
        if isinstance(entity, Circle) and not isinstance(entity, Arc):
            centre = self._flat([entity.ocs().to_wcs(entity.dxf.center)], where)
            radius = abs(entity.dxf.radius) * self.scale
            if not 0.05 <= radius <= 1e5:
                self._fault(f"a circle of {2 * radius:g} mm diameter", where)
                return Curve((centre[0],) * 2, True, where)
            points = self._ring(centre[0], radius)
            return Curve(points, True, where, (centre[0], 2 * radius))
        if isinstance(entity, LWPolyline | Polyline):
            if isinstance(entity, Polyline) and not (
                entity.is_2d_polyline or entity.is_3d_polyline
            ):
                return None
            found = self._polyline(entity, where)
            if len(found) < 2:
                return None
            return Curve(tuple(found), bool(entity.is_closed), where)
        # A helix counts as a spline for the library, but is no flat curve.
        if isinstance(entity, Line | Arc | Ellipse | Spline) and entity.dxftype() != "HELIX":
            if isinstance(entity, Spline) and not self._is_simple(entity, where):
                return Curve(((0.0, 0.0),) * 2, True, where)
            points = tuple(self._flat(self._vertices(entity), where))
            closed = len(points) > 3 and math.dist(points[0], points[-1]) < 1e-6
            return Curve(points, closed, where) if len(points) > 1 else None
        return None

    def _polyline(self, entity: LWPolyline | Polyline, where: str) -> list[Vec2]:
        """Return the corners of a polyline, its arcs as sides."""
        if len(entity) > MAX_VERTICES:
            raise _TooMuch(
                f"a polyline has {len(entity)} corners, at most {MAX_VERTICES} are read ({where})"
            )
        if not self._bulges_are_fine(entity, where):
            return [(0.0, 0.0), (0.0, 0.0)]
        found: list[Vec2] = []
        for piece in entity.virtual_entities():
            steps = self._flat(self._vertices(piece), where)
            if found and steps and math.dist(found[-1], steps[0]) > math.dist(found[-1], steps[-1]):
                steps.reverse()
            found += steps if not found else steps[1:]
        return found

    def _bulges_are_fine(self, entity: LWPolyline | Polyline, where: str) -> bool:
        """Judge the arcs of a polyline, and make those straight that are."""
        if isinstance(entity, LWPolyline):
            bulges = [float(p[4]) for p in entity]
        else:
            bulges = [float(v.dxf.get("bulge", 0.0)) for v in entity.vertices]
        for bulge in bulges:
            if not abs(bulge) < 1e6:  # not a number, too
                self._fault(f"a side with a bulge of {bulge:g}", where)
                return False
        if isinstance(entity, LWPolyline):
            for n, point in enumerate(entity):
                if 0 < abs(point[4]) < _STRAIGHT:
                    entity[n] = (*point[:4], 0.0)
        else:
            for vertex, bulge in zip(entity.vertices, bulges, strict=True):
                if 0 < abs(bulge) < _STRAIGHT:
                    vertex.dxf.bulge = 0.0
        return True

    def _is_simple(self, spline: Spline, where: str) -> bool:
        """Tell whether a spline may be evaluated; a problem if not."""
        points = max(len(spline.control_points), len(spline.fit_points))
        if points > MAX_VERTICES or len(spline.knots) > MAX_VERTICES + MAX_DEGREE + 1:
            message = f"a spline with {points} points, at most {MAX_VERTICES} are read"
        elif len(spline.fit_points) > MAX_DEGREE**2 and not len(spline.control_points):
            # The library fits with a full matrix.
            message = f"a spline through {points} points, at most {MAX_DEGREE**2} are read"
        elif spline.dxf.degree > MAX_DEGREE:
            message = f"a spline of degree {spline.dxf.degree}, at most {MAX_DEGREE} is read"
        else:
            return True
        self._fault(message, where)
        return False

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
        if not math.isfinite(begin + sweep):
            raise ValueError("an angle of it is no number")
        if not 0 < radius * self.scale < _FARTHEST:
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
            if not all(math.isfinite(v) and abs(v * self.scale) < _FARTHEST for v in (x, y, z)):
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
        problem = drawing_problem(
            "drawing-outline", message, self.name, "correct it in the drawing", where
        )
        if len(self.problems) < 50 and problem not in self.problems:
            self.problems.append(problem)


def _where(layer: str, handle: str) -> str:
    return f"layer {layer[:60]!r}, handle {handle or '?'}"
