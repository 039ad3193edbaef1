"""Row 1: an interrupt ends the run, wherever in the run it arrives.

``listen`` comes first of all in a command, before anything that takes time is imported, so
this module imports next to nothing. An interrupt raises ``Interrupted`` where it arrives,
and whatever is open is closed on the way out. Code that must not be torn apart is left in
peace: a delivery, which lets the signals wait; what an interrupt, or the end of an object,
is just clearing away. An interrupt that is lost all the same (a library caught everything, or
it arrived in a callback that cannot pass it on) is raised again after ``AGAIN`` seconds.

Signals are noted while results move in, not masked: a thread of a library would take a masked
one.
"""

from __future__ import annotations

import os
import signal
import sys

TYPE_CHECKING = False  # the module that has it takes longer than all of this
if TYPE_CHECKING:
    from types import FrameType

__all__ = [
    "Interrupted",
    "asked",
    "end",
    "forget_places",
    "listen",
    "may_write",
    "settle",
    "stop_if_asked",
    "written",
]

AGAIN = 0.1
"""Seconds after which an interrupt that did not end the run is raised again."""

STATUS = 130
"""Exit status of an interrupted run, as shells have it for SIGINT: 128 + 2."""

NAMES = ("SIGINT", "SIGTERM", "SIGHUP")
"""What ends a run; not every system has all."""


class Interrupted(BaseException):
    """Somebody ended the run. Only the entry of the command catches it.

    No ``KeyboardInterrupt``: the library of the command line makes of that an end of its own.
    """


_by: str | None = None
_settled = False
_places: dict[str, tuple[int, ...] | None] = {}


def listen() -> None:
    """Let interrupts end the run; those that were ignored when it began stay so."""
    for name in NAMES:
        number = getattr(signal, name, None)
        # A shell's background and nohup have some of them ignored.
        if number is not None and signal.getsignal(number) is not signal.SIG_IGN:
            signal.signal(number, _arrived)


def asked() -> str | None:
    """Return the name of the signal that asked the run to end, None if none did."""
    return _by


def stop_if_asked() -> None:
    """End the run if it was asked to end and went on all the same."""
    if _by is not None and not _settled:
        raise Interrupted


def may_write(place: str | os.PathLike[str]) -> None:
    """Remember how a file or folder is before the run, to tell if it was written."""
    _places[os.fspath(place)] = _state(place)


def forget_places() -> None:
    """Begin another run: it has been told of no place that it may write."""
    _places.clear()


def written() -> str:
    """Return in words which of the places that the run may write differ from before."""
    changed = [place for place, before in _places.items() if _state(place) != before]
    return f"{', '.join(changed)} had been written by then" if changed else "nothing was written"


def settle() -> str | None:
    """Hear no more interrupts, the run is over; return the one that was heard, if any."""
    global _settled
    _settled = True
    for name in (*NAMES, "SIGALRM"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is _arrived:
            signal.signal(number, signal.SIG_IGN)
    return _by


def end(by: str) -> None:
    """Tell in one line what an interrupt ended and what is written; leave the process.

    Leaves at once: what waits for a reader in the buffer of stdout would keep it, and
    whatever libraries do at the end of a process may be half set up.
    """
    import select

    from kdkit.visible import inline

    how = "interrupted" if by == "SIGINT" else f"interrupted by {by}"
    try:
        # A terminal or pipe that takes nothing any more must not hold the end up.
        if os.name != "posix" or select.select([], [2], [], 1.0)[1]:
            os.write(2, f"{how}; {inline(written())}\n".encode(errors="backslashreplace"))
    except (OSError, ValueError):  # nobody reads it
        pass
    os._exit(STATUS)


def _arrived(number: int, frame: FrameType | None) -> None:
    global _by
    if _settled:
        return
    if _by is None:
        _by = signal.Signals(number).name
        if hasattr(signal, "setitimer"):
            signal.signal(signal.SIGALRM, _arrived)
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_REAL, AGAIN)
    if not _clearing_away(frame):
        raise Interrupted


def _clearing_away(frame: FrameType | None) -> bool:
    """Tell if an interrupt is being handled, or an object's end, which cannot pass one on."""
    fault = sys.exc_info()[1]
    while fault is not None:
        if isinstance(fault, Interrupted):
            return True
        fault = fault.__context__
    while frame is not None:
        if frame.f_code.co_name == "__del__":
            return True
        frame = frame.f_back
    return False


def _state(place: str | os.PathLike[str]) -> tuple[int, ...] | None:
    try:
        found = os.lstat(place)
    except OSError:
        return None
    return (found.st_dev, found.st_ino, found.st_mtime_ns)
