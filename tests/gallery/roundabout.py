"""Products into which something goes round a corner or tilted; and some that not even that helps.

Each has a body that comes glued together from the workshop, so that the last part must find
its way in between.
"""

from __future__ import annotations

from collections.abc import Callable

from tests.boxes import Made, board, make

__all__ = ["ROUNDABOUT"]

Joints = dict[tuple[str, str], str]


def _tray(height: float) -> tuple[list[object], Joints]:
    """A floor of 460 × 300 with four walls."""
    parts: list[object] = [
        board("floor", (0, 0, -18), (460, 300, 0)),
        board("west", (-18, -18, -18), (0, 318, height)),
        board("east", (460, -18, -18), (478, 318, height)),
        board("south", (0, -18, -18), (460, 0, height)),
        board("north", (0, 300, -18), (460, 318, height)),
    ]
    walls = ("west", "east", "south", "north")
    joints: Joints = {("floor", wall): "glue" for wall in walls}
    joints |= {(end, side): "glue" for end in walls[2:] for side in walls[:2]}
    return parts, joints


def under_a_lip(room: float, fitting: str = "bare") -> Made:
    """A cover of 12 on the floor, under a lip of 50 along the left wall; room at the right."""
    parts, joints = _tray(60.0)
    parts += [
        board("lip", (0, 0, 12), (50, 300, 30)),
        board("cover", (0, 0, 0), (460 - room, 300, 12)),
    ]
    joints |= {("lip", "west"): "glue", ("lip", "south"): "glue", ("lip", "north"): "glue"}
    return _packed(parts, joints, ("cover", "floor"), fitting)


def behind_a_lip(above: float) -> Made:
    """A bottom with 1 of play all round, under a lip of 30 along the front, so much above it."""
    parts, joints = _tray(80.0)
    parts += [
        board("lip", (0, 0, 12 + above), (460, 30, 30 + above)),
        board("panel", (1, 1, 0), (459, 299, 12)),
    ]
    joints |= {("lip", "south"): "glue", ("lip", "west"): "glue", ("lip", "east"): "glue"}
    return _packed(parts, joints, ("panel", "floor"), "bare")


def on_cleats(high: float) -> Made:
    """A shelf of 580 on cleats, behind stiles that leave an opening of 400."""
    parts: list[object] = [
        board("bottom", (0, 0, 0), (600, 300, 18)),
        board("top", (0, 0, high), (600, 300, high + 18)),
        board("left", (-18, 0, 0), (0, 300, high + 18)),
        board("right", (600, 0, 0), (618, 300, high + 18)),
        board("back", (-18, 300, 0), (618, 318, high + 18)),
        board("left-stile", (-18, -18, 0), (100, 0, high + 18)),
        board("right-stile", (500, -18, 0), (618, 0, high + 18)),
        board("left-cleat", (0, 10, 200), (20, 290, 220)),
        board("right-cleat", (580, 10, 200), (600, 290, 220)),
        board("shelf", (10, 2, 220), (590, 298, 238)),
    ]
    joints: Joints = {(a, b): "glue" for a in ("bottom", "top") for b in ("left", "right")}
    joints |= {("back", b): "glue" for b in ("left", "right", "bottom", "top")}
    for side in ("left", "right"):
        joints |= {(f"{side}-stile", side): "glue", (f"{side}-cleat", side): "glue"}
    made = ("shelf", "left-cleat"), ("shelf", "right-cleat")
    joints |= dict.fromkeys(made, "bare")
    return make(parts, joints, workshop=[pair for pair in joints if pair not in made])  # type: ignore[arg-type]


def _packed(parts: list[object], joints: Joints, last: tuple[str, str], fitting: str) -> Made:
    return make(parts, {**joints, last: fitting}, workshop=list(joints))  # type: ignore[arg-type]


ROUNDABOUT: dict[str, Callable[[], Made]] = {
    "cover under a lip": lambda: under_a_lip(60.0),
    "cover under a lip, no room beside it": lambda: under_a_lip(40.0),
    "cover under a lip, dowelled": lambda: under_a_lip(60.0, "dowels"),
    "bottom behind a lip": lambda: behind_a_lip(40.0),
    "bottom close under a lip": lambda: behind_a_lip(0.0),
    "shelf on cleats behind stiles": lambda: on_cleats(800.0),
    "shelf on cleats, too low to tilt": lambda: on_cleats(400.0),
}
