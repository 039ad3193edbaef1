"""A malformed or hostile definition gets a located problem, quickly, and nothing else.

Each case goes through the real command in a process of its own. The time limit of
the process only guards the test run against a hang.
"""

from __future__ import annotations

import pathlib
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator

import pytest

ROOT = pathlib.Path(__file__).parent.parent

SOUND = """\
kdkit: 1
product: Box
parameters:
  width: 600
boards:
  carcass: {material: particleboard-p2, thickness: 18}
panels:
  left_side: {board: carcass, x: {from: 0}, y: [0, 250], z: [0, 400], face: +x}
  right_side: {mirror: left_side, x: {to: width}}
  top: {board: carcass, x: [left_side.x1, right_side.x0], y: [0, 250], z: {to: 400}, face: -z}
  bottom: {board: carcass, x: [left_side.x1, right_side.x0], y: [0, 250], z: {from: 0}, face: +z}
joints:
  - join: [top, bottom]
    to: [left_side, right_side]
    fittings: [{fitting: dowel-8x35}, {fitting: cam-and-bolt, ends: 64}]
safety: {wall_restraint: none}
"""


def changed(old: str, new: str) -> str:
    """Return the sound definition with one place changed."""
    assert SOUND.count(old) == 1, old
    return SOUND.replace(old, new)


def bombs() -> Iterator[str]:
    """Nine aliases of ten aliases each: 10^9 values if opened."""
    yield "a0: &a0 [x, x, x, x, x, x, x, x, x, x]\n"
    for n in range(1, 10):
        yield f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n"


TAG = "!!python/object/apply:os.system ['touch {mark}']"

# name: (definition, what the message must say)
HOSTILE: dict[str, tuple[str, str]] = {
    "tag that constructs": (changed("product: Box", f"product: {TAG}"), r"\[yaml-tag\]"),
    "tag of our own": (changed("width: 600", "width: !sum 600"), r"\[yaml-tag\]"),
    "formula reaching for attributes": (
        changed("x: {to: width}", "x: {to: width.__class__.__mro__}"),
        r"\[formula-",
    ),
    "formula that calls": (
        changed("x: {to: width}", "x: {to: \"__import__('os').system('touch {mark}')\"}"),
        r"\[formula-",
    ),
    "formula that runs for ever": (
        changed("x: {to: width}", "x: {to: 9 ** 9 ** 9 ** 9 ** 9}"),
        r"\[formula-",
    ),
    "formula nested deep": (
        changed("x: {to: width}", "x: {to: " + "(" * 5000 + "1" + ")" * 5000 + "}"),
        r"\[formula-",
    ),
    "formulas in a ring": (
        changed("z: {to: 400}", "z: {to: bottom.z1 + 300}").replace(
            "z: {from: 0}", "z: {from: top.z0 - 300}"
        ),
        r"\[formula-loop\]",
    ),
    "nested aliases": ("".join(bombs()) + SOUND, r"\[yaml-too-large\]"),
    "nested lists": ("a: " + "[" * 20000 + "]" * 20000 + "\n", r"\[yaml-too-deep\]"),
    "path out of the folder": (
        SOUND + "units: {box: {file: ../../../../etc/passwd}}\n",
        r"\[path-outside-folder\]",
    ),
    "absolute path": (SOUND + "catalogues: [/etc/passwd]\n", r"\[path-outside-folder\]"),
    "Markdown image of a local file": (
        SOUND + 'texts: {en: {use: "![x](file:///etc/passwd)"}}\n',
        r"\[text-image\]",
    ),
    "Markdown image from the network": (
        SOUND + 'texts: {en: {care: "![x](http://192.0.2.1/x.png)"}}\n',
        r"\[text-image\]",
    ),
    "no bytes": ("", r"\[definition-empty\]"),
    "not text": ("\x00\x01\x02", r"\[(file-not-text|yaml-syntax)\]"),
    "a list": ("- 1\n- 2\n", r"\[definition-not-a-mapping\]"),
    "a panel of length zero": (changed("width: 600", "width: 36"), r"\[zero-size\]"),
    "not a number": (changed("width: 600", "width: .nan"), r"\[number-not-finite\]"),
    "infinite": (changed("width: 600", "width: .inf"), r"\[number-not-finite\]"),
    "negative depth": (
        changed(
            "z: [0, 400], face: +x}",
            "z: [0, 400], face: +x, bores: [{face: face, y: 50, z: 200, diameter: 5, depth: -12}]}",
        ),
        r"\[negative-size\]",
    ),
    "100 000 repetitions": (
        changed("{fitting: dowel-8x35}", "{fitting: dowel-8x35, count: 100000}"),
        r"\[out-of-range\]",
    ),
    "a pitch of nearly nothing": (
        changed("{fitting: dowel-8x35}", "{fitting: dowel-8x35, pitch: 0.0001}"),
        r"\[out-of-range\]",
    ),
    "rows without end": (
        SOUND
        + "fixtures: [{fitting: shelf-support-5, on: left_side, "
        + "rows: {first: 100, last: 1000000000, pitch: 0.001}}]\n",
        r"\[out-of-range\]",
    ),
    "a hundred thousand panels": (
        SOUND
        + "bought:\n"
        + "".join(
            f"  r{n}: {{shape: box, x: [0, 1], y: [0, 1], z: [{n}, {n}.5], mass: 1}}\n"
            for n in range(100_000)
        ),
        r"\[(yaml-too-large|file-too-large)\]",
    ),
    "a misspelt key": (changed("product: Box", "prodcut: Box"), r"prodcut.*\[unknown-key\]"),
}


