"""What kind of furniture a product is: loads that suit it, and the rules that it has of its own.

Rules of their own are named, with what of them is not judged; their plain measures are compared
in ``fences``. Nothing here says that a product meets a rule.
"""

from __future__ import annotations

from collections.abc import Iterable

from kdkit.definition.formula import near_names
from kdkit.diagnostics import Path, Problem, advice, error, warning
from kdkit.inspect.bearing import find_borne
from kdkit.inspect.furniture import is_outdoors, kind_names, kinds_of, loads_said
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.stability import is_restraint

__all__ = ["check_kind_rules", "check_kinds", "check_loads", "check_wall_hung", "check_weather"]

_UNUSUAL = 5.0
"""Times the usual load from which a slip of the pen is likely. Common practice, no source."""

_WEATHERPROOF = ("stainless", "brass", "bronze", "galvanised", "aluminium", "plastic")
_RUSTS = ("steel", "iron", "zinc")


def check_kinds(inspection: Inspection) -> Iterable[Problem]:
    """The kinds are known."""
    known = inspection.catalogue.kinds
    said = inspection.resolved.said
    for n, name in enumerate(kind_names(said)):
        path: Path = ("kind",) if isinstance(said.kind, str) else ("kind", n)
        kind = known.get(name)
        if kind is None:
            near = near_names(name, known)
            help = f"known: {', '.join(sorted(known))}"
            yield error(
                "kind-unknown",
                f"the catalogue has no kind of furniture {name!r}",
                path,
                help=f"did you mean {near[0]}? {help}" if near else help,
            )


def check_kind_rules(inspection: Inspection) -> Iterable[Problem]:
    """Name the rules that a kind has of its own, and what of them is not judged."""
    said = inspection.resolved.said
    for name, kind in kinds_of(said, inspection.catalogue).items():
        at = kind_names(said).index(name)
        if kind.standards:
            yield advice(
                "kind-rules",
                f"{kind.title} falls under rules of its own: {', '.join(kind.standards)}",
                ("kind",) if isinstance(said.kind, str) else ("kind", at),
                help=f"not judged here: {kind.not_judged}. Have it tested where the rules ask for"
                " it; the manual says that nothing in it shows that the product meets them",
            )


def check_loads(inspection: Inspection) -> Iterable[Problem]:
    """What is stated is borne by something, is not beyond reason, and is stated at all."""
    said, known = inspection.resolved.said, inspection.catalogue.loads
    stated, kinds = loads_said(said), kinds_of(inspection.resolved.said, inspection.catalogue)
    names = " and ".join(kind.title for kind in kinds.values())
    carried = list(dict.fromkeys(key for kind in kinds.values() for key in kind.carries))
    borne = {each.load: each for each in find_borne(inspection)}
    if said.safety.load_per_shelf is not None and "shelf" in said.safety.loads:
        yield error(
            "load-not-borne",
            "the load of a shelf is stated twice",
            ("safety", "load_per_shelf"),
            help="leave one of `load_per_shelf` and `loads: {shelf: …}` out",
        )
    for key, (mass, path) in stated.items():
        if key not in known:
            near = near_names(key, known)
            help = f"known: {', '.join(sorted(known))}"
            yield error(
                "load-not-borne",
                f"nothing is known of a load on {key!r}",
                path,
                help=f"did you mean {near[0]}? {help}" if near else help,
            )
            continue
        if kinds and key not in carried:
            yield warning(
                "load-not-borne",
                f"{mass:g} kg are stated for {known[key].title}, but {names} carries no such load",
                path,
                help=f"state {_listed(carried)} under `loads`, or add the kind that has it to"
                " `kind`; the manual leaves it out",
            )
            continue
        if not borne[key].parts:
            make = warning if kinds else advice
            yield make(
                "load-not-borne",
                f"{mass:g} kg are stated for {known[key].title}, and nothing like it is found",
                path,
                help="nothing was worked out for it. "
                + (
                    "See whether a part lacks its joints or its supports"
                    if kinds
                    else "Say `kind`, so that what carries is known: "
                    + ", ".join(sorted(inspection.catalogue.kinds))
                ),
            )
        usual = known[key].usual
        if known[key].on != "shelves" and mass > _UNUSUAL * usual:
            yield warning(
                "load-unusual",
                f"{mass:g} kg on {known[key].title} is more than {_UNUSUAL:g} times what is usual"
                f" ({usual:g} kg)",
                path,
                help="see whether a digit is too many; the manual would promise it",
            )
    if kinds and carried and not set(stated) & set(carried):
        figures = ", ".join(
            f"{key}: {known[key].usual:g}" for key in carried if known[key].on != "shelves"
        )
        yield advice(
            "load-not-said",
            f"no load is stated for {names}, so its manual says none",
            ("safety", "loads"),
            help=f"state {_listed(carried)}, kg, under `safety: loads:`"
            + (f" (usual: {figures})" if figures else ""),
        )


