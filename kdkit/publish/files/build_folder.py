"""Everything that is printed and tabled, written in one go."""

from __future__ import annotations

import pathlib
from dataclasses import replace

from kdkit.delivery import BUILD, Claim, write_folder
from kdkit.diagnostics import Problem, has_errors
from kdkit.illustrate.paper.style import load_style, style_folder
from kdkit.model.says import Product
from kdkit.publish.files.writers import WRITERS, Job
from kdkit.publish.manual.content import Manual, write_manual
from kdkit.publish.manual.manual import render_manual
from kdkit.publish.results import Pages, Results, whose
from kdkit.publish.typesetting.pdf import PAPERS
from kdkit.publish.typesetting.round_data import round_json
from kdkit.publish.wording.messages import find_wording

__all__ = ["publish"]


def publish(
    results: Results, folder: pathlib.Path | Claim, paper: str = "A4", *, style: str = "plain"
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write manual, tables, plan and figures into a folder that is moved in whole.

    Args:
        folder: claimed, or to be claimed here: new, empty, or written by an earlier
            build and unchanged; on any failure it stays as it was.
        paper: ``A4`` or ``letter``, in any case of letters.

    Returns:
        The written files, sorted, or None; and the problems found in the maker's texts
        or met in writing.

    Raises:
        ValueError: an unknown paper (the command line offers only the known).
    """
    if paper.lower() not in PAPERS:
        raise ValueError(f"unknown paper {paper!r}")
    said = results.resolved.said
    assert isinstance(said, Product)
    messages, problems = find_wording(said.language)
    if messages is None:
        return None, problems
    look, found = load_style(style)
    if look is None:
        return None, found
    home = style_folder(style)
    assert home is not None  # it has just been loaded from there
    manual, problems = write_manual(results, messages, look)
    if has_errors(problems):
        return None, problems
    manual = _paged(manual, results.pages)
    sheet = PAPERS[paper.lower()]
    job = Job(
        results=results,
        manual=manual,
        messages=messages,
        style=look,
        html=render_manual(manual, messages, style=style, paper=sheet),
        page=render_manual(
            manual,
            messages,
            style=style,
            paper=sheet,
            on_screen=True,
            solids=round_json(results.solids, look) if results.solids else "",
        ),
        paper=paper.lower(),
        heads=(home / "pages.css").read_text(encoding="utf-8"),
    )

    def write(fresh: pathlib.Path) -> None:
        for writer in WRITERS:
            writer.write(job, fresh / writer.file)

    files, found = write_folder(folder, BUILD, write, whose(results.resolved))
    return files, (*problems, *found)


def _paged(manual: Manual, pages: Pages | None) -> Manual:
    """Return the manual with its pages begun where they were laid out to begin."""
    if pages is None:
        return manual
    steps = tuple(replace(step, begins_page=step.number in pages.begins) for step in manual.steps)
    return replace(
        manual,
        steps=steps,
        begins=pages.sections,
        part_columns=pages.part_columns,
        part_room=pages.boxes["part"].height,
        roomy=pages.roomy,
    )
