"""What the workshop's writers share."""

from __future__ import annotations

from dataclasses import dataclass

from kdkit.publish.messages import Messages
from kdkit.publish.results import Results
from kdkit.schedule.views import PanelViews

__all__ = ["WorkshopJob"]


@dataclass(frozen=True, kw_only=True)
class WorkshopJob:
    """The results, every panel's surfaces laid flat, the wording and the paper."""

    results: Results
    panels: tuple[PanelViews, ...]
    messages: Messages
    paper: str

    @property
    def product(self) -> str:
        """The product's title."""
        return str(getattr(self.results.resolved.said, "product", ""))

    @property
    def revision(self) -> str:
        """The product's revision."""
        return str(getattr(self.results.resolved.said, "revision", ""))
