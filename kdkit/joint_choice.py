"""Which joint: every one tried between two parts, and the page that shows them all."""

from __future__ import annotations

import pathlib
from collections.abc import Sequence

from kdkit import publish
from kdkit.catalogue import load_catalogue
from kdkit.delivery import CATALOGUE
from kdkit.geometry import assemble
from kdkit.opening import open_product
from kdkit.run import Outcome, Progress, Request, Run
from kdkit.samples import Pair
from kdkit.samples.choose import choose_between_boards, choose_in_product, find_pair


def choose(request: Request, names: Sequence[str], progress: Progress = lambda _: None) -> Outcome:
    """Try every joint of the catalogue between two parts of a product.

    Args:
        names: the two parts, or the name of their joint alone.
    """
    with Run(request, progress) as run:
        resolved, catalogue = open_product(run)
        pair = run.stage("looking for the parts", find_pair, resolved, names)
        assembly = run.stage("placing the parts", assemble, resolved)
        known = (resolved, assembly, catalogue)
        run.chosen = run.stage("trying every joint", choose_in_product, *known, *pair)
    return run.outcome()


def choose_boards(
    pair: Pair, catalogues: Sequence[pathlib.Path] = (), progress: Progress = lambda _: None
) -> Outcome:
    """Try every joint of the catalogue, and of a maker's own files, between two boards."""
    with Run(Request(), progress) as run:
        catalogue = run.stage("opening the catalogue", load_catalogue, catalogues)
        run.chosen = run.stage("trying every joint", choose_between_boards, pair, catalogue)
    return run.outcome()


def write_catalogue(
    catalogues: Sequence[pathlib.Path],
    folder: pathlib.Path,
    *,
    paper: str = "a4",
    pdf: bool = True,
    progress: Progress = lambda _: None,
) -> Outcome:
    """Write the page of every joint and fixture of the catalogue, each with a sample.

    Args:
        catalogues: a maker's own files, read over the catalogue that comes with kdkit.
        folder: is made, or replaced if an earlier run wrote it.
        paper: ``a4`` or ``letter``.
        pdf: also write the page for print.
        progress: is told what is being done.
    """
    request = Request(catalogues=tuple(catalogues))
    with Run(request, progress) as run, run.claim_folder(folder, CATALOGUE) as claim:
        catalogue = run.stage("opening the catalogue", load_catalogue, catalogues)
        run.files = run.stage(
            "making the samples",
            publish.publish_catalogue,
            catalogue,
            claim,
            paper=paper,
            pdf=pdf,
            progress=progress,
        )
    return run.outcome()
