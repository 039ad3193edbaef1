"""The boards that a product is cut from must be in the catalogue, and thick as boards are."""

from __future__ import annotations

from kdkit.catalogue.entries import BoardMaterial, Catalogue
from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model.resolved import Part, Resolved
from kdkit.units import mm_text

__all__ = ["board_path", "check_materials", "check_thicknesses", "unknown_material"]

_OFFERED = 2


def check_materials(resolved: Resolved, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return a problem for each board in use whose material the catalogue does not have."""
    problems: dict[Path, Problem] = {}
    for part in resolved.parts:
        if part.material is None or part.material in catalogue.boards:
            continue
        path = board_path(part, "material")
        problems.setdefault(path, unknown_material(part.material, catalogue, path))
    return tuple(problems.values())


def check_thicknesses(resolved: Resolved, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return a problem for each board thinner or thicker by far than its material comes.

    What its parts and fittings would be told only follows from it.
    """
    problems: dict[Path, Problem] = {}
    for part in resolved.parts:
        board = catalogue.boards.get(part.material or "")
        if board is not None and part.material and not _can_be(board, part.thickness):
            path = board_path(part, "thickness")
            problems.setdefault(path, _slipped(part.material, board, part.thickness, path))
    return tuple(problems.values())


def _can_be(board: BoardMaterial, thickness: float) -> bool:
    """Tell whether a thickness is within half the least and twice the greatest of a board."""
    known = [*board.thicknesses, *(end for row in board.strength for end in row.thickness)]
    return min(known) / 2 <= thickness <= 2 * max(known)


def _slipped(material: str, board: BoardMaterial, thickness: float, path: Path) -> Problem:
    """Return the problem of a thickness that is probably a slip of the unit or of a sign."""
    made = sorted(board.thicknesses)
    near = [t for t in made if abs(t - 10 * thickness) < 0.01 or abs(t - thickness / 10) < 0.01]
    if not near:
        near = sorted(sorted(made, key=lambda t: abs(t - thickness))[:_OFFERED])
    offered = ", ".join(mm_text(t) for t in near)
    return error(
        "board-thickness",
        f"{material} is not made in {mm_text(thickness, 2)} mm",
        path,
        help=f"did you mean {offered}? A thickness is in mm" if near else "thicknesses are in mm",
    )


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
