"""The list of checks, and the one call that runs them all.

Risks are told by ``check`` alone: what people may get wrong is no fault of the product, so
``build`` and ``plan`` stay silent about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import Problem, gather_alike
from kdkit.geometry.assembly import Assembly
from kdkit.inspect.bores import (
    check_bore_depths,
    check_bore_edges,
    check_dowel_thickness,
    check_hand_bore_mates,
)
from kdkit.inspect.both_sides import check_both_sides_held
from kdkit.inspect.clothing import check_clothing_scope
from kdkit.inspect.connectors import (
    check_cams_and_dowels,
    check_connector_count,
    check_dowel_bores_in_mdf,
    check_dowel_embedment,
    check_particleboard_ends,
)
from kdkit.inspect.crossings import check_bore_crossings, check_groove_crossings
from kdkit.inspect.doors import check_door_gaps, check_door_swing, check_hinge_counts
from kdkit.inspect.drawers import (
    check_drawers_run_out,
    check_runner_lengths,
    check_runner_rows,
)
from kdkit.inspect.fasteners import check_fasteners_come_out, check_fasteners_hold
from kdkit.inspect.fences import check_kind_measures
from kdkit.inspect.glass import check_glass_is_ready, check_glass_is_whole
from kdkit.inspect.gluing import check_can_be_glued
from kdkit.inspect.grid import check_system_rows
from kdkit.inspect.hardware_room import check_hardware_room
from kdkit.inspect.inspection import Inspection
from kdkit.inspect.joints import (
    check_end_distances,
    check_fitting_families,
    check_fitting_thicknesses,
    check_pitches,
)
from kdkit.inspect.kinds import (
    check_kind_rules,
    check_kinds,
    check_loads,
    check_wall_hung,
    check_weather,
)
from kdkit.inspect.near_alike import check_items_nearly_alike, check_panels_nearly_alike
from kdkit.inspect.parts import check_loose_parts, check_overlaps, check_parts_joined
from kdkit.inspect.places import check_above_floor, check_stand_together
from kdkit.inspect.pulled_apart import check_pulled_apart
from kdkit.inspect.racking import check_racking
from kdkit.inspect.rails import check_rails_fit_sockets, check_rails_held
from kdkit.inspect.sagging import check_sagging
from kdkit.inspect.said import check_bags, check_board_thicknesses, check_joined_twice
from kdkit.inspect.screws import (
    check_end_grain,
    check_screw_clearances,
    check_screw_pilots,
    check_screws_in_mdf,
)
from kdkit.inspect.slots import check_slot_crossings, check_slot_mates, check_slots_fit
from kdkit.inspect.stability import check_heavy_parts, check_restraint
from kdkit.inspect.standing import check_feet_reach, check_stands
from kdkit.inspect.timber import (
    check_end_grain_glue,
    check_panels_move,
    check_short_grain,
    check_wood_moves,
)
from kdkit.inspect.tipping import check_drawers_tip
from kdkit.inspect.wall_fixings import check_wall_screws, check_wall_screws_few
from kdkit.inspect.walls import check_bore_walls, check_grooves_fit
from kdkit.inspect.ways import check_ways_agree
from kdkit.inspect.wrong_ways import check_panels_fit_wrongly
from kdkit.joinery.placed import Joinery
from kdkit.model.resolved import Resolved

__all__ = [
    "CHECKS",
    "HOLDING",
    "RISKS",
    "Check",
    "inspect_holding",
    "inspect_product",
    "inspect_risks",
]

Check = Callable[[Inspection], Iterable[Problem]]

CHECKS: tuple[Check, ...] = (
    check_kinds,
    check_board_thicknesses,
    check_joined_twice,
    check_bags,
    check_above_floor,
    check_stand_together,
    check_overlaps,
    check_parts_joined,
    check_loose_parts,
    check_fitting_thicknesses,
    check_fitting_families,
    check_pitches,
    check_end_distances,
    check_bore_depths,
    check_bore_edges,
    check_dowel_thickness,
    check_dowel_embedment,
    check_dowel_bores_in_mdf,
    check_hand_bore_mates,
    check_bore_crossings,
    check_bore_walls,
    check_groove_crossings,
    check_grooves_fit,
    check_slots_fit,
    check_slot_mates,
    check_slot_crossings,
    check_fasteners_come_out,
    check_fasteners_hold,
    check_end_grain,
    check_screw_pilots,
    check_screws_in_mdf,
    check_screw_clearances,
    check_cams_and_dowels,
    check_connector_count,
    check_particleboard_ends,
    check_system_rows,
    check_hardware_room,
    check_hinge_counts,
    check_door_gaps,
    check_door_swing,
    check_restraint,
    check_drawers_tip,
    check_clothing_scope,
    check_runner_lengths,
    check_drawers_run_out,
    check_runner_rows,
    check_rails_fit_sockets,
    check_rails_held,
    check_both_sides_held,
    check_ways_agree,
    check_can_be_glued,
    check_glass_is_whole,
    check_glass_is_ready,
    check_heavy_parts,
    check_sagging,
    check_loads,
    check_kind_measures,
    check_wall_hung,
    check_wall_screws,
    check_wall_screws_few,
    check_wood_moves,
    check_panels_move,
    check_short_grain,
    check_end_grain_glue,
    check_weather,
)

OF_THE_WHOLE: frozenset[Check] = frozenset(
    {
        check_restraint,
        check_drawers_tip,
        check_clothing_scope,
        check_both_sides_held,
        check_heavy_parts,
        check_sagging,
        check_loads,
        check_kind_measures,
        check_wall_hung,
    }
)
"""Those of ``CHECKS`` that judge how a product stands and what it bears: no single joint."""

RISKS: tuple[Check, ...] = (
    check_panels_fit_wrongly,
    check_panels_nearly_alike,
    check_items_nearly_alike,
    check_kind_rules,
)
"""What people may get wrong with a product that is itself in order."""

HOLDING: tuple[Check, ...] = (check_pulled_apart, check_racking, check_stands, check_feet_reach)
"""Whether the finished product stays together and up, looked at as a whole."""


def inspect_product(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return what every check finds, in the order of ``CHECKS``.

    What is wrong in the same way at several places of one joint is told once, with the
    first place and the number of the others.
    """
    inspection = Inspection(resolved, assembly, joinery, catalogue)
    return gather_alike(problem for check in CHECKS for problem in check(inspection))


def inspect_joints(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return what the checks find but for those ``OF_THE_WHOLE``."""
    inspection = Inspection(resolved, assembly, joinery, catalogue)
    checks = [check for check in CHECKS if check not in OF_THE_WHOLE]
    return gather_alike(problem for check in checks for problem in check(inspection))


def inspect_risks(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return advice on what people may get wrong, in the order of ``RISKS``."""
    inspection = Inspection(resolved, assembly, joinery, catalogue)
    return gather_alike(problem for check in RISKS for problem in check(inspection))


def inspect_holding(
    resolved: Resolved, assembly: Assembly, joinery: Joinery, catalogue: Catalogue
) -> tuple[Problem, ...]:
    """Return what does not stay together in the finished product, by ``HOLDING``."""
    inspection = Inspection(resolved, assembly, joinery, catalogue)
    return gather_alike(problem for check in HOLDING for problem in check(inspection))
