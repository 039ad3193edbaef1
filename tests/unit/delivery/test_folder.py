"""A folder for results is moved in whole, and nothing of anybody else's is touched."""

from __future__ import annotations

import json
import os
import pathlib
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from kdkit.delivery import LIST, claim_folder, write_folder
from kdkit.delivery import folder as folder_module
from kdkit.delivery import listed as listed_module
from kdkit.delivery import place as place_module
from kdkit.delivery import work as work_module
from kdkit.diagnostics import Severity
from tests.unit.delivery.making import Write, add_file, fill, put, refusal, tree


def test_a_new_folder_and_then_its_successor(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "deep" / "out"
    files, problems = write_folder(out, "build", fill("one"))
    assert problems == ()
    assert files == (out / "figures" / "cover.svg", out / "plan.json")
    assert put(out, "two") == ()
    assert (out / "plan.json").read_text() == "two"
    assert [p.name for p in out.parent.iterdir()] == ["out"]


def test_the_list_has_sums_and_sizes_and_is_the_same_for_the_same_results(
    tmp_path: pathlib.Path,
) -> None:
    put(tmp_path / "a")
    put(tmp_path / "b")
    text = (tmp_path / "a" / LIST).read_bytes()
    assert text == (tmp_path / "b" / LIST).read_bytes()
    data = json.loads(text)
    assert data["command"] == "build"
    assert data["folders"] == ["figures"]
    # Source: SHA-256 of "one", from coreutils' sha256sum.
    digest = "7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed"
    assert data["files"]["plan.json"] == {"sha256": digest, "size": 3}
    assert str(tmp_path) not in text.decode()


def test_an_empty_folder_may_be_used_and_keeps_its_rights(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    out.mkdir(mode=0o750)
    assert put(out) == ()
    assert put(out, "two") == ()
    assert out.stat().st_mode & 0o777 == 0o750
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_claim_without_results_leaves_nothing(tmp_path: pathlib.Path) -> None:
    claim, problems = claim_folder(tmp_path / "a" / "b" / "out", "build")
    assert claim is not None
    assert problems == ()
    assert (tmp_path / "a" / "b").is_dir()
    with claim:
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_second_run_is_told_that_another_is_at_work(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    claim, _ = claim_folder(out, "build")
    assert claim is not None
    with claim:
        assert refusal(out).code == "output-busy"
        assert refusal(out, "workshop").code == "output-busy"
        assert claim.deliver(fill("two"))[1] == ()
    assert (out / "plan.json").read_text() == "two"
    assert put(out, "three") == ()


def test_neither_a_change_of_folder_nor_of_a_link_matters_after_the_claim(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    (tmp_path / "to").symlink_to("a")
    monkeypatch.chdir(tmp_path)
    claim, _ = claim_folder(pathlib.Path("to/out"), "build")
    assert claim is not None
    with claim:
        (tmp_path / "to").unlink()
        (tmp_path / "to").symlink_to("b")
        monkeypatch.chdir("/")
        files, problems = claim.deliver(fill("one"))
    assert problems == ()
    assert files is not None
    assert files[-1] == tmp_path / "a" / "out" / "plan.json"  # what is told is where it is
    assert (tmp_path / "a" / "out" / "plan.json").read_text() == "one"
    assert list((tmp_path / "b").iterdir()) == []


def while_it_writes(do: Callable[[], object]) -> Write:
    """Return what writes results while somebody does something."""

    def write(fresh: pathlib.Path) -> None:
        fill("two")(fresh)
        do()

    return write


@pytest.mark.parametrize("change", ["added", "changed", "another", "link", "file", "empty no more"])
def test_what_comes_into_the_folder_while_a_run_is_at_work_stays(
    change: str, tmp_path: pathlib.Path
) -> None:
    out, other = tmp_path / "out", tmp_path / "other"
    put(out) if change != "empty no more" else out.mkdir()

    def do() -> None:
        if change in ("added", "empty no more"):
            add_file(out)
        elif change == "changed":
            (out / "plan.json").write_text("mine")
        else:
            out.rename(other)
            if change == "another":
                put(out, "another's")
            elif change == "link":
                out.symlink_to(other)
            else:
                out.write_text("mine")

    # Another run of kdkit cannot come in between; a copied folder of its can.
    if change == "another":
        put(tmp_path / "copy", "another's")

        def do() -> None:
            out.rename(other)
            (tmp_path / "copy").rename(out)

    kept = {}

    def doing() -> None:
        do()
        kept.update({k: v for k, v in tree(tmp_path).items() if ".kdkit-work" not in k})

    files, problems = write_folder(out, "build", while_it_writes(doing))
    assert files is None
    assert problems[0].severity is Severity.ERROR
    assert tree(tmp_path) == kept


def test_a_folder_that_was_deleted_meanwhile_is_written(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    writes = while_it_writes(lambda: out.rename(tmp_path / "gone"))
    _, problems = write_folder(out, "build", writes)
    assert problems == ()
    assert (out / "plan.json").read_text() == "two"


@contextmanager
def between(monkeypatch: pytest.MonkeyPatch, do: Callable[[], object]) -> Iterator[None]:
    """Do something once, after the last look and before the move."""
    real, still = folder_module.exchange, [do]

    def late(*args: object) -> bool:
        while still:
            still.pop()()
        return real(*args)  # type: ignore[arg-type]

    with monkeypatch.context() as patched:
        patched.setattr(folder_module, "exchange", late)
        yield


def test_what_comes_in_at_the_last_moment_is_kept_beside(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    put(out)
    with between(monkeypatch, lambda: add_file(out)):
        (problem,) = put(out, "two")
    assert problem.code == "output-kept"
    assert problem.severity is Severity.WARNING
    assert (out / "plan.json").read_text() == "two"
    assert (tmp_path / "out.kept-1" / "notes.txt").read_text() == "mine"
    with between(monkeypatch, lambda: (out / "plan.json").write_text("mine")):
        put(out, "three")
    assert (tmp_path / "out.kept-2" / "plan.json").read_text() == "mine"
    assert {p.name for p in tmp_path.iterdir()} == {"out", "out.kept-1", "out.kept-2"}


def test_a_folder_turned_at_the_last_moment_is_put_back(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    put(out)

    def turn() -> None:
        out.rename(tmp_path / "other")
        out.mkdir()
        add_file(out)

    with between(monkeypatch, turn):
        (problem,) = put(out, "two")
    assert problem.code == "output-not-ours"
    assert {p.name for p in tmp_path.iterdir()} == {"out", "other"}
    assert [p.name for p in out.iterdir()] == ["notes.txt"]


def test_without_an_exchange_two_moves_do(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder_module, "exchange", lambda *_: False)
    out = tmp_path / "out"
    put(out)
    assert put(out, "two") == ()
    assert (out / "plan.json").read_text() == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_failed_write_leaves_the_earlier_output(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)

    def disk_full(fresh: pathlib.Path) -> None:
        fill("half")(fresh)
        raise OSError(28, "No space left on device")

    for place, left in ((out, {"out"}), (tmp_path / "deep" / "new", {"out"})):
        files, (problem,) = write_folder(place, "build", disk_full)
        assert files is None
        assert problem.code == "output-not-written"
        assert "No space left" in problem.message
        assert {p.name for p in tmp_path.iterdir()} == left
    assert (out / "plan.json").read_text() == "one"


def test_an_interrupt_in_writing_leaves_the_earlier_output(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    with pytest.raises(KeyboardInterrupt):
        write_folder(out, "build", while_it_writes(lambda: signal.raise_signal(signal.SIGINT)))
    assert (out / "plan.json").read_text() == "one"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_an_interrupt_waits_until_the_new_folder_is_in_place(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    put(out)
    with (
        between(monkeypatch, lambda: signal.raise_signal(signal.SIGINT)),
        pytest.raises(KeyboardInterrupt),
    ):
        put(out, "two")
    assert (out / "plan.json").read_text() == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


KILLED = """
import os, pathlib, sys
from kdkit.delivery import folder, listed, work, write_folder
place, at, exchanges = pathlib.Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "yes"
if not exchanges:
    folder.exchange = lambda *_: False
done = 0
def dying(call):
    def before(*args, **kwargs):
        global done
        done += 1
        if done == at:
            os._exit(9)
        return call(*args, **kwargs)
    return before
for name in ("mkdir", "rename", "unlink", "rmdir", "fsync", "open", "write", "pwrite"):
    setattr(os, name, dying(getattr(os, name)))
folder.exchange = dying(folder.exchange)
def write(fresh):
    (fresh / "plan.json").write_text("two")
    (fresh / "figures").mkdir()
    (fresh / "figures" / "cover.svg").write_text("<svg>two</svg>")
files, problems = write_folder(place, "build", write)
assert files, problems
"""


@pytest.mark.parametrize("exchanges", ["yes", "no"])
@pytest.mark.parametrize("earlier", [True, False])
def test_a_run_that_dies_anywhere_leaves_old_or_new_and_the_next_clears_up(
    earlier: bool, exchanges: str, tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (listed_module, folder_module, work_module):
        monkeypatch.setattr(module, "sync", lambda _: None)  # hundreds of runs
    put(tmp_path / "old")
    put(tmp_path / "new", "two")
    whole = [tree(tmp_path / "old"), tree(tmp_path / "new")]
    said = set()
    for at in range(1, 400):
        case = tmp_path / f"case-{at}"
        case.mkdir()
        out = case / "out"
        if earlier:
            put(out)
        # A fork, so that the hundreds of deaths cost no imports.
        child = os.fork()
        if child == 0:
            sys.argv = ["-", str(out), str(at), exchanges]
            code = 1
            try:
                exec(compile(KILLED, "killed", "exec"), {"__name__": "killed"})
                code = 0
            finally:
                os._exit(code)
        _, status = os.waitpid(child, 0)
        code = os.waitstatus_to_exitcode(status)
        assert code in (0, 9), at
        if out.exists() or (earlier and exchanges == "yes"):
            assert tree(out) in whole[0 if earlier else 1 :], at
        problems = put(out, "three")
        assert {p.code for p in problems} <= {"output-cleared"}, at
        assert all(p.severity is Severity.ADVICE for p in problems)
        said |= {p.message.rpartition(" was ")[2] for p in problems}
        assert (out / "plan.json").read_text() == "three"
        assert [p.name for p in case.iterdir()] == ["out"], at
        if code == 0:
            break
    else:
        pytest.fail("it never came to its end")
    assert at > 20
    assert "cleared away" in said
    assert ("finished: its results are in place" in said) is (earlier and exchanges == "no")


def test_a_working_folder_that_is_not_kdkits_is_not_touched(tmp_path: pathlib.Path) -> None:
    work = tmp_path / f".out{place_module.WORK}"
    work.mkdir()
    (work / "letter.txt").write_text("mine")
    assert refusal(tmp_path / "out").code == "output-not-ours"
    (work / "lock").write_text("mine")
    assert refusal(tmp_path / "out").code == "output-not-ours"
    (work / "letter.txt").unlink()
    assert refusal(tmp_path / "out").code == "output-not-ours"
    (work / "lock").write_bytes(work_module.MARKER)
    (work / "letter.txt").write_text("mine")
    assert refusal(tmp_path / "out").code == "output-not-ours"
    (work / "letter.txt").unlink()
    (problem,) = put(tmp_path / "out")
    assert problem.code == "output-cleared"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_file_or_link_of_the_working_folders_name_is_not_touched(tmp_path: pathlib.Path) -> None:
    work = tmp_path / f".out{place_module.WORK}"
    work.write_text("mine")
    assert refusal(tmp_path / "out").code == "output-not-ours"
    work.unlink()
    (tmp_path / "elsewhere").mkdir()
    work.symlink_to("elsewhere")
    assert refusal(tmp_path / "out").code == "output-not-ours"


TEN = """
import pathlib, sys
from kdkit.delivery import write_folder
def write(fresh):
    for n in range(20):
        (fresh / f"{n}.txt").write_text(sys.argv[2] * 1000)
for _ in range(10):
    files, problems = write_folder(pathlib.Path(sys.argv[1]), "build", write)
    codes = {p.code for p in problems}
    assert files is None and codes == {"output-busy"} or files and not codes, problems
"""


def test_many_runs_at_once_end_well_or_with_a_clear_word(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "deep" / "out"
    root = pathlib.Path(__file__).parents[3]
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", TEN, str(out), str(n)], cwd=root, stderr=subprocess.PIPE
        )
        for n in range(8)
    ]
    for run in runs:
        _, said = run.communicate(timeout=120)
        assert run.returncode == 0, said
    assert [p.name for p in out.parent.iterdir()] == ["out"]
    texts = {p.read_text() for p in out.glob("*.txt")}
    assert len(texts) == 1
    assert len(list(out.glob("*.txt"))) == 20
    assert put(out) == ()
