"""Labels round a drawing: where their boxes go and how their leaders run.

Takes what is to be named and what is drawn already, gives a box and a leader for each
label. Boxes never overlap each other or the drawing, and no leader crosses a box that
is not its own. Paper millimetres, y down.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from kdkit.frames import Vec2

__all__ = ["Label", "PlacedLabel", "place_labels", "text_width"]

GAP = 1.2
"""Least white between two boxes, and between a box and the drawing."""

ANGLES = 32
CLOSER = 120
"""How many of the cheapest places are judged by what their leader crosses, too."""

WALLED_IN = 30.0
"""When rings this many times as wide have no place, a leader may cross a box after all."""

REACHES = (5.0, 6.5, 8.0, 10.0, 12.0, 14.0, 17.0, 20.0, 24.0, 28.0, 33.0, 39.0, 46.0)


def text_width(text: str, size: float) -> float:
    """Return a safe width of a line of text whose capitals are ``size`` mm high.

    Source:
        Common practice, no source: the widest capitals of plain sans-serif faces are about
        as wide as high, digits and small letters about 0.8 of it.
    """
    wide = sum(1.05 if c in "MWmw@%×" else 0.42 if c in " .,:;il|" else 0.86 for c in text)
    return wide * size


@dataclass(frozen=True, kw_only=True)
class Label:
    """What is to be named.

    Args:
        key: unique among the labels of a figure; also breaks ties.
        anchors: points where the leader may end, the best first.
        width, height: of the box.
        leader: False for a label that stands beside its anchor without a line.
        radius: of a round balloon, to let the leader start at the circle; 0 for a box.
    """

    key: str
    anchors: tuple[Vec2, ...]
    width: float
    height: float
    leader: bool = True
    radius: float = 0.0


@dataclass(frozen=True, kw_only=True)
class PlacedLabel:
    """A label in its place; ``leader`` runs from the box to the anchor, or is empty."""

    key: str
    centre: Vec2
    box: tuple[float, float, float, float]
    anchor: Vec2
    leader: tuple[Vec2, ...]


def place_labels(
    labels: Sequence[Label],
    drawn: BaseGeometry,
    *,
    ink: BaseGeometry | None = None,
    bounds: tuple[float, float, float, float] | None = None,
) -> tuple[PlacedLabel, ...]:
    """Return a place for every label, in the order given.

    Places are tried on rings round each anchor; the cheapest that is free wins, labels
    with the least freedom first. When a drawing is so full that no ring has room, the
    rings grow beyond the bounds, so that every label is placed.

    Args:
        labels: keys must differ, each with at least one anchor.
        drawn: areas that no box may touch.
        ink: lines that leaders should rather not cross.
        bounds: where boxes should stay, ``(x0, y0, x1, y1)``; leaving costs much.

    Raises:
        ValueError: two labels have the same key, or one has no anchor.
    """
    if len({label.key for label in labels}) != len(labels):
        raise ValueError("labels need different keys")
    if any(not label.anchors for label in labels):
        raise ValueError("a label needs an anchor")
    shapely.prepare(drawn)
    freedom = {label.key: _freedom(label, drawn, bounds) for label in labels}
    placed: dict[str, PlacedLabel] = {}
    for label in sorted(labels, key=lambda one: (freedom[one.key], one.key)):
        reserved = [a for other in labels if other.key not in placed and other is not label
                    for a in other.anchors]
        placed[label.key] = _place(label, drawn, ink, bounds, tuple(placed.values()), reserved)
    return tuple(placed[label.key] for label in labels)


def _rings(label: Label, stretch: float) -> tuple[np.ndarray, np.ndarray]:
    """Return candidate centres (N, 2) and the index of the anchor of each (N,)."""
    turns = [2 * math.pi * (n + 0.5) / ANGLES for n in range(ANGLES)]
    half_diagonal = math.hypot(label.width, label.height) / 2
    centres = []
    owners = []
    for index, (x, y) in enumerate(label.anchors):
        for reach in REACHES:
            r = half_diagonal + reach * stretch if label.leader else half_diagonal + reach / 4
            for turn in turns:
                centres.append((x + r * math.cos(turn), y + r * math.sin(turn)))
                owners.append(index)
    return np.array(centres), np.array(owners)


def _boxes(label: Label, centres: np.ndarray, margin: float) -> np.ndarray:
    half_w = label.width / 2 + margin
    half_h = label.height / 2 + margin
    boxes: np.ndarray = shapely.box(
        centres[:, 0] - half_w, centres[:, 1] - half_h,
        centres[:, 0] + half_w, centres[:, 1] + half_h,
    )
    return boxes


def _freedom(
    label: Label, drawn: BaseGeometry, bounds: tuple[float, float, float, float] | None
) -> int:
    """Return how many candidates are free of the drawing and in bounds."""
    centres, _ = _rings(label, 1.0)
    free = ~shapely.intersects(_boxes(label, centres, GAP), drawn)
    if bounds is not None:
        free &= _outside(label, centres, bounds) <= 0
    return int(np.count_nonzero(free))


def _outside(
    label: Label, centres: np.ndarray, bounds: tuple[float, float, float, float]
) -> np.ndarray:
    """Return how far each box leaves the bounds, mm."""
    x0, y0, x1, y1 = bounds
    half_w, half_h = label.width / 2, label.height / 2
    over: np.ndarray = (
        np.maximum(0, x0 - centres[:, 0] + half_w)
        + np.maximum(0, centres[:, 0] + half_w - x1)
        + np.maximum(0, y0 - centres[:, 1] + half_h)
        + np.maximum(0, centres[:, 1] + half_h - y1)
    )
    return over


def _place(
    label: Label,
    drawn: BaseGeometry,
    ink: BaseGeometry | None,
    bounds: tuple[float, float, float, float] | None,
    others: tuple[PlacedLabel, ...],
    reserved: Sequence[Vec2],
) -> PlacedLabel:
    """Return the cheapest free place; ``reserved`` are anchors no box may cover."""
    stretch = 1.0
    while True:
        walled_in = stretch > WALLED_IN
        centres, owners = _rings(label, stretch)
        anchors = np.array(label.anchors)[owners]
        boxes = _boxes(label, centres, GAP)
        leaders = np.asarray(shapely.linestrings(np.stack([centres, anchors], axis=1)))
        free = ~shapely.intersects(boxes, drawn)
        if reserved and not walled_in:
            free &= ~shapely.intersects(boxes, MultiPoint(list(reserved)))
        cost = np.hypot(*(centres - anchors).T) + 1.5 * owners
        if bounds is not None:
            cost += 20.0 * _outside(label, centres, bounds)
        for other in others:
            box = shapely.box(*other.box)
            free &= ~shapely.intersects(boxes, box)
            if label.leader and walled_in:
                cost += 1000.0 * shapely.intersects(leaders, box)
            elif label.leader:
                free &= ~shapely.intersects(leaders, box)
            if other.leader:
                line = LineString(other.leader)
                free &= ~shapely.intersects(boxes, line)
                if label.leader:
                    cost += 60.0 * shapely.intersects(leaders, line)
        if bool(free.any()):
            cost = np.round(np.where(free, cost, np.inf), 6)
            few = np.argsort(cost, kind="stable")[:CLOSER]
            total = cost[few]
            if label.leader:
                total = total + _crossing_cost(leaders[few], drawn, ink)
            best = int(few[np.argmin(np.round(total, 6))])
            return _placed(label, tuple(map(float, centres[best])), label.anchors[owners[best]])
        stretch *= 1.6


def _crossing_cost(
    leaders: np.ndarray, drawn: BaseGeometry, ink: BaseGeometry | None
) -> np.ndarray:
    """Return what leaders cost for running over the drawing and across its lines."""
    cost: np.ndarray = 0.8 * shapely.length(shapely.intersection(leaders, drawn))
    if ink is not None:
        crossed = shapely.intersection(leaders, ink)
        cost = cost + 1.0 * shapely.get_num_geometries(crossed) + 3.0 * shapely.length(crossed)
    return cost


def _placed(label: Label, centre: tuple[float, ...], anchor: Vec2) -> PlacedLabel:
    x, y = centre
    half_w, half_h = label.width / 2, label.height / 2
    box = (x - half_w, y - half_h, x + half_w, y + half_h)
    leader: tuple[Vec2, ...] = ()
    if label.leader:
        leader = (_leader_start(label, (x, y), anchor), anchor)
    return PlacedLabel(key=label.key, centre=(x, y), box=box, anchor=anchor, leader=leader)


def _leader_start(label: Label, centre: Vec2, anchor: Vec2) -> Vec2:
    """Return where the leader leaves the balloon or the box."""
    dx, dy = anchor[0] - centre[0], anchor[1] - centre[1]
    length = math.hypot(dx, dy)
    if label.radius > 0:
        share = label.radius / length
    else:
        share = min(
            (label.width / 2 + 0.4) / abs(dx) if dx else math.inf,
            (label.height / 2 + 0.4) / abs(dy) if dy else math.inf,
        )
    return (centre[0] + dx * share, centre[1] + dy * share)


def visible_point(area: BaseGeometry) -> Vec2 | None:
    """Return the point of an area that is farthest from its rim, or None for no area."""
    polygons = [p for p in getattr(area, "geoms", [area]) if isinstance(p, Polygon) and p.area > 0]
    if not polygons:
        return None
    largest = max(polygons, key=lambda p: (round(p.area, 6), p.centroid.x))
    point = shapely.get_coordinates(shapely.maximum_inscribed_circle(largest, tolerance=0.5))[0]
    return (float(point[0]), float(point[1]))
