"""Row 14: the command line. It parses a request, calls the pipeline and shows the outcome.

Results go to stdout, problems and progress to stderr. Exit status: 0 fine, 1 problems
found, 2 wrong usage, 70 a fault in kdkit itself.
"""

from __future__ import annotations

import io
import sys
import traceback

__all__ = ["main"]

FAULT = 70
"""Source: EX_SOFTWARE of sysexits.h in BSD, from memory."""

LIBRARIES = (
    "  help: the PDF engine needs Pango and HarfBuzz's subsetter; on Debian: apt-get install "
    "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
)


def main() -> None:
    """Run the command and leave with its exit status; never show a traceback unasked."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    try:
        # Here, because the PDF engine opens its system libraries when it is imported.
        from kdkit.cli.commands import group

        group.main(prog_name="kdkit")
    except OSError as fault:
        if "library" in str(fault):
            sys.exit(_say(f"error: {_one_line(fault)}\n{LIBRARIES}", 1))
        named = f": {fault.filename}" if fault.filename else ""
        sys.exit(_say(f"error: {fault.strerror or fault}{named}", 1))
    except Exception as fault:
        if "--debug" in sys.argv:
            traceback.print_exc()
        sys.exit(
            _say(
                f"kdkit: fault: {type(fault).__name__}: {_one_line(fault)} "
                "(this is a fault in kdkit; please report it with the definition, "
                "--debug shows where it happened)",
                FAULT,
            )
        )


def _say(text: str, status: int) -> int:
    print(text, file=sys.stderr)
    return status


def _one_line(fault: Exception) -> str:
    return " ".join(str(fault).split())[:300] or "no further words"
