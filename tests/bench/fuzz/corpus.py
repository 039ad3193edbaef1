"""What is changed: definitions, and the names that the catalogue has. All read once."""

from __future__ import annotations

import hashlib
import pathlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from ruamel.yaml import YAML

from kdkit.catalogue import load_catalogue
from kdkit.samples.products import sample_product
from tests.bench.fuzz.caches import install_caches
from tests.bench.fuzz.trees import Pairs, emit, to_tree

__all__ = ["ROOT", "Seed", "World", "load_world", "read_yaml"]

ROOT = pathlib.Path(__file__).parents[3]
_SMALL = "tests/bench/fuzz/seeds/*.yaml"
_LARGE = (
    "examples/*.yaml",
    "kdkit/cli/starters/*.yaml",
    "tests/golden/*/definition.yaml",
    "tests/typed/*.yaml",
)


@dataclass(frozen=True)
class Seed:
    """A definition to change: where it comes from, its tree, its text as written."""

    name: str
    tree: Any
    text: str


@dataclass(frozen=True)
class World:
    """Everything that cases are made from.

    ``small`` has products of a few parts, one for each word of the language and one sample
    for each fitting; ``large`` the examples, starters and golden cases. ``entries`` are the
    catalogue's, by section and name, as plain data.
    """

    small: tuple[Seed, ...]
    samples: dict[str, Seed]
    large: tuple[Seed, ...]
    fittings: list[str]
    materials: list[str]
    items: list[str]
    options: dict[str, list[str]]
    entries: dict[str, dict[str, Any]]
    certificate: tuple[bytes, bytes]
    digest: str


def read_yaml(text: str) -> Any:
    """Return YAML as plain data."""
    return YAML(typ="safe", pure=True).load(text)


@lru_cache(maxsize=1)
def load_world() -> World:
    """Read the corpus and the catalogue."""
    install_caches()
    catalogue, _ = load_catalogue()
    assert catalogue is not None
    own = [_seed(path) for path in sorted(ROOT.glob(_SMALL))]
    samples = {}
    for key in sorted(catalogue.fittings):
        product = sample_product(catalogue, key)
        said = product.model_dump(by_alias=True, exclude_defaults=True, mode="json")
        tree = to_tree({"kdkit": 1, **said})
        samples[key] = Seed(f"sample of {key}", tree, emit(tree))
    large = [_seed(path) for pattern in _LARGE for path in sorted(ROOT.glob(pattern))]
    entries: dict[str, dict[str, Any]] = {}
    for (section, name), written in sorted(install_caches().items()):
        entries.setdefault(section, {})[name] = written.data
    ring = ROOT / "tests/golden/corner-ring"
    certificate = (
        (ring / "definition.yaml").read_bytes(),
        (ring / "impossible.json").read_bytes(),
    )
    digest = hashlib.sha256()
    for seed in (*own, *samples.values(), *large):
        digest.update(f"{seed.name}\0{seed.text}\0".encode())
    digest.update(repr(sorted(entries)).encode())
    return World(
        small=(*own, *samples.values()),
        samples=samples,
        large=tuple(large),
        fittings=sorted(catalogue.fittings),
        materials=sorted(catalogue.boards),
        items=sorted(catalogue.items),
        options={k: sorted(f.options) for k, f in sorted(catalogue.fittings.items())},
        entries=entries,
        certificate=certificate,
        digest=digest.hexdigest()[:16],
    )


def _seed(path: pathlib.Path) -> Seed:
    text = path.read_text(encoding="utf-8")
    tree = to_tree(read_yaml(text))
    assert isinstance(tree, Pairs)
    return Seed(str(path.relative_to(ROOT)), tree, text)
