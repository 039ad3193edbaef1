"""Each step as a scene: what is there, where it goes to, and from where it is first seen.

Takes the sketches, gives a ``Round``: every solid once, every place once, and for each step
which of them it shows and how the new ones travel. All in millimetres of the product frame.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kdkit.frames import Frame, add, dot, scaled, sub
from kdkit.illustrate.bodies.body import Form
from kdkit.illustrate.bodies.hardware import Locked, item_body
from kdkit.illustrate.figures.sketches import Sketches
from kdkit.illustrate.figures.step_figure import StepSketch
from kdkit.illustrate.in_the_round.meshes import Mesh, mesh_of
from kdkit.illustrate.staging.build_state import ItemState, StepState, action_of
from kdkit.illustrate.staging.explode import Leg
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject, closed_in, fitted_rise, item_name
from kdkit.illustrate.staging.tilted import tilts_of
from kdkit.illustrate.staging.wall import wall_bodies
from kdkit.parts.postures import Posture
from kdkit.plan.plan import Tilt

__all__ = ["Moving", "Place", "Round", "Scene", "View3", "draw_round"]

FINE = 0.25
"""The scale, 1 : 4, for which curves are made: a reader brings the work near."""

DRIVEN, LOCKED = 2.0, 0.5
"""Turns that a screw is seen to make on its way in; turns of what is locked in its place and
whose look does not say how far it turns. Common practice, no source."""


@dataclass(frozen=True)
class Place:
    """A solid where it is in the end: the number of its mesh, and its frame."""

    mesh: int
    frame: Frame
    role: str


@dataclass(frozen=True)
class Moving:
    """A place that is reached in this step.

    ``legs``: stretches to it, in their order, which a stretch's ``turn`` numbers from 0.
    ``spin``: turns clockwise about its own axis k, in the last of the turns. ``tilt``: it
    comes in tilted, and is set up at the end of the last of its turns.
    """

    place: int
    legs: tuple[Leg, ...]
    spin: float = 0.0
    turn: int = 0
    tilt: Tilt | None = None


@dataclass(frozen=True)
class View3:
    """What is seen together: places that stay, places that are reached, and how it lies.

    ``handled``: places, staying ones too, that this step is about. ``azimuth_deg`` and
    ``elevation_deg`` as in ``Viewpoint``; ``before``: the posture it is turned from.
    """

    there: tuple[int, ...]
    moving: tuple[Moving, ...]
    handled: tuple[int, ...]
    posture: Posture
    before: Posture
    azimuth_deg: float
    elevation_deg: float


@dataclass(frozen=True)
class Scene:
    """One step: its views side by side, and how many turns its motions take."""

    views: tuple[View3, ...]
    turns: int


@dataclass(kw_only=True)
class Round:
    """All steps of a product as solids; ``scenes`` by the step's number."""

    meshes: list[Mesh] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    scenes: dict[int, Scene] = field(default_factory=dict)
    _known: dict[Mesh, int] = field(default_factory=dict)
    _placed: dict[Place, int] = field(default_factory=dict)

    def place(self, mesh: Mesh, frame: Frame, role: str) -> int:
        """Return the number of a place, known before or new."""
        number = self._known.setdefault(mesh, len(self.meshes))
        if number == len(self.meshes):
            self.meshes.append(mesh)
        place = Place(number, frame, role)
        at = self._placed.setdefault(place, len(self.places))
        if at == len(self.places):
            self.places.append(place)
        return at


def draw_round(sketches: Sketches) -> Round:
    """Return the steps of a product as solids that move.

    The cost grows with the pieces shown, step by step; a solid is made once.
    """
    maker = _Maker(subject=sketches.subject)
    lying: dict[str, Posture] = {}
    for sketch in sketches.steps.values():
        step, bench = sketch.state.step, sketch.state.bench
        before = step.posture if bench else lying.get(step.subassembly, step.posture)
        if not bench:
            lying[step.subassembly] = step.posture
        maker.add(sketch, before)
    return maker.round


