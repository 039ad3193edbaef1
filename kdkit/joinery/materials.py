"""The boards that a product is cut from must be in the catalogue."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue
from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model.resolved import Part, Resolved

__all__ = ["board_path", "check_materials"]


def check_materials(resolved: Resolved, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return a problem for each board in use whose material the catalogue does not have."""
    problems: dict[Path, Problem] = {}
    for part in resolved.parts:
        if part.material is None or part.material in catalogue.boards:
            continue
        near = near_names(part.material, catalogue.boards)
        known = f"known: {', '.join(sorted(catalogue.boards))}"
        path = board_path(part, "material")
        problems.setdefault(
            path,
            error(
                "material-unknown",
                f"the catalogue has no board {part.material!r}",
                path,
                help=f"did you mean {near[0]}? {known}" if near else known,
            ),
        )
    return tuple(problems.values())


def board_path(part: Part, key: str) -> Path:
    """Return where a key of a part's board stands in the definition that the part is in."""
    board = (part.board or "").rsplit(".", 1)[-1]
    return (*part.path[:-2], "boards", board, key)
