"""Boring practice in numbers, against tables that do not come from the data files."""

from __future__ import annotations

import pathlib

import pytest

from kdkit.catalogue import Catalogue, FittingNumbers, fitting_numbers, load_catalogue


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    found, problems = load_catalogue()
    assert found is not None, problems
    return found


def bore(
    catalogue: Catalogue, key: str, purpose: str, member: str, **sizes: float
) -> tuple[float, float | None]:
    """Diameter and depth of one bore of a fitting."""
    fitting = catalogue.fittings[key]
    numbers: FittingNumbers = fitting_numbers(
        fitting,
        t_butting=sizes.get("t_butting", 18.0),
        t_receiving=sizes.get("t_receiving", 18.0),
        sunk=sizes.get("sunk", 0.0),
    )
    (found,) = [
        n
        for rule, n in zip(fitting.bores, numbers.bores, strict=True)
        if rule.purpose == purpose and rule.member == member
    ]
    return found.diameter, found.depth


# Worked by hand from our own rule (common practice, no source): half the board, and 0.4 of the
# cam's height (11, or 9 of the slim one) below its middle: board, housing, depth, skin left.
CAM_TABLE = [
    (12, 12, 9.6, 2.4),
    (15, 15, 11.9, 3.1),
    (16, 15, 12.4, 3.6),
    (18, 15, 13.4, 4.6),
    (19, 15, 13.9, 5.1),
    (22, 15, 15.4, 6.6),
]


@pytest.mark.parametrize(("t", "diameter", "depth", "skin"), CAM_TABLE)
def test_cam_housing(
    catalogue: Catalogue, t: float, diameter: float, depth: float, skin: float
) -> None:
    keys = ["cam-and-bolt-slim"] if t == 12 else ["cam-and-bolt-34", "cam-and-bolt-24"]
    for key in keys:
        found = bore(catalogue, key, "cam housing", "butting", t_butting=t)
        assert found == pytest.approx((diameter, depth))
        assert found[1] is not None
        assert t - found[1] == pytest.approx(skin)
        assert t - found[1] >= catalogue.fittings[key].limits.skin
        low, high = catalogue.fittings[key].limits.butting_thickness or (0, 0)
        assert low <= t <= high


def test_the_housing_of_a_makers_own_cam_is_as_deep_as_its_sizes_say(
    tmp_path: pathlib.Path,
) -> None:
    file = tmp_path / "own.yaml"
    said = "options: {height: 12.5, below: 0.36, setback: 24}"
    file.write_text(f"fittings:\n  own-cam: {{like: cam-and-bolt, {said}}}\n", encoding="utf-8")
    found, problems = load_catalogue([file])
    assert found is not None, problems
    assert bore(found, "own-cam", "cam housing", "butting", t_butting=16) == (15, 8 + 4.5)


@pytest.mark.parametrize(
    ("key", "setback", "channel", "radius"),
    [
        ("cam-and-bolt-24", 24, 8, 7.5),
        ("cam-and-bolt-34", 34, 8, 7.5),
        ("cam-and-bolt", 34, 8, 7.5),
        ("cam-and-bolt-34-insert", 34, 8, 7.5),
        ("cam-and-bolt-slim", 24, 7, 6.0),
    ],
)
def test_bolt_channel_reaches_the_housing(
    catalogue: Catalogue, key: str, setback: float, channel: float, radius: float
) -> None:
    # Source: setback 24 or 34; edge bore 8 (7 slim) at t/2, depth at least B less the radius.
    fitting = catalogue.fittings[key]
    numbers = fitting_numbers(fitting, t_butting=16, t_receiving=16)
    housing = next(
        n.at
        for r, n in zip(fitting.bores, numbers.bores, strict=True)
        if r.purpose == "cam housing"
    )
    assert housing == pytest.approx((0.0, 8.0, setback))
    diameter, depth = bore(catalogue, key, "bolt channel", "butting")
    assert diameter == channel
    assert depth is not None
    assert depth >= setback - radius


def test_bolt_seat(catalogue: Catalogue) -> None:
    # Source: bolt 5 x 11 to 12 in the face, or an insert 10 x 12 to 13.
    assert bore(catalogue, "cam-and-bolt-34", "bolt seat", "receiving") == (5, 12)
    assert bore(catalogue, "cam-and-bolt-34-insert", "insert seat", "receiving") == (10, 13)