def check_wall_hung(inspection: Inspection) -> Iterable[Problem]:
    """What is to hang on the wall has something to hang by."""
    kinds = kinds_of(inspection.resolved.said, inspection.catalogue)
    if not any(kind.hangs for kind in kinds.values()):
        return
    fittings = inspection.joinery.fittings.values()
    hung = any("wall_hung" in fitting.cautions for fitting in fittings)
    if not hung:
        tied = any(is_restraint(inspection, f.fitting) for f in inspection.joinery.fixtures)
        yield warning(
            "wall-fixing-missing",
            "it is to hang on the wall, but nothing in it takes its weight there"
            + (": a tip restraint only keeps it from tipping" if tied else ""),
            ("kind",),
            help="add fixtures that carry it: `wall-screw-through-rail` through a rail"
            " of 15 mm or more; the wall itself is for somebody qualified to judge",
        )


def check_weather(inspection: Inspection) -> Iterable[Problem]:
    """Outdoors boards, fittings and glue stand the weather.

    Source:
        Boards for dry conditions: from memory of EN 312:2010 and EN 622-5:2009. Glue of
        durability class D4: from memory of EN 204:2016.
    """
    said, catalogue = inspection.resolved.said, inspection.catalogue
    if not is_outdoors(said, catalogue):
        return
    path: Path = ("safety", "use") if said.safety.use == "outdoor" else ("kind",)
    for name, board in sorted(catalogue.boards.items()):
        parts = [part.name for part in inspection.assembly.parts if part.material == name]
        if not parts or board.weather == "yes":
            continue
        coated = board.weather == "coated"
        make = advice if coated else warning
        yield make(
            "not-weatherproof",
            f"{board.title} {'lasts outdoors only if it is coated' if coated else 'does not last'}"
            f"{'' if coated else ' outdoors'}",
            path,
            where=_listed(parts),
            help="say in the texts how it is coated and kept, or take a board that lasts; one of"
            ' your own says `weather: "yes"` in a catalogue file',
        )
    items = {placed.item for f in inspection.joinery.fasteners for placed in f.items}
    rusting = [key for key in sorted(items) if _rusts(catalogue.items[key].material)]
    if rusting:
        yield warning(
            "not-weatherproof",
            f"fittings of bare steel or zinc rust outdoors: {_listed(rusting)}",
            path,
            help="take stainless or galvanised ones, and enter them in a catalogue file:"
            f" `items: {{{rusting[0]}: {{like: {rusting[0]}, material: stainless steel}}}}`",
        )
    if any(a.do == "glue" for f in inspection.joinery.fittings.values() for a in f.actions):
        yield advice(
            "not-weatherproof",
            "its joints are glued: outdoors only glue of durability class D4 lasts (EN 204)",
            path,
            help="the manual asks for such a glue",
        )


def _rusts(material: str) -> bool:
    return any(word in material for word in _RUSTS) and not any(
        word in material for word in _WEATHERPROOF
    )


def _listed(names: Iterable[str]) -> str:
    given = [*names]
    rest = len(given) - 6
    return ", ".join(given[:6]) + (f" and {rest} more" if rest > 0 else "")
