"""What can be read in a step's figure, in numbers: a bad figure is found before it is printed.

Takes a step's sketch and its picture as composed for its page, gives a ``FigureScore`` and,
where bounds are broken, warnings. Nothing is drawn here.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import shapely

from kdkit.areas import join
from kdkit.diagnostics import Problem, warning
from kdkit.frames import Vec2, Vec3, add, cross, dot, scaled, sub, unit
from kdkit.illustrate.bodies.parts import LEAST_BORE
from kdkit.illustrate.figures.step_figure import StepPicture, StepSketch
from kdkit.illustrate.hidden_lines.drawing import Drawing
from kdkit.illustrate.hidden_lines.view import View, turn_between
from kdkit.illustrate.paper.figure import Text
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject
from kdkit.joinery.placed import Bore
from kdkit.plan.plan import OperationKind
from kdkit.schedule.schedules import Schedules

__all__ = [
    "CONTEXT_SEEN",
    "NEW_SEEN",
    "SMALLEST_BORE",
    "VIEW_TURN",
    "FigureScore",
    "judge_scores",
    "score_step",
]

# Bounds: common practice, no source.
NEW_SEEN = 0.8
"""Least share in sight of what a new part turns to the viewer, and of the joints' places."""

CONTEXT_SEEN = 0.5
"""The same of the parts that are there already."""

SMALLEST_BORE = 0.7
"""Least diameter on paper of a bore that hardware goes into, in the picture or a detail, mm."""

VIEW_TURN = 90.0
"""More than this the view does not turn from one step to the next unless it is drawn, degrees."""

_COARSE = 0.1
"""Fineness of curves for an outline's area."""

_RIM = 8  # points looked at round a mouth
_FACING = 0.05  # a mouth that is turned away more than this is not in sight


@dataclass(frozen=True, kw_only=True)
class FigureScore:
    """The numbers of one step's figure. A share is from 0 to 1; None where there is nothing.

    Args:
        step: its number.
        part: of the new parts the one that is seen least, or the first of joined parts that
            come in as one; new_seen: the share in sight of the surface that it, or they
            together, turn to the viewer.
        bores_seen: share of the joints' places of which a mouth, on either part, or the
            hardware that stands in it is in sight.
        bores_shown: the same, a place also counted where a detail shows one of its kind.
        context_seen: as ``new_seen``, of all parts that are there already.
        smallest_bore: diameter on paper of the smallest bore that hardware goes into, in
            the picture or in its detail, whichever is larger; mm.
        smallest_letter: height of the smallest letters, mm.
        turn_deg: by how much the view of the work turns from the last step of the same work.
        turn_drawn: the picture shows that the work is turned.
        new_kinds: how many different parts come in.
        fill: width times height of the figure as a share of its room.
    """

    step: int
    part: str = ""
    new_seen: float | None = None
    bores_seen: float | None = None
    bores_shown: float | None = None
    context_seen: float | None = None
    smallest_bore: float | None = None
    smallest_letter: float | None = None
    turn_deg: float | None = None
    turn_drawn: bool = False
    new_kinds: int = 0
    fill: float = 0.0


@dataclass(frozen=True, kw_only=True)
class _Place:
    """Where a fastener's bores meet in a picture: in sight, shown by a detail, how large."""

    seen: bool
    shown: bool
    takes: bool
    diameter: float


def score_step(
    sketch: StepSketch,
    picture: StepPicture,
    room: FigureBox,
    subject: Subject,
    schedules: Schedules,
    last: View | None,
) -> FigureScore:
    """Return the score of a step's figure.

    Args:
        sketch: of the step; picture: as it was composed for its room.
        last: the view of the step before on the same work, None for the first.
    """
    state, unplaced = sketch.state, sketch.unplaced
    letters = [p.size for p in picture.figure.primitives if isinstance(p, Text)]
    fill = picture.figure.width * picture.figure.height / (room.width * room.height)
    smallest_letter = min(letters, default=None)
    if unplaced is None:
        return FigureScore(
            step=state.step.number, smallest_letter=smallest_letter, turn_drawn=True, fill=fill
        )
    pairs = list(zip(sketch.plates, picture.drawings, strict=True))
    new = dict(share for plate, drawing in pairs for share in _coming_in(plate, drawing, subject))
    part = min(new, key=lambda name: (round(new[name], 6), name), default="")
    places = [
        place
        for n, (plate, drawing) in enumerate(pairs)
        for place in _places(sketch, n, plate, drawing, picture.scale, subject)
    ]
    return FigureScore(
        step=state.step.number,
        part=part,
        new_seen=new[part] if part else None,
        bores_seen=_share([p.seen for p in places]),
        bores_shown=_share([p.seen or p.shown for p in places]),
        context_seen=None if state.bench else _context(pairs),
        smallest_bore=min((p.diameter for p in places if p.takes), default=None),
        smallest_letter=smallest_letter,
        turn_deg=None if last is None else turn_between(last, sketch.plates[0].view),
        turn_drawn=sketch.turn_drawn,
        new_kinds=len({schedules.letter_of(name) for name in state.new}),
        fill=fill,
    )


