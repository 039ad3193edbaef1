"""After a no: the proof, its check, and the smallest changes after which there is a plan.

Promises one value with all that can be said about it (``study``). Cures are sets of
``changes``, each a ``change``: to joints (``joint_changes``; at home what was packed as one,
``unpack``) or to parts (``part_changes``, ``reshape``) by the millimetres that they are in
the way (``obstacles``). Each set is tried on the whole product through all stages and is as
small as can be (``cures``). Of a certificate from a file
``claims`` says whether it is about this product and gives the reasons that are so.

Cures are bounded by a count, not by a clock, so that the same product always gets the same
offers.
"""

from __future__ import annotations

from kdkit.plan.no_plan.claims import Claims, check_claims, check_reasons, check_tried
from kdkit.plan.no_plan.study import NoPlan, cure_words, none_found, study_no_plan, tell_cures

__all__ = [
    "Claims",
    "NoPlan",
    "check_claims",
    "check_reasons",
    "check_tried",
    "cure_words",
    "none_found",
    "study_no_plan",
    "tell_cures",
]
