"""Panels and product as solids in STEP files (ISO 10303), through a general CAD kernel.

The kernel is an optional library: ``pip install 'kdkit[cad]'``. Everything that is bored,
grooved or slotted is cut out of its panel; hardware is not modelled.
"""

from __future__ import annotations

import pathlib
import re
from collections.abc import Sequence
from typing import Any

from kdkit.diagnostics import Problem, error
from kdkit.frames import Frame, Vec2, Vec3, add, cross, dot, scaled
from kdkit.geometry.surfaces import surface_frame
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.panels.bevels import back_ring, face_ring
from kdkit.model.resolved import Part
from kdkit.publish.typesetting.engines import EngineFailed, hear
from kdkit.publish.wording.plain_text import one_line
from kdkit.publish.workshop.job import WorkshopJob

__all__ = ["part_solid", "write_step"]

_NO_DATE = "2000-01-01T00:00:00"
"""A STEP file must have a date; a fixed one keeps its bytes the same."""

_LONGEST_NAME = 200

_OUT = 100.0  # a slanted bore's cylinder reaches so far out of its mouth


def write_step(job: WorkshopJob, folder: pathlib.Path) -> tuple[Problem, ...]:
    """Write ``step/panel-A.step`` … in the panel's own frame, and ``step/product.step``."""
    import build123d as cad

    target = folder / "step"
    target.mkdir()
    joinery, assembly = job.results.joinery, job.results.assembly
    solids: dict[str, Any] = {}
    for part in assembly.parts:
        solids[part.name] = part_solid(
            part,
            [b for b in joinery.bores if b.part == part.name],
            [g for g in joinery.grooves if g.part == part.name],
            [s for s in joinery.slots if s.part == part.name],
        )
    for line in job.results.schedules.cut:
        solid = solids[line.parts[0]]
        solid.label = line.letter
        _export(solid, target / f"panel-{line.letter}.step")
    placed = []
    for part in assembly.parts:
        solid = _plane(part.frame).location * solids[part.name]
        solid.label = _label(part.name)
        placed.append(solid)
    whole = cad.Compound(label=_label(job.product), children=placed)
    _export(whole, target / "product.step")
    return ()


def _export(solid: Any, file: pathlib.Path) -> None:
    """Write a file, or say that it could not be: the kernel only returns that it failed."""
    import build123d as cad

    with hear("build123d") as heard:
        try:
            done = cad.export_step(solid, file, timestamp=_NO_DATE)
        except RuntimeError:  # as some releases tell it
            done = False
    if not done or heard or not file.is_file():
        told = "; ".join(said.text for said in heard)
        raise EngineFailed(
            error("engine-failed", f"the CAD kernel did not write {file.name}", where=told)
        )


def _label(text: str) -> str:
    """Return a text as the name of a solid, in the letters of the format.

    The kernel doubles quotes and leaves codes as they are, but writes other letters raw,
    doubles only some backslashes, and breaks long strings over lines: so no text may
    begin a code, and no line of one may look like an entity or an end.

    Source:
        ISO 10303-21, 6.4.3: ``\\X2\\`` with four and ``\\X4\\`` with eight hexadecimal digits a
        character, ended by ``\\X0\\`` (from memory).
    """
    line = one_line(text, _LONGEST_NAME).replace("\\", "/")
    line = " ".join(line.replace("#", " ").replace(";", " ").split())
    return re.sub("[^ -~]", _coded, line)


def _coded(letter: re.Match[str]) -> str:
    n = ord(letter[0])
    return f"\\X2\\{n:04X}\\X0\\" if n < 0x10000 else f"\\X4\\{n:08X}\\X0\\"


