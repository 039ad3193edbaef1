"""Products as solids of other people's libraries, to check our drawings against.

Nothing here uses our own faces and edges: a part is its outline pulled to its
thickness by the other library, its grooves are cut away by that library too.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
import trimesh
from build123d import Face, Plane, Solid, Vector, Wire
from numpy.typing import NDArray
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepLib import BRepLib
from OCP.GCPnts import GCPnts_AbscissaPoint
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.HLRAlgo import HLRAlgo_Projector
from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape
from OCP.TopAbs import TopAbs_EDGE
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS, TopoDS_Shape

from kdkit.frames import Frame, Vec3
from kdkit.illustrate.hidden_lines.view import View
from kdkit.joinery.placed import Bore, Groove
from kdkit.model.resolved import Part
from tests.bevelled import offcuts

Array = NDArray[np.float64]


def box_part(name: str, low: Vec3, high: Vec3) -> Part:
    """Return a box between two corners as a panel lying flat."""
    return Part(
        name=name,
        title=name,
        kind="panel",
        path=(),
        frame=Frame((low[0], low[1], high[2]), (1, 0, 0), (0, 1, 0), (0, 0, 1)),
        outline=(
            (0.0, 0.0),
            (high[0] - low[0], 0.0),
            (high[0] - low[0], high[1] - low[1]),
            (0.0, high[1] - low[1]),
        ),
        thickness=high[2] - low[2],
    )


def bookcase(shelves: int = 3) -> list[Part]:
    """Return an open bookcase: two sides, top, bottom, shelves, plinth, laid-on back."""
    w, d, h, t = 800.0, 300.0, 1200.0, 18.0
    parts = [
        box_part("left", (0, 0, 0), (t, d, h)),
        box_part("right", (w - t, 0, 0), (w, d, h)),
        box_part("top", (t, 0, h - t), (w - t, d, h)),
        box_part("bottom", (t, 0, 60), (w - t, d, 60 + t)),
        box_part("plinth", (t, 30, 0), (w - t, 30 + t, 60)),
        box_part("back", (2, d, 2), (w - 2, d + 3, h - 2)),
    ]
    for n in range(shelves):
        z = 60 + t + (n + 1) * (h - 60 - 3 * t) / (shelves + 1)
        parts.append(box_part(f"shelf-{n}", (t, 5, z), (w - t, d, z + t)))
    return parts


def long_run(bays: int) -> list[Part]:
    """Return bookcases in a row, ten panels a bay."""
    parts = []
    for bay in range(bays):
        x = bay * 850.0
        for part in bookcase(4):
            o = part.frame.origin
            frame = Frame((o[0] + x, o[1], o[2]), part.frame.i, part.frame.j, part.frame.k)
            parts.append(replace(part, name=f"{bay}-{part.name}", frame=frame))
    return parts


def drill(parts: Iterable[Part]) -> list[Bore]:
    """Return eight bores for every board of 15 mm and more: four housings, four in edges."""
    bores = []
    for part in parts:
        if part.thickness < 15:
            continue
        length, width = part.outline[2]
        middle = -part.thickness / 2
        for x, into in ((0.0, 1.0), (length, -1.0)):
            for y in (0.2 * width, 0.8 * width):
                at = x + 34 * into
                bores.append(_bore(part, "face", (at, y, 0.0), (0.0, 0.0, -1.0), 15.0, 13.0))
                edge = "edge:3" if x == 0 else "edge:1"
                bores.append(_bore(part, edge, (x, y, middle), (into, 0.0, 0.0), 8.0, 34.0))
    return bores


def _bore(part: Part, surface: str, mouth: Vec3, into: Vec3, diameter: float, depth: float) -> Bore:
    return Bore(
        part=part.name,
        surface=surface,
        mouth=mouth,
        into=into,
        diameter=diameter,
        depth=depth,
        through=False,
        purpose="bore",
        path=(),
    )


def sloping_stand() -> list[Part]:
    """Return two leaning L-shaped sides, a shelf between them and a pierced board."""
    lean = math.radians(12)
    up = (0.0, math.sin(lean), math.cos(lean))
    forward = (0.0, -math.cos(lean), math.sin(lean))
    outline = ((0, 0), (700, 0), (700, 120), (300, 120), (300, 260), (0, 260))
    parts = [
        Part(
            name=name,
            title=name,
            kind="panel",
            path=(),
            frame=Frame((x, 300.0, 0.0), up, forward, (1.0, 0.0, 0.0)),
            outline=outline,
            thickness=18.0,
        )
        for name, x in (("left", 18.0), ("right", 600.0))
    ]
    parts.append(box_part("shelf", (18, 120, 200), (582, 300, 218)))
    parts.append(
        Part(
            name="pierced",
            title="pierced",
            kind="panel",
            path=(),
            frame=Frame((60, 40, 250), (1, 0, 0), (0, 0, 1), (0, -1, 0)),
            outline=((0, 0), (480, 0), (480, 170), (0, 170)),
            thickness=18.0,
            cutouts=(((150, 40), (330, 40), (330, 110), (150, 110)),),
        )
    )
    return parts


def grooved_case() -> tuple[list[Part], list[Groove]]:
    """Return two sides and a bottom with grooves that run out or stop, and a back in them."""
    t = 18.0
    left = Part(
        name="left",
        title="left",
        kind="panel",
        path=(),
        frame=Frame((t, 300, 0), (0, 0, 1), (0, -1, 0), (1, 0, 0)),
        outline=((0, 0), (500, 0), (500, 300), (0, 300)),
        thickness=t,
    )
    right = replace(
        left,
        name="right",
        frame=Frame((600 - t, 0, 0), (0, 0, 1), (0, 1, 0), (-1, 0, 0)),
    )
    bottom = box_part("bottom", (t, 0, 0), (600 - t, 300, t))
    back = box_part("back", (t - 7, 282, t - 7), (600 - t + 7, 286, 480))

    def groove(part: str, *polygon: tuple[float, float]) -> Groove:
        return Groove(part=part, surface="face", polygon=polygon, depth=8.0, path=(), joint="back")

    grooves = [
        groove("left", (0, 14), (490, 14), (490, 18), (0, 18)),
        groove("right", (0, 282), (500, 282), (500, 286), (0, 286)),
        groove("bottom", (0, 282), (564, 282), (564, 286), (0, 286)),
    ]
    return [left, right, bottom, back], grooves


def random_boxes(seed: int, count: int = 8) -> list[Part]:
    """Return boxes that do not touch, in places without rhyme."""
    rng = random.Random(seed)
    taken: list[tuple[Vec3, Vec3]] = []
    while len(taken) < count:
        size = [rng.uniform(20, 400) if rng.random() < 0.7 else 18.0 for _ in range(3)]
        low = tuple(rng.uniform(0, 700) for _ in range(3))
        high = tuple(a + s for a, s in zip(low, size, strict=True))
        if all(any(high[n] < a[n] - 1 or low[n] > b[n] + 1 for n in range(3)) for a, b in taken):
            taken.append(((low[0], low[1], low[2]), (high[0], high[1], high[2])))
    return [box_part(f"box-{n}", low, high) for n, (low, high) in enumerate(taken)]


def part_mesh(part: Part, grooves: Iterable[Groove] = ()) -> trimesh.Trimesh:
    """Return a part as a mesh in the product, made by trimesh and manifold3d alone."""
    holes = [
        shapely.Point(cut.centre).buffer(cut.diameter / 2, quad_segs=6)
        for cut in part.round_cutouts
    ]
    plan = shapely.Polygon(part.outline, part.cutouts).difference(shapely.union_all(holes))
    mesh = trimesh.creation.extrude_polygon(plan, part.thickness, engine="manifold")
    mesh.apply_translation((0, 0, -part.thickness))
    for wedge in offcuts(part):
        saw = trimesh.convex.convex_hull(wedge)
        mesh = trimesh.boolean.difference([mesh, saw], engine="manifold")
    for groove in grooves:
        if groove.part != part.name:
            continue
        cutter = trimesh.creation.extrude_polygon(
            shapely.Polygon(groove.polygon).buffer(0), groove.depth + 1, engine="manifold"
        )
        low = -groove.depth if groove.surface == "face" else -part.thickness - 1
        cutter.apply_translation((0, 0, low))
        mesh = trimesh.boolean.difference([mesh, cutter], engine="manifold")
    turn = np.eye(4)
    frame = part.frame
    turn[:3, 0], turn[:3, 1], turn[:3, 2], turn[:3, 3] = frame.i, frame.j, frame.k, frame.origin
    mesh.apply_transform(turn)
    return mesh


class MeshScene:
    """All parts of a product as one mesh, with its edges and a ray caster."""

    def __init__(self, parts: Sequence[Part], grooves: Sequence[Groove], view: View) -> None:
        meshes = [part_mesh(part, grooves) for part in parts]
        self.view = view
        self.toward = np.array(view.toward)
        self.mesh = trimesh.util.concatenate(meshes)
        self.caster = trimesh.ray.ray_triangle.RayMeshIntersector(self.mesh)
        starts, ends, normals, angles = [], [], [], []
        for mesh in meshes:
            sharp = mesh.face_adjacency_angles > 1e-3
            corners = mesh.vertices[mesh.face_adjacency_edges[sharp]]
            starts.append(corners[:, 0])
            ends.append(corners[:, 1])
            normals.append(mesh.face_normals[mesh.face_adjacency[sharp]])
            angles.append(mesh.face_adjacency_angles[sharp])
        self.starts: Array = np.concatenate(starts)
        self.ends: Array = np.concatenate(ends)
        self.angles: Array = np.concatenate(angles)
        both = np.concatenate(normals)
        front = (both @ self.toward) > 1e-5
        self.faces_viewer = front.any(axis=1)
        self.outward: Array = (both * front[:, :, None]).sum(axis=1)

    def sees(self, edge: NDArray[np.intp], share: Array) -> NDArray[np.bool_]:
        """Tell of points on edges whether a ray from them reaches the viewer.

        A point is first moved 0.02 mm out of the surfaces beside it that face the
        viewer and 0.02 mm toward the viewer, lest it hits what it lies on.
        """
        at = self.starts[edge] + (self.ends - self.starts)[edge] * share[:, None]
        at = at + 0.02 * self.outward[edge] + 0.02 * self.toward
        rays = np.tile(self.toward, (len(at), 1))
        reached: NDArray[np.bool_] = ~self.caster.intersects_any(at, rays)
        return reached & self.faces_viewer[edge]


def kernel_solids(parts: Sequence[Part], bores: Sequence[Bore] = ()) -> list[Solid]:
    """Return the parts as solids of the OCCT kernel, in the product."""
    return [_kernel_solid(part, [b for b in bores if b.part == part.name]) for part in parts]


def _kernel_solid(part: Part, bores: Sequence[Bore]) -> Solid:
    frame = part.frame
    plane = Plane(origin=frame.origin, x_dir=frame.i, z_dir=frame.k)

    def prism(loop: Sequence[tuple[float, float]], top: float, bottom: float) -> Solid:
        wire = Wire.make_polygon([Vector(x, y, top) for x, y in loop], close=True)
        return Solid.extrude(Face(wire), Vector(0, 0, bottom - top))

    solid = prism(part.outline, 0.0, -part.thickness)
    for loop in part.cutouts:
        solid = solid.cut(prism(loop, 1.0, -part.thickness - 1))
    for bore in bores:
        place = Plane(origin=bore.mouth, z_dir=bore.into)
        solid = solid.cut(Solid.make_cylinder(bore.diameter / 2, bore.depth, place))
    moved: Solid = plane.from_local_coords(solid)
    return moved


def kernel_visible_length(parts: Sequence[Part], view: View) -> float:
    """Return the length of all visible lines on paper by the kernel's exact algorithm."""
    edges = kernel_visible_edges(kernel_solids(parts), view)
    total = 0.0
    explorer = TopExp_Explorer(edges, TopAbs_EDGE)
    while explorer.More():
        BRepLib.BuildCurves3d_s(explorer.Current())
        curve = BRepAdaptor_Curve(TopoDS.Edge(explorer.Current()))
        total += GCPnts_AbscissaPoint.Length_s(curve)
        explorer.Next()
    return total


def kernel_visible_edges(solids: Sequence[Solid], view: View) -> TopoDS_Shape:
    """Return the visible sharp edges, projected, by the kernel's exact algorithm."""
    right, _, toward = view.axes
    place = gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*toward), gp_Dir(*right))
    algorithm = HLRBRep_Algo()
    for solid in solids:
        algorithm.Add(solid.wrapped)
    algorithm.Projector(HLRAlgo_Projector(place))
    algorithm.Update()
    algorithm.Hide()
    return HLRBRep_HLRToShape(algorithm).VCompound()
