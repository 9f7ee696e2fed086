"""What repeats what, and how far apart it may lie. The limits are common practice, no source."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.quality.places import at_one_place
from hgmap.site.quality.replicates import ReplicateSummary, replicates
from hgmap.site.quality.statistics import fit_line, pooled_sd, relative_percent_difference
from hgmap.site.reading import Reading

Make = Callable[..., Reading]
CONCENTRATIONS = st.floats(1e-6, 1e6)


def compare(*readings: Reading) -> ReplicateSummary:
    return replicates(readings, "µg/m³")


def test_readings_at_one_place_repeat_each_other_and_others_do_not(reading: Make) -> None:
    found = compare(
        reading("a", 1.0), reading("b", 1.1, x=1.05), reading("c", 1.0, x=1.2),
        reading("d", 1.0, band="child breathing"), reading("e", 1.0, round="second"),
        reading("f", 1.0, kind="laboratory"), reading("g", 1.0, kind="source search"),
        reading("h", 1.0, placed="room"), reading("i", 1.0, placed="room"),
        reading("j", 1.0, kind="background"),
    )  # fmt: skip
    assert [one.readings for one in found.groups] == [("a", "b")]
    assert found.lonely == ()


def test_places_on_both_sides_of_a_square_of_the_net_are_found(reading: Make) -> None:
    near = at_one_place([reading("a", x=0.049, y=0.051), reading("b", x=0.051, y=0.049)])
    far = at_one_place([reading("a", x=0.0, y=0.0), reading("b", x=0.04, y=0.04)])
    assert [len(one) for one in near] == [2]
    assert [len(one) for one in far] == [1, 1]


def test_a_duplicate_goes_with_the_reading_it_names_wherever_it_stands(reading: Make) -> None:
    found = compare(
        reading("a", 1.0), reading("b", 1.1, kind="duplicate", duplicate_of="a", x=5.0),
        reading("L", 2.0, kind="laboratory", x=3.0),
        reading("M", 2.2, kind="duplicate", duplicate_of="L", placed="room"),
        reading("d", 1.2, kind="duplicate"),
    )  # fmt: skip
    assert [one.readings for one in found.groups] == [("L", "M"), ("a", "b", "d")]


def test_a_duplicate_that_finds_no_original_says_why(reading: Make) -> None:
    found = compare(
        reading("a", 1.0, held=("no unit",)),
        reading("b", 1.0, x=2.0, kind="duplicate", duplicate_of="a"),
        reading("c", 1.0, x=3.0, kind="duplicate", duplicate_of="Z9"),
        reading("d", 1.0, x=4.0, kind="duplicate"),
        reading("e", 1.0, x=5.0, kind="duplicate", duplicate_of="e"),
    )
    assert found.groups == ()
    assert [(one.reading, one.why[:20]) for one in found.lonely] == [
        ("b", "repeats a, which is "), ("c", "repeats Z9, which is"),
        ("d", "names no reading tha"), ("e", "names itself as the "),
    ]  # fmt: skip
    assert "held" in found.lonely[0].why


@pytest.mark.parametrize(
    ("values", "flagged", "words"),
    [
        ([1.0, 1.28], False, "no detection limit is known: within 25 %"),
        ([1.0, 1.29], True, "no detection limit is known: more than 25 %"),
        ([1.0, 1.29, ("<", 0.1)], True, "beside a non-detect"),
        ([("<", 0.1), ("<", 0.2)], False, "all below their detection limits"),
        ([0.09, ("<", 0.1)], False, "which is no difference"),
        ([0.2, ("<", 0.1)], False, "within one detection limit"),
        ([0.21, ("<", 0.1)], True, "more than one detection limit"),
        ([(">", 999.0), 5.0], False, "no two values to compare"),
    ],
)
def test_the_rule_fits_what_was_read(
    reading: Make, values: list[Any], flagged: bool, words: str
) -> None:
    readings = [
        reading(f"r{k}", one[1], qualifier=one[0]) if isinstance(one, tuple) else
        reading(f"r{k}", one)
        for k, one in enumerate(values)
    ]  # fmt: skip
    (group,) = compare(*readings).groups
    assert group.flagged is flagged
    assert words in group.text


def test_near_the_detection_limit_the_difference_counts_and_not_its_share(reading: Make) -> None:
    elsewhere = reading("n", 0.1, qualifier="<", x=9.0)
    (near,) = compare(elsewhere, reading("a", 0.15), reading("b", 0.25)).groups
    (apart,) = compare(elsewhere, reading("a", 0.15), reading("b", 0.26)).groups
    (above,) = compare(elsewhere, reading("a", 0.51), reading("b", 0.7)).groups
    assert (near.flagged, apart.flagged, above.flagged) == (False, True, True)
    assert "near the detection limit" in near.text
    assert "above 5 detection limits" in above.text


def test_readings_hours_apart_are_compared_and_not_pooled(reading: Make) -> None:
    late = reading("b", 1.2, time=datetime(2026, 3, 2, 15, 0))
    found = compare(reading("a", 1.0), late)
    assert "taken 6 h apart" in found.groups[0].text
    assert found.absolute is None
    untimed = compare(reading("a", 1.0, time=None), reading("b", 1.2))
    assert untimed.absolute is not None
    assert untimed.absolute.sd == pytest.approx(0.2 / 2**0.5)


@given(CONCENTRATIONS, CONCENTRATIONS, st.floats(1e-3, 1e3))
def test_the_relative_difference_is_symmetric_bounded_and_has_no_unit(
    a: float, b: float, factor: float
) -> None:
    found = relative_percent_difference(a, b)
    assert found == relative_percent_difference(b, a)
    assert 0.0 <= found <= 200.0
    assert relative_percent_difference(a * factor, b * factor) == pytest.approx(found, abs=1e-9)


@given(st.lists(CONCENTRATIONS, min_size=2, max_size=12), st.randoms(use_true_random=False))
def test_the_order_of_readings_does_not_matter(
    reading: Make, values: list[float], shuffle: random.Random
) -> None:
    readings = [
        reading(f"r{k:02}", one, x=float(k // 3), qualifier="<" if k % 5 == 4 else "")
        for k, one in enumerate(values)
    ]
    mixed = list(readings)
    shuffle.shuffle(mixed)
    assert compare(*mixed) == compare(*readings)


@given(st.lists(st.lists(st.floats(0.0, 1e3), max_size=4), max_size=6), st.floats(-50.0, 50.0))
def test_pooled_scatter_does_not_change_with_where_zero_is(
    groups: list[list[float]], shift: float
) -> None:
    found = pooled_sd(groups)
    moved = pooled_sd([[one + shift for one in group] for group in groups])
    if found is None or moved is None:
        assert not any(len(one) > 1 for one in groups)
        assert found is moved is None
    else:
        assert moved.sd == pytest.approx(found.sd, abs=1e-9)
        assert found.degrees_of_freedom == sum(max(len(one) - 1, 0) for one in groups)


@pytest.mark.parametrize("pair", [(0.0, 0.0), (-1.0, 2.0), (float("nan"), 1.0)])
def test_no_relative_difference_of_what_is_no_pair_of_concentrations(
    pair: tuple[float, float],
) -> None:
    with pytest.raises(ValueError, match="two concentrations"):
        relative_percent_difference(*pair)


def test_a_line_needs_three_points_that_are_not_above_each_other() -> None:
    assert fit_line([0.0, 1.0], [1.0, 2.0]) is None
    assert fit_line([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]) is None


@given(st.lists(st.tuples(st.integers(-40, 40), st.integers(-40, 40)), min_size=1, max_size=40))
def test_places_go_together_as_when_each_is_held_against_each(
    reading: Make, centimetres: list[tuple[int, int]]
) -> None:
    readings = [reading(f"r{k}", x=0.01 * x, y=0.01 * y) for k, (x, y) in enumerate(centimetres)]
    together = [{k} for k in range(len(readings))]
    for k, (x, y) in enumerate(centimetres):
        for j, (u, v) in enumerate(centimetres[:k]):
            if (x - u) ** 2 + (y - v) ** 2 <= 25:
                joined = together[k] | together[j]
                for one in joined:
                    together[one] = joined
    expected = {frozenset(f"r{k}" for k in one) for one in together}
    assert {frozenset(one.id for one in group) for group in at_one_place(readings)} == expected
    large = {one for one in expected if len(one) >= 3}
    found = at_one_place(readings, least=3)
    assert {frozenset(one.id for one in group) for group in found} == large


@pytest.mark.parametrize("elsewhere", [{"room": "B"}, {"band": "child"}, {"floor": "first"}])
def test_a_duplicate_of_a_reading_in_another_room_or_height_repeats_nothing(
    reading: Make, elsewhere: dict[str, str]
) -> None:
    found = compare(
        reading("a", 1.0), reading("b", 1.0, x=9.0, kind="duplicate", duplicate_of="a", **elsewhere)
    )
    assert found.groups == ()
    assert [one.why for one in found.lonely] == [
        "repeats a, which was read in another room or height"
    ]


def test_readings_of_another_medium_are_compared_with_nothing(reading: Make) -> None:
    found = compare(
        reading("a", 1.0), reading("b", 1.1),
        reading("k", 5000.0, medium="bulk", kind="bulk sample"),
        reading("l", 9000.0, medium="bulk", kind="duplicate", duplicate_of="k"),
    )  # fmt: skip
    assert [one.readings for one in found.groups] == [("a", "b")]
    assert found.lonely == ()


def test_one_poor_non_detect_excuses_no_pair(reading: Make) -> None:
    good = reading("n", 0.1, x=3.0, qualifier="<")
    poor = reading("p", 100.0, x=4.0, qualifier="<")
    found = compare(reading("a", 30.0), reading("b", 90.0), good, poor)
    assert [one.readings for one in found.flagged] == [("a", "b")]


def test_two_saturated_readings_are_not_compared(reading: Make) -> None:
    (found,) = compare(reading("a", 9.0, qualifier=">"), reading("b", 9.0, qualifier=">")).groups
    assert not found.compared
    assert "2 saturated values or ranges left out" in found.text


def test_readings_days_apart_do_not_show_how_readings_repeat(reading: Make) -> None:
    first = reading("a", 1.0)
    assert first.time is not None
    later = reading("b", 1.0, time=first.time + timedelta(days=1))
    (found,) = compare(first, later).groups
    assert not found.compared
