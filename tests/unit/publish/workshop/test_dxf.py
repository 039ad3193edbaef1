"""DXF files read back: no faults, and the bores of the drilling table."""

from __future__ import annotations

import csv
import math
import pathlib
import re
from collections import Counter
from collections.abc import Callable

import ezdxf
import pytest

from kdkit.publish.files.tables import render_drilling, surface_words
from kdkit.publish.results import Results
from kdkit.publish.wording.messages import load_messages
from kdkit.publish.workshop import publish_workshop

ResultsOf = Callable[[str], Results]
EXAMPLES = ("bookcase", "low-cabinet", "hall-bench", "wardrobe")


@pytest.fixture(params=EXAMPLES)
def written(
    request: pytest.FixtureRequest, results_of: ResultsOf, tmp_path: pathlib.Path
) -> tuple[Results, pathlib.Path]:
    results = results_of(request.param)
    files, problems = publish_workshop(results, tmp_path / "w", ["dxf"])
    assert files is not None
    assert problems == ()
    return results, tmp_path / "w" / "dxf"


def read_bores(file: pathlib.Path) -> Counter[tuple[str, float, float, float, float, bool]]:
    """Return surface, x, y, diameter, depth and whether it goes through of every circle.

    x and y are measured along the two arms of the surface's datum mark, the longer of
    which is x. The words come out of the layer's name alone.
    """
    drawing = ezdxf.readfile(file)
    assert drawing.audit().errors == []
    assert drawing.units == ezdxf.units.MM
    space = drawing.modelspace()
    axes = {}
    for layer in {e.dxf.layer for e in space if e.dxf.layer.endswith(" datum")}:
        arms = sorted(
            space.query(f'LINE[layer=="{layer}"]'), key=lambda e: e.dxf.start.distance(e.dxf.end)
        )
        y_arm, x_arm = arms
        assert x_arm.dxf.start.isclose(y_arm.dxf.start)
        axes[layer.removesuffix(" datum")] = (
            x_arm.dxf.start,
            (x_arm.dxf.end - x_arm.dxf.start).normalize(),
            (y_arm.dxf.end - y_arm.dxf.start).normalize(),
        )
    found: Counter[tuple[str, float, float, float, float, bool]] = Counter()
    for circle in space.query("CIRCLE"):
        said = re.match(
            r"(.*) bore ([\d.]+) mm diameter (?:(through) ([\d.]+) mm|([\d.]+) mm deep)",
            circle.dxf.layer,
        )
        if said is None:
            assert circle.dxf.layer.endswith(" opening")
            continue
        surface, diameter, through, thick, deep = said.groups()
        start, along_x, along_y = axes[surface]
        place = circle.dxf.center - start
        assert circle.dxf.radius * 2 == pytest.approx(float(diameter), abs=0.005)
        found[
            (
                surface,
                round(place.dot(along_x), 2) + 0.0,
                round(place.dot(along_y), 2) + 0.0,
                float(diameter),
                float(thick or deep),
                through is not None,
            )
        ] += 1
    return found


def test_the_same_bores_as_the_drilling_table(written: tuple[Results, pathlib.Path]) -> None:
    results, folder = written
    table = render_drilling(results, load_messages("en"))
    wanted: dict[str, Counter[tuple[str, float, float, float, float, bool]]] = {}
    for row in csv.DictReader(table.removeprefix("\ufeff").splitlines()):
        if row["Kind"] == "bore":
            key = (
                row["Surface"],
                float(row["x (mm)"]),
                float(row["y (mm)"]),
                float(row["Diameter (mm)"]),
                float(row["Depth (mm)"]),
                row["Through"] == "yes",
            )
            wanted.setdefault(row["Letter"], Counter())[key] += 1
    assert sum(sum(c.values()) for c in wanted.values()) > 20
    for line in results.schedules.cut:
        found = read_bores(folder / f"panel-{line.letter}.dxf")
        assert found == wanted.get(line.letter, Counter()), line.letter


def test_outlines_have_the_finished_size(written: tuple[Results, pathlib.Path]) -> None:
    results, folder = written
    for line in results.schedules.cut:
        space = ezdxf.readfile(folder / f"panel-{line.letter}.dxf").modelspace()
        for surface in ("face", "back"):
            (outline,) = space.query(f'LWPOLYLINE[layer=="{surface} outline"]')
            points = list(outline.get_points("xy"))
            for axis in (0, 1):
                extent = max(p[axis] for p in points) - min(p[axis] for p in points)
                assert extent == pytest.approx(line.finished[axis])
        edges = [e for e in space.query("LWPOLYLINE") if e.dxf.layer.endswith(" edge outline")]
        assert len(edges) >= 4 or line.shaped
        for edge in edges:
            ys = [p[1] for p in edge.get_points("xy")]
            assert max(ys) - min(ys) == pytest.approx(line.thickness)


def test_the_layer_table_counts_every_entity(written: tuple[Results, pathlib.Path]) -> None:
    _, folder = written
    text = (folder / "layers.csv").read_text(encoding="utf-8").removeprefix("\ufeff")
    rows = list(csv.DictReader(text.splitlines()))
    for file in folder.glob("*.dxf"):
        listed = {
            row["Layer"]: int(row["Count"])
            for row in rows
            if row["Letter"] == file.stem.removeprefix("panel-")
        }
        drawing = ezdxf.readfile(file)
        assert Counter(e.dxf.layer for e in drawing.modelspace()) == listed
        assert set(listed) <= {layer.dxf.name for layer in drawing.layers}


