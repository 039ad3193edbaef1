"""Catalogue files into one ``Catalogue``.

A file holds ``boards``, ``items``, ``tools``, ``fittings``, ``times`` and ``machines``. A later
file adds entries and takes the place of earlier ones of the same name. ``like: NAME`` starts
an entry from another one (from the earlier one of its own name, too) and writes over its
keys; ``options`` and ``limits`` are written over key by key. ``sizes`` makes an entry a
family (``families``). An item without a ``mass`` weighs what its shape does (``masses``).
"""

from __future__ import annotations

import difflib
import pathlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any, get_args

from pydantic import ValidationError

from kdkit.catalogue.entries import (
    Action,
    BoardMaterial,
    Catalogue,
    Fitting,
    Item,
    Lean,
    Time,
    Tool,
)
from kdkit.catalogue.entry import Entry
from kdkit.catalogue.families import members
from kdkit.catalogue.faults import bad_value, unknown_key, unknown_name, validation_problems
from kdkit.catalogue.formulas import check_formulas, item_names
from kdkit.catalogue.machines import Machine
from kdkit.catalogue.masses import DENSITIES, item_mass, weighs_by
from kdkit.catalogue.shipped import built_in_files, load_shipped
from kdkit.definition.gate import Refused, check_title
from kdkit.definition.source import Definition, load_document
from kdkit.diagnostics import Path, Problem, error, has_errors

__all__ = ["load_catalogue"]

_SECTIONS: dict[str, type[Entry]] = {
    "boards": BoardMaterial,
    "items": Item,
    "tools": Tool,
    "fittings": Fitting,
    "times": Time,
    "machines": Machine,
}
_MACHINING = ("set-up", "bore", "slot", "groove", "other")
_MERGED = ("options", "limits", "choices")
_MOST_LIKES = 20


@dataclass(frozen=True)
class _Written:
    """An entry as written (``like`` already followed) and the file it stands in."""

    data: Mapping[str, Any]
    document: Definition
    names: Mapping[tuple[str, str], str]  # of its file's entries: as they stand there


_Raw = dict[tuple[str, str], _Written]
Load = Callable[[pathlib.Path], tuple[Definition | None, tuple[Problem, ...]]]


def load_catalogue(
    files: Sequence[pathlib.Path] = (),
) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    """Read the built-in catalogue and a maker's files over it.

    Args:
        files: the maker's files, read in this order.

    Returns:
        The catalogue and no problems, or None and all of them, each with its place in
        the file it stands in.
    """
    catalogue, problems = _loaded(tuple(files), load_shipped) if files else _built_in()
    if problems:  # read again, for the places of what is wrong
        catalogue, problems = _loaded(tuple(files), load_document)
    return catalogue, problems


@lru_cache(maxsize=1)
def _built_in() -> tuple[Catalogue | None, tuple[Problem, ...]]:
    return _loaded((), load_shipped)


def _loaded(
    files: tuple[pathlib.Path, ...], load: Load
) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    raw, problems = _read(built_in_files(), {}, load)
    own, found = _read(files, raw)
    problems += found
    catalogue, found = _build(own)
    problems += found
    return (None if has_errors(problems) else catalogue), problems


def _read(
    files: Iterable[pathlib.Path],
    earlier: Mapping[tuple[str, str], _Written],
    load: Load = load_document,
) -> tuple[_Raw, tuple[Problem, ...]]:
    """Return the entries of files over earlier ones, and what kept some out."""
    raw: _Raw = dict(earlier)
    problems: list[Problem] = []
    for file in files:
        document, found = load(file)
        problems += found
        if document is None:
            continue
        if "product" in document.data:
            problems += _placed([_no_catalogue()], document)
            continue
        here: dict[tuple[str, str], Mapping[str, Any]] = {}
        names: dict[tuple[str, str], str] = {}
        for section, entries in document.data.items():
            found_here, faults = _entries(section, entries)
            problems += _placed(faults, document)
            for key, written in found_here.items():
                family = members(key[1], written)
                problems += _placed(
                    (replace(p, path=(*key, *p.path)) for p in family.problems), document
                )
                for name, entry in family.entries.items():
                    here[section, name] = entry
                    names[section, name] = key[1]
        before = dict(raw)
        for section, name in here:
            data, faults = _followed((section, name), here, before)
            problems += _placed(faults, document, names)
            if data is not None:
                raw[section, name] = _Written(data, document, names)
    return raw, tuple(problems)


