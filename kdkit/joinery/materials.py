"""The boards that a product is cut from must be in the catalogue."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue
from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model.resolved import Part, Resolved

__all__ = ["board_path", "check_materials", "unknown_material"]


def check_materials(resolved: Resolved, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return a problem for each board in use whose material the catalogue does not have."""
    problems: dict[Path, Problem] = {}
    for part in resolved.parts:
        if part.material is None or part.material in catalogue.boards:
            continue
        path = board_path(part, "material")
        problems.setdefault(path, unknown_material(part.material, catalogue, path))
    return tuple(problems.values())


def unknown_material(material: str, catalogue: Catalogue, path: Path) -> Problem:
    """Return the problem of a board whose material the catalogue does not have."""
    near = near_names(material, catalogue.boards)
    known = f"known: {', '.join(sorted(catalogue.boards))}"
    return error(
        "material-unknown",
        f"the catalogue has no board {material!r}",
        path,
        help=f"did you mean {near[0]}? {known}" if near else known,
    )


def board_path(part: Part, key: str) -> Path:
    """Return where a key of a part's board stands in the definition that the part is in."""
    board = (part.board or "").rsplit(".", 1)[-1]
    return (*part.path[:-2], "boards", board, key)
