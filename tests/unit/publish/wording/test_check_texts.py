"""The maker's texts are judged in every language, before anything is drawn."""

from __future__ import annotations

from kdkit.publish import check_texts
from tests import handmade


def test_every_language_and_field_is_judged() -> None:
    said = handmade.product(
        texts={
            "en": {"care": "fine", "use": "![a](b.png)"},
            "de": {"spares": "[x](file:///etc/passwd)"},
        }
    )
    found = [(p.code, p.path) for p in check_texts(said)]
    assert sorted(found) == [
        ("text-image", ("texts", "en", "use")),
        ("text-link", ("texts", "de", "spares")),
    ]
