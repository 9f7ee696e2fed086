"""Results as people write them become a number with its qualifier, or are held with the reason."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.intake.numerals import decided_numbers, plain_spelling
from hgmap.site.intake.result import Result, parse_result
from hgmap.site.intake.result_words import WORDS
from hgmap.site.textfile import DecimalMarks

NOTHING = DecimalMarks()
COMMA = DecimalMarks(comma="12,5")


def read(text: str, marks: DecimalMarks = NOTHING) -> Result:
    return parse_result(text, marks)


@pytest.mark.parametrize(
    ("text", "low", "qualifier", "value", "unit"),
    [
        ("0.5", None, "", 0.5, ""),
        ("0,5", None, "", 0.5, ""),
        ("-0.3", None, "", -0.3, ""),
        ("\u22120.3", None, "", -0.3, ""),
        ("1.2e-3", None, "", 0.0012, ""),
        ("2.1×10³ ng/m3", None, "", 2100, "ng/m³"),
        ("2.1 x 10^-3", None, "", 0.0021, ""),
        ("1'850", None, "", 1850, ""),
        ("1\u202f850", None, "", 1850, ""),
        ("0.5 ug/m3", None, "", 0.5, "µg/m³"),
        ("5 ug/100 cm2", None, "", 5, "µg/100 cm²"),
        ("0.05ppb", None, "", 0.05, "ppb"),
        ("200 mg/kg", None, "", 200, "mg/kg"),
        ("<0.41", None, "<", 0.41, ""),
        ("< 0,41", None, "<", 0.41, ""),
        ("＜0.41", None, "<", 0.41, ""),
        ("≤ 0.41", None, "<", 0.41, ""),
        ("less than 0.41 µg/m³", None, "<", 0.41, "µg/m³"),
        ("well below 1000 ng/m3", None, "<", 1000, "ng/m³"),
        (">999", None, ">", 999, ""),
        ("≥ 999", None, ">", 999, ""),
        ("above 999", None, ">", 999, ""),
        ("~150", None, "~", 150, ""),
        ("≈150", None, "~", 150, ""),
        ("ca. 150", None, "~", 150, ""),
        ("approx 150", None, "~", 150, ""),
        ("About 150 ng/m3", None, "~", 150, "ng/m³"),
        ("0.5 J", None, "~", 0.5, ""),
        ("100-5,000", 100, "to", 5000, ""),
        ("100-5.000", 100, "to", 5000, ""),
        ("100 \u2013 5000", 100, "to", 5000, ""),
        ("100 to 5,000 ng/m3", 100, "to", 5000, "ng/m³"),
        ("between 5 and 7", 5, "to", 7, ""),
        ("100 ng/m3 to 5000 ng/m3", 100, "to", 5000, "ng/m³"),
        ("0,5-0,7", 0.5, "to", 0.7, ""),
        ("1e-5-2e-5", 1e-5, "to", 2e-5, ""),
        ("~100-500", 100, "to", 500, ""),
        ("up to 500", None, "up to", 500, ""),
        ("up to ~500", None, "up to", 500, ""),
        ("max. 500 ug/m3", None, "up to", 500, "µg/m³"),
    ],
)
def test_a_number_is_read_with_its_sign_its_range_and_its_unit(
    text: str, low: float | None, qualifier: str, value: float, unit: str
) -> None:
    result = read(text)
    assert (result.low, result.qualifier, result.value, result.unit) == (
        low, qualifier, value, unit,
    )  # fmt: skip
    assert result.held == ""


@pytest.mark.parametrize(
    ("text", "word", "qualifier"),
    [
        *((text, "non-detect", "<") for text in
          ("ND", "n.d.", "BDL", "none detected", "<LOD", "< LOD", "Not detected", "U", "(ND)")),
        ("trace", "trace", ""),
        *((text, "over range", ">") for text in ("OL", "over range", "saturated", "Over-Range")),
        *((text, "not measured", "") for text in ("n/a", "NM", "-", "\u2013", "#N/A", "nan")),
    ],
)  # fmt: skip
def test_a_word_is_no_number(text: str, word: str, qualifier: str) -> None:
    result = read(text)
    assert (result.value, result.word, result.qualifier, result.held) == (None, word, qualifier, "")


@pytest.mark.parametrize(
    ("text", "value", "word", "qualifier"),
    [
        ("BDL (0.41)", 0.41, "non-detect", "<"),
        ("0.11 (none detected)", 0.11, "non-detect", "<"),
        ("ND<0.41", 0.41, "non-detect", "<"),
        ("ND at 0.41", 0.41, "non-detect", "<"),
        ("<LOD (0.41)", 0.41, "non-detect", "<"),
        ("0.41 U", 0.41, "non-detect", "<"),
        ("OL (999)", 999, "over range", ">"),
        (">999 OL", 999, "over range", ">"),
        ("trace (0.2)", 0.2, "trace", "~"),
    ],
)
def test_a_word_beside_a_number_says_what_the_number_is(
    text: str, value: float, word: str, qualifier: str
) -> None:
    result = read(text)
    assert (result.value, result.word, result.qualifier, result.held) == (
        value, word, qualifier, "",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("", "no value"),
        ("1,850", "decimal mark or for thousands"),
        ("about 34,000 ng/m3", "decimal mark or for thousands"),
        ("2,100-4,000", "decimal mark or for thousands"),
        ("1-5,000", "decimal mark or for thousands"),
        ("5,000-100", "decimal mark or for thousands"),  # or a range that was written downwards
        ("1 850", "space"),
        ("5-3", "ends below its start"),
        ("-5 - 3", "below zero"),
        ("<-0.1", "below zero"),
        ("100 ng/m3 - 5 ug/m3", "two units"),
        ("<100-500", "before a range"),
        ("ND > 5", "disagree"),
        ("OL <5", "disagree"),
        ("5-Jul", "date"),
        ("2026-07-05", "date"),
        ("5/7/2026", "date"),
        ("1e400", "beyond any measurement"),
        ("1e13", "beyond any measurement"),
        ("0.5 Mg/m3", "two ways"),
        ("3 ppm", "ppm"),
        ("5 %", "not known"),
        ("0.5 bananas", "not known"),
        ("inf", "not a number"),
        ("none", "not a number"),  # none detected, or none taken
        ("nil", "not a number"),
        ("<", "not a number"),
        ("0.5.7", "not a number"),
        ("9" * 300, "more than 100 characters"),
    ],
)
def test_what_cannot_be_told_is_held_with_the_reason(text: str, why: str) -> None:
    result = read(text)
    assert result.value is None
    assert why in result.held
    assert len(result.held) < 250


def test_a_decimal_comma_of_the_file_decides() -> None:
    assert read("1,850", COMMA).value == 1.85
    assert read("1,850-2,100", COMMA).value == 2.1
    assert "thousands" in read("1.850", COMMA).held


def test_what_was_assumed_is_said() -> None:
    assert "not determined" in read("ND").caution
    assert "limit" in read("0.11 (none detected)").caution
    assert "0.1" in read("0.5 ± 0.1").caution
    assert read("0.5 ± 0.1").value == 0.5
    assert "'*'" in read("0.41*").caution
    assert "'at most'" in read("≤ 3").caution


@pytest.mark.parametrize(
    ("text", "decimal", "expected"),
    [
        ("2,100-4,000 ng/m3", "point", "2100-4000 ng/m3"),
        ("1,234,567.5", "point", "1234567.5"),
        ("1.850,5", "comma", "1850.5"),
        ("1.850", "comma", "1850"),
        ("1,850", "comma", "1.850"),
        ("0,123", "point", "0,123"),  # nobody groups a number that starts with a zero
        ("12,34", "point", "12,34"),
        ("left 1,2, bottom 0,8", "comma", "left 1.2, bottom 0.8"),
    ],
)
def test_a_person_can_say_what_commas_and_points_mean(
    text: str, decimal: str, expected: str
) -> None:
    assert decided_numbers(text, decimal) == expected  # type: ignore[arg-type]


def test_every_word_is_found_as_it_is_spelled() -> None:
    for word, (meaning, qualifier, _) in WORDS.items():
        result = read(word.upper())
        assert (result.word, result.qualifier, result.held) == (meaning, qualifier, ""), word


@given(st.text(max_size=60) | st.text("0123456789.,-+<>~eE NDmugto/3³µ()±'", max_size=30))
def test_no_text_makes_it_raise_and_a_number_is_never_made_of_nothing(text: str) -> None:
    for marks in (NOTHING, COMMA, DecimalMarks("1,5", "1.5")):
        result = parse_result(text, marks)
        assert isinstance(plain_spelling(text), str)
        assert (result.value is None) or any(c.isdigit() for c in text)
        assert not (result.held and result.value is not None)
        assert result.held or result.value is not None or result.word
        if result.low is not None:
            assert result.value is not None
            assert 0 <= result.low <= result.value
            assert result.qualifier == "to"


@given(
    st.sampled_from(["", "<", ">", "~", "up to "]),
    st.floats(min_value=0, max_value=1e9, allow_nan=False),
    st.sampled_from(["", " ng/m3", "µg/m³", " mg/kg"]),
)
def test_any_number_that_is_written_is_read_back(sign: str, value: float, unit: str) -> None:
    # with a decimal comma proven, 1.234 would be a question
    result = parse_result(f"{sign}{value!r}{unit}", NOTHING)
    assert (result.value, result.qualifier) == (value, sign.strip())


@given(st.floats(0, 1e9), st.floats(0, 1e9))
def test_any_range_that_is_written_is_read_back(one: float, other: float) -> None:
    low, high = sorted((one, other))
    result = parse_result(f"{low!r} - {high!r}", NOTHING)
    assert (result.low, result.value, result.held) == (low, high, "")
