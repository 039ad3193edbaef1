"""The steps as solids, as the data that a page's script reads.

One JSON object, all lengths in mm of the product frame:

* ``meshes``: ``s`` mm for one unit of ``c`` (corners, base64 of little-endian int16, three
  by three); ``f``: faces ``[nx, ny, nz, corner, corner, …]``, their triangles; ``e``: edges
  ``[start, end, face, face, sharp]``, the second face −1 where there is none; ``m``: marks
  ``[tone, face, closed, ring, triangles]``, without triangles a fan; the ring is ``[first,
  −count]`` where its corners follow each other;
* ``places``: ``[mesh, role, origin, i, j]``;
* ``scenes``: by step ``{n, views}``: ``n`` turns; a view has ``there`` (places, from and to
  by pairs), ``moving`` (``[place, legs, spin, turn, tilt]``, a leg ``[turn, x, y, z]``, a
  tilt ``[point, axis, degrees]`` or null), ``handled``, ``floor`` and ``before`` (where the
  product's axes point on the floor), ``look`` (azimuth and elevation, degrees);
* ``tones``: colours by role: top, front, side, under, bore, line.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence

import numpy as np

from kdkit.frames import Vec3
from kdkit.illustrate.in_the_round.meshes import GRAIN, Mesh
from kdkit.illustrate.in_the_round.scenes import Moving, Place, Round, Scene, View3
from kdkit.illustrate.paper.style import Style
from kdkit.parts.postures import ON_FLOOR

__all__ = ["round_json"]

_LARGEST = 32767  # of a signed number of 16 bits
_ROLES = {"new": "new", "there": "existing", "fastener": "hardware", "wall": "wall"}


def round_json(steps: Round, style: Style) -> str:
    """Return the steps as JSON that can stand inside a page's script element."""
    data = {
        "meshes": [_mesh(mesh) for mesh in steps.meshes],
        "places": [_place(place) for place in steps.places],
        "scenes": {str(number): _scene(scene) for number, scene in steps.scenes.items()},
        "tones": {name: _tones(style, role) for name, role in _ROLES.items()},
    }
    text = json.dumps(data, separators=(",", ":"), sort_keys=True)
    return text.replace("<", "\\u003c").replace("&", "\\u0026")


def _mesh(mesh: Mesh) -> dict[str, object]:
    corners = np.array(mesh.corners, dtype=float).reshape(-1, 3)
    unit = max(1.0, float(np.abs(corners).max(initial=0.0)) / _LARGEST)
    packed = np.round(corners / unit).astype("<i2").tobytes()
    return {
        "s": round(GRAIN * unit, 6),
        "c": base64.b64encode(packed).decode("ascii"),
        "f": [[*_short(face.normal), *face.triangles] for face in mesh.faces],
        "e": [[e.start, e.end, *_two(e.faces), int(e.sharp)] for e in mesh.edges],
        "m": [[m.tone, m.face, int(m.closed), _run(m.ring), m.triangles] for m in mesh.marks],
    }


def _run(ring: Sequence[int]) -> Sequence[int]:
    """Return a ring's first corner and their count, or the ring where they do not follow."""
    run = range(ring[0], ring[0] + len(ring))
    return (ring[0], -len(ring)) if len(ring) > 2 and tuple(run) == tuple(ring) else ring


def _two(faces: Sequence[int]) -> tuple[int, int]:
    return (faces[0], faces[1]) if len(faces) > 1 else (faces[0], -1)


def _place(place: Place) -> list[object]:
    frame = place.frame
    origin = [round(c, 2) for c in frame.origin]
    return [place.mesh, place.role, origin, _short(frame.i), _short(frame.j)]


def _scene(scene: Scene) -> dict[str, object]:
    return {"n": scene.turns, "views": [_view(view) for view in scene.views]}


def _view(view: View3) -> dict[str, object]:
    return {
        "there": _pairs(view.there),
        "moving": [_moving(one) for one in view.moving],
        "handled": _pairs(view.handled),
        "floor": [_short(axis) for axis in ON_FLOOR[view.posture]],
        "before": [_short(axis) for axis in ON_FLOOR[view.before]],
        "look": [round(view.azimuth_deg, 2), round(view.elevation_deg, 2)],
    }


def _moving(one: Moving) -> list[object]:
    legs = [[leg.turn, *(round(c, 2) for c in leg.by)] for leg in one.legs]
    tilt = one.tilt and [
        [round(c, 2) for c in one.tilt.point],
        _short(one.tilt.axis),
        round(one.tilt.angle_deg, 3),
    ]
    return [one.place, legs, one.spin, one.turn, tilt]


def _short(v: Vec3) -> list[float]:
    return [round(c, 5) + 0.0 for c in v]


def _pairs(numbers: Sequence[int]) -> list[int]:
    """Return sorted numbers as stretches: first, last, first, last…"""
    found: list[int] = []
    for n in sorted(set(numbers)):
        if found and n == found[-1] + 1:
            found[-1] = n
        else:
            found += [n, n]
    return found


def _tones(style: Style, role: str) -> list[str]:
    tones = [style.tone(f"{role}-{tint}") for tint in ("top", "front", "side", "under", "bore")]
    return [*tones, style.pen(f"{role}-edge").colour]
