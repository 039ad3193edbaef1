"""The README's pictures are what a fresh build draws.

``pytest tests/golden/test_pictures.py --rewrite-golden`` renews them; look at them before
they go in.
"""

from __future__ import annotations

import pathlib
import re

import pytest

from kdkit.pipeline import Outcome
from tests.product_files import built as build_example
from tests.rounding import same_but_for_rounding

EXAMPLES = pathlib.Path(__file__).parent.parent.parent / "examples"
README = EXAMPLES.parent / "README.md"

PICTURES = {
    "bookcase.svg": ("bookcase", "cover"),
    "bookcase-step.svg": ("bookcase", "step-6"),
    "hall-bench-step.svg": ("hall-bench", "step-16"),
    "wardrobe.svg": ("wardrobe", "cover"),
}
"""Every picture, with the example and the figure that it shows."""


@pytest.fixture(scope="module")
def built(
    tmp_path_factory: pytest.TempPathFactory, built_bookcase: tuple[Outcome, pathlib.Path]
) -> dict[str, pathlib.Path]:
    folders = {"bookcase": built_bookcase[1]}
    for example in ("hall-bench", "wardrobe"):
        folders[example] = tmp_path_factory.mktemp("pictures") / example
        build_example(example, folders[example])
    return {
        name: folders[example] / "figures" / f"{figure}.svg"
        for name, (example, figure) in PICTURES.items()
    }


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_is_the_figure_of_a_fresh_build(
    name: str, built: dict[str, pathlib.Path], request: pytest.FixtureRequest
) -> None:
    fresh = built[name].read_text(encoding="utf-8")
    kept = EXAMPLES / "pictures" / name
    if request.config.getoption("--rewrite-golden"):
        kept.write_text(fresh, encoding="utf-8")
    same = same_but_for_rounding(kept.read_text(encoding="utf-8"), fresh)
    assert same, f"{name} is out of date; renew it with --rewrite-golden"


def test_the_readme_shows_these_pictures_and_no_others() -> None:
    shown = re.findall(r'src="examples/pictures/([^"]*)"', README.read_text(encoding="utf-8"))
    kept = sorted(file.name for file in (EXAMPLES / "pictures").iterdir())
    assert sorted(shown) == sorted(PICTURES) == kept
