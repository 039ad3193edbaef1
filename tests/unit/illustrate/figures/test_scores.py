"""The scores of figures, worked out again by other means: rays, a printed file, rotations."""

from __future__ import annotations

import json
import pathlib
import re

import numpy as np
import pytest
import trimesh
from click.testing import CliRunner
from scipy.spatial.transform import Rotation

from kdkit.cli.commands import group
from kdkit.diagnostics import Severity
from kdkit.frames import add
from kdkit.illustrate.figures.scores import FigureScore, judge_scores, score_step
from kdkit.illustrate.figures.step_figure import StepSketch, set_step, sketch_step
from kdkit.illustrate.hidden_lines.view import View, Viewpoint, turn_between
from kdkit.illustrate.paper.figure_box import FigureBox
from kdkit.illustrate.paper.style import load_style
from kdkit.illustrate.staging.build_state import step_state
from kdkit.illustrate.staging.plates import Plate
from kdkit.illustrate.staging.subject import Subject
from kdkit.parts.postures import Posture
from kdkit.parts.size import part_size
from kdkit.pipeline import Outcome

Built = tuple[Outcome, pathlib.Path]
STEPS = (4, 6)
CORNER = """\
kdkit: 1
product: Corner of two boards
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  floor: {title: Floor, board: carcass, x: [18, 318], y: [0, 300], z: {from: 0}}
  left: {title: Left side, board: carcass, x: {from: 0}, y: [0, 300], z: [0, 300]}
joints:
  - {join: floor, to: left, fittings: [dowel-8x30]}
"""


@pytest.fixture(scope="module")
def subject(built_bookcase: Built) -> Subject:
    results = built_bookcase[0].results
    assert results is not None
    return Subject(assembly=results.assembly, joinery=results.joinery, catalogue=results.catalogue)


@pytest.fixture(scope="module")
def sketches(built_bookcase: Built, subject: Subject) -> dict[int, StepSketch]:
    results = built_bookcase[0].results
    assert results is not None
    return {
        step.number: sketch_step(
            subject,
            step_state(step, results.plan, results.joinery, results.schedules),
            results.schedules,
            None,
            None,
        )
        for step in results.plan.steps
        if step.number in STEPS
    }


def score(sketch: StepSketch, built: Built, subject: Subject) -> FigureScore:
    results, (style, _) = built[0].results, load_style()
    assert results is not None
    assert style is not None
    box = FigureBox(width=178.0, height=120.0)
    picture = set_step(sketch, box, subject, style)
    return score_step(sketch, picture, box, subject, results.schedules, None)


def mesh_of(name: str, plate: Plate, subject: Subject) -> trimesh.Trimesh:
    """A part as a plain board, where it stands in the picture."""
    part = subject.assembly.part(name)
    length, width = part_size(part)
    box = trimesh.creation.box(bounds=[(0, 0, -part.thickness), (length, width, 0)])
    turn = np.eye(4)
    turn[:3, :3] = np.array([part.frame.i, part.frame.j, part.frame.k]).T
    turn[:3, 3] = add(part.frame.origin, plate.apart.parts[name])
    box.apply_transform(turn)
    return box


def seen_by_rays(names: tuple[str, ...], plate: Plate, subject: Subject) -> tuple[float, float]:
    """Return the area turned to the viewer and the part of it that no board stands before."""
    toward = np.array(plate.view.toward)
    scene = trimesh.util.concatenate([mesh_of(n, plate, subject) for n in plate.state.parts])
    full = part = 0.0
    for name in names:
        mesh = mesh_of(name, plate, subject)
        points, faces = trimesh.sample.sample_surface(mesh, 1500, seed=7)
        facing = np.maximum(0.0, mesh.face_normals[faces] @ toward)
        starts = points + mesh.face_normals[faces] * 0.05
        hidden = scene.ray.intersects_any(starts, np.tile(toward, (len(starts), 1)))
        full += mesh.area * facing.sum() / len(points)
        part += mesh.area * (facing * ~hidden).sum() / len(points)
    return full, part


@pytest.mark.parametrize("step", STEPS)
def test_rays_see_as_much_of_the_parts_as_the_score_says(
    step: int, sketches: dict[int, StepSketch], built_bookcase: Built, subject: Subject
) -> None:
    found = score(sketches[step], built_bookcase, subject)
    (plate,) = sketches[step].plates
    shares = []
    for name in plate.state.new:
        full, part = seen_by_rays((name,), plate, subject)
        shares.append(part / full)
    assert found.new_seen == pytest.approx(min(shares), abs=0.05)
    there = tuple(n for n in plate.state.parts if n not in plate.state.new)
    if not there:
        assert found.context_seen is None
        return
    full, part = seen_by_rays(there, plate, subject)
    assert found.context_seen == pytest.approx(part / full, abs=0.05)


