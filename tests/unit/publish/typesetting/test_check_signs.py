"""Texts that would come out as empty boxes are told before anything is printed."""

from __future__ import annotations

import pathlib

from click.testing import CliRunner
from ruamel.yaml import YAML

from kdkit.catalogue import load_catalogue
from kdkit.cli.commands import group
from kdkit.diagnostics import Problem
from kdkit.model.says import Product
from kdkit.publish import check_signs
from tests.cabinets import built_in
from tests.every_output import CORNER


def found(text: str) -> list[Problem]:
    """Return what is said of a product, its definition given as text."""
    return list(check_signs(Product.model_validate(YAML(typ="safe").load(text)), built_in()))


def test_a_title_is_told_at_its_place(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "case.yaml"
    file.write_text(CORNER.replace("Corner, 5°", "本棚, 5°"), encoding="utf-8")
    result = CliRunner().invoke(group, ["check", str(file)])
    assert result.exit_code == 0
    assert "case.yaml:2:10: warning: the fonts of the printed pages have no 本棚" in result.output
    assert "[sign-not-in-font]" in result.output
    assert CliRunner().invoke(group, ["check", "--strict", str(file)]).exit_code == 1


def test_everything_that_is_printed_is_read_and_told_once() -> None:
    assert found(CORNER) == []
    (problem,) = found(
        CORNER.replace("shelf", "棚板").replace("product: Corner", "product: 木")
        + "maker: {name: 工房}\n"
        + "texts:\n  en: {care: 拭く, parts: {side: 側板}}\n  ja: {care: 乾拭き}\n"
        + "bags: {袋: [dowel-8x35]}\n"
    )
    assert problem.path == ("product",)
    assert "木工房拭く側板袋棚" in problem.message
    assert "also in 5 other texts" in problem.message
    assert [related.path for related in problem.related] == [
        ("maker", "name"),
        ("texts", "en", "care"),
        ("texts", "en", "parts", "side"),
        ("bags", "袋"),
        ("panels", "棚板"),
    ]


def test_units_are_looked_into() -> None:
    inner = {"kdkit": 1, "product": "Drawer", "panels": {"front": {"title": "前板"}}}
    said = Product.model_validate(
        {
            "kdkit": 1,
            "product": "Chest",
            "unit_definitions": {"here": inner},
            "units": {"one": {"file": "drawer.yaml"}},
            "unit_files": {"drawer.yaml": inner},
        }
    )
    (problem,) = check_signs(said, built_in())
    assert problem.path == ("unit_definitions", "here", "panels", "front", "title")
    (related,) = problem.related
    assert related.path == ("units", "one", "file", "panels", "front", "title")


def test_a_catalogue_of_the_makers_own_is_read(tmp_path: pathlib.Path) -> None:
    file = tmp_path / "own.yaml"
    file.write_text("items:\n  peg: {like: dowel-8x35, title: 木釘}\n", encoding="utf-8")
    catalogue, problems = load_catalogue([file])
    assert catalogue is not None, problems
    said = Product.model_validate({"kdkit": 1, "product": "x", "catalogues": ["own.yaml"]})
    (problem,) = check_signs(said, catalogue)
    assert problem.path == ("catalogues",)
    assert "木釘" in problem.message


def test_what_a_unit_without_a_title_is_called_is_read() -> None:
    inner = {"kdkit": 1, "product": "引き出し"}
    said = Product.model_validate({"kdkit": 1, "product": "x", "unit_definitions": {"d": inner}})
    (problem,) = check_signs(said, built_in())
    assert problem.path == ("unit_definitions", "d", "product")


def test_the_workshop_is_told_before_it_prints_labels(tmp_path: pathlib.Path) -> None:
    source = tmp_path / "shelf.yaml"
    source.write_text(
        "kdkit: 1\nproduct: Shelf\n"
        "boards: {b: {title: 合板, material: plywood-birch, thickness: 18}}\n"
        "panels: {shelf: {board: b, x: [0, 400], y: [0, 200], z: {from: 0}}}\n",
        encoding="utf-8",
    )
    out = str(tmp_path / "out")
    result = CliRunner().invoke(
        group, ["workshop", str(source), "--out", out, "--files", "order", "--paper", "a4"]
    )
    assert "合板" in result.stderr
    assert "[sign-not-in-font]" in result.stderr
