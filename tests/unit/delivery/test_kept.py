"""What somebody else put in the way of a delivery stays, whatever the moment."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Callable

import pytest

from kdkit.delivery import LIST, write_folder, write_new_file
from kdkit.delivery import folder as folder_module
from kdkit.delivery import work as work_module
from kdkit.delivery.place import WORK
from tests.unit.delivery.making import fill, put, refusal, tree


def dies(do: Callable[[], object]) -> None:
    """Do something in a process of its own, which has to die of it."""
    child = os.fork()
    if child == 0:
        try:
            do()
        finally:
            os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9


def kept(tmp_path: pathlib.Path) -> dict[str, object]:
    """Run once more; return what is beside the folder afterwards."""
    put(tmp_path / "out", "three")
    assert (tmp_path / "out" / "plan.json").read_text() == "three"
    beside = [p.name for p in tmp_path.iterdir() if p.name.startswith((".", "out.kept"))]
    assert beside == ["out.kept-1"]
    return tree(tmp_path / "out.kept-1")


def test_what_comes_in_after_the_old_list_went_is_kept(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = work_module.remove_listed

    def late(folder: int) -> bool:
        done = real(folder)
        os.close(os.open("notes.txt", os.O_CREAT | os.O_WRONLY, dir_fd=folder))
        return done

    put(tmp_path / "out")
    monkeypatch.setattr(work_module, "remove_listed", late)
    (problem,) = put(tmp_path / "out", "two")
    assert problem.code == "output-kept"
    assert tree(tmp_path / "out.kept-1") == {"notes.txt": b""}
    assert {p.name for p in tmp_path.iterdir()} == {"out", "out.kept-1"}


def test_what_came_into_an_emptied_folder_after_a_kill_is_kept(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out, left = tmp_path / "out", tmp_path / f".out{WORK}" / "new"
    put(out)

    def run() -> None:
        real = os.rmdir
        os.rmdir = lambda name, **at: os._exit(9) if name == "new" else real(name, **at)
        put(out, "two")

    dies(run)
    assert list(left.iterdir()) == []
    (left / "notes.txt").write_text("mine")
    (left / "sub").mkdir()
    (left / "sub" / "y").write_text("mine")
    assert kept(tmp_path) == {"notes.txt": b"mine", "sub": "other", "sub/y": b"mine"}


@pytest.mark.parametrize("what", ["folder", "file"])
@pytest.mark.parametrize("exchanges", [True, False])
def test_what_was_put_in_place_of_the_folder_before_a_kill_is_kept(
    what: str, exchanges: bool, tmp_path: pathlib.Path
) -> None:
    out = tmp_path / "out"
    put(out)

    def turn() -> None:
        out.rename(tmp_path / "moved")
        if what == "folder":
            out.mkdir()
            (out / "thesis.txt").write_text("mine")
        else:
            out.write_text("mine")

    def run() -> None:
        real, rename = folder_module.exchange, os.rename

        def exchange(*names: object) -> bool:
            turn()
            real(*names)  # type: ignore[arg-type]
            os._exit(9)

        def move(name: str, to: str, **at: int) -> None:
            if to == "old":
                turn()
                rename(name, to, **at)
                os._exit(9)
            rename(name, to, **at)

        folder_module.exchange = exchange if exchanges else lambda *_: False
        os.rename = move  # type: ignore[assignment]
        put(out, "two")

    dies(run)
    put(out, "three")
    found = [p.read_text() for p in tmp_path.rglob("*") if p.is_file()]
    assert "mine" in found
    assert not (tmp_path / f".out{WORK}").exists()


@pytest.mark.parametrize("what", ["folder", "file"])
def test_what_is_put_in_place_of_the_folder_at_the_last_moment_is_put_back(
    what: str, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    put(out)

    def no_exchange(*_: object) -> bool:
        out.rename(tmp_path / "moved")
        if what == "folder":
            out.mkdir()
        else:
            out.write_text("mine")
        return False

    monkeypatch.setattr(folder_module, "exchange", no_exchange)
    (problem,) = put(out, "two")
    assert problem.code == "output-not-ours"
    assert out.is_file() == (what == "file")
    assert {p.name for p in tmp_path.iterdir()} == {"out", "moved"}


def test_a_link_put_in_place_of_the_new_folder_leads_nobody_astray(tmp_path: pathlib.Path) -> None:
    out, left = tmp_path / "out", tmp_path / f".out{WORK}" / "new"
    precious = tmp_path / "precious"
    precious.mkdir()
    (precious / "plan.json").write_text("mine")

    def write(fresh: pathlib.Path) -> None:
        left.rename(left.with_name("away"))
        left.symlink_to(precious)
        fill("two")(fresh)

    files, (problem, *_) = write_folder(out, "build", write)
    assert files is None
    assert problem.code == "output-not-written"
    assert tree(precious) == {"plan.json": b"mine"}


def test_a_lock_with_another_name_is_somebodys(tmp_path: pathlib.Path) -> None:
    (tmp_path / "empty.txt").touch()
    (tmp_path / f".out{WORK}").mkdir()
    (tmp_path / f".out{WORK}" / "lock").hardlink_to(tmp_path / "empty.txt")
    assert refusal(tmp_path / "out").code == "output-not-ours"
    assert (tmp_path / "empty.txt").read_bytes() == b""


@pytest.mark.parametrize("name", ["new", "old"])
def test_what_only_looks_like_a_working_folder_keeps_what_it_holds(
    name: str, tmp_path: pathlib.Path
) -> None:
    put(tmp_path / "out")
    forged = tmp_path / f".out{WORK}"
    (forged / name / "sub").mkdir(parents=True)
    (forged / name / "sub" / "mine.txt").write_text("mine")
    (forged / "lock").write_bytes(work_module.MARKER + b"new 1 1\n")
    assert kept(tmp_path) == {"sub": "other", "sub/mine.txt": b"mine"}


def test_a_list_that_somebody_wrote_in_makes_nothing_ours(tmp_path: pathlib.Path) -> None:
    put(tmp_path / "out")
    listed = tmp_path / "out" / LIST
    listed.write_text(listed.read_text().replace("{", '{\n  "my notes": "milk",', 1))
    assert refusal(tmp_path / "out").code == "output-not-ours"


def test_a_new_file_that_was_broken_off_is_cleared(tmp_path: pathlib.Path) -> None:
    def run(at: str) -> None:
        if at == "remember":
            work_module.Work.remember = lambda *_: os._exit(9)  # type: ignore[method-assign]
        else:
            os.link = os.rename = lambda *_, **__: os._exit(9)  # type: ignore[assignment]
            from kdkit.delivery import new_file

            new_file.move_without_replacing = lambda *_: os._exit(9)
        write_new_file(tmp_path / "box.yaml", "kdkit: 1\n")

    for at in ("remember", "move"):
        dies(lambda at=at: run(at))  # type: ignore[misc]
        assert not (tmp_path / "box.yaml").exists()
        assert [p.code for p in write_new_file(tmp_path / "box.yaml", "kdkit: 1\n")] == [
            "output-cleared"
        ]
        assert [p.name for p in tmp_path.iterdir()] == ["box.yaml"]
        (tmp_path / "box.yaml").unlink()
