"""The cautions on the manual's first pages: what can hurt somebody, before anything is done."""

from __future__ import annotations

from markupsafe import escape

from kdkit.inspect.clothing import clothing_scope
from kdkit.inspect.furniture import is_outdoors, kinds_of, restraint_wanted
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.seat_height import sat_on
from kdkit.publish.manual.steps import Caution
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.publish.wording.naming import Names
from kdkit.units import mm_text

__all__ = ["glass_parts", "write_cautions"]

_OF_FITTINGS = {"wall_hung": "caution.wall_hung", "castors": "caution.castors"}
"""The word of a fitting in the catalogue → the message."""


def write_cautions(results: Results, names: Names, messages: Messages) -> tuple[Caution, ...]:
    """Return the cautions that belong to the whole product, the gravest first."""
    said, catalogue = results.resolved.said, results.catalogue
    safety, restraint = said.safety, restraint_wanted(said, catalogue)
    used = {word for f in results.joinery.fittings.values() for word in f.cautions}
    cautions = []
    if restraint != "none" and "wall_hung" not in used:
        cautions.append(Caution("warning", messages.text(f"caution.tip_{restraint}")))
    for word, key in _OF_FITTINGS.items():
        if word in used:
            cautions.append(Caution("warning", messages.text(key)))
    for kind in kinds_of(said, catalogue).values():
        for text in kind.cautions:
            words = messages.name("kind_cautions", text, text)
            cautions.append(Caution("warning", escape(words)))
    seats = sat_on(results.assembly, said, catalogue)
    if seats:
        cautions.append(
            Caution("caution", messages.text("caution.no_seat", parts=names.parts(seats)))
        )
    if is_outdoors(said, catalogue) and _is_glued(results):
        cautions.append(Caution("notice", messages.text("caution.outdoor_glue")))
    if _is_for_clothes(results):
        cautions.append(Caution("warning", messages.text("caution.clothing")))
    glass = glass_parts(results)
    if glass:
        cautions.append(
            Caution("warning", messages.text("caution.glass", parts=names.parts(glass)))
        )
    cautions.append(Caution("warning", messages.text("caution.small_parts")))
    limit = safety.heavy_part
    masses = [(line.parts[0], line.mass_kg) for line in results.schedules.cut]
    masses += [(line.parts[0], line.mass_kg) for line in results.schedules.bought]
    heavy = [part for part, mass in masses if mass >= limit]
    if heavy:
        cautions.append(
            Caution(
                "caution",
                messages.text("caution.heavy_parts", parts=names.parts(heavy), mass=mm_text(limit)),
            )
        )
    return tuple(cautions)


def _is_glued(results: Results) -> bool:
    return any(a.do == "glue" for f in results.joinery.fittings.values() for a in f.actions)


def _is_for_clothes(results: Results) -> bool:
    """Tell whether clothes may be kept in it: as the maker says, else by its measures."""
    safety = results.resolved.said.safety
    if "clothing_storage" in safety.model_fields_set:
        return safety.clothing_storage
    inspection = Inspection(results.resolved, results.assembly, results.joinery, results.catalogue)
    return clothing_scope(inspection).reached


def glass_parts(results: Results) -> list[str]:
    """Return the names of the parts that are glass."""
    glass = {key for key, board in results.catalogue.boards.items() if board.family == "glass"}
    return [part.name for part in results.assembly.parts if part.material in glass]
