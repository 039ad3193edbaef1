"""Everything that kdkit can write, of products as small as can be, in one process.

``python -m tests.every_output SOURCES OUT [NAME ...]``: definitions are taken from the folder
SOURCES, as ``write_sources`` writes it, by paths that begin as it is given; what the commands
print is kept in ``OUT/said``. NAMES add commands that take longer: ``MORE``.
"""

from __future__ import annotations

import contextlib
import io
import os
import pathlib
import sys

from kdkit.cli.commands import group
from tests.products import RING

CORNER = """\
kdkit: 1
product: Corner, 5° × ½ (ş, б)
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  side: {board: carcass, x: {from: 0}, y: [0, 250], z: [0, 400], bands: {front: 1}}
  shelf: {board: carcass, x: [18, 300], y: [0, 250], z: {from: 200}, bands: {front: 1}}
joints:
  - join: shelf
    to: side
    fittings: [{fitting: cam-and-bolt, at: [64, -64]}, {fitting: dowel-8x35, at: [96]}]
safety: {wall_restraint: none}
"""

LIST = """\
Part;Quantity;Length;Width;Thickness;Material
Left side;1;400;250;18;particleboard-p2
Right side;1;400;250;18;particleboard-p2
Top;1;564;250;18;particleboard-p2
Bottom;1;564;250;18;particleboard-p2
"""

WEEK = """\
run: Week 49 (ş, б)
batch: W-49
products:
  - {file: corner.yaml, quantity: 3, gtin: "6291041500213"}
spares: 5
stock: stock.csv
buy: {cam-lock-15: {pack: 10, price: 1.5}}
"""

STOCK = "article;amount\ncam-lock-15;4\nband:particleboard-p2:1;1,5\n"

MORE = ("choose", "step", "catalogue")


def write_sources(folder: pathlib.Path) -> None:
    """Write what the commands read into a new folder."""
    folder.mkdir(parents=True)
    for name, text in (
        ("corner.yaml", CORNER), ("ring.yaml", RING), ("list.csv", LIST), ("week.yaml", WEEK),
        ("stock.csv", STOCK),
    ):  # fmt: skip
        (folder / name).write_text(text, encoding="utf-8")


def commands(sources: str, out: str) -> dict[str, list[str]]:
    """Return the arguments of each run by a name for it; some read what earlier ones wrote."""
    corner, ring, parts, week = (
        os.path.join(sources, file)
        for file in ("corner.yaml", "ring.yaml", "list.csv", "week.yaml")
    )
    return {
        "schema": ["schema"],
        "new": ["new", "cabinet", f"{out}/new.yaml"],
        "start": ["start", parts, f"{out}/start.yaml"],
        "check": ["check", corner, "--json"],
        "plan": ["plan", corner, "--json"],
        "no-plan": ["plan", ring, "--json", "--out", f"{out}/ring"],
        "verify": ["verify", ring, f"{out}/ring/impossible.json"],
        "build": ["build", corner, "--out", f"{out}/corner"],
        "workshop": ["workshop", corner, "--out", f"{out}/workshop"],
        "pack": ["pack", corner, "--out", f"{out}/cartons", "--gtin", "6291041500213"],
        "run": ["run", week, "--out", f"{out}/week"],
        "outline": ["outline", f"{out}/workshop/dxf/panel-A.dxf"],
        "apart": ["apart", corner, "--part", "shelf", "--out", f"{out}/shelf"],
        "choose": ["choose", corner, "shelf", "side", "--json"],
        "step": ["workshop", corner, "--files", "step", "--out", f"{out}/step"],
        "catalogue": ["catalogue", "--out", f"{out}/joints"],
    }


def main() -> None:
    """Run every command; what it prints is kept beside what it writes."""
    sources, out, *more = sys.argv[1:]
    said = pathlib.Path(out) / "said"
    said.mkdir(parents=True)
    for name, arguments in commands(sources, out).items():
        if name in MORE and name not in more:
            continue
        printed = io.StringIO()
        ended = ""
        with contextlib.redirect_stdout(printed):
            try:
                group.main(arguments, prog_name="kdkit")
            except SystemExit as end:
                ended = f"exit code {end.code or 0}\n"
        text = printed.getvalue().replace(out, "OUT").replace(os.path.join(sources, ""), "")
        (said / f"{name}.txt").write_text(text + ended, encoding="utf-8", newline="")


if __name__ == "__main__":
    main()
