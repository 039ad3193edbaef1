"""The maker's texts, judged before anything is drawn or set."""

from __future__ import annotations

from kdkit.diagnostics import Problem
from kdkit.model.says import Product
from kdkit.publish.markdown_text import render_markdown

__all__ = ["check_texts"]

MARKDOWN_FIELDS = ("introduction", "use", "care", "disposal", "spares")


def check_texts(product: Product) -> tuple[Problem, ...]:
    """Return what must not stand in a product's texts, in any of its languages."""
    return tuple(
        problem
        for language, texts in product.texts.items()
        for name in MARKDOWN_FIELDS
        for problem in render_markdown(getattr(texts, name), ("texts", language, name))[1]
    )
