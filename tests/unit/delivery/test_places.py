"""What stands in a place, and which places there are that no results may replace."""

from __future__ import annotations

import os
import pathlib
import socket
import tempfile
import traceback
from collections.abc import Callable

import pytest

from kdkit.delivery import LIST, claim_folder, write_folder
from kdkit.delivery import place as place_module
from tests.unit.delivery.making import add_file, fill, put, refusal, tree


def test_a_missing_file_does_not_stop_the_next_run(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    (out / "figures" / "cover.svg").unlink()
    assert put(out, "two") == ()
    (out / "figures" / "cover.svg").unlink()
    (out / "figures").rmdir()
    assert put(out, "three") == ()


def add_below(out: pathlib.Path) -> None:
    (out / "figures" / "notes.txt").write_text("mine")


def add_folder(out: pathlib.Path) -> None:
    (out / "notes").mkdir()


def add_link(out: pathlib.Path) -> None:
    (out / "notes").symlink_to("/")


def add_pipe(out: pathlib.Path) -> None:
    os.mkfifo(out / "notes")


def add_socket(out: pathlib.Path) -> None:
    here = os.getcwd()
    with socket.socket(socket.AF_UNIX) as made:
        os.chdir(out)  # the name of a socket is short
        made.bind("notes")
        os.chdir(here)


def link_for_a_file(out: pathlib.Path) -> None:
    (out / "plan.json").rename(out.parent / "notes")
    (out / "plan.json").symlink_to("../notes")


def link_for_a_folder(out: pathlib.Path) -> None:
    (out / "figures").rename(out.parent / "notes")
    (out / "figures").symlink_to("../notes")


def folder_for_a_file(out: pathlib.Path) -> None:
    (out / "plan.json").unlink()
    (out / "plan.json").mkdir()


@pytest.mark.parametrize(
    ("add", "told"),
    [
        (add_file, "notes.txt"),
        (add_below, "figures/notes.txt"),
        (add_folder, "notes (a folder)"),
        (add_link, "notes (a link)"),
        (add_pipe, "notes (no ordinary file)"),
        (add_socket, "notes (no ordinary file)"),
        (link_for_a_file, "plan.json (a link)"),
        (link_for_a_folder, "figures (a link)"),
        (folder_for_a_file, "plan.json (a folder)"),
    ],
)
def test_whatever_was_added_stops_the_next_run(
    add: Callable[[pathlib.Path], None], told: str, tmp_path: pathlib.Path
) -> None:
    out = tmp_path / "out"
    put(out)
    add(out)
    problem = refusal(out)
    assert problem.code == "output-not-ours"
    assert problem.message.endswith(f": {told}")


def test_a_few_names_are_told_and_how_many_more(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    for n in range(9):
        (out / f"n{n}").write_text("")
    assert refusal(out).message.endswith(": n0, n1, n2 and 6 more")


@pytest.mark.parametrize("text", ["two", "onetwo", ""])
def test_a_changed_file_stops_the_next_run(text: str, tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    (out / "plan.json").write_text(text)
    problem = refusal(out)
    assert problem.code == "output-changed"
    assert problem.message.endswith(": plan.json")


def test_results_of_another_command_are_not_replaced(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out, command="workshop")
    problem = refusal(out)
    assert problem.code == "output-of-another"
    assert "`kdkit workshop`" in problem.message


@pytest.mark.parametrize(
    "listed",
    [
        "",
        "[]",
        "{",
        "[" * 100_000,
        '{"command": "build", "folders": [], "files": {"../x": {"sha256": "0", "size": 0}}}',
        '{"command": "build", "folders": ["/etc"], "files": {}}',
        '{"command": "build", "folders": [], "files": {"plan.json": {"sha256": "a", "size": 3}}}',
    ],
)
def test_a_list_that_cannot_be_read_makes_nothing_ours(listed: str, tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    (out / LIST).write_text(listed)
    problem = refusal(out)
    assert problem.code == "output-not-ours"
    assert LIST in problem.message


@pytest.mark.parametrize("what", ["a link", "a pipe", "a folder"])
def test_a_list_that_is_no_file_makes_nothing_ours(what: str, tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    (out / LIST).rename(tmp_path / "list")
    if what == "a link":
        (out / LIST).symlink_to("../list")
    elif what == "a pipe":
        os.mkfifo(out / LIST)
    else:
        (out / LIST).mkdir()
    assert refusal(out).code == "output-not-ours"


def test_results_of_older_versions_are_told_as_such(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("{}")
    problem = refusal(out)
    assert problem.code == "output-not-ours"
    assert "versions of kdkit before" in problem.help


def test_a_file_and_a_link_that_leads_nowhere_are_no_folders(tmp_path: pathlib.Path) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "nowhere").symlink_to("gone")
    (tmp_path / "ring").symlink_to("ring")
    assert refusal(tmp_path / "file").code == "output-not-a-folder"
    assert refusal(tmp_path / "file" / "out").code == "output-not-a-folder"
    assert refusal(tmp_path / "nowhere").code == "output-not-a-folder"
    assert refusal(tmp_path / "nowhere" / "out").code == "output-not-a-folder"
    assert refusal(tmp_path / "ring").code in ("output-not-a-folder", "output-not-written")


def test_names_that_no_file_can_have(tmp_path: pathlib.Path) -> None:
    assert write_folder(tmp_path / "a\0b", "build", fill(""))[1][0].code == "output-not-written"
    assert refusal(tmp_path / ("x" * 300)).code == "output-not-written"
    assert put(tmp_path / ("x" * 255)) == ()  # the working folder's name is then a shorter one
    assert put(tmp_path / "ü × ½\udcff\n") == ()


def test_a_link_to_a_folder_is_followed_and_stays(tmp_path: pathlib.Path) -> None:
    (tmp_path / "disk" / "real").mkdir(parents=True)
    link = tmp_path / "out"
    link.symlink_to("disk/real")
    files, problems = write_folder(link, "build", fill("one"))
    assert problems == ()
    assert files is not None
    assert files[-1] == link / "plan.json"
    assert put(link, "two") == ()
    assert link.is_symlink()
    assert (tmp_path / "disk" / "real" / "plan.json").read_text() == "two"
    (tmp_path / "disk" / "real" / "notes").write_text("mine")
    assert refusal(link).code == "output-not-ours"


def test_places_that_no_results_may_replace(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    here = tmp_path / "above" / "here"
    here.mkdir(parents=True)
    monkeypatch.chdir(here)
    for name in (".", "..", "../..", "../here", "x/..", "/"):
        _, (problem,) = write_folder(pathlib.Path(name), "build", fill(""))
        assert problem.code == "output-place", name
    assert tree(tmp_path) == {"above": "other", "above/here": "other"}


def test_the_home_folder_is_no_place(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = tmp_path / "users" / "me"
    home.mkdir(parents=True)
    monkeypatch.setenv("HOME", str(home))
    assert refusal(home).code == "output-place"
    assert refusal(home.parent).code == "output-place"
    assert put(home / "out") == ()


@pytest.mark.parametrize("kind", [".git", ".hg", ".svn", ".jj"])
def test_a_repository_is_no_place_but_results_may_be_in_one(
    kind: str, tmp_path: pathlib.Path
) -> None:
    top = tmp_path / "project"
    (top / kind).mkdir(parents=True)
    assert refusal(top).code == "output-place"
    assert refusal(top / kind).code == "output-place"
    assert refusal(top / kind / "out").code == "output-place"
    assert put(top / "out") == ()


def test_results_within_results_are_refused(tmp_path: pathlib.Path) -> None:
    put(tmp_path / "out")
    assert refusal(tmp_path / "out" / "figures").code == "output-place"
    assert refusal(tmp_path / "out" / "inner").code == "output-place"
    assert put(tmp_path / "out", "two") == ()


def test_a_mounted_disk_is_no_place(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, (problem,) = claim_folder(pathlib.Path("/proc"), "build")
    assert problem.code == "output-place"
    put(tmp_path / "out")
    monkeypatch.setattr(place_module, "_mounts", lambda: [tmp_path / "out" / "figures"])
    assert refusal(tmp_path / "out").code == "output-place"


def test_names_of_mounts_are_read_with_their_escapes(monkeypatch: pytest.MonkeyPatch) -> None:
    # Source: the example of proc_pid_mountinfo(5), with a space in the fifth field.
    line = rb"36 35 98:0 /mnt1 /mnt\0402 rw,noatime master:1 - ext3 /dev/root rw,errors=continue"
    monkeypatch.setattr(pathlib.Path, "read_bytes", lambda _: line + b"\nshort\n")
    assert place_module._mounts() == [pathlib.Path("/mnt 2")]


def test_what_the_run_reads_is_never_within(tmp_path: pathlib.Path) -> None:
    out = tmp_path / "out"
    put(out)
    (tmp_path / "link.yaml").symlink_to("out/plan.json")
    for file in (out / "plan.json", tmp_path / "link.yaml"):
        claim, (problem,) = claim_folder(out, "build", [file])
        assert claim is None
        assert problem.code == "output-place"
        assert file.name in problem.message
    claim, problems = claim_folder(out, "build")
    assert claim is not None
    assert problems == ()
    with claim:
        (problem,) = claim.refuse_inputs([out / "plan.json"])
    assert problem.code == "output-place"


def as_anybody(do: Callable[[pathlib.Path], None]) -> None:
    """Do something in a folder as a user whom rights do stop, which the superuser is not."""
    with tempfile.TemporaryDirectory() as made:
        folder = pathlib.Path(made)
        folder.chmod(0o777)
        child = os.fork()
        if child == 0:
            code = 1
            try:
                if os.geteuid() == 0:
                    os.setgid(65534)
                    os.setuid(65534)
                do(folder)
                code = 0
            except BaseException:
                traceback.print_exc()
            finally:
                os._exit(code)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def test_a_folder_without_rights_is_told_before_any_work() -> None:
    def do(folder: pathlib.Path) -> None:
        above = folder / "above"
        put(above / "out")
        above.chmod(0o555)
        assert refusal(above / "out").code == "output-not-written"
        assert refusal(above / "new").code == "output-not-written"
        above.chmod(0o755)
        (above / "out" / "figures").chmod(0o555)
        problem = refusal(above / "out")
        assert problem.message.endswith("figures in it may not be written")
        (above / "out" / "figures").chmod(0o755)
        (above / "out").chmod(0o555)
        assert refusal(above / "out").code == "output-not-written"
        (above / "out").chmod(0o755)
        assert put(above / "out", "two") == ()

    as_anybody(do)


def test_a_disk_that_takes_nothing_is_told_before_any_work(tmp_path: pathlib.Path) -> None:
    assert os.path.ismount("/proc")
    claim, (problem,) = claim_folder(pathlib.Path("/proc/out"), "build")
    assert claim is None
    assert problem.code == "output-not-written"