def test_a_mirrored_pair_is_drawn_as_two(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    results = results_of("bookcase")
    publish_workshop(results, tmp_path / "w", ["dxf"])
    line = next(line for line in results.schedules.cut if line.pair)
    one, two = (
        ezdxf.readfile(tmp_path / "w" / "dxf" / f"panel-{letter}.dxf").modelspace()
        for letter in (line.letter, line.pair)
    )

    def face(space: object) -> set[tuple[float, float]]:
        return {
            (round(c.dxf.center.x, 2), round(c.dxf.center.y, 2))
            for c in space.query("CIRCLE")  # type: ignore[attr-defined]
            if c.dxf.layer.startswith("face bore")
        }

    assert face(one) == {(x, -y) for x, y in face(two)}
    assert face(one) != face(two)


def test_back_and_edges_are_seen_from_outside(results_of: ResultsOf) -> None:
    """A bore right through has mouths on face and back; turned over about x they meet."""
    from kdkit.schedule.views import list_views

    results = results_of("bookcase")
    for panel in list_views(results.resolved, results.joinery, results.plan, results.schedules):
        face, back = panel.view("face"), panel.view("back")
        assert face.y_down is not back.y_down
        part = results.resolved.part(panel.cut.parts[0])
        for view in panel.views:
            if not view.is_edge or not view.surface.removeprefix("edge:").isalpha():
                continue
            # The face's side of an edge lies up when y runs down, and x then runs to
            # the right only if it does so seen from outside.
            n = part.edge_sides.index(view.surface.removeprefix("edge:"))
            (ax, ay), (bx, by) = part.outline[n], part.outline[(n + 1) % len(part.outline)]
            length = math.dist((ax, ay), (bx, by))
            # Seen from outside with the face up, a counter-clockwise outline runs right.
            right = ((bx - ax) / length, (by - ay) / length)
            runs = panel.y_runs if abs(right[1]) > 0.5 else panel.x_runs
            ends = (panel.cut.x_ends, panel.cut.y_ends)[abs(right[1]) > 0.5]
            towards = ends[1] if sum(right) > 0 else ends[0]
            assert view.y_down is (runs == towards), (panel.letter, view.surface)


def test_the_same_bytes_twice(results_of: ResultsOf, tmp_path: pathlib.Path) -> None:
    results = results_of("low-cabinet")
    for name in ("one", "two"):
        publish_workshop(results, tmp_path / name, ["dxf", "xlsx"])
    files = sorted(p for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert len(files) > 5
    for file in files:
        twin = tmp_path / "two" / file.relative_to(tmp_path / "one")
        assert file.read_bytes() == twin.read_bytes(), file.name


def test_layers_name_slanted_and_home_bores() -> None:
    from dataclasses import replace

    from kdkit.publish.workshop.exchange.dxf import render_dxf
    from kdkit.publish.workshop.job import WorkshopJob
    from kdkit.schedule.schedules import DrillLine
    from kdkit.schedule.views import list_views
    from tests import handmade

    results = handmade.results()
    panels = list_views(results.resolved, results.joinery, results.plan, results.schedules)
    view = panels[0].view("face")
    slanted = DrillLine(
        surface="face", x=100, y=30, diameter=9.5, depth=45, through=False, purpose="pocket",
        stage="home", fastener=None, spare=False, angle_deg=15, towards_deg=270,
    )  # fmt: skip
    panel = replace(panels[0], views=(replace(view, bores=(slanted,)),))
    machine = results.catalogue.machines["router"]
    job = WorkshopJob(
        results=results, panels=(panel,), messages=load_messages("en"), paper="a4", machine=machine
    )
    text, _ = render_dxf(panel, job)
    assert (
        "face bore 9.5 mm diameter 45 mm deep at 15 degrees to the surface towards 270 degrees"
        " drilled at home"
    ) in text
    assert surface_words(job.messages, "face") == "face"


def test_slots_are_drawn_listed_and_left_out_of_the_programs() -> None:
    from dataclasses import replace

    from kdkit.publish.workshop.drawings.drawing_set import draw_panels
    from kdkit.publish.workshop.exchange.dxf import render_dxf
    from kdkit.publish.workshop.job import WorkshopJob
    from kdkit.publish.workshop.programs.program_blocks import left_out
    from kdkit.schedule.schedules import SlotLine
    from kdkit.schedule.views import list_views
    from tests import handmade

    results = handmade.results()
    panel = list_views(results.resolved, results.joinery, results.plan, results.schedules)[0]
    slot = SlotLine(
        surface="face", start=(100, 40), end=(156, 40), width=4, depth=12, disc=100,
        purpose="biscuit slot", stage="workshop", fastener=None,
    )  # fmt: skip
    panel = replace(panel, views=tuple(replace(v, slots=(slot,) if v.surface == "face" else ())
                                       for v in panel.views))  # fmt: skip
    machine = results.catalogue.machines["router"]
    job = WorkshopJob(
        results=results, panels=(panel,), messages=load_messages("en"), paper="a4", machine=machine
    )
    text, counts = render_dxf(panel, job)
    (layer,) = (layer for layer in counts if layer.kind == "slot")
    assert layer.name == "face slot 4 mm wide 12 mm deep"
    assert layer.name in text
    texts = [t for sheet in draw_panels(job) for t, _ in sheet.texts]
    assert "1 × slot 56 × 4 × 12" in texts
    assert "slot 56 × 4 × 12" in texts
    assert left_out(panel, machine)["slot:disc"] == 1
