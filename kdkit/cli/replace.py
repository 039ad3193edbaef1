"""The command that notes what is sent to a caller and prints the slip that goes with it."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import click

from kdkit.archive import Batch, Revision, Sent, log_sent
from kdkit.cli import show
from kdkit.cli.archived import find_one, leave, of_an_archive, opened, quietly_debug, which_revision
from kdkit.cli.width import fitted
from kdkit.definition.formula import near_names
from kdkit.definition.gate import Refused, check_title
from kdkit.diagnostics import Problem, error
from kdkit.reprinting import record_of

__all__ = ["replace_command"]

WHY = ("missing", "damaged", "lost", "other")
_MOST = 10_000


@dataclass(frozen=True)
class _Asked:
    item: str
    quantity: int


def _read_sent(
    ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
) -> tuple[_Asked, ...]:
    """Take every ``ITEM=COUNT`` apart; one piece if no count is said."""
    asked = []
    for value in values:
        name, equals, count = value.partition("=")
        if not name.strip() or (equals and not count.strip().isascii()):
            raise click.BadParameter(
                f"{value[:80]!r} is no item and count, as in cam=2", ctx, param
            )
        if equals and not (count.strip().isdigit() and len(count) < 7):
            raise click.BadParameter(f"{value[:80]!r}: {count[:20]!r} is no count", ctx, param)
        number = int(count) if equals else 1
        if not 1 <= number <= _MOST:
            raise click.BadParameter(f"{value[:80]!r}: from 1 to {_MOST} pieces", ctx, param)
        asked.append(_Asked(name.strip(), number))
    return tuple(asked)


@click.command("replace")
@which_revision
@of_an_archive
@click.option(
    "--send",
    "asked",
    multiple=True,
    required=True,
    metavar="ITEM=COUNT",
    callback=_read_sent,
    help="An item of the hardware list, `bag NAME`, or `part LETTER`; several times.",
)
@click.option("--because", "why", type=click.Choice(WHY), required=True, help="Why it is sent.")
@click.option("--order", "reference", default="", metavar="NUMBER", help="The order's number.")
@click.option("--dry-run", is_flag=True, help="Print the slip and note nothing.")
@quietly_debug
def replace_command(
    words: tuple[str, ...],
    revision: str | None,
    variant: str | None,
    batch: str | None,
    archive: str,
    asked: tuple[_Asked, ...],
    why: str,
    reference: str,
    dry_run: bool,
) -> None:
    """Note in the archive what is sent to a caller, and print the slip that goes with it.

    Items are checked against the list of the revision that the caller has: what does not
    belong to it is refused, with what is written alike. A bag is all that is in it, spares too.
    No names or addresses are kept; an order's number can be, and can be taken out again
    (`kdkit archive forget`).

    \b
    Examples:
      kdkit replace LN-204 --send cam-lock-15=2 --because missing --archive workshop.sqlite
      kdkit replace LN-204 --send "bag B" --because lost --archive workshop.sqlite
      kdkit replace LN-204 --send "part C" --because damaged --order 1187 --archive w.sqlite
    """
    try:
        reference = reference.strip() and check_title(reference.strip())
    except Refused as fault:
        raise click.BadParameter(fault.message, param_hint="--order") from None
    with opened(archive) as there:
        meant, number = find_one(there, words, revision, variant, batch)
        record = record_of(there, meant)
        lines, problems = _lines(record, asked, why, reference)
        if problems:
            leave(problems, "nothing was noted")
        if not dry_run:
            log_sent(there, meant, number, lines)
    click.echo(fitted(_slip(meant, number, lines, record, reference), sys.stdout))


def _lines(
    record: Mapping[str, Any], asked: Sequence[_Asked], why: str, reference: str
) -> tuple[list[Sent], list[Problem]]:
    """Return what is sent, line by line, and what was asked for and is not of the revision."""
    sent: list[Sent] = []
    problems = []

    def add(item: str, title: str, quantity: int) -> None:
        sent.append(
            Sent(number=0, at="", revision="", batch="", item=item, title=title,
                 quantity=quantity, why=why, reference=reference)
        )  # fmt: skip

    by_item = {line["item"]: line for line in record["hardware"] if line["supplied"]}
    by_letter = {part["letter"]: part for part in record["parts"]}
    for one in asked:
        kind, _, name = one.item.partition(" ")
        in_bag = _in_bag(record, name.strip()) if kind == "bag" else {}
        if one.item in by_item:
            line = by_item[one.item]
            add(one.item, f"{line['title']} {line['size']}".strip(), one.quantity)
        elif in_bag:
            for item, pieces in in_bag.items():
                line = by_item[item]
                add(item, f"{line['title']} {line['size']}".strip(), pieces * one.quantity)
        elif kind == "part" and name.strip() in by_letter:
            part = by_letter[name.strip()]
            add(f"part {name.strip()}", part["title"], one.quantity)
        else:
            problems.append(_not_there(one.item, record))
    return sent, problems


def _in_bag(record: Mapping[str, Any], name: str) -> dict[str, int]:
    """Return what is in a bag, spares included: item → pieces; nothing if there is none.

    A record made before bags were filled says for each item which one bag it is in.
    """
    for bag in record.get("bags", ()):
        if bag["name"] == name:
            return {line["item"]: line["needed"] + line["spares"] for line in bag["items"]}
    if "bags" in record:
        return {}
    lines = (line for line in record["hardware"] if name and line["bag"] == name)
    return {line["item"]: line["quantity"] - line["fitted"] for line in lines if line["supplied"]}


def _bag_names(record: Mapping[str, Any]) -> list[str]:
    if "bags" in record:
        return [bag["name"] for bag in record["bags"]]
    return sorted({line["bag"] for line in record["hardware"] if line["bag"]})


def _not_there(item: str, record: Mapping[str, Any]) -> Problem:
    items = [line["item"] for line in record["hardware"] if line["supplied"]]
    bags = [f"bag {name}" for name in _bag_names(record)]
    parts = [f"part {part['letter']}" for part in record["parts"]]
    near = near_names(item, [*items, *bags, *parts])
    told = f"did you mean {near[0]}?" if near else "it has " + ", ".join([*items, *bags][:12])
    return error("item-not-in-revision", f"the revision has no {item[:80]!r}", help=told)


def _slip(
    revision: Revision,
    batch: Batch | None,
    lines: Sequence[Sent],
    record: Mapping[str, Any],
    reference: str,
) -> str:
    head = f"For {revision.title}{f', batch {batch.batch}' if batch else ''}"
    text = [show.inline(head)]
    if reference:
        text.append(f"Order {show.inline(reference)}")
    where = {line["item"]: sorted(map(int, line["steps"])) for line in record["hardware"]}
    for line in lines:
        steps = where.get(line.item, [])
        used = (
            f", used in step{'s' * (len(steps) > 1)} {', '.join(map(str, steps))}" if steps else ""
        )
        text.append(
            f"  {line.quantity} × {show.inline(line.title)} [{show.inline(line.item)}]{used}"
        )
    return "\n".join(text)
