"""Nothing that a file, a catalogue or an argument says acts on the terminal.

Every command runs as on a terminal: the library for commands takes colours out of what
goes anywhere else, and a test through a pipe would not see them.
"""

from __future__ import annotations

import functools
import io
import json
import pathlib
import tempfile
import unicodedata
from collections.abc import Callable

import ezdxf
import pytest

from kdkit.archive import IssuedFile, Revision, new_archive, open_archive, store_revision
from kdkit.cli import show
from kdkit.cli.commands import group
from kdkit.cli.group import COMMANDS as COMMANDS_KNOWN
from tests.test_hostile_input import SOUND

EVIL = "\x1b[2J\x1b]0;x\x07\x9b31m\u202ecod\u2066\u200b\x7f\x08\r"
"""Clears the screen, names the window, turns the line round, hides, takes back."""

NAME = f"box{EVIL}.yaml"


def in_yaml(text: str) -> str:
    """Return a text as escapes between YAML's double quotes."""
    return "".join(f"\\U{ord(c):08x}" for c in text)


IN_YAML = in_yaml(EVIL)

UNSEEN = "\u200b\u2028\ufeff\u00ad\u2060"
"""Not to be seen, but no control."""

CATALOGUE = f"""\
boards:
  "{IN_YAML}":
    title: "{IN_YAML}"
    family: "{IN_YAML}"
  odd: {{title: 5, "{IN_YAML}": "{IN_YAML}"}}
fittings:
  "{IN_YAML}": {{like: "{IN_YAML}", title: "{IN_YAML}"}}
  "x\\nerror: a line of its own": {{kind: "{IN_YAML}"}}
"""

IMPOSSIBLE = SOUND.replace(
    "safety:",
    """put_before: {top: left_side, left_side: top}
safety:""",
)


@functools.cache
def hostile_archive() -> bytes:
    """Return an archive whose rows somebody filled with what no definition may hold."""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "x.sqlite"
        assert new_archive(str(file)) == ()
        archive, _ = open_archive(str(file))
        assert archive is not None
        named = Revision(
            product=EVIL, revision=EVIL, variant=EVIL, settings={}, definition=EVIL, written_by=EVIL
        )
        told = {"form": 1, "hardware": [], "parts": [], "steps": []}
        record = IssuedFile(kind="record", path="record.json", data=json.dumps(told).encode())
        assert store_revision(archive, named, [record])[0] is not None
        archive.close()
        return file.read_bytes()


class Screen(io.StringIO):
    """A terminal's own stream."""

    def isatty(self) -> bool:
        return True


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    write("box.yaml", SOUND)
    write(NAME, SOUND)
    write("unseen.yaml", SOUND.replace("product: Box", f'product: "Box {in_yaml(UNSEEN)}"'))
    write("mine.yaml", CATALOGUE)
    write(
        "bad.yaml",
        SOUND.replace(
            "product: Box", f'"{in_yaml(EVIL.strip())}": "{IN_YAML}"\nproduct: "{IN_YAML}"'
        ),
    )
    write(
        "named.yaml",
        SOUND.replace("join: [top", f'name: "{in_yaml(UNSEEN)}"\n    join: ["{IN_YAML}"'),
    )
    write("with-mine.yaml", SOUND + "catalogues: [mine.yaml]\n")
    write("impossible.yaml", IMPOSSIBLE)
    write("run.yaml", f'run: "{IN_YAML}"\nproducts: [{{file: "{IN_YAML}", "{IN_YAML}": 1}}]\n')
    write("proof.json", json.dumps({EVIL: EVIL, "motion_class": EVIL, "loops": [{"why": EVIL}]}))
    write(f"list{EVIL}.csv", f"name,length,width,thickness,{EVIL}\n{EVIL},600,200,18,{EVIL}\n")
    drawing = ezdxf.new()
    drawing.modelspace().add_lwpolyline([(0, 0), (9, 0), (5, 5)], dxfattribs={"layer": "a\u202eb"})
    drawing.saveas("panel.dxf")

    def call(*args: str) -> tuple[int, str, str]:
        if "hostile.sqlite" in args:
            pathlib.Path("hostile.sqlite").write_bytes(hostile_archive())
        out, err = Screen(), Screen()
        monkeypatch.setattr("sys.stdout", out)
        monkeypatch.setattr("sys.stderr", err)
        with pytest.raises(SystemExit) as left:
            group.main(list(args), prog_name="kdkit")
        monkeypatch.undo()
        monkeypatch.chdir(tmp_path)
        assert isinstance(left.value.code, int)
        return left.value.code, out.getvalue(), err.getvalue()

    return call


