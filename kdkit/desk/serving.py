"""The desk opened on an address: which one may be, and the server behind it."""

from __future__ import annotations

import contextlib
import errno
import ipaddress
import logging
import pathlib
import socket
from collections.abc import Callable, Sequence

from kdkit.archive import Archive
from kdkit.archive.accounts import accounts
from kdkit.delivery import scratch_folder
from kdkit.desk.app import BODY, make_app
from kdkit.desk.guard import is_loopback
from kdkit.desk.shared import Desk
from kdkit.diagnostics import Problem, error

__all__ = ["refuse_address", "serve"]

_THREADS, _CONNECTIONS, _HEAD, _SECONDS = 6, 60, 16 * 1024, 30


def refuse_address(archive: Archive, host: str) -> tuple[Problem, ...]:
    """Return why the desk may not be opened on an address, in figures or ``localhost``."""
    if host != "localhost":
        try:
            ipaddress.ip_address(host)
        except ValueError:
            said = f"{host[:80]!r} is no address of this machine"
            return (error("desk-not-bound", said, help="write it in figures, as 127.0.0.1"),)
    if not is_loopback(host) and not accounts(archive):
        return (
            error(
                "desk-not-bound",
                f"at {host} other machines could use the desk, and it has no accounts",
                help="make one first: kdkit archive account NAME; or leave --host out",
            ),
        )
    return ()


def serve(
    archive: Archive,
    host: str,
    port: int,
    *,
    names: Sequence[str] = (),
    https: bool = False,
    opened: Callable[[str], None] = lambda _: None,
) -> tuple[Problem, ...]:
    """Answer requests until the process is ended.

    Args:
        host: allowed by ``refuse_address``.
        port: 0 for any that is free.
        names: by which the desk is called besides its address.
        https: a server before it speaks TLS with browsers.
        opened: is told the address as soon as it answers.

    Returns:
        Why it did not open.
    """
    from waitress.server import create_server

    logging.basicConfig(format="%(message)s", level=logging.ERROR)
    try:
        bound = _bind(host, port)
    except OSError as fault:
        why = "another program has it" if fault.errno == errno.EADDRINUSE else fault.strerror
        said = f"the address {host}, port {port}, cannot be had: {why}"
        return (error("desk-not-bound", said, help="name another: --port NUMBER"),)
    with bound, scratch_folder(archive.file) as folder:
        desk = Desk(
            archive=archive,
            folder=pathlib.Path(folder),
            names=frozenset(name.lower() for name in names),
            shared=not is_loopback(host),
            https=https,
        )
        server = create_server(
            make_app(desk),
            sockets=[bound],
            threads=_THREADS,
            connection_limit=_CONNECTIONS,
            channel_timeout=_SECONDS,
            max_request_header_size=_HEAD,
            max_request_body_size=BODY,
            clear_untrusted_proxy_headers=True,
            ident="",
        )
        shown = f"[{host}]" if ":" in host else host
        opened(f"http://{shown}:{bound.getsockname()[1]}/")
        try:
            server.run()
        finally:
            desk.sheets.close()
            with contextlib.suppress(OSError):
                server.close()
    return ()


def _bind(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
        made.listen(_CONNECTIONS)
    except BaseException:
        made.close()
        raise
    return made
