"""glTF and STEP files read back by general libraries (trimesh, build123d on OCP)."""

from __future__ import annotations

import pathlib
from dataclasses import replace

import numpy as np
import pytest

from kdkit.frames import PRODUCT
from kdkit.geometry.surfaces import part_box
from kdkit.joinery.placed import Bore, Groove, Slot
from kdkit.model.resolved import Part, RoundCutOut
from kdkit.parts.volume import drilled_volume, prism_volume
from kdkit.publish.results import Results
from kdkit.publish.workshop import folder as workshop_folder
from kdkit.publish.workshop import publish_workshop
from tests.bevelled import plate
from tests.product_files import results_of


@pytest.fixture(
    scope="module", params=["bookcase", "low-cabinet", "hall-bench", "two-doors", "wardrobe"]
)
def results(request: pytest.FixtureRequest) -> Results:
    return results_of(request.param)


def test_gltf_holds_every_part_in_its_place(results: Results, tmp_path: pathlib.Path) -> None:
    trimesh = pytest.importorskip("trimesh")
    for name in ("one", "two"):
        publish_workshop(results, tmp_path / name, ["gltf"])
    file = tmp_path / "one" / "product.glb"
    assert file.read_bytes() == (tmp_path / "two" / "product.glb").read_bytes()
    scene = trimesh.load(file)
    parts = results.assembly.parts
    assert set(scene.geometry) == {part.name for part in parts}
    for part in parts:
        matrix, _ = scene.graph[part.name]
        assert np.allclose(matrix, np.eye(4))
        mesh = scene.geometry[part.name].copy()
        normals = mesh.vertex_normals.copy()
        assert np.allclose(mesh.face_normals, normals[mesh.faces[:, 0]], atol=1e-5)
        mesh.merge_vertices(merge_norm=True, merge_tex=True)
        assert mesh.is_watertight, part.name
        assert mesh.is_winding_consistent
        if not part.round_cutouts:
            assert mesh.volume * 1e9 == pytest.approx(prism_volume(part), rel=1e-5)
        x0, y0, z0, x1, y1, z1 = part_box(part)
        wanted = np.array([[x0, z0, -y1], [x1, z1, -y0]]) / 1000
        assert np.allclose(mesh.bounds, wanted, atol=1e-5), part.name


def test_gltf_keeps_openings_open() -> None:
    trimesh = pytest.importorskip("trimesh")
    from kdkit.publish.workshop.exchange.gltf import _part_mesh

    part = Part(
        name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
        outline=((0, 0), (600, 0), (600, 250), (500, 250), (500, 300), (0, 300)),
        cutouts=(((100, 100), (200, 100), (200, 200), (100, 200)),),
        round_cutouts=(RoundCutOut(centre=(400, 150), diameter=60),),
    )  # fmt: skip
    ours = _part_mesh(part)
    mesh = trimesh.Trimesh(ours.points, np.reshape(ours.indices, (-1, 3)), process=False)
    mesh.merge_vertices(merge_norm=True)
    assert mesh.is_watertight
    assert mesh.volume * 1e9 == pytest.approx(prism_volume(part), rel=2e-4)  # a round one in 48
    assert mesh.euler_number == 2 - 2 * 2  # two openings


def test_gltf_of_a_bevelled_panel_is_closed_round_its_openings() -> None:
    trimesh = pytest.importorskip("trimesh")
    from kdkit.publish.workshop.exchange.gltf import _part_mesh

    part = plate(
        45, -30, 60, -10,
        cutouts=(((100, 100), (200, 100), (200, 200), (100, 200)),),
        round_cutouts=(RoundCutOut(centre=(400, 150), diameter=60),),
    )  # fmt: skip
    ours = _part_mesh(part)
    mesh = trimesh.Trimesh(ours.points, np.reshape(ours.indices, (-1, 3)), process=False)
    mesh.merge_vertices(merge_norm=True)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume * 1e9 == pytest.approx(prism_volume(part), rel=2e-4)  # a round one in 48
    assert mesh.euler_number == 2 - 2 * 2  # two openings


def test_step_solids_have_the_volumes_of_the_panels(
    results: Results, tmp_path: pathlib.Path
) -> None:
    cad = pytest.importorskip("build123d")
    files, problems = publish_workshop(results, tmp_path / "w", ["step"])
    assert files is not None, problems
    joinery = results.joinery
    volumes = {
        part.name: drilled_volume(
            part,
            [b for b in joinery.bores if b.part == part.name],
            [g for g in joinery.grooves if g.part == part.name],
            [s for s in joinery.slots if s.part == part.name],
        )
        for part in results.assembly.parts
    }
    for line in results.schedules.cut:
        solid = cad.import_step(tmp_path / "w" / "step" / f"panel-{line.letter}.step")
        assert solid.volume == pytest.approx(volumes[line.parts[0]], rel=1e-6), line.letter
    whole = cad.import_step(tmp_path / "w" / "step" / "product.step")
    assert whole.volume == pytest.approx(sum(volumes.values()), rel=1e-6)
    boxes = np.array([part_box(part) for part in results.assembly.parts])
    box = whole.bounding_box()
    assert np.allclose(tuple(box.min), boxes[:, :3].min(axis=0), atol=1e-4)
    assert np.allclose(tuple(box.max), boxes[:, 3:].max(axis=0), atol=1e-4)


PANEL = Part(
    name="panel", title="", kind="panel", path=(), frame=PRODUCT, thickness=18.0,
    outline=((0, 0), (600, 0), (600, 300), (0, 300)),
)  # fmt: skip


def test_step_solids_of_slanted_bores_grooves_and_slots() -> None:
    pytest.importorskip("build123d")
    from kdkit.publish.workshop.exchange.step import part_solid

    bore = Bore(
        part="panel", surface="face", mouth=(100.0, 33.6, 0.0),
        into=(0.0, -0.9659258262890683, -0.25881904510252074), diameter=9.5, depth=45.0,
        through=False, purpose="pocket", path=(),
    )  # fmt: skip
    plan = ((0.0, 270.0), (600.0, 270.0), (600.0, 274.0), (0.0, 274.0))
    on_edge = ((50.0, -11.0), (200.0, -11.0), (200.0, -7.0), (50.0, -7.0))
    grooves = [
        Groove(part="panel", surface="back", polygon=plan, depth=8.0, path=(), joint=""),
        Groove(part="panel", surface="edge:1", polygon=on_edge, depth=8.0, path=(), joint=""),
    ]
    slots = [
        Slot(
            part="panel", surface="edge:0", mouth=(300.0, 0.0, -9.0), into=(0.0, 1.0, 0.0),
            along=(1.0, 0.0, 0.0), width=4.0, length=56.0, depth=12.0, disc=disc,
            purpose="slot", path=(),
        )
        for disc in (100.0,)
    ]  # fmt: skip
    slots.append(replace(slots[0], mouth=(450.0, 0.0, -9.0), disc=None))
    solid = part_solid(PANEL, [bore], grooves, slots)
    assert solid.volume == pytest.approx(drilled_volume(PANEL, [bore], grooves, slots), rel=1e-6)


def test_step_needs_its_library(
    monkeypatch: pytest.MonkeyPatch, tmp_path: pathlib.Path, results: Results
) -> None:
    monkeypatch.setattr(workshop_folder.importlib.util, "find_spec", lambda _: None)
    files, problems = publish_workshop(results, tmp_path / "w", ["gltf", "step"])
    assert files is None
    assert [p.code for p in problems] == ["library-missing"]
    assert "kdkit[cad]" in problems[0].help
    assert not (tmp_path / "w").exists()
