"""The fonts that travel with kdkit: the only ones that drawings and pages are set in.

They have family names of kdkit's own, so that no font of a system can take their place.
Pages and pictures that leave the house carry the signs that they need with them.

The page engine gets a font configuration made from nothing for each document; no font, rule
or locale of the system is in it. DejaVu Sans has × – ½ → Ø. Pages for the screen take a
subset along (about 13 kB).
"""

from __future__ import annotations

import base64
import io
import pathlib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from kdkit.illustrate.paper.style import style_folder

__all__ = ["CODE", "FACES", "TEXT", "Face", "advances", "face_rules", "signs_not_shown"]

TEXT = "kdkit Sans"
"""Family of all lettering and text. ``layout.text_width`` has its measures."""

CODE = "kdkit Mono"
"""Family of keys and other words to be typed."""


@dataclass(frozen=True)
class Face:
    """One font file: DejaVu 2.37, unchanged.

    Args:
        family, bold: as style sheets and pictures call it.
        original: the family that the file itself names.
        file: in the folder of fonts.
    """

    family: str
    bold: bool
    original: str
    file: str

    @property
    def path(self) -> pathlib.Path:
        """Return where the file is."""
        folder = style_folder()
        assert folder is not None  # it is part of the package
        return folder / "fonts" / self.file


FACES = (
    Face(TEXT, False, "DejaVu Sans", "DejaVuSans.ttf"),
    Face(TEXT, True, "DejaVu Sans", "DejaVuSans-Bold.ttf"),
    Face(CODE, False, "DejaVu Sans Mono", "DejaVuSansMono.ttf"),
)


def _opened(path: pathlib.Path) -> Any:
    """Open a font. The library is imported here: a check of plain texts needs no font."""
    from fontTools.ttLib import TTFont  # type: ignore[import-untyped]  # it has no types

    return TTFont(path, lazy=True, recalcTimestamp=False)


@lru_cache(maxsize=2)
def advances(*, bold: bool) -> Mapping[int, float]:
    """Return how far each sign of the text font reaches, in heights of its capitals."""
    path = next(face.path for face in FACES if face.family == TEXT and face.bold is bold)
    with _opened(path) as font:
        capital = font["glyf"]["H"].yMax
        widths = font["hmtx"]
        return {sign: widths[glyph][0] / capital for sign, glyph in font.getBestCmap().items()}


_UNSEEN = ("Cc", "Cf", "Zl", "Zp")
"""Categories that are never drawn: controls, joiners, ends of lines and paragraphs."""

_VARIATIONS = range(0xFE00, 0xFE10)
"""Say which of two looks a sign has; not drawn themselves."""

_LEFT_OUT = ("FFTM", "GSUB", "MATH", "kern")
"""Tables that a browser can do without; ``GPOS`` kerns."""


_SHOWN = frozenset(map(chr, (*range(0x20, 0x7F), *range(0xA0, 0x180)))) | frozenset("–—‘’“”…•½\n\t")
"""Signs that the fonts have for certain: those of most texts. A test asks the fonts."""


def signs_not_shown(text: str) -> str:
    """Return the characters of a text, each once, that none of the fonts can show."""
    if all(sign in _SHOWN for sign in text):
        return ""  # without opening the fonts
    known = _known()
    return "".join(
        sign
        for sign in dict.fromkeys(unicodedata.normalize("NFC", text))
        if ord(sign) not in known
        and unicodedata.category(sign) not in _UNSEEN
        and ord(sign) not in _VARIATIONS
        and not known.issuperset(map(ord, unicodedata.normalize("NFD", sign)))
    )


def face_rules(text: str, families: Iterable[str] = (TEXT,)) -> str:
    """Return style rules that hold the fonts themselves, as far as a text needs them.

    The same text gives the same bytes with the same version of the font library.

    Args:
        text: everything that may be set in the fonts.
        families: which of the two.
    """
    signs = frozenset(text) | frozenset(" 0123456789")  # counters are not in the text
    return "\n".join(
        f'@font-face {{ font-family: "{face.family}"; '
        f"font-weight: {'bold' if face.bold else 'normal'}; "
        f"src: url(data:font/woff2;base64,{_packed(face, signs)}) }}"
        for face in FACES
        if face.family in families
    )


@lru_cache(maxsize=1)
def _known() -> frozenset[int]:
    """Return the numbers of all characters that one of the fonts shows."""
    known: set[int] = set()
    for face in FACES:
        with _opened(face.path) as font:
            known.update(font.getBestCmap())
    return frozenset(known)


@lru_cache(maxsize=32)
def _packed(face: Face, signs: frozenset[str]) -> str:
    """Return a font with the wanted signs alone, compressed (WOFF2), as base64."""
    from fontTools.subset import Options, Subsetter  # type: ignore[import-untyped]

    options = Options(
        hinting=False,
        layout_features=["kern", "mark", "mkmk"],
        name_IDs=[0, 14],  # whose it is, and where its licence stands
        notdef_outline=True,
    )
    options.drop_tables += _LEFT_OUT
    with _opened(face.path) as font:
        subsetter = Subsetter(options)
        subsetter.populate(unicodes=sorted(map(ord, signs)))
        subsetter.subset(font)
        font.flavor = "woff2"
        packed = io.BytesIO()
        font.save(packed)
    return base64.b64encode(packed.getvalue()).decode("ascii")
