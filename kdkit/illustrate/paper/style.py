"""Styles: pens and tones by name, as data in ``styles/<name>/figure.toml``."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, ValidationError

import kdkit
from kdkit.diagnostics import Problem, error

__all__ = ["Pen", "Style", "load_style", "parse_style", "style_folder"]

Colour = Annotated[str, Field(pattern=r"^#[0-9a-f]{6}$")]


class _Entry(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Pen(_Entry):
    """A line on paper: width in mm, colour, dash and gap lengths in mm."""

    width: float = Field(gt=0)
    colour: Colour
    dash: tuple[float, ...] = ()


class Style(_Entry):
    """How drawings look.

    Args:
        title: for people.
        fonts: families in order of preference, the last a generic one.
        margin: clear space around a figure, mm.
        pens, tones: by name, see ``pen`` and ``tone``.
    """

    title: str
    fonts: tuple[str, ...] = ("sans-serif",)
    margin: float = 2.0
    pens: dict[str, Pen]
    tones: dict[str, Colour]

    def pen(self, name: str) -> Pen:
        """Return the pen of that name, or of the name after its first hyphen, or the default."""
        for key in _fallbacks(name):
            if key in self.pens:
                return self.pens[key]
        return Pen(width=0.25, colour="#000000")

    def tone(self, name: str) -> str:
        """Return the colour of that name, or of the name after its first hyphen, or the default."""
        for key in _fallbacks(name):
            if key in self.tones:
                return self.tones[key]
        return "#ffffff"


def _fallbacks(name: str) -> tuple[str, ...]:
    return (name, name.partition("-")[2], "default")


def style_folder(name: str = "plain") -> Path | None:
    """Return the folder of a style, from the installed package or from the checkout."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9-]*", name):
        return None
    package = Path(kdkit.__file__).resolve().parent
    for folder in (package / "styles" / name, package.parent / "styles" / name):
        if folder.is_dir():
            return folder
    return None


def load_style(name: str = "plain") -> tuple[Style | None, tuple[Problem, ...]]:
    """Return a style by name, or the problems that keep it from being used."""
    folder = style_folder(name)
    if folder is None:
        return None, (
            error(
                "style-missing",
                f"there is no style called {name!r}",
                help="the style that comes with kdkit is called plain",
            ),
        )
    return parse_style((folder / "figure.toml").read_text("utf-8"), f"{name}/figure.toml")


def parse_style(text: str, where: str) -> tuple[Style | None, tuple[Problem, ...]]:
    """Return the style that a TOML text says; ``where`` names it in problems."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        return None, (error("style-bad", f"not readable as TOML: {fault}", where=where),)
    try:
        return Style.model_validate(data), ()
    except ValidationError as fault:
        return None, tuple(
            error("style-bad", f"{e['msg']}", tuple(e["loc"]), where=where) for e in fault.errors()
        )