def _no_catalogue() -> Problem:
    return error(
        "catalogue-key",
        "this is the definition of a product, not a catalogue",
        ("product",),
        help=f"a catalogue has {', '.join(_SECTIONS)}; "
        "another product is used with `units: {name: {file: NAME}}`",
    )


def _entries(
    section: str, entries: Any
) -> tuple[dict[tuple[str, str], Mapping[str, Any]], list[Problem]]:
    if section not in _SECTIONS:
        near = difflib.get_close_matches(str(section), _SECTIONS, n=1)
        help = f"did you mean {near[0]}?" if near else f"a catalogue has {', '.join(_SECTIONS)}"
        return {}, [unknown_key((section,), help)]
    if not isinstance(entries, dict):
        return {}, [bad_value((section,), "must be keys with values")]
    found: dict[tuple[str, str], Mapping[str, Any]] = {}
    problems = []
    for name, data in entries.items():
        try:
            check_title(name)
        except Refused as fault:
            refused = error(fault.code, fault.message, (section, name), help=fault.help)
            problems.append(replace(refused, on_key=True))
            continue
        if isinstance(data, dict):
            found[section, name] = data
        else:
            problems.append(bad_value((section, name), "must be keys with values"))
    return found, problems


def _followed(
    key: tuple[str, str],
    here: Mapping[tuple[str, str], Mapping[str, Any]],
    before: Mapping[tuple[str, str], _Written],
) -> tuple[Mapping[str, Any] | None, list[Problem]]:
    """Return an entry with everything that ``like`` brings in."""
    section = key[0]
    layers = [here[key]]
    seen = [key]
    while "like" in layers[-1]:
        name = layers[-1]["like"]
        path: Path = (*key, "like")
        if not isinstance(name, str):
            return None, [bad_value(path, "must be the name of another entry")]
        target = (section, name)
        if target in here and target not in seen:
            layers.append(here[target])
            seen.append(target)
        elif target in before and (target == seen[-1] or target not in here):
            layers.append(before[target].data)
        elif target in seen:
            return None, [
                error(
                    "catalogue-like",
                    f"{' is like '.join([*(n for _, n in seen), name])}: that never ends",
                    path,
                    help="one of them must say everything itself",
                )
            ]
        else:
            known = sorted({n for s, n in [*here, *before] if s == section})
            return None, [unknown_name(path, section, name, known)]
        if len(layers) > _MOST_LIKES:
            return None, [error("catalogue-like", "more than 20 entries like each other", path)]
    merged: dict[str, Any] = {}
    for layer in reversed(layers):
        for word, value in layer.items():
            if word in _MERGED and isinstance(value, dict) and isinstance(merged.get(word), dict):
                merged[word] = {**merged[word], **value}
            elif word != "like":
                merged[word] = value
    return merged, []


def _build(raw: _Raw) -> tuple[Catalogue | None, tuple[Problem, ...]]:
    built: dict[str, dict[str, Any]] = {section: {} for section in _SECTIONS}
    problems: list[Problem] = []
    for (section, name), written in raw.items():
        entry, faults = _validated(section, name, written.data)
        problems += _placed_in(written, faults)
        if entry is not None:
            built[section][name] = entry
    names = {section: {n for s, n in raw if s == section} for section in _SECTIONS}
    for name, tool in built["tools"].items():
        if tool.instead_of is not None and tool.instead_of not in names["tools"]:
            said: Path = ("tools", name, "instead_of")
            fault = unknown_name(said, "tools", tool.instead_of, sorted(names["tools"]))
            problems += _placed_in(raw["tools", name], [fault])
    for name, fitting in built["fittings"].items():
        path = ("fittings", name)
        faults = [*check_formulas(fitting, path), *_check_references(fitting, path, names)]
        problems += _placed_in(raw["fittings", name], faults)
    for name, item in built["items"].items():
        faults = [*_check_item(item, ("items", name))]
        problems += _placed_in(raw["items", name], faults)
    for name in names["times"]:
        faults = [*_check_time(name)]
        problems += _placed_in(raw["times", name], faults)
    return Catalogue(**built), tuple(problems)


