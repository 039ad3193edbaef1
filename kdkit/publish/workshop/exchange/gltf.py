"""The finished product as one binary glTF file: metres, y up, a node for every part.

Parts are prisms with their cut-outs; bores, grooves and hardware are not modelled. Source:
glTF 2.0 (ISO/IEC 12113): right-handed, y up, the front looks to +z, metres.
"""

from __future__ import annotations

import json
import pathlib
import struct
from dataclasses import dataclass, field
from itertools import pairwise

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from kdkit import __version__
from kdkit.areas import rest_of, together
from kdkit.diagnostics import Problem
from kdkit.frames import Vec2, Vec3, cross, sub, unit
from kdkit.geometry.convex import round_polygon
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part
from kdkit.publish.wording.plain_text import one_line
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.schedule.grouping import title_of

__all__ = ["render_glb", "write_gltf"]

_TONES = ((0.80, 0.72, 0.60), (0.72, 0.72, 0.72), (0.62, 0.52, 0.42), (0.88, 0.86, 0.80))
"""Neutral colours, one a board in turn; the last one is for bought parts, too."""

_FLOAT, _UINT = 5126, 5125
_VERTICES, _INDICES = 34962, 34963


@dataclass
class _Mesh:
    """Triangles with a normal of their own at every corner."""

    points: list[Vec3] = field(default_factory=list)
    normals: list[Vec3] = field(default_factory=list)
    indices: list[int] = field(default_factory=list)

    def add(
        self, corners: tuple[Vec3, ...], normal: Vec3, triangles: list[tuple[int, ...]]
    ) -> None:
        start = len(self.points)
        self.points += corners
        self.normals += [normal] * len(corners)
        self.indices += [start + n for triangle in triangles for n in triangle]


