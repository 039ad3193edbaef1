"""Who may use a desk that several share: names, and passwords as scrypt leaves them.

Cost N = 2^15, r = 8, p = 3: the password storage advice of OWASP (from memory of it). Every
row says the numbers that it was made with, so that they can grow.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

import sqlalchemy as sa

from kdkit.archive.issued import key_of
from kdkit.archive.opening import Archive
from kdkit.archive.storing import now
from kdkit.archive.tables import ACCOUNT

__all__ = [
    "LEAST_PASSWORD",
    "MOST_PASSWORD",
    "accounts",
    "remove_account",
    "right_password",
    "set_account",
]

LEAST_PASSWORD, MOST_PASSWORD = 12, 200
"""Signs of a password; twelve at least is common practice, no source."""

_COST = (1 << 15, 8, 3)
_MEMORY = 128 << 20  # bytes that one check may take
_NOBODY = "$".join((",".join(map(str, _COST)), base64.b64encode(bytes(16)).decode(), "no"))
"""Compared with where there is no account, so that both take as long."""


def accounts(archive: Archive) -> tuple[str, ...]:
    """Return the names of all accounts, sorted."""
    with archive.reading() as connection:
        return tuple(connection.scalars(sa.select(ACCOUNT.c.name).order_by(ACCOUNT.c.name_key)))


def set_account(archive: Archive, name: str, password: str) -> bool:
    """Make an account, or give one another password; return whether it is new.

    Raises:
        ArchiveFailed: nothing was changed.
    """
    secret = _secret(password, secrets.token_bytes(16), _COST)
    with archive.writing() as connection:
        same = ACCOUNT.c.name_key == key_of(name)
        done = connection.execute(ACCOUNT.update().where(same).values(secret=secret))
        if done.rowcount:
            return False
        connection.execute(
            ACCOUNT.insert().values(name=name, name_key=key_of(name), secret=secret, made=now())
        )
    return True


def remove_account(archive: Archive, name: str) -> bool:
    """Take an account away; return whether there was one."""
    with archive.writing() as connection:
        done = connection.execute(ACCOUNT.delete().where(ACCOUNT.c.name_key == key_of(name)))
        return bool(done.rowcount)


def right_password(archive: Archive, name: str, password: str) -> str | None:
    """Return the account's name if the password is its own; as slow where there is none."""
    with archive.reading() as connection:
        row = connection.execute(
            sa.select(ACCOUNT).where(ACCOUNT.c.name_key == key_of(name))
        ).one_or_none()
    kept = row.secret if row is not None else _NOBODY
    numbers, salt, _ = kept.split("$")
    n, r, p = map(int, numbers.split(","))
    tried = _secret(password, base64.b64decode(salt), (n, r, p))
    right = hmac.compare_digest(tried, kept)
    return str(row.name) if right and row is not None else None


def _secret(password: str, salt: bytes, cost: tuple[int, int, int]) -> str:
    n, r, p = cost
    made = hashlib.scrypt(
        password[:MOST_PASSWORD].encode("utf-8", "surrogatepass"),
        salt=salt,
        n=n,
        r=r,
        p=p,
        maxmem=_MEMORY,
        dklen=32,
    )
    told = (base64.b64encode(part).decode("ascii") for part in (salt, made))
    return "$".join((f"{n},{r},{p}", *told))
