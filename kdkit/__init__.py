"""Assembly instructions and hardware schedules for knockdown furniture.

One definition of panels and joints goes in, from a file or from Python; out come the cut
list, the drilling of every panel, the hardware, a proved order of assembly, and a manual.

A product from a file, all the way to its manual::

    outcome = build(Request(file=Path("shelf.yaml")), Path("shelf"))
    for problem in outcome.problems:
        print(render_problem(problem, outcome.definition))

A product made in Python, with the words of a definition (``Product``, ``Panel``, ``Joint``
and so on: all of ``kdkit.model`` can be taken from here):

>>> from kdkit import Board, FittingUse, Joint, OneEnd, Panel, Product, Request, check
>>> post = Panel(board="pine", x=OneEnd(start=0), y=(0, 60), z=(0, 600), face="+x")
>>> arm = Panel(board="pine", x=(45, 300), y=(0, 60), z=OneEnd(to=500))
>>> dowel = FittingUse(fitting="dowel-10x40", count=1)
>>> bracket = Product(
...     product="Bracket",
...     boards={"pine": Board(material="pine", thickness=45)},
...     panels={"post": post, "arm": arm},
...     joints=(Joint(join="arm", to="post", fittings=(dowel,)),),
... )
>>> outcome = check(Request(product=bracket), risks=False)
>>> [(problem.code, problem.message) for problem in outcome.problems]
[]
>>> [(*line.parts, *line.finished) for line in outcome.results.schedules.cut]
[('arm', 255.0, 60.0), ('post', 600.0, 60.0)]
>>> [(line.item, line.quantity) for line in outcome.results.schedules.hardware]
[('dowel-10x40', 1)]
>>> [step.new for step in outcome.results.plan.steps]
[(), ('arm', 'post')]

Lengths are mm, masses kg, angles degrees. The product's frame has x to the right, y to the
back and z up, with its origin at the front left on the floor; a panel's own frame begins at
the datum corner of its face, with x along its length. Nothing is rounded before it is written.
"""

from __future__ import annotations

from kdkit.lazy import lazy_names

TYPE_CHECKING = False  # the module that has it takes long to import

if TYPE_CHECKING:
    from kdkit.diagnostics import Problem, render_problem
    from kdkit.diagnostics import Severity as Severity
    from kdkit.model import Bevel as Bevel
    from kdkit.model import Board as Board
    from kdkit.model import Bought as Bought
    from kdkit.model import CutOut as CutOut
    from kdkit.model import FittingUse as FittingUse
    from kdkit.model import Fixture as Fixture
    from kdkit.model import HandBore as HandBore
    from kdkit.model import Joint as Joint
    from kdkit.model import Maker as Maker
    from kdkit.model import Notch as Notch
    from kdkit.model import OneEnd as OneEnd
    from kdkit.model import Panel as Panel
    from kdkit.model import Parameter as Parameter
    from kdkit.model import Product as Product
    from kdkit.model import Resolved as Resolved
    from kdkit.model import Rows as Rows
    from kdkit.model import Safety as Safety
    from kdkit.model import SystemRows as SystemRows
    from kdkit.model import Texts as Texts
    from kdkit.model import Turn as Turn
    from kdkit.model import Unit as Unit
    from kdkit.model import resolve as resolve
    from kdkit.pipeline import build, check
    from kdkit.run import Outcome, Request

__all__ = [
    "Outcome",
    "Problem",
    "Request",
    "__version__",
    "build",
    "check",
    "render_problem",
]
"""What `help(kdkit)` shows; the words of a definition, which are many, stand in `_WORDS`."""

_WORDS = (
    "Bevel", "Board", "Bought", "CutOut", "FittingUse", "Fixture", "HandBore", "Joint", "Maker",
    "Notch", "OneEnd", "Panel", "Parameter", "Product", "Resolved", "Rows", "Safety",
    "SystemRows", "Texts", "Turn", "Unit", "resolve",
)  # fmt: skip

__version__ = "0.1.0"

if not TYPE_CHECKING:
    __getattr__, __dir__ = lazy_names(
        __name__,
        {
            **dict.fromkeys(_WORDS, "kdkit.model"),
            **dict.fromkeys(("Problem", "Severity", "render_problem"), "kdkit.diagnostics"),
            **dict.fromkeys(("build", "check"), "kdkit.pipeline"),
            **dict.fromkeys(("Outcome", "Request"), "kdkit.run"),
        },
    )
