"""A caller's words, as they are typed."""

from __future__ import annotations

import pytest

from kdkit.archive import Archive, find, find_said, read_label, store_revision
from kdkit.archive.tables import REVISION
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


@pytest.mark.parametrize(
    ("code", "meant"),
    [
        ("Shoe rack|B|LN-204|2", ("Shoe rack", "B", "LN-204", "2")),
        ("  Shoe  rack | B |LN-204|\r\n", ("Shoe rack", "B", "LN-204", "")),
        ("Shoe rack|B", ("Shoe rack", "B", "", "")),
        ("Left | right|B|LN-204|2", ("Left|right", "B", "LN-204", "2")),
        (
            '{"bag":"2","product":"Shoe rack","revision":"B","batch":"LN-204","grams":[2.5,0.1]}',
            ("Shoe rack", "B", "LN-204", "2"),
        ),
        ('{"product":"Shoe rack"}', ("Shoe rack", "", "", "")),
        ('{"product":7}', None),
        ('{"bag":"2"}', None),
        ("{", None),
        ("[" * 2000, None),
        ("Shoe rack", None),
        ("|B|LN-204|2", None),
        ("", None),
    ],
)
def test_a_labels_code_is_read(code: str, meant: tuple[str, ...] | None) -> None:
    label = read_label(code)
    said = None if label is None else (label.product, label.revision, label.batch, label.bag)
    assert said == meant


def test_what_is_said_is_found_by_code_revision_and_batch(archive: Archive) -> None:
    for words in ("Shoe rack|B|LN-204|2", "shoe rack LN-204", "ln-204", "shoe rack batch ln-204"):
        assert [b.batch for b in find_said(archive, words).batches] == ["LN-204"], words
    cut = '{"bag":"2","product":"Shoe r…","revision":"B","batch":"LN-204"}'
    assert [b.batch for b in find_said(archive, cut).batches] == ["LN-204"]
    cut = '{"product":"Shoe r…","revision":"A","batch":"LN-2…"}'
    assert [r.revision for r in find_said(archive, cut).revisions] == ["A"]
    for words in ("Shoe rack|A||", "Shoe rack a", "shoe revision A", "Shoe rack|A|ZZ-1|1"):
        assert [r.revision for r in find_said(archive, words).revisions] == ["A"], words
    # A label of another revision than the batch is of means no batch.
    assert find_said(archive, "Shoe rack|A|LN-204|2").batches == ()
    assert find_said(archive, "Shoo rack").near == ("Shoe rack",)


def test_of_many_names_a_misspelt_one_is_found_all_the_same(archive: Archive) -> None:
    with archive.writing() as connection:
        rows = [
            {"product": f"Quern {n}", "product_key": f"quern {n}", "revision": "A",
             "revision_key": "a", "variant": "", "variant_key": "", "settings": "{}",
             "definition": "x", "written_by": "x", "issued": "2026", "seal": "0"}
            for n in range(3000)
        ]  # fmt: skip
        connection.execute(REVISION.insert(), rows)
    assert find(archive, "Shoo rakc").near[0] == "Shoe rack"
    assert "Quern 2741" in find(archive, "Qeurn 2741").near
    assert len(find(archive, "quern", most=10).revisions) == 10
