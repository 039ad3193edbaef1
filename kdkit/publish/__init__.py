"""Row 12: the manual (PDF and HTML), the tables and the figures as files.

Takes the results of all stages; gives a folder that is complete or untouched. Lengths
are rounded here and nowhere before.

Data flow one way: ``results`` (what is printed), ``wording`` (in the reader's language),
``typesetting`` (HTML as PDF or page), ``manual`` (what the manual says, on which page),
``files`` (all files of a build). Beside each other on these: ``catalogue_page``,
``no_plan`` and ``workshop``, and before them ``apart_manual``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names
from kdkit.publish.typesetting.check_signs import check_signs
from kdkit.publish.wording.check_texts import check_texts

if TYPE_CHECKING:
    from kdkit.publish.apart_manual import apart_data, publish_apart
    from kdkit.publish.catalogue_page import publish_catalogue
    from kdkit.publish.files.build_folder import publish
    from kdkit.publish.manual.page_fill import lay_out
    from kdkit.publish.results import Pages, Results

__all__ = [
    "Pages",
    "Results",
    "apart_data",
    "check_signs",
    "check_texts",
    "lay_out",
    "publish",
    "publish_apart",
    "publish_catalogue",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            "Pages": "kdkit.publish.results",
            "Results": "kdkit.publish.results",
            "apart_data": "kdkit.publish.apart_manual",
            "lay_out": "kdkit.publish.manual.page_fill",
            "publish": "kdkit.publish.files.build_folder",
            "publish_apart": "kdkit.publish.apart_manual",
            "publish_catalogue": "kdkit.publish.catalogue_page",
        },
    )
