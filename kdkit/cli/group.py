"""The command ``kdkit`` and what it knows of its commands before one of them is used.

A command's module is imported when the command is: help and version wait for nothing,
and an interrupt finds little under way.
"""

from __future__ import annotations

import importlib
from typing import Any

import click

from kdkit import __version__
from kdkit.cli.gate import gated_streams

__all__ = ["COMMANDS", "group"]

COMMANDS = {
    "apart": ("kdkit.cli.apart", "Show how the finished product comes apart again."),
    "archive": ("kdkit.cli.archive", "Make, verify, copy an archive of issued revisions."),
    "batch": ("kdkit.cli.issue", "Record a batch of an issued revision, with its manual."),
    "build": (
        "kdkit.cli.commands",
        "Make the manual (PDF and HTML), the tables and the figures.",
    ),
    "catalogue": ("kdkit.cli.catalogue", "Write the page of every joint and fixture."),
    "check": ("kdkit.cli.commands", "Look for problems in a definition."),
    "choose": ("kdkit.cli.choose", "Show which joints are possible between two boards."),
    "desk": ("kdkit.cli.desk", "Open the desk for customer service in a browser."),
    "explain": ("kdkit.cli.explain", "Say what the code behind a message means."),
    "history": ("kdkit.cli.reprint", "Show what was issued, what changed and what was sent."),
    "issue": ("kdkit.cli.issue", "Freeze a revision and all that is made from it."),
    "new": ("kdkit.cli.commands", "Write a commented starter definition."),
    "outline": ("kdkit.cli.outline", "Read a panel's shape from a drawing (DXF)."),
    "pack": ("kdkit.cli.pack", "Find the cartons: layers, check sheets, labels."),
    "plan": ("kdkit.cli.commands", "Show the order of assembly, or why there is none."),
    "replace": ("kdkit.cli.replace", "Note and print what is sent to a caller."),
    "reprint": ("kdkit.cli.reprint", "Give the lists and files of a revision as issued."),
    "run": ("kdkit.cli.production", "Add up what several products and quantities need."),
    "schema": ("kdkit.cli.commands", "Print the JSON Schema of a definition."),
    "start": ("kdkit.cli.start", "Start a definition from a list of panels."),
    "verify": ("kdkit.cli.commands", "Check a proof that a product cannot be put together."),
    "workshop": ("kdkit.cli.workshop", "Make drawings and machine files for the workshop."),
}
"""By name: the module, in which the command is called NAME_command, and its line of help."""


_PRINTING = ("apart", "batch", "build", "catalogue", "issue", "pack", "run", "workshop")
_LEAST, _LEAST_PRINTING = 256, 512
"""Megabytes of addresses without which libraries end the process or crash while they are
loaded. Measured on Linux: a small product is checked with 200 and built with 400."""


def _check_memory(command: str) -> None:
    """Refuse to begin under a limit on memory with which libraries crash.

    Raises:
        click.ClickException: what the limit is and what is needed.
    """
    try:
        import resource
    except ImportError:  # not every system has such limits
        return
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    least = _LEAST_PRINTING if command in _PRINTING else _LEAST
    if limit != resource.RLIM_INFINITY and limit < least * 2**20:
        raise click.ClickException(
            f"the limit on memory is {limit // 2**20} MB, kdkit {command} needs {least} MB "
            "at least; raise it (ulimit -v)"
        )


class _Commands(click.Group):
    """A group that imports a command when it is asked for it, behind the gate before the
    terminal."""

    def main(self, *args: Any, **settings: Any) -> Any:
        """Run a command; texts of a definition, a catalogue, an argument or a file's name
        do nothing to the terminal."""
        with gated_streams():
            return super().main(*args, **settings)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        _check_memory(cmd_name)
        module, short_help = COMMANDS[cmd_name]
        command = getattr(importlib.import_module(module), f"{cmd_name}_command")
        assert isinstance(command, click.Command)
        command.short_help = short_help
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, COMMANDS[name][1]) for name in self.list_commands(ctx)])


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Start with:  kdkit new open-case shelf.yaml",
)
@click.version_option(__version__, prog_name="kdkit")
def group() -> None:
    """Cut list, drilling, hardware, a proved assembly order and an illustrated manual
    for knockdown furniture, all from one definition.
    """
