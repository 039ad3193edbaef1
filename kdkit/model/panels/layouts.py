"""What can be said of a panel before any number is known: its thickness axis, its ends."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, error
from kdkit.model import says
from kdkit.model.panels.slabs import AXIS_NAMES

__all__ = ["Layout", "lay_out_panels", "unknown_board", "unknown_original"]

_KEPT_BY_MIRROR = frozenset({"mirror", "title", "x", "y", "z", "loose", "visible_face"})


@dataclass(frozen=True)
class Layout:
    """What can be said of a panel before any number is known.

    Args:
        said: the panel itself.
        original: the panel that a mirror takes everything from, else itself.
        axis: thickness axis, 0 to 2.
        spans: the ends that are given on each axis: (from, to).
    """

    name: str
    path: Path
    said: says.Panel
    axis: int
    spans: tuple[tuple[says.Length | None, says.Length | None] | None, ...]
    mirrors: str | None = None


def lay_out_panels(
    panels: Mapping[str, says.Panel],
    boards: Mapping[str, says.Board],
    base: Path,
    problems: list[Problem],
    broken: Collection[str] = (),
) -> dict[str, Layout]:
    """Return the layouts of the panels that make sense, mirrors after their originals.

    ``broken``: names of panels that are there, but could not be read.
    """
    found: dict[str, Layout] = {}
    for name, said in panels.items():
        if said.mirror is None:
            layout = _lay_out_panel(name, said, boards, (*base, name), problems)
            if layout is not None:
                found[name] = layout
    waiting = {name: said for name, said in panels.items() if said.mirror is not None}
    for name in list(waiting):
        known = {*panels, *broken}
        if not _mirror_is_sound(name, waiting[name], known, (*base, name), problems):
            del waiting[name]
    progress = True
    while progress:
        progress = False
        for name in list(waiting):
            said = waiting[name]
            original = found.get(said.mirror or "")
            if original is None:
                continue
            found[name] = Layout(
                name, (*base, name), said, original.axis, _spans(said), original.name
            )
            del waiting[name]
            progress = True
    for name in waiting:
        chain = [name]
        while chain[-1] in waiting and waiting[chain[-1]].mirror not in chain:
            chain.append(str(waiting[chain[-1]].mirror))
        if waiting.get(chain[-1], panels[name]).mirror == name == min(chain):
            problems.append(
                error(
                    "mirror-loop",
                    f"these panels mirror each other: {' → '.join([*chain, name])}",
                    (*base, name, "mirror"),
                    help="write one of them out",
                )
            )
    return found


def _mirror_is_sound(
    name: str,
    said: says.Panel,
    panels: Collection[str],
    path: Path,
    problems: list[Problem],
) -> bool:
    before = len(problems)
    if said.mirror not in panels:
        problems.append(unknown_original(name, said, panels, path))
    if said.x is None:
        problems.append(
            error(
                "missing-key",
                f"{name} needs x: where the mirror image stands",
                path,
                where=name,
                help="for instance x: {to: width}",
            )
        )
    for key in sorted(said.model_fields_set - _KEPT_BY_MIRROR):
        problems.append(
            Problem(
                code="mirror-conflict",
                message=f"a mirror image takes {key} from {said.mirror}",
                path=(*path, key),
                where=name,
                help=f"delete {key}, or write the panel out without `mirror`",
                on_key=True,
            )
        )
    return len(problems) == before


def unknown_original(name: str, said: says.Panel, panels: Collection[str], path: Path) -> Problem:
    """Return the problem of a panel that mirrors one that is not there."""
    near = near_names(str(said.mirror), sorted(panels))
    return error(
        "unknown-part",
        f"there is no panel {said.mirror!r} to mirror",
        (*path, "mirror"),
        where=name,
        help=f"did you mean {near[0]}?" if near else "",
    )


def unknown_board(name: str, said: says.Panel, boards: Collection[str], path: Path) -> Problem:
    """Return the problem of a panel whose board is not there."""
    near = near_names(str(said.board), boards)
    known = f"`boards` has {', '.join(boards)}" if boards else "add it under `boards`"
    return error(
        "unknown-board",
        f"there is no board {said.board!r}",
        (*path, "board"),
        where=name,
        help=f"did you mean {near[0]}?" if near else known,
    )


def _spans(
    said: says.Panel,
) -> tuple[tuple[says.Length | None, says.Length | None] | None, ...]:
    spans: list[tuple[says.Length | None, says.Length | None] | None] = []
    for axis in AXIS_NAMES:
        span = getattr(said, axis)
        if isinstance(span, says.OneEnd):
            span = (span.start, span.to)
        spans.append(span)
    return tuple(spans)


def _lay_out_panel(
    name: str,
    said: says.Panel,
    boards: Mapping[str, says.Board],
    path: Path,
    problems: list[Problem],
) -> Layout | None:
    before = len(problems)
    if said.board is None:
        problems.append(
            error(
                "missing-key",
                f"{name} needs a board",
                path,
                help=f"write `board: NAME`; `boards` has {', '.join(boards) or 'none yet'}",
            )
        )
    elif said.board not in boards:
        problems.append(unknown_board(name, said, boards, path))
    spans = _spans(said)
    one_ended = [a for a in range(3) if spans[a] is not None and None in (spans[a] or ())]
    empty = [a for a in one_ended if spans[a] == (None, None)]
    for none in empty:
        problems.append(
            error(
                "missing-key",
                f"{AXIS_NAMES[none]} has neither `from` nor `to`",
                (*path, AXIS_NAMES[none]),
                where=name,
            )
        )
    facing = None if said.face is None else AXIS_NAMES.index(said.face[1])
    axis = _thickness_axis(name, said, spans, one_ended, facing, path, problems)
    if axis is None or len(problems) > before:
        return None
    if facing is not None and facing != axis:
        problems.append(
            error(
                "wrong-axis",
                f"the face looks along {AXIS_NAMES[facing]}, but {name} is thin along "
                f"{AXIS_NAMES[axis]}",
                (*path, "face"),
                where=name,
                help=f"face: +{AXIS_NAMES[axis]} or -{AXIS_NAMES[axis]}",
            )
        )
        return None
    if said.grain is not None and AXIS_NAMES.index(said.grain) == axis:
        problems.append(
            error(
                "wrong-axis",
                f"the grain cannot run along {said.grain}, the thickness of {name}",
                (*path, "grain"),
                where=name,
            )
        )
        return None
    for other in range(3):
        if other != axis and spans[other] is None and said.outline is None:
            problems.append(
                error(
                    "missing-key",
                    f"{name} needs {AXIS_NAMES[other]}",
                    path,
                    where=name,
                    help=f"{AXIS_NAMES[other]}: [from, to]",
                )
            )
    if len(problems) > before:
        return None
    return Layout(name, path, said, axis, spans)


def _thickness_axis(
    name: str,
    said: says.Panel,
    spans: tuple[tuple[says.Length | None, says.Length | None] | None, ...],
    one_ended: list[int],
    facing: int | None,
    path: Path,
    problems: list[Problem],
) -> int | None:
    if len(one_ended) == 1:
        return one_ended[0]
    if len(one_ended) > 1:
        names = " and ".join(AXIS_NAMES[a] for a in one_ended)
        problems.append(
            error(
                "wrong-axis",
                f"{names} have one end only, but the board's thickness can lie along one axis",
                (*path, AXIS_NAMES[one_ended[-1]]),
                where=name,
                help="give both ends, [from, to], on the other",
            )
        )
        return None
    if facing is not None and spans[facing] is not None:
        return facing
    missing = [a for a in range(3) if spans[a] is None]
    if len(missing) == 1 and said.outline is None:
        axis = AXIS_NAMES[missing[0]]
        problems.append(
            error(
                "missing-key",
                f"{name} needs {axis}: one end, the board gives the other",
                path,
                where=name,
                help=f"{axis}: {{from: 0}}",
            )
        )
        return None
    problems.append(
        error(
            "wrong-axis",
            f"which axis is the thickness of {name}?",
            path,
            where=name,
            help="give one end only on that axis, for instance z: {from: 582}",
        )
    )
    return None
