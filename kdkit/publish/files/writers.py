"""What a build writes: one entry a file."""

from __future__ import annotations

import pathlib
from collections.abc import Callable
from dataclasses import dataclass, replace

from kdkit.illustrate.paper.figure import Figure
from kdkit.illustrate.paper.fonts import face_rules
from kdkit.illustrate.paper.style import Style
from kdkit.illustrate.paper.svg import lettering, render_svg
from kdkit.publish.files.plan_json import render_plan_json
from kdkit.publish.files.tables import render_cut_list, render_drilling, render_hardware
from kdkit.publish.manual.content import Manual
from kdkit.publish.results import Results
from kdkit.publish.typesetting.pdf import make_pdf
from kdkit.publish.typesetting.web_page import with_fonts
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.plain_text import writable

__all__ = ["WRITERS", "Job", "Writer"]


@dataclass(frozen=True, kw_only=True)
class Job:
    """What the writers share: the results, the wording, the manual, its HTML for the paper
    and for the screen, the paper and the style sheet of page heads."""

    results: Results
    manual: Manual
    messages: Messages
    style: Style
    html: str
    page: str
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
        path.write_text(writable(render(job)), encoding="utf-8", newline="")

    return write


def _write_pdf(job: Job, path: pathlib.Path) -> None:
    path.write_bytes(make_pdf(job.html, job.paper, job.heads))


def _write_figures(job: Job, path: pathlib.Path) -> None:
    path.mkdir()
    figures = {k: f for k, f in job.results.figures.items() if not k.startswith("narrow-")}
    rules = face_rules(lettering(figures.values()))
    for key, figure in sorted(figures.items()):
        svg = render_svg(_told(figure, key, job), job.style, key, rules)
        (path / f"{key}.svg").write_text(svg, encoding="utf-8", newline="")


def _told(figure: Figure, key: str, job: Job) -> Figure:
    """Return a figure with the words that it has in the manual; outside it, the product's too."""
    kind, _, number = key.partition("-")
    known = job.manual.alternatives
    words = known.get(key) or known.get(f"item-{number}", figure.title)
    title = job.messages.plain("navigation.step", n=number) if kind == "step" else words
    manual = job.manual
    head = job.messages.plain("running.head", title=manual.title, revision=manual.revision)
    return replace(figure, title=title, description=f"{head}: {words}")


WRITERS = (
    Writer("manual, printed", "manual.pdf", _write_pdf),
    Writer("manual, on screen", "manual.html", _text(lambda job: with_fonts(job.page))),
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
