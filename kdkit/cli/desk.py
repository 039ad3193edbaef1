"""The command that opens the desk."""

from __future__ import annotations

import re
import sys

import click

from kdkit.cli import show
from kdkit.cli.archived import leave, opened, quietly_debug, tell

__all__ = ["desk_command"]

_USAGE = 2


def _read_names(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[str, ...]:
    for value in values:
        if not re.fullmatch(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?", value):
            raise click.BadParameter(f"{value[:80]!r} is no machine's name", ctx, param)
    return values


@click.command("desk")
@click.argument("archive", envvar="KDKIT_ARCHIVE", metavar="ARCHIVE")
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8117, show_default=True,
    help="Where it answers; 0 for any that is free.",
)  # fmt: skip
@click.option(
    "--host", default="127.0.0.1", show_default=True, metavar="ADDRESS",
    help="The address that it answers; others than this machine's own need accounts.",
)  # fmt: skip
@click.option(
    "--name", "names", multiple=True, callback=_read_names, metavar="NAME",
    help="A name by which browsers call it; may be given several times.",
)  # fmt: skip
@click.option(
    "--https", is_flag=True, help="A server before it speaks TLS; cookies go that way alone."
)
@quietly_debug
def desk_command(archive: str, port: int, host: str, names: tuple[str, ...], https: bool) -> None:
    """Open the desk: pages for a browser, in which callers' products are found, and their
    lists, manuals and files given back as issued; what is sent is noted, with its papers.

    It answers this machine alone. Where several share it, make accounts first
    (`kdkit archive account`), and put a server before it that speaks TLS: passwords are not
    hidden on their way otherwise. End it with Ctrl-C.

    \b
    Examples:
      kdkit desk workshop.sqlite
      kdkit desk workshop.sqlite --host 192.168.7.20 --name desk.workshop.test
    """
    from kdkit.desk.serving import refuse_address, serve  # here: the web's library takes long

    with opened(archive) as there:
        refused = refuse_address(there, host)
        if refused:
            tell(refused)
            sys.exit(_USAGE)
        problems = serve(there, host, port, names=names, https=https, opened=_say)
        leave(problems, "the desk was not opened")


def _say(address: str) -> None:
    click.echo(f"the desk answers at {show.inline(address)}; end it with Ctrl-C")
    sys.stdout.flush()
