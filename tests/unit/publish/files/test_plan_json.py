"""plan.json read back."""

from __future__ import annotations

import json
import pathlib

from kdkit.publish.files.plan_json import plan_data
from tests import handmade


def test_it_reads_back_with_reasons_and_letters(published: pathlib.Path) -> None:
    data = json.loads((published / "plan.json").read_text(encoding="utf-8"))
    plan = handmade.plan()
    assert data["product"] == "Window-sill bookcase"
    assert data["revision"] == "B"
    assert data["letters"] == {
        "left_side": "A",
        "right_side": "B",
        "bottom": "C",
        "top": "C",
        "back": "D",
    }
    assert [operation["id"] for operation in data["operations"]] == list(plan.order)
    assert [step["number"] for step in data["steps"]] == [1, 2, 3, 4, 5]
    assert all(p["reason"] for p in data["precedences"])
    assert data["motion_class"] == plan.motion_class
    assert data["search"] == plan.search
    assert data["operations"][2]["direction"] == [1, 0, 0]


def test_keys_stand_in_a_fixed_order() -> None:
    one, two = (json.dumps(plan_data(handmade.plan())) for _ in range(2))
    assert one == two
    for step in plan_data(handmade.plan())["steps"]:
        assert list(step["items"]) == sorted(step["items"])
