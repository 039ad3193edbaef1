"""Definitions that several tests look at: the examples, and reviewed cases by their names."""

from __future__ import annotations

import pathlib

__all__ = ["product_file"]

ROOT = pathlib.Path(__file__).parents[1]


def product_file(name: str) -> pathlib.Path:
    """The definition of an example, or of a case under ``tests/golden``."""
    case = ROOT / "tests" / "golden" / name / "definition.yaml"
    return case if case.exists() else ROOT / "examples" / f"{name}.yaml"
