"""Parts that leave by more than one move: the room they take on their way, and what is in it.

The room is never sampled. A body that slides takes the hull of its two ends. Of a body that
tilts every corner runs on an arc; each degree of it lies in the triangle of the arc's ends
and the point where their tangents meet, and because turning is linear the body stays in the
hull of its corners' triangles. So what is called clear is clear, and what lies within the
triangles' excess (at a metre from the line four hundredths of a millimetre) counts as blocked.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kdkit.frames import Vec3
from kdkit.plan.motion.bodies import Body
from kdkit.plan.motion.collisions import Pairs, passing_through
from kdkit.plan.motion.directions import direction_words, opposite
from kdkit.plan.motion.sweep import Flags, Stock, overlapping
from kdkit.plan.plan import Moves, Slide, Tilt
from kdkit.units import mm_text

__all__ = [
    "Pose",
    "find_collisions_along",
    "lets_pass",
    "moves_words",
    "out_of_all",
    "reversed_moves",
    "rooms",
    "seen_from_the_rest",
]

Array = NDArray[np.float64]

_STEP = math.radians(1.0)
_ALONG = 1 - 1e-9  # cosine


@dataclass(frozen=True, eq=False)
class Pose:
    """Where something has got to: a point p is at ``turn`` · p + ``shift``."""

    turn: Array
    shift: Array

    @staticmethod
    def at_rest() -> Pose:
        """The pose of what has not moved."""
        return Pose(np.eye(3), np.zeros(3))

    def after(self, move: Slide | Tilt) -> Pose:
        """Return the pose once a move (of finite length) has been made."""
        if isinstance(move, Slide):
            return Pose(self.turn, self.shift + move.length * np.asarray(move.way))
        turn = _turn(move.axis, math.radians(move.angle_deg))
        point = np.asarray(move.point)
        return Pose(turn @ self.turn, turn @ (self.shift - point) + point)

    def of(self, stock: Stock) -> Stock:
        """Return bodies where they have got to."""
        back = self.turn.T
        return stock.changed(lambda v, e, n: (v @ back + self.shift, e @ back, n @ back))


def reversed_moves(moves: Moves) -> Moves:
    """Return the way in of what goes out by some moves."""
    back: list[Slide | Tilt] = []
    for move in reversed(moves):
        if isinstance(move, Slide):
            back.append(Slide(opposite(move.way), move.length))
        else:
            back.append(replace(move, angle_deg=-move.angle_deg))
    return tuple(back)


def seen_from_the_rest(moves: Moves) -> Moves:
    """Return the moves of all the rest by which it leaves, if what left stays instead."""
    found: list[Slide | Tilt] = []
    pose = Pose.at_rest()
    for move in moves:
        back = pose.turn.T
        if isinstance(move, Slide):
            found.append(Slide(_vec(-(back @ np.asarray(move.way))), move.length))
            if math.isinf(move.length):
                break
        else:
            found.append(
                Tilt(
                    _vec(back @ (np.asarray(move.point) - pose.shift)),
                    _vec(back @ np.asarray(move.axis)),
                    -move.angle_deg,
                )
            )
        pose = pose.after(move)
    return tuple(found)


def moves_words(moves: Moves) -> str:
    """Return moves as people say them of the finished product: "31 mm upwards and then …"."""
    words = []
    for move in moves:
        if isinstance(move, Tilt):
            words.append(f"tilted by {abs(move.angle_deg):g} degrees")
        elif math.isinf(move.length):
            words.append(direction_words(move.way))
        else:
            words.append(f"{mm_text(move.length)} mm {direction_words(move.way)}")
    return " and then ".join(words)


def out_of_all(stock: Stock) -> float:
    """Return a length by which a move takes any of some bodies out of all the others."""
    low, high = stock.extents(np.eye(3))
    return 4.0 * float(np.linalg.norm(high.max(axis=0) - low.min(axis=0))) + 100.0


def rooms(stock: Stock, pose: Pose, move: Slide | Tilt, far: float) -> Iterator[Stock]:
    """Yield the room that bodies take during a move, as one convex body each, bit by bit.

    Args:
        pose: where they have got to before.
        far: the length of a move out of everything.
    """
    if isinstance(move, Slide):
        yield _slid(pose.of(stock), min(move.length, far) * np.asarray(move.way))
        return
    count = max(1, math.ceil(abs(math.radians(move.angle_deg)) / _STEP - 1e-9))
    bit = replace(move, angle_deg=move.angle_deg / count)
    for _ in range(count):
        yield _turned(pose.of(stock), bit)
        pose = pose.after(bit)


def lets_pass(bodies: Sequence[Body], pairs: Pairs, move: Slide | Tilt) -> Flags:
    """Tell of each pair of bodies whether a bore lets them past each other in the first move.

    It lets a pin out along itself, and nothing else.
    """
    count = len(bodies)
    passes = np.zeros((count, count), dtype=np.bool_)
    if not isinstance(move, Slide):
        return passes
    along = np.array(
        [b.axis is not None and abs(float(np.dot(b.axis, move.way))) > _ALONG for b in bodies]
    )
    everyone = np.arange(count)
    rows, columns = (a.ravel() for a in np.meshgrid(everyone, everyone, indexing="ij"))
    one_joint = ~pairs.wanted(rows, columns).reshape(count, count)
    passes |= one_joint & (along[:, None] | along[None, :])
    for n, m, _ in passing_through(bodies, pairs):
        if along[n]:
            passes[n, m] = passes[m, n] = True
    return passes


def find_collisions_along(
    bodies: Sequence[Body],
    moves: Moves,
    company: Callable[[Body], Hashable],
    decided: Callable[[int, Body, Body], bool],
) -> Iterator[tuple[int, Body, Body]]:
    """Yield (0, moving body, body in its way), and (1, …) for the moves seen from the rest.

    As ``find_collisions`` does for straight ways.

    Args:
        moves: by which parts leave, the last out of everything.
    """
    if not bodies:
        return
    stock = Stock([body.shape for body in bodies])
    pairs = Pairs(bodies)
    apart = pairs.owner[:, None] != pairs.owner[None, :]
    hits = np.zeros_like(apart)
    far = out_of_all(stock)
    pose = Pose.at_rest()
    for number, move in enumerate(moves):
        wanted = apart & ~hits
        if number == 0:
            wanted &= ~lets_pass(bodies, pairs, move)
        for taken in rooms(stock, pose, move, far):
            rows, columns = overlapping(taken, stock, wanted)
            hits[rows, columns] = True
            wanted[rows, columns] = False
        if not (isinstance(move, Slide) and math.isinf(move.length)):
            pose = pose.after(move)
    hard = np.array([body.fastener is not None for body in bodies])
    rows, columns = np.nonzero(hits)
    order = np.argsort(hard[rows] | hard[columns], kind="stable")
    seen: set[object] = set()
    for n, m in zip(rows[order], columns[order], strict=True):
        one, other = bodies[int(n)], bodies[int(m)]
        key = (one.part, company(one), other.part, company(other))
        if key in seen or (decided(0, one, other) and decided(1, other, one)):
            continue
        seen.add(key)
        yield 0, one, other
        yield 1, other, one


def _slid(stock: Stock, by: Array) -> Stock:
    length = float(np.linalg.norm(by))

    def change(v: Array, e: Array, n: Array) -> tuple[Array, Array, Array]:
        sides = np.cross(e, by)
        along = np.broadcast_to(by / length if length > 0 else by, (len(v), 1, 3))
        return (
            np.concatenate([v, v + by], axis=1),
            np.concatenate([e, along], axis=1),
            np.concatenate([n, sides, -sides], axis=1),
        )

    return stock.changed(change)


def _turned(stock: Stock, bit: Tilt) -> Stock:
    """The hulls of the triangles round the arcs of all corners."""
    half, whole = (
        Pose.at_rest().after(replace(bit, angle_deg=share * bit.angle_deg)) for share in (0.5, 1.0)
    )
    point, axis = np.asarray(bit.point), np.asarray(bit.axis)
    reach = 1.0 / math.cos(math.radians(bit.angle_deg) / 2)

    def change(v: Array, e: Array, n: Array) -> tuple[Array, Array, Array]:
        at_half = v @ half.turn.T + half.shift
        on_line = point + ((at_half - point) @ axis)[:, :, None] * axis
        peaks = on_line + reach * (at_half - on_line)
        return (
            np.concatenate([v, peaks, v @ whole.turn.T + whole.shift], axis=1),
            np.concatenate([e, e @ half.turn.T, e @ whole.turn.T], axis=1),
            np.concatenate([n, n @ half.turn.T, n @ whole.turn.T], axis=1),
        )

    return stock.changed(change)


def _turn(axis: Vec3, angle: float) -> Array:
    """The matrix of a turn about an axis (Rodrigues' formula)."""
    x, y, z = axis
    k = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    turned: Array = np.eye(3) + math.sin(angle) * k + (1 - math.cos(angle)) * (k @ k)
    return turned


def _vec(v: Array) -> Vec3:
    x, y, z = (round(float(c), 12) + 0.0 for c in v)
    return (x, y, z)
