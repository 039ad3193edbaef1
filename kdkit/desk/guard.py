"""Who may ask what of the desk: names in addresses, sessions, tokens, guesses slowed.

A page of another site can make a browser send requests here, and can let its own name lead to
this machine (DNS rebinding). So every request must name this desk as an address, as
``localhost`` or by a name that it was given; every request that writes must come from the
desk's own pages and bear a token that no other site can read; the cookie is for this desk
alone and no script can read it.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Collection
from urllib.parse import urlsplit

__all__ = ["Guesses", "Sessions", "is_loopback", "names_this_desk", "same_origin"]

_LONGEST_SESSION, _IDLE = 12 * 3600.0, 2 * 3600.0  # seconds
_SESSIONS, _GUESSES = 500, 5000
_FREE, _MOST_WAIT = 3, 300.0  # wrong passwords before it is slowed; seconds

Clock = Callable[[], float]


def is_loopback(host: str) -> bool:
    """Tell whether an address leads to this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def names_this_desk(said: str, names: Collection[str], *, shared: bool) -> bool:
    """Tell whether a request's Host header means this desk.

    Args:
        names: that the desk was given, in small letters.
        shared: it answers other machines too; then any address in figures is meant, which no
            other site's name can be.
    """
    try:
        parts = urlsplit(f"//{said}")
        name = (parts.hostname or "").lower()
        _ = parts.port
    except ValueError:
        return False
    if not name or parts.username is not None or parts.path or parts.query or parts.fragment:
        return False
    if name in names or name == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return False
    return address.is_loopback or shared


def same_origin(origin: str | None, fetch_site: str | None, host: str) -> bool:
    """Tell whether a request that writes comes from a page of this desk, as far as it says.

    Source: the Fetch Metadata Request Headers draft and the Origin header of RFC 6454 (from
    memory); an old browser sends neither, and the token alone must do.
    """
    if fetch_site is not None and fetch_site not in ("same-origin", "none"):
        return False
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc.lower() == host.lower()
    except ValueError:
        return False


class Sessions:
    """Cookies, the tokens that go with them, and who is signed in; kept in memory alone."""

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._key = secrets.token_bytes(32)
        self._lock = threading.Lock()
        self._signed_in: OrderedDict[bytes, tuple[str, float, float]] = OrderedDict()

    @staticmethod
    def new() -> str:
        """Return a cookie that nobody can guess."""
        return secrets.token_urlsafe(32)

    def token(self, cookie: str) -> str:
        """Return what a form must bear that is sent with a cookie."""
        return hmac.new(self._key, cookie.encode(), hashlib.sha256).hexdigest()

    def is_token(self, cookie: str, said: str) -> bool:
        """Tell whether a form bears the token of its cookie."""
        return hmac.compare_digest(self.token(cookie).encode(), said.encode())

    def sign_in(self, account: str) -> str:
        """Return a new cookie with which an account is signed in."""
        cookie, now = self.new(), self._clock()
        with self._lock:
            self._signed_in[_sum(cookie)] = (account, now, now)
            while len(self._signed_in) > _SESSIONS:
                self._signed_in.popitem(last=False)
        return cookie

    def sign_out(self, cookie: str) -> None:
        """Let nobody be signed in with a cookie any more."""
        with self._lock:
            self._signed_in.pop(_sum(cookie), None)

    def account(self, cookie: str) -> str | None:
        """Return who is signed in with a cookie; it ends when idle, and at the day's end."""
        with self._lock:
            found = self._signed_in.get(_sum(cookie))
            if found is None:
                return None
            name, began, last = found
            now = self._clock()
            if now - began > _LONGEST_SESSION or now - last > _IDLE:
                del self._signed_in[_sum(cookie)]
                return None
            self._signed_in[_sum(cookie)] = (name, began, now)
            return name


def _sum(cookie: str) -> bytes:
    return hashlib.sha256(cookie.encode()).digest()


class Guesses:
    """Wrong passwords counted by account and by address; each further one waits longer."""

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._lock = threading.Lock()
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()

    def wait(self, *keys: str) -> float:
        """Return the seconds until another try is heard; 0 if it is now."""
        now = self._clock()
        with self._lock:
            return max(0.0, *(self._wrong.get(key, (0, now))[1] - now for key in keys))

    def was_wrong(self, *keys: str) -> None:
        """Note a wrong password."""
        now = self._clock()
        with self._lock:
            for key in keys:
                count = self._wrong.pop(key, (0, 0.0))[0] + 1
                pause = 0.0 if count <= _FREE else min(_MOST_WAIT, 2.0 ** (count - _FREE))
                self._wrong[key] = (count, now + pause)
            while len(self._wrong) > _GUESSES:
                self._wrong.popitem(last=False)

    def was_right(self, key: str) -> None:
        """Forget the wrong passwords of one account."""
        with self._lock:
            self._wrong.pop(key, None)
