"""Certificates that are no certificates: told, bounded, no fault."""

from __future__ import annotations

import json
import pathlib
from typing import Any

import pytest
from click.testing import CliRunner, Result

from kdkit.cli.commands import group

CASE = pathlib.Path(__file__).parents[3] / "golden" / "corner-ring"
SOUND: dict[str, Any] = json.loads((CASE / "impossible.json").read_text(encoding="utf-8"))


def verified(tmp_path: pathlib.Path, text: str) -> Result:
    file = tmp_path / "impossible.json"
    file.write_text(text, encoding="utf-8")
    result = CliRunner().invoke(group, ["verify", str(CASE / "definition.yaml"), str(file)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def changed(**values: object) -> str:
    return json.dumps({**SOUND, **values})


def loop(**values: object) -> str:
    first, *rest = SOUND["loops"]
    return changed(loops=[{**first, **values}, *rest])


def test_the_sound_one_holds(tmp_path: pathlib.Path) -> None:
    assert verified(tmp_path, json.dumps(SOUND)).exit_code == 0


BLOCK = SOUND["loops"][0]["blocks"][0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[" * 200_000, "cannot be read"),
        ('{"a":' * 200_000, "cannot be read"),
        ("9" * 5000, "cannot be read"),
        (loop(direction=[10**400, 0, 0]), "holds no proof"),
        (loop(direction=[1e308, 0, 0]), "holds no proof"),
        (loop(direction=[float("nan"), 0, 0]), "NaN is no number"),
        (loop(direction=[float("inf"), 0, 0]), "Infinity is no number"),
        (loop(direction=["1", 0, 0]), "holds no proof"),
        (loop(blocks=None), "holds no proof"),
        (loop(blocks=[{**BLOCK, "part": 7}]), "holds no proof"),
        (loop(blocks=[{**BLOCK, "reason": "x" * 2000}]), "holds no proof"),
        (loop(blocks=[BLOCK] * 50_001), "it has more than 50000 blocks"),
        (changed(loops=SOUND["loops"] * 100), "it has more than 200 loops"),
        (changed(parts=[str(n) for n in range(2001)]), "it has more than 2000 parts"),
        (changed(parts={}), "holds no proof"),
        (changed(verdict=[]), "holds no proof"),
        ('{"parts": [], "parts": [], "verdict": "impossible"}', "'parts' is written twice"),
        ("[]", "holds no proof"),
        ("", "cannot be read"),
        (" " * 20_000_001, "larger than 20 MB"),
    ],
)
def test_what_is_no_certificate_is_told(tmp_path: pathlib.Path, text: str, said: str) -> None:
    result = verified(tmp_path, text)
    assert result.exit_code == 1
    assert "[certificate-bad]" in result.stdout + result.stderr
    (place,) = [line for line in result.stderr.splitlines() if ": error: " in line]
    assert place.startswith(f"{tmp_path}/"), "it is told of the certificate, not of the definition"
    assert ".json: error: " in place
    assert said in result.stdout + result.stderr


def test_a_certificate_with_many_faults_has_the_first_told(tmp_path: pathlib.Path) -> None:
    wrong = [{**BLOCK, "part": f"part {n} {'x' * 900}"} for n in range(2000)]
    result = verified(tmp_path, loop(blocks=wrong))
    assert result.exit_code == 1
    told = result.stdout + result.stderr
    assert "more of the kind" in told
    assert len(told) < 30_000
