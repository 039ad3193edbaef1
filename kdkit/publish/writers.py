"""What a build writes: one entry a file."""

from __future__ import annotations

import pathlib
from collections.abc import Callable
from dataclasses import dataclass

from kdkit.illustrate.style import Style
from kdkit.illustrate.svg import render_svg
from kdkit.publish.messages import Messages
from kdkit.publish.pdf import make_pdf
from kdkit.publish.plan_json import render_plan_json
from kdkit.publish.results import Results
from kdkit.publish.tables import render_cut_list, render_drilling, render_hardware

__all__ = ["WRITERS", "Job", "Writer"]


@dataclass(frozen=True, kw_only=True)
class Job:
    """What the writers share: the results, the wording, the manual's HTML, the paper
    and the style sheet of page heads."""

    results: Results
    messages: Messages
    style: Style
    html: str
    paper: str
    heads: str


@dataclass(frozen=True)
class Writer:
    """One kind of output: ``write`` puts it at the path, a file or a folder."""

    name: str
    file: str
    write: Callable[[Job, pathlib.Path], None]


def _text(render: Callable[[Job], str]) -> Callable[[Job, pathlib.Path], None]:
    def write(job: Job, path: pathlib.Path) -> None:
        path.write_text(render(job), encoding="utf-8", newline="")

    return write


def _write_pdf(job: Job, path: pathlib.Path) -> None:
    path.write_bytes(make_pdf(job.html, job.paper, job.heads))


def _write_figures(job: Job, path: pathlib.Path) -> None:
    path.mkdir()
    for key, figure in sorted(job.results.figures.items()):
        (path / f"{key}.svg").write_text(
            render_svg(figure, job.style), encoding="utf-8", newline=""
        )


WRITERS = (
    Writer("manual, printed", "manual.pdf", _write_pdf),
    Writer("manual, on screen", "manual.html", _text(lambda job: job.html)),
    Writer("plan", "plan.json", _text(lambda job: render_plan_json(job.results))),
    Writer(
        "cut list", "cutlist.csv", _text(lambda job: render_cut_list(job.results, job.messages))
    ),
    Writer(
        "drilling", "drilling.csv", _text(lambda job: render_drilling(job.results, job.messages))
    ),
    Writer(
        "hardware", "hardware.csv", _text(lambda job: render_hardware(job.results, job.messages))
    ),
    Writer("figures", "figures", _write_figures),
)
