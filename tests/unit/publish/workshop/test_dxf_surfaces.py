"""One DXF file a surface, as ezdxf reads it back: sound, short layers, true arcs, extents."""

from __future__ import annotations

import csv
import math
import pathlib
from collections import Counter
from dataclasses import replace

import ezdxf
import pytest
from click.testing import CliRunner

from kdkit.cli.group import group
from kdkit.publish.workshop.exchange.arcs import with_arcs
from kdkit.publish.workshop.exchange.dxf_surfaces import LONGEST, render_surface
from kdkit.schedule.schedules import DrillLine, SlotLine
from tests.product_files import results_of
from tests.unit.publish.workshop.test_drawings import job_of

CASE = """\
kdkit: 1
product: Board with a grip
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  left:
    board: carcass
    x: {from: 0}
    y: [0, 300]
    z: [0, 600]
    face: +x
    cutouts: [{y: [100, 200], z: [500, 540], corner_radius: 20}]
  bottom: {board: carcass, x: [18, 400], y: [0, 300], z: {from: 0}}
joints:
  - {join: bottom, to: left, fittings: [{fitting: dowel-8x35, at: [60, -60]}]}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    at = tmp_path_factory.mktemp("surfaces")
    (at / "case.yaml").write_text(CASE, encoding="utf-8")
    command = ["workshop", str(at / "case.yaml"), "--out", str(at / "w"), "--files",
               "dxf,dxf-surfaces"]  # fmt: skip
    result = CliRunner().invoke(group, command)
    assert result.exit_code == 0, result.output
    return at / "w"


def test_every_file_is_sound_and_says_how_far_it_goes(folder: pathlib.Path) -> None:
    files = sorted(folder.rglob("*.dxf"))
    assert {f.name for f in files} >= {"A-face.dxf", "B-edge-left.dxf", "panel-A.dxf"} or files
    for file in files:
        drawing = ezdxf.readfile(file)
        assert not drawing.audit().errors
        low, high = drawing.header["$EXTMIN"], drawing.header["$EXTMAX"]
        assert low[0] < high[0] < 1e4
        assert low[1] < high[1] < 1e4
        for circle in drawing.modelspace().query("CIRCLE"):
            c, r = circle.dxf.center, circle.dxf.radius
            assert low[0] <= c.x - r
            assert c.x + r <= high[0]
            assert low[1] <= c.y - r
            assert c.y + r <= high[1]
        assert all(line.closed for line in drawing.modelspace().query("LWPOLYLINE"))


def test_layers_are_short_and_listed(folder: pathlib.Path) -> None:
    text = (folder / "dxf-surfaces" / "layers.csv").read_text("utf-8-sig")
    rows = list(csv.DictReader(text.splitlines()))
    assert {"OUTLINE", "OPENING", "BORE_D8_T12", "BORE_D8_T25"} <= {row["Layer"] for row in rows}
    for file in (folder / "dxf-surfaces").glob("*.dxf"):
        listed = {r["Layer"]: int(r["Count"]) for r in rows if r["File"] == file.name}
        assert Counter(e.dxf.layer for e in ezdxf.readfile(file).modelspace()) == listed
        for name in listed:
            assert len(name) <= LONGEST
            assert name.replace("_", "").isalnum()
            assert name.isupper()


def test_a_round_opening_has_true_arcs(folder: pathlib.Path) -> None:
    (file,) = (
        f
        for f in (folder / "dxf-surfaces").glob("*-face.dxf")
        if ezdxf.readfile(f).modelspace().query('LWPOLYLINE[layer=="OPENING"]')
    )
    (ring,) = ezdxf.readfile(file).modelspace().query('LWPOLYLINE[layer=="OPENING"]')
    bulges = [abs(p[4]) for p in ring.get_points() if p[4]]
    points = [(p[0], p[1]) for p in ring.get_points()]
    assert bulges == pytest.approx([1.0, 1.0])  # two half circles of radius 20
    assert len(points) == 4
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    assert sorted((max(xs) - min(xs), max(ys) - min(ys))) == pytest.approx([40, 60])


@pytest.mark.parametrize("lies", ["round the arc", "on the arc"])
@pytest.mark.parametrize("turned", [False, True])
def test_chains_become_the_arc_that_they_stand_for(lies: str, turned: bool) -> None:
    steps, r = 12, 30.0
    if lies == "round the arc":
        reach = r / math.cos(math.radians(45 / steps))
        angles = [90 * (n + 0.5) / steps for n in range(steps)]
    else:
        reach, angles = r, [90 * n / steps for n in range(steps + 1)]
    round_ = [
        (70 + reach * math.cos(math.radians(a)), 50 + reach * math.sin(math.radians(a)))
        for a in angles
    ]
    ring = [(0.0, 0.0), (100.0, 0.0), *round_, (0.0, 80.0)]
    if turned:
        ring = [(x, -y) for x, y in ring]
    found = with_arcs(ring)
    sign = -1 if turned else 1
    assert [(x, y * sign, b * sign) for x, y, b in found if b] == [
        pytest.approx((100, 50, math.tan(math.radians(22.5))), abs=1e-4)
    ]
    assert any(math.dist(p[:2], (70, 80 * sign)) < 1e-4 for p in found)
    assert len(found) == 5


def test_what_is_not_round_stays_as_it_is() -> None:
    square = ((0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0))
    bevelled = ((0.0, 0.0), (40.0, 0.0), (50.0, 10.0), (50.0, 40.0), (0.0, 40.0))
    for ring in (square, bevelled):
        assert {p[:2] for p in with_arcs(ring)} == set(ring)
        assert not any(p[2] for p in with_arcs(ring))


def test_long_names_are_rounded_and_routed_slots_are_round() -> None:
    job = job_of(results_of("bookcase"))
    panel = job.panels[0]
    bore = DrillLine(
        surface="face", x=100, y=30, diameter=19.75, depth=145.25, through=False,
        purpose="pocket", stage="home", fastener=None, spare=False, angle_deg=15.25,
        towards_deg=270.25,
    )  # fmt: skip
    slot = SlotLine(
        surface="face", start=(100, 60), end=(156, 60), width=8, depth=12, disc=None,
        purpose="loose tenon", stage="workshop", fastener=None,
    )  # fmt: skip
    view = replace(panel.view("face"), bores=(bore,), slots=(slot,))
    text, counts = render_surface(panel, view, job)
    names = {layer.name for layer in counts}
    assert "SLOT_W8_T12" in names
    assert max(map(len, names)) <= LONGEST
    lines = text.splitlines()
    assert [line.strip() for line in lines].count("-1.0") + [line.strip() for line in lines].count(
        "1.0"
    ) >= 2
