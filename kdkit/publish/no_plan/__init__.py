"""Part of row 12: why there is no plan, for people and for programs.

Takes what the planner and its check say of a product without a plan; gives text, data,
a sheet and a web page, and writes them into a folder that is moved in whole. Never any
steps.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names

if TYPE_CHECKING:
    from kdkit.publish.no_plan.account import Account, give_account
    from kdkit.publish.no_plan.as_data import (
        certificate_of,
        claims_of,
        load_certificate,
        no_plan_data,
    )
    from kdkit.publish.no_plan.as_text import no_plan_page, no_plan_text
    from kdkit.publish.no_plan.folder import messages_for, name_of, publish_no_plan

__all__ = [
    "Account",
    "certificate_of",
    "claims_of",
    "give_account",
    "load_certificate",
    "messages_for",
    "name_of",
    "no_plan_data",
    "no_plan_page",
    "no_plan_text",
    "publish_no_plan",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            "Account": "kdkit.publish.no_plan.account",
            "certificate_of": "kdkit.publish.no_plan.as_data",
            "claims_of": "kdkit.publish.no_plan.as_data",
            "give_account": "kdkit.publish.no_plan.account",
            "load_certificate": "kdkit.publish.no_plan.as_data",
            "messages_for": "kdkit.publish.no_plan.folder",
            "name_of": "kdkit.publish.no_plan.folder",
            "no_plan_data": "kdkit.publish.no_plan.as_data",
            "no_plan_page": "kdkit.publish.no_plan.as_text",
            "no_plan_text": "kdkit.publish.no_plan.as_text",
            "publish_no_plan": "kdkit.publish.no_plan.folder",
        },
    )
