"""How the first part is put down: laid on a face, or stood on an edge."""

from __future__ import annotations

import pathlib
import re

from kdkit.pipeline import Request, check
from kdkit.publish.manual.steps import write_steps
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.wording.naming import Names

CASE = """\
kdkit: 1
product: Stand
boards: {pine: {material: pine, thickness: 28}, top: {material: pine, thickness: 20}}
panels:
  left: {board: pine, x: {from: 0}, y: [20, 500], z: [0, 560], face: +x, grain: z}
  right: {mirror: left, x: {to: 690}}
  top: {board: top, x: [-20, 710], y: [0, 500], z: {from: 560}, grain: x}
  rail: {board: top, x: [left.x1, right.x0], y: {to: 470}, z: [300, 420], face: +y, grain: x}
joints:
  - {join: rail, to: [left, right], fittings: [{fitting: barrel-nut-m6x60, at: [30, -30]}]}
  - {join: top, to: [left, right], fittings: [{fitting: screw-4x50, ends: 60, pitch: 150}]}
"""


def test_a_panel_that_stands_on_its_edge_is_told_to_be_stood(tmp_path: pathlib.Path) -> None:
    (tmp_path / "it.yaml").write_text(CASE)
    outcome = check(Request(file=tmp_path / "it.yaml"), risks=False)
    results = outcome.results
    assert results is not None, outcome.problems
    messages = load_messages("en")
    names = Names(results.resolved, results.catalogue, results.schedules, messages, {})
    steps = write_steps(results, names, messages, lambda key, words: None, from_parts=True)
    lines = [re.sub("<[^>]*>", "", line) for step in steps for line in step.lines]
    (begun,) = [line for line in lines if "lies below" in line]
    assert begun.startswith("Stand left")
    assert begun.endswith("on its back edge, as drawn: what will be its back lies below.")
