"""What a whole build costs, stage by stage, against the page engine's own time.

Run ``python tests/bench/bench_build.py [FILE ...]``; without files, the examples. Times
are processor time, the shorter of two runs in one process. ``ours`` is every stage up
to the figures, less what the page engine takes on the way; ``page engine`` is all that
WeasyPrint does for the same manual: laying out and writing. The pages are laid out three
times: the words once without figures, the lists to see what they fill, the whole. Aim: ours
is the smaller part, also against the last stage alone. Nothing fails on a time.

Measured: the bookcase 1.9 s against 3.1 s in three layouts (ratio 0.6), and less than the
last layout alone takes (2.6 s); hall bench and low cabinet 0.7. The wardrobe with its 71
parts is beyond it: 14 s against 11 s. Cost grows with what is in sight: visible surface and
lines of n drilled panels about as n^1.0 from 10 to 160 (``bench_hidden.py``). Every step
draws what stands by then, so a build should grow with the square of the parts (reasoned, not
measured).
"""

from __future__ import annotations

import pathlib
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

import weasyprint

from kdkit.illustrate.hidden_lines import own_look
from kdkit.pipeline import Request, build

EXAMPLES = pathlib.Path(__file__).parents[2] / "examples"
LAST = "setting the manual"


@dataclass
class Clock:
    """Times of the stages, and of the page engine wherever it is called."""

    stages: dict[str, float] = field(default_factory=dict)
    engine: float = 0.0
    engine_before_last: float = 0.0
    layouts: int = 0
    _stage: str = ""
    _since: float = 0.0
    _inside: int = 0

    def tell(self, stage: str) -> None:
        """Note that a stage starts."""
        now = time.process_time()
        if self._stage:
            self.stages[self._stage] = now - self._since
        self._stage, self._since = stage, now

    def timed(self, method: Callable[..., Any], lays_out: bool) -> Callable[..., Any]:
        """Return a method of the page engine that counts its time, nested calls once."""

        def call(*args: Any, **kwargs: Any) -> Any:
            self.layouts += lays_out
            self._inside += 1
            start = time.process_time()
            try:
                return method(*args, **kwargs)
            finally:
                self._inside -= 1
                if not self._inside:
                    took = time.process_time() - start
                    self.engine += took
                    if self._stage != LAST:
                        self.engine_before_last += took

        return call


def measure(file: pathlib.Path) -> Clock:
    """Build one definition and return what took how long."""
    clock = Clock()
    own_look._look.cache_clear()  # nothing of the first run helps the second
    render, write = weasyprint.HTML.render, weasyprint.HTML.write_pdf
    weasyprint.HTML.render = clock.timed(render, True)  # type: ignore[method-assign]
    weasyprint.HTML.write_pdf = clock.timed(write, False)  # type: ignore[method-assign]
    try:
        with tempfile.TemporaryDirectory() as folder:
            outcome = build(Request(file=file), pathlib.Path(folder) / "out", progress=clock.tell)
    finally:
        weasyprint.HTML.render = render  # type: ignore[method-assign]
        weasyprint.HTML.write_pdf = write  # type: ignore[method-assign]
    clock.tell("")
    assert outcome.complete, outcome.problems
    return clock


def main(files: list[pathlib.Path]) -> None:
    for file in files:
        clock = min((measure(file) for _ in range(2)), key=lambda c: sum(c.stages.values()))
        print(file.name)
        for stage, took in clock.stages.items():
            print(f"  {took:6.2f} s  {stage}")
        ours = sum(t for stage, t in clock.stages.items() if stage != LAST)
        ours -= clock.engine_before_last
        print(
            f"  ours up to the figures {ours:.2f} s, page engine {clock.engine:.2f} s "
            f"in {clock.layouts} layouts: ratio {ours / clock.engine:.2f}",
            flush=True,
        )


if __name__ == "__main__":
    main([pathlib.Path(name) for name in sys.argv[1:]] or sorted(EXAMPLES.glob("*.yaml")))
