"""Practice for joints beyond the system fittings, against tables that do not come from the data."""

from __future__ import annotations

import math

import pytest

from kdkit.catalogue import Catalogue, FittingNumbers, fitting_numbers, load_catalogue
from kdkit.frames import Vec3, norm, sub
from tests.boxes import board
from tests.cabinets import joint, place, use

LEAN = math.radians(15)


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    found, problems = load_catalogue()
    assert found is not None, problems
    return found


def numbers(catalogue: Catalogue, key: str, t: float, t_receiving: float = 18) -> FittingNumbers:
    return fitting_numbers(catalogue.fittings[key], t_butting=t, t_receiving=t_receiving)


# Source: setback t / (2 tan 15°), computed: board, setback to a tenth.
@pytest.mark.parametrize(("t", "setback"), [(16, 29.9), (18, 33.6), (19, 35.5)])
def test_pocket_screws_cross_the_edge_at_mid_thickness(
    catalogue: Catalogue, t: float, setback: float
) -> None:
    found = numbers(catalogue, "pocket-screw-4x32", t, 60)
    pocket, pilot = found.bores
    assert pocket.at == pilot.at
    assert pocket.at[1] == t / 2
    assert pocket.at[2] == pytest.approx(t / (2 * math.tan(LEAN)), abs=1e-9)
    assert round(pocket.at[2], 1) == setback
    assert pocket.into == pytest.approx((0, -math.sin(LEAN), -math.cos(LEAN)))
    # along the axis to k = 0: there it is at mid-thickness
    along = pocket.at[2] / math.cos(LEAN)
    assert pocket.at[1] - along * math.sin(LEAN) == pytest.approx(0, abs=1e-9)
    # Source: pocket 9.5, stopped about 6 short of the edge, common practice.
    assert pocket.diameter == 9.5
    assert pocket.depth is not None
    assert pocket.at[2] - pocket.depth * math.cos(LEAN) == pytest.approx(6, abs=1e-9)
    # the head seats on the pocket's bottom
    bottom = tuple(a + pocket.depth * d for a, d in zip(pocket.at, pocket.into, strict=True))
    assert found.items[0] == pytest.approx(bottom, abs=1e-9)
    assert found.outs[0] == pytest.approx(tuple(-c for c in pocket.into), abs=1e-12)


# Worked by hand from our own rule (common practice, no source): the screw reaches
# length × cos 15° - 6 beyond the edge, 1 to 1.75 times as far as its board is thick, and none
# is for boards below 12.
@pytest.mark.parametrize(
    ("length", "reach", "thin", "thick"),
    [(25, 18.1, 12, 18), (32, 24.9, 15, 24), (38, 30.7, 18, 30)],
)
def test_pocket_screws_suit_boards_by_how_far_they_reach(
    catalogue: Catalogue, length: int, reach: float, thin: float, thick: float
) -> None:
    fitting = catalogue.fittings[f"pocket-screw-4x{length}"]
    assert fitting.limits.butting_thickness == (thin, thick)
    found = numbers(catalogue, f"pocket-screw-4x{length}", thick, 60)
    head, out = found.items[0], found.outs[0]
    assert length * out[2] - head[2] == pytest.approx(reach, abs=0.05)
    assert thick <= reach <= 1.75 * thin + 0.01


@pytest.mark.parametrize(("size", "long", "wide"), [("0", 47, 15), ("10", 53, 19), ("20", 56, 23)])
def test_biscuits(catalogue: Catalogue, size: str, long: float, wide: float) -> None:
    # Source: sizes, 4 thick, slot about half the width and 1 deep, common practice.
    (piece,) = catalogue.items[f"biscuit-{size}"].pieces
    assert (piece.d0, piece.z1 - piece.z0, piece.d1) == (long, wide, 4)
    found = numbers(catalogue, f"biscuit-{size}", 18)
    one, other = found.slots
    for slot in found.slots:
        assert slot.depth == wide / 2 + 1
        assert slot.width == 4
        assert slot.length > long + 5  # it floats along the slot …
        assert slot.at[1] == 0  # … and its place from the face is exact
    assert one.at == other.at
    fitting = catalogue.fittings[f"biscuit-{size}"]
    assert 50 <= (fitting.ends or 0) <= 75
    assert 150 <= (fitting.pitch or 0) <= 250