def write(name: str, text: str) -> None:
    pathlib.Path(name).write_text(text, encoding="utf-8", newline="")


def acting(text: str) -> set[str]:
    """Return the characters that a terminal would act on, or that nobody can see."""
    return {c for c in text if unicodedata.category(c)[0] in "CZ" and c not in "\n\t \u00a0\u3000"}


COMMANDS = {
    "check": ["check", NAME],
    "check a bad file": ["check", "bad.yaml"],
    "check what is unseen": ["check", "unseen.yaml"],
    "check as JSON": ["check", "bad.yaml", "--json"],
    "check joints": ["check", "named.yaml"],
    "check a catalogue": ["check", "with-mine.yaml"],
    "check a variant": ["check", "box.yaml", "--variant", EVIL],
    "check a setting": ["check", "box.yaml", "--set", f"{EVIL}=5"],
    "check no setting": ["check", "box.yaml", "--set", EVIL],
    "check no file": ["check", EVIL],
    "check no option": ["check", f"--{EVIL}"],
    "explain": ["explain", EVIL],
    "no command": [EVIL],
    "plan": ["plan", NAME],
    "plan as JSON": ["plan", NAME, "--json"],
    "plan without one": ["plan", "impossible.yaml", "--out", f"why{EVIL}"],
    "plan why": ["plan", "box.yaml", "--why", EVIL, EVIL],
    "verify": ["verify", "impossible.yaml", "proof.json"],
    "verify another file": ["verify", "box.yaml", f"list{EVIL}.csv"],
    "build": ["build", NAME, "--out", f"out{EVIL}"],
    "build a bad file": ["build", "bad.yaml", "--out", f"out{EVIL}"],
    "workshop": ["workshop", NAME, "--out", f"shop{EVIL}", "--files", "dxf,programs"],
    "pack": ["pack", NAME, "--out", f"cartons{EVIL}"],
    "pack no number": ["pack", NAME, "--out", "x", "--gtin", EVIL],
    "run": ["run", "run.yaml", "--out", f"run{EVIL}"],
    "run of another file": ["run", NAME, "--out", "x"],
    "workshop no output": ["workshop", NAME, "--out", "x", "--files", EVIL],
    "workshop no paper": ["workshop", NAME, "--out", "x", "--paper", EVIL],
    "workshop no number": ["workshop", NAME, "--out", "x", "--kerf", EVIL],
    "apart": ["apart", NAME, "--part", "top", "--out", f"apart{EVIL}"],
    "apart no part": ["apart", NAME, "--part", EVIL],
    "apart no box": ["apart", NAME, "--to-carry", "--largest", EVIL],
    "choose": ["choose", NAME, "top", "left_side"],
    "choose no part": ["choose", NAME, EVIL, EVIL],
    "new in no folder": ["new", "open-case", f"no{EVIL}/x.yaml"],
    "choose a long board": ["choose", "--butting", f"{'x' * 200}:18"],
    "choose no board": ["choose", "--butting", f"{EVIL}:18"],
    "choose from a catalogue": ["choose", "--butting", "oak:27", "--catalogue", "mine.yaml"],
    "catalogue": ["catalogue", "mine.yaml", "--out", f"page{EVIL}", "--no-pdf"],
    "start": ["start", f"list{EVIL}.csv"],
    "start again": ["start", f"list{EVIL}.csv", NAME],
    "start as": ["start", f"list{EVIL}.csv", f"new{EVIL}.yaml", "--product", EVIL],
    "start no sheet": ["start", f"list{EVIL}.csv", "y.yaml", "--sheet", EVIL],
    "outline": ["outline", "panel.dxf"],
    "outline no layer": ["outline", "panel.dxf", "--layer", EVIL],
    "outline no drawing": ["outline", NAME],
    "new": ["new", "open-case", f"new{EVIL}.yaml"],
    "new again": ["new", "open-case", NAME],
    "new kind": ["new", EVIL],
    "schema": ["schema"],
    "archive new": ["archive", "new", f"w{EVIL}.sqlite"],
    "archive verify": ["archive", "verify", "--archive", EVIL],
    "archive import": ["archive", "import", NAME, "--archive", "hostile.sqlite"],
    "issue nowhere": ["issue", NAME, "--archive", EVIL],
    "batch of nothing": ["batch", "N1", EVIL, "--archive", "hostile.sqlite"],
    "batch no number": ["batch", EVIL, "x", "--archive", "hostile.sqlite"],
    "reprint nothing": ["reprint", EVIL, "--archive", "hostile.sqlite"],
    "history of nothing": ["history", EVIL, "--archive", "hostile.sqlite"],
    "history": ["history", "--archive", "hostile.sqlite"],
    "desk of nothing": ["desk", EVIL],
    "desk nowhere": ["desk", "hostile.sqlite", "--host", EVIL],
    "supersede nothing": ["archive", "supersede", EVIL, EVIL, "--archive", "hostile.sqlite"],
    "account nobody": ["archive", "account", EVIL, "--remove", "--archive", "hostile.sqlite"],
    "replace nothing": [
        *("replace", EVIL, "--send", EVIL, "--because", "lost", "--archive", "hostile.sqlite"),
    ],
}


