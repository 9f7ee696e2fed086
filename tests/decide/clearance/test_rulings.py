"""Named rules and the outcome of a room under each."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.clearance.judge import Ruling, judge, withhold
from hgmap.decide.clearance.rules import ClearanceRule, clearance_rules, find_rule, parse_rules
from hgmap.decide.clearance.statistics import RoomStatistics, room_statistics
from hgmap.decide.clearance.ucl import chebyshev_factor
from hgmap.errors import EstimateError, LevelError, SiteError

RULES = clearance_rules()
LOW = [0.20, 0.22, 0.25, 0.21, 0.24, 0.23, 0.26, 0.19, 0.27, 0.28]
FEW = [0.20, 0.45, 0.30, 0.25, 0.40, 0.35, 0.22, 0.38]
MANY = LOW * 6  # enough for every rule


def room(
    values: list[float],
    detect: list[bool] | None = None,
    *,
    saturated: list[bool] | None = None,
    elsewhere: float | None = None,
) -> RoomStatistics:
    return room_statistics(
        "hall",
        values,
        [True] * len(values) if detect is None else detect,
        1.0,
        is_saturated=saturated,
        highest_elsewhere=elsewhere,
    )


def rule_for(test: str) -> ClearanceRule:
    return next(rule for rule in RULES if rule.test == test)


def outcome(test: str, statistics: RoomStatistics, level: float = 1.0) -> str:
    return judge(rule_for(test), statistics, level, 0.99).outcome


def test_every_rule_says_where_it_comes_from_and_what_it_cannot_see() -> None:
    assert {rule.test for rule in RULES} == {"every reading", "mean", "ucl", "utl", "map"}
    for rule in RULES:
        assert rule.source
        assert rule.cannot_see
        assert rule.least_source
        text = " ".join(str(value) for value in rule.model_dump().values()).casefold()
        assert "safe" not in text


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_room_far_below_meets_and_one_far_above_does_not(rule: ClearanceRule) -> None:
    assert judge(rule, room(MANY), 1.0, 0.99).outcome == "meets"
    assert judge(rule, room([20 * one for one in LOW]), 1.0, 0.01).outcome == "does not meet"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_few_readings_cannot_tell_and_say_how_many_are_missing(rule: ClearanceRule) -> None:
    for n in (0, 1, 2):
        found = judge(rule, room(LOW[:n]), 1.0, 0.99)
        assert found.outcome == "cannot tell yet"
        assert any(one.startswith(f"{rule.least - n} more usable") for one in found.missing)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_level_below_the_detection_limit_cannot_be_told(rule: ClearanceRule) -> None:
    for detect in ([False] * 10, [False] * 3 + [True] * 7):
        found = judge(rule, room(LOW, detect), 0.18, 0.99)
        if not any(detect):
            assert found.outcome == "cannot tell yet"
            assert any("can see 0.18" in one for one in found.missing)
        assert found.outcome != "meets"


def test_a_detect_above_the_level_counts_even_where_the_limits_are_too_high() -> None:
    found = room([3.0, 3.0, 3.0, 5.0], [False, False, False, True])
    assert outcome("every reading", found) == "does not meet"


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_saturated_reading_never_meets(rule: ClearanceRule) -> None:
    flags = [False] * 9 + [True]
    assert judge(rule, room(LOW, saturated=flags), 1.0, 0.99).outcome == "cannot tell yet"
    over = judge(rule, room([*LOW[:9], 50.0], saturated=flags), 1.0, 0.99)
    assert over.outcome == ("does not meet" if rule.test != "utl" else "cannot tell yet")


def test_a_saturated_reading_at_the_level_is_above_it() -> None:
    at = room([0.2, 0.3, 1.0], saturated=[False, False, True])
    assert outcome("every reading", at) == "does not meet"
    assert outcome("mean", at) == "cannot tell yet"
    twice = room([0.2, 0.3, 2.0], saturated=[False, False, True])
    assert outcome("mean", twice) == "does not meet"


@pytest.mark.parametrize("test", ["mean", "ucl", "utl"])
def test_a_mean_above_of_too_few_readings_settles_nothing(test: str) -> None:
    few = room([1.3, 1.5])
    assert outcome(test, few) == "cannot tell yet"
    assert outcome("every reading", few) == "does not meet"


def test_a_mean_that_is_above_only_by_its_detection_limits_settles_nothing() -> None:
    found = room([3.0, *[2.5] * 9], [True] + [False] * 9)
    assert found.mean.value == pytest.approx(2.55)
    assert outcome("mean", found, 2.0) == "cannot tell yet"
    assert outcome("ucl", found, 2.0) == "cannot tell yet"
    assert outcome("mean", found, 2.52) == "cannot tell yet"
    assert outcome("mean", found, 2.6) == "meets"
    assert outcome("mean", room([1.4, 1.5, 1.45, 0.9], [True] * 3 + [False])) == "does not meet"


def test_a_reading_at_the_level_is_not_below_it_and_a_non_detect_there_is() -> None:
    at = room([0.2, 0.3, 1.0])
    assert outcome("every reading", at) == "cannot tell yet"
    assert outcome("map", at) == "cannot tell yet"
    assert outcome("every reading", room([0.2, 0.3, 1.0], [True, True, False])) == "meets"


def test_nothing_detected_meets_where_every_limit_is_low_and_leaves_limits_open() -> None:
    empty = room([0.1] * 10, [False] * 10)
    assert outcome("every reading", empty) == "meets"
    assert outcome("mean", empty) == "meets"
    assert outcome("utl", empty) == "cannot tell yet"
    assert outcome("utl", room([0.1] * 59, [False] * 59)) == "meets"


@pytest.mark.parametrize("detects", [0, 1, 2, 3, 10])
def test_a_room_with_fewer_detects_is_not_kept_from_meeting_by_its_cleanness(detects: int) -> None:
    seen = [k < detects for k in range(10)]
    assert outcome("ucl", room([0.1] * 10, seen)) == "meets"
    assert outcome("ucl", room([0.1] * 9 + [0.95], [*seen[:9], True])) == "cannot tell yet"
    assert outcome("ucl", room([0.1] * 10, seen), 0.15) == "cannot tell yet"
    assert outcome("ucl", room([0.1] * 7, seen[:7])) == "cannot tell yet"


def test_the_bound_of_nothing_detected_is_said_with_what_would_lower_it() -> None:
    got = judge(rule_for("ucl"), room([0.1] * 10, [False] * 10), 0.2)
    assert "nothing was detected" in got.reasons[0]
    # 0.1 (1 + sqrt(99) 0.5 / sqrt(9)): whatever lies below the limit, its sd is at most half of it
    assert f"{0.1 * (1 + 99**0.5 * 0.5 / 3):.4g}, not below 0.2" in got.reasons[0]
    assert "more readings: about 28 in the room" in got.missing[0]
    assert "a method with a lower detection limit" in got.missing[0]


def test_a_room_without_a_mean_but_with_a_detect_cannot_be_told_by_the_mean() -> None:
    found = room_statistics(
        "hall", [0.1, 0.1, 0.1, 0.5], [False] * 3 + [True], 1.0, mean_method="robust ROS"
    )
    ruling = judge(rule_for("mean"), found, 1.0)
    assert ruling.outcome == "cannot tell yet"
    assert ruling.reasons[0].startswith("no mean: the detects are one number")


def test_one_high_reading_breaks_the_mean_rule_only_above_twice_the_level() -> None:
    twice = room([0.1] * 9 + [1.9])
    found = judge(rule_for("mean"), twice, 1.0)
    assert found.outcome == "meets"
    assert any("1.9 is above the level" in one for one in found.reasons)
    assert outcome("mean", room([0.1] * 9 + [2.1])) == "does not meet"
    assert outcome("every reading", twice) == "does not meet"


def test_a_mean_below_with_its_limit_above_cannot_be_told() -> None:
    wide = room([0.1, 0.2, 0.1, 0.3, 2.0, 0.15, 0.4, 0.9])
    assert outcome("ucl", wide) == "cannot tell yet"
    (missing,) = judge(rule_for("ucl"), wide, 1.0).missing
    assert missing.startswith("more readings: about ")


def test_it_is_said_how_many_readings_would_bring_the_limit_of_the_mean_down() -> None:
    rule, few = rule_for("ucl"), room(FEW)
    assert few.ucl.value is not None
    assert few.ucl.value < 0.5
    ruling = judge(rule, few, 0.5)
    assert ruling.outcome == "cannot tell yet"
    assert "asks for no distribution (Chebyshev, 99 %)" in ruling.reasons[0]
    (missing,) = ruling.missing
    wanted = int(missing.split()[3])
    assert few.mean.value is not None
    # as many with the same scatter are enough, and one fewer are not
    for n, expected in ((wanted, True), (wanted - 1, False)):
        factor = chebyshev_factor(0.95 if n >= 59 else 0.99)
        sd = max(float(np.std(FEW, ddof=1)), 0.3 * few.mean.value)
        assert (few.mean.value + factor * sd / n**0.5 < 0.5) == expected
    above = judge(rule, room([0.3] * 6 + [0.8, 0.7, 0.9], [False] * 6 + [True] * 3), 0.45)
    assert above.missing == (
        "the room cleaned and read again or a method with a lower detection limit: the mean of its "
        "readings is not below 0.45",
    )


def test_few_readings_that_agree_do_not_show_that_a_room_is_even() -> None:
    even = room([0.80, 0.81, 0.79, 0.80, 0.82, 0.80, 0.79, 0.81])
    assert even.ucl.value is not None
    assert even.ucl.value < 0.9
    assert outcome("ucl", even) == "cannot tell yet"
    assert outcome("ucl", even, 2.0) == "meets"


def test_a_tolerance_limit_that_trusts_a_shape_clears_nothing() -> None:
    trusting = room(LOW * 2)
    assert trusting.utl.value is not None
    assert trusting.utl.value < 0.5
    ruling = judge(rule_for("utl"), trusting, 1.0)
    assert ruling.outcome == "cannot tell yet"
    assert ruling.missing == ("39 more usable readings",)
    assert (
        "59, all below, show with 95 % confidence that 95 % of the room is below"
        in (ruling.reasons[0])
    )
    assert outcome("utl", room([*LOW, *LOW])) == "cannot tell yet"
    assert outcome("utl", room([3.0 * one for one in LOW]), 0.5) == "does not meet"


@pytest.mark.parametrize(("above", "n"), [(1, 93), (2, 124)])
def test_a_reading_above_the_tolerance_limit_says_how_many_are_needed(above: int, n: int) -> None:
    readings = [0.2] * (80 - above) + [1.5] * above
    ruling = judge(rule_for("utl"), room(readings), 1.0)
    assert ruling.outcome == "cannot tell yet"
    assert ruling.missing == (
        "more readings: 93 in the room where 1 of them is not below, 124 where 2 are",
    )
    assert outcome("utl", room([0.2] * (n - above) + [1.5] * above)) == "meets"


def test_a_meets_of_few_readings_says_what_it_may_have_missed() -> None:
    said = judge(rule_for("every reading"), room(LOW[:3]), 1.0).reasons[0]
    assert "3 readings would all miss it about 73 times in 100" in said  # 0.9^3
    assert "miss" not in judge(rule_for("every reading"), room(LOW * 3), 1.0).reasons[0]
    said = judge(rule_for("mean"), room([0.1, 0.5, 0.9]), 0.95).reasons[0]
    assert "upper confidence limit" in said
    assert "is not" in said


def test_a_hot_place_at_another_height_is_not_averaged_away() -> None:
    for rule in RULES:
        found = judge(rule, room(MANY, elsewhere=30.0), 1.0, 0.99)
        assert found.outcome == "cannot tell yet"
        assert any("another height" in one for one in found.reasons)
        assert judge(rule, room(MANY, elsewhere=0.5), 1.0, 0.99).outcome == "meets"


def test_the_map_rule_needs_a_map_that_is_sure() -> None:
    rule, low = rule_for("map"), room(LOW)
    assert judge(rule, low, 1.0).outcome == "cannot tell yet"
    outcomes = [judge(rule, low, 1.0, one).outcome for one in (0.0, 0.04, 0.06, 0.94, 0.95, 1.0)]
    assert outcomes == ["does not meet"] * 2 + ["cannot tell yet"] * 2 + ["meets"] * 2
    assert judge(rule, room([*LOW, 1.1]), 1.0, 1.0).outcome == "does not meet"
    for bad in (-0.1, 1.1, float("nan")):
        with pytest.raises(EstimateError, match="probability"):
            judge(rule, low, 1.0, bad)


@pytest.mark.parametrize("level", [0.0, -1.0, float("nan"), float("inf")])
def test_a_level_that_is_no_number_above_zero_is_refused(level: float) -> None:
    with pytest.raises(LevelError, match="above zero"):
        judge(RULES[0], room(LOW), level)


def test_conditions_take_back_a_meets_and_nothing_else() -> None:
    missing = ("a reading with the windows closed for 8 h",)
    told = withhold(judge(RULES[0], room(LOW), 1.0), ("vented, then read",), missing)
    assert told == Ruling("cannot tell yet", ("vented, then read",), missing)
    above = judge(RULES[0], room([5.0, 5.0, 5.0]), 1.0)
    assert withhold(above, ("vented, then read",), missing) == above
    short = withhold(judge(RULES[0], room(LOW[:1]), 1.0), ("vented, then read",), missing)
    assert len(short.reasons) == 2
    assert len(short.missing) == 2
    assert withhold(told, (), ()) == told


rooms = st.lists(
    st.tuples(st.integers(1, 80).map(lambda one: one / 16), st.sampled_from("dddns")),
    max_size=12,
)


@given(rooms, st.sampled_from(RULES), st.floats(0.05, 6.0), st.floats(1.0, 10.0),
       st.none() | st.floats(0.0, 1.0), st.none() | st.floats(0.1, 5.0))  # fmt: skip
def test_raising_the_level_never_turns_meets_into_does_not_meet(
    rows: list[tuple[float, str]],
    rule: ClearanceRule,
    level: float,
    factor: float,
    nowhere: float | None,
    elsewhere: float | None,
) -> None:
    found = room(
        [one for one, _ in rows],
        [kind != "n" for _, kind in rows],
        saturated=[kind == "s" for _, kind in rows],
        elsewhere=elsewhere,
    )
    low, high = judge(rule, found, level, nowhere), judge(rule, found, factor * level, nowhere)
    order = ("does not meet", "cannot tell yet", "meets")
    assert order.index(high.outcome) >= order.index(low.outcome)
    for ruling in (low, high):
        assert ruling.reasons
        assert bool(ruling.missing) == (ruling.outcome == "cannot tell yet")
        assert "safe" not in " ".join((*ruling.reasons, *ruling.missing)).casefold()


@given(rooms, st.floats(0.05, 6.0))
def test_no_rule_clears_a_room_that_holds_a_reading_far_above(
    rows: list[tuple[float, str]], level: float
) -> None:
    values = [one for one, _ in rows] + [2.5 * level]
    found = room(values, [kind != "n" for _, kind in rows] + [True])
    for test in ("every reading", "mean", "map"):
        assert outcome(test, found, level) == "does not meet"


def good_rule() -> dict[str, str]:
    return {"name": '"a"', "title": '"t"', "test": '"utl"', "least": "3", "least_source": '"x"',
            "source": '"s"', "from_memory": "true", "cannot_see": '"c"'}  # fmt: skip


def written(keys: dict[str, str]) -> str:
    return "[[rule]]\n" + "".join(f"{key} = {value}\n" for key, value in keys.items())


def test_a_table_of_rules_of_ones_own_is_read() -> None:
    (rule,) = parse_rules(written(good_rule()), where="mine.toml")
    assert (rule.name, rule.least) == ("a", 3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"least": "0"}, "rule.1.least"),
        ({"test": '"median"'}, "rule.1.test"),
        ({"source": '""'}, "rule.1.source"),
        ({"colour": '"red"'}, "rule.1.colour"),
        ({"single_factor": "2.0"}, "single_factor belongs"),
        ({"test": '"mean"'}, "single_factor belongs"),
        ({"test": '"map"'}, "probability belongs"),
        ({"test": '"ucl"'}, "guard belongs"),
        ({"fails_from": "4"}, "fails_from is more than least"),
        ({"laboratory": '"room"'}, "laboratory needs its laboratory_source"),
        ({"again_source": '"x"'}, "again_after_h needs its again_source"),
        ({"again_after_h": "-1.0", "again_source": '"x"'}, "rule.1.again_after_h"),
        ({"test": '"map"', "probability": "0.4"}, "rule.1.probability"),
        ({"least": "]"}, "TOML syntax"),
    ],
)
def test_a_broken_table_of_rules_is_one_line(change: dict[str, str], message: str) -> None:
    with pytest.raises(SiteError, match=message) as caught:
        parse_rules(written(good_rule() | change), where="mine.toml")
    assert str(caught.value).startswith("mine.toml: ")
    assert "\n" not in str(caught.value)


def test_a_rule_stands_once_and_is_found_by_its_name() -> None:
    with pytest.raises(SiteError, match="stands twice"):
        parse_rules(written(good_rule()) * 2, where="mine.toml")
    assert find_rule("ucl-below").test == "ucl"
    with pytest.raises(SiteError, match="no clearance rule 'mine'; take one of every-reading"):
        find_rule("mine")


def test_a_ruling_has_three_parts() -> None:
    assert [field.name for field in fields(Ruling)] == ["outcome", "reasons", "missing"]


def test_a_guard_that_contradicts_itself_is_refused() -> None:
    guard = {"few": "9", "confidence": "0.99", "few_confidence": "0.95", "least_scatter": "0.3",
             "source": '"x"'}  # fmt: skip
    lines = "".join(f"{key} = {value}\n" for key, value in guard.items())
    text = written(good_rule() | {"test": '"ucl"'}) + "[rule.guard]\n" + lines
    with pytest.raises(SiteError, match="few_confidence is below confidence"):
        parse_rules(text, where="mine.toml")
