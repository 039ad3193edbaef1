"""Pages are set in the fonts of kdkit alone, whatever they ask for."""

from __future__ import annotations

import io
import threading

import pytest
from pypdf import PdfReader

from kdkit.publish.typesetting.pdf import make_pdf

PAGE = """<!DOCTYPE html><html lang="en"><head><title>Page</title><style>
p {{ font-family: {family} }}</style></head><body><p>plain <b>bold</b> <i>slanted</i> {text}</p>
<svg width="20mm" height="9mm" viewBox="0 0 20 9"><title>x</title><text x="1" y="8">{text}</text>
</svg></body></html>"""


def fonts(pdf: bytes) -> set[str]:
    """Return the names of all fonts, without the letters that mark a part of one."""
    return {
        font.get_object()["/BaseFont"].partition("+")[2]
        for page in PdfReader(io.BytesIO(pdf)).pages
        for font in page["/Resources"]["/Font"].values()
    }


@pytest.mark.parametrize("family", ['"kdkit Sans"', "serif", "monospace", '"DejaVu Serif"', "x, y"])
@pytest.mark.parametrize("text", ["ordinary", "本棚 🪑 ก"])
def test_no_font_of_the_system_gets_in(family: str, text: str) -> None:
    pdf = make_pdf(PAGE.format(family=family, text=text), "a4")
    assert {name.partition("-")[0] for name in fonts(pdf)} == {"kdkit"}
    assert "kdkit-Sans" in fonts(pdf)


def test_unknown_families_look_like_the_font_of_texts() -> None:
    ours, others = (
        make_pdf(PAGE.format(family=family, text="a"), "a4") for family in ("'kdkit Sans'", "other")
    )
    assert PdfReader(io.BytesIO(ours)).pages[0].extract_text() == (
        PdfReader(io.BytesIO(others)).pages[0].extract_text()
    )


def test_several_threads_set_the_same_bytes() -> None:
    page = PAGE.format(family="'kdkit Sans'", text="several at once")
    made: list[bytes] = []
    workers = [threading.Thread(target=lambda: made.append(make_pdf(page, "a4"))) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert len(made) == 4
    assert len(set(made)) == 1
