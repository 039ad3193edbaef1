"""Slots in what is printed: the drilling table, and which way round a slotted part goes."""

from __future__ import annotations

import csv
import io
import math
import pathlib

from kdkit.pipeline import Request, build

DEFINITION = """
kdkit: 1
product: Two boards
boards:
  carcass: {material: plywood-birch, thickness: 18}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 300], z: [0, 500], face: +x}
  shelf: {board: carcass, x: [side.x1, 500], y: [0, 300], z: {from: 200}}
joints:
  - join: shelf
    to: side
    fittings: [{fitting: biscuit-20, at: [80, 180]}]
safety: {wall_restraint: none}
"""


def test_the_table_has_both_slots_of_each_biscuit(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "boards.yaml"
    file.write_text(DEFINITION, encoding="utf-8")
    outcome = build(Request(file=file), tmp_path / "out")
    assert outcome.complete, outcome.problems
    text = (tmp_path / "out" / "drilling.csv").read_text(encoding="utf-8-sig")
    head, *rows = csv.reader(io.StringIO(text))
    slots = [dict(zip(head, row, strict=True)) for row in rows if "slot" in row]
    assert len(slots) == 4
    length = 2 * math.sqrt(12.5 * 87.5)
    for slot in slots:
        x0, y0, x1, y1 = (float(slot[h]) for h in head[head.index("x (mm)") :][:4])
        assert abs(math.hypot(x1 - x0, y1 - y0) - length) < 0.02
        assert (slot["Slot width (mm)"], slot["Slot cutter disc (mm)"]) == ("4", "100")
        assert slot["Depth (mm)"] == "12.5"
        assert slot["Diameter (mm)"] == ""
    page = (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")
    assert "Right way round" in page  # the slots are not in the middle
