"""What must hold within one entry of a catalogue beyond the kinds of its values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import pairwise
from typing import get_args

from kdkit.catalogue.entries import Action, Fitting, Item, Lean
from kdkit.catalogue.faults import bad_value, unknown_name
from kdkit.catalogue.formulas import item_names
from kdkit.catalogue.looks import Look
from kdkit.catalogue.machines import Machine
from kdkit.diagnostics import Path, Problem

__all__ = ["check_item", "check_machine", "check_references", "check_time"]

_MACHINING = ("set-up", "bore", "slot", "groove", "other")


def check_references(
    fitting: Fitting, path: Path, names: Mapping[str, set[str]]
) -> Iterable[Problem]:
    """Tell what a fitting names that is not there, and what of it contradicts itself."""
    for n, rule in enumerate(fitting.items):
        for item in item_names(rule.item, fitting):
            if item not in names["items"]:
                here = (*path, "items", n, "item")
                yield unknown_name(here, "items", item, sorted(names["items"]))
    yield from _check_choices(fitting, path)
    used = {rule.item for rule in fitting.items}
    for n, action in enumerate(fitting.actions):
        here = (*path, "actions", n)
        if action.item is not None and action.item not in used:
            yield unknown_name((*here, "item"), "items of this fitting", action.item, sorted(used))
        if action.tool is not None and action.tool not in names["tools"]:
            yield unknown_name((*here, "tool"), "tools", action.tool, sorted(names["tools"]))
    purposes = {bore.purpose for bore in fitting.bores} | {s.purpose for s in fitting.slots}
    meets = [("bores", n, bore.meets) for n, bore in enumerate(fitting.bores)]
    meets += [("slots", n, slot.meets) for n, slot in enumerate(fitting.slots)]
    for cut, n, named in meets:
        for m, purpose in enumerate(named):
            if purpose not in purposes:
                place = (*path, cut, n, "meets", m)
                kind = "bores and slots of this fitting"
                yield unknown_name(place, kind, purpose, sorted(purposes))
    for n, bore in enumerate(fitting.bores):
        if fitting.kind == "fixture" and bore.member == "butting":
            yield bad_value((*path, "bores", n, "member"), "a fixture has a receiving member only")
    leans = [(("bores", n, "into"), b.into) for n, b in enumerate(fitting.bores)]
    leans += [(("items", n, "out"), i.out) for n, i in enumerate(fitting.items)]
    for inner, lean in leans:
        if isinstance(lean, Lean) and lean.along[1] == lean.towards[1]:
            yield bad_value((*path, *inner), "a direction leans towards another axis than its own")
    for n, slot in enumerate(fitting.slots):
        here = (*path, "slots", n)
        if (slot.length is None) == (slot.disc is None):
            yield bad_value(here, "a slot needs either length or disc")
        if slot.into[1] == slot.along[1]:
            yield bad_value((*here, "along"), "must be square to the way into the slot")
        if fitting.kind == "fixture" and slot.member == "butting":
            yield bad_value((*here, "member"), "a fixture has a receiving member only")
    spread = "facing" not in fitting.contact  # there it stands once, in the middle
    if fitting.kind == "joint" and spread and (fitting.items or fitting.bores or fitting.slots):
        for word in ("ends", "pitch"):
            if getattr(fitting, word) is None:
                yield bad_value((*path, word), "is missing, but the fitting must be spread")
    if (fitting.groove_width is None) != (fitting.groove_depth is None):
        yield bad_value(path, "a groove needs groove_width and groove_depth")


def _check_choices(fitting: Fitting, path: Path) -> Iterable[Problem]:
    for name, sizes in fitting.choices.items():
        here = (*path, "choices", name)
        if name not in fitting.options:
            yield unknown_name(here, "options", name, sorted(fitting.options))
        elif fitting.options[name] not in sizes:
            yield bad_value(here, f"must hold {fitting.options[name]:g}, as under options")
    for n, need in enumerate(fitting.needs):
        if need.least is None and need.most is None:
            yield bad_value((*path, "needs", n), "needs least or most")
        least, most = need.least, need.most
        if isinstance(least, float) and isinstance(most, float) and least > most:
            yield bad_value((*path, "needs", n), "least is larger than most")
    for word in ("run", "mass"):
        rows = getattr(fitting.counts, word) if fitting.counts is not None else ()
        if any(a[0] >= b[0] or a[1] > b[1] for a, b in pairwise(rows)):
            yield bad_value((*path, "counts", word), "must rise row by row")


def check_item(item: Item, path: Path) -> Iterable[Problem]:
    """Tell which of an item's pieces have no shape, and what of its look has none."""
    for n, piece in enumerate(item.pieces):
        here = (*path, "pieces", n)
        if piece.z0 >= piece.z1:
            yield bad_value((*here, "z0"), "must be below z1")
        if piece.kind in ("cone", "box", "lens") and piece.d1 is None:
            yield bad_value(here, f"a {piece.kind} needs d1")
    if item.look is not None:
        yield from _check_look(item.look, (*path, "look"))


def _check_look(look: Look, path: Path) -> Iterable[Problem]:
    spans = [("prisms", n, p.low, p.high) for n, p in enumerate(look.prisms)]
    spans += [("drums", n, d.low, d.high) for n, d in enumerate(look.drums)]
    for name, n, low, high in spans:
        if low >= high:
            yield bad_value((*path, name, n, "low"), "must be below high")
    for n, prism in enumerate(look.prisms):
        ring = prism.outline
        twice = sum(p[0] * q[1] - q[0] * p[1] for p, q in pairwise((*ring, ring[0])))
        if twice <= 0:
            yield bad_value((*path, "prisms", n, "outline"), "must turn counter-clockwise")
        if len(set(ring)) < len(ring):
            yield bad_value((*path, "prisms", n, "outline"), "has a corner twice")
    for n, drum in enumerate(look.drums):
        if drum.opening >= drum.diameter or abs(drum.ends) >= drum.diameter / 2:
            yield bad_value((*path, "drums", n), "its opening must lie inside its diameter")
    for n, sign in enumerate(look.signs):
        if sign.side[1] == sign.to[1]:
            yield bad_value((*path, "signs", n, "to"), "must run along its surface, not out of it")


def check_time(name: str) -> Iterable[Problem]:
    """Tell of a time for what nobody does."""
    known = sorted({*get_args(Action.model_fields["do"].annotation), *_MACHINING})
    if name not in known:
        yield unknown_name(("times", name), "actions and kinds of machining", name, known)


def check_machine(machine: Machine, path: Path) -> Iterable[Problem]:
    """Tell of feeding that would begin above where the tool travels."""
    near, safe = machine.near_height, machine.safe_height
    if near > safe:
        said, text = "near_height", f"{near:g} mm is above safe_height, {safe:g} mm"
        if said not in machine.model_fields_set:
            said, text = "safe_height", f"{safe:g} mm is below near_height, {near:g} mm"
        yield replace(
            bad_value((*path, said), text),
            help="feeding begins close to the panel, travelling is done higher, above clamps",
        )
