"""What the maker says a product is and carries: its kinds, its loads, where it is used."""

from __future__ import annotations

from kdkit.catalogue.entries import Catalogue
from kdkit.catalogue.kinds import Kind
from kdkit.diagnostics import Path
from kdkit.model.says import Product

__all__ = ["is_outdoors", "kind_names", "kinds_of", "loads_said", "restraint_wanted"]


def kind_names(said: Product) -> tuple[str, ...]:
    """Return the kinds of furniture that the maker says a product is."""
    if said.kind is None:
        return ()
    return (said.kind,) if isinstance(said.kind, str) else said.kind


def kinds_of(said: Product, catalogue: Catalogue) -> dict[str, Kind]:
    """Return the kinds that are known under their names."""
    known = catalogue.kinds
    return {name: known[name] for name in kind_names(said) if name in known}


def is_outdoors(said: Product, catalogue: Catalogue) -> bool:
    """Tell whether a product is to stand outdoors."""
    kinds = kinds_of(said, catalogue).values()
    return said.safety.use == "outdoor" or any(kind.outdoors for kind in kinds)


def loads_said(said: Product) -> dict[str, tuple[float, Path]]:
    """Return the loads that the maker states, kg, and where."""
    found: dict[str, tuple[float, Path]] = {}
    if said.safety.load_per_shelf is not None:
        found["shelf"] = (said.safety.load_per_shelf, ("safety", "load_per_shelf"))
    for name, mass in said.safety.loads.items():
        found[name] = (mass, ("safety", "loads", name))
    return found


def restraint_wanted(said: Product, catalogue: Catalogue) -> str:
    """Return whether a wall restraint is ``required``, ``advised`` or ``none``.

    Where the maker says nothing, it is advised but for kinds that nobody ties to a wall.
    """
    kinds = kinds_of(said, catalogue)
    unsaid = "wall_restraint" not in said.safety.model_fields_set
    if unsaid and kinds and not any(kind.ties for kind in kinds.values()):
        return "none"
    return said.safety.wall_restraint
