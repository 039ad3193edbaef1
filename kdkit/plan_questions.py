"""What is asked of a plan, or of a no: how it comes apart again, why so, is it proved."""

from __future__ import annotations

import pathlib
from contextlib import ExitStack

from kdkit import publish
from kdkit.delivery import APART
from kdkit.frames import Vec3
from kdkit.geometry import assemble
from kdkit.joinery import place_fittings
from kdkit.opening import open_product
from kdkit.pipeline import inspect_placed, run_stages
from kdkit.plan.no_plan import check_claims, check_reasons, check_tried
from kdkit.plan.taking_apart import divide_product, replace_part
from kdkit.plan.verify import verify_impossible
from kdkit.plan.why import explain_order
from kdkit.publish import no_plan
from kdkit.run import Outcome, Progress, Request, Run

_MOST_FAULTS = 50
_LONGEST = 300
"""Of a certificate's faults, which may repeat whatever stood in the file."""


def take_apart(
    request: Request,
    *,
    part: str | None = None,
    largest: Vec3 | None = None,
    folder: pathlib.Path | None = None,
    paper: str = "A4",
    progress: Progress = lambda _: None,
) -> Outcome:
    """Find out how the finished product comes apart again, and back.

    Args:
        request: the definition and what is asked of it.
        part: the part to be replaced; None: the whole is taken apart to be carried.
        largest: mm; then no piece may be larger, laid as it fits, if it can be helped.
        folder: for a short manual; is made, or replaced if an earlier run wrote it.
        paper: ``A4`` or ``letter``.
        progress: is told the name of each stage as it starts.
    """
    with Run(request, progress) as run, ExitStack() as held:
        claim = None if folder is None else held.enter_context(run.claim_folder(folder, APART))
        results = run_stages(run)
        known = (results.resolved, results.assembly, results.joinery, results.catalogue)
        if part is not None:
            run.apart = run.stage("taking it apart", replace_part, *known, part)
        else:
            run.apart = run.stage("taking it apart", divide_product, *known, largest)
        if claim is not None:
            run.files = run.stage(
                "setting the manual", publish.publish_apart, results, run.apart, claim, paper
            )
    return run.outcome()


def explain(
    request: Request, first: str, later: str, progress: Progress = lambda _: None
) -> Outcome:
    """Find out why one part or operation comes before another in the plan."""
    with Run(request, progress) as run:
        results = run_stages(run)
        run.why = run.stage(
            "looking at the other order",
            explain_order,
            results.resolved,
            results.assembly,
            results.joinery,
            results.catalogue,
            results.plan,
            first,
            later,
        )
    return run.outcome()


def verify(
    request: Request, certificate: pathlib.Path, progress: Progress = lambda _: None
) -> tuple[Outcome, tuple[str, ...], str]:
    """Check a certificate of impossibility from a file against a product.

    Returns:
        the outcome, complete if the check was made; what it does not confirm, each with
        its place in the file or its direction; and the class of motions it is about.
    """
    faults: tuple[str, ...] = ()
    motions = ""
    with Run(request, progress) as run:
        resolved, catalogue = open_product(run)
        assembly = run.stage("placing the parts", assemble, resolved)
        joinery = run.stage("placing the fittings", place_fittings, resolved, assembly, catalogue)
        inspect_placed(run, resolved, assembly, joinery, catalogue)
        proof, claims = run.stage("reading the certificate", no_plan.load_certificate, certificate)
        progress("checking it")
        motions = proof.motion_class
        if proof.tried:
            motions += "; two moves in a row and tilting were tried too, and did not help"
        found = check_claims(claims, resolved)
        found = found or verify_impossible(proof, assembly, joinery, catalogue)
        found = found or check_reasons(proof, assembly, joinery, catalogue)
        found = found or check_tried(proof, resolved, assembly, joinery, catalogue)
        faults = tuple(fault[:_LONGEST] for fault in found[:_MOST_FAULTS])
        if len(found) > _MOST_FAULTS:
            faults += (f"and {len(found) - _MOST_FAULTS} more of the kind",)
    return run.outcome(), faults, motions
