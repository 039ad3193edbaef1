"""Names and formulas of parts that are not whole, so that they cannot be placed."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from kdkit.diagnostics import Path
from kdkit.model import says
from kdkit.model.lengths.lengths import Lengths
from kdkit.model.panels.layouts import unknown_board, unknown_original

__all__ = ["check_broken_parts"]

_NO_LENGTHS = frozenset(
    {"board", "title", "face", "grain", "mirror", "at", "axis", "purpose", "mate", "shape"}
    | {"along", "end", "bands", "long"}
)


def check_broken_parts(
    product: says.Product,
    boards: Mapping[str, says.Board],
    lengths: Lengths,
    placed: Container[str],
    base: Path,
) -> None:
    """Report unknown boards, mirrored panels and names in formulas of such parts.

    Args:
        product: what is left of it; what was left out names the parts that could not be read.
        placed: the panels that make sense; of the others the formulas are looked at.
        boards: that its panels may use.
        lengths: with every quantity evaluated.
        base: path of the product.
    """
    left_out = product.left_out
    known = {*product.panels, *left_out.names("panels")}
    for name, panel in product.panels.items():
        path = (*base, "panels", name)
        if name in placed:
            continue
        if not left_out.has("panels", name):
            _check_formulas(panel, path, lengths)
            continue
        unknown = panel.board is not None and panel.board not in boards
        if unknown and "boards" not in left_out.sections:
            lengths.problems.append(unknown_board(name, panel, boards, path))
        if panel.mirror is not None and panel.mirror not in known:
            lengths.problems.append(unknown_original(name, panel, known, path))
        _check_formulas(panel, path, lengths)
    for name, bought in product.bought.items():
        if left_out.has("bought", name):
            _check_formulas(bought, (*base, "bought", name), lengths)


def _check_formulas(said: BaseModel, path: Path, lengths: Lengths) -> None:
    for at, formula in _formulas(said, path):
        lengths.number(formula, at)


def _formulas(said: Any, path: Path) -> Iterator[tuple[Path, str]]:
    """Give every formula of a panel or a bought part with its path."""
    if isinstance(said, BaseModel):
        for name in sorted(said.model_fields_set - _NO_LENGTHS):
            alias = type(said).model_fields[name].alias or name
            yield from _formulas(getattr(said, name), (*path, alias))
    elif isinstance(said, tuple):
        for n, inner in enumerate(said):
            yield from _formulas(inner, (*path, n))
    elif isinstance(said, str) and not (path[-1] == "depth" and said == "through"):
        yield path, said
    elif isinstance(said, Mapping):
        for name in sorted(said):
            yield from _formulas(said[name], (*path, name))
