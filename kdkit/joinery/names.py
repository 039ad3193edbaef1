"""What a product names of the catalogue, looked up before anything can be placed.

Used when a definition cannot be followed to its fittings, so that unknown fittings and
boards are told together with what stopped it.
"""

from __future__ import annotations

from collections.abc import Iterator

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Path, Problem
from kdkit.joinery.materials import unknown_material
from kdkit.joinery.options import fitting_in_use
from kdkit.model.says import FittingUse, Fixture, Product

__all__ = ["check_catalogue_names"]

_MOST = 200


def check_catalogue_names(product: Product, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return a problem for each fitting, board or option that the catalogue does not have.

    Args:
        product: what was said, or what is left of it.
        catalogue: with the maker's own files.
    """
    if _lacks_catalogues(product):
        return ()  # any name may be in a file that was left out
    problems: list[Problem] = []
    known: dict[tuple[str, str], bool] = {}

    def look_up(use: FittingUse | Fixture, kind: str, path: Path) -> None:
        """Add what is wrong with one use; a name is compared with all others but once."""
        key = (use.fitting, kind)
        if len(problems) >= _MOST or (known.get(key) and not use.options):
            return
        found = fitting_in_use(catalogue, use.fitting, use.options, kind, path, "")
        known[key] = found[1] is not None
        problems.extend(found[2])

    for base, each in _products(product, (), ()):
        for name, board in each.boards.items():
            if board.material not in catalogue.boards and not each.left_out.has("boards", name):
                at = (*base, "boards", name, "material")
                problems.append(unknown_material(board.material, catalogue, at))
        for n, joint in enumerate(each.joints):
            for m, use in enumerate(joint.fittings):
                if use.fitting != "?":
                    look_up(use, "joint", (*base, "joints", n, "fittings", m))
        for n, fixture in enumerate(each.fixtures):
            look_up(fixture, "fixture", (*base, "fixtures", n))
    return tuple(problems)


def _lacks_catalogues(product: Product) -> bool:
    """Tell whether a catalogue file was left out of a product or of one inside it."""
    left_out = product.left_out
    if "catalogues" in left_out.sections or left_out.names("catalogues"):
        return True
    inside = (*product.unit_definitions.values(), *product.unit_files.values())
    return any(_lacks_catalogues(each) for each in inside)


def _products(
    product: Product, base: Path, users: tuple[Product, ...]
) -> Iterator[tuple[Path, Product]]:
    """Give a product and those of its units, each with its path."""
    yield base, product
    here = (*users, product)
    for name, defined in product.unit_definitions.items():
        yield from _products(defined, (*base, "unit_definitions", name), here)
    for name, unit in product.units.items():
        inner = product.unit_files.get(unit.file or "")
        if inner is not None and not any(user is inner for user in here):
            yield from _products(inner, (*base, "units", name, "file"), here)
