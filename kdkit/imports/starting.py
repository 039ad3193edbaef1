"""A starting definition from a list of panels: what is said, what follows, what is asked.

A list says sizes; it does not say where a panel stands or what joins it. What follows
from names and sizes is written with ``# INFERRED``, everything else is an open question:
a comment that begins with ``# QUESTION`` and a value that begins with ``?``, at which
``kdkit check`` points until it is answered. Sizes always stand in the definition as the
list has them, so that no answer changes one.
"""

from __future__ import annotations

import json
import pathlib
from collections.abc import Sequence
from dataclasses import dataclass

from kdkit.catalogue.entries import Catalogue
from kdkit.definition.gate import find_unprintable
from kdkit.imports.arrangement import Arrangement, Place, PlacedPanel, arrange
from kdkit.imports.panel_list import PanelList
from kdkit.imports.roles import free_name, material_of
from kdkit.units import mm_text

__all__ = ["QUESTION", "Question", "Start", "render_start"]

QUESTION = "QUESTION"
INFERRED = "INFERRED"
_WIDTH = 92

_HEAD = """\
# A start from the panel list {file}. Lengths are millimetres; x runs to the
# right, y to the back, z up; the origin is the front left corner on the floor.
#
# A line "# QUESTION" asks what the list does not say: write the answer in place of the text
# in quotes that begins with "?". A line "# INFERRED" says what was concluded: correct it
# where it is wrong. After every change run
#   kdkit check FILE
# which points at the questions that are still open.
"""


@dataclass(frozen=True)
class Question:
    """An open question of a starting definition; ``line`` is where its comment stands."""

    number: int
    line: int
    text: str


@dataclass(frozen=True)
class Start:
    """A starting definition; ``panels`` counts the panels in it.

    ``skipped`` says what of the list is not in it.
    """

    text: str
    questions: tuple[Question, ...]
    panels: int
    skipped: tuple[str, ...] = ()


def render_start(
    panels: PanelList, catalogue: Catalogue, *, product: str, band: float | None = None
) -> Start:
    """Return the definition that a list of panels starts.

    Args:
        panels: the list.
        catalogue: whose boards are offered.
        product: the product's name.
        band: mm, of edge bands that the list only marks; None: it is asked.
    """
    return _Starting(panels, catalogue, product, band).write()


def quoted(text: str) -> str:
    """Return a text in double quotes; YAML 1.2 reads JSON's."""
    return json.dumps(text, ensure_ascii=False)


def number_text(value: float) -> str:
    """Return a length as it is written into a definition: not rounded for people."""
    return mm_text(value, 4)


