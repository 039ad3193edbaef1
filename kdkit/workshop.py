"""One definition in, the drawings and files from which its parts are made out.

It is a command of its own because the buyer's manual and the maker's files go to different
people, and a build stays as fast as it was.

Pre-milling is asked for here, not in the definition: it belongs to the maker's machine, so
the buyer's files and the plan know nothing of it.
"""

from __future__ import annotations

import pathlib
from collections.abc import Sequence
from dataclasses import replace

from kdkit.delivery import WORKSHOP
from kdkit.diagnostics import Problem, error
from kdkit.pipeline import run_stages
from kdkit.publish.results import Results
from kdkit.publish.workshop import MACHINE, publish_workshop
from kdkit.run import Outcome, Progress, Request, Run
from kdkit.schedule.batch import MOST_PANELS
from kdkit.schedule.saw import Saw


def workshop(
    request: Request,
    folder: pathlib.Path,
    *,
    outputs: Sequence[str] = (),
    paper: str = "a4",
    saw: Saw = Saw(),  # noqa: B008 - it cannot be changed
    machine: str = MACHINE,
    label_sheet: str = "",
    count: int = 1,
    progress: Progress = lambda _: None,
) -> Outcome:
    """Take a definition to the drawings and files from which its parts are made.

    Nothing is written unless every stage before went well; the folder is moved in whole.

    Args:
        request: the definition and what is asked of it.
        folder: is made, or replaced if an earlier run wrote it.
        outputs: names out of ``kdkit.publish.workshop.OUTPUTS``; none stands for all
            that need not be asked for.
        paper: ``a4``, ``a3`` or ``letter``.
        saw: kerf and trim for the sheets to order, and pre-milling for the cut sizes.
        machine: the catalogue's name of the machine that drills by programs.
        label_sheet: the catalogue's name of the sheets that bags' labels are printed on; ""
            for those that suit the paper.
        count: how many pieces of the product are made in one go; what is bought, cut and
            counted is that of all of them, laid out together.
        progress: is told the name of each stage as it starts.
    """
    with Run(request, progress) as run, run.claim_folder(folder, WORKSHOP) as claim:
        results = run_stages(run)
        run.judge(_too_many(results, count))
        run.files = run.stage(
            "writing the workshop's files",
            publish_workshop,
            results,
            claim,
            outputs,
            paper,
            saw,
            machine,
            label_sheet,
            count,
        )
    return run.outcome()


def _too_many(results: Results, count: int) -> tuple[Problem, ...]:
    """Return an error where a batch has more panels than are laid out together."""
    each = sum(line.quantity for line in results.schedules.cut)
    if each * count <= MOST_PANELS or count == 1:
        return ()
    told = error(
        "too-many-parts",
        f"{count} pieces have {each * count} panels, at most {MOST_PANELS} are laid out together",
        help=f"make at most {max(1, MOST_PANELS // each)} in one go",
    )
    return (replace(told, asked=f"--count {count}"),)
