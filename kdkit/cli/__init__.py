"""Row 15: the command line. It parses a request, calls the pipeline and shows the outcome.

Results go to stdout, problems and progress to stderr. Exit status: 0 fine, 1 problems
found or the work could not be done, 2 wrong usage, 130 interrupted.

Nothing that takes time is imported here: interrupts are heard first.
"""

from __future__ import annotations

import io
import os
import sys
import warnings

from kdkit import interrupts

TYPE_CHECKING = False  # the module that has it takes long to import
if TYPE_CHECKING:
    from types import TracebackType

    from typing_extensions import Buffer

__all__ = ["main", "run"]

FAILED = 1

LIBRARIES = (
    "  help: the PDF engine needs Pango and HarfBuzz's subsetter; on Debian: apt-get install "
    "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
)

MEMORY = (
    "  help: close other programs, raise the limit on memory (ulimit -v), or divide the product"
)


NO_MEMORY = (
    "cannot allocate memory",
    "failed to map segment",
    "bad_alloc",
    "unable to allocate",
    "out of memory",
)
"""What loaders and libraries say instead of ``MemoryError``, in small letters."""


def main() -> None:
    """Run the command and leave with its exit status; never show a traceback unasked."""
    try:
        interrupts.listen()
        sys.excepthook, sys.unraisablehook = _printed, _ignored
        if not sys.warnoptions:  # what libraries will do in later releases is no user's affair
            warnings.simplefilter("ignore")
        # Nothing here is large enough for several threads, each of which takes memory.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        _open_streams()
        status = run(sys.argv[1:])
        by = interrupts.settle()
    except BaseException:
        by = interrupts.settle()
        if by is None:
            sys.excepthook = sys.__excepthook__
            raise
        # Leaving the block lets go of what the fault held, and of its temporary folders.
    if by is not None:
        _collect()
        interrupts.end(by)
    sys.exit(_close_stdout(status))


def run(arguments: list[str]) -> int:
    """Run one command; return its exit status, and tell of whatever keeps it from its end.

    Raises:
        Interrupted: the run was asked to end.
    """
    interrupts.forget_places()
    try:
        # Here, after interrupts are heard.
        from kdkit.cli.group import group

        group.main(arguments, prog_name="kdkit")
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else FAILED
    except Exception as fault:
        interrupts.stop_if_asked()  # a library may have made something else of it
        if "--debug" in arguments:
            import traceback

            _say(traceback.format_exc().rstrip())
        _say(_words(fault))
        return FAILED
    return 0


_held: list[BaseException] = []
"""What a library wanted to print and went on from."""


def _printed(kind: type[BaseException], fault: BaseException, trace: TracebackType | None) -> None:
    """Keep what C code prints before it raises something else: that is told, or this."""
    if interrupts.asked() is None:
        _held.append(fault)


def _ignored(what: sys.UnraisableHookArgs) -> None:
    """Say nothing of what only an interrupt or a lack of memory brought about."""
    if interrupts.asked() is None and not isinstance(what.exc_value, MemoryError):
        sys.__unraisablehook__(what)


def _words(fault: Exception) -> str:
    """Return what is told of something that kept a command from its end."""
    if any(_out_of_memory(f) for f in (fault, *_held)):
        return f"error: kdkit ran out of memory; {interrupts.written()}\n{MEMORY}"
    if isinstance(fault, OSError):
        if "library" in str(fault):
            return f"error: {_one_line(fault)}\n{LIBRARIES}"
        if not fault.filename and _folder_is_gone():
            return "error: the folder that you are in is gone; change to one that is there"
        place = f": {fault.filename}" if fault.filename else ""
        return f"error: {fault.strerror or fault}{place}"
    return (
        f"kdkit: fault in kdkit: {type(fault).__name__}: {_one_line(fault)} "
        "(please report it with the definition; --debug shows where it happened)"
    )


def _folder_is_gone() -> bool:
    import os

    try:
        os.getcwd()
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return False


def _out_of_memory(fault: BaseException) -> bool:
    """Tell if it comes of a lack of memory; libraries put it in words of their own."""
    import errno

    seen: BaseException | None = fault
    while seen is not None:
        if isinstance(seen, MemoryError) or getattr(seen, "errno", None) == errno.ENOMEM:
            return True
        if any(words in str(seen).lower() for words in NO_MEMORY):
            return True
        seen = seen.__cause__ or seen.__context__
    return False


def _open_streams() -> None:
    """Open the standard streams that are closed, so that no file of ours gets their number.

    What is written to them then goes nowhere, as whoever closed them wanted.
    """
    for number, name, mode in ((0, "stdin", "r"), (1, "stdout", "w"), (2, "stderr", "w")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # the lowest free number, which is this one
        if getattr(sys, name) is None:
            setattr(sys, name, open(number, mode, encoding="utf-8", closefd=False))  # noqa: SIM115
    if os.name == "posix":  # elsewhere a console is no file
        sys.stdout = io.TextIOWrapper(
            io.BufferedWriter(_Stdout(1, "w", closefd=False)),
            encoding=sys.stdout.encoding,
            line_buffering=sys.stdout.isatty(),
        )
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


class _Stdout(io.FileIO):
    """The file behind stdout, which says its name when it cannot be written to."""

    def write(self, data: Buffer, /) -> int:
        try:
            return super().write(data)
        except OSError as fault:
            fault.filename = "stdout"
            raise


def _close_stdout(status: int) -> int:
    """Write out what is left for stdout; the exit status, 1 at least if it did not arrive.

    What does not arrive is let go of, or the end of the process would tell of it again.
    """
    try:
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read it has enough
        status = status or FAILED
    except OSError as fault:
        _say(_words(fault))
        status = status or FAILED
    else:
        return status
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return status


def _collect() -> None:
    """Let objects in circles go; some of them hold temporary folders."""
    import gc

    gc.collect()


def _say(text: str) -> None:
    from kdkit.visible import printable  # names of files stand in it

    try:  # noqa: SIM105 - contextlib takes long to import
        print(printable(text), file=sys.stderr, flush=True)
    except OSError:  # nobody reads it; the exit status tells
        pass


def _one_line(fault: Exception) -> str:
    return " ".join(str(fault).split())[:300] or "no further words"
