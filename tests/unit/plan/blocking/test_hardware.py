from __future__ import annotations

from collections import Counter

import numpy as np

from kdkit.frames import PRODUCT, Frame
from kdkit.joinery.placed import Groove
from kdkit.plan.blocking.hardware import work_of
from kdkit.plan.motion.bodies import collect_bodies, fitted_in_workshop, part_polytopes
from kdkit.plan.motion.sweep import Polytope
from kdkit.plan.plan import OperationKind
from tests.boxes import board, bookcase, catalogue


def kinds(how: str) -> list[tuple[OperationKind, str, str | None]]:
    made = bookcase(0, back=False, how=how)
    return [(w.kind, w.item, w.part) for w in work_of(made[2].fasteners[:1], made[2], made[3])]


def test_cams_are_fitted_then_turned() -> None:
    assert kinds("cams") == [
        (OperationKind.FIT, "bolt", "left_side"),
        (OperationKind.FIT, "cam", "bottom"),
        (OperationKind.FASTEN, "cam", None),
    ]


def test_a_turned_cam_is_used_up_once() -> None:
    made = bookcase(0, back=False)
    works = work_of(made[2].fasteners, made[2], made[3])
    used: Counter[str] = Counter()
    for work in works:
        used.update(work.items)
    assert used == Counter(i.item for f in made[2].fasteners for i in f.items)


def test_screws_are_driven_after_mating_and_capped() -> None:
    assert kinds("capped-screws") == [
        (OperationKind.FASTEN, "screw", None),
        (OperationKind.CAP, "cap", None),
    ]


def test_workshop_hardware_is_no_work() -> None:
    assert kinds("shop-dowels") == []
    fittings = catalogue().fittings
    assert fitted_in_workshop("dowel", fittings["shop-dowels"])
    assert not fitted_in_workshop("dowel", fittings["dowels"])
    assert not fitted_in_workshop("dowel", None)


def volume(box: Polytope) -> float:
    low, high = box.vertices.min(axis=0), box.vertices.max(axis=0)
    return float(np.prod(high - low))


def test_a_groove_is_taken_out_of_the_board() -> None:
    part = board("side", (0, 0, 0), (18, 300, 400))
    groove = Groove(
        part="side",
        surface="face",
        polygon=((270.0, 0.0), (273.3, 0.0), (273.3, 400.0), (270.0, 400.0)),
        depth=8.0,
        path=(),
        joint="",
    )
    whole = part_polytopes(part, ())
    cut = part_polytopes(part, [groove])
    assert len(whole) == 1
    assert abs(sum(map(volume, whole)) - 18 * 300 * 400) < 1e-6
    assert abs(sum(map(volume, cut)) - (18 * 300 * 400 - 3.3 * 400 * 8)) < 1e-3


def test_crossing_grooves_on_both_surfaces() -> None:
    part = board("side", (0, 0, 0), (18, 300, 400))
    across = ((0.0, 100.0), (300.0, 100.0), (300.0, 110.0), (0.0, 110.0))
    along = ((50.0, 0.0), (60.0, 0.0), (60.0, 400.0), (50.0, 400.0))
    grooves = [
        Groove(part="side", surface=surface, polygon=polygon, depth=6.0, path=(), joint="")
        for surface, polygon in (("face", across), ("face", along), ("back", across))
    ]
    expected = 18 * 300 * 400 - 6 * (300 * 10 * 2 + 400 * 10 - 10 * 10)
    assert abs(sum(map(volume, part_polytopes(part, grooves))) - expected) < 1e-3


def test_hardware_is_a_body_of_its_carrier() -> None:
    made = bookcase(0, back=False, how="dowels")
    bodies = [b for b in collect_bodies(*made[1:]) if b.fastener is not None]
    assert len(bodies) == len(made[2].fasteners)
    left = next(b for b in bodies if b.part == "left_side")
    assert left.needs == (left.mate,)
    low, high = left.shape.vertices.min(axis=0), left.shape.vertices.max(axis=0)
    assert abs(low[0] - 18.0) < 1e-9
    assert abs(high[0] - 41.0) < 1e-9


def test_supports_are_there_while_their_shelf_is() -> None:
    made = bookcase(0, back=False, loose=1)
    supports = [b for b in collect_bodies(*made[1:]) if b.item == "support"]
    assert len(supports) == 4
    assert all(b.needs == ("loose_1",) for b in supports)


def test_a_turned_part_has_turned_pieces() -> None:
    turned = Frame((5.0, 0.0, 0.0), PRODUCT.j, PRODUCT.k, PRODUCT.i)
    (piece,) = part_polytopes(board("b", (0, 0, 0), (18, 300, 400), at=turned), ())
    assert piece.vertices.max(axis=0).tolist() == [405.0, 18.0, 300.0]
