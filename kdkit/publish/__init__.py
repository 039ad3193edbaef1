"""Row 12: the manual (PDF and HTML), the tables and the figures as files.

Takes the results of all stages; gives a folder that is complete or untouched. Lengths
are rounded here and nowhere before.
"""

from __future__ import annotations

from kdkit.publish.build_folder import publish
from kdkit.publish.check_signs import check_signs
from kdkit.publish.check_texts import check_texts
from kdkit.publish.page_fill import lay_out
from kdkit.publish.results import Pages, Results

__all__ = ["Pages", "Results", "check_signs", "check_texts", "lay_out", "publish"]
