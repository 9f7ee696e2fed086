"""Where the vapour may come from: what is ranked first, how sure, and what is not said."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.decide.model import FloorEvidence
from hgmap.decide.origin_floors import with_other_floors
from hgmap.decide.origin_model import HINT, Origins
from hgmap.decide.origins import find_origins
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.surface import Surface
from hgmap.site.building import Floor, HeightBand, Opening, OpeningState, Room

Make = Callable[..., Any]
BANDS = (HeightBand("floor", 0.0, 0.3, breathing=False), HeightBand("adult", 1.2, 1.8))


def two_rooms(state: OpeningState = "open") -> Floor:
    return Floor(
        "ground",
        "Ground floor",
        (Room("r0", "West", box(0, 0, 6, 5)), Room("r1", "East", box(6, 0, 12, 5))),
        openings=(Opening("door", LineString([(6, 2), (6, 3)]), state, ("r0", "r1")),),
    )


PLACES = [(1.0, 1.0), (1.0, 4.0), (3.0, 2.5), (5.0, 1.0), (5.0, 4.0),
          (7.0, 1.0), (7.0, 4.0), (9.0, 2.5), (11.0, 1.0), (11.0, 4.0)]  # fmt: skip


def corner(xy: tuple[float, float]) -> float:
    """Air that falls away from the north-west corner."""
    return float(20.0 * np.exp(-0.5 * np.hypot(xy[0] - 0.5, xy[1] - 4.5)))


def surface_of(evidence: FloorEvidence, **changed: Any) -> Surface:
    return estimate_surface(
        evidence.floor, evidence.xy, evidence.concentration,
        EstimateSettings(cell_m=0.5, **changed), room=evidence.room,
        bounds=evidence.bounds, error=evidence.error,
    )  # fmt: skip


@pytest.fixture
def looked(survey: Make, make_reading: Make) -> Callable[..., tuple[FloorEvidence, Origins]]:
    def look(
        values: Sequence[float],
        signs: Sequence[str] = ("",) * len(PLACES),
        *,
        floor: Floor | None = None,
        extra: Sequence[Any] = (),
        above: float = 1.0,
        **changed: Any,
    ) -> tuple[FloorEvidence, Origins]:
        readings = [
            make_reading(f"R{k}", "r0" if xy[0] < 6 else "r1", xy, value, sign)
            for k, (xy, value, sign) in enumerate(zip(PLACES, values, signs, strict=True))
        ]
        evidence = survey(floor or two_rooms(), [*readings, *extra], above=above)
        surface = surface_of(evidence, **changed)
        return evidence, find_origins(evidence, surface, bands=BANDS, draws=100)

    return look


def test_a_hot_corner_is_the_first_place_and_nearly_sure(looked: Make) -> None:
    _, found = looked([corner(xy) for xy in PLACES])
    first = found.sources[0]
    assert (first.room, first.basis, first.rank) == ("r0", "estimate", 1)
    assert np.hypot(first.x - 0.5, first.y - 4.5) < 1.5
    assert first.share > 0.9
    assert first.own > 0.9
    assert 0.0 < first.radius_m < 3.0
    assert first.readings == ("R1",)
    assert "the estimate peaks near here" in first.reasons


def test_the_other_room_rises_toward_the_door(looked: Make) -> None:
    _, found = looked([corner(xy) for xy in PLACES])
    assert [(one.room, one.towards) for one in found.climbs] == [(1, 0)]


def test_two_rooms_that_no_air_joins_are_both_ranked(looked: Make) -> None:
    # a peak in each: each is its own floor to the air, and the higher one has the draws
    values = [corner(xy) if xy[0] < 6 else 0.3 * corner((12.0 - xy[0], xy[1])) for xy in PLACES]
    _, found = looked(values, floor=two_rooms("sealed"))
    assert {one.room for one in found.sources} >= {"r0"}
    assert found.sources[0].room == "r0"
    assert found.sources[0].own is None
    assert found.climbs == ()


def test_shares_are_shares(looked: Make) -> None:
    _, found = looked([1.0 + 0.1 * k for k in range(10)])
    shares = [one.share for one in found.sources if one.share is not None]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1.0 + 1e-9
    assert all(0.0 <= one.share <= one.share_in_room + 1e-9 for one in found.sources)


def test_the_same_seed_says_the_same(looked: Make) -> None:
    values = [corner(xy) for xy in PLACES]
    assert looked(values)[1] == looked(values)[1]


@settings(max_examples=4, deadline=None,
          suppress_health_check=[HealthCheck.function_scoped_fixture])  # fmt: skip
@given(factor=st.floats(0.01, 100.0), values=st.lists(st.floats(0.1, 50), min_size=10, max_size=10))
def test_another_unit_changes_no_ranking_and_shares_stay_shares(
    looked: Make, factor: float, values: list[float]
) -> None:
    rounded = [round(one, 2) for one in values]
    _, ours = looked(rounded)
    _, scaled = looked([one * factor for one in rounded], above=factor)
    assert [(one.room, one.basis) for one in ours.sources] == [
        (one.room, one.basis) for one in scaled.sources
    ]
    for one, other in zip(ours.sources, scaled.sources, strict=True):
        # a draw whose two highest places tie may go to either by a rounding
        assert one.share == pytest.approx(other.share, abs=0.021)
        assert factor * one.estimate == pytest.approx(other.estimate, rel=0.05)
    assert sum(one.share for one in ours.sources) <= 1.0 + 1e-9


def test_all_non_detects_say_nothing(looked: Make) -> None:
    _, found = looked([0.05] * 10, ["<"] * 10)
    assert found.sources == ()
    assert "nothing to say: no reading stands out" in found.quiet


def test_what_was_read_in_search_of_a_source_comes_first(looked: Make, make_reading: Make) -> None:
    search = make_reading("S1", "r1", (11.0, 4.0), 40.0, height_m=0.05)
    bag = make_reading("B1", "r1", None, 5.0)._replace(kind="headspace", height_m=None, band="")
    _, found = looked([corner(xy) for xy in PLACES], extra=[bag, search])
    first, second, third = found.sources[:3]
    assert (first.basis, first.readings[0], first.height) == ("search", "S1", "at the floor")
    assert (first.x, first.y) == (11.0, 4.0)
    assert (second.basis, second.readings, second.x) == ("item", ("B1",), None)
    assert (third.basis, third.room) == ("estimate", "r0")
    assert "above the level" in first.reasons[0]


def test_a_place_that_nothing_speaks_for_does_not_follow_a_sure_one(
    looked: Make, make_reading: Make
) -> None:
    search = make_reading("S1", "r0", (1.0, 4.0), 40.0, height_m=0.05)
    _, found = looked([corner(xy) for xy in PLACES], extra=[search])
    (only,) = found.sources
    assert (only.room, only.basis) == ("r0", "search")
    assert only.share > 0.9


def test_a_search_reading_below_the_air_over_it_points_at_nothing(
    looked: Make, make_reading: Make
) -> None:
    search = make_reading("S1", "r0", (1.0, 4.0), 2.0, height_m=0.05)
    _, found = looked([corner(xy) for xy in PLACES], extra=[search])
    assert found.sources[0].basis == "estimate"


def test_a_held_search_reading_is_counted_and_not_ranked(looked: Make, make_reading: Make) -> None:
    search = make_reading("S1", "r1", (11.0, 4.0), 40.0, height_m=0.05, held=("no zero check",))
    _, found = looked([corner(xy) for xy in PLACES], extra=[search])
    assert all(one.basis == "estimate" for one in found.sources)
    assert "held readings are not in this: 1" in found.cautions


def test_a_saturated_reading_is_a_peak_whose_height_nobody_knows(looked: Make) -> None:
    values = [corner(xy) for xy in PLACES]
    _, found = looked(values, [">" if k == 1 else "" for k in range(10)])
    first = found.sources[0]
    assert first.room == "r0"
    assert "saturated: R1; how high it is there nobody knows" in first.reasons


def test_a_room_that_nobody_read_is_named_and_cannot_be_ruled_out(
    looked: Make, survey: Make, make_reading: Make
) -> None:
    readings = [make_reading(f"R{k}", "r0", xy, 1.0 + 0.5 * k) for k, xy in enumerate(PLACES[:5])]
    evidence = survey(two_rooms(), readings)
    found = find_origins(evidence, surface_of(evidence), draws=100)
    assert any("no reading of its own: East" in text for text in found.cautions)
    unread = next(one for one in found.sources if one.room == "r1")
    assert unread.share > 0.05
    assert "no reading in this room: what is said of it came through its doors" in unread.cautions


def test_a_room_that_no_air_joins_to_a_reading_is_named(survey: Make, make_reading: Make) -> None:
    readings = [make_reading(f"R{k}", "r0", xy, 1.0 + k) for k, xy in enumerate(PLACES[:5])]
    evidence = survey(two_rooms("sealed"), readings)
    found = find_origins(evidence, surface_of(evidence, walls=True), draws=100)
    assert any("no air way from any reading: East" in text for text in found.cautions)
    assert {one.room for one in found.sources} == {"r0"}


@pytest.mark.parametrize("method", ["idw", None])
def test_without_an_error_model_readings_alone_are_ranked(
    survey: Make, make_reading: Make, method: str | None
) -> None:
    readings = [
        make_reading("a", "r0", (1.0, 1.0), 2.0), make_reading("b", "r0", (2.0, 1.0), 3.0),
        make_reading("c", "r1", (8.0, 1.0), 9.0), make_reading("d", "r1", (9.0, 1.0), 0.1, "<"),
    ]  # fmt: skip
    evidence = survey(two_rooms(), readings)
    surface = None if method is None else surface_of(evidence, method=method)
    found = find_origins(evidence, surface, draws=50)
    assert [(one.room, one.readings, one.share) for one in found.sources] == [
        ("r1", ("c",), None), ("r0", ("b",), None)
    ]  # fmt: skip
    assert found.draws == 0
    assert any("by their readings alone" in text for text in found.cautions)


def test_readings_alone_join_what_was_read_in_search_of_a_source(
    survey: Make, make_reading: Make
) -> None:
    readings = [
        make_reading("a", "r0", (1.0, 1.0), 9.0), make_reading("b", "r1", (8.0, 1.0), 3.0),
        make_reading("s", "r0", (1.5, 1.0), 30.0, height_m=0.05),
    ]  # fmt: skip
    found = find_origins(survey(two_rooms(), readings), None, bands=BANDS)
    assert [(one.basis, one.readings) for one in found.sources] == [
        ("search", ("s", "a")), ("readings", ("b",))
    ]  # fmt: skip


def test_straight_lines_and_the_linear_scale_are_ranked_too(looked: Make) -> None:
    values = [corner(xy) for xy in PLACES]
    for changed in ({"walls": False}, {"scale": "linear"}):
        _, found = looked(values, **changed)
        assert found.sources[0].room == "r0"


def test_no_reading_at_all_says_so(survey: Make) -> None:
    found = find_origins(survey(two_rooms(), []), None)
    assert found.sources == ()
    assert found.quiet == "nothing to say: no usable reading"


def test_a_floor_that_another_outdoes_is_told_of_it(looked: Make) -> None:
    low, of_low = looked([0.2 * corner(xy) for xy in PLACES])
    high, of_high = looked([corner(xy) for xy in PLACES],
                           floor=replace(two_rooms(), name="ground"))  # fmt: skip
    renamed = replace(high, floor=replace(high.floor, name="below", title="Below"))
    first, second = with_other_floors([(low, of_low), (renamed, of_high)])
    assert "Below reads higher (R1," in first.cautions[0]
    assert second == of_high


def test_it_is_said_to_be_a_hint() -> None:
    assert "a hint where to look, not a finding" in HINT
    assert "only a look and a reading at the place itself tell" in HINT
