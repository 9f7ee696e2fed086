"""What further readings are expected to leave in doubt: closed forms, and laws that hold."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from hgmap.decide.doubt_ground import DoorSide, DoubtGround
from hgmap.decide.model import ResamplePlace
from hgmap.decide.outlook import Forecast, Offers, choose_in_turn
from hgmap.decide.stop import NO_VARIANCE, stop_rule, stop_sentence

Floats = NDArray[np.float64]


def ground(
    xy: Any, excess: Any, *, variance: float = 1.0, room: Any = None, **changed: Any
) -> DoubtGround:
    """Cells of one square metre that a reading far off speaks for, with no guard."""
    xy = np.array(xy, dtype=float)
    cells = len(xy)
    made: dict[str, Any] = {
        "xy": xy,
        "room": np.zeros(cells, dtype=int) if room is None else np.array(room),
        "area_m2": np.ones(cells),
        "known": np.ones(cells, dtype=bool),
        "excess": np.array(excess, dtype=float),
        "variance": np.full(cells, variance),
        "least": np.zeros(cells),
        "remediate_at": 0.5,
        "clear_at": 0.05,
        "freedom": 10**9,
        "used_m": np.full(cells, 3.0),
        "low_m": np.full(cells, 3.0),
        "read": np.ones(cells, dtype=bool),
        "standing_m": np.full(cells, np.inf),
        "answered_m": np.empty((cells, 0)),
        "answer_xy": np.empty((0, 2)),
        "answer_room": np.empty(0, dtype=int),
        "doors": (),
        "guard_m": 1.5,
        "far_m": 8.0,
    }
    return DoubtGround(**(made | changed))


def offers(
    cells: DoubtGround, xy: Any, *, noise: float = 0.1, high: float = 0.0, range_m: float = 4.0,
    room: Any = None,
) -> Offers:  # fmt: skip
    """Places with an exponential covariance to cells and to each other."""
    at = np.array(xy, dtype=float)

    def covariance(a: Floats, b: Floats) -> Floats:
        away = np.hypot(*(a[:, None, :] - b[None, :, :]).transpose(2, 0, 1))
        return np.asarray(cells.variance[0] * np.exp(-away / range_m))

    return Offers(
        at, np.zeros(len(at), dtype=int) if room is None else np.array(room),
        covariance(cells.xy, at), covariance(at, at), np.full(len(at), noise),
        np.full(len(at), high),
    )  # fmt: skip


def test_two_readings_in_two_cells_take_what_conditioning_on_both_takes() -> None:
    cells = ground([(0, 0), (2, 0)], [-0.4, -0.7])
    places = offers(cells, [(0, 0), (2, 0)])
    state = Forecast(cells, places)
    state.choose(0)
    state.choose(1)
    # both at once: v - c' (C + noise I)^-1 c, for each of two cells, by the inverse of a 2 x 2
    c = np.exp(-0.5)
    diagonal, determinant = 1.1, 1.1**2 - c**2
    taken = (diagonal - 2 * c * c + diagonal * c * c) / determinant
    assert state.gain == pytest.approx([taken, taken], abs=1e-12)
    left = np.sqrt(1 - taken)
    for cell, excess in enumerate((-0.4, -0.7)):
        above = norm.cdf(excess / np.sqrt(taken))
        below = norm.cdf((-excess - norm.isf(0.05) * left) / np.sqrt(taken))
        assert 1 - state._now()[cell, 0] == pytest.approx(1 - above - below, abs=1e-8)


def test_the_order_of_the_readings_does_not_matter_for_what_is_left() -> None:
    cells = ground([(0, 0), (2, 0), (3, 1)], [-0.4, -0.7, 0.2])
    places = offers(cells, [(0, 1), (2, 1), (3, 0)])
    left = []
    for order in ((0, 1, 2), (2, 0, 1)):
        state = Forecast(cells, places)
        for one in order:
            state.choose(one)
        left.append(state.doubt_m2)
    assert left[0] == pytest.approx(left[1], rel=1e-12)


def test_what_is_foretold_of_an_offer_is_what_its_choice_leaves() -> None:
    cells = ground([(0, 0), (2, 0), (3, 1)], [-0.4, -0.7, 0.2])
    places = offers(cells, [(0, 1), (2, 1)], high=0.3)
    state = Forecast(cells, places)
    foretold = state.after(np.array([0, 1]))
    state.choose(1)
    assert state.doubt_m2 == pytest.approx(foretold[1], rel=1e-12)


def test_a_room_without_a_reading_stays_in_doubt_until_it_gets_one_of_its_own() -> None:
    far_below = ground(
        [(0, 0), (5, 0)], [-9.0, -9.0], room=[0, 1],
        read=np.array([True, False]), used_m=np.array([1.0, np.inf]),
        low_m=np.array([1.0, np.inf]),
    )  # fmt: skip
    places = offers(far_below, [(0, 1), (5, 1)], room=[0, 1])
    state = Forecast(far_below, places)
    assert state.doubt_m2 == pytest.approx(1.0)
    assert state.after(np.array([0, 1])) == pytest.approx([1.0, 0.0], abs=1e-6)


def test_a_guard_keeps_its_ground_but_where_a_reading_to_come_stands_nearer() -> None:
    # a reading above the level at 0, cells at 1 m (within its guard) and at 2.5 m (nearest to it)
    kept = ground([(1, 0), (2.5, 0)], [-9.0, -9.0], low_m=np.array([9.0, 9.0]),
                  used_m=np.array([1.0, 2.5]), standing_m=np.array([1.0, 2.5]))  # fmt: skip
    state = Forecast(kept, offers(kept, [(3, 0)], high=0.2))
    assert state.doubt_m2 == pytest.approx(2.0)
    # it frees the second cell, unless it is high itself
    assert state.after(np.array([0]))[0] == pytest.approx(1.2)


def test_a_low_reading_at_the_very_place_of_one_that_guards_frees_no_ground() -> None:
    kept = ground([(1, 0), (2.5, 0)], [-9.0, -9.0], low_m=np.array([9.0, 9.0]),
                  standing_m=np.array([1.0, 2.5]))  # fmt: skip
    state = Forecast(kept, offers(kept, [(0, 0), (2, 0)]))
    assert state.after(np.array([0, 1])) == pytest.approx([2.0, 1.0], abs=1e-6)


def test_a_reading_that_says_too_little_guards_until_it_is_read_again_at_its_place() -> None:
    held = ground([(1, 0), (2.5, 0)], [-9.0, -9.0], low_m=np.array([9.0, 9.0]),
                  answered_m=np.array([[1.0], [2.5]]), answer_xy=np.array([(0.0, 0.0)]),
                  answer_room=np.array([0]))  # fmt: skip
    state = Forecast(held, offers(held, [(0.5, 0), (3, 0)]))
    assert state.after(np.array([0, 1])) == pytest.approx([0.0, 1.0], abs=1e-6)


def test_ground_before_a_door_stays_in_doubt_while_the_ground_behind_it_may_be_above() -> None:
    cells = ground([(0, 0), (5, 0)], [-9.0, 9.0], room=[0, 1], doors=(DoorSide(1, np.array([0])),))
    assert Forecast(cells, offers(cells, [(0, 1)])).doubt_m2 == pytest.approx(1.0)


surveys = st.integers(0, 10_000)


def drawn(seed: int) -> tuple[DoubtGround, Offers]:
    random = np.random.default_rng(seed)
    cells = ground(random.uniform(0, 12, (25, 2)), random.normal(-0.8, 0.8, 25),
                   used_m=random.uniform(0, 9, 25), low_m=random.uniform(0, 9, 25),
                   standing_m=random.uniform(0, 9, 25))  # fmt: skip
    return cells, offers(cells, random.uniform(0, 12, (12, 2)), high=float(random.uniform(0, 0.5)))


@settings(max_examples=40)
@given(surveys)
def test_expected_doubt_never_rises_and_places_stand_apart(seed: int) -> None:
    cells, places = drawn(seed)
    found = choose_in_turn(cells, places, enough_m2=0.0, most=8, least_gain_m2=1e-6,
                           then=[(0, True), (1, False)])  # fmt: skip
    assert (np.diff(found.doubt_m2) <= 1e-9).all()
    assert (found.doubt_m2 >= -1e-9).all()
    assert len(set(found.chosen.tolist())) == len(found.chosen)
    assert 0 in found.chosen
    chosen = [one for one in found.chosen if one != 0]
    at = places.xy[chosen]
    away = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) + 9 * np.eye(len(at))
    assert (away >= 1.0).all()


@settings(max_examples=40)
@given(surveys)
def test_the_first_place_is_the_best_one_and_readings_never_take_more_than_there_is(
    seed: int,
) -> None:
    cells, places = drawn(seed)
    alone = Forecast(cells, places).after(np.arange(12))
    found = choose_in_turn(cells, places, enough_m2=0.0, most=8, least_gain_m2=1e-6)
    if len(found.chosen):
        gain = found.doubt_m2[0] - alone
        assert gain[found.chosen[0]] >= 0.99 * gain.max() - 1e-9
    state = Forecast(cells, places)
    for one in range(12):
        state.choose(one)
        assert (state.gain <= cells.variance + 1e-9).all()


def place(rank: int, left: float | None, **more: Any) -> ResamplePlace:
    return ResamplePlace(rank, "ground", "A", "A", 0, 0, 1.5, ("x",), 1.0, left, **more)


@given(st.lists(st.floats(0, 100), max_size=8), st.floats(0.01, 0.6))
def test_the_stop_rule_is_the_first_count_under_the_share(left: list[float], share: float) -> None:
    left = sorted(left, reverse=True)
    places = [place(k, one) for k, one in enumerate(left, start=1)]
    found = stop_rule(places, share=share, area_m2=100.0, now_m2=100.0, why="doors")
    enough = [k for k in range(1, len(left) + 1) if left[k - 1] < 100.0 * share]
    assert found.places == (min(enough) if enough else None)
    assert found.left_m2 == (left[found.places - 1] if found.places else [100.0, *left][-1])


def test_the_sentence_says_how_many_readings_or_how_far_the_list_gets() -> None:
    many = [place(1, 20.0, repeats=2), place(2, 4.0, also_m=(0.3,))]
    assert stop_sentence(stop_rule(many, share=0.05, area_m2=100.0, now_m2=40.0, why="")) == (
        "after 2 more places (4 readings) the doubt is expected to be under 5 % of the area (4 %; "
        "now 40 %)"
    )
    short = stop_rule(many[:1], share=0.05, area_m2=100.0, now_m2=40.0, why="ground before doors")
    assert "the whole list is expected to leave 20 % of the area" in stop_sentence(short)
    assert stop_sentence(short).endswith("ground before doors")
    none = stop_rule([place(1, None)], share=0.05, area_m2=100.0, now_m2=40.0, why=NO_VARIANCE)
    assert stop_sentence(none).startswith("no stop rule can be given")
    little = stop_rule([], share=0.05, area_m2=100.0, now_m2=1.0, why="")
    assert stop_sentence(little).endswith("without another reading")