def _share(flags: Sequence[bool]) -> float | None:
    return sum(flags) / len(flags) if flags else None


def _coming_in(plate: Plate, drawing: Drawing, subject: Subject) -> Iterator[tuple[str, float]]:
    """Yield for each new part, or joined parts that come in as one, the share in sight.

    What is joined already hides some of itself: it counts as seen against its own outline.
    """
    new = [part for part in plate.state.new if part in plate.state.parts]
    joined = [[p for p in new if p in group] for group in _joined(plate)]
    joined = [group for group in joined if group]
    alone = [[part] for part in new if not any(part in group for group in joined)]
    for group in joined + alone:
        full = sum(drawing.facing.get(part, 0.0) for part in group)
        if len(group) > 1:
            full = _outline_area(group, plate, subject)
        seen = sum(drawing.facing.get(p, 0.0) * drawing.shown.get(p, 0.0) for p in group)
        yield group[0], min(1.0, seen / full) if full else 0.0


def _outline_area(group: Sequence[str], plate: Plate, subject: Subject) -> float:
    """Return the area that joined parts cover for the viewer, mm² of product."""
    view = plate.view.at_scale(1.0)
    faces = []
    for name in group:
        body = subject.body(name, "new", _COARSE).moved(plate.apart.parts[name])
        for face in body.faces:
            if dot(face.normal, view.toward) > 0:
                faces.append(shapely.Polygon([view.project(p)[:2] for p in face.outer]))
    return join(faces).area


def _joined(plate: Plate) -> list[set[str]]:
    """Return the parts of what comes in as one, joined already."""
    brought = (OperationKind.MATE, OperationKind.LOAD)
    return [set(o.parts) for o in plate.state.operations if o.kind in brought and len(o.parts) > 1]


def _context(pairs: Sequence[tuple[Plate, Drawing]]) -> float | None:
    full = part = 0.0
    for plate, drawing in pairs:
        for name in plate.state.parts:
            if name not in plate.state.new:
                area = drawing.facing.get(name, 0.0)
                full += area
                part += area * drawing.shown.get(name, 0.0)
    return part / full if full else None


def _places(
    sketch: StepSketch, n: int, plate: Plate, drawing: Drawing, scale: float, subject: Subject
) -> Iterator[_Place]:
    """Yield the places at which a plate's joints meet or take hardware."""
    moving = {p for travel in plate.apart.travels for p in travel.parts}
    takes = {(one.fastener.id, one.host) for one in plate.state.items if one.new}
    fasteners = {f.id: f for f in subject.joinery.fasteners}
    windows, joined = _windows(sketch), _joined(plate)
    bores: dict[str, list[Bore]] = {}
    for bore in subject.joinery.bores:
        if bore.fastener is None or bore.spare or bore.part not in plate.apart.parts:
            continue
        if bore.stage != "workshop" or bore.diameter < LEAST_BORE:
            continue
        fastener = fasteners[bore.fastener]
        members = {fastener.butting, fastener.receiving}
        meets = bool(members & moving) and members - {None} <= set(plate.apart.parts)
        meets = meets and not any(members <= group for group in joined)
        if meets or (bore.fastener, bore.part) in takes:
            bores.setdefault(bore.fastener, []).append(bore)
    seen = _Surfaces(drawing)
    for id, mouths in bores.items():
        window = windows.get(fasteners[id].fitting.partition("[")[0], 0.0)
        taking = [b for b in mouths if (id, b.part) in takes]
        yield _Place(
            seen=any(seen.mouth(bore, id, plate, subject) for bore in mouths),
            shown=window > 0,
            takes=bool(taking),
            diameter=min((b.diameter for b in taking), default=0.0) * max(scale, window),
        )


def _windows(sketch: StepSketch) -> Mapping[str, float]:
    """Return for each kind of fitting that a detail shows the detail's scale."""
    found: dict[str, float] = {}
    unplaced = sketch.unplaced
    assert unplaced is not None
    for detail, window in zip(unplaced.details, unplaced.windows, strict=True):
        for n in detail.states:
            one = sketch.plates[detail.plate].state.items[n]
            fitting = one.fastener.fitting.partition("[")[0]
            found[fitting] = max(found.get(fitting, 0.0), window.scale)
    return found


