"""What a workshop needs to make the parts: drawings, machine files, tables, orders.

Each kind of output is one entry of ``OUTPUTS``; ``publish_workshop`` writes those that
are asked for into a folder that is moved in whole.
"""

from __future__ import annotations

from kdkit.publish.workshop.folder import WORKSHOP, publish_workshop
from kdkit.publish.workshop.outputs import OUTPUTS, Output

__all__ = ["OUTPUTS", "WORKSHOP", "Output", "publish_workshop"]
