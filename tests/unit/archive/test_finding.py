"""A caller's words, as they are typed."""

from __future__ import annotations

import pytest

from kdkit.archive import Archive, find, store_revision
from tests.unit.archive.conftest import content


@pytest.mark.parametrize(
    ("words", "revisions", "batches"),
    [
        ("Shoe rack", ["B", "A"], []),
        ("  SHOE   RACK ", ["B", "A"], []),
        ("sho", ["B", "A"], []),
        ("ＳＨＯＥ rack", ["B", "A"], []),  # full width
        ("LN-204", ["B"], ["LN-204"]),
        ("ln-204", ["B"], ["LN-204"]),
        ("", ["B", "A"], []),
        ("%", [], []),
        ("_hoe", [], []),
    ],
)
def test_names_and_numbers(
    words: str, revisions: list[str], batches: list[str], archive: Archive
) -> None:
    found = find(archive, words)
    assert [r.revision for r in found.revisions] == revisions
    assert [b.batch for b in found.batches] == batches


@pytest.mark.parametrize(
    ("words", "near"),
    [("Shoe rak", "Shoe rack"), ("show", "Shoe rack"), ("LN-205", "LN-204"), ("zzz", None)],
)
def test_misspelt_names_are_told(words: str, near: str | None, archive: Archive) -> None:
    found = find(archive, words)
    assert found.revisions == ()
    assert (near in found.near) if near else found.near == ()


def test_a_whole_name_wins_over_a_beginning(archive: Archive) -> None:
    store_revision(archive, *content("Shoe rack, tall", "A"))
    assert {r.product for r in find(archive, "shoe rack").revisions} == {"Shoe rack"}
    assert len(find(archive, "shoe").revisions) == 3


def test_a_search_is_narrowed(archive: Archive) -> None:
    assert [r.revision for r in find(archive, "shoe", revision="b").revisions] == ["B"]
    found = find(archive, "shoe", revision="C")
    assert found.revisions == ()
    assert found.near == ("Shoe rack, revision B", "Shoe rack, revision A")
    assert find(archive, "shoe", batch="LN-204").batches
    assert not find(archive, "table", batch="LN-204").batches
