"""Kinds of reading by the words that people use; what has two meanings is asked."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.intake.kinds import SYNONYMS, duplicate_of, parse_kind
from hgmap.site.reading import ReadingKind


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", "reading"),
        ("Room air", "reading"),
        ("Blank", "field blank"),
        ("FB-2", "field blank"),
        ("trip blank", "field blank"),
        ("Background", "background"),
        ("outdoor", "background"),
        ("Outdoor (ambient)", "background"),
        ("Headspace", "headspace"),
        ("bag", "headspace"),
        ("dup", "duplicate"),
        ("Replicate 2", "duplicate"),
        ("DUP of R12", "duplicate"),
        ("Lab", "laboratory"),
        ("laboratory", "laboratory"),
        ("sweep", "source search"),
        ("sniff", "source search"),
        ("source-search", "source search"),
        ("ambient", None),  # outdoors to one surveyor, the room's own air to another
        ("zero air", None),  # a check of the instrument, for its log
        ("sofa", None),
        ("96", None),
        ("#3", None),
        ("x" * 200, None),
    ],
)
def test_a_word_means_one_kind_or_is_asked(text: str, kind: str | None) -> None:
    assert parse_kind(text) == kind


def test_every_kind_has_its_own_name_and_each_word_one_kind() -> None:
    assert set(SYNONYMS.values()) == set(get_args(ReadingKind))
    for kind in get_args(ReadingKind):
        assert parse_kind(kind) == kind
    for word, kind in SYNONYMS.items():
        assert parse_kind(word.upper()) == kind, word


@pytest.mark.parametrize(
    ("text", "of"),
    [("dup of R12", "R12"), ("Field duplicate of A 3", "A 3"), ("dup: 7", "7"), ("dup", ""),
     ("duplicate", ""), ("dup of", "")],
)  # fmt: skip
def test_what_a_duplicate_repeats_is_read(text: str, of: str) -> None:
    assert duplicate_of(text) == of


@given(st.text(max_size=100))
def test_no_text_makes_it_raise(text: str) -> None:
    assert parse_kind(text) in (*get_args(ReadingKind), None)
    assert isinstance(duplicate_of(text), str)
