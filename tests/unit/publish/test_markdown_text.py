"""What a maker's text may and may not hold."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kdkit.publish.markdown_text import render_markdown

PATH = ("texts", "en", "use")


def test_plain_markdown() -> None:
    html, problems = render_markdown("For *books*.\n\n- one\n- **two**\n\n# Head", PATH)
    assert problems == ()
    assert "<em>books</em>" in html
    assert "<li><strong>two</strong></li>" in html
    assert "<h3>Head</h3>" in html


@pytest.mark.parametrize(
    "text",
    [
        "![x](file:///etc/passwd)",
        "![x](http://example.org/a.png)",
        "![x](/etc/hostname)",
        "![x](../secret.png)",
        "![x](data:image/png;base64,AAAA)",
        "![x][ref]\n\n[ref]: https://example.org/a.png",
        "[![x](https://example.org/a.png)](https://example.org)",
    ],
)
def test_an_image_is_a_located_error(text: str) -> None:
    html, problems = render_markdown(text, PATH)
    assert [p.code for p in problems] == ["text-image"]
    assert problems[0].path == PATH
    assert "<img" not in html


@pytest.mark.parametrize(
    "target",
    [
        "javascript:alert(1)",
        "file:///etc/passwd",
        "http://example.org",
        "//example.org",
        "a.html",
        "java\tscript:alert(1)",
        "JAVASCRIPT:alert(1)",
        "data:text/html,x",
    ],
)
def test_a_link_elsewhere_is_a_located_error(target: str) -> None:
    html, problems = render_markdown(f"[word](<{target}>)", PATH)
    assert [p.code for p in problems] == ["text-link"]
    assert "href" not in html


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("[help](https://quernmoss.example/x)", "help (https://quernmoss.example/x)"),
        ("[post](mailto:help@quernmoss.example)", "post (help@quernmoss.example)"),
        ("<https://quernmoss.example/>", "https://quernmoss.example/"),
        ("<help@quernmoss.example>", "help@quernmoss.example"),
        ("[*very* **much**](https://q.example)", "very much (https://q.example)"),
    ],
)
def test_https_and_mailto_links_become_text(text: str, shown: str) -> None:
    html, problems = render_markdown(text, PATH)
    assert problems == ()
    assert "<a" not in html
    import html as unescaper

    assert unescaper.unescape(re.sub("<[^>]*>", "", html)).strip() == shown


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "a <b onclick=x>b</b>",
        "<div>\n\n<img src=x onerror=alert(1)>\n\n</div>",
        "<!-- hidden -->",
        "`<script>`",
        "&lt;script&gt;alert(1)&lt;/script&gt;",
    ],
)
def test_raw_html_is_shown_as_text(text: str) -> None:
    html, problems = render_markdown(text, PATH)
    assert problems == ()
    tags = set(re.findall(r"</?([a-z0-9]+)", html))
    assert tags <= {"p", "code"}
    assert "&lt;" in html


@pytest.mark.parametrize("text", [">" * 5000 + "x", "- " * 3000 + "x", "x" * 20_001, "* > " * 900])
def test_hostile_length_and_depth_are_problems(text: str) -> None:
    html, problems = render_markdown(text, PATH)
    assert html == ""
    assert problems[0].code in ("text-too-deep", "text-too-long")


@given(st.text(alphabet="<>&\"'/=![]()*_`#->+ :ahimgscrpt\n", max_size=60))
def test_no_text_makes_other_tags(text: str) -> None:
    """The output holds allowed tags without attributes, whatever the text."""
    html, _ = render_markdown(text, PATH)
    for tag in re.findall(r"<[^>]*>", html):
        assert re.fullmatch(r"</?(p|h[3-6]|ul|ol|li|em|strong|code|pre|blockquote|hr|br)>", tag)
