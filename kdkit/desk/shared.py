"""What the pages of the desk share: its state, who asks, and how an answer is made."""

from __future__ import annotations

import pathlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import flask
import werkzeug

from kdkit.archive import Archive, SentCount
from kdkit.archive.accounts import MOST_PASSWORD, right_password
from kdkit.archive.issued import key_of
from kdkit.desk.guard import Guesses, Sessions, is_loopback
from kdkit.desk.papers import render
from kdkit.desk.sheets import Sheets

__all__ = ["CARD", "FILE_POLICY", "Desk", "cookie_name", "keep", "page", "scale", "this_desk"]

FILE_POLICY = (
    "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "frame-ancestors 'none'; base-uri 'none'; form-action 'none'"
)
"""For issued files, whose bytes are not the desk's own: nothing in them runs or asks."""

CARD = (85.6, 53.98)
"""mm; a card to measure the screen with. Source: ISO/IEC 7810, size ID-1 (from memory)."""

_ONCE = 1000


@dataclass
class Desk:
    """What the pages share.

    Args:
        folder: for what is laid out on the way; gone when the desk is closed.
        names: by which it may be called besides addresses, in small letters.
        shared: it answers other machines than its own.
        https: a server before it speaks TLS with browsers.
    """

    archive: Archive
    folder: pathlib.Path
    names: frozenset[str] = frozenset()
    shared: bool = False
    https: bool = False
    sessions: Sessions = field(default_factory=Sessions)
    guesses: Guesses = field(default_factory=Guesses)

    def __post_init__(self) -> None:
        self.sheets = Sheets(self.archive, self.folder)
        self._hashing = threading.Lock()
        self.counted: tuple[int, Sequence[SentCount]] = (-1, ())
        self._once: OrderedDict[str, str] = OrderedDict()
        self._lock = threading.Lock()

    def once(self, mark: str, work: Callable[[], str]) -> str:
        """Do a form's work and return where it leads; a form sent twice is done once."""
        with self._lock:
            if mark in self._once:
                return self._once[mark]
            leads = work()
            self._once[mark] = leads
            while len(self._once) > _ONCE:
                self._once.popitem(last=False)
            return leads

    def check(self, name: str, password: str, address: str) -> tuple[str | None, float]:
        """Return who has that password, or None; and the seconds to wait before another try."""
        keys = [f"name {key_of(name)[:200]}"]
        if not is_loopback(address):  # from here, or through a server on this machine: all
            keys.append(f"from {address}")
        wait = self.guesses.wait(*keys)
        if wait > 0:
            return None, wait
        if not self._hashing.acquire(timeout=5):  # each takes memory: one at a time
            return None, 5.0
        try:
            account = right_password(self.archive, name, password[:MOST_PASSWORD])
        finally:
            self._hashing.release()
        if account is None:
            self.guesses.was_wrong(*keys)
            return None, self.guesses.wait(*keys)
        self.guesses.was_right(keys[0])
        return account, 0.0


@dataclass(frozen=True)
class _Asking:
    """Who asks: what templates know as ``desk``."""

    account: str
    signed_in: bool
    token: str
    query: str
    query_first: bool


def this_desk() -> Desk:
    """Return the desk that a request is to."""
    found: Desk = flask.current_app.config["DESK"]
    return found


def page(template: str, status: int = 200, **values: Any) -> flask.Response:
    """Return a page of the desk."""
    asking = _Asking(
        account=flask.g.account or "",
        signed_in=flask.g.get("admitted", False),
        token=this_desk().sessions.token(flask.g.cookie),
        query=values.pop("query", ""),
        query_first=values.pop("query_first", False),
    )
    text = render(template, desk=asking, layout="page.html", scale=scale(), **values)
    return flask.Response(text, status, mimetype="text/html")


def scale() -> float:
    """Return what this browser's millimetre must be stretched by to be one on its screen."""
    try:
        said = float(flask.request.cookies.get("kdkit_scale", "1"))
    except ValueError:
        return 1.0
    return said if 0.4 <= said <= 3.0 else 1.0


def keep(answer: werkzeug.Response, name: str, value: str, seconds: int | None = None) -> None:
    """Set a cookie for this desk alone, which no script reads."""
    answer.set_cookie(
        name, value, max_age=seconds, httponly=True, samesite="Strict", path="/",
        secure=this_desk().https,
    )  # fmt: skip


def cookie_name() -> str:
    # Browsers share cookies between the ports of a machine.
    port = flask.request.host.rpartition(":")[2]
    return f"kdkit_desk_{port}" if port.isascii() and port.isdigit() else "kdkit_desk"
