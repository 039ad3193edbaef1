"""The JSON Schema of a run's file."""

from __future__ import annotations

from typing import Any

from kdkit.model.schema import schema_of
from kdkit.production.said import ProductionRun

__all__ = ["run_schema"]


def run_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of the file that a production run is written in."""
    about = "What is made in one go: products, variants, quantities, and what is bought for them."
    return schema_of(ProductionRun, "kdkit run", about)