class _Surfaces:
    """The visible surfaces of a drawing, by body."""

    def __init__(self, drawing: Drawing) -> None:
        self.view = drawing.view
        regions = [region for region in drawing.regions if not region.is_mark]
        self._bodies = [region.body for region in regions]
        self._tree = shapely.STRtree([shapely.Polygon(r.outer, r.holes) for r in regions])

    def at(self, p: Vec2) -> str | None:
        """Return the body that is seen at a place on paper."""
        hits = self._tree.query(shapely.Point(p), predicate="intersects").tolist()
        return self._bodies[hits[0]] if hits else None

    def mouth(self, bore: Bore, fastener: str, plate: Plate, subject: Subject) -> bool:
        """Tell whether most of a mouth's rim is in sight, or what stands in it is."""
        part = subject.assembly.part(bore.part).frame
        out = scaled(part.vector_to_outer(bore.into), -1.0)
        if dot(out, self.view.toward) < _FACING:
            return False
        middle = add(part.point_to_outer(bore.mouth), plate.apart.parts[bore.part])
        names = [self.at(self._on_paper(p)) for p in _rim(middle, out, bore.diameter)]
        good = sum(
            n is not None and (n == bore.part or n.startswith(f"{fastener}#")) for n in names
        )
        return good > _RIM / 2

    def _on_paper(self, p: Vec3) -> Vec2:
        x, y, _ = self.view.project(p)
        return (x, y)


def _rim(middle: Vec3, out: Vec3, diameter: float) -> list[Vec3]:
    """Return points a little outside a mouth, in its surface."""
    aside = (0.0, 0.0, 1.0) if abs(out[2]) < 0.9 else (1.0, 0.0, 0.0)
    i = unit(sub(aside, scaled(out, dot(aside, out))))
    j = cross(out, i)
    r = 0.55 * diameter
    turns = (2 * math.pi * n / _RIM for n in range(_RIM))
    return [add(middle, add(scaled(i, r * math.cos(a)), scaled(j, r * math.sin(a)))) for a in turns]


@dataclass(frozen=True, kw_only=True)
class _Bound:
    """A bound: which score breaks it, how that reads after the step's number, what to do."""

    message: str
    broken: Callable[[FigureScore], str | None]
    help: str


def judge_scores(scores: Iterable[FigureScore], letter_of: Callable[[str], str]) -> list[Problem]:
    """Return one warning for each bound that figures break, with the steps that do.

    Args:
        scores: of a manual's figures.
        letter_of: gives a part's letter.
    """
    found = list(scores)
    problems = []
    for bound in _bounds(letter_of):
        told = [(s.step, said) for s in found if (said := bound.broken(s)) is not None]
        if told:
            steps = ", ".join(f"{step} ({said})" for step, said in told)
            many = "pictures of steps" if len(told) > 1 else "picture of step"
            problems.append(
                warning("figure-unclear", f"{bound.message}: {many} {steps}", help=bound.help)
            )
    return problems


def _bounds(letter_of: Callable[[str], str]) -> tuple[_Bound, ...]:
    def new(s: FigureScore) -> str | None:
        low = s.new_seen is not None and round(s.new_seen, 2) < NEW_SEEN
        return f"{letter_of(s.part)}: {s.new_seen:.0%}" if low else None

    def places(s: FigureScore) -> str | None:
        low = s.bores_shown is not None and round(s.bores_shown, 2) < NEW_SEEN
        return f"{s.bores_shown:.0%}" if low else None

    def context(s: FigureScore) -> str | None:
        low = s.context_seen is not None and round(s.context_seen, 2) < CONTEXT_SEEN
        return f"{s.context_seen:.0%}" if low else None

    def bore(s: FigureScore) -> str | None:
        low = s.smallest_bore is not None and round(s.smallest_bore, 2) < SMALLEST_BORE
        return f"{s.smallest_bore:.1f} mm" if low else None

    def turn(s: FigureScore) -> str | None:
        far = s.turn_deg is not None and round(s.turn_deg) > VIEW_TURN and not s.turn_drawn
        return f"{s.turn_deg:.0f} degrees" if far else None

    return (
        _Bound(
            message=f"less than {NEW_SEEN:.0%} of a part that comes in is in sight",
            broken=new,
            help="join it earlier, or join later what stands before it",
        ),
        _Bound(
            message=f"less than {NEW_SEEN:.0%} of the places that are joined or fitted are in "
            "sight or in a detail",
            broken=places,
            help="join fewer parts in one step, or from another side",
        ),
        _Bound(
            message=f"less than {CONTEXT_SEEN:.0%} of what is there already is in sight",
            broken=context,
            help="join later what stands before it",
        ),
        _Bound(
            message=f"a bore that takes hardware is drawn smaller than {SMALLEST_BORE} mm",
            broken=bore,
            help="join fewer parts in one step: they are drawn larger",
        ),
        _Bound(
            message=f"seen more than {VIEW_TURN:.0f} degrees round from the step before, and no "
            "picture shows the turn",
            broken=turn,
            help="join the parts of one side after each other",
        ),
    )
