"""Blanks are summarised, and taken off without ever making a reading too low."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.quality.blanks import blank_summary, compare_background
from hgmap.site.quality.subtraction import subtract
from hgmap.site.reading import Reading

Make = Callable[..., Reading]
UNIT = "µg/m³"


def test_blanks_have_a_mean_and_a_scatter_and_give_a_limit_of_detection(reading: Make) -> None:
    blanks = [reading(f"k{v}", v, kind="field blank") for v in (0.1, 0.2, 0.3)]
    found = blank_summary([*blanks, reading("R1")], "field blank", "first", UNIT)
    assert found.readings == ("k0.1", "k0.2", "k0.3")
    assert found.mean == pytest.approx(0.2)
    assert found.sd == pytest.approx(0.1)
    assert found.limit_of_detection == pytest.approx(0.5)
    assert any("from 3 blanks" in one and "rough" in one for one in found.texts)


def test_two_blanks_give_no_limit_of_detection_and_a_background_never_does(reading: Make) -> None:
    two = [reading(f"k{v}", v, kind="field blank") for v in (0.1, 0.2)]
    assert blank_summary(two, "field blank", "first", UNIT).limit_of_detection is None
    four = [reading(f"o{v}", v, kind="background") for v in (0.1, 0.2, 0.3, 0.4)]
    assert blank_summary(four, "background", "first", UNIT).limit_of_detection is None


def test_a_blank_above_the_detection_limit_is_flagged(reading: Make) -> None:
    sample = reading("L", 0.1, qualifier="<", kind="laboratory")
    blanks = [reading("k1", 0.09, kind="field blank"), reading("k2", 0.11, kind="field blank")]
    found = blank_summary([sample, *blanks], "field blank", "first", UNIT)
    assert found.above == ("k2",)
    assert any("k2 above the detection limit of 0.1" in one for one in found.texts)


def test_no_blank_and_a_held_one_say_so(reading: Make) -> None:
    held = reading("k", 0.2, kind="field blank", held=("no unit",))
    found = blank_summary([held], "field blank", "first", UNIT)
    assert (found.mean, found.texts) == (None, ("no field blank",))


def test_a_background_that_is_not_below_the_readings_is_flagged(reading: Make) -> None:
    indoors = [reading(f"r{k}", 0.5 + k) for k in range(3)]
    for value, expected in ((0.1, False), (1.5, True)):
        outdoors = reading("o", value, kind="background")
        summary = blank_summary([outdoors], "background", "first", UNIT)
        compared = compare_background([*indoors, outdoors], summary, UNIT)
        assert compared is not None
        assert compared[0] is expected


def test_the_background_comes_off_with_the_error_of_both(reading: Make) -> None:
    outdoors = [reading(f"o{k}", v, kind="background") for k, v in enumerate((0.1, 0.2, 0.3))]
    room = reading("R1", 2.0, error=0.2)
    left = subtract([room, *outdoors], "background")[0]
    assert left.concentration == pytest.approx(1.8)
    assert left.error == pytest.approx(math.hypot(0.2, 0.1))
    assert (left.value, left.qualifier) == (2.0, "")
    assert "0.2 µg/m³ (mean of 3 readings) taken off 2" in left.cautions[-1]


def test_what_is_left_and_not_above_its_error_is_a_non_detect_at_what_was_read(
    reading: Make,
) -> None:
    outdoors = [reading(f"o{k}", v, kind="background") for k, v in enumerate((0.1, 0.2, 0.3))]
    for value in (0.05, 0.2, 0.3):
        left = subtract([reading("R1", value), *outdoors], "background")[0]
        assert (left.qualifier, left.concentration) == ("<", value)
        assert f"non-detect below {value:g}" in left.cautions[-1]


def test_each_method_has_its_own_blank(reading: Make) -> None:
    readings = [
        reading("R1", 2.0), reading("L1", 2.0, kind="laboratory", x=2.0),
        reading("D1", 2.0, kind="duplicate", duplicate_of="L1"),
        reading("o", 0.1, kind="background"), reading("k", 0.3, kind="field blank"),
    ]  # fmt: skip
    air = [one.concentration for one in subtract(readings, "background")]
    samples = [one.concentration for one in subtract(readings, "field blank")]
    assert air == pytest.approx([1.9, 2.0, 2.0, 0.1, 0.3])
    assert samples == pytest.approx([2.0, 1.7, 1.7, 0.1, 0.3])
    assert subtract(readings, "nothing") == readings


@pytest.mark.parametrize("qualifier", ["<", ">", "to", "up to"])
def test_only_a_plain_number_loses_anything(reading: Make, qualifier: str) -> None:
    outdoors = reading("o", 0.1, kind="background")
    whole = reading("R1", 2.0, qualifier=qualifier)
    assert subtract([whole, outdoors], "background")[0] == whole


def test_a_round_without_a_blank_stays_as_read_and_says_so(reading: Make) -> None:
    other = reading("o", 0.1, kind="background", round="second")
    left = subtract([reading("R1", 2.0), other], "background")[0]
    assert left.concentration == 2.0
    assert "its round has none" in left.cautions[-1]


def test_blanks_that_were_not_detected_take_nothing_off(reading: Make) -> None:
    blank = reading("o", 0.1, qualifier="<", kind="background")
    whole = reading("R1", 2.0)
    assert subtract([whole, blank], "background")[0] == whole


@given(
    st.lists(st.floats(1e-6, 1e4), min_size=1, max_size=5),
    st.lists(st.floats(1e-6, 1e4), min_size=1, max_size=4),
    st.floats(0.0, 10.0),
)
def test_nothing_comes_out_at_zero_or_below_nor_above_what_was_read(
    reading: Make, values: list[float], blanks: list[float], error: float
) -> None:
    readings = [reading(f"r{k}", v, error=error) for k, v in enumerate(values)]
    outdoors = [reading(f"o{k}", v, kind="background") for k, v in enumerate(blanks)]
    for before, after in zip(
        readings, subtract([*readings, *outdoors], "background"), strict=False
    ):
        assert after.concentration is not None
        assert before.concentration is not None
        assert 0.0 < after.concentration <= before.concentration
        assert after.error >= before.error
        assert after.qualifier == "<" or after.concentration > after.error


def test_a_field_blank_with_mercury_and_no_known_detection_limit_is_flagged(reading: Make) -> None:
    found = blank_summary([reading("k", 50.0, kind="field blank")], "field blank", "first", UNIT)
    assert (found.above, found.limit) == (("k",), None)
    assert any("k not empty, and no detection limit is known" in one for one in found.texts)
    empty = blank_summary([reading("k", 0.0, kind="field blank")], "field blank", "first", UNIT)
    assert empty.above == ()


def test_blanks_and_readings_of_another_medium_enter_nothing(reading: Make) -> None:
    wipe = reading("w", 500.0, kind="field blank", medium="surface")
    assert blank_summary([wipe], "field blank", "first", UNIT).texts == ("no field blank",)
    outdoors = reading("o", 0.5, kind="background")
    bulk = [reading(f"k{n}", 5000.0, medium="bulk") for n in range(9)]
    summary = blank_summary([outdoors, *bulk], "background", "first", UNIT)
    compared = compare_background([reading("a", 1.0), *bulk, outdoors], summary, UNIT)
    assert compared is not None
    assert compared[1].startswith("median of 1 indoor reading 1 ")
