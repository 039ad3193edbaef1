"""Every file of a mitred box, read back by general libraries."""

from __future__ import annotations

import csv
import math
import pathlib

import ezdxf
import numpy as np
import pypdf
import pytest

from kdkit.geometry.surfaces import part_box
from kdkit.parts.volume import drilled_volume, prism_volume
from kdkit.pipeline import Request, build, check
from kdkit.publish.results import Results
from kdkit.publish.workshop import publish_workshop

BOX = """\
kdkit: 1
product: Mitred wall box
boards:
  carcass: {material: plywood-birch, thickness: 18}
  back: {material: hardboard, thickness: 3}
panels:
  left_side:
    board: carcass
    x: {from: 0}
    y: [0, 200]
    z: [0, 400]
    bevels: {top: {angle: 45, long: -x}, bottom: {angle: 45, long: -x}}
  right_side: {mirror: left_side, x: {to: 600}}
  bottom:
    board: carcass
    x: [0, 600]
    y: [0, 200]
    z: {from: 0}
    bevels: {left: {angle: 45, long: back}, right: {angle: 45, long: back}}
  top: {board: carcass, x: [0, 600], y: [0, 200], z: {to: 400}, bevels: {left: 45, right: 45}}
  back: {board: back, x: [11, 589], z: [11, 389], y: {from: 185}}
joints:
  - {join: [bottom, top], to: [left_side, right_side], fittings: [mitre-dowel-6x20]}
  - {join: back, to: [left_side, right_side, bottom, top], fittings: [back-in-groove]}
"""


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    path = tmp_path_factory.mktemp("mitred") / "box.yaml"
    path.write_text(BOX, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def results(file: pathlib.Path) -> Results:
    outcome = check(Request(file=file))
    assert outcome.results is not None, outcome.problems
    assert {p.code for p in outcome.problems} <= {"dead-ends"}
    return outcome.results


@pytest.fixture(scope="module")
def written(results: Results, file: pathlib.Path) -> pathlib.Path:
    folder = file.parent / "workshop"
    kinds = ["drawings", "dxf", "programs", "order", "gltf"]
    files, problems = publish_workshop(results, folder, kinds)
    assert files is not None
    told = [p.message for p in problems]
    assert len(told) == 2
    assert all(message.endswith("leave out 6 bores in bevelled edges") for message in told), told
    return folder


def test_gltf_meshes_are_closed(results: Results, written: pathlib.Path) -> None:
    trimesh = pytest.importorskip("trimesh")
    scene = trimesh.load(written / "product.glb")
    for part in results.assembly.parts:
        mesh = scene.geometry[part.name].copy()
        mesh.merge_vertices(merge_norm=True, merge_tex=True)
        assert mesh.is_watertight, part.name
        assert mesh.is_winding_consistent
        assert mesh.volume * 1e9 == pytest.approx(prism_volume(part), rel=1e-5)
        x0, y0, z0, x1, y1, z1 = part_box(part)
        wanted = np.array([[x0, z0, -y1], [x1, z1, -y0]]) / 1000
        assert np.allclose(mesh.bounds, wanted, atol=1e-5)


def test_step_solids_have_our_volumes(results: Results, tmp_path: pathlib.Path) -> None:
    cad = pytest.importorskip("build123d")
    files, problems = publish_workshop(results, tmp_path / "w", ["step"])
    assert files is not None, problems
    joinery = results.joinery
    for line in results.schedules.cut:
        part = results.assembly.part(line.parts[0])
        solid = cad.import_step(tmp_path / "w" / "step" / f"panel-{line.letter}.step")
        assert solid.is_valid
        ours = drilled_volume(
            part,
            [b for b in joinery.bores if b.part == part.name],
            [g for g in joinery.grooves if g.part == part.name],
        )
        assert solid.volume == pytest.approx(ours, rel=1e-6)


def test_dxf_shows_both_outlines_and_the_bores_of_the_slope(
    results: Results, written: pathlib.Path
) -> None:
    for line in results.schedules.cut:
        drawing = ezdxf.readfile(written / "dxf" / f"panel-{line.letter}.dxf")
        assert drawing.audit().errors == []
        space = drawing.modelspace()
        drilled = next((d for d in results.schedules.drilling if d.letter == line.letter), None)
        bores = drilled.bores if drilled is not None else ()
        assert len(space.query("CIRCLE")) == len(bores)
        if not line.bevels:
            continue
        widths = []
        for layer in ("face outline", "face outline of the other side"):
            (ring,) = space.query(f'LWPOLYLINE[layer=="{layer}"]')
            xs = [p[0] for p in ring.get_points()]
            widths.append(max(xs) - min(xs))
        assert sorted(widths) == pytest.approx([line.finished[0] - 36, line.finished[0]])
        notes = [t.dxf.text for t in space.query("TEXT")]
        assert sum("Bevel 45 degrees off square" in note for note in notes) == 4


def test_no_program_drills_a_bevel(written: pathlib.Path) -> None:
    programs = sorted(p.name for p in (written / "programs").glob("*.nc"))
    # The groove for the back is cut; there is nothing else in this box that may be made.
    assert programs == ["A-face-t51-groove.nc", "B-face-t51-groove.nc"]


def text_of(pdf: pathlib.Path) -> str:
    pages = pypdf.PdfReader(pdf).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_drawings_and_labels_name_the_bevels(written: pathlib.Path) -> None:
    drawings = text_of(written / "drawings.pdf")
    assert "bevel 45°, short point here" in drawings
    assert "Bevel 45° off square, seen square to its slope." in drawings
    labels = text_of(written / "labels.pdf")
    assert "right, left 45°, long at back" in labels


def test_the_manual_and_the_cut_list(file: pathlib.Path, tmp_path: pathlib.Path) -> None:
    outcome = build(Request(file=file), tmp_path / "out")
    assert outcome.results is not None, outcome.problems
    with (tmp_path / "out" / "cutlist.csv").open(encoding="utf-8-sig") as lines:
        rows = {row["Letter"]: row for row in csv.DictReader(lines)}
    sawn = [row for row in rows.values() if row["Bevels"]]
    assert {(r["Cut length (mm)"], r["Length at the short points (mm)"]) for r in sawn} == {
        ("600", "564"),
        ("400", "364"),
    }
    with (tmp_path / "out" / "drilling.csv").open(encoding="utf-8-sig") as lines:
        bores = [row for row in csv.DictReader(lines) if row["Kind"] == "bore"]
    down = {float(row["y (mm)"]) for row in bores}
    middle = 18 / math.sqrt(2)
    assert down <= {round(middle - 6.3, 2), round(middle + 6.3, 2)}
    assert {row["Angle to the surface (deg)"] for row in bores} == {"90"}
    manual = text_of(tmp_path / "out" / "manual.pdf")
    assert "aslant along the arrow" in manual
