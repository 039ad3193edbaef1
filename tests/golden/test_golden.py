"""Whole cases: a definition, and the plan and tables that it gave when they were reviewed."""

from __future__ import annotations

import json
import pathlib

import pytest

from kdkit.diagnostics import Severity
from kdkit.pipeline import Outcome, Request, check
from kdkit.publish.files.plan_json import render_plan_json
from kdkit.publish.files.tables import render_cut_list, render_drilling, render_hardware
from kdkit.publish.no_plan import give_account, name_of, no_plan_data, no_plan_text
from kdkit.publish.wording.messages import load_messages

CASES = sorted(p.parent for p in pathlib.Path(__file__).parent.glob("*/definition.yaml"))


def derived(outcome: Outcome) -> dict[str, str]:
    """Return the texts that a case is compared by, by file name."""
    messages = load_messages("en")
    if outcome.no_plan is not None:
        name = name_of(outcome.no_plan)
        data = json.dumps(no_plan_data(outcome.no_plan), indent=2, ensure_ascii=False) + "\n"
        account = give_account(outcome.no_plan, messages)
        return {f"{name}.txt": no_plan_text(account), f"{name}.json": data}
    assert outcome.results is not None, outcome.problems
    return {
        "plan.json": render_plan_json(outcome.results),
        "cutlist.csv": render_cut_list(outcome.results, messages),
        "drilling.csv": render_drilling(outcome.results, messages),
        "hardware.csv": render_hardware(outcome.results, messages),
    }


@pytest.mark.parametrize("case", CASES, ids=lambda p: p.name)
def test_case_gives_what_was_reviewed(case: pathlib.Path, request: pytest.FixtureRequest) -> None:
    outcome = check(Request(file=case / "definition.yaml"), risks=False)
    problems = [p for p in outcome.problems if p.severity is not Severity.ADVICE]
    codes = [problem.code for problem in problems]
    assert codes == ([] if outcome.no_plan is None else [outcome.no_plan.problem.code])
    for name, text in derived(outcome).items():
        if request.config.getoption("--rewrite-golden"):
            (case / name).write_text(text, encoding="utf-8", newline="")
        with (case / name).open(encoding="utf-8", newline="") as reviewed:
            assert text == reviewed.read(), name
