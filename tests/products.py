"""Products read from a definition's text, taken as far as the planner's inputs."""

from __future__ import annotations

import pathlib

from kdkit.catalogue import load_catalogue
from kdkit.definition import load_definition
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.model import read_product, resolve
from tests.boxes import Made

RING = """\
kdkit: 1
product: Corner of three boards
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  floor: {title: Floor, board: carcass, x: [18, 300], y: [0, 300], z: {from: 0}}
  left: {title: Left side, board: carcass, x: {from: 0}, y: [0, 282], z: [0, 300]}
  rear: {title: Rear, board: carcass, x: [0, 300], y: {from: 282}, z: [18, 300]}
joints:
  - {join: floor, to: left, fittings: [dowel-8x30]}
  - {join: left, to: rear, fittings: [dowel-8x30]}
  - {join: rear, to: floor, fittings: [dowel-8x30]}
"""
"""Each board's edge meets the next one's face, all the way round a corner."""

HOUSED = """\
kdkit: 1
product: Housed corner
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  floor:
    title: Floor
    board: carcass
    x: [12, 300]
    y: [30, 300]
    z: {from: 0}
    notches: [{at: [back, left], x: 6, y: 30}]
  left: {title: Left side, board: carcass, x: {from: 0}, y: [0, 282], z: [-40, 300]}
  rear: {title: Rear, board: carcass, x: [0, 300], y: {from: 282}, z: [18, 300]}
joints:
  - {join: floor, to: left, fittings: [housed]}
  - {join: left, to: rear, fittings: [dowel-8x30]}
  - {join: rear, to: floor, fittings: [dowel-8x30]}
"""
"""The same ring with one of its joints a housing that stops at both ends."""

CASE = """\
kdkit: 1
product: Case
boards:
  carcass: {material: particleboard-p2, thickness: 18}
  thin: {material: hardboard, thickness: 3}
panels:
  bottom: {title: Bottom, board: carcass, x: [18, 582], y: [0, 300], z: {from: 0}}
  right: {title: Right side, board: carcass, x: {to: 600}, y: [0, 300], z: [0, 600]}
  top: {title: Top, board: carcass, x: [18, 582], y: [0, 300], z: {to: 600}}
  left: {title: Left side, board: carcass, x: {from: 0}, y: [0, 300], z: [0, 600]}
  shelf: {title: Shelf, board: carcass, x: [18, 582], y: [0, 280], z: {from: 300}}
  back: {title: Back, board: thin, x: [11, 589], y: {from: 280}, z: [11, 589]}
joints:
  - {join: [bottom, top, shelf], to: [left, right], fittings: [dowel-8x30]}
  - {join: back, to: [bottom, right, top, left], fittings: [back-in-groove]}
"""
"""Shelves on dowels between two sides, a back in grooves all round."""

PACKED_RING = RING.replace(
    "to: left, fittings: [dowel-8x30]", "to: left, fittings: [dowel-8x30], workshop: true"
)
"""The ring with two of its boards packed as one: the third is pinned both ways to them."""

PACKED_CASE = CASE.replace("[left, right],", "[left, right], workshop: true,")
"""The case put together in the workshop: its back can no longer get into the grooves."""


def made(folder: pathlib.Path, text: str) -> Made:
    """Return what the planner takes; every stage before it must find no fault."""
    file = folder / "definition.yaml"
    file.write_text(text, encoding="utf-8")
    definition, problems = load_definition(file)
    assert definition is not None, problems
    product, problems = read_product(definition)
    assert product is not None, problems
    resolved, problems = resolve(product)
    assert resolved is not None, problems
    catalogue, problems = load_catalogue()
    assert catalogue is not None, problems
    assembly, problems = assemble(resolved)
    assert assembly is not None, problems
    joinery, problems = place_fittings(resolved, assembly, catalogue)
    assert joinery is not None, problems
    return resolved, assembly, joinery, catalogue
