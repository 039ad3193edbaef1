"""A library that could not do what it was asked fails the build, with the place named."""

from __future__ import annotations

import logging
import pathlib
import warnings
from typing import Any

import ezdxf.document
import pytest
import weasyprint.svg  # type: ignore[import-untyped]
import xlsxwriter.worksheet  # type: ignore[import-untyped]

from kdkit.diagnostics import Severity
from kdkit.pipeline import Request, build
from kdkit.publish.typesetting.engines import EngineFailed, hear
from kdkit.publish.typesetting.pdf import make_pdf, measure_heights
from kdkit.workshop import workshop
from tests.test_hostile_input import SOUND as SOUND_DEFINITION

BENCH = pathlib.Path(__file__).parents[4] / "examples" / "hall-bench.yaml"

PAGE = '<html lang="en"><head><title>t</title>{head}</head><body>{body}</body></html>'
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
    "<title>{title}</title>{shape}</svg>"
)
BROKEN = SVG.format(
    title="Step 3 &amp; more", shape='<g transform="rotate(x)"><path d="M0 0"/></g>'
)
SOUND = SVG.format(title="Sound", shape='<path d="M0 0L1 1"/>')


def failure(html: str) -> list[str]:
    with pytest.raises(EngineFailed) as failed:
        make_pdf(html, "a4")
    return [f"{p.code}|{p.message}|{p.where}" for p in failed.value.problems]


def test_a_picture_that_cannot_be_drawn_is_named() -> None:
    body = f'{SOUND}<section id="step-3">{BROKEN}{SOUND}</section>'
    (said,) = failure(PAGE.format(head="", body=body))
    assert said.startswith("picture-not-drawn|the picture “Step 3 & more” could not be drawn: V")
    assert said.endswith("|in the section step-3")


def test_signs_that_the_fonts_lack_are_told_at_the_text_and_fail_no_build(
    tmp_path: pathlib.Path,
) -> None:
    text = SOUND_DEFINITION.replace("product: Box", "product: Box 椅子")
    (tmp_path / "box.yaml").write_text(text, encoding="utf-8")
    outcome = build(Request(file=tmp_path / "box.yaml"), tmp_path / "out")
    assert outcome.complete
    (told,) = [p for p in outcome.problems if p.severity is not Severity.ADVICE]
    assert told.code == "sign-not-in-font"
    assert told.source is not None
    assert told.source.line == 2
    assert "椅子" in (tmp_path / "out" / "manual.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "print_it", [make_pdf, lambda html, paper: measure_heights(html, paper, ())]
)
def test_a_style_that_the_engine_does_not_know_fails(print_it: Any) -> None:
    with pytest.raises(EngineFailed, match=r"colour: red.* at 1:5, unknown property"):
        print_it(PAGE.format(head="<style>p { colour: red }</style>", body="<p>x</p>"), "a4")


def test_an_image_that_is_not_fetched_fails() -> None:
    (said,) = failure(PAGE.format(head="", body='<img src="file:///x.png" alt="x">'))
    assert said.startswith("engine-failed|the page engine: Failed to load image at 'file:///x.png'")


def test_rules_for_screens_are_harmless() -> None:
    head = "<style>@media screen and (max-width: 40rem) { p { margin: 0 } }</style>"
    assert make_pdf(PAGE.format(head=head, body="<p>x</p>"), "a4").startswith(b"%PDF")


def test_the_build_fails_and_leaves_the_folder(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise ValueError("no such curve")

    monkeypatch.setattr(weasyprint.svg.SVG, "draw", fail)
    out = tmp_path / "place" / "out"
    out.mkdir(parents=True)
    outcome = build(Request(file=BENCH), out)
    assert {p.code for p in outcome.problems} >= {"picture-not-drawn"}
    assert not outcome.complete
    assert any("ValueError: no such curve" in p.message for p in outcome.problems)
    assert list(out.iterdir()) == []
    assert list(out.parent.iterdir()) == [out]


def workshop_problems(tmp_path: pathlib.Path, output: str) -> list[str]:
    """Return what a run for the workshop reports; it delivered nothing."""
    out = tmp_path / "place" / "out"
    out.mkdir(parents=True)
    outcome = workshop(Request(file=BENCH), out, outputs=(output,))
    assert not outcome.complete
    assert list(out.iterdir()) == []
    assert list(out.parent.iterdir()) == [out]
    return [p.message for p in outcome.problems if p.code == "engine-failed"]


def test_a_solid_that_is_not_written_fails(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cad = pytest.importorskip("build123d")
    monkeypatch.setattr(cad, "export_step", lambda *_, **__: False)
    (said,) = workshop_problems(tmp_path, "step")
    assert said == "the CAD kernel did not write panel-A.step"


def test_a_cell_that_the_workbook_refuses_fails(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(xlsxwriter.worksheet.Worksheet, "write_string", lambda *_: -2)
    (said,) = workshop_problems(tmp_path, "xlsx")
    assert said.startswith("the workbook cannot hold line 1, column 1 of the sheet ")


def test_a_warning_of_the_workbook_fails(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        xlsxwriter.worksheet.Worksheet,
        "set_landscape",
        lambda _: warnings.warn("odd", stacklevel=1),
    )
    (said,) = workshop_problems(tmp_path, "xlsx")
    assert said == "the workbook is not whole: odd; odd; odd; odd"


def test_what_the_drawing_library_logs_fails(
    tmp_path: pathlib.Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = ezdxf.document.Drawing.write

    def warn(*args: Any) -> None:
        logging.getLogger("ezdxf").warning("lost an entity")
        write(*args)

    monkeypatch.setattr(ezdxf.document.Drawing, "write", warn)
    (said,) = workshop_problems(tmp_path, "dxf")
    assert said == "the drawing of panel A is not sound: lost an entity"


def test_a_lack_of_memory_that_a_library_caught_goes_on() -> None:
    log = logging.getLogger("some engine")

    def work() -> None:
        with hear("some engine"):
            log.error("Failed")
            log.debug("because", exc_info=MemoryError())

    with pytest.raises(MemoryError):
        work()


def test_details_go_with_what_was_told_before() -> None:
    log = logging.getLogger("some engine")
    fault = ValueError("x")
    with hear("some engine") as heard:
        log.info("all well")
        log.warning("no %s", "glyph")
        log.debug("because", exc_info=fault)
    assert [(h.form, h.values, h.text, h.cause) for h in heard] == [
        ("no %s", ("glyph",), "no glyph", fault)
    ]
