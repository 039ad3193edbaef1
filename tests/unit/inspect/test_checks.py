"""Each check: a product that breaks exactly one rule, and one that just keeps it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from kdkit.catalogue.entries import Catalogue
from kdkit.diagnostics import CODES, Problem, Severity
from kdkit.frames import Vec3
from kdkit.geometry import assemble
from kdkit.inspect import CHECKS, inspect_product
from kdkit.inspect.crossings import bores_cross
from kdkit.joinery import Bore, place_fittings
from kdkit.model.resolved import (
    FittingPlacement,
    HandBoreSpec,
    Part,
    ResolvedFixture,
    ResolvedJoint,
    RowsSpec,
)
from kdkit.model.says import Product, Safety
from tests.boxes import board
from tests.cabinets import built_in, fixture, joint, resolved, use

SIDE = board("side", (0, 0, 0), (18, 300, 600))
SHELF = board("shelf", (18, 0, 300), (518, 300, 318))


def inspect(
    parts: Sequence[Part],
    joints: Sequence[ResolvedJoint] = (),
    fixtures: Sequence[ResolvedFixture] = (),
    *,
    safety: Safety | None = None,
    catalogue: Catalogue | None = None,
) -> tuple[Problem, ...]:
    """Take parts, joints and fixtures through geometry and joinery to the checks."""
    product = resolved(parts, joints, fixtures)
    settled = safety or Safety(wall_restraint="none")
    product = replace(product, said=Product(product="Test piece", safety=settled))
    catalogue = catalogue or built_in()
    assembly, problems = assemble(product)
    assert assembly is not None, problems
    joinery, problems = place_fittings(product, assembly, catalogue)
    assert joinery is not None, problems
    found = inspect_product(product, assembly, joinery, catalogue)
    # The blocks of these tests have thicknesses that no board is made in.
    return tuple(problem for problem in found if problem.code != "board-thickness")


def two(
    *fittings: FittingPlacement,
    side: Part = SIDE,
    shelf: Part = SHELF,
    safety: Safety | None = None,
) -> list[str]:
    """Return the codes for a shelf joined to a side."""
    return codes(inspect((side, shelf), (joint("shelf", "side", *fittings),), safety=safety))


def codes(problems: Sequence[Problem]) -> list[str]:
    return [p.code for p in problems]


def only(problems: Sequence[Problem], code: str) -> Problem:
    assert codes(problems) == [code], problems
    return problems[0]


def hand_bore(mouth: Vec3, into: Vec3 = (0, 0, -1), **more: object) -> HandBoreSpec:
    """A bore typed by hand, Ø8 × 10 if nothing else is said; panel frame."""
    said: dict[str, object] = {
        "diameter": 8.0,
        "depth": 10.0,
        "through": False,
        "purpose": "cable",
        "mate": None,
        "path": ("panels", "side", "bores", 0),
    }
    return HandBoreSpec(mouth=mouth, into=into, **{**said, **more})  # type: ignore[arg-type]


def drilled(*bores: HandBoreSpec, part: Part = SIDE) -> list[Problem]:
    """Return what is found when these bores are drilled in a side that bears a glued shelf."""
    other = SHELF if part.name == "side" else SIDE
    joints = (joint("shelf", "side", use("glued")),)
    return list(inspect((replace(part, bores=bores), other), joints))


def test_a_sound_product_has_no_problems() -> None:
    assert two(use("cam-and-bolt"), use("dowel-8x35")) == []


def test_every_check_is_listed_once() -> None:
    assert len(set(CHECKS)) == len(CHECKS)


class TestParts:
    def test_overlap(self) -> None:
        post = board("post", (100, 100, 200), (160, 160, 400))
        problem = only(
            inspect(
                (SIDE, SHELF, replace(post, loose=True)),
                (joint("shelf", "side", use("glued")),),
                (fixture("screw-on-foot", "side", carries=("post",), at=((18, 150, 100),)),),
            ),
            "parts-overlap",
        )
        assert problem.path == ("panels", "post") or problem.path == ("panels", "shelf")
        assert "shelf" in problem.where
        assert "post" in problem.where
        assert "64.8 cm³" in problem.message

    @pytest.mark.parametrize(("sunk", "expected"), [(0.01, []), (0.05, ["parts-overlap"])])
    def test_how_much_is_an_overlap(self, sunk: float, expected: list[str]) -> None:
        lying = board("lying", (100, 0, 318 - sunk), (200, 300, 336 - sunk))
        found = inspect(
            (SIDE, SHELF, replace(lying, loose=True)),
            (joint("shelf", "side", use("glued")),),
            (fixture("screw-on-foot", "side", carries=("lying",), at=((18, 150, 100),)),),
        )
        assert codes(found) == expected

    def test_a_back_in_its_groove_does_not_overlap(self) -> None:
        back = board("back", (10, 280, 0), (500, 283, 600), material="hardboard")
        grooved = (joint("back", "side", use("back-in-groove")),)
        assert codes(inspect((SIDE, back), grooved)) == []

    def test_a_sunk_edge_without_its_groove_overlaps(self) -> None:
        back = board("back", (10, 280, 0), (500, 283, 600), material="hardboard")
        problem = only(
            inspect((SIDE, back), (joint("back", "side", use("bare")),)), "parts-overlap"
        )
        assert problem.where == "side, back"

    def test_a_part_joined_to_nothing(self) -> None:
        rail = board("rail", (18, 0, 0), (518, 18, 80))
        found = inspect((SIDE, SHELF, rail), (joint("shelf", "side", use("glued")),))
        problem = only(found, "part-not-joined")
        assert (problem.path, problem.severity) == (("panels", "rail"), Severity.ERROR)
        assert two(use("glued")) == []

    def test_two_pieces(self) -> None:
        far = board("far", (900, 0, 0), (918, 300, 600))
        tray = board("tray", (918, 0, 300), (1418, 300, 318))
        joints = (joint("shelf", "side", use("glued")), joint("tray", "far", use("glued")))
        problem = only(inspect((SIDE, SHELF, far, tray), joints), "parts-in-two-pieces")
        assert problem.where == "far, tray"
        in_unit = (SIDE, SHELF, replace(far, unit="drawer"), replace(tray, unit="drawer"))
        assert codes(inspect(in_unit, joints)) == []

    def test_a_loose_part_must_lie_on_something(self) -> None:
        joints = (joint("shelf", "side", use("glued")),)
        lying = board("lying", (100, 0, 318), (200, 300, 336), loose=True)
        assert codes(inspect((SIDE, SHELF, lying), joints)) == []
        hanging = board("hanging", (100, 0, 330), (200, 300, 348), loose=True)
        problem = only(inspect((SIDE, SHELF, hanging), joints), "loose-part-not-carried")
        assert problem.path == ("panels", "hanging")


class TestJoints:
    @pytest.mark.parametrize(("t", "expected"), [(12, []), (11, ["fitting-thickness"])])
    def test_thickness(self, t: float, expected: list[str]) -> None:
        shelf = board("shelf", (18, 0, 300), (518, 300, 300 + t))
        found = inspect((SIDE, shelf), (joint("shelf", "side", use("dowel-6x30")),))
        wanted = [p for p in found if p.code == "fitting-thickness"]
        assert [p.code for p in wanted] == expected
        for problem in wanted:
            assert "11 mm of board" in problem.message
            assert problem.where == "shelf to side"

    def test_family(self) -> None:
        side = board("side", (0, 0, 0), (18, 300, 600), material="particleboard-p2")
        found = inspect((side, SHELF), (joint("shelf", "side", use("nailed-2.5x55")),))
        assert set(codes(found)) == {"fitting-family"}
        timber = [replace(p, material="plywood-birch") for p in (side, SHELF)]
        nailed = (joint("shelf", "side", use("nailed-2.5x55")),)
        assert codes(inspect(timber, nailed)) == []

    @pytest.mark.parametrize(("second", "expected"), [(132, []), (130, ["pitch-too-small"])])
    def test_small_pitch(self, second: float, expected: list[str]) -> None:
        assert two(use("dowel-8x35", at=(100.0, second))) == expected

    @pytest.mark.parametrize(("most", "expected"), [(300, []), (299, ["pitch-too-large"])])
    def test_large_pitch(self, most: float, expected: list[str]) -> None:
        catalogue = built_in()
        fitting = catalogue.fittings["dowel-8x35"]
        limits = fitting.limits.model_copy(update={"pitch": (32, most)})
        fittings = {
            **catalogue.fittings,
            "dowel-8x35": fitting.model_copy(update={"limits": limits}),
        }
        wide = board("shelf", (18, 0, 300), (518, 400, 318))
        side = board("side", (0, 0, 0), (18, 400, 600))
        found = inspect(
            (side, wide),
            (joint("shelf", "side", use("dowel-8x35", at=(50.0, 350.0))),),
            catalogue=catalogue.model_copy(update={"fittings": fittings}),
        )
        assert codes(found) == expected

    def test_end_distance(self) -> None:
        least = built_in().fittings["screw-4x50"].limits.end_distance
        assert least is not None
        assert two(use("screw-4x50", at=(least, -100.0))) == []
        assert two(use("screw-4x50", at=(least - 0.5, -100.0))) == ["end-distance-small"]


class TestBores:
    @pytest.mark.parametrize(
        ("depth", "expected"),
        [(15, []), (15.5, ["bore-skin-thin"]), (17.9, ["bore-skin-thin"]), (18, ["bore-too-deep"])],
    )
    def test_depth(self, depth: float, expected: list[str]) -> None:
        found = drilled(hand_bore((100, 100, 0), depth=float(depth)))
        assert codes(found) == expected
        for problem in found:
            assert problem.path == ("panels", "side", "bores", 0)
            assert problem.where == "side, face, cable bore at (18, 100, 100)"

    def test_a_through_bore_has_no_skin(self) -> None:
        assert drilled(hand_bore((100, 100, 0), depth=18.0, through=True)) == []

    @pytest.mark.parametrize(
        ("y", "expected"),
        [(7.0, []), (6.9, ["bore-near-edge"]), (4, ["bore-near-edge"]), (3.9, ["bore-breaks-out"])],
    )
    def test_edge(self, y: float, expected: list[str]) -> None:
        assert codes(drilled(hand_bore((100, y, 0)))) == expected

    def test_an_edge_bore_breaks_out_of_the_face(self) -> None:
        off = hand_bore((100, 0, -3), (0, 1, 0), depth=20.0)
        problem = only(drilled(off), "bore-breaks-out")
        assert "1 mm out of the face" in problem.message
        assert drilled(hand_bore((100, 0, -4), (0, 1, 0), depth=20.0)) == []

    def test_a_bore_into_an_opening(self) -> None:
        opening = ((150.0, 150.0), (250.0, 150.0), (250.0, 200.0), (150.0, 200.0))
        side = replace(SIDE, cutouts=(opening,))
        found = drilled(hand_bore((147, 170, 0)), part=side)
        assert "opening" in only(found, "bore-breaks-out").message

    # Source: 8 in 15 to 19, at most half the board: common practice, to half a millimetre.
    @pytest.mark.parametrize(("t", "expected"), [(16, []), (15, []), (14, ["dowel-too-thick"])])
    def test_dowel_in_a_thin_board(self, t: float, expected: list[str]) -> None:
        shelf = board("shelf", (18, 0, 300), (518, 300, 300 + t))
        found = inspect((SIDE, shelf), (joint("shelf", "side", use("dowel-8x35", at=(150.0,))),))
        assert [p.code for p in found if p.code == "dowel-too-thick"] == expected

    def test_hand_bores_that_meet(self) -> None:
        end = hand_bore(
            (0, 100, -9),
            (1, 0, 0),
            purpose="dowel",
            depth=25.0,
            mate="side",
            path=("panels", "shelf", "bores", 0),
        )
        # the shelf's end at (18, 100, 309) in the product; the side's frame is (y, z, x)
        face = hand_bore((100, 309, 0), purpose="dowel", depth=12.0, mate="shelf")
        joints = (joint("shelf", "side", use("glued")),)

        def found(here: HandBoreSpec, *there: HandBoreSpec) -> tuple[Problem, ...]:
            parts = replace(SHELF, bores=(here,)), replace(SIDE, bores=there)
            return inspect(parts, joints)

        assert found(end, face) == ()
        problem = only(found(end), "bore-without-mate")
        assert (problem.path, problem.severity) == (end.path, Severity.ERROR)
        shifted = replace(face, mouth=(100.5, 309.0, 0.0))
        both = found(end, shifted)
        assert codes(both) == ["bore-without-mate"] * 2
        assert all("0.5 mm off its line" in p.message for p in both)
        alone = only(found(replace(end, mate=None)), "bore-without-mate")
        assert alone.severity is Severity.WARNING
        assert found(replace(end, mate=None, purpose="cable")) == ()


class TestCrossings:
    @pytest.mark.parametrize(("apart", "expected"), [(8.0, []), (7.9, ["bore-crosses-bore"])])
    def test_side_by_side(self, apart: float, expected: list[str]) -> None:
        found = drilled(hand_bore((100, 100, 0)), hand_bore((100 + apart, 100, 0)))
        assert codes(found) == expected

    @pytest.mark.parametrize(("depth", "expected"), [(8.0, []), (8.1, ["bore-crosses-bore"])])
    def test_from_both_sides(self, depth: float, expected: list[str]) -> None:
        below = hand_bore((100, 100, -18), (0, 0, 1), depth=depth, diameter=6.0)
        assert codes(drilled(hand_bore((100, 100, 0)), below)) == expected

    @pytest.mark.parametrize(("length", "expected"), [(96.0, []), (96.1, ["bore-crosses-bore"])])
    def test_an_edge_bore_that_reaches_a_face_bore(
        self, length: float, expected: list[str]
    ) -> None:
        along = hand_bore((100, 0, -9), (0, 1, 0), depth=length)
        assert codes(drilled(hand_bore((100, 100, 0)), along)) == expected

    def test_a_counterbore_is_meant(self) -> None:
        wide = hand_bore((100, 100, 0), diameter=12.0, depth=5.0)
        through = hand_bore((100, 100, 0), diameter=5.0, depth=18.0, through=True)
        assert drilled(wide, through) == []

    def test_what_is_wrong_alike_is_told_once(self) -> None:
        row = [hand_bore((100.0 + 50 * n, 100, 0), depth=16.0) for n in range(4)]
        problem = only(drilled(*row), "bore-skin-thin")
        assert problem.where == "side, face, cable bore at (18, 100, 100), and 3 more like it"

    def test_a_cam_housing_may_meet_its_own_edge_bore_only(self) -> None:
        assert two(use("cam-and-bolt", at=(150.0,))) == []
        crossed = two(use("cam-and-bolt", at=(150.0,)), use("dowel-8x35", at=(145.0,)))
        assert set(crossed) == {"bore-crosses-bore", "cam-near-dowel"}

    @pytest.mark.parametrize(("y", "expected"), [(274.7, []), (275.0, ["bore-crosses-groove"])])
    def test_groove(self, y: float, expected: list[str]) -> None:
        # the groove is 3.3 wide about y = 281.5, so it begins at 279.85
        back = board("back", (10, 280, 0), (500, 283, 600), material="hardboard")
        side = replace(SIDE, bores=(hand_bore((y + 1, 100, 0)),))
        found = inspect((side, back), (joint("back", "side", use("back-in-groove")),))
        assert codes(found) == expected

    def test_a_bore_from_the_other_side_passes_under_a_groove(self) -> None:
        back = board("back", (10, 280, 0), (500, 283, 600), material="hardboard")
        joints = (joint("back", "side", use("back-in-groove")),)
        for depth, expected in ((8.5, []), (9.5, ["bore-crosses-groove"])):
            bore = hand_bore((281.5, 100, -18), (0, 0, 1), depth=depth)
            assert codes(inspect((replace(SIDE, bores=(bore,)), back), joints)) == expected

    def test_slanted_bores(self) -> None:
        def bore(mouth: Vec3, into: Vec3, depth: float) -> Bore:
            return Bore(
                part="p",
                surface="face",
                mouth=mouth,
                into=into,
                diameter=6.0,
                depth=depth,
                through=False,
                purpose="bore",
                path=(),
            )

        down = bore((0, 0, 0), (0, 0, -1), 15.0)
        slanted = (0.6, 0.0, -0.8)
        assert bores_cross(down, bore((-10, 0, 0), slanted, 20.0))
        assert not bores_cross(down, bore((-10, 0, 0), slanted, 6.0))
        assert not bores_cross(down, bore((-10, 6.1, 0), slanted, 20.0))


class TestFasteners:
    def test_a_screw_comes_out(self) -> None:
        # face to face: 18 held, so 17 of a 35 screw stand in the second board
        def doubled(t: float) -> list[Problem]:
            doubler = board("doubler", (18, 0, 0), (18 + t, 300, 600))
            screws = (joint("doubler", "side", use("screw-3.5x35", at=(150.0,))),)
            found = inspect((SIDE, doubler), screws)
            return [p for p in found if p.code == "fastener-comes-out"]

        assert doubled(17) == []
        problem = doubled(16)[0]
        assert "by 1 mm" in problem.message
        assert problem.where == "doubler to side"
        assert problem.severity is Severity.ERROR

    def test_a_nail_holds_two_thirds(self) -> None:
        # 1.4 × 25 through a back of 8: 17 in the side, a third of 25 is 8.33
        def back(t: float) -> list[str]:
            laid_on = board("back", (0, 300, 0), (500, 300 + t, 600), material="hardboard")
            found = inspect((SIDE, laid_on), (joint("back", "side", use("back-nailed")),))
            return [p.code for p in found if p.code != "fitting-thickness"]

        assert back(8.0) == []
        assert back(9.0) == ["fastener-holds-little"]

    def test_a_screw_holds_four_diameters(self) -> None:
        def shelf(t: float) -> list[Problem]:
            side = board("side", (18 - t, 0, 0), (18, 300, 600))
            found = inspect((side, SHELF), (joint("shelf", "side", use("screw-3.5x35")),))
            return [p for p in found if p.code != "fitting-thickness"]

        assert shelf(21.0) == []
        problem = only(shelf(21.5), "fastener-holds-little")
        assert "13.5 mm in shelf, 14 mm is the least" in problem.message
        assert "no rating" in problem.message


class TestStability:
    def test_restraint(self) -> None:
        def tall(height: float, **safety: object) -> tuple[Problem, ...]:
            side = board("side", (0, 0, 0), (18, 300, height))
            return inspect(
                (side, SHELF),
                (joint("shelf", "side", use("glued")),),
                safety=Safety(**safety),  # type: ignore[arg-type]
            )

        assert tall(685) == ()
        assert only(tall(686), "restraint-missing").severity is Severity.ADVICE
        assert tall(686, wall_restraint="none") == ()
        required = only(tall(500, wall_restraint="required"), "restraint-missing")
        assert required.severity is Severity.WARNING
        assert required.path == ("safety", "wall_restraint")

    def test_clothing_storage_is_judged_by_height_and_mass(self) -> None:
        def chest(mass: float) -> list[str]:
            side = board("side", (0, 0, 0), (18, 300, 700))
            block = replace(SHELF, mass=mass, material=None, kind="bought")
            safety = Safety(wall_restraint="none", clothing_storage=True, heavy_part=100)
            joints = (joint("shelf", "side", use("glued")),)
            found = codes(inspect((side, block), joints, safety=safety))
            return [c for c in found if c not in ("clothing-storage", "cannot-be-glued")]

        side_mass = 18 * 300 * 700 * 650e-9
        assert chest(13.5 - side_mass) == []
        assert chest(13.7 - side_mass) == ["restraint-missing"]

    def test_a_restraint_wants_a_board(self) -> None:
        def top(t: float) -> list[str]:
            lid = board("shelf", (18, 0, 300), (518, 300, 300 + t))
            edge = fixture("tip-restraint", "shelf", at=((518, 150, 300 + t / 2),), face="right")
            joints = (joint("shelf", "side", use("glued")),)
            found = inspect((SIDE, lid), joints, (edge,))
            return [p.code for p in found if p.code.startswith("restraint")]

        assert top(15) == []
        assert top(14) == ["restraint-board-thin"]

    def test_heavy_parts(self) -> None:
        joints = (joint("shelf", "side", use("glued")),)

        def weighed(mass: float) -> tuple[Problem, ...]:
            return inspect((SIDE, replace(SHELF, mass=mass)), joints)

        assert weighed(14.9) == ()
        problem = only(weighed(15.0), "part-heavy")
        assert (problem.path, problem.severity) == (("panels", "shelf"), Severity.ADVICE)

    def test_shelf_sag(self) -> None:
        other = board("other", (518, 0, 0), (536, 300, 600))
        joints = tuple(joint("shelf", s, use("glued")) for s in ("side", "other"))

        def loaded(load: float) -> tuple[Problem, ...]:
            safety = Safety(wall_restraint="none", load_per_shelf=load)
            return inspect((SIDE, SHELF, other), joints, safety=safety)

        # 1.5 · 5·w·L⁴ / 384·E·I = L/200 with L 500, E 1600, I = 300·18³/12, own mass counted
        limit = 2.5 / 1.5 * 384 * 1600 * (300 * 18**3 / 12) / (5 * 500**3) / 9.81
        own = 500 * 300 * 18 * 650e-9
        assert loaded(limit * 0.999 - own) == ()
        problem = only(loaded(limit * 1.001 - own), "shelf-sags")
        assert problem.path == ("panels", "shelf")
        assert "E = 1600" in problem.help

    def test_a_loose_shelf_sags_between_its_supports(self) -> None:
        other = board("other", (518, 0, 0), (536, 300, 600))
        top = board("top", (18, 0, 582), (518, 300, 600))
        shelf = board("shelf", (19, 0, 300), (517, 300, 318), loose=True)
        rows = RowsSpec(front=37, back=37, first=297.5, last=400, pitch=32)
        supports = fixture("shelf-support-5", "side", "other", rows=rows, carries=("shelf",))
        joints = tuple(joint("top", s, use("cam-and-bolt", opens="-z")) for s in ("side", "other"))
        safety = Safety(wall_restraint="none", load_per_shelf=60)
        found = inspect((SIDE, other, top, shelf), joints, (supports,), safety=safety)
        assert {p.code for p in found} == {"shelf-sags"}
        assert "shelf" in [p.where for p in found]


def test_all_codes_of_the_stage_are_in_the_table() -> None:
    assert {"parts-overlap", "shelf-sags", "bore-crosses-groove"} <= set(CODES)