def part_solid(
    part: Part,
    bores: Sequence[Bore],
    grooves: Sequence[Groove] = (),
    slots: Sequence[Slot] = (),
) -> Any:
    """Return a part with its machining as a solid of the CAD kernel, in the panel frame."""
    import build123d as cad

    body = _sawn(part) if part.bevels else _prism(part.outline, part.thickness, None)
    for ring in part.cutouts:
        body -= _prism(ring, part.thickness, None)
    for opening in part.round_cutouts:
        x, y = opening.centre
        body -= _cylinder((x, y, 0.0), (0.0, 0.0, -1.0), opening.diameter / 2, part.thickness)
    for bore in bores:
        body -= _bore(part, bore)
    for groove in grooves:
        surface = surface_frame(part, groove.surface)
        if groove.surface == "back":  # its plan is in x and y of the panel
            level = (0.0, 0.0, groove.depth - part.thickness)
            surface = Frame(level, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
        body -= _prism(groove.polygon, groove.depth, surface)
    for slot in slots:
        body -= _slot(slot)
    solids = body.solids()
    if not solids or not all(solid.is_valid for solid in solids):
        raise EngineFailed(
            error(
                "engine-failed",
                f"the CAD kernel made no sound solid of {part.name}",
                help="leave out step with --files, and report this with the definition",
            )
        )
    return solids[0] if len(solids) == 1 else cad.Compound(solids)


def _plane(frame: Frame) -> Any:
    import build123d as cad

    return cad.Plane(origin=frame.origin, x_dir=frame.i, z_dir=frame.k)


def _prism(outline: Sequence[Vec2], depth: float, frame: Frame | None) -> Any:
    """Return what lies up to ``depth`` below a plan in the frame's i and j."""
    import build123d as cad

    plan = cad.make_face(cad.Polyline(*outline, close=True))
    solid = cad.extrude(plan, amount=depth, dir=(0, 0, -1))
    return solid if frame is None else _plane(frame).location * solid


def _sawn(part: Part) -> Any:
    """Return a bevelled part: the solid between its face, its back and its flat edges."""
    import build123d as cad

    face = [(x, y, 0.0) for x, y in face_ring(part)]
    back = [(x, y, -part.thickness) for x, y in back_ring(part)]
    rings = [face, back]
    rings += [
        [face[n - 1], face[n], back[n], back[n - 1]]  # flat: both run beside one outline segment
        for n in range(len(face))
    ]
    shell = cad.Shell([cad.make_face(cad.Polyline(*ring, close=True)) for ring in rings])
    return cad.Solid(shell).fix()


def _cylinder(start: Vec3, into: Vec3, radius: float, length: float) -> Any:
    import build123d as cad

    align = (cad.Align.CENTER, cad.Align.CENTER, cad.Align.MIN)
    plane = cad.Plane(origin=start, z_dir=into)
    return plane * cad.Cylinder(radius, length, align=align)


def _bore(part: Part, bore: Bore) -> Any:
    square = abs(dot(bore.into, surface_frame(part, bore.surface).k)) > 1 - 1e-9
    out = 0.0 if square else _OUT
    length = bore.depth + out + (_OUT if bore.through and not square else 0.0)
    start = add(bore.mouth, scaled(bore.into, -out))
    return _cylinder(start, bore.into, bore.diameter / 2, length)


def _slot(slot: Slot) -> Any:
    """Return what a slot takes out: part of a disc, or a box with half-round ends."""
    axis = cross(slot.into, slot.along)
    if slot.disc is not None:
        centre = add(slot.mouth, scaled(slot.into, slot.depth - slot.disc / 2))
        return _cylinder(
            add(centre, scaled(axis, -slot.width / 2)), axis, slot.disc / 2, slot.width
        )
    half = slot.width / 2
    reach = slot.length / 2 - half
    out = scaled(slot.into, -1.0)
    frame = Frame(slot.mouth, slot.along, cross(out, slot.along), out)
    corners = ((-reach, -half), (reach, -half), (reach, half), (-reach, half))
    body = _prism(corners, slot.depth, frame)
    for side in (-1.0, 1.0):
        end = add(slot.mouth, scaled(slot.along, side * reach))
        body += _cylinder(end, slot.into, half, slot.depth)
    return body
