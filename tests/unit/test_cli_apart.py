from __future__ import annotations

import json
import pathlib

import pytest
from click.testing import CliRunner

from kdkit.cli.commands import group

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
CABINET = str(EXAMPLES / "low-cabinet.yaml")


def test_replacing_a_part_in_words() -> None:
    result = CliRunner().invoke(group, ["apart", CABINET, "--part", "divider"])
    assert result.exit_code == 0
    assert "to replace divider" in result.stdout
    assert "take off divider upwards" in result.stdout
    assert "put on divider downwards" in result.stdout


def test_the_whole_as_data() -> None:
    result = CliRunner().invoke(group, ["apart", CABINET, "--to-carry", "--json"])
    assert result.exit_code == 0
    data = json.loads(result.stdout)
    assert len(data["pieces"]) == 10
    assert data["search"].startswith("exact")


def test_a_part_that_stays_is_a_problem() -> None:
    bookcase = str(EXAMPLES / "bookcase.yaml")
    result = CliRunner().invoke(group, ["apart", bookcase, "--part", "left_side"])
    assert result.exit_code == 1
    assert "[part-stays]" in result.stderr
    assert "do not come apart" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "--part NAME or --to-carry"),
        (["--part", "top", "--to-carry"], "--part NAME or --to-carry"),
        (["--part", "top", "--largest", "1x1x1"], "belongs to --to-carry"),
        (["--to-carry", "--largest", "1x1"], "three lengths"),
        (["--to-carry", "--largest", "ax1x1"], "three lengths"),
        (["--to-carry", "--largest", "1x-1x1"], "three lengths"),
    ],
)
def test_wrong_usage(arguments: list[str], said: str) -> None:
    result = CliRunner().invoke(group, ["apart", CABINET, *arguments])
    assert result.exit_code == 2
    assert said in result.stderr
