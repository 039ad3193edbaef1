"""The workshop's files, written in one go."""

from __future__ import annotations

import importlib.util
import json
import pathlib
from collections.abc import Sequence
from dataclasses import replace

from kdkit import __version__
from kdkit.definition.formula import near_names
from kdkit.delivery import WORKSHOP, Claim, write_folder
from kdkit.diagnostics import Problem, error, has_errors
from kdkit.publish.results import Results, whose
from kdkit.publish.typesetting.engines import EngineFailed
from kdkit.publish.wording.messages import find_wording
from kdkit.publish.wording.plain_text import writable
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.outputs import OUTPUTS
from kdkit.schedule.batch import of_batch
from kdkit.schedule.cutting import pre_milled
from kdkit.schedule.sheets import Saw
from kdkit.schedule.views import list_views

__all__ = ["INDEX", "MACHINE", "publish_workshop"]

MACHINE = "router"
"""The machine that programs are for unless another is named."""

INDEX = "workshop.json"
"""The list of what was written, by kinds."""


def publish_workshop(
    results: Results,
    folder: pathlib.Path | Claim,
    outputs: Sequence[str] = (),
    paper: str = "a4",
    saw: Saw = Saw(),  # noqa: B008 - it cannot be changed
    machine: str = MACHINE,
    label_sheet: str = "",
    count: int = 1,
) -> tuple[tuple[pathlib.Path, ...] | None, tuple[Problem, ...]]:
    """Write the workshop's files into a folder that is moved in whole.

    Args:
        folder: claimed, or to be claimed here: new, empty, or written by an earlier
            run and unchanged; on any failure it stays as it was.
        outputs: names out of ``OUTPUTS``; none stands for all that need not be asked for.
        paper: ``a4``, ``a3`` or ``letter``.
        saw: kerf and trim for the sheets to order, and pre-milling for the cut sizes.
        machine: the catalogue's name of the machine that drills by programs.
        label_sheet: the catalogue's name of the sheets that bags' labels are printed on;
            "" for those that suit the paper.
        count: how many pieces of the product are made; quantities are those of all of them.

    Returns:
        The written files, sorted, or None; and the problems met.

    Raises:
        EngineFailed: a library could not write something; the folder is as it was.
        ValueError: an unknown output (the command line offers only the known).
    """
    known = {output.name for output in OUTPUTS}
    if not set(outputs) <= known:
        raise ValueError(f"unknown outputs {sorted(set(outputs) - known)}")
    chosen = [o for o in OUTPUTS if (o.name in outputs if outputs else not o.asked)]
    language = getattr(results.resolved.said, "language", "en")
    messages, problems = find_wording(language)
    if messages is None:
        return None, problems
    machines = results.catalogue.machines
    if machine not in machines:
        return None, (_unknown("machine", machine, tuple(machines)),)
    label_sheet = label_sheet or ("letter" if paper == "letter" else "a4")
    grids = results.catalogue.label_sheets
    if label_sheet not in grids and any(o.name == "bags" for o in chosen):
        return None, (_unknown("label-sheet", label_sheet, tuple(grids)),)
    missing = [o for o in chosen if o.needs and importlib.util.find_spec(o.needs) is None]
    if missing:
        return None, tuple(
            error(
                "library-missing",
                f"{o.name} needs the library {o.needs}, which is not installed",
                help="pip install 'kdkit[cad]'",
            )
            for o in missing
        )
    if saw.pre_mill:
        cut = pre_milled(results.schedules.cut, results.resolved, saw.pre_mill)
        results = replace(results, schedules=replace(results.schedules, cut=cut))
    results = replace(results, schedules=of_batch(results.schedules, count))
    job = WorkshopJob(
        results=results,
        panels=list_views(
            results.resolved,
            results.joinery,
            results.plan,
            results.schedules,
            {key for key, b in results.catalogue.boards.items() if b.family == "glass"},
        ),
        messages=messages,
        paper=paper,
        machine=machines[machine],
        saw=saw,
        labels_on=label_sheet,
        count=count,
    )
    found: list[Problem] = []

    def write(fresh: pathlib.Path) -> None:
        listed: dict[str, list[str]] = {}
        for output in chosen:
            before = _files(fresh)
            found.extend(output.write(job, fresh))
            if has_errors(found):
                raise EngineFailed(*found)
            listed[output.name] = sorted(_files(fresh) - before)
        index = {
            "written_by": f"kdkit {__version__}",
            "product": job.product,
            "revision": job.revision,
            "variant": results.resolved.variant,
            "count": count,
            "files": listed,
        }
        text = json.dumps(index, indent=2, ensure_ascii=False) + "\n"
        (fresh / INDEX).write_text(writable(text), encoding="utf-8", newline="")

    files, problems = write_folder(folder, WORKSHOP, write, whose(results.resolved))
    return files, (*found, *problems)


def _unknown(what: str, name: str, known: Sequence[str]) -> Problem:
    """Return the problem with a name that an option gives and the catalogue does not have."""
    near = near_names(name, known)
    return replace(
        error(
            "unknown-machine" if what == "machine" else "unknown-label-sheet",
            f"the catalogue has no {what.replace('-', ' ')} {name!r}",
            help=f"did you mean {near[0]}?" if near else f"it has {', '.join(known)}",
        ),
        asked=f"--{what} {name}",
    )


def _files(folder: pathlib.Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
