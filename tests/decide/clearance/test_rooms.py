"""Laws of a floor's rulings, and which readings of a room count."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.decide.clearance.confirm import OtherRound
from hgmap.decide.clearance.gather import breathing_bands, gather_floor, once, raised
from hgmap.decide.clearance.outcome import WORST_FIRST, FloorClearance, HoldBack, worst
from hgmap.decide.clearance.rooms import clear_floor
from hgmap.decide.clearance.rules import clearance_rules
from hgmap.decide.clearance.withheld import hours_needed, share_rebuilt
from hgmap.site.model import Site
from hgmap.site.reading import Reading

Make = Callable[..., Any]
VALUES = st.lists(
    st.tuples(
        st.sampled_from(["", "", "", "<", "~", ">"]),
        st.sampled_from([0.05, 0.1, 0.2, 0.5, 0.9, 1.0, 1.5, 3.0]),
        st.sampled_from([0.1, 0.7, 1.5, 1.5, 1.5]),
        st.sampled_from([(), (), (), ("held for a test",)]),
    ),
    min_size=0,
    max_size=14,
)
Row = tuple[str, float, float, tuple[str, ...]]


@pytest.fixture(scope="module")
def ruling(make_floor: Make, make_survey_site: Make, make_reading: Make, make_level: Make) -> Make:
    """Return a function that rules on one room of readings at a level."""

    def rule(rows: Sequence[Row], level: float = 1.0, held_back: Sequence[HoldBack] = (),
             nowhere: float | None = None, others: Sequence[OtherRound] = (),
             **site: Any) -> FloorClearance:  # fmt: skip
        floor = make_floor([(0, 0, 20, 5)])
        readings = [
            make_reading(
                f"R{k}",
                "r0",
                (0.5 + 0.6 * (k % 30), 0.5 + k // 30),
                value,
                mark,
                height_m=height,
                held=held,
            )
            for k, (mark, value, height, held) in enumerate(rows)
        ]
        made: Site = replace(make_survey_site(floor, readings), **site)
        names = breathing_bands(made)
        rooms, _ = gather_floor(made, floor, "first", make_level(level), names)
        return clear_floor(
            made, floor, rooms, names, make_level(level), clearance_rules(), held_back,
            None if nowhere is None else {("r0", name): nowhere for name in names}, {}, others,
        )  # fmt: skip

    return rule


def ranks(found: FloorClearance) -> list[int]:
    (room,) = found.rooms
    return [WORST_FIRST.index(one.ruling.outcome) for one in room.outcomes]


@given(rows=VALUES, low=st.sampled_from([0.06, 0.3, 0.9, 1.0]), factor=st.floats(1.0, 20.0))
@settings(max_examples=60)
def test_a_higher_level_never_makes_an_outcome_worse(
    ruling: Make, rows: list[Row], low: float, factor: float
) -> None:
    for a, b in zip(ranks(ruling(rows, low)), ranks(ruling(rows, low * factor)), strict=True):
        assert b >= a


@given(rows=VALUES)
def test_holding_back_never_changes_anything_but_meets(ruling: Make, rows: list[Row]) -> None:
    free = ranks(ruling(rows, nowhere=0.99))
    held = ranks(ruling(rows, nowhere=0.99, held_back=[HoldBack("a reason", "a thing")]))
    assert held == [min(one, WORST_FIRST.index("cannot tell yet")) for one in free]


@given(rows=VALUES)
def test_meets_needs_readings_that_are_all_usable_and_below_twice_the_level(
    ruling: Make, rows: list[Row]
) -> None:
    found = ruling(rows, nowhere=0.99)
    (room,) = found.rooms
    for one in room.outcomes:
        if one.ruling.outcome == "meets":
            assert not any(held for *_, held in rows)
            assert not any(mark == ">" for mark, *_ in rows)
            counted = [row for row in rows if row[2] > 0.3]
            assert len(counted) >= one.rule.least
            assert all(value <= 1.0 for mark, value, *_ in counted if mark == "<")
            most = 2.0 if one.rule.test == "mean" else 1.0
            if one.rule.test in ("every reading", "mean", "map"):
                assert all(value < most for mark, value, *_ in counted if mark != "<")
        else:
            assert one.ruling.reasons
            if one.ruling.outcome == "cannot tell yet":
                assert one.ruling.missing


@given(rows=VALUES)
def test_a_floor_is_as_its_worst_room(ruling: Make, rows: list[Row]) -> None:
    found = ruling(rows)
    for room, floor in zip(found.rooms[0].outcomes, found.outcomes, strict=True):
        assert floor.ruling.outcome == room.ruling.outcome


LOW: list[Row] = [("", 0.1 + 0.01 * (k % 9), 1.5, ()) for k in range(59)]


def unconfirmed(found: FloorClearance) -> set[int]:
    """Return the ranks of the rules that ask for nothing but readings."""
    kept = [rule.laboratory is None for rule in clearance_rules()]
    return {rank for rank, keep in zip(ranks(found), kept, strict=True) if keep}


def test_low_readings_meet_under_every_rule_but_one_that_asks_for_more(ruling: Make) -> None:
    found = ruling(LOW, nowhere=0.99)
    assert unconfirmed(found) == {WORST_FIRST.index("meets")}
    assert set(ranks(found)) == {1, 2}


@pytest.mark.parametrize("use", ["school", "dwelling", "child care"])
def test_children_ask_for_their_own_height(ruling: Make, use: str) -> None:
    child = [(mark, value, 0.7, held) for mark, value, _, held in LOW]
    assert set(ranks(ruling(LOW, nowhere=0.99, use=use))) == {1}
    # readings of 0.1 to 0.18, 59 at each height
    assert unconfirmed(ruling([*LOW, *child], nowhere=0.99, use=use)) == {2}


def test_the_map_is_believed_at_its_probability_and_not_below(ruling: Make) -> None:
    place = [rule.test for rule in clearance_rules()].index("map")
    assert [ranks(ruling(LOW, nowhere=one))[place] for one in (0.0, 0.04, 0.06, 0.94, 0.95)] == [
        0, 0, 1, 1, 2
    ]  # fmt: skip


def repeats(make_reading: Make) -> list[Reading]:
    there = (2.0, 2.0)
    return [
        make_reading("a", "r0", there, 0.2),
        make_reading("b", "r0", there, 0.9),
        make_reading("c", "r0", there, 5.0, "<"),
        make_reading("d", "r0", (4.0, 2.0), 0.3),
        make_reading("e", "r0", None, 0.4)._replace(kind="duplicate", duplicate_of="d"),
        make_reading("f", "r0", None, 0.1)._replace(kind="duplicate", duplicate_of="nobody"),
    ]


def test_a_place_counts_once_at_its_highest_detect(make_reading: Make) -> None:
    assert {one.id for one in once(repeats(make_reading))} == {"b", "e", "f"}


def test_the_order_of_repeats_does_not_matter(make_reading: Make) -> None:
    some = repeats(make_reading)
    assert {one.id for one in once(some[::-1])} == {one.id for one in once(some)}
    assert once(once(some)) == once(some)


def test_a_laboratory_sample_beside_a_reading_is_the_same_place(make_reading: Make) -> None:
    some = [make_reading("a", "r0", (2.0, 2.0), 0.2),
            make_reading("b", "r0", (2.0, 2.0), 0.4)._replace(kind="laboratory")]  # fmt: skip
    assert [one.id for one in once(some)] == ["b"]


def test_a_saturated_repeat_is_not_hidden_by_a_higher_number(make_reading: Make) -> None:
    some = [make_reading("a", "r0", (2.0, 2.0), 2.0), make_reading("b", "r0", (2.0, 2.0), 1.0, ">")]
    assert {one.id for one in once(some)} == {"a", "b"}


def test_a_reading_is_raised_by_two_of_its_own_errors(
    make_floor: Make, make_survey_site: Make, make_reading: Make
) -> None:
    site = make_survey_site(make_floor([(0, 0, 5, 5)]), [])
    plain = make_reading("a", "r0", (1, 1), 2.0)
    assert raised(plain, site).concentration == 2.0
    assert raised(plain._replace(error=0.25), site).concentration == 2.5
    assert raised(plain._replace(qualifier="<", error=0.25), site).concentration == 2.5
    # 25 % of an approximate number
    assert raised(plain._replace(qualifier="~"), site).concentration == 3.0


def test_a_closed_house_comes_back_as_the_well_mixed_room_says() -> None:
    # C(t) = Css (1 - exp(-lambda t)); 95 % at 3/lambda. At 0.2 an hour: 1 h shows 18 %, 15 h 95 %
    # (computed by hand: exp(-0.2) = 0.8187, exp(-3) = 0.0498)
    assert share_rebuilt(1.0) == pytest.approx(0.1813, abs=5e-5)
    assert share_rebuilt(15.0) == pytest.approx(0.9502, abs=5e-5)
    assert share_rebuilt(-1.0) == 0.0
    assert hours_needed() == pytest.approx(math.log(20.0) / 0.2)
    assert share_rebuilt(hours_needed()) == pytest.approx(0.95)


def test_the_worst_of_nothing_cannot_be_told() -> None:
    assert worst([]) == "cannot tell yet"
    assert worst(["meets", "cannot tell yet"]) == "cannot tell yet"
    assert worst(["cannot tell yet", "does not meet", "meets"]) == "does not meet"