class _Starting:
    """Writes one definition, line by line."""

    def __init__(
        self, panels: PanelList, catalogue: Catalogue, product: str, band: float | None
    ) -> None:
        self.list = panels
        self.catalogue = catalogue
        self.product = product
        self.band = band
        self.lines: list[str] = []
        self.questions: list[Question] = []
        self.boards: dict[tuple[str, float | None], str] = {}

    def write(self) -> Start:
        arrangement = arrange(self.list.panels)
        self.lines += (
            _HEAD.format(file=_comment(pathlib.PurePath(self.list.file).name))
            .rstrip("\n")
            .split("\n")
        )
        self._remarks(arrangement)
        self.lines += ["kdkit: 1", f"product: {quoted(self.product)}", "revision: A", ""]
        self._parameters(arrangement)
        self._boards()
        self.lines += ["", "panels:"]
        for placed in arrangement.panels:
            self._placed(placed)
        self._joints(arrangement)
        text = "\n".join(self.lines) + "\n"
        asked = tuple(self.questions)
        return Start(text, asked, len(arrangement.panels), self.list.skipped)

    def _remarks(self, arrangement: Arrangement) -> None:
        banded = any(p.bands or p.bands_said for p in self.list.panels)
        remarks = [*self.list.inferred, "a panel's length runs along its grain"]
        if banded:
            remarks.append("sizes are finished sizes, edge bands included")
        for remark in [*remarks, *arrangement.inferred]:
            self._say(f"{INFERRED}: {remark}", "")
        for skipped in self.list.skipped:
            self._say(f"Not taken over: {skipped}", "")

    def _say(self, text: str, indent: str) -> None:
        """Write a comment, in several lines if it is long."""
        words = _comment(text).split(" ")
        line = f"{indent}#"
        for word in words:
            if len(line) + 1 + len(word) > _WIDTH and line.strip() != "#":
                self.lines.append(line)
                line = f"{indent}#  "
            line = f"{line} {word}"
        self.lines.append(line)

    def _open(self, text: str) -> str:
        """Return the value that waits for the answer to the latest question."""
        return quoted(f"? {len(self.questions)}: {text}")

    def _ask(self, text: str, indent: str) -> None:
        number = len(self.questions) + 1
        self.questions.append(Question(number, len(self.lines) + 1, text))
        self._say(f"{QUESTION} {number}: {text}", indent)

    def _parameters(self, arrangement: Arrangement) -> None:
        if not arrangement.parameters:
            return
        self.lines.append("parameters:")
        for name, text in arrangement.parameters.items():
            self._ask(text, "  ")
            self.lines.append(f"  {name}: {self._open(text)}")
        self.lines.append("")

    def _boards(self) -> None:
        self.lines.append("boards:")
        for panel in self.list.panels:
            key = (panel.board.casefold(), panel.thickness)
            if key in self.boards:
                continue
            thickness = "" if panel.thickness is None else number_text(panel.thickness)
            material = material_of(panel.board)
            wished = f"{material.split('-')[0] or panel.board}_{thickness.replace('.', '_')}"
            taken = set(self.boards.values()) | {"boards"}
            self.boards[key] = name = free_name(wished.strip("_"), taken, "board")
            called = f"{panel.board!r}" if panel.board else "a board that the list does not name"
            if material:
                self._say(f"{INFERRED}: {material}, from {called}", "  ")
                written = material
            else:
                known = ", ".join(sorted(self.catalogue.boards))
                self._ask(f"which board of the catalogue is {called}? It has {known}", "  ")
                written = self._open("a board of the catalogue")
            if panel.thickness is None:
                self._ask(f"how thick is {called}?", "  ")
                thickness = self._open("its thickness")
            title = f", title: {quoted(panel.board)}" if panel.board else ""
            self.lines.append(f"  {name}: {{material: {written}, thickness: {thickness}{title}}}")

    def _placed(self, placed: PlacedPanel) -> None:
        panel = placed.panel
        inside = "    "
        if panel.notes and not placed.mirrors:
            self._say(f"The list notes: {panel.notes}", "  ")
        self.lines.append(f"  {placed.name}:")
        self.lines.append(f"{inside}title: {quoted(panel.name)}")
        if placed.mirrors:
            self._ask(
                f"are {placed.mirrors} and {placed.name} a mirrored pair? "
                f"Then write {placed.mirrors}."
                " If they are alike instead, delete `mirror` and write board, y, z and grain as "
                f"for {placed.mirrors}",
                inside,
            )
            self.lines.append(f"{inside}mirror: {self._open(f'{placed.mirrors} if mirrored')}")
            self._place(placed.places[0], inside)
            return
        self.lines.append(f"{inside}board: {self.boards[panel.board.casefold(), panel.thickness]}")
        if placed.asked:
            self._ask(placed.asked, inside)
        for place in placed.places:
            self._place(place, inside)
        if placed.grain:
            self.lines.append(f"{inside}grain: {placed.grain}")
        self._bands(placed, inside)

    def _place(self, place: Place, indent: str) -> None:
        if place.asked:
            self._ask(place.asked, indent)
        written = place.written.replace('"? ', f'"? {len(self.questions)}: ')
        remark = f"   # {INFERRED}: {place.inferred}" if place.inferred else ""
        self.lines.append(f"{indent}{place.axis}: {written}{remark}")

    def _bands(self, placed: PlacedPanel, indent: str) -> None:
        panel = placed.panel
        if panel.bands_said or (panel.bands and not placed.edges):
            said = panel.bands_said or ", ".join(_edge_words(edge) for edge in panel.bands)
            self._ask(
                f"which edges of {placed.name} are banded? The list says {said!r}; write "
                "{front: 1, back: 1} with the thicknesses, or delete the line",
                indent,
            )
            self.lines.append(f"{indent}bands: {self._open('side: thickness, in braces')}")
            return
        if not panel.bands:
            return
        sides = {placed.edges.get(edge, edge): value for edge, value in panel.bands.items()}
        turned = [edge for edge in panel.bands if placed.edges.get(edge, edge) != edge]
        if turned:
            told = ", ".join(f"{_edge_words(edge)} is {placed.edges[edge]}" for edge in turned)
            self._say(f"{INFERRED}: {told}", indent)
        if self.band is None and None in sides.values():
            self._ask(f"how thick is the edge band of {placed.name}, in mm?", indent)
        written = []
        for side, value in sides.items():
            thickness = self.band if value is None else value
            text = self._open("thickness") if thickness is None else number_text(thickness)
            written.append(f"{side}: {text}")
        self.lines.append(f"{indent}bands: {{{', '.join(written)}}}")

    def _joints(self, arrangement: Arrangement) -> None:
        self.lines += ["", "# What joins the panels is never in such a list.", "joints:"]
        for joint in arrangement.joints:
            names = ", ".join(joint.join)
            self._ask(joint.asked, "  ")
            to = _flow(joint.to) if joint.to else self._open("the parts it is joined to")
            self.lines.append(f"  - join: {_flow(joint.join)}")
            self.lines.append(f"    to: {to}")
            self.lines.append(f"    fittings: [{self._open(f'what joins {names}'[:80])}]")
        if not arrangement.joints:
            self.lines[-1] = "joints: []"


def _flow(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"[{', '.join(names)}]"


def _edge_words(edge: str) -> str:
    long = {"long": "long edge ", "shor": "short edge "}.get(edge[:4])
    return f"{long}{edge[-1]}" if long else edge


def _comment(text: str) -> str:
    return " ".join("".join(c if find_unprintable(c) is None else "?" for c in text).split())
