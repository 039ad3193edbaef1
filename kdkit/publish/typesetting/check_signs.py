"""Texts that the fonts cannot show: on paper they would be rows of empty boxes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from kdkit.catalogue import Catalogue, load_catalogue
from kdkit.diagnostics import Path, Problem, Related, warning
from kdkit.illustrate.paper.fonts import signs_not_shown
from kdkit.model.says import Product

__all__ = ["check_signs"]

_SHOWN = 12
"""So many signs, and so many further places, are named."""

_FIELDS = ("title", "introduction", "use", "care", "disposal", "spares")


def check_signs(product: Product, catalogue: Catalogue) -> tuple[Problem, ...]:
    """Return one warning for all texts on paper with signs that no font of kdkit's has.

    Args:
        product: with its units.
        catalogue: the one that it takes from; its own files' titles are read, too.
    """
    found = [
        (path, on_key, signs)
        for path, on_key, text in (*_of_product(product), *_of_catalogue(product, catalogue))
        if (signs := signs_not_shown(text))
    ]
    if not found:
        return ()
    places = {path: on_key for path, on_key, _ in reversed(found)}
    (path, on_key), *others = reversed(places.items())
    signs = "".join(dict.fromkeys("".join(signs for _, _, signs in found)))
    more = f" and {len(signs) - _SHOWN} others" if len(signs) > _SHOWN else ""
    also = f", also in {len(others)} other texts" if len(others) > 1 else ""
    problem = warning(
        "sign-not-in-font",
        f"the fonts of the printed pages have no {signs[:_SHOWN]}{more}: "
        f"empty boxes would stand there{also}",
        path,
        help="write it in letters of another alphabet, such as Latin, Greek or Cyrillic; or "
        "print the pages for the screen from a browser, which takes such signs from the "
        "system's fonts",
    )
    related = tuple(Related(message="here, too", path=path) for path, _ in others[:_SHOWN])
    return (replace(problem, on_key=on_key, related=related),)


def _of_product(product: Product, base: Path = ()) -> Iterator[tuple[Path, bool, str]]:
    """Give what stands on paper, with its path, and whether the path's key is meant."""
    if not base:
        for key in ("product", "revision", "batch", "date"):
            yield (key,), False, getattr(product, key)
        for key in ("name", "address", "contact"):
            yield ("maker", key), False, getattr(product.maker, key)
        texts = product.texts.get(product.language)
        for key in _FIELDS if texts is not None else ():
            yield ("texts", product.language, key), False, getattr(texts, key)
        for key, title in texts.parts.items() if texts is not None else ():
            yield ("texts", product.language, "parts", key), False, title
        for section in ("bags", "variants"):
            for key in getattr(product, section):
                yield (section, key), True, key
    else:  # what a unit is called that has no title of its own
        yield (*base, "product"), False, product.product
    for section in ("boards", "panels", "bought", "units"):
        for key, entry in getattr(product, section).items():
            place = (*base, section, key)
            yield ((*place, "title"), False, entry.title) if entry.title else (place, True, key)
    for key, panel in product.panels.items():
        for n, bore in enumerate(panel.bores):
            yield (*base, "panels", key, "bores", n, "purpose"), False, bore.purpose
    for key, defined in product.unit_definitions.items():
        yield from _of_product(defined, (*base, "unit_definitions", key))
    for key, unit in product.units.items():
        inner = product.unit_files.get(unit.file or "")
        if inner is not None:
            yield from _of_product(inner, (*base, "units", key, "file"))


def _of_catalogue(product: Product, catalogue: Catalogue) -> Iterator[tuple[Path, bool, str]]:
    """Give what a maker's own catalogue says otherwise than the one that comes with kdkit."""
    known, _ = load_catalogue()
    for section in ("boards", "items", "tools", "fittings"):
        shared = getattr(known, section)
        for key, entry in getattr(catalogue, section).items():
            if entry != shared.get(key):
                printed = entry.model_dump(exclude={"sources"})
                yield ("catalogues",), False, "".join(_texts(printed))


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _texts(inner)
