"""How contact search and inspection grow with the number of panels. Run as a script.

Rows of open carcasses side by side, 5 panels each. Prints seconds and the exponent from
one size to the next: about 1 means that twice the panels take twice the time.
"""

from __future__ import annotations

import math
import pathlib
import sys
import time
from dataclasses import replace

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.frames import Frame
from kdkit.geometry import assemble
from kdkit.inspect import inspect_product
from kdkit.joinery import place_fittings
from kdkit.model.resolved import Part, Resolved, ResolvedJoint
from tests.cabinets import built_in, carcass, carcass_joints, resolved

SIZES = (50, 100, 200, 400, 800, 1600)


def rows(panels: int) -> Resolved:
    """Return carcasses on a square of floor, each touching its neighbours' sides."""
    count = panels // 5
    per_row = math.ceil(math.sqrt(count))
    parts: list[Part] = []
    joints: list[ResolvedJoint] = []
    for n in range(count):
        at = Frame(
            (600.0 * (n % per_row), 303.0 * (n // per_row), 0.0), (1, 0, 0), (0, 1, 0), (0, 0, 1)
        )
        parts += [replace(p, name=f"c{n}_{p.name}") for p in carcass(at=at)]
        joints += [
            replace(j, name=f"c{n}_{j.name}", joined=f"c{n}_{j.joined}", to=f"c{n}_{j.to}")
            for j in carcass_joints()
        ]
    return resolved(parts, joints)


def main() -> None:
    """Print one line for each size."""
    catalogue = built_in()
    before: tuple[float, float] | None = None
    print(
        f"{'panels':>7} {'contacts':>9} {'find s':>8} {'grows':>6} {'inspect s':>10} {'grows':>6}"
    )
    for size in SIZES:
        product = rows(size)
        start = time.perf_counter()
        assembly, _ = assemble(product)
        found = time.perf_counter() - start
        assert assembly is not None
        joinery, problems = place_fittings(product, assembly, catalogue)
        assert joinery is not None, problems
        start = time.perf_counter()
        inspect_product(product, assembly, joinery, catalogue)
        inspected = time.perf_counter() - start
        growth = ("", "")
        if before is not None:
            pairs = ((found, before[0]), (inspected, before[1]))
            growth = tuple(f"{math.log2(a / b):.2f}" for a, b in pairs)  # type: ignore[assignment]
        before = found, inspected
        print(
            f"{size:7d} {len(assembly.contacts):9d} {found:8.3f} {growth[0]:>6}"
            f" {inspected:10.3f} {growth[1]:>6}"
        )


if __name__ == "__main__":
    main()
