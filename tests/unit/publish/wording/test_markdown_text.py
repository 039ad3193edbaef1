"""What a maker's text may and may not hold."""

from __future__ import annotations

import re
import sys
from html import unescape

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kdkit.publish.wording.markdown_text import check_markdown, render_markdown

PATH = ("texts", "en", "use")


@given(st.text(alphabet="a1 .)>*_-+#`[]<>(!:/\n", max_size=80))
@example("> " * 21 + "deep")
@example("*" * 50 + "a" + "*" * 50)
@example("1. " * 25 + "deep")
@example("<https://example.org> <file:///x>")
@example("a" * 20_001)
def test_a_text_that_is_not_parsed_has_nothing_wrong_with_it(text: str) -> None:
    assert check_markdown(text, PATH) == render_markdown(text, PATH)[1]


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

    assert unescape(re.sub("<[^>]*>", "", html)).strip() == shown


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


HOSTILE = {
    "open brackets": "[",
    "open images": "![",
    "stars": "*a ",
    "stars and bars": "*a_ ",
    "backticks": "`a",
    "comments": "<!-- ",
    "tags": '<a href="',
    "sections of data": "<![CDATA[",
    "links with an open quote": '[a](b "',
    "links with an open bracket": "[a](",
    "links with an open angle": "[a](<b",
    "definitions": "[a]:\n",
    "a title without an end": '[a]: b "\n"',
    "entries": "- a\n",
    "quotes": "> a\n",
    "fences": "```\n",
    "rules": "- ",
    "mail": "<a@",
}


def calls(text: str) -> int:
    """Return how many calls it takes to render a text: its work, the same on every machine."""
    number = 0

    def count(frame: object, event: str, argument: object) -> None:
        nonlocal number
        number += event in ("call", "c_call")

    sys.setprofile(count)
    try:
        render_markdown(text, PATH)
    finally:
        sys.setprofile(None)
    return number


@pytest.mark.parametrize("piece", HOSTILE.values(), ids=HOSTILE.keys())
def test_work_grows_no_faster_than_the_text(piece: str) -> None:
    short, long = (calls(piece * (size // len(piece))) for size in (1000, 4000))
    assert long < 5 * short
    html, _ = render_markdown(piece * (20_000 // len(piece)), PATH)
    assert len(html) < 300_000


@pytest.mark.parametrize("text", ['[a](b "c', '[a](<b "', "[a](b 'c", "[a](", '![a](b "'])
def test_a_link_that_does_not_end_is_the_text_it_is(text: str) -> None:
    html, problems = render_markdown(text, PATH)
    assert problems == ()
    assert unescape(re.sub("<[^>]*>", "", html)).strip() == text


@pytest.mark.parametrize(
    ("text", "fine"),
    [
        ("> " * 20 + "x", True),
        ("> " * 21 + "x", False),
        ("> " * 100 + "x", False),
        ("- " * 20 + "x", True),
        ("- " * 21 + "x", False),
        ("- " * 100 + "x", False),
        ("1. > " * 10 + "x", True),
        ("1. > " * 11 + "x", False),
        ("*a **b " * 10 + "x" + "** *" * 10, True),
    ],
)
def test_depth_is_counted_and_nothing_is_lost_on_the_way(text: str, fine: bool) -> None:
    html, problems = render_markdown(text, PATH)
    assert [p.code for p in problems] == ([] if fine else ["text-too-deep"])
    assert ("x" in html) is fine


def test_an_address_that_is_named_again_and_again_is_counted() -> None:
    address = f"https://{'u' * 5000}.example"
    html, problems = render_markdown(f"[a]: {address}\n\n" + "[a] " * 3000, PATH)
    assert html == ""
    assert [p.code for p in problems] == ["text-too-long"]
    _, few = render_markdown(f"[a]: {address}\n\n[a] and [a]", PATH)
    assert few == ()


def test_each_target_is_told_once_and_only_so_many() -> None:
    _, problems = render_markdown("![x](a.png) " * 500, PATH)
    assert len(problems) == 1
    _, problems = render_markdown("".join(f"[x](a{n}.html) " for n in range(500)), PATH)
    assert len(problems) == 20


@pytest.mark.parametrize(
    ("line", "least"),
    [("- a\n", 301), ("a\n\n", 301), ("1. a\n\n   b\n", 101), ("a  \n", 302), ("    a\n", 301)],
)
def test_a_text_of_too_many_blocks_is_a_located_error(line: str, least: int) -> None:
    assert render_markdown(line * 90, PATH)[1] == ()
    html, problems = render_markdown(line * least, PATH)
    assert html == ""
    assert [(p.code, p.path) for p in problems] == [("text-too-long", PATH)]
    assert "list entries and lines, more than 300" in problems[0].message


def test_a_long_text_of_few_blocks_is_set() -> None:
    """The limit is on blocks; 19 000 letters in forty paragraphs are still a text."""
    text = "\n\n".join(["Wipe it with a damp cloth. " * 17] * 40)
    assert render_markdown(text, PATH)[1] == ()
