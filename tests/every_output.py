"""Everything that kdkit can write, of products as small as can be, in one process.

``python -m tests.every_output SOURCES OUT [--step] [--catalogue]``: the definitions are
taken from the folder SOURCES, in the words of the paths that are given; what the commands
print is kept in ``OUT/said``.
"""

from __future__ import annotations

import contextlib
import io
import os
import pathlib
import sys

from kdkit.cli.commands import group
from tests.products import RING

BOX = (pathlib.Path(__file__).parent / "golden/wall-box/definition.yaml").read_text("utf-8")

LIST = """\
Part;Quantity;Length;Width;Thickness;Material
Left side;1;400;250;18;particleboard-p2
Right side;1;400;250;18;particleboard-p2
Top;1;564;250;18;particleboard-p2
Bottom;1;564;250;18;particleboard-p2
"""


def write_sources(folder: pathlib.Path) -> None:
    """Write what the commands read."""
    folder.mkdir(parents=True)
    named = BOX.replace("product: Wall box", "product: Wall box, 5° × ½ (ş, б)")
    (folder / "box.yaml").write_text(named, encoding="utf-8")
    (folder / "ring.yaml").write_text(RING, encoding="utf-8")
    (folder / "list.csv").write_text(LIST, encoding="utf-8")


def commands(sources: str, out: str) -> dict[str, list[str]]:
    """Return the arguments of each run by a name for it."""
    box, ring = os.path.join(sources, "box.yaml"), os.path.join(sources, "ring.yaml")
    made = {
        "schema": ["schema"],
        "new": ["new", "cabinet", f"{out}/new.yaml"],
        "start": ["start", os.path.join(sources, "list.csv"), f"{out}/start.yaml"],
        "check": ["check", box, "--json"],
        "plan": ["plan", box, "--json"],
        "no-plan": ["plan", ring, "--json", "--out", f"{out}/ring"],
        "verify": ["verify", ring, f"{out}/ring/impossible.json"],
        "build": ["build", box, "--out", f"{out}/box"],
        "workshop": ["workshop", box, "--out", f"{out}/workshop"],
        "outline": ["outline", f"{out}/workshop/dxf/panel-A.dxf"],
        "apart": ["apart", box, "--part", "shelf", "--out", f"{out}/top"],
        "choose": ["choose", box, "top", "left_side", "--json"],
    }
    if "--step" in sys.argv:
        made["step"] = ["workshop", box, "--files", "step", "--out", f"{out}/step"]
    if "--catalogue" in sys.argv:
        made["catalogue"] = ["catalogue", "--out", f"{out}/joints"]
    return made


def main() -> None:
    """Run every command; what it prints is kept beside what it writes."""
    sources, out = sys.argv[1:3]
    said = pathlib.Path(out) / "said"
    said.mkdir(parents=True)
    for name, arguments in commands(sources, out).items():
        printed = io.StringIO()
        with contextlib.redirect_stdout(printed), contextlib.suppress(SystemExit):
            group.main(arguments, prog_name="kdkit")
        text = printed.getvalue().replace(out, "OUT").replace(os.path.join(sources, ""), "")
        (said / f"{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
