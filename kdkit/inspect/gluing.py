"""What no glue of the workshop holds: glass, faced surfaces, parts of unknown stuff."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from kdkit.catalogue.entries import Fitting
from kdkit.diagnostics import Problem, error, warning
from kdkit.inspect.inspection import Inspection
from kdkit.joinery.placed import PlacedJoint

__all__ = ["check_can_be_glued"]

_MATING = ("mate", "slide-in", "lay-on", "hang", "run-in")


def check_can_be_glued(inspection: Inspection) -> Iterable[Problem]:
    """Glue needs bare wood on both sides of a joint.

    Source:
        White glue bonds to wood and wood-based boards, not to glass, metal or a melamine
        face: common practice, no source.
    """
    joinery = inspection.joinery
    for joint in joinery.joints:
        glued = [
            joinery.fittings[key]
            for key in joint.fittings
            if key in joinery.fittings and _is_glued(joinery.fittings[key])
        ]
        if glued:
            yield from _of_joint(inspection, joint, glued)


def _is_glued(fitting: Fitting) -> bool:
    for action in fitting.actions:
        if action.do in _MATING:
            return False
        if action.do == "glue":
            return True
    return False


def _of_joint(
    inspection: Inspection, joint: PlacedJoint, glued: Iterable[Fitting]
) -> Iterator[Problem]:
    contact = joint.contact
    sides = {contact.butting: contact.butting_surface, contact.receiving: contact.receiving_surface}
    # In a bore, a slot or a groove the glue finds wood, whatever lies on the face.
    bare = not contact.sunk and not any(fitting.items for fitting in glued)
    for name in (joint.butting, joint.receiving):
        part = inspection.assembly.part(name)
        board = inspection.catalogue.boards.get(part.material or "")
        if board is not None and board.family == "glass":
            yield error(
                "cannot-be-glued",
                f"{name} is glass, and no glue for wood holds on glass",
                joint.path,
                where=joint.name,
                help="lay it on supports with pads: fitting `glass-support-5` or `glass-ledge-30`",
            )
        elif board is not None and board.faced and bare and sides[name] in ("face", "back"):
            yield error(
                "cannot-be-glued",
                f"the {sides[name]} of {name} is faced, and glue does not hold on a facing",
                joint.path,
                where=joint.name,
                help="use dowels, biscuits or a housing, which reach the wood below the facing, "
                "or screws; or take a board without a facing there",
            )
        elif board is None:
            yield warning(
                "cannot-be-glued",
                f"{name} is bought ready-made: glue for wood holds on it only if it is bare wood, "
                "not on metal or plastic",
                joint.path,
                where=joint.name,
                help="screw it, or set it in a socket, unless it is bare wood",
            )
