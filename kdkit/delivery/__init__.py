"""Row 12: what kdkit writes reaches its place whole, and touches nothing of anybody else.

A folder is kdkit's only by the list of files inside it (``listed``), and only while it
holds those files unchanged and nothing besides. It is claimed before a run does any work
(``folder``), filled in a working folder beside it (``work``) and moved in at once
(``moves``). A single new file goes the same way and never over another (``new_file``).

Cost: every byte of the output is read once to be listed, and every byte of the output that
is replaced three times (claimed, moved, taken away): linear in both, about 1 s a gigabyte.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names

if TYPE_CHECKING:
    from kdkit.delivery.folder import Claim, claim_folder, write_folder
    from kdkit.delivery.listed import (
        APART,
        BUILD,
        CATALOGUE,
        LIST,
        NO_PLAN,
        PACKING,
        REPLACE,
        REPRINT,
        RUN,
        WORKSHOP,
    )
    from kdkit.delivery.new_file import refuse_file, write_new_file
    from kdkit.delivery.scratch import scratch_folder

__all__ = [
    "APART",
    "BUILD",
    "CATALOGUE",
    "LIST",
    "NO_PLAN",
    "PACKING",
    "REPLACE",
    "REPRINT",
    "RUN",
    "WORKSHOP",
    "Claim",
    "claim_folder",
    "refuse_file",
    "scratch_folder",
    "write_folder",
    "write_new_file",
]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            **dict.fromkeys(("Claim", "claim_folder", "write_folder"), "kdkit.delivery.folder"),
            **dict.fromkeys(
                (
                    "APART",
                    "BUILD",
                    "CATALOGUE",
                    "LIST",
                    "NO_PLAN",
                    "PACKING",
                    "REPLACE",
                    "REPRINT",
                    "RUN",
                    "WORKSHOP",
                ),
                "kdkit.delivery.listed",
            ),
            **dict.fromkeys(("refuse_file", "write_new_file"), "kdkit.delivery.new_file"),
            "scratch_folder": "kdkit.delivery.scratch",
        },
    )
