"""Nothing is laid on its handle: what sticks out below is told, with what goes under it."""

from __future__ import annotations

import json
import pathlib
from dataclasses import replace

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group
from kdkit.plan import make_plan
from kdkit.plan.plan import Plan
from tests.products import made
from tests.replay import ReplayError, replay

WARDROBE = pathlib.Path(__file__).parents[3] / "examples" / "wardrobe.yaml"

TWO_SIDED = """\
kdkit: 1
product: Divider with shelves on both sides
boards: {board: {material: particleboard-p2, thickness: 18}}
panels:
  divider: {title: Divider, board: board, x: {from: 400}, y: [0, 300], z: [0, 500], face: +x}
  left: {title: Left shelf, board: board, x: [0, divider.x0], y: [0, 300], z: {from: 200}}
  right: {title: Right shelf, board: board, x: [divider.x1, 818], y: [0, 300], z: {from: 300}}
joints:
  - {join: [left, right], to: divider, fittings: [cam-and-bolt]}
"""


def operations_of(source: pathlib.Path) -> list[dict[str, object]]:
    result = CliRunner().invoke(group, ["plan", str(source), "--json"])
    assert result.exit_code == 0, result.output
    found: list[dict[str, object]] = json.loads(result.stdout)["operations"]
    return found


def steps_of(folder: pathlib.Path, text: str) -> list[dict[str, object]]:
    source = folder / "product.yaml"
    source.write_text(text, encoding="utf-8")
    return operations_of(source)


def test_a_front_laid_on_its_handle_gets_strips_as_high_as_the_handle() -> None:
    told = [o for o in operations_of(WARDROBE) if o["clear_of"] == ["handle-128"]]
    assert len(told) == 9
    for operation in told:
        assert operation["posture"] == "on-front"
        assert [str(part).rpartition(".")[2] for part in operation["onto"]] == ["front"]  # type: ignore[attr-defined]
        assert operation["strips_mm"] == 22


def test_the_manual_says_what_goes_under_the_work(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "divider.yaml"
    source.write_text(TWO_SIDED, encoding="utf-8")
    out = tmp_path / "out"
    result = CliRunner().invoke(group, ["build", str(source), "--out", str(out)])
    assert result.exit_code == 0, result.output
    page = (out / "manual.html").read_text(encoding="utf-8")
    assert "Lay strips of wood thicker than 36" in page


def test_a_board_with_bolts_in_both_faces_lies_on_strips(tmp_path: pathlib.Path) -> None:
    told = [o for o in steps_of(tmp_path, TWO_SIDED) if o["strips_mm"]]
    assert next((o["kind"], o["parts"]) for o in told) == ("fit", ["divider"])


def test_bolts_in_one_face_lie_up(tmp_path: pathlib.Path) -> None:
    one_sided = TWO_SIDED.replace("[left, right], to", "right, to").replace("  left:", "  other:")
    one_sided = "".join(line for line in one_sided.splitlines(True) if "other:" not in line)
    assert not [o for o in steps_of(tmp_path, one_sided) if o["strips_mm"]]


def test_the_replay_tells_of_hardware_that_nothing_was_said_of(tmp_path: pathlib.Path) -> None:
    """What the examples' plans say is enough for it: ``tests/outside/test_replay.py``."""
    product = made(tmp_path, WARDROBE.read_text(encoding="utf-8"))
    plan, _ = make_plan(*product)
    assert isinstance(plan, Plan)
    told = [o.strips for o in plan.operations if "handle-128" in o.clear_of]
    silent = replace(
        plan,
        operations=tuple(
            replace(o, strips=0.0) if "handle-128" in o.clear_of else o for o in plan.operations
        ),
    )
    assert told
    with pytest.raises(ReplayError, match=r"lies on handle-128 of left_1\.front"):
        replay(product, silent)
