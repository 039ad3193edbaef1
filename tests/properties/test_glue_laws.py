"""Laws of glued products: always a plan or a proof, never a proof out of clamps, and the same
glue-ups whichever way the joints are written. A replay judges glue by rules of its own."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, replace

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from kdkit.geometry import contact_between
from kdkit.plan import make_plan
from kdkit.plan.plan import Impossible, OperationKind, Plan
from kdkit.plan.verify import verify_impossible
from tests.boxes import Box, Made, board, make
from tests.cabinets import built_in, joint, try_to_place, use
from tests.gallery.tooled import placed
from tests.replay import replay

STEP = 20.0
"""mm. Boards of 20 to 100 mm: less than a clamp's jaw, so that jaws are often in the way."""

HOWS = ("glue", "glue", "glue", ("dowels", "glue"), "bare", "dowels", "capped-screws", "cams")
EDGE_TO_EDGE = ("glued", "glued", "biscuit-20", "dowel-8x35-glued")

cell = st.integers(0, 4)
box = st.tuples(st.tuples(cell, cell, cell), st.tuples(*[st.integers(1, 4)] * 3))


def apart(a: Box, b: Box) -> bool:
    return any(a[1][n] <= b[0][n] or b[1][n] <= a[0][n] for n in range(3))


Hows = Mapping[tuple[str, str], str | tuple[str, ...]]


def block_product(found: list[Box], joints: Hows, *, clamped: bool) -> Made:
    """Boxes joined so, with the real tools, which need room; or with no clamp asked for."""
    resolved, assembly, joinery, stock = make(
        [board(f"p{n}", *b) for n, b in enumerate(found)], dict(joints)
    )
    if not clamped:
        bare = tuple(
            replace(j, fittings=tuple("bare" if f == "glue" else f for f in j.fittings))
            for j in joinery.joints
        )
        joinery = replace(joinery, joints=bare)
    return resolved, assembly, joinery, stock.model_copy(update={"tools": built_in().tools})


@st.composite
def blocks(draw: st.DrawFn) -> tuple[list[Box], Hows]:
    """Up to six boxes on a grid, glued and joined at random."""
    kept: list[Box] = []
    for low, size in draw(st.lists(box, min_size=5, max_size=12)):
        lows = tuple(STEP * v for v in low)
        highs = tuple(w + STEP * s for w, s in zip(lows, size, strict=True))
        new: Box = (lows, highs)  # type: ignore[assignment]
        if len(kept) < 6 and all(apart(new, old) for old in kept):
            kept.append(new)
    names = [f"p{n}" for n in range(len(kept))]
    loose = make([board(name, *b) for name, b in zip(names, kept, strict=True)], {})
    joints: dict[tuple[str, str], str | tuple[str, ...]] = {}
    for pair in itertools.combinations(names, 2):
        if contact_between(loose[1], *pair):
            one, other = pair if draw(st.booleans()) else pair[::-1]
            joints[one, other] = draw(st.sampled_from(HOWS))
    assume(any("glue" in how for how in joints.values()))
    return kept, joints


@dataclass(frozen=True)
class Panel:
    """Boards edge to edge; battens glued across them, a layer on the first, an end board."""

    width: float
    boards: int
    battens: int
    layer: bool
    end: bool
    fittings: tuple[str, ...]
    turned: tuple[bool, ...]

    def product(self) -> Made | None:
        """The parts with their joints, in turn; None where a fitting has no room."""
        deep = self.boards * self.width
        parts = [
            board(f"b{n}", (0, n * self.width, 0), (600, (n + 1) * self.width, 20))
            for n in range(self.boards)
        ]
        names = [part.name for part in parts]
        pairs = [
            (*pair, how)
            for pair, how in zip(itertools.pairwise(names), self.fittings, strict=False)
        ]
        more = [
            board(f"batten{n}", (50 + 300 * n, 0, -20), (110 + 300 * n, deep, 0))
            for n in range(self.battens)
        ]
        if self.end:
            more.append(board("end", (600, 0, 0), (620, deep, 20)))
        pairs += [(part.name, name, "glued") for part in more for name in names]
        if self.layer:
            more.append(board("layer", (400, 0, 20), (600, self.width, 40)))
            pairs.append(("layer", "b0", "glued"))
        turned = itertools.cycle(self.turned)
        joints = [
            joint(*((b, a) if turn else (a, b)), use(how))
            for (a, b, how), turn in zip(pairs, turned, strict=False)
        ]
        joinery, _, _ = try_to_place([*parts, *more], joints)
        return placed([*parts, *more], joints) if joinery is not None else None


panels = st.builds(
    Panel,
    width=st.sampled_from((60.0, 80.0)),
    boards=st.integers(2, 5),
    battens=st.integers(0, 2),
    layer=st.booleans(),
    end=st.booleans(),
    fittings=st.tuples(*[st.sampled_from(EDGE_TO_EDGE)] * 4),
    turned=st.lists(st.booleans(), min_size=3, max_size=9).map(tuple),
)


def told(made: Made) -> type:
    """The kind of verdict, which must hold."""
    found, problems = make_plan(*made)
    if isinstance(found, Plan):
        replay(made, found)
    else:
        assert isinstance(found, Impossible), problems
        assert verify_impossible(found, *made[1:]) == ()
    return type(found)


@settings(max_examples=100, deadline=None)
@given(blocks())
def test_clamps_never_change_what_can_be_built(said: tuple[list[Box], Hows]) -> None:
    assert told(block_product(*said, clamped=True)) is told(block_product(*said, clamped=False))


@settings(max_examples=50, deadline=None)
@given(panels)
def test_boards_glued_side_by_side_have_a_plan_however_the_joints_are_written(
    panel: Panel,
) -> None:
    made = panel.product()
    assume(made is not None)
    assert made is not None
    assert told(made) is Plan


def goes(made: Made) -> list[list[list[str]]]:
    """The pairs of parts that each glue-up joins."""
    plan, problems = make_plan(*made)
    assert isinstance(plan, Plan), problems
    replay(made, plan)
    pairs = {j.name: sorted((j.butting, j.receiving)) for j in made[2].joints}
    found: dict[str, list[list[str]]] = {}
    for operation in plan.operations:
        if operation.glue_up and operation.kind is OperationKind.GLUE:
            found[operation.glue_up] = sorted(pairs[name] for name in operation.joints)
    return sorted(found.values())


@settings(max_examples=15, deadline=None)
@given(panels)
def test_which_way_a_joint_is_written_changes_no_glue_up(panel: Panel) -> None:
    made = panel.product()
    turned = replace(panel, turned=tuple(not turn for turn in panel.turned)).product()
    assume(made is not None and turned is not None)
    assert made is not None
    assert turned is not None
    assert goes(made) == goes(turned)