@pytest.mark.parametrize("case", COMMANDS)
def test_nothing_reaches_the_terminal_that_it_acts_on(case: str, run: Run) -> None:
    status, out, err = run(*COMMANDS[case])
    assert status in (0, 1, 2)
    assert out + err
    assert acting(out) == set()
    assert acting(err) == set()
    assert not any(line.startswith("error: a line of its own") for line in err.splitlines())


def test_every_command_is_driven() -> None:
    assert {args[0] for args in COMMANDS.values()} >= set(COMMANDS_KNOWN)


@pytest.mark.parametrize(
    "args", [["check", "bad.yaml", "--json"], ["plan", NAME, "--json"], ["schema"]]
)
def test_json_holds_the_true_text(args: list[str], run: Run) -> None:
    _, out, _ = run(*args)
    data = json.loads(out)
    if args[0] == "check":
        assert any(EVIL.strip() in step for p in data["problems"] for step in p["path"])


@pytest.mark.parametrize(
    "text", [EVIL, UNSEEN, "Tür 戸\u3000\u00a0×", "\ud800", "\U0001f6aa\U000e0001"]
)
def test_json_says_the_same_escaped(text: str) -> None:
    shown = show.json_text({text: [text]})
    assert json.loads(shown) == {text: [text]}
    assert acting(shown) == set()


def test_a_table_for_a_file_keeps_its_mark_and_line_ends(run: Run) -> None:
    _, out, _ = run("choose", "--butting", "oak:27", "--csv")
    assert out.startswith("\ufeff")
    assert out.count("\r\n") == out.count("\n") > 10
    assert acting(out.removeprefix("\ufeff").replace("\r\n", "\n")) == set()


def test_a_file_name_stays_on_its_line(run: Run) -> None:
    _, out, err = run("new", "open-case", "a\nerror: no.yaml")
    assert (out, err) == ("a\\x0aerror: no.yaml\n", "")


def test_letters_of_every_script_stay() -> None:
    text = "Tür Étagère 戸棚\u3000ｶﾞ דלת باب दरवाज़ा 🚪 × … “”"
    assert show.printable(text) == text
