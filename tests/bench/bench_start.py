"""How much processor time commands take to start.

Run ``python tests/bench/bench_start.py [RUNS]``. Prints the least seconds of processor time of
several runs of each command, beside that of Python alone.
"""

from __future__ import annotations

import pathlib
import resource
import subprocess
import sys

ROOT = pathlib.Path(__file__).parents[2]

COMMANDS = {
    "python alone": ["-c", "pass"],
    "until interrupts are heard": ["-c", "from kdkit import interrupts; interrupts.listen()"],
    "--version": ["-m", "kdkit", "--version"],
    "--help": ["-m", "kdkit", "--help"],
    "import for a check": ["-c", "import kdkit.cli.commands"],
    "check": ["-m", "kdkit", "check", "examples/bookcase.yaml"],
}


def processor_seconds(arguments: list[str]) -> float:
    """Return user and system time of one child process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *arguments], cwd=ROOT, capture_output=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for name, arguments in COMMANDS.items():
        print(f"{name:<28}{min(processor_seconds(arguments) for _ in range(runs)):6.3f} s")
