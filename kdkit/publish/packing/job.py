"""What the writers for packing share."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.definition.trade_numbers import DOMAIN
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.schedule.packing import Packing

__all__ = ["PackingJob"]


@dataclass(frozen=True, kw_only=True)
class PackingJob:
    """The results with their cartons, the wording, the paper, and what codes say.

    Args:
        gtin: the number under which it is sold, "" for none.
        domain: what the web address in a code begins with.
    """

    results: Results
    packing: Packing
    messages: Messages
    paper: str
    gtin: str = ""
    domain: str = DOMAIN

    def said(self, name: str) -> str:
        """Return what the definition says under a key: product, revision, batch."""
        return str(getattr(self.results.resolved.said, name, "") or "")

    @property
    def title(self) -> str:
        """The product with its variant."""
        variant = self.results.resolved.variant
        return f"{self.said('product')} ({variant})" if variant else self.said("product")
