"""What a workshop needs to make the parts: drawings, machine files, tables, orders.

Each kind of output is one entry of ``OUTPUTS``; ``publish_workshop`` writes those that
are asked for into a folder that is moved in whole.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kdkit.lazy import lazy_names

if TYPE_CHECKING:
    from kdkit.publish.workshop.folder import MACHINE, publish_workshop
    from kdkit.publish.workshop.outputs import OUTPUTS, Output

__all__ = ["MACHINE", "OUTPUTS", "Output", "publish_workshop"]

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            "OUTPUTS": "kdkit.publish.workshop.outputs",
            "Output": "kdkit.publish.workshop.outputs",
            "MACHINE": "kdkit.publish.workshop.folder",
            "publish_workshop": "kdkit.publish.workshop.folder",
        },
    )
