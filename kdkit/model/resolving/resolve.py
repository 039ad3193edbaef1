"""From what was said to what it comes to: numbers, parts in their places, units opened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from kdkit.diagnostics import Path, Problem, error, has_errors
from kdkit.frames import PRODUCT, Frame
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.lengths.parameters import declare_parameters
from kdkit.model.lengths.scopes import UNREAD_BOARD, Scope, boards_of, find_unit
from kdkit.model.panels.bought_parts import bought_slab
from kdkit.model.panels.layouts import lay_out_panels
from kdkit.model.panels.panels import panel_slab, read_turns
from kdkit.model.panels.sides import declare_bought, declare_panel, fail_part
from kdkit.model.panels.slabs import Slab, part_from_slab, turn_frame
from kdkit.model.resolved import (
    OrderSaid,
    Part,
    PutOn,
    Resolved,
    ResolvedFixture,
    ResolvedJoint,
    SystemRowsSpec,
    UnitUse,
)
from kdkit.model.resolving.broken_parts import check_broken_parts
from kdkit.model.resolving.joints import read_fixtures, read_joints, read_order, unknown_part
from kdkit.model.resolving.known_parts import KnownParts
from kdkit.model.resolving.mirrors import board_of, is_loose, with_mirrored_mates
from kdkit.model.resolving.system_rows import read_system_rows
from kdkit.model.resolving.unit_places import (
    place_fixture,
    place_joint,
    place_part,
    place_system_rows,
)

__all__ = ["MAX_PARTS", "MAX_UNIT_DEPTH", "resolve", "resolve_rest"]

MAX_PARTS = 2000
MAX_UNIT_DEPTH = 8


@dataclass
class _Found:
    """What one scope comes to, in its own coordinates."""

    parts: list[Part] = field(default_factory=list)
    joints: list[ResolvedJoint] = field(default_factory=list)
    fixtures: list[ResolvedFixture] = field(default_factory=list)
    units: list[UnitUse] = field(default_factory=list)
    order: list[OrderSaid] = field(default_factory=list)
    sequence: tuple[PutOn, ...] = ()
    system_rows: list[SystemRowsSpec] = field(default_factory=list)
    boards: dict[str, says.Board] = field(default_factory=dict)
    parameters: dict[str, float] = field(default_factory=dict)


@dataclass
class _Budget:
    """Parts and units that may still be made, over all units."""

    left: int = MAX_PARTS
    exceeded: bool = False


def resolve(
    product: says.Product,
    *,
    variant: str | None = None,
    parameters: Mapping[str, float] | None = None,
) -> tuple[Resolved | None, tuple[Problem, ...]]:
    """Return the product with every formula worked out and every unit opened.

    Args:
        product: from ``read_product``, or built in Python.
        variant: a named set of parameter values.
        parameters: values that override the product's (and the variant's).

    Returns:
        The product, or None and all its problems; their paths lead into the
        definition (through ``file`` into a unit's own).
    """
    problems: list[Problem] = []
    budget = _Budget()
    found = _resolve_scope(
        Scope(product, ()),
        dict(parameters or {}),
        variant,
        (),
        (),
        problems,
        budget,
    )
    if budget.exceeded:
        problems.append(
            error(
                "too-many-parts",
                f"the product comes to more than {MAX_PARTS} parts and units",
                ("units",) if product.units else ("panels",),
            )
        )
    elif not problems and not found.parts:
        problems.append(
            error(
                "missing-key",
                "the product has no parts",
                ("panels",),
                help="write its panels under `panels`",
            )
        )
    if has_errors(problems):
        return None, tuple(dict.fromkeys(problems))
    return (
        Resolved(
            said=product,
            variant=variant,
            parameters=found.parameters,
            parts=tuple(sorted(found.parts, key=lambda part: part.name)),
            joints=tuple(found.joints),
            fixtures=tuple(found.fixtures),
            units=tuple(sorted(found.units, key=lambda unit: unit.name)),
            order=tuple(found.order),
            sequence=found.sequence,
            system_rows=tuple(found.system_rows),
            boards=dict(sorted(found.boards.items())),
        ),
        tuple(dict.fromkeys(problems)),
    )


def resolve_rest(
    product: says.Product,
    *,
    variant: str | None = None,
    parameters: Mapping[str, float] | None = None,
) -> tuple[Problem, ...]:
    """Return what else is wrong with a product of which something could not be read.

    Args:
        product: what is left of it, with what was left out.
        variant, parameters: as for ``resolve``.
    """
    problems: list[Problem] = []
    _resolve_scope(Scope(product, ()), dict(parameters or {}), variant, (), (), problems, _Budget())
    return tuple(dict.fromkeys(problems))


def _resolve_scope(
    scope: Scope,
    asked: Mapping[str, float],
    variant: str | None,
    asked_at: Path,
    variant_at: Path,
    problems: list[Problem],
    budget: _Budget,
) -> _Found:
    product, base, left_out = scope.product, scope.base, scope.left_out
    lengths = Lengths(problems)
    found = _Found()
    budget.left -= len(product.panels) + len(product.bought) + len(product.units)
    if budget.left < 0:
        budget.exceeded = True
        return found
    declare_parameters(
        product,
        asked,
        variant,
        lengths,
        base=base,
        asked_at=asked_at,
        variant_at=variant_at,
    )
    lengths.may_be_left_out = scope.may_be_left_out
    boards = boards_of(scope)
    for name, board in boards.items():
        if board is UNREAD_BOARD:
            lengths.set_failed(f"board {name}.thickness")
        else:
            lengths.set_value(f"board {name}.thickness", board.thickness)
    _check_names_differ(product, base, problems)
    panels = {n: said for n, said in product.panels.items() if not left_out.has("panels", n)}
    broken = [n for n in (*product.panels, *left_out.names("panels")) if n not in panels]
    layouts = lay_out_panels(panels, boards, (*base, "panels"), problems, broken)
    for name in (*panels, *broken, *left_out.names("bought")):
        if name not in layouts:
            fail_part(name, lengths)
    for layout in layouts.values():
        declare_panel(layout, boards, lengths)
    bought_parts = {
        n: said
        for n, said in product.bought.items()
        if n not in product.panels and not left_out.has("bought", n)
    }
    for name, said in bought_parts.items():
        declare_bought(name, said, (*base, "bought", name), lengths)
    for name in (*product.units, *left_out.names("units")):
        lengths.owners.setdefault(name, ())
    lengths.evaluate_all()
    check_broken_parts(product, boards, lengths, layouts, base)
    slabs: dict[str, Slab] = {}
    for name, layout in layouts.items():
        slab = panel_slab(layout, slabs, lengths)
        if slab is not None:
            slabs[name] = slab
            board_name = board_of(name, product)
            part = part_from_slab(
                slab, name=name, title=layout.said.title, kind="panel", path=layout.path
            )
            found.parts.append(
                replace(
                    part,
                    board=board_name,
                    material=boards[board_name].material,
                    mirror_of=layout.mirrors,
                    loose=is_loose(name, product),
                )
            )
    for name, bought in bought_parts.items():
        path = (*base, "bought", name)
        slab = bought_slab(name, bought, path, lengths)
        if slab is not None:
            part = part_from_slab(slab, name=name, title=bought.title, kind="bought", path=path)
            found.parts.append(replace(part, mass=bought.mass, grain_along_x=False))
    found.boards.update(boards)
    known = KnownParts((*product.panels, *product.bought), left_out)
    for name, unit in product.units.items():
        _open_unit(name, unit, scope, lengths, found, known, budget)
    if budget.exceeded:
        return found
    units = {
        name: tuple(part for part in known if part.startswith(f"{name}.")) for name in product.units
    }
    own = [part for part in found.parts if not part.unit]
    found.parts = [with_mirrored_mates(part, own) for part in found.parts]
    for part in own:
        for bore in part.bores:
            if bore.mate is not None and not known.may_be(bore.mate):
                problems.append(unknown_part(bore.mate, known, units, (*bore.path, "mate")))
    found.joints[:0] = read_joints(product.joints, known, units, lengths, (*base, "joints"))
    found.fixtures[:0] = read_fixtures(product.fixtures, known, units, lengths, (*base, "fixtures"))
    found.system_rows[:0] = read_system_rows(
        product.system_rows, known, units, lengths, (*base, "system_rows")
    )
    order, found.sequence = read_order(
        product.order, product.put_before, known, units, problems, base
    )
    found.order[:0] = order
    for language, texts in product.texts.items():
        for name in texts.parts:
            if not known.may_be(name):
                at = (*base, "texts", language, "parts", name)
                problems.append(replace(unknown_part(name, known, units, at), on_key=True))
    found.parameters = {
        name: lengths.values[name] for name in sorted(product.parameters) if name in lengths.values
    }
    return found


def _check_names_differ(product: says.Product, base: Path, problems: list[Problem]) -> None:
    kinds = (("panels", product.panels), ("bought", product.bought), ("units", product.units))
    first: dict[str, tuple[str, str]] = {}
    for kind, named in kinds:
        for name in named:
            # Files are named after parts, and not every disk tells large from small letters.
            before = first.setdefault(name.casefold(), (kind, name))
            if before == (kind, name):
                continue
            if before[1] == name:
                message = f"{name} stands under `{before[0]}` already"
            else:
                message = f"{name} and {before[1]} differ in large and small letters alone"
            problems.append(
                Problem(
                    code="duplicate-part",
                    message=message,
                    path=(*base, kind, name),
                    help="give one of them another name",
                    on_key=True,
                )
            )


def _open_unit(
    name: str,
    unit: says.Unit,
    scope: Scope,
    lengths: Lengths,
    found: _Found,
    known: KnownParts,
    budget: _Budget,
) -> None:
    """Resolve a unit and add what it comes to, named and placed, to its user's."""
    problems = lengths.problems
    path = (*scope.base, "units", name)
    inner = find_unit(name, unit, scope, path, problems)
    asked: dict[str, float] = {}
    for parameter, length in unit.parameters.items():
        value = lengths.number(length, (*path, "parameters", parameter))
        if value is not None:
            asked[parameter] = value
    at = lengths.numbers(unit.at, (*path, "at"))
    motions = read_turns(unit.turns, lengths, (*path, "turns"))
    if inner is None or budget.exceeded or scope.left_out.has("units", name):
        return
    if inner.is_inside_itself or len(inner.users) > MAX_UNIT_DEPTH:
        problems.append(
            error(
                "unit-loop",
                f"the unit {name} is used inside itself"
                if inner.is_inside_itself
                else f"units are nested more than {MAX_UNIT_DEPTH} deep",
                (*path, "define") if unit.define is not None else path,
                help="a unit may use other units, but never itself",
            )
        )
        return
    below = _resolve_scope(
        inner,
        asked,
        unit.variant,
        (*path, "parameters"),
        (*path, "variant"),
        problems,
        budget,
    )
    if at is None:
        return
    placed = Frame((at[0], at[1], at[2]), PRODUCT.i, PRODUCT.j, PRODUCT.k)
    for motion in motions:
        placed = turn_frame(motion).frame_to_outer(placed)
    renamed = _adopt_boards(name, below, found)
    names = []
    for part in below.parts:
        moved = place_part(part, name, placed)
        if moved.board is not None:
            moved = replace(moved, board=renamed[moved.board])
        found.parts.append(moved)
        names.append(moved.name)
    for part_name in (*inner.product.panels, *inner.product.bought):
        known.add(f"{name}.{part_name}")
    for moved_name in names:
        known.add(moved_name)
    for joint in below.joints:
        outside = place_joint(joint, name, placed)
        found.joints.append(replace(outside, workshop=joint.workshop or unit.workshop))
    for fixture in below.fixtures:
        found.fixtures.append(place_fixture(fixture, name, placed, problems))
    for rows in below.system_rows:
        found.system_rows.append(place_system_rows(rows, name, placed, problems))
    found.order.extend(
        replace(
            said,
            first=tuple(f"{name}.{part}" for part in said.first),
            later=tuple(f"{name}.{part}" for part in said.later),
        )
        for said in below.order
    )
    title = unit.title or inner.product.product
    found.units.append(UnitUse(name=name, title=title, parts=tuple(sorted(names))))
    found.units.extend(
        UnitUse(
            name=f"{name}.{use.name}",
            title=use.title,
            parts=tuple(f"{name}.{part}" for part in use.parts),
        )
        for use in below.units
    )


def _adopt_boards(name: str, below: _Found, found: _Found) -> dict[str, str]:
    """Add a unit's boards; one that differs from its user's of the same name is renamed."""
    renamed = {}
    for key, board in below.boards.items():
        new = key
        if found.boards.get(key, board) != board:
            new = f"{name}.{key}"
        found.boards[new] = board
        renamed[key] = new
    return renamed
