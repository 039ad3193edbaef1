"""What the manual says of bags: the list of them, when each is opened, what is left over."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.schedule.bags import Bag

__all__ = ["BagRow", "tell_leftovers", "tell_opening", "write_bags"]

_NAME = Markup("<strong>{}</strong>")


@dataclass(frozen=True)
class BagRow:
    """One bag of the hardware page: its name, when it is opened, what is in it."""

    name: str
    opened: Markup
    content: Markup


def write_bags(bags: Sequence[Bag], names: Names, messages: Messages) -> tuple[BagRow, ...]:
    """Return the bags in the order of opening."""
    return tuple(_row(bag, names, messages) for bag in bags)


def _row(bag: Bag, names: Names, messages: Messages) -> BagRow:
    content = []
    for line in bag.items:
        badge = names.number(line.item)
        if line.spares:
            said = messages.count("bags.with_spares", line.spares, needed=line.needed, badge=badge)
        else:
            said = messages.text("bags.pieces", n=line.needed, badge=badge)
        content.append(said)
    opened = messages.text("bags.opened", n=bag.opened) if bag.opened else Markup("")
    if bag.apart:
        content.append(messages.text("bags.apart"))
    return BagRow(bag.name, opened, messages.text("list.comma").join(content))


def tell_opening(bags: Iterable[Bag], step: int, messages: Messages) -> tuple[Markup, ...]:
    """Return the sentence that a step begins with if bags are opened at it, else nothing."""
    opened = [_NAME.format(bag.name) for bag in bags if bag.opened == step]
    if not opened:
        return ()
    return (messages.count("bags.open", len(opened), bags=messages.listed(opened)),)


def tell_leftovers(bags: Iterable[Bag], names: Names, messages: Messages) -> Markup:
    """Return what may be left over when everything is built: nothing, or the spares."""
    spares: dict[str, int] = {}
    for bag in bags:
        for line in bag.items:
            if line.spares:
                spares[line.item] = spares.get(line.item, 0) + line.spares
    if not spares:
        return messages.text("final.leftover")
    items = [
        messages.text("bags.pieces", n=n, badge=names.number(item))
        for item, n in sorted(spares.items(), key=lambda pair: names.place(pair[0]))
    ]
    return messages.text("final.leftover_spares", items=messages.text("list.comma").join(items))
