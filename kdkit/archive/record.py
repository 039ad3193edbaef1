"""The counts of a product as data, frozen beside the printed tables.

Printed tables are for people and may change their columns from one kdkit to the next. What
an archive is asked years later (which item, how many, in which bag; what differs between two
revisions) is read from this record, whose form has a number of its own.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from kdkit.publish.results import Results, board_title
from kdkit.schedule.schedules import DrilledPanel
from kdkit.schedule.uses import steps_of_hardware, steps_of_parts

__all__ = ["FORM", "make_record", "read_record"]

FORM = 1

_Words = Annotated[str, Field(max_length=1000)]
_Name = Annotated[str, Field(pattern=r"^[^/\\\x00-\x1f\x7f]{1,200}$")]
"""An item's key, which is part of files' names."""
_Count = Annotated[int, Field(ge=0, le=10**9)]
_Size = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]


class _Said(BaseModel):
    """What is read of a record. A later kdkit of the same form may have said more."""

    model_config = ConfigDict(extra="ignore", strict=True, frozen=True)


class _Line(_Said):
    item: _Name
    title: _Words
    size: _Words
    quantity: _Count
    bag: _Words
    supplied: bool
    fitted: _Count
    shrunk: _Count = 0
    steps: dict[Annotated[str, Field(pattern="^[0-9]{1,6}$")], _Count]
    used: list[_Count] = []


class _InBag(_Said):
    item: _Name
    needed: _Count
    spares: _Count


class _Bag(_Said):
    name: _Words
    items: list[_InBag]


class _Part(_Said):
    letter: Annotated[str, Field(pattern="^[A-Z]{1,4}$")]
    title: _Words
    quantity: _Count
    material: _Words
    board: _Words = ""
    size: list[_Size]
    cut: list[_Size]
    bands: dict[_Words, _Size]
    mass_kg: _Size
    names: Annotated[list[_Words], Field(min_length=1)]
    worked: list[_Words]
    used: list[_Count] = []


class _Step(_Said):
    number: _Count
    new: list[_Words]
    items: dict[_Name, _Count]


class _Record(_Said):
    form: int
    hardware: list[_Line]
    bags: list[_Bag] = []
    parts: list[_Part]
    steps: list[_Step]


def make_record(results: Results) -> bytes:
    """Return the record of a product: hardware, bags, parts with all that is worked in them, steps.

    Older records have no ``bags`` (before they were filled), no ``used`` (steps in which an item
    or a part is taken in hand) and no ``board`` (a material in words). Their form is the same
    otherwise.

    Lengths in mm to a hundredth, masses in grams and kilograms, in the frames of the
    drilling schedule.
    """
    schedules, said = results.schedules, results.resolved.said
    worked = {panel.letter: _worked(panel) for panel in schedules.drilling}
    items = steps_of_hardware(results.plan, results.joinery, results.catalogue)
    parts = steps_of_parts(results.plan)

    def used(names: Iterable[str]) -> list[int]:
        return sorted({step for name in names for step in parts.get(name, ())})

    told = {
        "form": FORM,
        "product": str(getattr(said, "product", "")),
        "revision": str(getattr(said, "revision", "")),
        "variant": results.resolved.variant or "",
        "mass_kg": _number(schedules.mass_kg),
        "hardware": [
            {
                "item": line.item,
                "title": line.title,
                "size": line.size,
                "quantity": line.quantity,
                "bag": ", ".join(line.bags),
                "supplied": line.supplied,
                "fitted": line.workshop,
                "mass_g": _number(line.mass_g),
                "shrunk": _shrunk(results, line.item),
                "steps": {str(step): count for step, count in line.per_step.items()},
                "used": list(items.get(line.item, ())),
            }
            for line in schedules.hardware
        ],
        "bags": [
            {
                "name": bag.name,
                "opened": bag.opened,
                "mass_g": _number(bag.mass_g),
                "limit_g": _number(bag.limit_g),
                "items": [
                    {"item": line.item, "needed": line.needed, "spares": line.spares}
                    for line in bag.items
                ],
            }
            for bag in schedules.bags
        ],
        "parts": [
            {
                "letter": line.letter,
                "title": line.title,
                "quantity": line.quantity,
                "material": line.material,
                "board": board_title(results, line.board, line.material),
                "size": [_number(v) for v in (*line.finished, line.thickness)],
                "cut": [_number(v) for v in line.cut],
                "bands": {side: _number(v) for side, v in line.bands.items()},
                "mass_kg": _number(line.mass_kg),
                "names": list(line.parts),
                "worked": worked.get(line.letter, []),
                "used": used(line.parts),
            }
            for line in schedules.cut
        ]
        + [
            {
                "letter": line.letter,
                "title": line.title,
                "quantity": line.quantity,
                "material": "",
                "board": "",
                "size": [_number(v) for v in line.size],
                "cut": [],
                "bands": {},
                "mass_kg": _number(line.mass_kg),
                "names": list(line.parts),
                "worked": [],
                "used": used(line.parts),
            }
            for line in schedules.bought
        ],
        "steps": [
            {
                "number": step.number,
                "new": list(step.new),
                "items": dict(step.items),
                "persons": step.persons,
            }
            for step in results.plan.steps
        ],
    }
    text = json.dumps(told, ensure_ascii=False, indent=1, sort_keys=True)
    return (text + "\n").encode("utf-8")


def _shrunk(results: Results, item: str) -> int:
    """Return how many times smaller than it is an item is drawn in the issued pictures."""
    figure = results.figures.get(f"item-{item}")
    return round(1 / figure.scale) if figure is not None and 0.0 < figure.scale < 1.0 else 1


def _number(value: float) -> float:
    return round(float(value), 3)


def _worked(panel: DrilledPanel) -> list[str]:
    """Return every bore, groove and slot of a part, each in one line of words."""
    lines = []
    for bore in panel.bores:
        depth = "through" if bore.through else f"{bore.depth:.2f} deep"
        lean = "" if bore.angle_deg == 90 else f", at {bore.angle_deg:.1f} degrees"
        at = f"({bore.x:.2f}, {bore.y:.2f})"
        lines.append(f"bore of {bore.diameter:.2f}, {depth}, in the {bore.surface} at {at}{lean}")
    for groove in panel.grooves:
        x, y = groove.x, groove.y
        lines.append(
            f"groove {groove.depth:.2f} deep in the {groove.surface}, "
            f"x {x[0]:.2f} to {x[1]:.2f}, y {y[0]:.2f} to {y[1]:.2f}"
        )
    for slot in panel.slots:
        (a, b), (c, d) = slot.start, slot.end
        lines.append(
            f"slot of {slot.width:.2f}, {slot.depth:.2f} deep, in the {slot.surface}, "
            f"({a:.2f}, {b:.2f}) to ({c:.2f}, {d:.2f})"
        )
    return sorted(line.replace("edge:", "edge ") for line in lines)


def read_record(data: bytes) -> Mapping[str, Any]:
    """Return a record as it was made.

    It may come from another archive, so that its form is looked at before anything is read.

    Raises:
        ValueError: it is of a form that this kdkit does not know, or it is no record.
    """
    try:
        told: Any = json.loads(data)
    except RecursionError:
        raise ValueError("it is no record: it is nested too deep") from None
    if not isinstance(told, dict):
        raise ValueError("it is no record")
    if told.get("form") != FORM:
        form = str(told.get("form"))[:40]
        raise ValueError(f"the record is of form {form}; this kdkit reads form {FORM}")
    try:
        said = _Record.model_validate(told)
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        where = ".".join(map(str, first["loc"]))
        raise ValueError(f"it is no record: {where[:80]}: {first['msg'][:120]}") from None
    supplied = {line.item for line in said.hardware if line.supplied}
    for bag in said.bags:
        for one in bag.items:
            if one.item not in supplied:
                raise ValueError(f"it is no record: bag {bag.name[:40]} holds {one.item[:80]!r}")
    return told
