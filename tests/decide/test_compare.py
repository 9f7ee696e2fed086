"""Two rounds side by side: laws that a comparison has to keep, whatever was read."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import scipy.stats
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.change_cells import cell_change, grounds_of
from hgmap.decide.change_model import SHARED_SD, FloorChange, Visit, ZoneMove, ratio_interval
from hgmap.decide.change_rooms import log_sd
from hgmap.decide.compare import compare_visits
from hgmap.decide.paired import _signed_ranks, paired_places, paired_statistics
from hgmap.decide.rooms import RoomRow
from hgmap.decide.zones import make_zones
from hgmap.errors import EstimateError
from hgmap.field.variogram import Variogram

Make = Callable[..., Any]
MEANS = st.lists(st.floats(0.01, 100.0), min_size=2, max_size=2)
SHARES = st.floats(0.02, 0.6)
VARIOGRAM = Variogram("exponential", 0.05, 1.0, 6.0)


@pytest.fixture(scope="session")
def visit(survey: Make, make_floor: Make, make_reading: Make, lay: Make) -> Make:
    """Return a function that makes a visit of two rooms, read at these concentrations."""

    def make(
        means: Sequence[float],
        share: float = 0.1,
        sd: float = 0.2,
        *,
        read: Sequence[bool] = (True, True),
        above: float = 1.0,
        slope: float = 0.0,
    ) -> Visit:
        floor = make_floor([(0, 0, 4, 3), (4, 0, 9, 3)], [("r0", "r1")])
        readings = [
            make_reading(f"R{k}", f"r{k}", (1 + 4 * k, 1), mean)
            for k, mean in enumerate(means)
            if read[k]
        ]
        evidence = survey(floor, readings, above=above)
        surface = lay(
            floor,
            lambda x, _: np.where(x < 4, math.log(means[0]), math.log(means[1])) + slope * x,
            sd,
            variogram=VARIOGRAM,
        )
        rows = tuple(
            RoomRow(
                room, int(read[k]), readings[0] if read[k] and readings else None, mean,
                share * mean, mean * math.exp(-1.96 * share), mean * math.exp(1.96 * share), 0.5,
            )
            for k, (room, mean) in enumerate(zip(floor.rooms, means, strict=True))
        )  # fmt: skip
        return Visit(evidence, surface, make_zones(evidence, surface), rows)

    return make


def areas(change: FloorChange) -> list[float]:
    ground = change.grounds
    return [one.area for one in (ground.fell, ground.rose, ground.doubtful, ground.unknown)]


@given(means=MEANS, share=SHARES, sd=SHARES)
def test_a_round_beside_its_own_copy_did_not_change_and_nobody_can_tell(
    visit: Make, means: list[float], share: float, sd: float
) -> None:
    one = visit(means, share, sd)
    got = compare_visits(one, one)
    assert got.cells is not None
    known = got.cells.log_ratio[one.surface.raster.inside]
    assert np.abs(known).max() == 0.0
    assert np.allclose(got.cells.probability_fell[one.surface.raster.inside], 0.5)
    for room in got.rooms:
        assert room.ratio == pytest.approx(1.0)
        assert room.low is not None
        assert room.high is not None
        assert room.low < 1.0 < room.high
        assert (room.word, room.rebounded) == ("cannot tell", False)
    assert areas(got) == pytest.approx([0.0, 0.0, 27.0, 0.0])
    assert all(move.before == move.after for move in got.moves)
    assert got.paired.word == "cannot tell"
    assert (got.paired.fell, got.paired.rose) == (0, 0)


@given(before=MEANS, after=MEANS, share=SHARES, sd=SHARES)
def test_rounds_the_other_way_round_turn_every_ratio_over(
    visit: Make, before: list[float], after: list[float], share: float, sd: float
) -> None:
    old, new = visit(before, share, sd), visit(after, 0.2, 0.3)
    there, back = compare_visits(old, new), compare_visits(new, old)
    turned = {"fell": "rose", "rose": "fell", "cannot tell": "cannot tell"}
    for one, other in zip(there.rooms, back.rooms, strict=True):
        assert one.ratio is not None
        assert one.low is not None
        assert other.ratio == pytest.approx(1.0 / one.ratio)
        assert other.high == pytest.approx(1.0 / one.low)
        assert turned[one.word] == other.word
        assert one.probability_fell is not None
        assert other.probability_fell == pytest.approx(1.0 - one.probability_fell, abs=1e-12)
    fell, rose, doubtful, unknown = areas(there)
    assert areas(back) == pytest.approx([rose, fell, doubtful, unknown], abs=1e-6)
    assert {(m.room, m.after, m.before) for m in there.moves} == {
        (m.room, m.before, m.after) for m in back.moves
    }


@given(before=MEANS, after=MEANS, factor=st.floats(0.05, 20.0))
def test_a_round_so_many_times_higher_has_ratios_so_many_times_higher(
    visit: Make, before: list[float], after: list[float], factor: float
) -> None:
    old = visit(before)
    plain = compare_visits(old, visit(after))
    scaled = compare_visits(old, visit([factor * one for one in after]))
    for one, other in zip(plain.rooms, scaled.rooms, strict=True):
        for name in ("ratio", "low", "high"):
            assert getattr(other, name) == pytest.approx(factor * getattr(one, name))
    assert plain.cells is not None
    assert scaled.cells is not None
    inside = old.surface.raster.inside
    assert np.allclose((scaled.cells.log_ratio - plain.cells.log_ratio)[inside], math.log(factor))


@given(before=MEANS, after=MEANS, slope=st.floats(-1.0, 1.0), read=st.tuples(*2 * [st.booleans()]))
def test_the_areas_add_up_to_the_floor(
    visit: Make, before: list[float], after: list[float], slope: float, read: tuple[bool, bool]
) -> None:
    got = compare_visits(visit(before), visit(after, slope=slope, read=read))
    assert sum(areas(got)) == pytest.approx(27.0, rel=1e-6)
    ground = got.grounds
    assert shapely.union_all(
        [ground.fell, ground.rose, ground.doubtful, ground.unknown]
    ).area == pytest.approx(27.0, rel=1e-6)
    for room in got.before.evidence.floor.rooms:
        mine = sum(move.area_m2 for move in got.moves if move.room == room.id)
        assert mine == pytest.approx(room.area_m2, rel=1e-6)


def test_a_room_that_one_round_did_not_read_cannot_be_told(visit: Make) -> None:
    got = compare_visits(visit([50.0, 50.0]), visit([0.1, 0.1], read=(True, False)))
    first, second = got.rooms
    assert first.word == "fell"
    assert (second.word, second.ratio) == ("cannot tell", None)
    assert second.reasons == ("not read after",)
    assert got.grounds.unknown.area == pytest.approx(15.0)


def test_a_fall_that_the_calibrations_could_make_is_no_fall(visit: Make) -> None:
    old = visit([1.0, 1.0], sd=0.001)
    got = compare_visits(old, visit([0.8, 0.5], sd=0.001))
    assert got.cells is not None
    sd = got.cells.sd[old.surface.raster.inside]
    assert np.allclose(sd, SHARED_SD, rtol=1e-4)
    assert got.grounds.fell.area == pytest.approx(15.0, abs=0.8)  # the room that halved


def test_a_room_that_rises_has_rebounded(visit: Make) -> None:
    got = compare_visits(visit([0.1, 0.1]), visit([0.5, 0.1]))
    first, second = got.rooms
    assert (first.word, first.rebounded) == ("rose", True)
    assert any("rebounded: it rose with probability" in text for text in first.reasons)
    assert not second.rebounded


def test_a_reading_above_the_level_that_was_below_it_is_a_rebound_whatever_the_mean(
    visit: Make,
) -> None:
    got = compare_visits(visit([0.9, 0.1], share=0.5), visit([1.05, 0.1], share=0.5))
    assert got.rooms[0].word == "cannot tell"
    assert got.rooms[0].rebounded
    assert "R0 (1.05 µg/m³)" in got.rooms[0].reasons[-1]


def test_a_held_reading_above_the_level_leaves_a_fall_in_doubt(
    visit: Make, make_reading: Make, survey: Make
) -> None:
    old, new = visit([50.0, 50.0]), visit([0.1, 0.1])
    floor = new.evidence.floor
    readings = [
        *(item.reading for item in new.evidence.items),
        make_reading("H1", "r0", (2, 1), 9.0, held=("the zero had drifted",)),
    ]
    got = compare_visits(old, replace(new, evidence=survey(floor, readings)))
    assert [room.word for room in got.rooms] == ["cannot tell", "fell"]
    assert "H1 (9 µg/m³) after is above the level and held" in got.rooms[0].reasons[-1]


def test_ground_that_leaves_clear_or_comes_into_remediate_is_worse() -> None:
    moves = [("clear", "resample"), ("resample", "remediate"), ("clear", "clear"),
             ("remediate", "resample"), ("resample", "clear")]  # fmt: skip
    assert [ZoneMove("r", "R", x, y, 1.0).worse for x, y in moves] == [  # type: ignore[arg-type]
        True, True, False, False, False,
    ]  # fmt: skip


def test_an_interval_without_bounds_stays_a_number() -> None:
    low, high = ratio_interval(600.0, 200.0)
    assert 0.0 < low < high < math.inf


def bounded(visit: Make, value: float, sign: str, means: Sequence[float], **more: Any) -> Visit:
    """Return a visit whose first room was read as a bound, whatever the estimate made of it."""
    made = visit(means, **more)
    items = tuple(
        replace(one, reading=one.reading._replace(concentration=value, qualifier=sign))
        if one.reading.room == "r0"
        else one
        for one in made.evidence.items
    )
    return replace(made, evidence=replace(made.evidence, items=items))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (((2.0, "<"), 0.28), ((0.02, "<"), 0.0028)),  # two limits: the ratio is theirs
        (((0.07, ""), 0.07), ((0.05, "<"), 0.007)),
        (((50.0, ">"), 500.0), ((65.0, ""), 65.0)),  # may have risen
        (((0.02, "<"), 0.0028), ((2.0, "<"), 0.28)),
    ],
)
def test_a_ratio_of_limits_is_neither_a_fall_nor_a_rise(
    visit: Make, before: Any, after: Any
) -> None:
    old, new = (bounded(visit, *one, [mean, 1.0]) for one, mean in (before, after))
    got = compare_visits(old, new)
    assert got.rooms[0].word == "cannot tell"
    assert not got.rooms[0].rebounded
    assert any("a ratio of limits is no evidence" in text for text in got.rooms[0].reasons)
    room = got.rooms[0].room.polygon
    assert got.grounds.fell.intersection(room).area == pytest.approx(0.0)
    assert got.grounds.rose.intersection(room).area == pytest.approx(0.0)
    assert sum(areas(got)) == pytest.approx(27.0)


def test_ground_nearest_to_a_non_detect_before_is_not_said_to_have_fallen(
    visit: Make, survey: Make, make_reading: Make
) -> None:
    old, new = visit([5.0, 1.0]), visit([0.02, 1.0])
    floor = old.evidence.floor
    # the west half of the first room was read as a number, its east half as a high limit
    before = [make_reading("B0", "r0", (1, 1), 9.0), make_reading("B1", "r0", (3, 1), 0.5, "<")]
    after = [make_reading("A0", "r0", (1, 1), 0.02), make_reading("A1", "r0", (3, 1), 0.02)]
    got = compare_visits(
        replace(old, evidence=survey(floor, before)), replace(new, evidence=survey(floor, after))
    )
    assert got.rooms[0].word == "fell"
    assert got.grounds.fell.intersection(shapely.box(0, 0, 1.5, 3)).area == pytest.approx(4.5)
    assert got.grounds.fell.intersection(shapely.box(2.5, 0, 4, 3)).area == pytest.approx(0.0)


def test_of_a_fall_to_nothing_seen_only_the_upper_end_is_known(visit: Make) -> None:
    old, new = visit([2.0, 1.0]), bounded(visit, 0.05, "<", [0.006, 1.0])
    (room, other) = compare_visits(old, new).rooms
    assert room.word == "fell"
    # the most that it can be: estimate and limit together, and both calibrations
    most = (0.006 + 0.05) / 2.0 * math.exp(1.959964 * SHARED_SD)
    assert (room.low, room.high) == (0.0, pytest.approx(most, rel=1e-6))
    assert "only the upper end of the interval is known" in room.reasons[-1]
    assert other.word == "cannot tell"


def test_a_saturated_reading_above_all_there_was_is_not_hidden(visit: Make) -> None:
    old, new = visit([45.0, 1.0]), bounded(visit, 50.0, ">", [600.0, 1.0])
    (room, _) = compare_visits(old, new).rooms
    assert (room.word, room.rebounded) == ("cannot tell", True)


def test_a_place_that_came_back_is_not_hidden_by_its_rooms_mean(
    survey: Make, make_reading: Make, visit: Make
) -> None:
    old, new = visit([50.0, 0.1]), visit([0.6, 0.1])
    floor = old.evidence.floor
    values = ((90.0, 0.2), (0.3, 4.0))  # the corner was cleaned, mercury came up elsewhere
    both = [
        replace(one, evidence=survey(floor, [
            make_reading(f"{letter}{k}", "r0", (1 + 2 * k, 1), value)
            for k, value in enumerate(pair)
        ]))
        for letter, one, pair in (("B", old, values[0]), ("A", new, values[1]))
    ]  # fmt: skip
    (room, _) = compare_visits(*both).rooms
    assert (room.word, room.rebounded) == ("fell", True)
    assert room.reasons[-1].endswith("above the level at a place that was not, whatever the mean: "
                                     "A1")  # fmt: skip


def test_colder_air_that_could_explain_the_fall_is_said(visit: Make) -> None:
    got = compare_visits(visit([10.0, 10.0]), visit([5.0, 0.1]), temperature_ratio=0.6)
    half, tenth = got.rooms
    assert (half.word, tenth.word) == ("fell", "fell")
    assert any("no evidence of cleaning" in text for text in half.reasons)
    assert not tenth.reasons


def test_rounds_on_other_cells_are_refused(visit: Make, lay: Make) -> None:
    one = visit([1.0, 1.0])
    other = replace(one, surface=lay(one.evidence.floor, lambda x, _: 0 * x, cell_m=0.5))
    with pytest.raises(EstimateError, match="same cells"):
        compare_visits(one, other)


def test_cells_of_which_one_round_knows_nothing_are_unknown(visit: Make) -> None:
    one = visit([1.0, 1.0])
    mean = one.surface.mean.copy()
    mean[:, : mean.shape[1] // 3] = np.nan
    cells = cell_change(one.surface, replace(one.surface, mean=mean))
    got = grounds_of(one.evidence.floor, one.surface, cells, set())
    assert got.unknown.area == pytest.approx(9.0, abs=0.5)
    assert got.unknown.area + got.doubtful.area == pytest.approx(27.0)


def test_without_an_error_model_no_cell_can_be_told(visit: Make) -> None:
    one = visit([100.0, 100.0])
    other = replace(visit([0.1, 0.1]).surface, method="idw")
    cells = cell_change(one.surface, other)
    got = grounds_of(one.evidence.floor, one.surface, cells, set())
    assert (got.fell.area, got.rose.area) == (0.0, 0.0)
    assert got.doubtful.area == pytest.approx(27.0)
    assert np.allclose(cells.probability_fell[one.surface.raster.inside], 0.5)


def test_on_the_linear_scale_the_ratio_is_that_of_the_delta_method(visit: Make) -> None:
    one = visit([1.0, 1.0])
    shape = one.surface.mean
    linear = [
        replace(one.surface, mean=0 * shape + m, sd=0 * shape + s, scale="linear")
        for m, s in ((8.0, 1.6), (2.0, 0.2))
    ]
    cells = cell_change(*linear)
    inside = one.surface.raster.inside
    assert np.allclose(np.exp(cells.log_ratio[inside]), 0.25)
    assert np.allclose(cells.sd[inside], math.sqrt(0.2**2 + 0.1**2 + SHARED_SD**2))


def test_the_sd_of_a_room_is_the_wider_of_its_error_and_its_interval(visit: Make) -> None:
    row = visit([2.0, 1.0], share=0.1).rooms[0]
    assert log_sd(row) == pytest.approx(0.1, rel=1e-3)
    assert log_sd(replace(row, high=2.0 * row.high)) == pytest.approx(0.1 + math.log(2) / 3.92,
                                                                       rel=1e-3)  # fmt: skip
    assert log_sd(replace(row, average=None)) is None


@pytest.fixture(scope="session")
def pairs(survey: Make, make_floor: Make, make_reading: Make) -> Make:
    """Return a function from two lists of (x, y, value, qualifier) to the pairs."""

    def make(before: Sequence[Any], after: Sequence[Any]) -> Any:
        floor = make_floor([(0, 0, 4, 3), (4, 0, 9, 3)])
        both = [
            survey(floor, [
                make_reading(f"{letter}{k}", "r0" if x < 4 else "r1", (x, y), value, sign)
                for k, (x, y, value, sign) in enumerate(one)
            ], above=10.0)
            for letter, one in (("B", before), ("A", after))
        ]  # fmt: skip
        return paired_places(*both)

    return make


def test_places_are_paired_nearest_first_and_once_and_never_through_a_wall(pairs: Make) -> None:
    before = [(1.0, 1.0, 4.0, ""), (3.9, 1.0, 4.0, "")]
    after = [(1.4, 1.0, 1.0, ""), (1.1, 1.0, 2.0, ""), (4.1, 1.0, 3.0, "")]
    (got,) = pairs(before, after)
    assert (got.before.readings, got.after.readings) == (("B0",), ("A1",))
    assert got.ratio == pytest.approx(0.5)
    assert not pairs([(1.0, 1.0, 4.0, "")], [(1.51, 1.0, 4.0, "")])


def test_replicates_are_one_place_with_their_geometric_mean(pairs: Make) -> None:
    (got,) = pairs([(1, 1, 2.0, ""), (1, 1, 8.0, "")], [(1, 1, 1.0, "")])
    assert got.before.number == pytest.approx(4.0)
    assert got.ratio == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("before", "after", "way"),
    [
        ((0.5, ""), (0.05, "<"), -1),
        ((0.04, ""), (0.05, "<"), 0),
        ((0.05, "<"), (0.05, "<"), 0),
        ((0.05, "<"), (0.5, ""), 1),
        ((5.0, ">"), (1.0, ""), -1),
        ((5.0, ">"), (6.0, ""), 0),
    ],
)
def test_a_bound_gives_a_direction_only_where_it_leaves_no_doubt(
    pairs: Make, before: Any, after: Any, way: int
) -> None:
    (got,) = pairs([(1, 1, *before)], [(1, 1, *after)])
    assert got.way() == way
    assert got.ratio is None


def test_with_non_detects_the_word_is_that_of_the_signs_all_others_against_it(
    pairs: Make,
) -> None:
    spots = [(0.5 + 1.1 * k, 1.0) for k in range(3)] + [(4.5 + 1.1 * k, 1.0) for k in range(4)]
    before = [(*one, 2.0, "") for one in spots]
    after = [(*one, 0.05, "<") for one in spots]
    got = paired_statistics(pairs(before, after))
    assert (got.pairs, got.numbers, got.fell, got.word) == (7, 0, 7, "fell")
    assert got.ratio is None
    doubtful = [*after[:5], (*spots[5], 3.0, "<"), (*spots[6], 3.0, "<")]
    got = paired_statistics(pairs(before, doubtful))
    assert (got.fell, got.undecided, got.word) == (5, 2, "cannot tell")


def test_a_shift_that_the_calibrations_could_make_is_not_a_fall_of_the_pairs(pairs: Make) -> None:
    spots = [(0.5 + 1.1 * k, 1.0) for k in range(3)] + [(4.5 + 1.1 * k, 1.0) for k in range(4)]
    before = [(*one, 2.0, "") for one in spots]
    after = [(*one, 1.7 + 0.01 * k, "") for k, one in enumerate(spots)]
    got = paired_statistics(pairs(before, after))
    assert got.high is not None
    assert got.high < 1.0
    assert got.word == "cannot tell"
    after = [(*one, 0.7 + 0.01 * k, "") for k, one in enumerate(spots)]
    assert paired_statistics(pairs(before, after)).word == "fell"


@pytest.mark.parametrize("count", [3, 5, 6])
def test_pairs_that_are_all_alike_are_not_surer_than_their_signs(pairs: Make, count: int) -> None:
    spots = [(0.5 + 0.55 * k, 1.0) for k in range(count)]
    got = paired_statistics(pairs([(*one, 2.0, "") for one in spots],
                                  [(*one, 1.0, "") for one in spots]))  # fmt: skip
    # all signs alike: 2 of the 2ⁿ there are, whatever the ranks
    assert got.p_wilcoxon == pytest.approx(2 / 2**count)
    assert got.p_sign == pytest.approx(2 / 2**count)


@given(st.lists(st.integers(-6, 6), min_size=3, max_size=9))
def test_the_signed_ranks_are_those_of_every_choice_of_signs(steps: list[int]) -> None:
    moved = np.array([one for one in steps if one], dtype=np.float64)
    statistic, p = _signed_ranks(np.array(steps, dtype=np.float64))
    if len(moved) < 3:
        assert p is None
        return
    ranks = scipy.stats.rankdata(np.abs(moved))
    sums = [
        sum(rank for rank, sign in zip(ranks, signs, strict=True) if sign)
        for signs in itertools.product((0, 1), repeat=len(moved))
    ]
    assert statistic == min(ranks[moved > 0].sum(), ranks[moved < 0].sum())
    least = sum(one <= statistic + 1e-9 for one in sums) / len(sums)
    assert p == pytest.approx(min(1.0, 2 * least))


def test_no_pairs_say_nothing() -> None:
    got = paired_statistics([])
    assert (got.pairs, got.p_sign, got.p_wilcoxon, got.word) == (0, None, None, "cannot tell")
