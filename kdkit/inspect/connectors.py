"""Connectors and dowels along a joint: how near to each other, how many, how deep.

Dowel bores keep their nominal size in MDF; ``check`` advises 0.2 more, since the maker
chooses the bit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, advice
from kdkit.geometry.assembly import ContactKind
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import Fastener, PlacedJoint
from kdkit.joinery.spread import CLEAR
from kdkit.units import TOLERANCE, mm_text

__all__ = [
    "check_cams_and_dowels",
    "check_connector_count",
    "check_dowel_bores_in_mdf",
    "check_dowel_embedment",
    "check_particleboard_ends",
]

DEEP = 500.0
"""From this run a carcass joint has three connectors. Common practice, no source."""

PARTICLEBOARD_END = 60.0
"""End distance at which faced particleboard no longer split. Source: Simek, Haviarova and
Eckelman, The effect of end distance and number of ready-to-assemble furniture fasteners on
bending moment resistance of corner joints, Wood and Fiber Science 42(1), 2010 (title and number
from memory)."""

EMBEDMENT = 25.0
"""Depth of a dowel's bore in an edge, a cautious optimum. Source: Zhang and Eckelman, The
bending moment resistance of single-dowel corner joints in case construction, Forest Products
Journal 43(6), 1993 (title from memory)."""

MDF_DOWEL_PLAY = 0.2
"""What a dowel's bore in MDF is wider than the dowel. From memory of the guidance of
European makers of MDF on dowel joints."""

_CARCASS = 12.0  # mm; thinner boards are backs
_THICK_DOWEL = 8.0  # mm; thinner dowels only hold the place
_ENDS = (ContactKind.EDGE_FACE, ContactKind.EDGE_EDGE)


def check_cams_and_dowels(inspection: Inspection) -> Iterable[Problem]:
    """A dowel keeps 32 mm from a cam (common practice, no source)."""
    for joint, stations in _joints(inspection):
        cams = [at for at, _, fitting in stations if _bores(fitting, "cam housing")]
        for at, fastener, fitting in stations:
            if not _bores(fitting, "dowel") or not cams:
                continue
            apart = min(abs(at - cam) for cam in cams)
            if TOLERANCE < apart < CLEAR - TOLERANCE:
                yield advice(
                    "cam-near-dowel",
                    f"a dowel stands {mm_text(apart)} mm from a cam; at least {mm_text(CLEAR)} mm"
                    " keeps wood between their bores",
                    fastener.path,
                    where=_words(joint),
                    help="move one of them along; common practice, no source",
                )


def check_connector_count(inspection: Inspection) -> Iterable[Problem]:
    """A carcass joint of more than 500 mm has three connectors or more."""
    for joint, stations in _joints(inspection):
        if joint.contact.kind not in _ENDS or joint.contact.run <= DEEP + TOLERANCE:
            continue
        parts = (inspection.part(joint.butting), inspection.part(joint.receiving))
        drawn = [fastener for _, fastener, fitting in stations if _draws_together(fitting)]
        if not drawn or len(drawn) >= 3 or min(p.thickness for p in parts) < _CARCASS:
            continue
        yield advice(
            "connectors-few",
            f"{len(drawn)} connector{'s hold' if len(drawn) > 1 else ' holds'} a joint of"
            f" {mm_text(joint.contact.run)} mm; over {mm_text(DEEP)} mm three are usual",
            drawn[0].path,
            where=_words(joint),
            help="add one, or set a smaller `pitch`; common practice, no source",
        )


def check_particleboard_ends(inspection: Inspection) -> Iterable[Problem]:
    """Connectors in the edge of particleboard stand 60 mm from its ends."""
    for joint, stations in _joints(inspection):
        if joint.contact.kind not in _ENDS:
            continue
        if inspection.family(inspection.part(joint.butting)) != "particleboard":
            continue
        low = min(p[0] for p in joint.contact.polygon)
        high = max(p[0] for p in joint.contact.polygon)
        for at, fastener, fitting in stations:
            if not (_bores(fitting, "bolt channel") or _bores(fitting, "screw channel")):
                continue
            end = min(at - low, high - at)
            if end < PARTICLEBOARD_END - TOLERANCE and high - low > 2 * PARTICLEBOARD_END:
                yield advice(
                    "particleboard-end",
                    f"a connector stands {mm_text(end)} mm from the end of {joint.butting};"
                    f" at {mm_text(PARTICLEBOARD_END)} mm faced particleboard no longer split",
                    fastener.path,
                    where=_words(joint),
                    help="move it in with `ends` or `at`; source: Simek, Haviarova and Eckelman,"
                    " Wood and Fiber Science 42(1), 2010",
                )


def check_dowel_embedment(inspection: Inspection) -> Iterable[Problem]:
    """Where dowels of 8 and more carry a joint alone, they go 25 mm into the edge that butts."""
    alone = {
        fastener.id
        for _, stations in _joints(inspection)
        if all(_bores(fitting, "dowel") for _, _, fitting in stations)
        for _, fastener, _ in stations
    }
    for bore in inspection.joinery.bores:
        if bore.purpose != "dowel" or bore.through or not bore.surface.startswith("edge:"):
            continue
        if bore.fastener not in alone or inspection.fasteners[bore.fastener].butting != bore.part:
            continue
        thick = bore.diameter >= _THICK_DOWEL - TOLERANCE
        if thick and bore.depth < EMBEDMENT - TOLERANCE:
            yield advice(
                "dowel-short",
                f"a dowel Ø{mm_text(bore.diameter)} goes {mm_text(bore.depth)} mm into the edge;"
                f" {mm_text(EMBEDMENT)} mm is a cautious optimum",
                bore.path,
                where=inspection.bore_words(bore),
                help="dowels alone carry this joint: use longer ones; source: Zhang and Eckelman,"
                " Forest Products Journal 43(6), 1993",
            )


def check_dowel_bores_in_mdf(inspection: Inspection) -> Iterable[Problem]:
    """In MDF, which does not give, a dowel's bore is 0.2 wider than the dowel."""
    told: set[tuple[str | None, str, float]] = set()
    for bore in inspection.joinery.bores:
        fastener = inspection.fasteners.get(bore.fastener or "")
        if bore.purpose != "dowel" or fastener is None:
            continue
        if inspection.family(inspection.part(bore.part)) != "mdf":
            continue
        dowel = _dowel_in(inspection, fastener)
        key = (fastener.joint, bore.part, bore.diameter)
        if dowel is None or key in told or bore.diameter >= dowel + MDF_DOWEL_PLAY - TOLERANCE:
            continue
        told.add(key)
        yield advice(
            "dowel-bore-mdf",
            f"the bores for dowels Ø{mm_text(dowel)} are Ø{mm_text(bore.diameter)} in"
            f" {bore.part}, which is MDF: it does not give, and may split",
            bore.path,
            where=inspection.bore_words(bore),
            help=f"drill Ø{mm_text(dowel + MDF_DOWEL_PLAY)}; source: from memory of the"
            " guidance of European makers of MDF on dowel joints",
        )


