"""Definitions that several tests look at: the examples, and reviewed cases by their names.

What is worked out of one is worked out once in a process, whichever tests ask for it: no
test may change it.
"""

from __future__ import annotations

import pathlib
from functools import cache

from kdkit.pipeline import Outcome, Request, build, check
from kdkit.publish.results import Results
from tests.boxes import Made

__all__ = ["built", "checked", "made_of", "product_file", "results_of"]

ROOT = pathlib.Path(__file__).parents[1]


def product_file(name: str) -> pathlib.Path:
    """The definition of an example, or of a case under ``tests/golden``."""
    case = ROOT / "tests" / "golden" / name / "definition.yaml"
    return case if case.exists() else ROOT / "examples" / f"{name}.yaml"


@cache
def checked(name: str, variant: str | None = None) -> Outcome:
    """All that a check finds and works out, risks included."""
    return check(Request(file=product_file(name), variant=variant))


def results_of(name: str, variant: str | None = None) -> Results:
    outcome = checked(name, variant)
    assert outcome.results is not None, outcome.problems
    return outcome.results


def made_of(name: str, variant: str | None = None) -> Made:
    """What the planner is given of a product."""
    results = results_of(name, variant)
    return results.resolved, results.assembly, results.joinery, results.catalogue


def built(name: str, folder: pathlib.Path) -> Outcome:
    """What a build of an example tells; its files are in a new folder."""
    outcome = build(Request(file=product_file(name)), folder)
    assert outcome.complete, outcome.problems
    return outcome
