"""What the workshop's writers share."""

from __future__ import annotations

from dataclasses import dataclass, field

from kdkit.catalogue.bagging import LabelSheet
from kdkit.catalogue.machines import Machine
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import Messages
from kdkit.schedule.sheets import Saw
from kdkit.schedule.views import PanelViews

__all__ = ["WorkshopJob"]


@dataclass(frozen=True, kw_only=True)
class WorkshopJob:
    """The results, every panel's surfaces laid flat, the wording, the paper, the saw, the
    machine that drills by programs, the catalogue's name of the sheets that bags' labels are
    printed on, and how many pieces of the product are made: panels and schedules count all."""

    results: Results
    panels: tuple[PanelViews, ...]
    messages: Messages
    paper: str
    machine: Machine
    saw: Saw = field(default_factory=Saw)

    labels_on: str = "a4"
    count: int = 1

    @property
    def label_sheet(self) -> LabelSheet:
        """The sheet that the labels of bags are printed on."""
        return self.results.catalogue.label_sheets[self.labels_on]

    @property
    def product(self) -> str:
        """The product's title."""
        return str(getattr(self.results.resolved.said, "product", ""))

    @property
    def revision(self) -> str:
        """The product's revision."""
        return str(getattr(self.results.resolved.said, "revision", ""))