def _validated(
    section: str, name: str, data: Mapping[str, Any]
) -> tuple[Entry | None, list[Problem]]:
    """Return an entry, and what is wrong with it.

    With unknown keys only, the entry is given without them, so that its formulas and
    references are looked at in the same run.
    """
    by_shape = section == "items" and "mass" not in data
    if by_shape:
        data = {**data, "mass": 0.0}
    try:
        entry = _SECTIONS[section].model_validate(data)
        if by_shape:
            return _weighed(entry, (section, name))
        return entry, _weightless(entry, (section, name))
    except ValidationError as fault:
        problems = validation_problems(fault, (section, name), _SECTIONS[section])
        unknown = [e["loc"] for e in fault.errors() if e["type"] == "extra_forbidden"]
    try:
        return _SECTIONS[section].model_validate(_without(data, unknown, ())), problems
    except ValidationError:
        return None, problems


def _weighed(entry: Entry, path: Path) -> tuple[Entry, list[Problem]]:
    """Return an item with the mass of its shape, or what of it has no density."""
    assert isinstance(entry, Item)
    unknown = [stuff for stuff in weighs_by(entry) if stuff not in DENSITIES]
    if unknown:
        said = unknown[0] or "what says no material"
        text = f"is missing, and nothing is known of the density of {said}"
        help = f"write the mass in g, or a material of {', '.join(DENSITIES)}"
        return entry, [replace(bad_value((*path, "mass"), text), help=help)]
    return entry.model_copy(update={"mass": item_mass(entry)}), []


def _weightless(entry: Entry, path: Path) -> list[Problem]:
    """Tell an item that comes with the product and weighs nothing: sums would miss it."""
    if not isinstance(entry, Item) or entry.mass > 0 or not entry.supplied:
        return []
    help = "write the mass in g, or leave it out: then it follows from the pieces"
    return [replace(bad_value((*path, "mass"), "nothing that is supplied weighs 0 g"), help=help)]


def _without(value: Any, unknown: Sequence[Path], here: Path) -> Any:
    """Return data without the keys at some paths."""
    if isinstance(value, Mapping):
        return {
            key: _without(inner, unknown, (*here, key))
            for key, inner in value.items()
            if (*here, key) not in unknown
        }
    if isinstance(value, list):
        return [_without(inner, unknown, (*here, n)) for n, inner in enumerate(value)]
    return value


def _check_references(
    fitting: Fitting, path: Path, names: Mapping[str, set[str]]
) -> Iterable[Problem]:
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


def _check_item(item: Item, path: Path) -> Iterable[Problem]:
    for n, piece in enumerate(item.pieces):
        here = (*path, "pieces", n)
        if piece.z0 >= piece.z1:
            yield bad_value((*here, "z0"), "must be below z1")
        if piece.kind in ("cone", "box", "lens") and piece.d1 is None:
            yield bad_value(here, f"a {piece.kind} needs d1")


def _check_time(name: str) -> Iterable[Problem]:
    known = sorted({*get_args(Action.model_fields["do"].annotation), *_MACHINING})
    if name not in known:
        yield unknown_name(("times", name), "actions and kinds of machining", name, known)


def _placed_in(written: _Written, problems: Iterable[Problem]) -> tuple[Problem, ...]:
    return _placed(problems, written.document, written.names)


def _placed(
    problems: Iterable[Problem],
    document: Definition,
    names: Mapping[tuple[str, str], str] | None = None,
) -> tuple[Problem, ...]:
    """Return the problems with their places in a catalogue file.

    Args:
        names: what an entry's name is written as, by its section and name.
    """

    def as_written(path: Path) -> Path:
        section, *rest = path
        if names is None or not rest:
            return path
        return (section, names.get((str(section), str(rest[0])), rest[0]), *rest[1:])

    return tuple(
        replace(p, source=document.locate(as_written(p.path), on_key=p.on_key, span=p.span))
        for p in problems
    )
