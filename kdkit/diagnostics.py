"""Row 1: problems, each with a name, a place and advice.

Stages return problems, they do not raise them. A problem knows *where in the
definition* it belongs by a path of keys (``("panels", "shelf", "z")``), which
works for a product typed in YAML and for one built in Python; the pipeline adds
the line and column when there is a file behind it.

Longer than most modules by ``CODES``, the one list of names that people filter by.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Protocol

__all__ = [
    "CODES",
    "Path",
    "Problem",
    "Related",
    "Severity",
    "Source",
    "SourceMap",
    "advice",
    "error",
    "gather_alike",
    "has_errors",
    "locate_problems",
    "render_problem",
    "warning",
]

Path = tuple[str | int, ...]


class Severity(StrEnum):
    """How much a problem stops: an error ends the run after its stage."""

    ERROR = "error"
    WARNING = "warning"
    ADVICE = "advice"


@dataclass(frozen=True, kw_only=True, order=True)
class Source:
    """A stretch of one line in a file; line and columns count from 1.

    ``end_column`` is one past the last character; ``text`` is the line itself where it
    is known before there is a definition to ask.
    """

    file: str
    line: int
    column: int
    end_column: int
    text: str = field(default="", compare=False)


class SourceMap(Protocol):
    """What can say where a path of the definition stands in a file."""

    def locate(
        self, path: Path, *, on_key: bool = False, span: tuple[int, int] | None = None
    ) -> Source | None:
        """Return the value's place, or the nearest parent's, or None.

        Args:
            path: keys from the top of the definition.
            on_key: the place of the last key itself, not of its value.
            span: characters of the value's text (from, one past the last) to
                point at; the whole value if the text was not written plainly.
        """

    def line_text(self, source: Source) -> str:
        """Return the text of the line without its line end."""


# One table, one line of meaning each. A code is plain kebab-case words and
# stays stable: people filter on it. Keep each stage's block sorted.
CODES: dict[str, str] = {
    # definition
    "definition-empty": "the file holds no definition",
    "definition-not-a-mapping": "the definition is not written as keys with values",
    "file-not-read": "a file could not be opened or read",
    "file-not-text": "a file is not UTF-8 text",
    "file-too-large": "a file is larger than a definition may be",
    "formula-arithmetic": "a formula divides by zero or grows out of range",
    "formula-loop": "formulas need each other in a ring",
    "formula-name": "a formula uses a name that nothing has",
    "formula-syntax": "a formula cannot be read",
    "formula-too-long": "a formula is longer or deeper nested than allowed",
    "number-not-finite": "a number is infinite or not a number",
    "path-outside-folder": "a file name leads out of the definition's folder",
    "yaml-alias": "a YAML alias has no anchor before it",
    "yaml-duplicate-key": "a key stands twice in one mapping",
    "yaml-key": "a key is not plain text",
    "yaml-merge-key": "YAML merge keys are not supported",
    "yaml-syntax": "the text is not valid YAML 1.2",
    "yaml-tab": "a tab stands where YAML wants spaces",
    "yaml-tag": "a YAML tag that is not of the core schema",
    "yaml-too-deep": "values are nested deeper than allowed",
    "yaml-too-large": "more values than allowed, aliases counted as often as used",
    # model
    "bad-cutout": "an opening leaves its panel or meets another",
    "bad-name": "a name that formulas could not use",
    "bad-notch": "a notch that does not fit its panel",
    "bad-bevel": "a bevelled edge that cannot be sawn",
    "bad-trade-number": "a GTIN, a batch or an address that no code can hold",
    "bad-outline": "an outline that crosses itself or encloses nothing",
    "bad-text": "a text holds characters that cannot be printed",
    "duplicate-part": "two parts have the same name",
    "empty-list": "a list that must name something is empty",
    "join-itself": "a part is joined to itself",
    "mirror-conflict": "a mirror image says something else than its original",
    "mirror-loop": "panels mirror each other in a ring",
    "missing-key": "something that must be said is missing",
    "negative-size": "a size below zero",
    "not-round": "a cylinder or tube has two different diameters",
    "out-of-range": "a number outside its limits",
    "open-question": "a question that the definition leaves open",
    "parameter-limit": "a parameter's value breaks the parameter's own limits",
    "text-too-long": "a text is longer than allowed",
    "thickness-differs": "a panel's ends do not leave its board's thickness",
    "too-many-parts": "more parts, joints, fasteners or files than one product may have",
    "unit-loop": "a unit uses itself, however far round",
    "unit-turned": "something in a unit has no place when the unit is turned like that",
    "unknown-board": "a board that is not under `boards`",
    "unknown-key": "a key that the definition does not know",
    "unknown-parameter": "a parameter that the product does not have",
    "unknown-part": "a part that the product does not have",
    "unknown-unit": "a unit definition that is not there",
    "unknown-variant": "a variant that is not under `variants`",
    "unknown-word": "a word outside the list of words that are possible here",
    "wrong-axis": "something said on an axis where it means nothing",
    "wrong-type": "a value of the wrong kind",
    "wrong-value": "a value that does not fit where it stands",
    "zero-size": "a size of nothing",
    # catalogue
    "catalogue-key": "a catalogue file has a key that nothing reads",
    "catalogue-like": "catalogue entries are like each other in a ring",
    "catalogue-name": "a catalogue entry names an item, a tool or an entry that nothing has",
    "catalogue-value": "a value in a catalogue file is of the wrong kind or out of range",
    # geometry
    "outline-crosses-itself": "an outline or a cut-out crosses itself or encloses nothing",
    # joinery
    "bore-off-part": "a bore begins outside the part that it is drilled in",
    "fitting-contact": "a fitting does not suit the way in which two parts meet",
    "fitting-kind": "a fixture is used as a joint, or the other way round",
    "fitting-number": "a fitting's formulas give no usable number in this joint",
    "fitting-opens": "a fitting opens to a side that its part does not have",
    "fitting-option": "a fitting has no such option, or the option is no number",
    "fitting-position": "a fitting's position lies off the contact",
    "fitting-gap": "two parts stand nearer or farther apart than their fitting takes",
    "fitting-need": "a measure that a fitting needs does not come out in this joint",
    "fitting-unknown": "the catalogue has no such fitting",
    "unknown-joint": "a joint that the product does not have, or that is several",
    "fixture-off-part": "a fixture stands on no surface of its part",
    "judged-without": "joints are tried between two parts without what is at fault elsewhere",
    "joint-contacts": "two parts touch in several places and not all are used",
    "material-unknown": "the catalogue has no such board",
    "parts-apart": "the parts of a joint do not touch",
    "parts-cross": "the parts of a joint stand in each other and do not meet squarely",
    "rows-empty": "rows of bores have no place for a bore",
    "shelf-unsupported": "a loose shelf does not rest on the bores under it",
    # inspect
    "hardware-in-part": "a hinge stands where another part is",
    "hinges-too-few": "a door has fewer hinges than its height or its mass asks for",
    "door-beyond-table": "a door is larger or heavier than its hinges are known for",
    "door-gap": "a door stands too near to what is beside it, or leaves a wide gap",
    "door-swing": "a door has too little room to swing open",
    "bag-not-weighed": "one missing piece of a bag does not show on any scale of the catalogue",
    "bag-split": "a bag that the maker named is packed as several",
    "bag-not-used": "a bag is to hold something that the product does not use",
    "bag-unknown": "a bag is to hold something that the catalogue does not have",
    "board-thickness": "a board is not made in that thickness",
    "bore-breaks-out": "a bore runs out of the side of its part",
    "bore-crosses-bore": "two bores of a part run into each other",
    "bore-crosses-groove": "a bore runs into a groove",
    "bore-near-edge": "a bore stands nearer to an edge than its fitting allows",
    "bore-skin-thin": "a blind bore leaves less wood under it than it should",
    "bore-too-deep": "a blind bore comes out on the other side",
    "bore-without-mate": "a bore typed by hand does not meet the one it belongs to",
    "dowel-too-thick": "a dowel is thicker than half its board",
    "clothing-storage": "a product that is, or may be, for clothes meets the rules for that",
    "drawer-behind-door": "a drawer runs out only while a door is open",
    "drawer-blocked": "a drawer meets another part as it runs out",
    "end-distance-small": "a fitting stands too near to the end of its joint",
    "fastener-comes-out": "a screw, nail or pin is longer than the wood it goes into",
    "fastener-holds-little": "too little of a screw or nail is in the piece that it holds to",
    "fitting-family": "a fitting is used in a kind of board that it is not meant for",
    "fitting-thickness": "a fitting is used with a board that is too thin or too thick for it",
    "cannot-be-glued": "glue is asked to hold on what it does not bond to",
    "glass-care": "a pane of glass needs ground edges, and may have to be toughened",
    "glass-cut": "a pane of glass is bored, grooved or banded",
    "joined-twice": "two parts are joined by two entries",
    "wall-screw-covered": "a screw into the wall cannot be reached, or meets a part without a bore",
    "foot-off-floor": "a foot is too short to reach the floor on which the product stands",
    "foot-too-long": "a product stands on one or two feet that are longer than the rest is high",
    "wall-screws-few": "a thing that hangs on the wall hangs by one screw",
    "loose-part-not-carried": "a loose part lies on nothing",
    "lift-heavy": "a lift or a turn is too heavy for four persons",
    "held-on-one-side": "a drawer or a hanging rail is held on one side only",
    "items-nearly-alike": "two pieces of hardware differ so little that they are mixed up",
    "panel-fits-wrongly": "a panel fits in a place or a way round where it is wrong",
    "panels-nearly-alike": "two panels differ so little that they are mixed up",
    "rail-diameter": "a hanging rail is thicker or thinner than its sockets take",
    "rail-unsupported": "a long hanging rail has no support in the middle",
    "runner-off-grid": "a drawer runner leaves the grid of the 32 mm system",
    "runner-too-long": "a drawer runner is longer than the room for it",
    "slot-breaks-out": "a slot runs out of the side of its surface",
    "slot-crosses": "a slot runs into a bore, a groove or another slot",
    "slot-skin-thin": "a slot leaves less wood under it than it should",
    "slot-too-deep": "a slot comes out on the other side",
    "part-below-floor": "a part reaches below z = 0, the floor of the finished product",
    "part-far-away": "a part stands metres away from the others",
    "part-heavy": "a part is so heavy that two persons should lift it",
    "part-not-joined": "a part is joined to nothing",
    "parts-in-two-pieces": "some parts are joined to each other but not to the rest",
    "parts-overlap": "two parts fill the same place",
    "pitch-too-large": "fittings of a joint stand too far apart",
    "glue-on-end-grain": "end grain of solid wood is glued with nothing else in the joint",
    "short-grain": "the grain of a part runs across its long way",
    "wood-cannot-move": "wide solid wood is fixed across its grain, in which it moves",
    "frame-folds": "nothing keeps a frame from going out of square",
    "moves-freely": "a part can slide or turn although every joint is made",
    "pulls-apart": "nothing draws a part to the rest: it comes off pins or out of a housing",
    "pitch-too-small": "fittings of a joint stand too close together",
    "restraint-board-thin": "a tip restraint is fixed to a thin board",
    "restraint-missing": "a tall piece has no tip restraint",
    "bore-wall-thin": "two bores side by side leave too little wood between them",
    "cam-near-dowel": "a dowel stands so near to a cam that little wood stays between their bores",
    "connectors-few": "a long joint has fewer connectors than is usual",
    "dowel-bore-mdf": "a dowel's bore in MDF is no wider than in other boards",
    "dowel-short": "a dowel goes less deep into an edge than is best",
    "groove-near-edge": "a groove leaves too thin a lip to the edge beside it",
    "groove-skin-thin": "a groove leaves less wood under it or beside it than it should",
    "particleboard-end": "a connector stands so near to the end of particleboard that it may split",
    "screw-clearance": "a screw's clearance bore is too tight or too loose",
    "screw-end-grain": "a screw is too short for the end grain that it goes into",
    "screw-near-edge": "a screw in MDF stands too near to an edge or a corner",
    "screw-pilot-short": "a pilot in MDF is not deeper than its screw",
    "screw-pilot-size": "a pilot in MDF is too wide or too narrow for its screw",
    "slots-do-not-meet": "the two slots of a biscuit or tenon do not meet",
    "system-back-row": "a back row is no multiple of the pitch behind the front row",
    "system-bore-off": "a bore for the system rows stands off their grid",
    "system-figures": "a number of system rows is not that of the 32 mm system",
    "system-front-height": "a front is no multiple of the pitch less the reveal high",
    "system-panel-height": "a panel with system rows is not balanced",
    "system-row-gaps": "a system row leaves out bores that would run into something else",
    "shelf-sags": "what bears a load will sag visibly under it",
    "shelf-breaks": "what bears a load is too weak for it",
    "kind-unknown": "a kind of furniture that the catalogue does not have",
    "kind-measure": "a measure that a published rule asks of this kind of furniture is not kept",
    "kind-rules": "a kind of furniture that falls under rules of its own",
    "load-not-borne": "a load is stated that nothing in the product bears",
    "load-not-said": "what a product carries has no load stated",
    "load-unusual": "a load is far beyond what such furniture usually bears",
    "not-weatherproof": "a board, fitting or glue for dry rooms in a product for outdoors",
    "wall-fixing-missing": "a piece that hangs on the wall has nothing to hang by",
    # imports
    "drawing-entity": "something in a drawing that has no part in an outline",
    "drawing-not-read": "a drawing cannot be read",
    "drawing-outline": "the lines of a drawing do not give one closed outline",
    "drawing-unit": "a drawing does not say its unit",
    "list-cell": "a cell of a panel list cannot be read",
    "list-empty": "a panel list holds no panels",
    "list-heading": "the headings of a panel list do not say what its columns hold",
    "list-not-read": "a panel list cannot be read",
    "list-too-long": "a panel list is longer than one product may be",
    "list-unit": "the unit of a panel list is doubtful",
    "way-turns-round": "members joined by one entry leave in opposite ways",
    "stands-badly": "the middle of a product's mass is not well over what it stands on",
    "tips-with-drawers": "what holds a product from tipping over with its drawers out",
    # plan
    "order-kept-in-part": "an order is kept only as to what goes on before what",
    "not-joined-yet": "a part is brought to others before anything joins or carries it",
    "clamp-no-room": "no clamp finds a flat place with room when a joint is glued",
    "glue-open-time": "glue dries before all that it must join at once is closed",
    "dead-ends": "many orders in which every part fits when it is put on cannot be finished",
    "no-assembly-order": "parts hold each other, so there is no way to put the product together",
    "order-cannot-be-kept": "an entry of the author's order contradicts what can be built",
    "part-stays": "a part cannot be taken out of the finished product again",
    "piece-too-large": "taken apart, a piece stays larger than was asked for",
    "same-part-twice": "a question about two parts that names one of them twice",
    "unit-not-whole": "a unit cannot be built on its own and brought in as one",
    # illustrate
    "figure-unclear": "too little can be made out in the picture of a step",
    "style-bad": "a style file cannot be used as it is written",
    "style-missing": "there is no style of that name",
    # publish
    "certificate-bad": "a file holds no readable proof that a product cannot be put together",
    "language-bad": "a language's file lacks texts or holds what cannot be printed",
    "language-incomplete": "a language has not all messages yet; English stands in",
    "language-unknown": "there is no wording for the language",
    "no-sheet-fits": "a panel is larger than every sheet its board is sold in",
    "no-length-fits": "a piece of timber is longer than every length its board is sold in",
    "engine-failed": "a library that writes results could not do all that it was asked",
    "library-missing": "an output needs a library that is not installed",
    "carton-heavy": "a carton weighs more than was asked, for one piece alone does",
    "run-article-unused": "a purchase is named for an article that the run does not need",
    "run-catalogues-differ": "two products of a run mean different things by one name",
    "not-in-program": "something of a panel is not in its programs",
    "unknown-label-sheet": "the catalogue has no such sheets of labels",
    "unknown-machine": "a machine that the catalogue does not have",
    "output-busy": "another run is writing to the same place",
    "output-changed": "files in the folder for the results were changed since they were written",
    "output-cleared": "what a run that was broken off had left was cleared away",
    "output-kept": "something put into the folder while it was replaced was kept beside it",
    "output-not-a-folder": "the place for the results is a file or a link that leads nowhere",
    "output-not-ours": "the folder for the results holds other files",
    "output-not-written": "the results could not be written",
    "output-of-another": "the folder for the results holds those of another command",
    "output-place": "the folder for the results is one that no results may replace",
    "output-replaced": "the results of another product were replaced",
    "output-there": "the file to be written is there already",
    "picture-not-drawn": "a picture could not be set on its page",
    "sign-not-in-font": "a text holds signs that the fonts of the printed pages do not have",
    "text-not-read": "there are texts, but none for the language of the manual",
    "text-image": "a text holds an image",
    "text-link": "a text links to something other than an https or mailto address",
    "text-too-deep": "a text nests lists or quotes too deeply",
    # archive
    "account-password": "the password is too short or too long",
    "account-unknown": "there is no account of that name",
    "archive-address": "the address of a database cannot be used for an archive",
    "archive-busy": "another is writing to the archive",
    "archive-damaged": "something in the archive is not what was issued",
    "archive-failed": "the archive could not be used",
    "archive-missing": "there is no archive in the place named",
    "archive-newer": "the archive is of a newer kdkit",
    "archive-not-ours": "the file or database is no archive",
    "archive-not-read": "the archive, or a revision exported from one, cannot be read",
    "archive-updated": "an archive of an older kdkit was brought up to date",
    "batch-drawn-otherwise": "this kdkit draws an issued revision otherwise than it was issued",
    "batch-recorded": "a batch of that number is recorded already, with another content",
    "batch-there": "the batch is recorded already",
    "issue-changed": "a file of the definition was changed while it was being issued",
    "issue-file-name": "a file of the definition has a name that not every machine can have",
    "issue-without-revision": "a definition without a revision cannot be issued",
    "desk-not-bound": "the desk cannot be served at that address",
    "item-does-not-fit": "an item does not go in place of another",
    "item-not-in-revision": "what is to be sent does not belong to the revision",
    "item-not-superseded": "nothing is sent instead of that item",
    "item-unknown": "no catalogue that was read has an item of that name",
    "revision-issued": "the revision is issued already, with another content",
    "revision-several": "several issued revisions are meant",
    "revision-there": "the revision is issued already",
    "revision-unknown": "no issued revision or batch has that name",
}


@dataclass(frozen=True, kw_only=True)
class Related:
    """A further place that a problem is about (a member of a loop, the first use)."""

    message: str
    path: Path
    source: Source | None = None


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing that is wrong or doubtful.

    Args:
        code: a key of ``CODES``.
        message: what is wrong, with values and units, no full stop.
        path: where in the definition.
        where: the thing meant, in the product's words ("left_side, face, bore
            at (37, 264)"), or "".
        help: what to do, or "".
        source: file position, set by ``locate_problems``.
        on_key: the caret belongs under the key, not under the value.
        span: the characters of the value's text that are meant, if not all.
        asked: what of the request it is about, as it was typed ("--out shelf"), if it is
            not about the definition; then it has no place in one.
        related: further places, each with a line of its own.
    """

    code: str
    message: str
    severity: Severity = Severity.ERROR
    path: Path = ()
    where: str = ""
    help: str = ""
    source: Source | None = None
    on_key: bool = False
    span: tuple[int, int] | None = None
    asked: str = ""
    related: tuple[Related, ...] = ()

    def __post_init__(self) -> None:
        if self.code not in CODES:
            raise ValueError(f"unknown problem code {self.code!r}")


