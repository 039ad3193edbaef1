"""Formulas: values, faults with the characters they mean, nothing but arithmetic."""

from __future__ import annotations

import pytest

from kdkit.definition import Formula, FormulaFault, evaluate, names, parse_formula
from kdkit.definition.formula import FUNCTIONS, MAX_LENGTH, near_names


def value(text: str, **variables: float) -> float:
    formula = parse_formula(text)
    assert isinstance(formula, Formula), formula
    result = evaluate(formula, {k.replace("__", "."): v for k, v in variables.items()})
    assert isinstance(result, float), result
    return result


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 + 2 * 3", 7),
        ("(1 + 2) * 3", 9),
        ("10 - 2 - 3", 5),
        ("24 / 4 / 2", 3),
        ("-2 * -3", 6),
        ("2 * -3 + 1", -5),
        ("- - 2", 2),
        ("+5", 5),
        ("--5 - -5", 10),
        (".5 + 1.", 1.5),
        ("1e3", 1000),
        ("min(3, 1 + 1, 5)", 2),
        ("max(3, min(9, 7))", 7),
        ("abs(3 - 10)", 7),
        ("floor(2.7)", 2),
        ("floor(-2.1)", -3),
        ("ceil(2.1)", 3),
        ("floor(0.3 / 0.1)", 3),
        ("ceil(0.3 / 0.1)", 3),
        ("round_to(13, 4)", 12),
        ("round_to(14, 4)", 16),
        ("round_to(-13, 4)", -12),
        # Source: common practice, computed: a = 9.5, at most 2133.6 -> 2131.
        ("on_grid(2133.6, 9.5)", 2131),
        ("on_grid(774, 35)", 774),  # the same: 774 = 2 x 35 + 22 x 32
        ("on_grid(805.9, 35)", 774),
        ("on_grid(70, 35)", 70),
        ("on_grid(723, -1.5)", 701),  # a front with a reveal of 3: 22 x 32 - 3
        ("on_grid(100, 10, 25)", 95),
        # Half an equilateral triangle, half a square, and the right angle's own values.
        ("2 * sin(30)", 1),
        ("sqrt(3 * 3 + 4 * 4)", 5),
        ("sqrt(0.1 + 0.2 - 0.3 - 1e-16)", 0),
        ("hypot(300, 400)", 500),
        ("hypot(2, 3, 6)", 7),
        ("2 * cos(60)", 1),
        ("4 * cos(30) * cos(30)", 3),
        ("tan(45)", 1),
        ("tan(-135)", 1),
        ("sin(90) + sin(-90) + sin(270)", -1),
        ("1 / cos(0)", 1),
        ("sin(180) + cos(90) + tan(180)", 0),
        ("asin(1) + asin(-0.5)", 60),
        ("acos(0.5)", 60),
        ("acos(1.0000000001)", 0),
        ("atan(80 / 480)", 9.462322208025618),  # the angle whose tangent is a sixth, from tables
        ("480 * tan(atan(80 / 480))", 80),
    ],
)
def test_value(text: str, expected: float) -> None:
    assert value(text) == pytest.approx(expected, abs=1e-12)


def test_names_are_given_with_their_characters() -> None:
    formula = parse_formula("left_side.x1 + 2 * width")
    assert isinstance(formula, Formula)
    assert names(formula) == (("left_side.x1", 0, 12), ("width", 19, 24))
    assert value("left_side.x1 + 2 * width", left_side__x1=18, width=5) == 28


def test_variables_may_be_a_function() -> None:
    formula = parse_formula("t / 2 + 4.5")
    assert isinstance(formula, Formula)
    assert evaluate(formula, lambda name: 18.0 if name == "t" else None) == 13.5


