"""The maker's texts, judged before anything is drawn or set."""

from __future__ import annotations

from kdkit.diagnostics import Problem, has_errors, warning
from kdkit.model.says import Product
from kdkit.publish.wording.markdown_text import check_markdown
from kdkit.publish.wording.messages import check_wording

__all__ = ["check_texts"]

MARKDOWN_FIELDS = ("introduction", "use", "care", "disposal", "spares")


def check_texts(product: Product) -> tuple[Problem, ...]:
    """Return what must not stand in a product's texts, in any of its languages.

    The language of the manual must have its wording, and texts that are there should
    be read by it.
    """
    problems = [
        problem
        for language, texts in product.texts.items()
        for name in MARKDOWN_FIELDS
        for problem in check_markdown(getattr(texts, name), ("texts", language, name))
    ]
    wording = check_wording(product.language)
    if not has_errors(wording) and product.texts and product.language not in product.texts:
        written = next(iter(product.texts))
        problems.append(
            warning(
                "text-not-read",
                f"the manual's language is {product.language}, but its texts are for "
                f"{', '.join(product.texts)}",
                ("texts", written),
                help=f"write them under `{product.language}`, or change `language`",
            )
        )
    return (*wording, *problems)
