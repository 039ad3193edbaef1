"""A product in its surroundings: which boards and unit definitions it may use."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.left_out import LeftOut

__all__ = ["UNREAD_BOARD", "Scope", "boards_of", "find_unit"]

UNREAD_BOARD = says.Board(material="?", thickness=1.0)
"""Stands for a board that could not be read; nothing is worked out from it."""


@dataclass(frozen=True)
class Scope:
    """A product in its surroundings: the definition itself, or a unit somewhere inside.

    Args:
        product: what was said.
        base: path to it in the definition.
        outer: the scope whose `unit_definitions` and boards it may use, if any.
        users: the products that it is being used in, to find a unit in itself.
    """

    product: says.Product
    base: Path
    outer: Scope | None = None
    users: tuple[says.Product, ...] = ()

    @property
    def left_out(self) -> LeftOut:
        """What of this product could not be read."""
        return self.product.left_out

    @property
    def is_inside_itself(self) -> bool:
        """Whether the product is used inside itself."""
        return any(user is self.product for user in self.users)

    def may_be_left_out(self, name: str) -> bool:
        """Tell whether a formula's unknown name may stand for what could not be read."""
        outer = self.outer is not None and self.outer.may_be_left_out(name)
        return outer or self.left_out.may_be_length(name)


def boards_of(scope: Scope) -> dict[str, says.Board]:
    """Return the boards that a scope may use: its own before those around it."""
    outer = {} if scope.outer is None else boards_of(scope.outer)
    unread = dict.fromkeys(scope.left_out.names("boards"), UNREAD_BOARD)
    return {**outer, **scope.product.boards, **unread}


def find_unit(
    name: str, unit: says.Unit, scope: Scope, path: Path, problems: list[Problem]
) -> Scope | None:
    """Return the scope of what a unit uses, None after its problem was reported."""
    users = (*scope.users, scope.product)
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
        return Scope(inner, (*path, "file"), None, users)
    holder: Scope | None = scope
    known: list[str] = []
    while holder is not None:
        defined = holder.product.unit_definitions
        if unit.define in defined:
            base = (*holder.base, "unit_definitions", str(unit.define))
            return Scope(defined[str(unit.define)], base, holder, users)
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
