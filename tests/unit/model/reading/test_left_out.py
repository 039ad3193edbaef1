"""A product of which something could not be read knows what that was, and so do its units."""

from __future__ import annotations

import pathlib

from kdkit.definition import load_definition
from kdkit.model.left_out import NOTHING
from kdkit.model.reading.reading import read_definition
from kdkit.model.resolving.known_parts import KnownParts

TRAY = """\
kdkit: 1
product: Tray
boards:
  thin: {material: plywood-birch, thickness: 9}
panels:
  floor: {board: thin, x: [0, 200], y: [0, 100], z: {from: 0}}
  rim: {board: thin, x: [0, 200], y: {from: 0}, z: [9, 40], loose: perhaps}
unit_definitions:
  box:
    product: Box
    panels:
      lid: {board: thin, x: [0, 90], y: [0, 80], z: {from: 0}, face: sideways}
"""


def test_each_product_knows_what_was_left_out_of_it(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "tray.yaml"
    file.write_text(TRAY)
    definition, _ = load_definition(file)
    assert definition is not None
    rest = read_definition(definition).rest
    assert rest is not None
    assert rest.left_out.names("panels") == ("rim",)
    assert rest.unit_definitions["box"].left_out.names("panels") == ("lid",)
    known = KnownParts(["floor"], rest.left_out)
    assert list(known) == ["floor"]
    assert known.may_be("rim")
    assert "rim" not in known
    assert not known.may_be("rug")


def test_nothing_is_left_out_of_what_can_be_read(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "tray.yaml"
    file.write_text(TRAY.replace(", loose: perhaps", "").replace(", face: sideways", ""))
    definition, _ = load_definition(file)
    assert definition is not None
    product = read_definition(definition).product
    assert product is not None
    assert product.left_out == NOTHING
    assert product.unit_definitions["box"].left_out == NOTHING
