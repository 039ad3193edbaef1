"""What libraries that set, draw and write say while they work; a failed call is an error.

Such a library goes on where something could not be drawn, and tells its log. Here that is
heard, and whoever called the library decides what it means; nothing passes in silence.

What it logs as a warning is an error, but for a short list with reasons: a page with a hole
in it is not delivered.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from kdkit.diagnostics import Problem
from kdkit.interrupts import Interrupted, stop_if_asked

__all__ = ["EngineFailed", "Heard", "hear"]


class EngineFailed(Exception):  # noqa: N818 - what failed is the library
    """A library could not do what it was asked; nothing of it may be delivered.

    Args:
        problems: what it could not do, and where.
    """

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(problem.message for problem in problems))
        self.problems = problems


@dataclass
class Heard:
    """One thing that a library told.

    Args:
        form: the library's words with its own marks where the values stand.
        values: these values.
        text: the words with the values.
        cause: what was raised, if the library told.
    """

    form: str
    values: tuple[Any, ...]
    text: str
    cause: BaseException | None = None


class _Ear(logging.Handler):
    """Keeps what is at least a warning, and what was raised with it."""

    def __init__(self) -> None:
        super().__init__()
        self.heard: list[Heard] = []

    def emit(self, record: logging.LogRecord) -> None:
        stop_if_asked()  # a library caught an interrupt, and only tells its log
        cause = record.exc_info[1] if record.exc_info else None
        if isinstance(cause, MemoryError | Interrupted):
            raise cause
        if record.levelno >= logging.WARNING:
            values = record.args if isinstance(record.args, tuple) else (record.args,)
            self.heard.append(Heard(str(record.msg), values, record.getMessage(), cause))
        elif cause is not None and self.heard:
            self.heard[-1].cause = cause  # told apart, as details of the last


@contextmanager
def hear(*names: str) -> Iterator[Sequence[Heard]]:
    """Gather what libraries log under these names, or warn of, while the context lasts.

    Raises:
        MemoryError: a library caught it.
        Interrupted: the same.
    """
    ear = _Ear()
    loggers = [logging.getLogger(name) for name in names]
    before = [(logger.level, logger.propagate) for logger in loggers]
    for logger in loggers:
        logger.addHandler(ear)
        logger.setLevel(logging.DEBUG)
        logger.propagate = False
    try:
        with warnings.catch_warnings(record=True) as warned:
            warnings.simplefilter("always")
            yield ear.heard
            for warning in warned:
                # What will be different in a later release is for developers.
                if issubclass(warning.category, UserWarning | RuntimeWarning):
                    text = str(warning.message)
                    ear.heard.append(Heard(text, (), text))
    finally:
        for logger, (level, propagate) in zip(loggers, before, strict=True):
            logger.removeHandler(ear)
            logger.setLevel(level)
            logger.propagate = propagate
