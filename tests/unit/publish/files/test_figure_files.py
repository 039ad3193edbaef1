"""The figures as files of their own, for somebody who puts them into a page."""

from __future__ import annotations

import pathlib
import re
import xml.etree.ElementTree as ET

SVG = "{http://www.w3.org/2000/svg}"


def test_every_figure_says_what_it_shows(published: pathlib.Path) -> None:
    files = sorted((published / "figures").glob("*.svg"))
    assert files
    page = (published / "manual.html").read_text(encoding="utf-8")
    shown = set(re.findall("<title>([^<]*)</title>", page))
    for file in files:
        root = ET.parse(file).getroot()
        title, words = root.findtext(f"{SVG}title"), root.findtext(f"{SVG}desc")
        assert root.get("role") == "img"
        assert title, file.name
        assert words, file.name
        assert file.stem not in words
        assert words.partition(": ")[2] in shown, f"{file.name}: not the manual's words"


def test_all_figures_can_stand_in_one_page(published: pathlib.Path) -> None:
    files = sorted((published / "figures").glob("*.svg"))
    texts = [(published / "manual.html").read_text(encoding="utf-8")]
    texts += [file.read_text(encoding="utf-8") for file in files]
    ids = [found for text in texts for found in re.findall(r'\sid="([^"]*)"', text)]
    assert len(ids) == len(set(ids))
    for file in files:
        root = ET.parse(file).getroot()
        own = {e.get("id") for e in root.iter() if e.get("id")}
        assert {root.get("aria-labelledby"), root.get("aria-describedby")} == own
