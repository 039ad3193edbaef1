"""Laws of definitions: order of keys, mirrors, places, arithmetic."""

from __future__ import annotations

import json
import pathlib
import random
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from kdkit.definition import Formula, FormulaFault, evaluate, load_definition, parse_formula
from kdkit.model import Product, Resolved, resolve
from kdkit.model.says import Board, OneEnd, Panel, Turn
from kdkit.pipeline import Request, check
from kdkit.publish.files.plan_json import render_plan_json

EXAMPLES = sorted((pathlib.Path(__file__).parents[2] / "examples").glob("*.yaml"))


def read_example(path: pathlib.Path) -> Any:
    definition, problems = load_definition(path)
    assert definition is not None, problems
    return definition


def made(product: Product) -> Resolved:
    result, problems = resolve(product)
    assert result is not None, problems
    return result


def shuffled(data: Any, chance: random.Random) -> Any:
    """Return the data with the keys of every mapping in another order."""
    if isinstance(data, dict):
        keys = list(data)
        chance.shuffle(keys)
        return {key: shuffled(data[key], chance) for key in keys}
    if isinstance(data, list):
        return [shuffled(item, chance) for item in data]
    return data


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
@given(seed=st.integers(0, 10**9))
@settings(max_examples=15, deadline=None)
def test_key_order_never_changes_the_product(example: pathlib.Path, seed: int) -> None:
    data = read_example(example).data
    usual = made(Product.model_validate(data))
    other = made(Product.model_validate(shuffled(data, random.Random(seed))))
    assert other == usual
    # Not only equal, but in the same order, so that nothing later can tell them apart.
    assert repr(other) == repr(usual)


SMALL = """\
kdkit: 1
product: Box
parameters: {width: 600, height: 400}
boards:
  carcass: {material: particleboard-p2, thickness: 18}
  back: {material: hardboard, thickness: 3}
panels:
  left_side: {board: carcass, x: {from: 0}, y: [3, 250], z: [0, height], face: +x}
  right_side: {mirror: left_side, x: {to: width}}
  top: {board: carcass, x: [left_side.x1, right_side.x0], y: [3, 250], z: {to: height}, face: -z}
  bottom: {board: carcass, x: [left_side.x1, right_side.x0], y: [3, 250], z: {from: 0}, face: +z}
joints:
  - join: [top, bottom]
    to: [left_side, right_side]
    fittings: [{fitting: FITTING}, {fitting: cam-and-bolt, ends: 64}]
safety: {wall_restraint: none}
"""


def plan_of(folder: pathlib.Path, data: Any) -> str:
    """Return what plan.json holds for a definition with these data."""
    file = folder / "box.yaml"
    file.write_text(json.dumps(data), encoding="utf-8")  # JSON is YAML
    outcome = check(Request(file=file))
    assert outcome.results is not None, outcome.problems
    return render_plan_json(outcome.results)


