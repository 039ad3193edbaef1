"""Catalogue files into one ``Catalogue``.

A file holds ``boards``, ``items``, ``tools``, ``fittings``, ``times``, ``machines``, ``loads``,
``kinds``, ``hardware_kinds``, ``scales`` and ``label_sheets``. A later file adds entries and
takes the place of earlier ones of the same name.
``like: NAME`` starts an entry from another one (from the earlier one of its own name, too) and
writes over its keys; ``options`` and ``limits`` are written over key by key. ``sizes`` makes an
entry a family (``families``). An item without a ``mass`` weighs what its shape does
(``masses``).
"""

from __future__ import annotations

import difflib
import pathlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from pydantic import ValidationError

from kdkit.catalogue.bagging import (
    HardwareKind,
    LabelSheet,
    Scale,
    check_hardware_kind,
    check_label_sheet,
)
from kdkit.catalogue.checks import check_item, check_machine, check_references, check_time
from kdkit.catalogue.entries import (
    BoardMaterial,
    Catalogue,
    Fitting,
    Item,
    Time,
    Tool,
)
from kdkit.catalogue.entry import Entry
from kdkit.catalogue.families import members
from kdkit.catalogue.faults import bad_value, unknown_key, unknown_name, validation_problems
from kdkit.catalogue.formulas import check_formulas
from kdkit.catalogue.kinds import Kind, Load, check_kind, check_load
from kdkit.catalogue.machines import Machine
from kdkit.catalogue.masses import DENSITIES, item_mass, weighs_by
from kdkit.catalogue.shipped import built_in_files, load_shipped
from kdkit.definition.gate import Refused, check_key
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
    "loads": Load,
    "kinds": Kind,
    "hardware_kinds": HardwareKind,
    "scales": Scale,
    "label_sheets": LabelSheet,
}
_MERGED = ("options", "limits", "choices", "cutting")
_MOST_LIKES = 20


@dataclass(frozen=True)
class _Written:
    """An entry as written (``like`` already followed) and the file it stands in."""

    data: Mapping[str, Any]
    document: Definition
    names: Mapping[tuple[str, str], str]  # of its file's entries: as they stand there


_Raw = dict[tuple[str, str], _Written]
Reading = Callable[[pathlib.Path], tuple[Definition | None, tuple[Problem, ...]]]


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
    files: tuple[pathlib.Path, ...], load: Reading
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
    load: Reading = load_document,
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
                    refused = _refused(section, name, key[1])
                    if refused is not None:
                        problems += _placed([refused], document)
                        continue
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
        if isinstance(data, dict):
            found[section, name] = data
        else:
            problems.append(bad_value((section, name), "must be keys with values"))
    return found, problems


def _refused(section: str, name: str, written: str) -> Problem | None:
    """Return why an entry cannot be called so; a family's member is told at its family."""
    try:
        check_key(name)
    except Refused as fault:
        refused = error(fault.code, fault.message, (section, written), help=fault.help)
        return replace(refused, on_key=True)
    return None


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
        faults = [*check_formulas(fitting, path), *check_references(fitting, path, names)]
        problems += _placed_in(raw["fittings", name], faults)
    for name, item in built["items"].items():
        faults = [*check_item(item, ("items", name))]
        if item.kind not in names["hardware_kinds"]:
            said = ("items", name, "kind")
            known = sorted(names["hardware_kinds"])
            faults.append(unknown_name(said, "hardware kinds", item.kind, known))
        problems += _placed_in(raw["items", name], faults)
    for name, machine in built["machines"].items():
        faults = [*check_machine(machine, ("machines", name))]
        problems += _placed_in(raw["machines", name], faults)
    for name, kind in built["kinds"].items():
        faults = [*check_kind(kind, ("kinds", name), names["loads"])]
        problems += _placed_in(raw["kinds", name], faults)
    for name, load in built["loads"].items():
        faults = [*check_load(load, ("loads", name))]
        problems += _placed_in(raw["loads", name], faults)
    for name, hardware in built["hardware_kinds"].items():
        faults = [*check_hardware_kind(hardware, ("hardware_kinds", name))]
        problems += _placed_in(raw["hardware_kinds", name], faults)
    for name, sheet in built["label_sheets"].items():
        faults = [*check_label_sheet(sheet, ("label_sheets", name))]
        problems += _placed_in(raw["label_sheets", name], faults)
    for name in names["times"]:
        faults = [*check_time(name)]
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