@pytest.mark.parametrize("step", STEPS)
def test_rays_reach_the_joints_that_the_score_calls_seen(
    step: int, sketches: dict[int, StepSketch], built_bookcase: Built, subject: Subject
) -> None:
    """A joint is seen where a ray to the viewer leaves one of its mouths, on either part."""
    found = score(sketches[step], built_bookcase, subject)
    (plate,) = sketches[step].plates
    toward = np.array(plate.view.toward)
    scene = trimesh.util.concatenate([mesh_of(n, plate, subject) for n in plate.state.parts])
    moving = {p for travel in plate.apart.travels for p in travel.parts}
    seen: dict[str, bool] = {}
    for fastener in subject.joinery.fasteners:
        members = {fastener.butting, fastener.receiving} - {None}
        if not members & moving or not members <= set(plate.state.parts):
            continue
        for bore in subject.joinery.bores:
            if bore.fastener != fastener.id or bore.stage != "workshop":
                continue
            frame = subject.assembly.part(bore.part).frame
            out = -np.array(frame.vector_to_outer(bore.into))
            mouth = np.array(add(frame.point_to_outer(bore.mouth), plate.apart.parts[bore.part]))
            reached = out @ toward > 0.05 and not scene.ray.intersects_any(
                [mouth + 0.5 * out], [toward]
            )
            seen[fastener.id] = seen.get(fastener.id, False) or bool(reached)
    assert seen
    assert found.bores_seen == pytest.approx(sum(seen.values()) / len(seen), abs=0.1)


def test_the_printed_figures_have_the_letters_and_the_room_that_their_scores_say(
    built_bookcase: Built,
) -> None:
    folder = built_bookcase[1]
    said = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    assert [f["step"] for f in said["figures"]] == [s["number"] for s in said["steps"]]
    results = built_bookcase[0].results
    assert results is not None
    assert results.pages is not None
    for told in said["figures"]:
        name = f"step-{told['step']}"
        text = (folder / "figures" / f"{name}.svg").read_text(encoding="utf-8")
        sizes = {float(size) for size in re.findall(r'font-size="([\d.]+)"', text)}
        assert min(sizes) * 0.729 == pytest.approx(told["smallest_letter_mm"], abs=0.02)
        wide, high = (float(n) for n in re.findall(r'(?:width|height)="([\d.]+)mm"', text)[:2])
        box = results.pages.boxes[name]
        assert wide * high / (box.width * box.height) == pytest.approx(told["fill"], abs=0.01)


def test_the_smallest_bore_is_as_large_as_its_detail_draws_it(built_bookcase: Built) -> None:
    """The bolt of step 1 goes into a bore of 5 mm; its detail notes 1 : 2."""
    folder = built_bookcase[1]
    said = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    drilling = (folder / "drilling.csv").read_text(encoding="utf-8-sig")
    assert re.search(r"bolt seat", drilling)
    text = (folder / "figures" / "step-1.svg").read_text(encoding="utf-8")
    paper, real = re.findall(r">(\d+) : (\d+)<", text)[0]
    assert said["figures"][0]["smallest_bore_mm"] == pytest.approx(5 * int(paper) / int(real))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ((-32.0, 28.0, Posture.STANDING), (148.0, 28.0, Posture.STANDING)),
        ((-32.0, 28.0, Posture.STANDING), (58.0, 30.0, Posture.ON_BACK)),
        ((32.0, -22.0, Posture.ON_LEFT), (32.0, 28.0, Posture.ON_LEFT)),
    ],
)
def test_the_turn_of_a_view_is_that_of_its_rotation(
    one: tuple[float, float, Posture], other: tuple[float, float, Posture]
) -> None:
    views = [View(viewpoint=Viewpoint(a, e), posture=p) for a, e, p in (one, other)]
    first, second = (Rotation.from_matrix(np.array(v.axes)) for v in views)
    wanted = np.degrees((first.inv() * second).magnitude())
    assert turn_between(*views) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    ("broken", "said"),
    [
        ({"new_seen": 0.79, "part": "top"}, "step 3 (E: 79%)"),
        ({"bores_shown": 0.5}, "step 3 (50%)"),
        ({"context_seen": 0.49}, "step 3 (49%)"),
        ({"smallest_bore": 0.6}, "step 3 (0.6 mm)"),
        ({"turn_deg": 120.0}, "step 3 (120 degrees)"),
    ],
)
def test_each_broken_bound_is_told_with_its_step(broken: dict[str, object], said: str) -> None:
    fine = FigureScore(
        step=2,
        part="top",
        new_seen=0.8,
        bores_shown=0.8,
        context_seen=0.5,
        smallest_bore=0.7,
        turn_deg=90.0,
    )
    assert judge_scores([fine], lambda _: "E") == []
    bad = FigureScore(step=3, **broken)  # type: ignore[arg-type]
    (problem,) = judge_scores([fine, bad], lambda _: "E")
    assert problem.code == "figure-unclear"
    assert problem.severity is Severity.WARNING
    assert said in problem.message
    drawn = FigureScore(step=3, turn_deg=120.0, turn_drawn=True)
    assert judge_scores([drawn], lambda _: "E") == []


def test_check_shows_the_scores_of_all_figures(tmp_path: pathlib.Path) -> None:
    """Of two boards on dowels, from the command line."""
    file = tmp_path / "corner.yaml"
    file.write_text(CORNER, encoding="utf-8")
    run = CliRunner().invoke(group, ["check", str(file), "--figures", "--json"])
    said = json.loads(run.stdout)
    assert [f["step"] for f in said["figures"]] == list(range(1, len(said["figures"]) + 1))
    assert all(f["new_seen"] is None or f["new_seen"] > 0.5 for f in said["figures"])
    low = [f for f in said["figures"] if f["bores_shown"] is not None and f["bores_shown"] < 0.8]
    told = [p for p in said["problems"] if p["code"] == "figure-unclear"]
    assert bool(low) == any("joined or fitted" in p["message"] for p in told)