@pytest.mark.parametrize("fitting", ["dowel-8x35", "dowel-8x30-glued"])
@given(seed=st.integers(0, 10**9))
@settings(max_examples=6, deadline=None)
def test_key_order_never_changes_the_plan(
    fitting: str, seed: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("order")
    (folder / "said.yaml").write_text(SMALL.replace("FITTING", fitting), encoding="utf-8")
    data = read_example(folder / "said.yaml").data
    usual = plan_of(folder, data)
    assert json.loads(usual)["operations"]
    assert plan_of(folder, shuffled(data, random.Random(seed))) == usual


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_every_value_and_key_has_its_own_place(example: pathlib.Path) -> None:
    """What stands at a scalar's place is that scalar."""
    definition = read_example(example)

    def walk(data: Any, path: tuple[str | int, ...]) -> None:
        if isinstance(data, dict):
            for key, value in data.items():
                source = definition.locate((*path, key), on_key=True)
                text = definition.line_text(source)[source.column - 1 : source.end_column - 1]
                assert text.strip("\"'") == key
                walk(value, (*path, key))
        elif isinstance(data, list):
            for n, item in enumerate(data):
                walk(item, (*path, n))
        elif isinstance(data, int | float) and not isinstance(data, bool):
            source = definition.locate(path)
            text = definition.line_text(source)[source.column - 1 : source.end_column - 1]
            assert float(text) == data

    walk(definition.data, ())


SIZES = st.floats(min_value=20, max_value=2000).map(lambda v: round(v, 2))
PLACES = st.floats(min_value=-2000, max_value=2000).map(lambda v: round(v, 2))
ANGLES = st.floats(min_value=-90, max_value=90).map(lambda v: round(v, 1))


@st.composite
def panels(draw: st.DrawFn) -> Panel:
    """Return a panel of any size, place, direction and turn."""
    thin = draw(st.sampled_from("xyz"))
    spans: dict[str, Any] = {}
    for axis in "xyz":
        start = draw(PLACES)
        spans[axis] = OneEnd(start=start) if axis == thin else (start, start + draw(SIZES))
    grain = draw(st.sampled_from([a for a in "xyz" if a != thin]))
    turns = draw(
        st.lists(
            st.builds(
                Turn,
                axis=st.sampled_from("xyz"),
                angle=ANGLES,
                about=st.tuples(PLACES, PLACES, PLACES),
            ),
            max_size=3,
        )
    )
    return Panel(
        board="b",
        face=draw(st.sampled_from("+-")) + thin,
        grain=grain,
        turns=tuple(turns),
        **spans,
    )


def product_of(**parts: Panel) -> Product:
    return Product(product="P", boards={"b": Board(material="m", thickness=18)}, panels=dict(parts))


def corners(resolved: Resolved, name: str) -> list[tuple[float, float, float]]:
    part = resolved.part(name)
    return [
        part.frame.point_to_outer((x, y, z))
        for x, y in part.outline
        for z in (0.0, -part.thickness)
    ]


def near(a: list[tuple[float, ...]], b: list[tuple[float, ...]]) -> bool:
    return len(a) == len(b) and all(
        any(max(abs(p - q) for p, q in zip(one, two, strict=True)) < 1e-6 for two in b) for one in a
    )


@given(panel=panels(), where=PLACES)
@example(  # 8.12 + 18 - 8.12 is not 18 in floating point
    panel=Panel(board="b", x=OneEnd(start=8.12), y=(0.0, 20.0), z=(0.0, 20.0), face="+x"),
    where=46.0,
)
@settings(max_examples=60, deadline=None)
def test_a_mirror_image_is_one_and_mirrored_twice_is_itself(panel: Panel, where: float) -> None:
    x = panel.x
    first = x.start if isinstance(x, OneEnd) else x[0] if x is not None else 0.0
    image = Panel(mirror="a", x=OneEnd(start=where))
    back = Panel(mirror="b", x=OneEnd(start=first))
    resolved = made(product_of(a=panel, b=image, c=back))
    a, c = resolved.part("a"), resolved.part("c")
    assert near(corners(resolved, "a"), corners(resolved, "c"))
    assert (a.thickness, a.edge_sides, a.bands) == (c.thickness, c.edge_sides, c.bands)
    size = 18.0 if isinstance(x, OneEnd) else float(x[1]) - float(x[0])  # type: ignore[index]
    total = float(first) + where + size
    mirrored = [(total - p[0], p[1], p[2]) for p in corners(resolved, "a")]
    assert near(mirrored, corners(resolved, "b"))
    # The face looks the mirrored way.
    ka, kb = resolved.part("a").frame.k, resolved.part("b").frame.k
    assert (-ka[0], ka[1], ka[2]) == pytest.approx(kb, abs=1e-9)


@given(panel=panels(), point=st.tuples(PLACES, PLACES, PLACES))
@settings(max_examples=60, deadline=None)
def test_frames_there_and_back(panel: Panel, point: tuple[float, float, float]) -> None:
    part = made(product_of(a=panel)).part("a")
    back = part.frame.point_to_inner(part.frame.point_to_outer(point))
    assert back == pytest.approx(point, abs=1e-6)
    assert min(p[0] for p in part.outline) == 0
    assert min(p[1] for p in part.outline) == 0


# ------------------------------------------------------------------ arithmetic

NAMES = {"width": 600.0, "shelf.x0": 19.0, "t": 18.0}


@st.composite
def formulas(draw: st.DrawFn, depth: int = 4) -> str:
    """Return a formula that Python would read the same way."""
    kind = draw(st.integers(0, 6 if depth else 1))
    if kind == 0:
        return str(draw(st.integers(0, 500)))
    if kind == 1:
        return draw(st.sampled_from([*NAMES, "2.5", ".5", "7."]))
    inner = formulas(depth=depth - 1)
    if kind == 2:
        return f"-{draw(inner)}"
    if kind == 3:
        return f"({draw(inner)})"
    if kind == 4:
        name = draw(st.sampled_from(["min", "max"]))
        return f"{name}({draw(inner)}, {draw(inner)})"
    if kind == 5:
        return f"abs({draw(inner)})"
    space = draw(st.sampled_from(["", " "]))
    return f"{draw(inner)}{space}{draw(st.sampled_from('+-*/'))}{space}{draw(inner)}"


@given(text=formulas())
@settings(max_examples=300, deadline=None)
def test_formulas_agree_with_pythons_arithmetic(text: str) -> None:
    formula = parse_formula(text)
    if isinstance(formula, FormulaFault):
        assert formula.code == "formula-too-long"
        return
    found = evaluate(formula, NAMES)
    python = text.replace("shelf.x0", "shelf")
    known = {"width": 600.0, "shelf": 19.0, "t": 18.0, "min": min, "max": max, "abs": abs}
    try:
        expected = eval(python, {"__builtins__": {}}, known)
    except ZeroDivisionError:
        assert isinstance(found, FormulaFault)
        assert "zero" in found.message
        return
    if isinstance(found, FormulaFault):
        assert "beyond" in found.message
        return
    assert found == pytest.approx(float(expected), rel=1e-12, abs=1e-12)


@given(text=st.text(max_size=60))
@settings(max_examples=300, deadline=None)
def test_any_text_is_a_formula_or_a_fault_inside_it(text: str) -> None:
    formula = parse_formula(text)
    if isinstance(formula, Formula):
        result = evaluate(formula, NAMES)
        if isinstance(result, float):
            return
        formula = result
    assert 0 <= formula.start < max(1, len(text))
    assert formula.start < formula.end <= max(1, len(text))
