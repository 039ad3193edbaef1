"""One definition in, the cartons that it is packed in out.

It is a command of its own because who packs is not who makes the parts, and because what is
sold under one number (a variant, set values) is settled only when it is packed.
"""

from __future__ import annotations

import pathlib

from kdkit.definition.trade_numbers import DOMAIN
from kdkit.delivery import PACKING
from kdkit.pipeline import run_stages
from kdkit.publish.packing.folder import publish_packing
from kdkit.publish.results import Results
from kdkit.run import Outcome, Progress, Request, Run
from kdkit.schedule.packing import Packing, PackingRules, list_pieces, pack_product

__all__ = ["find_cartons", "pack"]


def find_cartons(results: Results, rules: PackingRules) -> Packing:
    """Return the cartons of a product that is worked out."""
    pieces = list_pieces(
        results.resolved,
        results.joinery,
        results.catalogue,
        results.plan,
        results.schedules,
        rules,
    )
    return pack_product(pieces, rules)


def pack(
    request: Request,
    folder: pathlib.Path,
    *,
    rules: PackingRules = PackingRules(),  # noqa: B008 - it cannot be changed
    paper: str = "a4",
    gtin: str = "",
    domain: str = DOMAIN,
    progress: Progress = lambda _: None,
) -> Outcome:
    """Take a definition to its cartons: pictures of the layers, check sheets, labels, a table.

    Args:
        request: the definition and what is asked of it.
        folder: is made, or replaced if an earlier run wrote it.
        rules: how heavy a carton may be, and what lies round and between the parts.
        paper: ``a4``, ``a3`` or ``letter``.
        gtin: the number under which it is sold, for a code on the labels; "" for none.
        domain: what the web address in that code begins with.
        progress: is told the name of each stage as it starts.
    """
    with Run(request, progress) as run, run.claim_folder(folder, PACKING) as claim:
        results = run_stages(run)
        run.progress("packing")
        packing = find_cartons(results, rules)
        run.files = run.stage(
            "writing the packer's files",
            publish_packing,
            results,
            packing,
            claim,
            paper=paper,
            gtin=gtin,
            domain=domain,
        )
    return run.outcome()
