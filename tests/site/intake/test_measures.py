"""Lengths, temperatures and pressures, with the units of their cell or their column."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.intake.cells import guarded, number_cell, unguarded
from hgmap.site.intake.measures import length_m, pressure_kpa, temperature_c
from hgmap.site.textfile import DecimalMarks, parse_number

NOTHING = DecimalMarks()


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("3.2", "", 3.2),
        ("-3.2", "", -3.2),
        ("10", "ft", 3.048),  # the foot is 0.3048 m by definition
        ("10 ft", "", 3.048),
        ("320 cm", "m", 3.2),
        ("three", "", None),
        ("3 miles", "", None),
    ],
)
def test_lengths(text: str, unit: str, expected: float | None) -> None:
    assert length_m(text, unit, NOTHING) == expected


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("21.5", "", 21.5),
        ("21.5 °C", "", 21.5),
        ("68", "°f", 20.0),  # by the definition of the degree Fahrenheit
        ("293.15 K", "", 20.0),
        ("71", "", None),  # of what? no room is that warm
        ("warm", "", None),
    ],
)
def test_temperatures(text: str, unit: str, expected: float | None) -> None:
    assert temperature_c(text, unit, NOTHING) == expected


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("101.325", "", 101.325),
        ("1013.25", "", 101.325),  # hPa; nothing else reads so
        ("1013.25", "mbar", 101.325),
        ("760 mmHg", "", 101.325),  # one atmosphere is 760 mm of mercury
        ("29.92", "inhg", 101.32),
        ("1 atm", "", 101.325),
        ("700", "", None),  # hPa on a mountain, or mmHg
    ],
)
def test_pressures(text: str, unit: str, expected: float | None) -> None:
    found = pressure_kpa(text, unit, NOTHING)
    assert found == expected if expected is None else found == pytest.approx(expected, abs=0.005)


def test_a_comma_that_may_set_thousands_apart_is_a_question() -> None:
    for measure in (length_m, temperature_c, pressure_kpa):
        assert "decimal mark" in str(measure("1,013", "", NOTHING))


def test_a_sign_behind_characters_that_nobody_sees_is_guarded() -> None:
    for text in ("=1+1", "\u200b=1+1", "\ufeff@x", "＝1", " -A"):
        assert guarded(text) == f"'{text.strip()}"
        assert unguarded(guarded(text)) == text.strip()
    assert number_cell(1.125) == "1.1250"  # 1.125 would be a question beside a decimal comma


@given(st.text(max_size=40))
def test_no_text_makes_them_raise_and_any_text_comes_back(text: str) -> None:
    for measure in (length_m, temperature_c, pressure_kpa):
        measure(text, "", NOTHING)
    line = " ".join(text.split())
    assert unguarded(guarded(text)) == line or line.startswith("'")
    assert not guarded(text).lstrip("\ufeff\u200b\u2060").startswith(tuple("=+-@＝＋－＠"))


@given(st.floats(-1e12, 1e12) | st.integers(-999_999, 999_999).map(lambda n: n / 1000))
def test_a_number_that_is_written_has_one_meaning(number: float) -> None:
    for marks in (NOTHING, DecimalMarks("1,5", ""), DecimalMarks("1,5", "1.5")):
        assert parse_number(number_cell(number), marks) == number
