"""Small folders for results, and what tells whether anything was changed."""

from __future__ import annotations

import os
import pathlib
from collections.abc import Callable

from kdkit.delivery import write_folder
from kdkit.diagnostics import CODES, Problem

Write = Callable[[pathlib.Path], None]


def fill(text: str) -> Write:
    def write(fresh: pathlib.Path) -> None:
        (fresh / "plan.json").write_text(text)
        (fresh / "figures").mkdir()
        (fresh / "figures" / "cover.svg").write_text(f"<svg>{text}</svg>")

    return write


def put(folder: pathlib.Path, text: str = "one", command: str = "build") -> tuple[Problem, ...]:
    return write_folder(folder, command, fill(text))[1]


def tree(folder: pathlib.Path) -> dict[str, object]:
    """Return everything below a folder: a file's bytes, a link's target, or the kind."""
    found: dict[str, object] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = os.readlink(path)
        else:
            found[name] = path.read_bytes() if path.is_file() else "other"
    return found


def refusal(folder: pathlib.Path, command: str = "build") -> Problem:
    """Try to write; return why not, after seeing that nothing was changed or left."""
    above = folder.parent if folder.parent.is_dir() else folder.parent.parent
    before = tree(above)
    files, problems = write_folder(folder, command, fill("new"))
    assert files is None
    assert tree(above) == before
    (problem,) = problems
    assert problem.asked == f"--out {folder}"
    assert problem.help
    assert problem.code in CODES
    return problem


def add_file(out: pathlib.Path) -> None:
    (out / "notes.txt").write_text("mine")
