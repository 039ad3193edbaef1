"""Part of row 12: the page of every joint and fixture, made from the catalogue.

Takes a catalogue; gives a folder with ``index.html``, which holds all its pictures, and
the same for print.

The page of joints is committed as one HTML file. Its pictures are small enough; a test
compares some of its sections with what the catalogue gives now.
"""

from kdkit.publish.catalogue_page.folder import publish_catalogue
from kdkit.publish.catalogue_page.page import render_page, render_section, write_sections

__all__ = ["publish_catalogue", "render_page", "render_section", "write_sections"]
