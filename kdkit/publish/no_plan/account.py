"""What there is to say about a product without a plan, in order, in one language."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.frames import AXES, Vec3, scaled
from kdkit.illustrate.no_plan.no_figure import way_figure
from kdkit.plan.no_plan import NoPlan, cure_words
from kdkit.plan.no_plan.changes import name_parts
from kdkit.plan.order.judge import order_text
from kdkit.plan.plan import EVERY_DIRECTION, Block, Impossible, OrderRefused
from kdkit.publish.wording.messages import Messages

__all__ = ["Account", "Section", "give_account"]


@dataclass(frozen=True, kw_only=True)
class Section:
    """A heading and lines.

    Args:
        figure: names the picture that belongs to it, or is "".
        group: of a certificate's loops, which of its reasons it is of, from 1.
    """

    heading: str
    lines: tuple[str, ...]
    figure: str = ""
    group: int = 1


@dataclass(frozen=True, kw_only=True)
class Account:
    """The whole of it.

    Args:
        legend: a line for each part with its letter.
        loops: a section for each direction of a certificate, or for each reason of a
            refused order.
        closing: how it was checked, and what would change it.
    """

    title: str
    introduction: tuple[str, ...]
    legend: Section
    loops: tuple[Section, ...]
    closing: tuple[Section, ...]


def give_account(no: NoPlan, messages: Messages) -> Account:
    """Put a no into words."""
    if isinstance(no.verdict, Impossible):
        return _of_certificate(no, no.verdict, messages)
    return _of_order(no, no.verdict, messages)


def _way_words(direction: Vec3, messages: Messages) -> str:
    """Return a direction in words."""
    for name, axis in AXES.items():
        if all(abs(a - b) < 1e-6 for a, b in zip(direction, axis, strict=True)):
            return messages.plain(f"no_plan.ways.{name}")
    numbers = ", ".join(f"{c + 0.0:.3f}" for c in direction)
    return messages.plain("no_plan.ways.aslant", numbers=numbers)


def _product(no: NoPlan) -> str:
    return getattr(no.resolved.said, "product", "") or "?"


def _legend(no: NoPlan, messages: Messages) -> tuple[str, ...]:
    names = name_parts(no.resolved.parts)
    lines = []
    for body, letter in no.letters.items():
        shown = []
        for name in no.parts_of(body):
            title = names.get(name, name)
            shown.append(title if name.casefold() in title.casefold() else f"{title} ({name})")
        words = shown[0]
        if len(shown) > 1:
            words = messages.plain("no_plan.packed", parts=messages.listed(shown).unescape())
        lines.append(f"{letter}  {words}")
    return tuple(lines)


def _of_certificate(no: NoPlan, verdict: Impossible, messages: Messages) -> Account:
    say = messages.plain
    letters = no.letters
    loops = []
    for group, one in enumerate(verdict.reasons, start=1):
        of = f"{say('no_plan.group', n=group)} " if verdict.more else ""
        for n, (direction, walk) in enumerate(one.loops, start=1):
            chain = " → ".join(letters[block.part] for block in (*walk, *walk[:1]))
            loops.append(
                Section(
                    heading=f"{of}{_way_words(direction, messages)}: {chain}",
                    lines=tuple(_block_line(block, no, messages) for block in _once(walk)),
                    figure=way_figure(group, n),
                    group=group,
                )
            )
    groups = [say("no_plan.groups", n=len(verdict.reasons))] if verdict.more else []
    if not verdict.all_found:
        groups.append(say("no_plan.groups_bound", n=len(verdict.reasons)))
    checked = (
        [say("no_plan.check.holds")] if not no.faults else [say("no_plan.check.fails"), *no.faults]
    )
    return Account(
        title=say("no_plan.impossible", product=_product(no)),
        introduction=(
            say("no_plan.why_last"),
            *groups,
            say("no_plan.why_loop"),
            *([say("no_plan.why_tools")] if no.for_tools else []),
            say("no_plan.why_rest"),
            say("no_plan.every" if verdict.motion_class == EVERY_DIRECTION else "no_plan.named"),
            say("no_plan.tried", tried=verdict.tried)
            if verdict.tried
            else say("no_plan.not_tried"),
        ),
        legend=Section(
            heading=say("no_plan.parts", n=len(verdict.every_body)),
            lines=_legend(no, messages),
            figure="parts",
        ),
        loops=tuple(loops),
        closing=(
            _cures(no, messages),
            Section(
                heading=say("no_plan.check.heading"),
                lines=(*checked, say("no_plan.motions", motions=verdict.motion_class)),
            ),
        ),
    )


def _once(walk: tuple[Block, ...]) -> list[Block]:
    return list({(block.part, block.by): block for block in walk}.values())


def _block_line(block: Block, no: NoPlan, messages: Messages, key: str = "no_plan.block") -> str:
    letters = no.letters
    return messages.plain(
        key,
        part=letters.get(block.part, block.part),
        by=letters.get(block.by, block.by),
        reason=block.reason,
    )


def _cures(no: NoPlan, messages: Messages) -> Section:
    say = messages.plain
    cures = no.cures
    lines: list[str] = []
    if cures is not None and cures.cures:
        lines.append(say("no_plan.cures.planned"))
        for n, cure in enumerate(cures.cures, start=1):
            means = "; ".join(change.means for change in cure.changes)
            lines.append(f"{n}. {cure_words(cure)}. {means[:1].upper()}{means[1:]}.")
            lines += [say("no_plan.cures.warning", message=w.message) for w in cure.warnings]
    elif cures is not None and not cures.tried:
        lines.append(say("no_plan.cures.nothing"))
    elif cures is not None:
        lines.append(say("no_plan.cures.none", tried=cures.tried, size=cures.size))
    if cures is not None and cures.left_out:
        lines.append(say("no_plan.cures.left_out", tried=cures.tried, left=cures.left_out))
    return Section(heading=say("no_plan.cures.heading"), lines=tuple(lines))


def _of_order(no: NoPlan, verdict: OrderRefused, messages: Messages) -> Account:
    say = messages.plain
    sections = []
    for n, (block, leaving) in enumerate(verdict.blocks_by_reason, start=1):
        ways = [_way_words(scaled(v, -1.0), messages).lower() for v in leaving]
        sections.append(
            Section(
                heading=say("no_plan.order.not_moving", ways=", ".join(ways)),
                lines=(_block_line(block, no, messages, "no_plan.order.block"),),
                figure=f"clash-{n}",
            )
        )
    if not sections:
        sections.append(
            Section(heading=say("no_plan.order.against"), lines=verdict.reasons, figure="")
        )
    closing = []
    if verdict.nearest is not None:
        lines = [order_text(verdict.nearest.entries)]
        if verdict.nearest.moved:
            lines.append(say("no_plan.order.moved", moved=", ".join(verdict.nearest.moved)))
        if any(len(entry) > 1 for entry in verdict.nearest.entries):
            lines.append(say("no_plan.order.brackets"))
        exact = verdict.nearest.exact
        lines.append(say("no_plan.order.exact") if exact else say("no_plan.order.bounded"))
        closing.append(Section(heading=say("no_plan.order.nearest"), lines=tuple(lines)))
    return Account(
        title=say("no_plan.order.title", product=_product(no)),
        introduction=(
            f"{no.problem.message[:1].upper()}{no.problem.message[1:]}.",
            say("no_plan.order.why"),
        ),
        legend=Section(
            heading=say("no_plan.order.parts"), lines=_legend(no, messages), figure="parts"
        ),
        loops=tuple(sections),
        closing=tuple(closing),
    )
