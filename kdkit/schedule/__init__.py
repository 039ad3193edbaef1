"""Row 9: what is cut, drilled, counted and bagged.

Takes the parts, their bores and the plan; gives ``Schedules``, in which identical
parts share a letter, every bore is measured from a named corner, and every piece of
hardware is counted by joint and by step. Nothing is rounded here.
"""

from __future__ import annotations

from kdkit.schedule.bag_advice import advise_on_bags
from kdkit.schedule.make import make_schedules
from kdkit.schedule.schedules import Schedules
from kdkit.schedule.sheet_room import advise_on_sheets

__all__ = ["Schedules", "advise_on_bags", "advise_on_sheets", "make_schedules"]
