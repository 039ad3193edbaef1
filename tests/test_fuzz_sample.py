"""A few hundred changed definitions through `check`, and all inputs that failed once.

The fuzzer itself (``tests/bench/fuzz``) runs long and is no part of the suite. An input that
made kdkit fail goes into a folder of ``tests/corpus`` with the fault's mending: the files,
made small, and ``case.json`` with the command.
"""

from __future__ import annotations

import json
import pathlib
from collections.abc import Iterator

import pytest

from kdkit.catalogue import load
from kdkit.publish.wording import messages
from tests.bench.fuzz.caches import install_caches
from tests.bench.fuzz.cases import Case, make_case
from tests.bench.fuzz.corpus import World, load_world
from tests.bench.fuzz.judge import run_case
from tests.bench.fuzz.trees import Pairs, emit, places, plain, to_tree

CORPUS = sorted(p.parent for p in (pathlib.Path(__file__).parent / "corpus").glob("*/case.json"))
SEED, CASES, BATCH = 2611, 200, 25


@pytest.fixture(scope="module")
def world() -> Iterator[World]:
    """Return what the fuzzer starts from; what it keeps of kdkit's files goes again after it."""
    with pytest.MonkeyPatch.context() as patched:
        for module, names in (
            (load, ("_read", "_validated")),
            (messages, ("languages", "load_messages")),
        ):
            for name in names:
                patched.setattr(module, name, getattr(module, name))
        yield load_world()
    install_caches.cache_clear()


@pytest.mark.parametrize("first", range(0, CASES, BATCH))
def test_nothing_that_must_not_be_comes_of_changed_definitions(world: World, first: int) -> None:
    failures = {}
    for number in range(first, first + BATCH):
        case = make_case(SEED, "check", number, world)
        verdict = run_case(case, {})
        if verdict.failures:
            failures[case.name, case.origin] = [f"{f.group}\n{f.text}" for f in verdict.failures]
    assert not failures


@pytest.mark.parametrize("folder", CORPUS, ids=lambda folder: folder.name)
def test_what_failed_once_fails_no_more(folder: pathlib.Path) -> None:
    said = json.loads((folder / "case.json").read_text(encoding="utf-8"))
    files = {p.name: p.read_bytes() for p in folder.iterdir() if p.name != "case.json"}
    case = Case(
        name=folder.name,
        argv=tuple(said["argv"]),
        files=files,
        origin="corpus",
        out=said["out"],
        before=said["before"],
    )
    verdict = run_case(case, {})
    assert [f"{f.group}\n{f.text}" for f in verdict.failures] == []


def test_a_number_gives_the_same_case_again_and_another_number_another(world: World) -> None:
    for kind in ("check", "long", "files"):
        cases = [make_case(7, kind, number, world) for number in range(12)]
        assert cases == [make_case(7, kind, number, world) for number in range(12)]
        assert len({str(sorted(c.files.items())) for c in cases}) > 6


def test_a_fault_of_kdkit_is_seen(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object, **__: object) -> None:
        raise ZeroDivisionError("on purpose")

    seed = next(s for s in world.small if s.name.endswith("two-boards.yaml"))
    files = {"case.yaml": seed.text.encode()}
    case = Case(name="x", argv=("check", "case.yaml"), files=files, origin="")
    assert run_case(case, {}).failures == []
    monkeypatch.setattr("kdkit.pipeline.place_fittings", fails)
    (failure,) = run_case(case, {}).failures
    assert failure.group == "ZeroDivisionError | run.py:stage"


def test_a_tree_is_written_as_it_is(world: World) -> None:
    from tests.bench.fuzz.corpus import read_yaml

    for seed in world.small[:40]:
        assert read_yaml(emit(seed.tree)) == plain(seed.tree)
    tree = to_tree({"a": [1, {"b": "x y"}]})
    assert isinstance(tree, Pairs)
    assert [path for _, _, path in places(tree)] == [("a",), ("a", 0), ("a", 1), ("a", 1, "b")]
