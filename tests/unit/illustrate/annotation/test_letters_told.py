"""Every part that a step's words name has its letter in the step's picture."""

from __future__ import annotations

import pathlib
import re

from kdkit.pipeline import Outcome


def test_letters_of_the_words_stand_in_the_picture(
    built_bookcase: tuple[Outcome, pathlib.Path],
) -> None:
    _, folder = built_bookcase
    html = (folder / "manual.html").read_text(encoding="utf-8")
    steps = re.findall(r'<section class="step[ "].*?</section>', html, re.S)
    assert len(steps) > 8
    for step in steps:
        lines = re.search(r'<ol class="lines">.*?</ol>', step, re.S)
        picture = re.search(r"<svg.*?</svg>", step, re.S)
        assert lines
        assert picture
        told = set(re.findall(r'class="letter">([^<]+)<', lines[0]))
        texts = re.findall(r"<text[^>]*>([^<]+)</text>", picture[0])
        shown = {text.split()[-1] for text in texts if text.split()}
        assert told <= shown, step[:200]
