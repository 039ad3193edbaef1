"""Run the command ``kdkit`` and send it a signal at a set moment, without any clock.

``python tests/stopped_command.py SIGNAL MOMENT ARGUMENTS...``; MOMENT is the name of a
module, and the signal comes when it is about to be imported, or ``drawing``: when the page
engine draws its first picture.
"""

from __future__ import annotations

import importlib.abc
import importlib.machinery
import os
import pathlib
import signal
import sys
from collections.abc import Sequence
from types import ModuleType
from typing import Any

sys.path.insert(0, str(pathlib.Path(__file__).parents[1]))


class SignalOnImport(importlib.abc.MetaPathFinder):
    """Finds nothing; sends this process a signal when a module is looked for."""

    def __init__(self, module: str, number: int) -> None:
        self.module, self.number = module, number

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if name == self.module:
            self.module = ""
            os.kill(os.getpid(), self.number)
        return None


def signal_on_drawing(number: int) -> None:
    """Send the signal in the first picture, where the page engine catches everything."""
    from weasyprint.svg import SVG  # type: ignore[import-untyped]

    draw = SVG.draw

    def first(self: Any, *args: Any) -> None:
        SVG.draw = draw
        os.kill(os.getpid(), number)
        draw(self, *args)

    SVG.draw = first


if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may ignore it
    number, moment = signal.Signals[sys.argv[1]], sys.argv[2]
    sys.argv[:] = ["kdkit", *sys.argv[3:]]
    from kdkit.cli import main

    if moment == "drawing":
        signal_on_drawing(number)
    else:
        sys.meta_path.insert(0, SignalOnImport(moment, number))
    main()