# text: (code, the characters meant, a word of the help)
FAULTS = {
    "": ("formula-syntax", None, "number"),
    "   ": ("formula-syntax", None, "number"),
    "1 +": ("formula-syntax", "+", "after"),
    "(1 + 2": ("formula-syntax", "(", ")"),
    "min(1, 2": ("formula-syntax", "(", ")"),
    "1 + 2)": ("formula-syntax", ")", ""),
    "1 2": ("formula-syntax", "2", ""),
    "3,5": ("formula-syntax", ",", "decimal point"),
    "600mm": ("formula-syntax", "mm", "mm"),
    "2 ** 3": ("formula-syntax", "*", ""),
    "a[0]": ("formula-syntax", "[", "formulas know"),
    "a if b else c": ("formula-syntax", "if", ""),
    "'text'": ("formula-syntax", "'", ""),
    "(1).real": ("formula-syntax", ".", ""),
    "lambda: 0": ("formula-syntax", ":", ""),
    "x.__class__": ("formula-name", "x.__class__", "parameters"),
    "__import__('os')": ("formula-syntax", "'", "formulas know"),
    "exp(2)": ("formula-name", "exp", ""),
    "flor(2)": ("formula-name", "flor", "floor"),
    "widht * 2": ("formula-name", "widht", "width"),
    "min(1)": ("formula-syntax", "min(1)", ""),
    "abs(1, 2)": ("formula-syntax", "abs(1, 2)", ""),
    "5 / (2 - 2)": ("formula-arithmetic", "/", ""),
    "1e400": ("formula-arithmetic", "1e400", ""),
    "1e9 * 1e9": ("formula-arithmetic", "*", ""),
    "on_grid(69.9, 35)": ("formula-arithmetic", "on_grid(69.9, 35)", ""),
    "on_grid(700, 35, 0)": ("formula-arithmetic", "on_grid(700, 35, 0)", ""),
    "on_grid(700)": ("formula-syntax", "on_grid(700)", ""),
    "round_to(5, 0)": ("formula-arithmetic", "round_to(5, 0)", ""),
    "1 + tan(90)": ("formula-arithmetic", "tan(90)", ""),
    "tan(-270)": ("formula-arithmetic", "tan(-270)", ""),
    "asin(480 / 80)": ("formula-arithmetic", "asin(480 / 80)", "atan(rise / run)"),
    "acos(-2)": ("formula-arithmetic", "acos(-2)", "two lengths"),
    "1 + sqrt(2 - 4)": ("formula-arithmetic", "sqrt(2 - 4)", "hypot(rise, run)"),
    "hypot(3)": ("formula-syntax", "hypot(3)", ""),
    "atan(80, 480)": ("formula-syntax", "atan(80, 480)", ""),
    "sine(30)": ("formula-name", "sine", "sin"),
    "1" + " + 1" * 200: ("formula-too-long", None, "parameters"),
    "(" * 100 + "1" + ")" * 100: ("formula-too-long", None, "parameters"),
}


@pytest.mark.parametrize("text", FAULTS)
def test_fault_means_its_characters(text: str) -> None:
    code, meant, word = FAULTS[text]
    result: Formula | FormulaFault | float = parse_formula(text)
    if isinstance(result, Formula):
        result = evaluate(result, {"width": 600.0})
    assert isinstance(result, FormulaFault), result
    assert result.code == code
    if meant is not None:
        assert text[result.start : result.end] == meant
    assert word in result.help


def test_length_is_bounded_before_anything_else() -> None:
    result = parse_formula("9" * (MAX_LENGTH + 1))
    assert isinstance(result, FormulaFault)
    assert result.code == "formula-too-long"


def test_fault_becomes_a_problem_with_its_characters() -> None:
    fault = parse_formula("1 + * 2")
    assert isinstance(fault, FormulaFault)
    problem = fault.problem(("panels", "shelf", "x", 0))
    assert (problem.path, problem.span) == (("panels", "shelf", "x", 0), (4, 5))


def test_every_function_is_tried_above() -> None:
    tried = {"abs", "ceil", "floor", "hypot", "sqrt", "max", "min", "on_grid", "round_to"}
    assert set(FUNCTIONS) == tried | {"sin", "cos", "tan", "asin", "acos", "atan"}


def test_the_near_name_is_found_among_very_many() -> None:
    known = [f"panel_{n}" for n in range(1500)] + ["left_side"]
    assert near_names("left_sdie", known) == ["left_side"]
    assert near_names("panl_1234", known)[0] == "panel_1234"
    assert near_names("zzz", known) == []
