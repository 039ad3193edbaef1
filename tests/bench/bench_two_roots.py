"""The same bytes on two machines: one without a font, one with others in every place.

Run ``python tests/bench/bench_two_roots.py [NAME ...]`` as root, with the NAMES of longer
commands of ``tests.every_output`` that are wanted too (``choose step catalogue``). Each run
has a mount namespace of its own (``unshare``), in which folders of this machine are covered:

* one: empty folders over the fonts, the caches and the rules of fontconfig;
* two: other fonts over the system's, rules that prefer them and draw them bold, another time
  zone, another host name, another user's home.

The other fonts are those given by ``FONTS=folder``, or made here: DejaVu Sans Mono, which is
wider, under the names of the fonts that are looked for. Program, libraries and definitions are
those of this machine in both. All files are then compared byte by byte.
"""

from __future__ import annotations

import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[2]))

from kdkit.illustrate.paper.fonts import CODE, FACES, TEXT
from tests.every_output import write_sources
from tests.test_same_bytes import ODD_FONTS, ROOT, contents

EMPTY = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig><dir>/usr/share/fonts</dir></fontconfig>
"""

COVERED = ("/usr/share/fonts", "/usr/local/share/fonts", "/var/cache/fontconfig", "/etc/fonts")


def furnish(machine: pathlib.Path, *, fonts: bool) -> None:
    """Write what covers the folders of a machine, by their names with ``-`` for ``/``."""
    for folder in COVERED:
        (machine / folder.replace("/", "-")).mkdir(parents=True)
    (machine / "home").mkdir()
    rules = EMPTY
    if fonts:
        place = machine / "-usr-share-fonts"
        given = os.environ.get("FONTS")
        if given:
            shutil.copytree(given, place, dirs_exist_ok=True)
        else:
            (mono,) = (face for face in FACES if face.family == CODE)
            shutil.copy(mono.path, place / "other.ttf")
        rules = ODD_FONTS.format(folder="/usr/share/fonts", name=TEXT)
    (machine / "-etc-fonts" / "fonts.conf").write_text(rules, encoding="utf-8")


def start(machine: pathlib.Path, out: pathlib.Path, more: list[str], n: int) -> subprocess.Popen:
    """Start everything on a machine."""
    mounts = [
        f"mount --bind {machine / folder.replace('/', '-')} {folder}"
        for folder in COVERED
        if pathlib.Path(folder).is_dir()
    ]
    seen = 'echo "fonts seen there: $(ls -R /usr/share/fonts | grep -c ttf)" >&2'
    run = f"exec {sys.executable} -m tests.every_output {machine.parent / 'sources'} {out}"
    script = " && ".join([*mounts, f"hostname machine-{n}", seen, " ".join([run, *more])])
    environment = {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(ROOT),
        "HOME": str(machine / "home"),
        "USER": f"user-{n}",
        "TZ": ("UTC", "Pacific/Kiritimati")[n],
        "LC_ALL": ("C", "C.UTF-8")[n],
    }
    return subprocess.Popen(
        ["unshare", "--mount", "--uts", "sh", "-c", script],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=(out.parent / f"{out.name}.log").open("w"),
    )


def main() -> int:
    """Write everything on both machines and compare."""
    if os.geteuid():
        print("This needs root: it mounts folders, in namespaces of its own.")
        return 2
    more = sys.argv[1:]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        write_sources(folder / "sources")
        outs = []
        for n, fonts in enumerate((False, True)):
            machine = folder / f"machine-{n}"
            furnish(machine, fonts=fonts)
            outs.append(folder / f"results-{n}")
            ended = start(machine, outs[-1], more, n).wait()
            said = (folder / f"results-{n}.log").read_text(errors="replace")
            print(f"machine {n}: exit code {ended}; {said.splitlines()[0] if said else ''}")
            if ended:
                print(said)
                return 1
        one, two = (contents(out) for out in outs)
    differing = [file for file in sorted({*one, *two}) if one.get(file) != two.get(file)]
    total = sum(map(len, one.values()))
    print(f"{len(one)} files, {total / 1e6:.1f} MB; differing: {', '.join(differing) or 'none'}")
    return bool(differing)


if __name__ == "__main__":
    sys.exit(main())