def kdkit(*args: object, cwd: pathlib.Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a folder of its own."""
    return subprocess.run(
        [sys.executable, "-m", "kdkit", *map(str, args)],
        cwd=cwd,
        capture_output=True,
        text=True,
        timeout=120,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"},
        check=False,
    )


@pytest.fixture(scope="module")
def sound_output(tmp_path_factory: pytest.TempPathFactory) -> pathlib.Path:
    """Return what an earlier build of the sound definition wrote."""
    folder = tmp_path_factory.mktemp("sound")
    (folder / "bad.yaml").write_text(SOUND, encoding="utf-8")
    run = kdkit("build", "bad.yaml", "--out", "out", cwd=folder)
    assert run.returncode == 0, run.stderr
    return folder / "out"


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_definition_gets_a_located_problem_and_leaves_the_output(
    name: str, tmp_path: pathlib.Path, sound_output: pathlib.Path
) -> None:
    text, expected = HOSTILE[name]
    shutil.copytree(sound_output, tmp_path / "out")
    mark = tmp_path / "mark"
    (tmp_path / "bad.yaml").write_text(text.replace("{mark}", str(mark)), encoding="utf-8")
    run = kdkit("build", "bad.yaml", "--out", "out", cwd=tmp_path)
    assert "Traceback" not in run.stderr
    assert run.returncode == 1, run.stderr[:2000]
    assert re.search(expected, run.stderr), run.stderr[:2000]
    assert re.search(r"bad\.yaml:\d+:\d+: error: ", run.stderr), run.stderr[:2000]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.yaml", "out"]
    assert tree(tmp_path / "out") == tree(sound_output)
    assert len(run.stderr) < 200_000


def test_ten_megabytes_are_refused(tmp_path: pathlib.Path) -> None:
    (tmp_path / "bad.yaml").write_text(SOUND + "# filler\n" * 1_200_000, encoding="utf-8")
    run = kdkit("check", "bad.yaml", cwd=tmp_path)
    assert run.returncode == 1
    assert "[file-too-large]" in run.stderr
    assert "bad.yaml" in run.stderr


def test_all_problems_come_at_once(tmp_path: pathlib.Path) -> None:
    text = changed("product: Box", "prodcut: Box").replace("thickness: 18", "thickness: thick")
    (tmp_path / "bad.yaml").write_text(text, encoding="utf-8")
    run = kdkit("check", "bad.yaml", cwd=tmp_path)
    assert run.returncode == 1
    assert run.stderr.count("error: ") >= 2


def test_markup_in_a_title_is_text_in_the_manual(tmp_path: pathlib.Path) -> None:
    text = changed("product: Box", "product: '<script>alert(1)</script><img src=x>'")
    (tmp_path / "odd.yaml").write_text(text, encoding="utf-8")
    run = kdkit("build", "odd.yaml", "--out", "out", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    page = (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert "&lt;script&gt;alert(1)" in page


def tree(folder: pathlib.Path) -> dict[str, bytes]:
    """Return every file below a folder with its bytes."""
    return {
        str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def test_a_failed_build_leaves_the_old_output_and_the_same_input_gives_the_same_bytes(
    tmp_path: pathlib.Path,
) -> None:
    file = tmp_path / "box.yaml"
    file.write_text(SOUND, encoding="utf-8")
    assert kdkit("build", "box.yaml", "--out", "out", cwd=tmp_path).returncode == 0
    first = tree(tmp_path / "out")
    assert {
        "manual.pdf",
        "manual.html",
        "plan.json",
        "cutlist.csv",
        "drilling.csv",
        "hardware.csv",
    } <= set(first)

    file.write_text(changed("width: 600", "width: .nan"), encoding="utf-8")
    assert kdkit("build", "box.yaml", "--out", "out", cwd=tmp_path).returncode == 1
    assert tree(tmp_path / "out") == first

    file.write_text(SOUND, encoding="utf-8")
    assert kdkit("build", "box.yaml", "--out", "again", cwd=tmp_path).returncode == 0
    assert tree(tmp_path / "again") == first


def test_a_folder_of_somebody_else_is_not_touched(tmp_path: pathlib.Path) -> None:
    (tmp_path / "box.yaml").write_text(SOUND, encoding="utf-8")
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("Dear")
    run = kdkit("build", "box.yaml", "--out", "letters", cwd=tmp_path)
    assert run.returncode == 1
    assert "Traceback" not in run.stderr
    assert tree(tmp_path / "letters") == {"dear.txt": b"Dear"}


def test_an_unreadable_file_is_said(tmp_path: pathlib.Path) -> None:
    (tmp_path / "latin.yaml").write_bytes("product: Stühle\n".encode("latin-1"))
    run = kdkit("check", "latin.yaml", cwd=tmp_path)
    assert (run.returncode, "[file-not-text]" in run.stderr) == (1, True)
