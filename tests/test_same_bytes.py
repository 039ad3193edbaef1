"""The same definition gives the same bytes, whoever runs kdkit, where and with what.

Two processes write everything that kdkit writes. The second has another seed for the order
of sets, locale, time zone, home, user, umask, folder to stand in, width of terminal, date of
sources, and a system whose only font claims kdkit's name and is another.
"""

from __future__ import annotations

import os
import pathlib
import shutil
import subprocess
import sys

from kdkit.illustrate.paper.fonts import CODE, FACES, TEXT
from tests.every_output import write_sources

ROOT = pathlib.Path(__file__).parent.parent

ODD_FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
<dir>{folder}</dir><cachedir>{folder}/cache</cachedir>
<match target="scan"><edit name="family" mode="prepend">
<string>{name}</string><string>DejaVu Sans</string><string>sans-serif</string></edit></match>
<match target="pattern"><edit name="family" mode="prepend" binding="strong">
<string>{name}</string></edit></match>
<match target="font"><edit name="hintstyle" mode="assign"><const>hintfull</const></edit>
<edit name="embolden" mode="assign"><bool>true</bool></edit></match>
</fontconfig>
"""
"""The wide font under the names of the others, and emboldened."""

ODD_DRAWINGS = (
    "[core]\ndefault_dimension_text_style = ODD\nwrite_fixed_meta_data_for_testing = no\n"
)


def plain() -> dict[str, str]:
    """Return an environment with nothing but what is needed to run."""
    kept = {key: os.environ[key] for key in ("PATH", "VIRTUAL_ENV") if key in os.environ}
    return kept | {"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "1", "PYTHONWARNINGS": "error"}


def odd(home: pathlib.Path) -> dict[str, str]:
    """Return an environment in which all is different that can be."""
    fonts = home / "fonts"
    fonts.mkdir(parents=True)
    (mono,) = (face for face in FACES if face.family == CODE)
    shutil.copy(mono.path, fonts)
    config = home / "fonts.conf"
    config.write_text(ODD_FONTS.format(folder=fonts, name=TEXT), encoding="utf-8")
    (home / ".config/ezdxf").mkdir(parents=True)
    (home / ".config/ezdxf/ezdxf.ini").write_text(ODD_DRAWINGS, encoding="utf-8")
    return plain() | {
        "PYTHONHASHSEED": "4242",
        "LC_ALL": "ro_RO.UTF-8",
        "LANG": "tr_TR.UTF-8",
        "LANGUAGE": "sr:ja",
        "PANGO_LANGUAGE": "sr:ja",
        "FC_LANG": "ja",
        "TZ": "Pacific/Kiritimati",
        "HOME": str(home),
        "XDG_CONFIG_HOME": str(home / ".config"),
        "XDG_DATA_HOME": str(home),
        "XDG_CACHE_HOME": str(home / "nowhere"),
        "FONTCONFIG_FILE": str(config),
        "USER": "somebody",
        "LOGNAME": "somebody",
        "COLUMNS": "31",
        "SOURCE_DATE_EPOCH": "86400",
    }


def contents(folder: pathlib.Path) -> dict[str, bytes]:
    """Return all files below a folder."""
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
    }


def test_every_output_is_the_same_everywhere(tmp_path: pathlib.Path) -> None:
    here, there, elsewhere = tmp_path / "here", tmp_path / "there", tmp_path / "elsewhere"
    strange = odd(tmp_path / "home")
    write_sources(here / "sources")
    write_sources(there / "in-another-place")
    elsewhere.mkdir()
    runs = (
        (here, "sources", "results-here", plain(), 0o022),
        (
            elsewhere,
            there / "in-another-place",
            there / "results-there",
            strange,
            0o077,
        ),
    )
    said = tmp_path / "said"
    with said.open("w") as log:
        started = [
            subprocess.Popen(
                [sys.executable, "-m", "tests.every_output", str(sources), str(out)],
                cwd=folder,
                env=environment,
                umask=umask,
                stdout=log,
                stderr=log,
            )
            for folder, sources, out, environment, umask in runs
        ]
    assert [process.wait() for process in started] == [0, 0], said.read_text(errors="replace")
    first, second = contents(here / "results-here"), contents(there / "results-there")
    assert len(first) > 50
    assert sorted(first) == sorted(second)
    assert [name for name in first if first[name] != second[name]] == []


def test_outputs_name_neither_folders_nor_people(tmp_path: pathlib.Path) -> None:
    write_sources(tmp_path / "secret-place")
    environment = plain() | {"USER": "secret-person", "LOGNAME": "secret-person"}
    subprocess.run(
        [
            *(sys.executable, "-m", "kdkit", "workshop", tmp_path / "secret-place/corner.yaml"),
            *("--files", "dxf,xlsx,gltf,step", "--out", tmp_path / "out"),
        ],
        cwd=tmp_path,
        env=environment,
        check=True,
        capture_output=True,
    )
    made = contents(tmp_path / "out")
    assert len(made) > 5
    for name, content in made.items():
        assert b"secret-" not in content, name