def _dowel_in(inspection: Inspection, fastener: Fastener) -> float | None:
    """Return the diameter of a fastener's wooden dowel, None without one."""
    for placed in fastener.items:
        entry = inspection.catalogue.items.get(placed.item)
        if entry is not None and entry.pieces and "dowel" in placed.item:
            return max(piece.d0 for piece in entry.pieces)
    return None


def _joints(
    inspection: Inspection,
) -> Iterator[tuple[PlacedJoint, list[tuple[float, Fastener, Fitting]]]]:
    """Give each joint with its fasteners and their places along its run."""
    for joint in inspection.joinery.joints:
        stations = []
        for id in joint.fasteners:
            fastener = inspection.fasteners[id]
            fitting = inspection.fitting(fastener.fitting)
            if fitting is not None:
                at = joint.contact.frame.point_to_inner(fastener.frame.origin)[0]
                stations.append((at, fastener, fitting))
        yield joint, stations


def _bores(fitting: Fitting, purpose: str) -> bool:
    return any(rule.purpose == purpose for rule in fitting.bores)


def _draws_together(fitting: Fitting) -> bool:
    """Tell whether a fitting draws the two parts onto each other: a cam, a screw, a bolt."""
    return any(action.do in ("turn", "drive") for action in fitting.actions)


def _words(joint: PlacedJoint) -> str:
    return f"{joint.butting} to {joint.receiving}"
