"""The drilling table read as a maker reads it: every bore found again in the product.

Only the table's words and numbers are used, and the box in which each part stands; the
panel frames, datums and edges of the program are not.

Source: coordinate geometry; the side words as the manual explains them (front is y = 0,
left is x = 0, bottom is z = 0 of the finished product).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import pytest

from kdkit.joinery.placed import Bore
from kdkit.publish.files.tables import render_cut_list, render_drilling, render_hardware
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from tests.product_files import results_of

Point = tuple[float, float, float]
Box = tuple[Point, Point]

SIDES = {"left": (0, 0), "right": (0, 1), "front": (1, 0), "back": (1, 1)}
SIDES |= {"bottom": (2, 0), "top": (2, 1)}
WAYS = {"to the left": "left", "to the right": "right", "to the front": "front"}
WAYS |= {"to the back": "back", "up": "top", "down": "bottom"}


@pytest.fixture(
    scope="module", params=["bookcase", "low-cabinet", "hall-bench", "two-doors", "wardrobe"]
)
def results(request: pytest.FixtureRequest) -> Results:
    return results_of(request.param)


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))


def boxes(results: Results) -> dict[str, Box]:
    """Return the box of every part whose sides are square to the product."""
    found = {}
    for part in results.assembly.parts:
        if any(abs(c) not in (0.0, 1.0) for axis in (part.frame.i, part.frame.j) for c in axis):
            continue
        corners = [
            part.frame.point_to_outer((x, y, z))
            for x, y in part.outline
            for z in (0.0, -part.thickness)
        ]
        low = (min(p[0] for p in corners), min(p[1] for p in corners), min(p[2] for p in corners))
        high = (max(p[0] for p in corners), max(p[1] for p in corners), max(p[2] for p in corners))
        found[part.name] = (low, high)
    return found


def place(row: dict[str, str], box: Box) -> tuple[Point, Point]:
    """Return mouth and direction of a square bore from its row and its part's box."""
    point = [0.0, 0.0, 0.0]
    looks = SIDES[WAYS[row["Face looks"]]]
    for word in row["Datum corner"].removesuffix(" corner").split():
        axis, far = SIDES[word]
        point[axis] = box[far][axis]
    point[looks[0]] = box[looks[1]][looks[0]]

    def go(way: str, by: float) -> None:
        axis, far = SIDES[WAYS[way]]
        point[axis] += by if far else -by

    into = [0.0, 0.0, 0.0]
    go(row["x runs"], float(row["x (mm)"]))
    surface = row["Surface"]
    if surface in ("face", "back"):
        go(row["y runs"], float(row["y (mm)"]))
        at_back = surface == "back"
        point[looks[0]] = box[looks[1] ^ at_back][looks[0]]
        into[looks[0]] = 1.0 if (looks[1] == 0) != at_back else -1.0
    else:
        assert row["y runs"] == "from the face in"
        point[looks[0]] += float(row["y (mm)"]) * (-1 if looks[1] else 1)
        axis, far = SIDES[surface.removesuffix(" edge")]
        point[axis] = box[far][axis]
        into[axis] = -1.0 if far else 1.0
    return (point[0], point[1], point[2]), (into[0], into[1], into[2])


def square_bores(results: Results) -> Iterator[tuple[dict[str, str], Point, Point]]:
    placed = boxes(results)
    for row in read(render_drilling(results, load_messages("en"))):
        named = row["Surface"] in ("face", "back") or not row["Surface"][5:6].isdigit()
        square = row["Kind"] == "bore" and row["Angle to the surface (deg)"] == "90"
        if row["Sides named on part"] in placed and named and square:
            yield row, *place(row, placed[row["Sides named on part"]])


def in_product(results: Results, bore: Bore) -> Point:
    return results.assembly.part(bore.part).frame.point_to_outer(bore.mouth)


def near(a: Point, b: Point) -> bool:
    # Two decimals in the table: 0.005 each way, and the same again from the box.
    return all(abs(p - q) <= 0.011 for p, q in zip(a, b, strict=True))


def test_every_row_is_a_bore_of_its_part(results: Results) -> None:
    found = 0
    for row, mouth, into in square_bores(results):
        part = row["Sides named on part"]
        same = [
            bore
            for bore in results.joinery.bores
            if bore.part == part
            and near(in_product(results, bore), mouth)
            and abs(bore.diameter - float(row["Diameter (mm)"])) < 0.006
        ]
        assert same, (part, row)
        frame = results.assembly.part(part).frame
        assert any(near(frame.vector_to_outer(bore.into), into) for bore in same)
        found += 1
    assert found > 30


def test_every_bore_of_a_listed_part_has_a_row(results: Results) -> None:
    table = read(render_drilling(results, load_messages("en")))
    for part in {row["Sides named on part"] for row in table}:
        rows = [r for r in table if r["Sides named on part"] == part and r["Kind"] == "bore"]
        assert len(rows) == sum(bore.part == part for bore in results.joinery.bores)


def test_bores_that_share_a_dowel_or_bolt_lie_on_one_line(results: Results) -> None:
    """Mouths of two mates are the same point, and they run opposite ways."""
    bores = [(row, mouth, into) for row, mouth, into in square_bores(results)]
    parts = {row["Sides named on part"] for row, _, _ in bores}
    checked = 0
    for row, mouth, into in bores:
        mates = [
            other
            for other, at, way in bores
            if near(at, mouth) and near(way, (-into[0], -into[1], -into[2]))
        ]
        if row["Purpose"] not in ("dowel", "bolt channel", "bolt seat"):
            continue
        # Its mate may lie in a part that shares a letter with another one.
        partner = {
            bore.part
            for bore in results.joinery.bores
            if near(in_product(results, bore), mouth) and bore.part != row["Sides named on part"]
        }
        assert partner, row
        if partner <= parts:
            wanted = {"dowel": "dowel", "bolt channel": "bolt seat", "bolt seat": "bolt channel"}
            assert wanted[row["Purpose"]] in {m["Purpose"] for m in mates}, row
            checked += 1
    assert checked >= 8


def test_a_mirrored_pair_shows_the_same_numbers(results: Results) -> None:
    cut = {row["Letter"]: row for row in read(render_cut_list(results, load_messages("en")))}
    table = read(render_drilling(results, load_messages("en")))
    pairs = {(a, row["Mirror image of"]) for a, row in cut.items() if row["Mirror image of"]}
    if not pairs:
        pytest.skip("no mirrored parts in this product")
    same = ("Surface", "Kind", "x (mm)", "y (mm)", "Diameter (mm)", "Depth (mm)", "Purpose")
    for a, b in pairs:
        first, second = (
            sorted(tuple(r[k] for k in same) for r in table if r["Letter"] == x) for x in (a, b)
        )
        assert first == second, (a, b)
        assert cut[a]["Finished length (mm)"] == cut[b]["Finished length (mm)"]


def test_the_tables_open_in_a_spreadsheet(results: Results) -> None:
    """RFC 4180: CRLF, the same number of fields in every record; a mark for UTF-8."""
    for render in (render_cut_list, render_drilling, render_hardware):
        text = render(results, load_messages("en"))
        assert text.startswith("\ufeff")
        assert text.endswith("\r\n")
        rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
        assert len({len(row) for row in rows}) == 1
        assert len(set(rows[0])) == len(rows[0])
        assert all(rows[0])