def write_gltf(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``product.glb``."""
    (folder / "product.glb").write_bytes(render_glb(job))
    return ()


def render_glb(job: WorkshopJob) -> bytes:
    """Return the product as the bytes of a binary glTF file."""
    boards = list(dict.fromkeys(part.board or "" for part in job.results.assembly.parts))
    data = bytearray()
    views: list[dict[str, object]] = []
    accessors: list[dict[str, object]] = []
    meshes: list[dict[str, object]] = []
    nodes: list[dict[str, object]] = []

    def put(kind: str, values: list[Vec3] | list[int], target: int) -> int:
        flat: list[float] = []
        for value in values:
            flat.extend(value if isinstance(value, tuple) else (value,))
        code = "f" if kind == "VEC3" else "I"
        packed = struct.pack(f"<{len(flat)}{code}", *flat)
        accessor: dict[str, object] = {
            "bufferView": len(views),
            "componentType": _FLOAT if kind == "VEC3" else _UINT,
            "count": len(values),
            "type": kind,
        }
        if kind == "VEC3":
            shown = struct.unpack(f"<{len(flat)}f", packed)
            accessor["min"] = [min(shown[n::3]) for n in range(3)]
            accessor["max"] = [max(shown[n::3]) for n in range(3)]
        views.append(
            {
                "buffer": 0,
                "byteOffset": len(data),
                "byteLength": len(packed),
                "target": target,
            }
        )
        data.extend(packed)
        accessors.append(accessor)
        return len(accessors) - 1

    for part in job.results.assembly.parts:
        mesh = _part_mesh(part)
        primitive = {
            "attributes": {
                "POSITION": put("VEC3", mesh.points, _VERTICES),
                "NORMAL": put("VEC3", mesh.normals, _VERTICES),
            },
            "indices": put("SCALAR", mesh.indices, _INDICES),
            "material": boards.index(part.board or ""),
        }
        meshes.append({"name": one_line(part.name), "primitives": [primitive]})
        letter = job.results.schedules.letter_of(part.name)
        nodes.append(
            {
                "name": one_line(part.name),
                "mesh": len(meshes) - 1,
                "extras": {"letter": letter, "title": one_line(title_of(part))},
            }
        )
    product = one_line(job.product)
    root = {"name": product, "children": list(range(len(nodes)))}
    content = {
        "asset": {"version": "2.0", "generator": f"kdkit {__version__}"},
        "scene": 0,
        "scenes": [{"name": product, "nodes": [len(nodes)]}],
        "nodes": [*nodes, root],
        "meshes": meshes,
        "materials": [_material(n, name) for n, name in enumerate(boards)],
        "accessors": accessors,
        "bufferViews": views,
        "buffers": [{"byteLength": len(data)}],
    }
    return _binary(content, bytes(data))


def _material(n: int, name: str) -> dict[str, object]:
    return {
        "name": one_line(name) or "bought",
        "pbrMetallicRoughness": {
            "baseColorFactor": [*_TONES[n % len(_TONES)], 1.0],
            "metallicFactor": 0.0,
            "roughnessFactor": 0.8,
        },
    }


def _binary(content: dict[str, object], data: bytes) -> bytes:
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    chunks = struct.pack("<I4s", len(text), b"JSON") + text
    chunks += struct.pack("<I4s", len(data), b"BIN\0") + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(chunks)) + chunks


def _part_mesh(part: Part) -> _Mesh:
    """Return the closed surface of a part in the frame of glTF."""
    if part.bevels:
        return _bevelled_mesh(part)
    region: BaseGeometry = Polygon(part.outline)
    openings = [Polygon(ring) for ring in part.cutouts]
    openings += [Polygon(round_polygon(opening)) for opening in part.round_cutouts]
    if openings:
        region = rest_of(region, together(openings))
    mesh = _Mesh()
    pieces = shapely.get_parts(region)
    for piece in pieces:
        assert isinstance(piece, Polygon)
        turned = orient(piece)
        _add_caps(mesh, part, turned)
        for ring in (turned.exterior, *turned.interiors):
            _add_walls(mesh, part, [(x, y) for x, y in ring.coords])
    return mesh


def _bevelled_mesh(part: Part) -> _Mesh:
    """Return the same of a part with bevelled edges: face and back differ in outline."""
    mesh = _Mesh()
    front, rear, t = face_ring(part), back_ring(part), part.thickness
    holes = [*part.cutouts, *(round_polygon(opening) for opening in part.round_cutouts)]
    for ring, level, outward in ((front, 0.0, 1), (rear, -t, -1)):
        region: BaseGeometry = Polygon(ring)
        if holes:
            region = rest_of(region, together([Polygon(hole) for hole in holes]))
        for piece in shapely.get_parts(region):
            _add_cap(mesh, part, piece, level, outward)
    for n, (a, c) in enumerate(zip(front, rear, strict=True)):
        m = (n + 1) % len(front)
        b, d = front[m], rear[m]
        corners = tuple(_outside(part, p) for p in ((*a, 0.0), (*c, -t), (*d, -t), (*b, 0.0)))
        mesh.add(corners, _normal(corners), [(0, 1, 2), (0, 2, 3)])
    if holes:
        for piece in shapely.get_parts(together([Polygon(hole) for hole in holes])):
            for ring_of in (orient(piece).exterior,):
                _add_walls(mesh, part, [(x, y) for x, y in ring_of.coords][::-1])
    return mesh


def _outside(part: Part, p: Vec3) -> Vec3:
    """Return a point of the panel frame in the frame of glTF."""
    x, y, z = part.frame.point_to_outer(p)
    return (x / 1000, z / 1000, -y / 1000)


def _add_caps(mesh: _Mesh, part: Part, piece: Polygon) -> None:
    """Add face and back as triangles over the corners of the outline alone."""
    for level, outward in ((0.0, 1), (-part.thickness, -1)):
        _add_cap(mesh, part, piece, level, outward)


def _add_cap(mesh: _Mesh, part: Part, piece: BaseGeometry, level: float, outward: int) -> None:
    flat = shapely.constrained_delaunay_triangles(piece)
    triangles = [
        [(x, y) for x, y in orient(t).exterior.coords[:3]]
        for t in flat.geoms
        if isinstance(t, Polygon)
    ]
    for triangle in triangles:
        corners = tuple(_outside(part, (x, y, level)) for x, y in triangle[::outward])
        mesh.add(corners, _normal(corners), [(0, 1, 2)])


def _add_walls(mesh: _Mesh, part: Part, ring: list[Vec2]) -> None:
    """Add a rectangle for each stretch of a ring that has the panel on its left."""
    t = part.thickness
    for (ax, ay), (bx, by) in pairwise(ring):
        corners = tuple(
            _outside(part, p) for p in ((ax, ay, 0.0), (ax, ay, -t), (bx, by, -t), (bx, by, 0.0))
        )
        mesh.add(corners, _normal(corners), [(0, 1, 2), (0, 2, 3)])


def _normal(corners: tuple[Vec3, ...]) -> Vec3:
    return unit(cross(sub(corners[1], corners[0]), sub(corners[2], corners[0])))
