"""What hangs, slides and stands: the figures of the catalogue against their sources."""

from __future__ import annotations

import pytest

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.catalogue.formulas import fitting_numbers


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    found, problems = load_catalogue()
    assert found is not None, problems
    return found


def test_runners_take_the_usual_clearance(catalogue: Catalogue) -> None:
    # Source: 12.5 to 13 a side, common practice.
    assert catalogue.fittings["side-runner"].limits.gap == (12.5, 13.0)


@pytest.mark.parametrize("length", [300, 350, 400, 450, 500])
def test_rear_bores_are_a_multiple_of_32_behind_the_front_ones(
    catalogue: Catalogue, length: int
) -> None:
    # Source: front row 37, rear row a multiple of 32 behind it, common practice, no source.
    fitting = catalogue.fittings["side-runner"]
    assert length in fitting.choices["length"]
    sized = fitting.model_copy(update={"options": {**fitting.options, "length": length}})
    numbers = fitting_numbers(sized, t_butting=12, t_receiving=18, gap=12.75)
    front, rear = (-b.at[1] for b in numbers.bores[:2])
    assert front == 37
    assert (rear - front) % 32 == 0
    assert length * 0.6 < rear < length
    for key in (f"carcass-profile-{length}", f"drawer-profile-{length}"):
        (long,) = {p.d1 for p in catalogue.items[key].pieces}
        assert long == length


def test_the_profiles_pass_each_other_in_the_clearance(catalogue: Catalogue) -> None:
    """One within the other, with their screw heads, at the least clearance."""
    outer, inner = (catalogue.items[f"{n}-profile-400"].pieces for n in ("carcass", "drawer"))
    web = outer[0].z1
    gap = 12.5
    assert max(p.z1 for p in outer) + inner[0].z1 < gap  # flange to the other's web
    assert max(p.z1 for p in inner) + web < gap
    inside = min(abs(p.at[0]) - p.d0 / 2 for p in outer[1:])
    assert max(abs(p.at[0]) + p.d0 / 2 for p in inner) < inside
    plate, small = (
        catalogue.items[n].pieces[-1] for n in ("plate-screw-6.3x13", "screw-3.5x10-pan")
    )
    assert web + plate.z1 + small.z1 + inner[0].z1 < gap  # head over head
    between = min(abs(p.at[0]) - p.d0 / 2 for p in inner[1:])
    assert max(plate.d0, small.d0) / 2 < between


@pytest.mark.parametrize("centres", [64, 96, 128, 160])
def test_handles_come_in_the_usual_centres(catalogue: Catalogue, centres: int) -> None:
    # Source: centres 64, 96, 128, 160: common practice. M4 clearance 4.5: general ISO tables.
    for key in (f"handle-{centres}", f"handle-{centres}-sunk"):
        fitting = catalogue.fittings[key]
        numbers = fitting_numbers(fitting, t_butting=0, t_receiving=18)
        holes = [b for b in numbers.bores if b.depth is None]
        assert sorted(b.at[0] for b in holes) == [-centres / 2, centres / 2]
        assert {b.diameter for b in holes} == {4.5}


def test_sunk_heads_stay_under_the_surface(catalogue: Catalogue) -> None:
    fitting = catalogue.fittings["handle-128-sunk"]
    head = catalogue.items["machine-screw-m4x25"].pieces[-1]
    numbers = fitting_numbers(fitting, t_butting=0, t_receiving=18)
    for rule, at in zip(fitting.items[1:], numbers.items[1:], strict=True):
        assert rule.out == "-k"
        assert at[2] - head.z1 > -18
    (width,) = {b.diameter for b in numbers.bores if b.depth is not None}
    assert width > head.d0


@pytest.mark.parametrize("length", [27, 30])
def test_a_front_can_be_shifted_under_its_screw_heads(catalogue: Catalogue, length: int) -> None:
    """Two millimetres every way, and the flange still covers the bore."""
    fitting = catalogue.fittings[f"front-adjustable-3.5x{length}"]
    screw = catalogue.items[f"wide-head-screw-3.5x{length}"]
    flange = max(p.d0 for p in screw.pieces)
    assert fitting.options["adjust"] == 2
    low, high = fitting.limits.receiving_thickness or (0, 0)
    for t in (low, high):
        numbers = fitting_numbers(fitting, t_butting=18, t_receiving=t)
        bore, pilot = numbers.bores
        assert (bore.diameter - 3.5) / 2 == pytest.approx(2)
        assert flange / 2 > 2 + bore.diameter / 2
        held = length - t
        assert held >= 4 * 3.5  # four diameters, common practice
        assert pilot.depth == held + 1  # 1 deeper: as the fitting cites
        assert pilot.depth <= 18 - fitting.limits.skin


def test_a_rail_lies_in_its_sockets(catalogue: Catalogue) -> None:
    closed, opened = (catalogue.items[f"rail-socket-{n}-25"].pieces for n in ("closed", "open"))
    for pieces, sides in ((closed, 4), (opened, 3)):
        walls = pieces[1:]
        assert len(walls) == sides
        assert all(max(abs(c) for c in w.at) - 1.5 == 13 for w in walls)  # 0.5 round Ø25
    hook = catalogue.items["rail-hook-60"].pieces
    assert max(p.z1 for p in hook) - 3 == 60 + 12.5 + 0.5
    assert catalogue.fittings["rail-socket-open-25"].way == "+j"
    assert catalogue.fittings["rail-socket-closed-25"].way == "+k"


def test_glass_is_a_board_without_strength(catalogue: Catalogue) -> None:
    # Source: density 2500, modulus 70 000, strength 45: from memory of EN 572-1:2012.
    glass = catalogue.boards["glass"]
    assert glass.family == "glass"
    assert [(s.density, s.moe, s.mor) for s in glass.strength] == [(2500, 70_000, 45)]
