"""Neither holding readings nor taking a background off them makes ground clear."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np
import pytest
import shapely
from shapely import LineString, box
from shapely.geometry.base import BaseGeometry

from hgmap.batch import MapOptions, map_floor
from hgmap.decide.further import AS_WRITTEN, WITH_HELD, other_evidence
from hgmap.decide.guards import far_distance
from hgmap.site.building import Floor, Opening, Room
from hgmap.site.model import Site, TrustSettings
from hgmap.site.reading import Finding, Reading

Make = Callable[..., Any]
HELD = ("the film was saturated",)


@pytest.fixture(scope="module")
def hall() -> Floor:
    """Two rooms with a door between them."""
    rooms = (Room("r0", "Store", box(0, 0, 10, 8)), Room("r1", "Hall", box(10, 0, 20, 8)))
    door = Opening("d", LineString([(10, 3), (10, 5)]), "open", ("r0", "r1"))
    return Floor("ground", "Ground floor", rooms, openings=(door,))


@pytest.fixture(scope="module")
def readings(make_reading: Make) -> list[Reading]:
    """Readings that fall with the distance from a spill in the store (invented)."""
    places = [(x, y) for x in (1.5, 4, 7, 9, 11, 13, 16, 19) for y in (1.5, 4, 6.5)]
    return [
        make_reading(f"R{k}", "r0" if x < 10 else "r1", (float(x), float(y)),
                     round(0.05 + 4.0 * float(np.exp(-abs(x - 4.0) / 3.3)), 3))
        for k, (x, y) in enumerate(places)
    ]  # fmt: skip


@pytest.fixture(scope="module")
def mapped(make_survey_site: Make, make_level: Make, hall: Floor) -> Make:
    def one(
        some: Sequence[Reading], method: str, trust: TrustSettings | None = None
    ) -> tuple[Any, BaseGeometry]:
        site: Site = make_survey_site(hall, some)
        if trust is not None:
            site = replace(site, trust=trust)
        options = MapOptions(cell_m=0.5, method=method)  # type: ignore[arg-type]
        made = map_floor(site, hall, site.rounds[0], "adult", make_level(), options)
        clear = [zone.geometry for zone in made.ruled.zones if zone.name == "clear"]
        return made, shapely.union_all(clear)

    return one


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("error", [0.0, 0.1])
def test_holding_the_readings_of_a_room_clears_no_ground_behind_its_door(
    mapped: Make, readings: list[Reading], method: Literal["kriging", "idw"], error: float
) -> None:
    unsure = [one._replace(error=error) for one in readings]
    _, before = mapped(unsure, method)
    assert before.area > 10.0 or (method, error) == ("idw", 0.1)
    picks: list[Callable[[Reading], bool]]
    picks = [
        lambda one: one.room == "r0",
        lambda one: (one.value or 0.0) > 0.5,
        lambda one: one.x is not None and 9 <= one.x <= 13,
    ]
    for pick in picks:
        held = [one._replace(held=HELD) if pick(one) else one for one in unsure]
        _, after = mapped(held, method)
        assert after.difference(before).area < 1e-6


def test_where_held_readings_make_the_doubt_the_zone_says_so(
    mapped: Make, readings: list[Reading]
) -> None:
    at_the_door = (9.0, 11.0)
    held = [one._replace(held=HELD) if one.x in at_the_door else one for one in readings]
    made, _ = mapped(held, "kriging")
    said = {why for zone in made.zones.zones for why in zone.reasons}
    assert WITH_HELD in said


def test_a_held_reading_without_a_number_or_a_place_in_its_room_is_not_counted(
    make_survey_site: Make, make_level: Make, hall: Floor, readings: list[Reading], survey: Make
) -> None:
    for change in ({"concentration": None}, {"x": None, "y": None}, {"x": 15.0}, {"room": "r9"}):
        odd = [readings[0]._replace(held=HELD, **change), *readings[1:]]
        site = make_survey_site(hall, odd)
        assert list(other_evidence(site, survey(hall, odd))) == []
    held = [readings[0]._replace(held=HELD), *readings[1:]]
    ((why, other),) = other_evidence(make_survey_site(hall, held), survey(hall, held))
    assert (why, len(other.used)) == (WITH_HELD, len(readings))


@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_what_a_background_took_off_clears_no_ground(
    mapped: Make, readings: list[Reading], method: Literal["kriging", "idw"]
) -> None:
    # the people in the room breathe the air as it was read
    _, before = mapped(readings, method)
    lowered = [
        one._replace(concentration=max(0.01, (one.concentration or 0.0) - 0.9)) for one in readings
    ]
    made, after = mapped(lowered, method, TrustSettings(subtract="background"))
    assert after.difference(before).area < 1e-6
    said = {why for zone in made.zones.zones for why in zone.reasons}
    assert AS_WRITTEN in said
    told = " ".join(made.warnings)
    assert "24 readings with a background or a blank taken off" in told
    assert "above the level as written, and below it only by what was taken off" in told


def test_a_map_that_uses_what_a_person_overruled_says_who_and_why(
    mapped: Make, readings: list[Reading]
) -> None:
    lifted = Finding("hold", "saturation", "the film was saturated", (), "AB: film was fresh")
    some = [one._replace(findings=(lifted,)) if k < 2 else one for k, one in enumerate(readings)]
    made, _ = mapped(some, "idw")
    (note,) = [text for text in made.warnings if "overruled" in text]
    assert note.endswith("used because a person overruled it: R0 by AB: film was fresh, with R1")


def test_to_hold_readings_does_not_widen_what_a_reading_speaks_for(
    survey: Make, make_reading: Make, make_floor: Make
) -> None:
    floor = make_floor([(0, 0, 100, 10)])
    near = [make_reading(f"R{k}", "r0", (1.0 + k, 5.0), 0.05) for k in range(40)]
    sparse = [one._replace(held=HELD) if k % 8 else one for k, one in enumerate(near)]
    assert far_distance(survey(floor, near)) == 8.0
    assert far_distance(survey(floor, sparse)) == 8.0
