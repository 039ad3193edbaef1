"""The kinds of output for a workshop: one entry a kind."""

from __future__ import annotations

import pathlib
from collections.abc import Callable
from dataclasses import dataclass

from kdkit.diagnostics import Problem
from kdkit.publish.workshop.bagging.bench import write_bagging
from kdkit.publish.workshop.drawings.drawing_set import write_drawings
from kdkit.publish.workshop.exchange.dxf import write_dxf
from kdkit.publish.workshop.exchange.dxf_surfaces import write_surfaces
from kdkit.publish.workshop.exchange.gltf import write_gltf
from kdkit.publish.workshop.exchange.spreadsheet import write_spreadsheet
from kdkit.publish.workshop.exchange.step import write_step
from kdkit.publish.workshop.handwork.by_hand import write_by_hand
from kdkit.publish.workshop.handwork.template_pages import write_templates
from kdkit.publish.workshop.job import WorkshopJob
from kdkit.publish.workshop.order import write_order
from kdkit.publish.workshop.programs.programs import write_programs

__all__ = ["OUTPUTS", "Output"]


@dataclass(frozen=True, kw_only=True)
class Output:
    """One kind: ``write`` puts its files into the folder and tells what it found.

    Args:
        what: one line for the command's help.
        asked: it is left out unless it is named.
        needs: a library that comes with the extra ``cad``, "" for none.
    """

    name: str
    what: str
    write: Callable[[WorkshopJob, pathlib.Path], tuple[Problem, ...]]
    asked: bool = False
    needs: str = ""


OUTPUTS = (
    Output(
        name="drawings", what="a sheet for every worked surface, hole tables", write=write_drawings
    ),
    Output(name="dxf", what="every surface of every panel, for CAD and CAM", write=write_dxf),
    Output(
        name="dxf-surfaces",
        what="one DXF file a surface, short layers, true arcs",
        write=write_surfaces,
        asked=True,
    ),
    Output(
        name="programs",
        what="programs that drill and cut, tools, cautions, plots",
        write=write_programs,
    ),
    Output(
        name="xlsx",
        what="cut list, drilling, hardware and bags in one workbook",
        write=write_spreadsheet,
    ),
    Output(
        name="order",
        what="what to buy by board, sheets laid out for the saw, labels",
        write=write_order,
    ),
    Output(
        name="bags",
        what="labels for the bags of hardware, a sheet to pick by, a table",
        write=write_bagging,
    ),
    Output(
        name="templates",
        what="drilling templates at true size, to cut out and lay on",
        write=write_templates,
        asked=True,
    ),
    Output(
        name="by-hand",
        what="settings of a doweling jig, stops, a sheet of steps for every part",
        write=write_by_hand,
        asked=True,
    ),
    Output(name="gltf", what="the finished product to look at, metres, y up", write=write_gltf),
    Output(
        name="step",
        what="solids of every panel with its bores, and of the product",
        write=write_step,
        asked=True,
        needs="build123d",
    ),
)
