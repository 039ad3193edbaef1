"""Renames that are whole or not at all, and signals that wait for them."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import signal
import sys
import threading
from collections.abc import Iterator
from types import FrameType

__all__ = ["exchange", "move_without_replacing", "signals_held", "sync"]

_NO_REPLACE, _EXCHANGE = 1, 2
"""Flags of renameat2. Source: include/uapi/linux/fs.h of Linux; renameat2(2)."""
_CANNOT = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP}


def exchange(one_fd: int, one: str, other_fd: int, other: str) -> bool:
    """Let two entries change places in one step; False: this system or disk cannot."""
    return _rename(one_fd, one, other_fd, other, _EXCHANGE)


def move_without_replacing(from_fd: int, name: str, to_fd: int, to: str) -> bool:
    """Move an entry to a name that nothing has; False: this system or disk cannot.

    Raises:
        FileExistsError: something has the name.
    """
    return _rename(from_fd, name, to_fd, to, _NO_REPLACE)


def _rename(from_fd: int, name: str, to_fd: int, to: str, flag: int) -> bool:
    if not sys.platform.startswith("linux"):
        return False
    call = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if call is None:
        return False
    if call(from_fd, os.fsencode(name), to_fd, os.fsencode(to), ctypes.c_uint(flag)) == 0:
        return True
    fault = ctypes.get_errno()
    if fault in _CANNOT:
        return False
    raise OSError(fault, os.strerror(fault), to)


def sync(fd: int) -> None:
    """Have a file or folder on the disk before going on, where the disk can say so."""
    try:
        os.fsync(fd)
    except OSError as fault:
        if fault.errno not in _CANNOT:
            raise


@contextlib.contextmanager
def signals_held() -> Iterator[None]:
    """Let signals that would end the run wait until the block is done.

    Handlers that only note them stand in meanwhile. A mask of the thread would not do:
    a thread of a library takes the signal then, and Python still raises it here.
    """
    if threading.current_thread() is not threading.main_thread():
        yield  # Python runs handlers in the main thread alone
        return
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        came.append(number)

    def deliver() -> None:
        for number in dict.fromkeys(came):
            signal.raise_signal(number)

    with contextlib.ExitStack() as after:  # goes on with the rest if one step is interrupted
        after.callback(deliver)
        # The alarm is what raises an interrupt again that was lost (``interrupts``).
        for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGALRM"):
            number = getattr(signal, name, None)  # Windows has no SIGHUP
            before = None if number is None else signal.getsignal(number)
            if number is None or before in (None, signal.SIG_IGN):
                continue
            if name == "SIGALRM" and before is signal.SIG_DFL:
                continue
            after.callback(signal.signal, number, before)
            signal.signal(number, note)
        yield
