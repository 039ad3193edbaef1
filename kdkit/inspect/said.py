"""What the maker said beside the panels: boards, joints and bags that cannot be meant so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, Related, advice, error, warning
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.materials import board_path
from kdkit.units import mm_text

__all__ = ["check_bags", "check_board_thicknesses", "check_joined_twice"]


def check_bags(inspection: Inspection) -> Iterable[Problem]:
    """Bags hold items or fittings of the catalogue, of those that the product uses."""
    catalogue, joinery = inspection.catalogue, inspection.joinery
    used = {fastener.fitting for fastener in joinery.fasteners}
    used |= {placed.item for fastener in joinery.fasteners for placed in fastener.items}
    known = (*sorted(catalogue.items), *sorted(catalogue.fittings))
    for bag, names in getattr(inspection.resolved.said, "bags", {}).items():
        for n, name in enumerate(names):
            path: Path = ("bags", bag, n)
            if name in used:
                continue
            if name in known:
                yield warning(
                    "bag-not-used",
                    f"the product uses no {name}, so that bag {bag} does not get any",
                    path,
                    help="delete it here, or name what the product does use",
                )
                continue
            near = near_names(name, known)
            yield error(
                "bag-unknown",
                f"the catalogue has no item or fitting {name!r}",
                path,
                help=f"did you mean {near[0]}?"
                if near
                else f"used here: {', '.join(sorted(used))}",
            )


def check_board_thicknesses(inspection: Inspection) -> Iterable[Problem]:
    """Sheet boards are made in certain thicknesses; timber is planed to any."""
    for part in inspection.resolved.parts:
        board = inspection.catalogue.boards.get(part.material or "")
        if board is None or board.family == "solid-timber" or not board.thicknesses:
            continue
        if any(abs(t - part.thickness) <= board.thickness_tolerance for t in board.thicknesses):
            continue
        made = ", ".join(mm_text(t) for t in board.thicknesses)
        yield advice(
            "board-thickness",
            f"{part.material} is not usual in {mm_text(part.thickness)} mm",
            board_path(part, "thickness"),
            where=part.board or "",
            help=f"usual: {made} mm",
        )


def check_joined_twice(inspection: Inspection) -> Iterable[Problem]:
    """Two entries that join the same two parts are mostly one too many."""
    first: dict[frozenset[str], Path] = {}
    for joint in inspection.resolved.joints:
        pair = frozenset((joint.joined, joint.to))
        earlier = first.setdefault(pair, joint.path)
        if earlier == joint.path:
            continue
        told = warning(
            "joined-twice",
            f"{joint.joined} and {joint.to} are joined already",
            joint.path,
            where=joint.name,
            help="put all fittings of two parts into one entry, or delete this one",
        )
        yield replace(told, related=(Related(message="joined here first", path=earlier),))
