"""Places to measure again: each has its reason, and the list puts the most telling first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from shapely import Point

from hgmap.decide.doubt_ground import lay_doubt_ground
from hgmap.decide.resample import rank_resample
from hgmap.decide.whose import items_by_room
from hgmap.decide.zones import make_zones
from hgmap.field.variogram import Variogram
from hgmap.site.building import Floor, HeightBand

Make = Callable[..., Any]
VARIOGRAM = Variogram("exponential", 0.05, 1.0, 6.0)


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 10, 8), (10, 0, 20, 8)], [("r0", "r1")])
    return made


@pytest.fixture(scope="module")
def listed(survey: Make, lay: Make, floor: Floor) -> Make:
    def of(*readings: Any, mean: Any = lambda x, y: -9.0, **surface: Any) -> list[Any]:
        evidence = survey(floor, readings)
        laid = lay(floor, mean, **surface)
        zones = make_zones(evidence, laid)
        return list(rank_resample(evidence, laid, zones).places)

    return of


def test_a_floor_that_is_clear_needs_nothing(listed: Make, make_reading: Make) -> None:
    assert (
        listed(make_reading("R1", "r0", (5, 4), 0.1), make_reading("R2", "r1", (15, 4), 0.1)) == []
    )


@pytest.mark.parametrize(
    ("reading", "reason"),
    [
        ({"value": 0.1, "held": ("late",)}, "held reading R3: late"),
        ({"value": 3.0, "qualifier": "<"}, "R3 cannot see the level: detection limit 3 µg/m³"),
        ({"value": 50.0, "qualifier": ">"}, "R3 is saturated: >50 µg/m³"),
    ],
)
def test_a_reading_that_is_no_answer_is_taken_again_at_its_place(
    listed: Make, make_reading: Make, reading: dict[str, Any], reason: str
) -> None:
    (place,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1),
        make_reading("R2", "r1", (15, 4), 0.1),
        make_reading("R3", "r0", (2, 3), **reading),
    )
    assert (place.rank, place.room, place.x, place.y) == (1, "r0", 2, 3)
    assert any(text.startswith(reason) for text in place.reasons)
    assert place.height_m == 1.5
    assert 0 < place.expected_m2 <= 80


@pytest.mark.parametrize(
    ("readings", "answered"),
    [
        ([{"value": 3.0, "qualifier": "<"}], 1),
        ([{"value": 0.1, "held": ("late",)}], 0),
        ([{"value": 3.0, "held": ("late",)}], 0),
        ([{"value": 0.3, "qualifier": ">"}], 0),
        ([{"value": 3.0}, {"value": 0.1}], 0),
    ],
)
def test_only_a_coarse_non_detect_is_foretold_to_be_answered_by_reading_its_place_again(
    survey: Make, lay: Make, make_reading: Make, floor: Floor, readings: Any, answered: int
) -> None:
    low = make_reading("R1", "r0", (5, 4), 0.1), make_reading("R2", "r1", (15, 4), 0.1)
    more = [make_reading(f"S{k}", "r0", (2, 3), **one) for k, one in enumerate(readings)]
    evidence = survey(floor, (*low, *more))
    laid = lay(floor, lambda x, y: -9.0)
    ground = lay_doubt_ground(
        evidence, laid, make_zones(evidence, laid), items_by_room(evidence), guard_m=1.5, far_m=8.0
    )
    assert ground is not None
    assert ground.answered_m.shape[1] == answered
    own = ground.room == 0
    assert np.isinf(ground.standing_m[own]).all() == bool(answered)


@pytest.mark.parametrize("height_m", [1.5, 0.1])
def test_a_reading_above_the_level_that_the_estimate_smoothed_away_is_taken_again(
    listed: Make, make_reading: Make, height_m: float
) -> None:
    (place,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1),
        make_reading("R2", "r1", (15, 4), 0.1),
        make_reading("R3", "r0", (2, 3), 7.0, height_m=height_m),
    )
    assert (place.x, place.y) == (2, 3)
    assert place.reasons == (f"R3 at {height_m:g} m reads 7 µg/m³, above the level",)


def test_a_reading_above_the_level_where_the_estimate_is_too_is_not_taken_again(
    listed: Make, make_reading: Make
) -> None:
    places = listed(
        make_reading("R1", "r0", (5, 4), 7.0), make_reading("R2", "r1", (15, 4), 7.0),
        mean=lambda x, y: 2.0,
    )  # fmt: skip
    assert places == []


def test_a_held_reading_without_a_place_is_taken_again_in_its_room(
    listed: Make, make_reading: Make
) -> None:
    (place,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1),
        make_reading("R2", "r1", (15, 4), 0.1),
        make_reading("R3", "r1", None, 9.0, held=("no place",)),
    )
    assert place.room == "r1"
    assert 10 <= place.x <= 20


def test_a_room_without_a_reading_is_listed(listed: Make, make_reading: Make) -> None:
    (place,) = listed(make_reading("R1", "r0", (5, 4), 0.1))
    assert place.room == "r1"
    assert place.reasons == ("room without a reading",)
    assert place.expected_m2 == pytest.approx(80)
    (other,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1), make_reading("R2", "r1", (15, 4), 0.1, height_m=0.1)
    )
    assert other.reasons == ("room without a reading that counts here",)


@pytest.mark.parametrize(
    ("low", "high", "named"),
    [
        (0.60, 0.90, True),  # 40 %
        (0.60, 0.77, False),  # 25 % is allowed: 24.8 %
        (0.01, 0.09, False),  # less than a tenth of the level apart
    ],
)
def test_replicates_that_disagree_are_listed(
    listed: Make, make_reading: Make, low: float, high: float, named: bool
) -> None:
    # relative percent difference 200 |a - b| / (a + b): common practice, no source
    places = listed(
        make_reading("R1", "r0", (5, 4), low),
        make_reading("R2", "r0", (5, 4), high),
        make_reading("R3", "r1", (15, 4), 0.1),
    )
    texts = [text for place in places for text in place.reasons]
    assert any("replicates disagree: R1 and R2" in text for text in texts) == named
    if named:
        assert "replicates disagree: R1 and R2 differ by 40 %" in texts


def test_doubtful_ground_gets_places_that_stand_apart(listed: Make, make_reading: Make) -> None:
    readings = [make_reading("R1", "r0", (1, 1), 0.6), make_reading("R2", "r1", (19, 7), 0.6)]
    places = listed(*readings, mean=lambda x, y: -0.5, variogram=VARIOGRAM, xy=[(1, 1), (19, 7)])
    straddling = [one for one in places if "straddles the level" in one.reasons]
    assert {one.room for one in straddling} == {"r0", "r1"}
    for one in straddling:
        for other in straddling:
            if one is not other and one.room == other.room:
                assert np.hypot(one.x - other.x, one.y - other.y) >= 1.0
    assert all(0 < one.expected_m2 < 80 for one in straddling)
    ranks = [one.rank for one in places]
    assert ranks == sorted(ranks)


def test_a_reading_in_the_open_is_worth_more_than_one_beside_another(
    listed: Make, make_reading: Make
) -> None:
    readings = [
        make_reading("R1", "r0", (1, 1), 0.6),
        make_reading("R2", "r1", (19, 7), 0.6),
        make_reading("R3", "r0", (1.5, 1), 0.6, held=("late",)),
        make_reading("R4", "r0", (7, 5), 0.6, held=("late",)),
    ]
    places = listed(*readings, mean=lambda x, y: -0.5, variogram=VARIOGRAM, xy=[(1, 1), (19, 7)])
    gain = {text: one.expected_m2 for one in places for text in one.reasons}
    assert gain["held reading R4: late"] > gain["held reading R3: late"]


def test_places_within_a_metre_are_one_visit(listed: Make, make_reading: Make) -> None:
    (place,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1),
        make_reading("R2", "r1", (15, 4), 0.1),
        make_reading("R3", "r0", (2, 3), 0.1, held=("late",)),
        make_reading("R4", "r0", (2.5, 3), 3.0, "<"),
    )
    assert len(place.reasons) == 2


def test_the_far_end_of_a_room_is_sparse(listed: Make, make_reading: Make) -> None:
    places = listed(
        make_reading("R1", "r0", (0.5, 0.5), 0.6),
        make_reading("R2", "r1", (15, 4), 0.1),
        mean=lambda x, y: -0.5,
        variogram=VARIOGRAM,
        xy=[(0.5, 0.5), (15, 4)],
    )
    sparse = [one for one in places if any("sparse:" in text for text in one.reasons)]
    assert {one.room for one in sparse} == {"r0", "r1"}
    far = next(one for one in sparse if one.room == "r0")
    assert Point(far.x, far.y).distance(Point(0.5, 0.5)) > 3.0  # half the range


def test_without_a_surface_every_room_in_doubt_is_listed(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    evidence = survey(floor, [make_reading("R1", "r0", (2, 2), 0.1)])
    zones = make_zones(evidence, None, no_surface="too few")
    bands = (HeightBand("adult", 1.2, 1.8),)
    places = rank_resample(evidence, None, zones, bands=bands).places
    assert {one.room for one in places} == {"r0", "r1"}
    read = next(one for one in places if one.room == "r0")
    assert read.reasons == ("no surface of this floor: more readings are needed",)
    assert Point(read.x, read.y).distance(Point(2, 2)) > 7  # away from the reading, off the wall
    assert Point(read.x, read.y).distance(floor.rooms[0].polygon.exterior) >= 0.6 - 1e-9
    assert all(one.height_m == 1.5 for one in places)
    assert sum(one.expected_m2 for one in places) == pytest.approx(160)


def test_the_usual_height_of_the_readings_is_asked_for(listed: Make, make_reading: Make) -> None:
    (place,) = listed(
        make_reading("R1", "r0", (5, 4), 0.1, height_m=1.2),
        make_reading("R2", "r0", (6, 4), 0.1, height_m=1.2),
        make_reading("R3", "r0", (7, 4), 0.1, height_m=1.6),
    )
    assert place.height_m == 1.2