def test_skewed_nails_keep_two_thirds_in_the_second_piece(catalogue: Catalogue) -> None:
    # Source: length at least 3 x the held thickness, two thirds in the second piece, driven
    # skewed: from memory of FM 5-426, Carpentry, US Department of the Army, 1995.
    fitting = catalogue.fittings["nailed-skewed-2.5x55"]
    _, most = fitting.limits.receiving_thickness or (0, 0)
    found = numbers(catalogue, "nailed-skewed-2.5x55", 18, most)
    assert 3 * most <= 55
    tips: list[Vec3] = []
    for at, out in zip(found.items, found.outs, strict=True):
        held = most / out[2] * -1.0
        assert 55 - held >= 2 / 3 * 55 - 0.05
        x, y, z = (a - 55 * o for a, o in zip(at, out, strict=True))
        tips.append((x, y, z))
    assert abs(found.items[0][0]) == abs(found.items[1][0]) > 0
    heads = norm(sub(found.items[0], found.items[1]))
    assert 5 < norm(sub(tips[0], tips[1])) < heads  # they lean to each other and do not meet


@pytest.mark.parametrize(("length", "head"), [(50, ""), (50, "-cap"), (60, "")])
def test_barrel_nuts(catalogue: Catalogue, length: int, head: str) -> None:
    # Source: cross bore 10, screw bore 7, screw about t_face + setback + 5, common practice;
    # best pull-out at a setback of 25 in OSB, 38 in plywood: from memory of Erdil, Zhang and
    # Eckelman, Forest Products Journal 53(6), 2003.
    key = f"barrel-nut-m6x{length}{head}"
    low, high = catalogue.fittings[key].limits.receiving_thickness or (0, 0)
    for t_receiving in (low, 18, high):
        clearance, channel, cross = numbers(catalogue, key, 18, t_receiving).bores
        assert (clearance.diameter, channel.diameter, cross.diameter) == (7, 7, 10)
        setback = cross.at[2]
        assert length == t_receiving + setback + 5
        assert 20 <= setback <= 40
        assert channel.depth is not None
        assert channel.depth > length - t_receiving  # the screw never meets its end
        nut = numbers(catalogue, key, 18, t_receiving).items[0]
        assert nut[1] - 12 / 2 == 0  # its thread lies at mid-thickness


def test_a_stepped_dowel_is_bored_at_home_after_the_glue(catalogue: Catalogue) -> None:
    # Source: drilled through from the outside face after the glue has set, cut flush, its end
    # stays visible: common practice.
    fitting = catalogue.fittings["stepped-dowel-8x60"]
    assert {b.stage for b in fitting.bores} == {"home"}
    done = [a.do for a in fitting.actions]
    assert done.index("wait") < done.index("drill") < done.index("insert") < done.index("trim")
    assert done.index("glue") < done.index("mate") < done.index("wait")
    assert fitting.visible == "end of the dowel"
    for t in (12, 18, 21):
        through, wide, narrow = numbers(catalogue, "stepped-dowel-8x60", 18, t).bores
        assert through.depth is None
        assert wide.depth is not None
        assert narrow.depth is not None
        assert t + wide.depth == 22  # the step of the dowel
        assert t + narrow.depth == 61  # 1 deeper than the dowel


# Source: 640 x 400 outside, stock 16, common practice and computed: butt 608, rebate 10 deep
# 628, housing 5 deep 618.
@pytest.mark.parametrize(
    ("fitting", "deep", "length"),
    [("dowel-8x30", 0, 608), ("rebated-glued", 10, 628), ("housed-glued", 5, 618)],
)
def test_the_frame_of_640(fitting: str, deep: float, length: float) -> None:
    left = board("left", (0, 0, 0), (16, 300, 400))
    right = board("right", (624, 0, 0), (640, 300, 400))
    top = 400.0 if fitting.startswith("rebated") else 300.0
    cross = board("cross", (16 - deep, 0, top - 16), (624 + deep, 300, top))
    assert max(x for x, _ in cross.outline) == length
    joinery, _ = place(
        [left, right, cross],
        [joint("cross", "left", use(fitting)), joint("cross", "right", use(fitting))],
    )
    assert [g.depth for g in joinery.grooves] == pytest.approx([deep, deep] if deep else [])
    for groove in joinery.grooves:
        ys = [p[1] for p in groove.polygon]
        play = 0.1 if fitting == "housed-glued" else 0.0
        assert (min(ys), max(ys)) == pytest.approx((top - 16 - play / 2, top + play / 2))
