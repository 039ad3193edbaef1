"""The PDF engine, opened on the fonts that travel with kdkit and on no others.

The engine finds fonts through fontconfig, whose configuration is the machine's and the
user's. Here it gets one that is made from nothing for each document: no file of the
system is part of it, no variable of the environment and no locale leads anywhere else,
and nothing is cached on a disk.
"""

from __future__ import annotations

import os
import warnings
from xml.sax.saxutils import escape

from kdkit.illustrate.paper.fonts import FACES, TEXT

with warnings.catch_warnings():
    # It looks for the system's fonts when it is imported, and warns if there are none.
    warnings.filterwarnings("ignore", message=".*[Ff]ont[Cc]onfig")
    from weasyprint import CSS, HTML  # type: ignore[import-untyped]  # it has no types
    from weasyprint.text.ffi import ffi, fontconfig, pangoft2  # type: ignore[import-untyped]
    from weasyprint.text.fonts import FontConfiguration  # type: ignore[import-untyped]
    from weasyprint.urls import URLFetcher, URLFetcherResponse  # type: ignore[import-untyped]

__all__ = ["CSS", "HTML", "OwnFonts", "URLFetcher", "URLFetcherResponse"]

ffi.cdef("FcConfig * FcConfigCreate (void);")

_ALIAS = """<match target="scan">
<test name="family"><string>{original}</string></test>
<edit name="family" mode="prepend"><string>{family}</string></edit>
</match>"""

_RULES = f"""<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "urn:fontconfig:fonts.dtd">
<fontconfig>
{"".join(_ALIAS.format(original=f.original, family=escape(f.family)) for f in FACES)}
<match target="pattern">
<edit name="lang" mode="assign_replace"><string>en</string></edit>
<edit name="family" mode="append_last"><string>{escape(TEXT)}</string></edit>
</match>
<match target="font">
<edit name="fontfeatures" mode="append"><string>locl 0</string></edit>
</match>
</fontconfig>
"""
"""The fonts get kdkit's names; every family that is not known is the one of texts. What the
locale would change is fixed: the language that fonts are chosen by, and forms of letters
that differ between languages (drawings are set in the language of the locale)."""


class OwnFonts(FontConfiguration):  # type: ignore[misc]
    """Fonts of one document: those of ``FACES``, whatever the system has."""

    def __init__(self) -> None:
        super().__init__()
        self._config = fontconfig.FcConfigCreate()
        read = fontconfig.FcConfigParseAndLoadFromMemory(self._config, _RULES.encode(), True)
        for face in FACES:
            read &= fontconfig.FcConfigAppFontAddFile(self._config, os.fsencode(face.path))
        if not read:
            raise RuntimeError(f"the fonts in {FACES[0].path.parent} cannot be read")
        # The map of fonts keeps the configuration from here on.
        pangoft2.pango_fc_font_map_set_config(
            ffi.cast("PangoFcFontMap *", self.font_map), self._config
        )
        fontconfig.FcConfigDestroy(self._config)
