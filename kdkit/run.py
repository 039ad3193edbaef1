"""One run: what is asked, what the stages give and find, and how far it came.

A stage gives a value or None, and problems; the first stage with errors ends the run
with *all* its problems.

It is a context, so that each use of the rows is written as if all went well, and
``run_stages`` can be read from top to bottom.
"""

from __future__ import annotations

import pathlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from kdkit import delivery
from kdkit.diagnostics import Problem, has_errors, locate_problems
from kdkit.interrupts import stop_if_asked
from kdkit.plan.plan import Impossible
from kdkit.publish.typesetting.engines import EngineFailed

if TYPE_CHECKING:
    from kdkit.definition import Definition
    from kdkit.model import Product
    from kdkit.plan.no_plan import NoPlan
    from kdkit.plan.taking_apart import TakenApart
    from kdkit.plan.why import Explanation
    from kdkit.publish.results import Results
    from kdkit.samples.choose import Chosen

Progress = Callable[[str], None]
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Request:
    """What is asked of one definition.

    Args:
        file: the definition, unless a product is given.
        product: a product made in Python.
        catalogues: catalogue files of such a product; a definition names its own.
        variant: one of its ``variants``, or None.
        parameters: values set for this run; they win over the variant's.
        batch: the batch's number to print, "" for none; None: what the definition says.
    """

    file: pathlib.Path | None = None
    product: Product | None = None
    catalogues: tuple[pathlib.Path, ...] = ()
    variant: str | None = None
    parameters: Mapping[str, float] = field(default_factory=dict)
    batch: str | None = None


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How far a run came and what it found.

    Args:
        problems: located, errors first.
        complete: the run reached its end.
        definition: the text and its places, if it could be read.
        impossible: the proof that the product cannot be put together, if that is so.
        no_plan: the same, or why the author's order fails, with its check and cures.
        results: every stage's value, if all stages went well; no figures from ``check``.
        apart: how the product comes apart, from ``take_apart``.
        why: why one thing comes before another, from ``explain``.
        chosen: every joint that could be between two parts, from ``choose``.
        files: what ``build`` wrote, in the order of their names.
    """

    problems: tuple[Problem, ...]
    complete: bool
    definition: Definition | None = None
    impossible: Impossible | None = None
    no_plan: NoPlan | None = None
    results: Results | None = None
    apart: TakenApart | None = None
    why: Explanation | None = None
    chosen: Chosen | None = None
    files: tuple[pathlib.Path, ...] = ()


class RunEnded(Exception):  # noqa: N818 - no fault, it only ends the run
    """A stage reported errors; they are with the run."""


class Run:
    """Gathers what the stages of one run give and find.

    As a context it ends where a stage reports errors; ``outcome`` tells if it came through.
    """

    def __init__(self, request: Request, progress: Progress) -> None:
        self.request = request
        self.progress = progress
        self.problems: list[Problem] = []
        self.definition: Definition | None = None
        self.no_plan: NoPlan | None = None
        self.results: Results | None = None
        self.apart: TakenApart | None = None
        self.why: Explanation | None = None
        self.chosen: Chosen | None = None
        self.files: tuple[pathlib.Path, ...] = ()
        self.claim: delivery.Claim | None = None
        self._complete = False

    def __enter__(self) -> Run:
        self._complete = False
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        traceback: TracebackType | None,
    ) -> bool:
        self._complete = kind is None
        return kind is RunEnded

    def stage(
        self,
        title: str,
        work: Callable[P, tuple[T | None, Sequence[Problem]]],
        *args: P.args,
        **kwargs: P.kwargs,
    ) -> T:
        """Do one stage's work; go on with its value or end the run."""
        stop_if_asked()
        self.progress(title)
        try:
            value, problems = work(*args, **kwargs)
        except EngineFailed as failed:
            value, problems = None, failed.problems
        self.judge(problems)
        if value is None:
            raise RunEnded
        return value

    def claim_folder(self, folder: pathlib.Path, command: str) -> delivery.Claim:
        """Take a folder for a command's results before there is anything to put into it.

        The claim is a context; it lets go of the folder at its end, also if nothing was
        written. End the run if the folder may not be used.
        """
        file, catalogues = self.request.file, self.request.catalogues
        inputs = (*catalogues, *(() if file is None else (file,)))
        title = "looking at the folder for the results"
        self.claim = self.stage(title, delivery.claim_folder, folder, command, inputs)
        return self.claim

    def judge(self, problems: Sequence[Problem]) -> None:
        """Keep the problems; end the run if one of them is an error."""
        stop_if_asked()
        self.problems.extend(problems)
        if has_errors(problems):
            raise RunEnded

    def outcome(self) -> Outcome:
        """Return what was gathered, problems located in the definition's file."""
        verdict = self.no_plan.verdict if self.no_plan is not None else None
        return Outcome(
            problems=locate_problems(self.problems, self.definition),
            complete=self._complete and self.no_plan is None,
            definition=self.definition,
            impossible=verdict if isinstance(verdict, Impossible) else None,
            no_plan=self.no_plan,
            results=self.results,
            apart=self.apart,
            why=self.why,
            chosen=self.chosen,
            files=self.files,
        )
