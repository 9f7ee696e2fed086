"""Heights in metres, feet, inches and words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.folder import DEFAULT_HEIGHT_BANDS
from hgmap.site.intake.height import WORDS, parse_height
from hgmap.site.textfile import DecimalMarks

NOTHING = DecimalMarks()


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1.5", 1.5),
        ("1,5", 1.5),
        ("0", 0),
        ("1.5 m", 1.5),
        ("1.5m", 1.5),
        ("150 cm", 1.5),
        ("1500 mm", 1.5),
        ("5 ft", 1.524),  # the foot is 0.3048 m by definition
        ("5'", 1.524),
        ("5'6\"", 1.6764),
        ("5\u20326\u2033", 1.6764),
        ("5 ft 6 in", 1.6764),
        ("5\u2019 6\u201d", 1.6764),
        ("18 in", 0.4572),  # the inch is 0.0254 m by definition
        ('18"', 0.4572),
        ("18 inches above the floor", 0.4572),
        ("about 1 ft above", 0.3048),
        ("@ 5 ft", 1.524),
        ("~1.5 m", 1.5),
        ("4 ft high", 1.2192),
    ],
)
def test_a_measure_becomes_metres(text: str, metres: float) -> None:
    height = parse_height(text, NOTHING)
    assert height.metres == pytest.approx(metres, abs=1e-9)
    assert height.held == ""


@pytest.mark.parametrize(
    ("text", "metres", "source"),
    [
        # adult zone 5 ft: Maine DEP 2008 and MMWR 00037313; child zone 1 ft: Maine DEP 2008
        ("breathing zone", 1.5, "Maine DEP"),
        ("Child breathing zone", 0.3, "Maine DEP"),
        ("floor", 0.0, "common practice, no source"),
        ("just above carpet", 0.025, "value from memory"),
        ("WAIST", 1.0, "common practice, no source"),
    ],
)
def test_a_word_that_names_a_height_is_read_and_says_by_whose_practice(
    text: str, metres: float, source: str
) -> None:
    height = parse_height(text, NOTHING)
    assert (height.metres, height.held) == (metres, "")
    assert source in height.caution


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no height"),
        ("surface", "names no one height"),
        ("ambient", "names no one height"),
        ("directly above", "names no one height"),
        ("ceiling", "names no one height"),
        ("3-4 ft", "names no one height"),
        ("-1", "below the floor"),
        ("-3 ft", "below the floor"),
        ("1,500", "thousands"),
        ("5 yards", "not a length"),
        ("5'13\"", "13 inches"),
        ("1e400", "beyond any measurement"),
        ("x" * 500, "more than 100"),
    ],
)
def test_what_names_no_height_is_held(text: str, why: str) -> None:
    height = parse_height(text, NOTHING)
    assert height.metres is None
    assert why in height.held


def test_what_was_assumed_is_said() -> None:
    assert "approximate" in parse_height("about 1 ft above", NOTHING).caution
    assert "above what" in parse_height("1 ft above", NOTHING).caution
    assert parse_height("1 ft above the floor", NOTHING).caution == ""


def test_every_word_has_a_source_and_a_height_of_a_room() -> None:
    for word, (metres, source) in WORDS.items():
        assert 0 <= metres <= 2
        assert any(mark in source for mark in ("common practice, no source", "value from memory",
                                               "DEP"))  # fmt: skip
        assert parse_height(word, NOTHING).metres == metres
    bands = {band.name: band for band in DEFAULT_HEIGHT_BANDS}
    assert bands["adult breathing"].holds(WORDS["breathing zone"][0])
    assert bands["child breathing"].holds(WORDS["child breathing zone"][0])
    assert bands["source search"].holds(WORDS["just above carpet"][0])


@given(st.text(max_size=60) | st.text("0123456789.,'\" ftincm~-", max_size=20))
def test_no_text_makes_it_raise(text: str) -> None:
    height = parse_height(text, NOTHING)
    assert (height.metres is None) == bool(height.held)
    assert height.metres is None or height.metres >= 0