@dataclass(kw_only=True)
class _Maker:
    """Makes scenes; keeps the meshes of parts and hardware."""

    subject: Subject
    round: Round = field(default_factory=Round)
    _parts: dict[str, int] = field(default_factory=dict)
    _items: dict[tuple[str, int, bool], int] = field(default_factory=dict)
    _forms: dict[int, tuple[Form, Mesh]] = field(default_factory=dict)

    def add(self, sketch: StepSketch, before: Posture) -> None:
        """Add a step. ``before``: how the work lay before it."""
        moved = {
            turn
            for plate in sketch.plates
            for turn in (
                *(leg.turn for legs in plate.apart.legs.values() for leg in legs),
                *(_turn_of(one, plate.state) for one in plate.state.items if one.handled),
            )
        }
        turns = {turn: n for n, turn in enumerate(sorted(moved))}
        views = tuple(
            self._view(plate, plate.posture if sketch.state.bench else before, turns)
            for plate in sketch.plates
        )
        self.round.scenes[sketch.state.step.number] = Scene(views, len(turns))

    def _view(self, plate: Plate, before: Posture, turns: Mapping[int, int]) -> View3:
        state, apart = plate.state, plate.apart
        tilts = tilts_of(state)
        there: list[int] = []
        moving: list[Moving] = []
        handled: list[int] = []
        for name in state.parts:
            place = self._part(name)
            if name in state.new:
                handled.append(place)
            legs = _renumbered(apart.legs.get(name, ()), turns)
            if legs:
                moving.append(Moving(place, legs, turn=legs[-1].turn, tilt=tilts.get(name)))
            else:
                there.append(place)
        for one, shift, mouth in zip(state.items, apart.items, apart.mouths, strict=True):
            if not one.handled and closed_in(one, apart):
                continue
            place = self._item(one, mouth)
            if one.handled:
                handled.append(place)
            host = apart.parts[one.host]
            legs = _renumbered(apart.legs.get(one.host, ()), turns)
            turn = legs[-1].turn if legs else 0
            tilt = tilts.get(one.host)
            if one.new:
                turn = turns[_turn_of(one, state)]
                way = scaled(one.item.frame.k, -dot(sub(shift, host), one.item.frame.k))
                legs = tuple(sorted((*legs, Leg(turn, way)), key=lambda leg: leg.turn))
            elif one.turned:
                turn = turns[_turn_of(one, state)]
            spin = self._spin(one)
            if legs or spin:
                moving.append(Moving(place, legs, spin, turn, tilt))
            else:
                there.append(place)
        for body in wall_bodies(self.subject, state):
            there.append(self.round.place(mesh_of(body.form), body.frame, "wall"))
        look = plate.view.viewpoint
        return View3(
            there=tuple(there),
            moving=tuple(moving),
            handled=tuple(handled),
            posture=plate.posture,
            before=before,
            azimuth_deg=look.azimuth_deg,
            elevation_deg=look.elevation_deg,
        )

    def _part(self, name: str) -> int:
        if name not in self._parts:
            body = self.subject.body(name, "existing", FINE)
            self._parts[name] = self.round.place(mesh_of(body.form), body.frame, "part")
        return self._parts[name]

    def _item(self, one: ItemState, mouth: float) -> int:
        """Return where a piece of hardware is in the end, also of a part that comes tilted."""
        locked = one.locked != "not yet"
        key = (one.fastener.id, one.item.index, locked)
        if key not in self._items:
            frame = next(i.frame for i in one.fastener.items if i.index == one.item.index)
            item = self.subject.catalogue.items[one.item.item]
            rise = scaled(frame.k, fitted_rise(item, mouth))
            raised = Frame(add(frame.origin, rise), frame.i, frame.j, frame.k)
            state: Locked = "already" if locked else "not yet"
            body = item_body(item_name(one), item, raised, scale=FINE, locked=state)
            mesh = self._mesh(body.form)
            self._items[key] = self.round.place(mesh, body.frame, "hardware")
        return self._items[key]

    def _mesh(self, form: Form) -> Mesh:
        if id(form) not in self._forms:
            self._forms[id(form)] = form, mesh_of(form)
        return self._forms[id(form)][1]

    def _spin(self, one: ItemState) -> float:
        if one.turned:
            look = self.subject.catalogue.items[one.item.item].look
            return look.turn_deg / 360.0 if look is not None and look.turn_deg else LOCKED
        if not one.new:
            return 0.0
        action = action_of(self.subject.joinery, one.fastener, one.item.item)
        return DRIVEN if action is not None and action.do in _DRIVEN else 0.0


_DRIVEN = frozenset({"drive", "screw-in", "screw-on"})


def _renumbered(legs: tuple[Leg, ...], turns: Mapping[int, int]) -> tuple[Leg, ...]:
    return tuple(Leg(turns[leg.turn], leg.by) for leg in legs)


def _turn_of(one: ItemState, state: StepState) -> int:
    """Return the number of the operation in which something is done to a piece."""
    return next((n for n, o in enumerate(state.operations) if o is one.operation), 0)