@pytest.mark.parametrize("t", [15, 16, 18, 19, 22])
def test_the_bolt_runs_through_the_middle_of_the_cam(catalogue: Catalogue, t: float) -> None:
    """The cam on the bottom of its housing has its hollow where the bolt's head comes."""
    fitting = catalogue.fittings["cam-and-bolt-34"]
    numbers = fitting_numbers(fitting, t_butting=t, t_receiving=t)
    rule, top = next(
        (r, at)
        for r, at in zip(fitting.items, numbers.items, strict=True)
        if r.item == "cam-lock-15"
    )
    assert rule.out == "+j"
    assert top[1] <= t / 2  # never above the surface
    cam = catalogue.items["cam-lock-15"]
    bottom = top[1] + cam.pieces[0].z0
    assert bottom == pytest.approx(-4.4)  # where the housing ends
    hollow = cam.pieces[1]
    head = max(p.d0 for p in catalogue.items["cam-bolt-34"].pieces[-1:])
    assert top[1] + hollow.z0 <= -head / 2
    assert top[1] + hollow.z1 >= head / 2


@pytest.mark.parametrize(
    ("size", "face", "edge"),
    [("6x30", 10, 22), ("8x30", 12, 20), ("8x35", 12, 25), ("10x40", 13, 29)],
)
@pytest.mark.parametrize("finish", ["", "-glued"])
def test_dowel_bores(
    catalogue: Catalogue, size: str, face: float, edge: float, finish: str
) -> None:
    # Source: bore pairs face + edge, common practice.
    diameter, length = (float(n) for n in size.split("x"))
    key = f"dowel-{size}{finish}"
    assert bore(catalogue, key, "dowel", "receiving") == (diameter, face)
    assert bore(catalogue, key, "dowel", "butting") == (diameter, edge)
    dowel = catalogue.items[f"dowel-{size}"]
    stands_out, stands_in = dowel.pieces[-1].z1, -dowel.pieces[0].z0
    assert stands_out + stands_in == pytest.approx(length)
    assert 0.5 <= face - stands_out <= 2  # free at both ends
    assert 0.5 <= edge - stands_in <= 2


def test_a_shallower_face_bore_keeps_the_dowel_in_it(catalogue: Catalogue) -> None:
    fitting = catalogue.fittings["dowel-6x30"]
    fitting = fitting.model_copy(update={"options": {**fitting.options, "face_depth": 8.0}})
    numbers = fitting_numbers(fitting, t_butting=12, t_receiving=12)
    depths = [b.depth for b in numbers.bores]
    assert depths == [24, 8]
    tip = numbers.items[0][2] - catalogue.items["dowel-6x30"].pieces[-1].z1
    assert tip == pytest.approx(-(8 - 1))


@pytest.mark.parametrize(
    ("key", "clearance", "head", "pilot", "length"),
    [("connecting-screw-7x50", 7, 10, 5, 50), ("connecting-screw-5x40", 5, 7, 3.5, 40)],
)
def test_connecting_screw(
    catalogue: Catalogue, key: str, clearance: float, head: float, pilot: float, length: float
) -> None:
    # Source: from memory of Sydor and others 2023, Eur. J. Wood Prod. (7 mm geometry, pilot 5);
    # the rest: common practice, no source. The pilot is at least 1 deeper than the thread.
    assert bore(catalogue, key, "screw clearance", "receiving") == (clearance, None)
    assert bore(catalogue, key, "head bore", "receiving")[0] == head
    diameter, depth = bore(catalogue, key, "screw pilot", "butting", t_receiving=16)
    assert diameter == pilot
    assert depth is not None
    assert depth >= length - 16 + 1


@pytest.mark.parametrize("key", ["screw-3.5x35", "screw-4x45", "screw-4x50", "screw-5x60"])
def test_chipboard_screws_hold_twenty_five_and_have_a_deeper_pilot(
    catalogue: Catalogue, key: str
) -> None:
    # Source: pilot at least 1 deeper than the screw: from memory of the guidance of European
    # makers of MDF on screwing.
    fitting = catalogue.fittings[key]
    length = float(key.rpartition("x")[2])
    held = fitting.limits.receiving_thickness
    assert held is not None
    for t in held:
        _, depth = bore(catalogue, key, "screw pilot", "butting", t_receiving=t)
        assert depth is not None
        assert depth >= length - t + 1
        assert length - t >= 19


def test_groove_for_a_back(catalogue: Catalogue) -> None:
    # Source: back 7 into a groove 8 deep (608 + 2 x 7 = 622), common practice.
    numbers = fitting_numbers(
        catalogue.fittings["back-in-groove"], t_butting=4, t_receiving=18, sunk=7
    )
    assert numbers.groove_depth == pytest.approx(8)
    assert numbers.groove_width == pytest.approx(4.3)


def test_a_division_by_zero_is_not_a_crash(catalogue: Catalogue) -> None:
    fitting = catalogue.fittings["back-in-groove"].model_copy(update={"groove_depth": "1 / sunk"})
    with pytest.raises(ArithmeticError):
        fitting_numbers(fitting, t_butting=4, t_receiving=18, sunk=0)
