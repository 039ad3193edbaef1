"""How much processor time commands take to start.

Run ``python tests/bench/bench_start.py [RUNS]``. Prints the least seconds of processor time of
several runs of each command, beside that of Python alone, and how many modules it imports. Byte
code is kept in a folder of the bench's own, as an installed package keeps it; the first run,
which makes it, does not count.
"""

from __future__ import annotations

import os
import pathlib
import resource
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).parents[2]

COMMANDS = {
    "python alone": ["-c", "pass"],
    "until interrupts are heard": ["-c", "from kdkit import interrupts; interrupts.listen()"],
    "--version": ["-m", "kdkit", "--version"],
    "--help": ["-m", "kdkit", "--help"],
    "check --help": ["-m", "kdkit", "check", "--help"],
    "import for a check": ["-c", "import kdkit.cli.commands"],
    "check bookcase": ["-m", "kdkit", "check", "examples/bookcase.yaml"],
    "check wardrobe": ["-m", "kdkit", "check", "examples/wardrobe.yaml"],
    "plan bookcase": ["-m", "kdkit", "plan", "examples/bookcase.yaml"],
}


def processor_seconds(arguments: list[str], settings: dict[str, str]) -> float:
    """Return user and system time of one child process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *arguments], cwd=ROOT, env=settings, capture_output=True, check=True
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def modules_imported(arguments: list[str], settings: dict[str, str]) -> int:
    """Return how many modules one child process imports."""
    command = [sys.executable, "-X", "importtime", *arguments]
    run = subprocess.run(command, cwd=ROOT, env=settings, capture_output=True, check=True)
    return run.stderr.count(b"import time:") - 1  # the heading


if __name__ == "__main__":
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        kept = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        kept["PYTHONPYCACHEPREFIX"] = folder
        print(f"{'':<28}  seconds  modules")
        for name, arguments in COMMANDS.items():
            count = modules_imported(arguments, kept)
            least = min(processor_seconds(arguments, kept) for _ in range(runs))
            print(f"{name:<28}{least:9.3f}{count:9}")
