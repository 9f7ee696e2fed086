"""Kinds of reading, ranges, approximate numbers and measured errors, in the rulings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box

from hgmap.batch import MapOptions, map_floor
from hgmap.decide.evidence import choose_band, gather_evidence, limit_of
from hgmap.decide.guards import room_guards
from hgmap.decide.model import bounds_of, error_of, highest_of
from hgmap.decide.resample import rank_resample
from hgmap.decide.whose import room_items
from hgmap.decide.zones import make_zones
from hgmap.site.building import Floor, Opening, Room
from hgmap.site.reading import OFF_MAP, Reading

Make = Callable[..., Any]
LOW = float(np.log(0.001))


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 10, 5), (10, 0, 20, 5)], [("r0", "r1")])
    return made


@pytest.fixture(scope="module")
def lows(make_reading: Make) -> list[Reading]:
    """Readings far below the level, in both rooms."""
    return [make_reading(f"L{k}", f"r{k // 6}", (0.9 + 1.6 * k, 2.5), 0.05) for k in range(12)]


def of_kind(reading: Reading, kind: Any, **changed: Any) -> Reading:
    return reading._replace(kind=kind, **changed)


def ranged(reading: Reading, low: float | None) -> Reading:
    return reading._replace(low=low, concentration_low=low)


@pytest.mark.parametrize("kind", sorted(OFF_MAP))
@pytest.mark.parametrize("value", [0.01, 500.0])
@pytest.mark.parametrize("held", [(), ("the blank leaked",)])
def test_what_is_off_the_map_changes_no_ground(
    survey: Make, make_reading: Make, lay: Make, floor: Floor, lows: list[Reading],
    kind: Any, value: float, held: tuple[str, ...],
) -> None:  # fmt: skip
    other = of_kind(make_reading("X", "r0", (5.0, 2.5), value, held=held), kind)
    surface = lay(floor, lambda x, y: np.full(x.shape, LOW), 0.3)
    with_it, without = survey(floor, [*lows, other]), survey(floor, lows)
    (item,) = with_it.set_aside
    assert item.role == "off the map"
    assert item.reasons[0] == f"{kind}: says nothing about the air at a place of this floor"
    assert set(held) <= set(item.reasons)
    assert len(with_it.xy) == len(without.xy) == len(with_it.error)
    zones = [make_zones(one, surface) for one in (with_it, without)]
    for name in ("remediate", "resample", "clear", "no data"):
        assert zones[0].area_m2(name) == zones[1].area_m2(name)
    places = [rank_resample(one, surface, made).places
              for one, made in zip((with_it, without), zones, strict=True)]  # fmt: skip
    assert places[0] == places[1]
    assert f"reported and not mapped: 1 {kind}" in "; ".join(with_it.notes)


@pytest.mark.parametrize("kind", sorted(OFF_MAP))
def test_a_room_with_nothing_but_what_is_off_the_map_has_no_reading(
    survey: Make, make_reading: Make, lay: Make, floor: Floor, lows: list[Reading], kind: Any
) -> None:
    only = of_kind(make_reading("X", "r1", (15, 2.5), 0.01), kind)
    evidence = survey(floor, [*lows[:6], only])
    surface = lay(floor, lambda x, y: np.full(x.shape, LOW), 0.3)
    zones = [zone for zone in make_zones(evidence, surface).zones if zone.room == "r1"]
    assert [zone.name for zone in zones] == ["resample"]
    assert "no reading in this room" in zones[0].reasons
    (bare,) = [zone for zone in make_zones(evidence, None).zones if zone.room == "r1"]
    assert bare.name == "no data"


def test_what_is_off_the_map_and_of_no_known_floor_holds_nothing_back(
    survey: Make, make_reading: Make, floor: Floor, lows: list[Reading]
) -> None:
    stray = make_reading("X", "", None, 9.0, floor="", held=("floor not stated",))
    assert survey(floor, [*lows, stray]).strays
    assert not survey(floor, [*lows, of_kind(stray, "field blank")]).strays


@pytest.mark.parametrize(
    ("value", "qualifier", "said"),
    [
        (12.0, "", "bag headspace X reads 12 µg/m³, above the level"),
        (12.0, ">", "bag headspace X is saturated at 12 µg/m³, above the level"),
        (12.0, "up to", "bag headspace X reads up to 12 µg/m³, above the level"),
        (0.5, "", ""),
        (12.0, "<", ""),
    ],
)
@pytest.mark.parametrize("where", ["r1", "Room 1", ""])
def test_a_bag_above_the_level_is_named_in_its_room_and_guards_nothing(
    survey: Make, make_reading: Make, lay: Make, floor: Floor, lows: list[Reading],
    value: float, qualifier: str, said: str, where: str,
) -> None:  # fmt: skip
    bag = of_kind(make_reading("X", where, (15, 2.5), value, qualifier), "headspace")
    evidence = survey(floor, [*lows, bag])
    zones = make_zones(evidence, lay(floor, lambda x, y: np.full(x.shape, LOW), 0.3))
    assert zones.area_m2("clear") == pytest.approx(100)
    reasons = {zone.room: "; ".join(zone.reasons) for zone in zones.zones}
    assert "bag headspace" not in reasons["r0"]
    assert (f"an item in this room: {said}" in reasons["r1"]) == bool(said)
    assert ("headspace above the level" in "; ".join(evidence.notes)) == bool(said)


def test_a_source_search_above_the_level_guards_like_any_other_height(
    survey: Make, make_reading: Make, floor: Floor, lows: list[Reading]
) -> None:
    reading = make_reading("S", "r0", (5, 2.5), 30.0, height_m=0.05)
    search = of_kind(reading._replace(band="source search"), "source search")
    evidence = survey(floor, [*lows, search])
    (item,) = evidence.set_aside
    assert (item.role, item.above) == ("other height", True)
    room = floor.rooms[0]
    (guard,) = room_guards(room, room_items(evidence, room), level=1.0, guard_m=1.5)
    assert guard.reason == "S (a source search) at 0.05 m reads 30 µg/m³, above the level"
    assert guard.geometry.contains(Point(5, 2.5))


def test_a_laboratory_sample_counts_as_an_average_over_its_time(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    sample = of_kind(make_reading("S", "r0", (5, 2.5), 0.2), "laboratory")
    (item,) = survey(floor, [sample]).used
    assert item.reasons == ("a laboratory sample: an average over its sampling time",)


def test_a_duplicate_counts_as_a_replicate(
    survey: Make, make_reading: Make, floor: Floor, lows: list[Reading]
) -> None:
    twin = of_kind(lows[0]._replace(id="D"), "duplicate", duplicate_of=lows[0].id)
    evidence = survey(floor, [*lows, twin])
    assert len(evidence.used) == 13
    assert evidence.xy[-1].tolist() == evidence.xy[0].tolist()


def test_the_band_is_chosen_by_readings_of_the_air(
    make_survey_site: Make, make_reading: Make, floor: Floor
) -> None:
    blanks = [of_kind(make_reading(f"B{k}", "r0", (1, 1), 0.1), "field blank") for k in range(9)]
    low = [make_reading(f"R{k}", "r0", (1, 1), 0.1, height_m=0.7) for k in range(2)]
    assert choose_band(make_survey_site(floor, [*blanks, *low]), "first", None)[0] == "child"


@pytest.mark.parametrize(
    ("value", "qualifier", "low", "error", "role", "above"),
    [
        (0.9, "to", 0.1, 0.0, "used", False),
        (1.1, "to", 0.1, 0.0, "used", True),  # its upper end is above
        (1.1, "up to", None, 0.0, "used", True),
        (1.1, "~", None, 0.0, "used", True),
        (0.9, "~", None, 0.0, "used", False),
        (0.9, "<", None, 0.0, "used", False),
        (0.9, "<", None, 0.06, "cannot see the level", False),  # 0.9 + 2 * 0.06 is above 1
        (0.9, ">", None, 0.5, "cannot see the level", True),
    ],
)
def test_the_part_that_a_qualified_reading_plays(
    survey: Make, make_reading: Make, floor: Floor,
    value: float, qualifier: str, low: float | None, error: float, role: str, above: bool,
) -> None:  # fmt: skip
    reading = ranged(make_reading("R", "r0", (1, 1), value, qualifier), low)._replace(error=error)
    (item,) = survey(floor, [reading]).items
    assert (item.role, item.above) == (role, above)


@pytest.mark.parametrize(
    ("value", "qualifier", "low", "error", "expected"),
    [
        (5.0, "to", 1.0, 0.0, (1.0, 5.0)),
        (5.0, "to", 1.0, 0.2, (0.6, 5.4)),
        (5.0, "to", 0.0, 0.0, (0.05, 5.0)),
        (5.0, "to", 0.01, 3.0, (0.01, 11.0)),
        (5.0, "to", None, 0.0, (0.05, 5.0)),
        (0.4, "<", None, 0.0, (0.004, 0.4)),
        (0.4, "<", None, 0.05, (0.004, 0.5)),
        (50.0, ">", None, 9.0, (50.0, 5000.0)),  # nothing is gained from its error
        (5.0, "~", None, 0.0, (5.0, 5.0)),
        (5.0, "up to", None, 0.0, (5.0, 5.0)),
    ],
)
def test_what_a_reading_may_be(
    make_reading: Make, value: float, qualifier: str, low: float | None, error: float,
    expected: tuple[float, float],
) -> None:  # fmt: skip
    reading = ranged(make_reading("R", "r0", (1, 1), value, qualifier), low)._replace(error=error)
    assert bounds_of(reading) == pytest.approx(expected)


def test_a_number_written_as_approximate_has_a_quarter_more_error(make_reading: Make) -> None:
    plain = make_reading("R", "r0", (1, 1), 4.0)._replace(error=0.5)
    assert error_of(plain) == 0.5
    assert error_of(plain._replace(qualifier="~")) == pytest.approx(np.hypot(0.5, 1.0))


@pytest.mark.parametrize(
    ("value", "qualifier", "error", "guarded"),
    [
        (0.79, "", 0.0, False),
        (0.81, "", 0.0, True),
        (0.5, "", 0.2, False),  # 2 hypot(0.1, 0.2) is 0.447
        (0.6, "", 0.2, True),
        (0.45, "~", 0.0, False),  # 2 hypot(0.1, 0.25) is 0.539
        (0.47, "~", 0.0, True),
        (0.81, "to", 0.0, True),
        (0.79, "to", 0.0, False),
        (0.81, "up to", 0.0, True),
        (0.79, "up to", 0.0, False),
        (0.45, "<", 0.0, False),
        (0.45, "<", 0.05, True),  # the limit may be 0.55, above half the level
    ],
)
def test_a_reading_within_its_own_error_of_the_level_guards(
    survey: Make, make_reading: Make, floor: Floor,
    value: float, qualifier: str, error: float, guarded: bool,
) -> None:  # fmt: skip
    reading = make_reading("R", "r0", (5, 2.5), value, qualifier)._replace(error=error)
    evidence = survey(floor, [ranged(reading, 0.1) if qualifier == "to" else reading])
    room = floor.rooms[0]
    found = room_guards(room, room_items(evidence, room), level=1.0, guard_m=1.5)
    assert bool(found) == guarded


@given(
    st.lists(st.tuples(st.floats(0.02, 0.98), st.floats(0.501, 20.0)), min_size=1, max_size=4),
    st.lists(st.floats(0.02, 0.98), max_size=4),
    st.floats(-9.0, -4.0),
)
def test_no_ground_is_clear_whose_nearest_support_is_a_limit_too_high(
    survey: Make, make_reading: Make, lay: Make,
    blind: list[tuple[float, float]], good: list[float], low: float,
) -> None:  # fmt: skip
    hall = Floor(
        "ground", "Ground floor",
        (Room("r0", "Room 0", box(0, 0, 20, 5)), Room("r1", "Room 1", box(20, 0, 30, 5))),
        openings=(Opening("d", LineString([(20, 2), (20, 3)]), "open", ("r0", "r1")),),
    )  # fmt: skip
    limits = [
        make_reading(f"B{k}", "r0", (round(20 * at, 2), 2.0), value, "<")
        for k, (at, value) in enumerate(blind)
    ]
    # farther than 1 m from every limit: a number at its place would answer it
    numbers = [make_reading(f"G{k}", "r0", (round(20 * at, 2), 3.2), 0.01)
               for k, at in enumerate(good)]  # fmt: skip
    next_door = [make_reading(f"N{k}", "r1", (21.0 + k, 2.5), 0.01) for k in range(6)]
    evidence = survey(hall, [*limits, *numbers, *next_door])
    surface = lay(hall, lambda x, y: np.full(x.shape, low), 0.3)
    zones = make_zones(evidence, surface)
    clear = shapely.union_all(
        [zone.geometry for zone in zones.zones if zone.name == "clear" and zone.room == "r0"]
    )
    at = np.array([(one.x, one.y) for one in limits])
    if not numbers:
        assert clear.is_empty
    else:
        x, y = (a.ravel() for a in np.meshgrid(np.arange(0.1, 20, 0.4), np.arange(0.1, 5, 0.4)))
        cells = np.column_stack([x, y])[shapely.contains_xy(clear, x, y)]
        to_limit = np.hypot(*(cells[:, None] - at[None]).transpose(2, 0, 1)).min(axis=1)
        known = np.array([(one.x, one.y) for one in numbers])
        to_number = np.hypot(*(cells[:, None] - known[None]).transpose(2, 0, 1)).min(axis=1)
        assert (to_number <= to_limit + 1e-6).all()
        assert (to_limit >= 1.5 - 1e-6).all()
    notes = "; ".join(evidence.notes)
    assert ("detection limit above the level, which supports no release" in notes) == any(
        value > 1.0 for _, value in blind
    )
    assert ("detection limit above half the level" in notes) == any(
        0.5 < value <= 1.0 for _, value in blind
    )


def test_the_limit_of_a_non_detect_reaches_two_errors_up(make_reading: Make) -> None:
    reading = make_reading("R", "r0", (1, 1), 0.4, "<")
    assert limit_of(reading) == 0.4
    assert limit_of(reading._replace(error=0.1)) == pytest.approx(0.6)


@pytest.mark.parametrize("method", ["kriging", "idw"])
@pytest.mark.parametrize("walls", [True, False])
def test_ground_that_is_clear_without_an_error_is_measured_again_with_a_large_one(
    make_survey_site: Make, make_reading: Make, make_level: Make, method: Any, walls: bool
) -> None:
    hall = Floor("ground", "Ground floor", (Room("r0", "Room 0", box(0, 0, 12, 8)),))
    random = np.random.default_rng(2)
    readings = [
        make_reading(f"R{k}", "r0", (1.0 + 2.5 * (k % 5), 1.0 + 2.0 * (k // 5)),
                     float(0.3 * np.exp(0.1 * random.normal())))
        for k in range(20)
    ]  # fmt: skip
    clear, highest = [], []
    for error in (0.0, 0.05, 0.15, 0.3):
        site = make_survey_site(hall, [one._replace(error=error) for one in readings])
        made = map_floor(site, hall, site.rounds[0], "adult", make_level(),
                         MapOptions(cell_m=0.5, method=method, walls=walls))  # fmt: skip
        clear.append(made.zones.area_m2("clear"))
        highest.append(max(zone.probability or 0.0 for zone in made.zones.zones))
        assert made.zones.area_m2("remediate") == 0.0
        if made.rooms[0].average is not None and error:
            assert (made.rooms[0].high or 0.0) > 0.3 * np.exp(1.5 * min(1.0, error / 0.3))
    assert clear[0] == pytest.approx(96.0)
    assert clear[-1] == 0.0
    assert clear == sorted(clear, reverse=True)
    assert highest == sorted(highest)


@given(
    st.integers(0, 10**6),
    st.sampled_from(["kriging", "idw"]),
    st.lists(st.sampled_from([0.0, 0.0, 0.1, 0.5, 1.5]), min_size=14, max_size=14),
)
@settings(max_examples=15)
def test_a_measured_error_never_makes_ground_clear(
    make_survey_site: Make, make_reading: Make, make_level: Make, seed: int, method: Any,
    shares: list[float],
) -> None:  # fmt: skip
    hall = Floor(
        "ground", "Ground floor",
        (Room("r0", "Room 0", box(0, 0, 10, 6)), Room("r1", "Room 1", box(10, 0, 16, 6))),
        openings=(Opening("d", LineString([(10, 2), (10, 3)]), "open", ("r0", "r1")),),
    )  # fmt: skip
    random = np.random.default_rng(seed)
    xy = random.uniform((0.3, 0.3), (15.7, 5.7), (14, 2))
    away = np.hypot(*(xy - random.uniform((1, 1), (15, 5))).T)
    value = 0.05 + 4.0 * np.exp(-away / 2.5 + 0.15 * random.normal(size=14))
    readings = [
        make_reading(f"R{k}", "r0" if x < 10 else "r1", (float(x), float(y)), float(value[k]))
        for k, (x, y) in enumerate(xy)
    ]
    clear = []
    for factor in (0.0, 1.0):
        site = make_survey_site(
            hall,
            [one._replace(error=factor * share * (one.value or 0.0))
             for one, share in zip(readings, shares, strict=True)],
        )  # fmt: skip
        made = map_floor(site, hall, site.rounds[0], "adult", make_level(),
                         MapOptions(cell_m=0.5, method=method))  # fmt: skip
        clear.append(
            shapely.union_all([one.geometry for one in made.ruled.zones if one.name == "clear"])
        )
        for room in hall.rooms:  # whatever is in doubt has a place to measure again
            if made.zones.area_m2("resample", room.id) > 2.0:
                assert any(place.room == room.id for place in made.resample.places)
    assert clear[1].difference(clear[0]).area < 1e-6


def test_the_highest_reading_keeps_its_sign(survey: Make, make_reading: Make, floor: Floor) -> None:
    def highest(*raw: tuple[float, str]) -> tuple[float | None, str]:
        made = [make_reading(f"R{k}", "r0", (1 + k, 1), *one) for k, one in enumerate(raw)]
        found = highest_of(survey(floor, made).items)
        assert found is not None
        return found.concentration, found.qualifier

    assert highest((0.05, "<"), (0.04, "")) == (0.05, "<")
    assert highest((0.05, "<"), (0.05, "")) == (0.05, "")
    assert highest((50.0, ""), (50.0, ">")) == (50.0, ">")
    assert highest((50.0, ">"), (60.0, "~")) == (60.0, "~")
    assert highest_of([]) is None


def test_a_range_that_reaches_above_the_level_is_no_certain_exceedance(
    make_survey_site: Make, make_reading: Make, make_level: Make, floor: Floor
) -> None:
    wide = ranged(make_reading("W", "r0", (5.0, 2.5), 5.0, "to"), 0.01)
    site = make_survey_site(
        floor,
        [*(make_reading(f"L{k}", "r0", (1.0 + k, 1.0 + k % 3), 0.02) for k in range(9)), wide],
    )
    evidence = gather_evidence(site, floor, "first", "adult", make_level())
    made = map_floor(site, floor, site.rounds[0], "adult", make_level(), MapOptions(cell_m=0.5))
    assert [item.above for item in evidence.used][-1]
    assert 0.0 < (made.rooms[0].probability_anywhere or 0.0) < 1.0
    reasons = [reason for zone in made.zones.zones for reason in zone.reasons]
    assert "W at 1.5 m reads 0.01 to 5 µg/m³, which reaches above the level" in reasons
    clear = [zone.geometry for zone in made.zones.zones if zone.name == "clear"]
    assert all(one.distance(Point(5.0, 2.5)) >= 1.5 - 1e-6 for one in clear)
    assert "1 range counts as anything in what was written" in made.warnings