def error(code: str, message: str, path: Path = (), *, where: str = "", help: str = "") -> Problem:
    """Return a problem that ends the run."""
    return Problem(code=code, message=message, path=path, where=where, help=help)


def warning(
    code: str, message: str, path: Path = (), *, where: str = "", help: str = ""
) -> Problem:
    """Return a problem that the maker should read before cutting."""
    return Problem(
        code=code, message=message, severity=Severity.WARNING, path=path, where=where, help=help
    )


def advice(code: str, message: str, path: Path = (), *, where: str = "", help: str = "") -> Problem:
    """Return a hint that never stops anything."""
    return Problem(
        code=code, message=message, severity=Severity.ADVICE, path=path, where=where, help=help
    )


def has_errors(problems: Iterable[Problem]) -> bool:
    """Tell whether any of the problems is an error."""
    return any(p.severity is Severity.ERROR for p in problems)


def gather_alike(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return the problems with those that say the same about one entry made one.

    It names the first place and the number of the others.
    """
    alike: dict[tuple[object, ...], list[Problem]] = {}
    for problem in problems:
        key = (problem.code, problem.path, problem.severity, problem.message, problem.help)
        alike.setdefault(key, []).append(problem)
    found = []
    for group in alike.values():
        places = list(dict.fromkeys(p.where for p in group))
        first = group[0]
        if len(places) > 1:
            first = replace(first, where=f"{places[0]}, and {len(places) - 1} more like it")
        found.append(first)
    return tuple(found)


def locate_problems(problems: Sequence[Problem], sources: SourceMap | None) -> tuple[Problem, ...]:
    """Return the problems with file positions, in file order, doubles dropped.

    What is the matter with a unit at each of its uses is told once, with their number.
    """
    placed = []
    for problem in problems:
        source = problem.source
        if source is None and sources is not None and not problem.asked:
            source = sources.locate(problem.path, on_key=problem.on_key, span=problem.span)
        related = problem.related
        if sources is not None:
            related = tuple(
                replace(r, source=sources.locate(r.path) if r.source is None else r.source)
                for r in related
            )
        placed.append(replace(problem, source=source, related=related))
    # One line used by several units is one fault, though their paths differ.
    first: dict[Problem, Problem] = {}
    for problem in placed:
        first.setdefault(replace(problem, path=() if problem.source else problem.path), problem)
    unique = _told_once(first.values())
    rank = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.ADVICE: 2}
    return tuple(
        sorted(
            unique,
            key=lambda p: (
                rank[p.severity],
                p.source or Source(file="", line=0, column=0, end_column=0),
                p.code,
                p.where,
                p.message,
            ),
        )
    )


_UNIT = re.compile(r"(?<![\w.])(?:[A-Za-z_]\w*\.)+(?=[A-Za-z_])")
"""The names of units before a part's own name."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def _told_once(problems: Iterable[Problem]) -> list[Problem]:
    """Return the problems with those that differ in the names of units alone made one."""
    alike: dict[tuple[object, ...], list[Problem]] = {}
    for problem in problems:
        words = tuple(_UNIT.sub("", text) for text in (problem.message, problem.help))
        place = _NUMBER.sub("", _UNIT.sub("", problem.where))
        entry = problem.path if problem.source is None else problem.source
        told = (problem.code, problem.severity, entry, words, place, problem.asked, problem.related)
        named = _UNIT.search(f"{problem.message} {problem.where}")
        alike.setdefault(told if named else (problem,), []).append(problem)
    found = []
    for first, *others in alike.values():
        if others:
            times = f"{1 + len(others)} times"
            first = replace(first, where=f"{times}, first: {first.where}" if first.where else times)
        found.append(first)
    return found


_WIDE = 100
"""Characters of a line that are shown, more are left out on either side."""


def _excerpt(text: str, source: Source) -> tuple[str, int, int]:
    """Return what of a line is shown, where in it the caret begins, and how wide it is."""
    column = min(source.column - 1, len(text))
    width = max(1, min(source.end_column, len(text) + 1) - source.column)
    if len(text) <= _WIDE:
        return text, source.column - 1, width
    first = max(0, min(column - _WIDE // 4, len(text) - _WIDE))
    shown = text[first : first + _WIDE]
    before = "… " if first else ""
    after = " …" if first + _WIDE < len(text) else ""
    at = len(before) + column - first
    return f"{before}{shown}{after}", at, min(width, len(before) + len(shown) - at) or 1


def render_problem(problem: Problem, sources: SourceMap | None = None) -> str:
    """Return a problem as people read it: place, message, caret, help.

    The text ends without a line end.
    """
    lines = []
    source = problem.source
    head = f"{problem.severity.value}: {problem.message} [{problem.code}]"
    if source is None:
        place = problem.asked or ".".join(str(step) for step in problem.path)
        lines.append(f"{place}: {head}" if place else head)
    else:
        lines.append(f"{source.file}:{source.line}:{source.column}: {head}")
        text = source.text or ("" if sources is None else sources.line_text(source))
        if text or sources is not None:
            shown, column, width = _excerpt(text.replace("\t", " "), source)
            number = f"{source.line:5d}"
            lines.append(f"{number} | {shown}")
            lines.append(f"{' ' * len(number)} | {' ' * column}{'^' * width}")
    if problem.where:
        lines.append(f"  {problem.where}")
    for other in problem.related:
        spot = other.source
        place = (
            ".".join(str(step) for step in other.path)
            if spot is None
            else f"{spot.file}:{spot.line}:{spot.column}"
        )
        lines.append(f"  {place}: {other.message}")
    if problem.help:
        lines.append(f"  help: {problem.help}")
    return "\n".join(lines)
