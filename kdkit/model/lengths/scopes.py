"""A product in its surroundings: which boards and unit definitions it may use."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.reading.unsure import NOTHING, UNREAD_BOARD, LeftOut

__all__ = ["Scope", "boards_of", "find_unit"]


@dataclass(frozen=True)
class Scope:
    """A product in its surroundings: the definition itself, or a unit somewhere inside.

    Args:
        product: what was said.
        base: path to it in the definition.
        outer: the scope whose `unit_definitions` and boards it may use, if any.
        users: the products that it is being used in, to find a unit in itself.
        unread: what could not be read of each product, by its ``id``.
    """

    product: says.Product
    base: Path
    outer: Scope | None = None
    users: tuple[int, ...] = ()
    unread: Mapping[int, LeftOut] = field(default_factory=dict)

    @property
    def left_out(self) -> LeftOut:
        """What of this product could not be read."""
        return self.unread.get(id(self.product), NOTHING)

    def hushes(self, name: str) -> bool:
        """Tell whether a formula's unknown name may stand for what could not be read."""
        outer = self.outer is not None and self.outer.hushes(name)
        return outer or self.left_out.hushes(name)


def boards_of(scope: Scope) -> dict[str, says.Board]:
    """Return the boards that a scope may use: its own before those around it."""
    outer = {} if scope.outer is None else boards_of(scope.outer)
    unread = dict.fromkeys(scope.left_out.names("boards"), UNREAD_BOARD)
    return {**outer, **scope.product.boards, **unread}


def find_unit(
    name: str, unit: says.Unit, scope: Scope, path: Path, problems: list[Problem]
) -> Scope | None:
    """Return the scope of what a unit uses, None after its problem was reported."""
    users = (*scope.users, id(scope.product))
    if (unit.file is None) == (unit.define is None):
        problems.append(
            error(
                "missing-key",
                f"the unit {name} needs either `file` or `define`",
                path,
                help="file: drawer.yaml",
            )
        )
        return None
    if unit.file is not None:
        inner = scope.product.unit_files.get(unit.file)
        around: Scope | None = scope
        while inner is None and around is not None:
            inner = around.product.unit_files.get(unit.file)
            around = around.outer
        if inner is None:
            problems.append(
                error("file-not-read", f"the file {unit.file!r} was not read", (*path, "file"))
            )
            return None
        return Scope(inner, (*path, "file"), None, users, scope.unread)
    holder: Scope | None = scope
    known: list[str] = []
    while holder is not None:
        defined = holder.product.unit_definitions
        if unit.define in defined:
            base = (*holder.base, "unit_definitions", str(unit.define))
            return Scope(defined[str(unit.define)], base, holder, users, scope.unread)
        if holder.left_out.has("unit_definitions", str(unit.define)):
            return None
        known.extend(defined)
        holder = holder.outer
    near = near_names(str(unit.define), known)
    problems.append(
        error(
            "unknown-unit",
            f"there is no unit definition {unit.define!r}",
            (*path, "define"),
            help=f"did you mean {near[0]}?" if near else "add it under `unit_definitions`",
        )
    )
    return None
