"""What no zone map may ever say, over random buildings and random readings."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import combinations
from typing import Any, Literal, NamedTuple

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from hgmap.decide.exceedance import exceedance_probability, working_level
from hgmap.decide.further import AT_FULL_WEIGHT
from hgmap.decide.model import FloorEvidence, Zone, Zones
from hgmap.decide.resample import rank_resample
from hgmap.decide.zones import make_zones
from hgmap.errors import EstimateError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.surface import Surface
from hgmap.site.building import HeightBand, Room
from hgmap.site.reading import Reading

LEVEL = 1.0
GUARDS_M = (0.0, 0.5, 1.5, 4.0)


class RawReading(NamedTuple):
    room: int
    along: tuple[float, float]
    value: float | None
    qualifier: str
    height_m: float
    held: bool
    kind: str
    error: float
    place: Literal["inside", "elsewhere", "none"]


class Plan(NamedTuple):
    boxes: list[tuple[float, float, float, float]]
    doors: list[tuple[int, int]]
    swapped: bool
    readings: list[RawReading]
    guard_m: float
    clear_at: float
    method: Literal["kriging", "idw"]
    scale: Literal["log", "linear"]
    walls: bool


raw_readings = st.builds(
    RawReading,
    room=st.integers(0, 5),
    along=st.tuples(st.floats(0.02, 0.98), st.floats(0.02, 0.98)),
    value=st.one_of(
        st.sampled_from([0.05, 0.1, 0.1, 0.2, 0.5, 0.99, 1.0, 1.01, 5.0]), st.floats(0.01, 50)
    ),
    qualifier=st.sampled_from(["", "", "", "", "<", ">", "~", "to", "up to"]),
    height_m=st.sampled_from([1.5, 1.5, 1.5, 1.5, 0.7, 0.1]),
    kind=st.sampled_from(["reading"] * 6 + ["duplicate", "laboratory", "headspace", "field blank"]),
    error=st.sampled_from([0.0, 0.0, 0.0, 0.02, 0.5]),
    held=st.sampled_from([False, False, False, False, True]),
    place=st.sampled_from(["inside", "inside", "inside", "inside", "elsewhere", "none"]),
)  # fmt: skip

quiet_readings = st.builds(
    RawReading,
    room=st.integers(0, 5),
    along=st.tuples(st.floats(0.02, 0.98), st.floats(0.02, 0.98)),
    value=st.floats(0.02, 0.03),
    qualifier=st.sampled_from(["", "", "<"]),
    height_m=st.just(1.5),
    held=st.just(False),
    kind=st.just("reading"),
    error=st.sampled_from([0.0, 0.0, 0.005]),
    place=st.just("inside"),
)  # fmt: skip


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    """A rectangle cut into three to six rooms, some joined by doors, with up to 25 readings."""
    boxes = [(0.0, 0.0, draw(st.integers(8, 30)) / 2, draw(st.integers(8, 24)) / 2)]
    for _ in range(draw(st.integers(2, 5))):
        boxes.sort(key=lambda b: (b[2] - b[0]) * (b[3] - b[1]))
        west, south, east, north = boxes.pop()
        share = draw(st.integers(2, 8)) / 10
        if east - west >= north - south:
            cut = west + share * (east - west)
            boxes += [(west, south, cut, north), (cut, south, east, north)]
        else:
            cut = south + share * (north - south)
            boxes += [(west, south, east, cut), (west, cut, east, north)]
    neighbours = [
        (i, j)
        for i, j in combinations(range(len(boxes)), 2)
        if box(*boxes[i]).intersection(box(*boxes[j])).length > 0.5
    ]
    doors = draw(st.lists(st.sampled_from(neighbours), max_size=4, unique=True))
    kind = draw(st.sampled_from(["few", "many", "quiet", "quiet", "quiet"]))
    most = {"few": 4, "many": 25, "quiet": 5}[kind]
    readings = draw(st.lists(raw_readings, max_size=most))
    if kind == "quiet":  # most of the floor is far below the level, so that much of it is clear
        readings += draw(st.lists(quiet_readings, min_size=8, max_size=18))
    return Plan(
        boxes,
        doors,
        draw(st.booleans()),
        readings,
        draw(st.sampled_from(GUARDS_M)),
        draw(st.sampled_from([0.01, 0.05, 0.2])),
        draw(st.sampled_from(["kriging", "idw"])),
        draw(st.sampled_from(["log", "linear"])),
        draw(st.sampled_from([False, False, False, True])),
    )


class Made(NamedTuple):
    plan: Plan
    evidence: FloorEvidence
    surface: Surface | None
    full: Surface | None
    zones: Zones

    def of(self, room: Room, name: str | None = None) -> list[Zone]:
        return [
            z for z in self.zones.zones if z.room == room.id and (name is None or z.name == name)
        ]

    def clear(self, room: Room) -> shapely.geometry.base.BaseGeometry:
        return shapely.union_all([z.geometry for z in self.of(room, "clear")])

    def readings(self, room: Room) -> list[Any]:
        return [
            item
            for item in self.evidence.items
            if item.reading.room == room.id and item.reading.on_map
        ]


@pytest.fixture(scope="session")
def make(
    make_floor: Callable[..., Any],
    make_reading: Callable[..., Reading],
    survey: Callable[..., FloorEvidence],
) -> Callable[[Plan], Made]:
    def build(plan: Plan) -> Made:
        n = len(plan.boxes)
        # a room may be named like another one's id; readings carry ids
        names = [str((k + 1) % n if plan.swapped else f"name {k}") for k in range(n)]
        rooms = [Room(str(k), names[k], box(*one)) for k, one in enumerate(plan.boxes)]
        floor = make_floor(rooms, [(str(i), str(j)) for i, j in plan.doors])
        readings = []
        for k, raw in enumerate(plan.readings):
            index = raw.room % n
            west, south, east, north = plan.boxes[index]
            xy: tuple[float, float] | None = (
                west + raw.along[0] * (east - west),
                south + raw.along[1] * (north - south),
            )
            held = ["held for a test"] if raw.held else []
            if raw.place == "none":
                xy = None
                held.append("neither a room nor coordinates")
            elif raw.place == "elsewhere":
                xy = (-5.0, -5.0)
                held.append("outside its room")
            reading = make_reading(
                f"R{k}",
                str(index),
                xy,
                raw.value,
                raw.qualifier,
                height_m=raw.height_m,
                held=tuple(held),
            )
            low = 0.1 * raw.value if raw.qualifier == "to" and raw.value is not None else None
            readings.append(
                reading._replace(kind=raw.kind, error=raw.error, low=low, concentration_low=low)
            )
        evidence = survey(floor, readings, above=LEVEL)
        settings = EstimateSettings(
            method=plan.method,
            scale=plan.scale,
            cell_m=0.5 if plan.walls else 0.25,
            walls=plan.walls,
        )
        surface, full, why = None, None, ""
        estimate = partial(estimate_surface, floor, evidence.xy, evidence.concentration, settings)
        try:
            surface = estimate(error=evidence.error)
            full = estimate() if evidence.error.any() else None
        except EstimateError as error:
            why = str(error)
        zones = make_zones(
            evidence, surface, guard_m=plan.guard_m, clear_at=plan.clear_at, no_surface=why,
            also=[] if full is None else [(AT_FULL_WEIGHT, full)],
        )  # fmt: skip
        return Made(plan, evidence, surface, full, zones)

    return build


Make = Callable[[Plan], Made]


@given(plans())
def test_the_zones_tile_each_room(make: Make, plan: Plan) -> None:
    made = make(plan)
    for room in made.evidence.floor.rooms:
        zones = made.of(room)
        assert sum(z.area_m2 for z in zones) == pytest.approx(room.area_m2, rel=1e-7)
        every = shapely.union_all([z.geometry for z in zones])
        assert every.symmetric_difference(room.polygon).area < 1e-6 * room.area_m2
        for zone in zones:
            assert zone.geometry.geom_type in ("Polygon", "MultiPolygon")
            assert zone.geometry.is_valid
            assert zone.area_m2 > 0
        assert len({z.name for z in zones}) == len(zones)


@given(plans())
def test_every_zone_says_why(make: Make, plan: Plan) -> None:
    for zone in make(plan).zones.zones:
        assert zone.reasons
        assert all(reason.strip() for reason in zone.reasons), zone


@given(plans())
def test_the_ground_around_a_reading_above_the_level_is_never_clear(make: Make, plan: Plan) -> None:
    made = make(plan)
    for room in made.evidence.floor.rooms:
        clear = made.clear(room)
        for item in made.readings(room):
            reading = item.reading
            known_above = reading.qualifier == ">" or (
                reading.qualifier != "<" and reading.value > LEVEL
            )
            if not known_above:
                continue
            if reading.held and reading.x in (None, -5.0):
                assert clear.is_empty  # its place is not known, so the whole room is in doubt
            else:
                ground = Point(reading.x, reading.y)
                assert clear.is_empty or clear.distance(ground) >= plan.guard_m - 1e-9


@given(plans())
def test_the_ground_around_a_held_reading_is_never_clear(make: Make, plan: Plan) -> None:
    made = make(plan)
    for room in made.evidence.floor.rooms:
        clear = made.clear(room)
        for item in made.readings(room):
            reading = item.reading
            if reading.held and reading.x not in (None, -5.0) and not clear.is_empty:
                assert clear.distance(Point(reading.x, reading.y)) >= plan.guard_m - 1e-9


@given(plans())
def test_the_ground_around_a_limit_above_the_level_is_never_clear(make: Make, plan: Plan) -> None:
    made = make(plan)
    for room in made.evidence.floor.rooms:
        clear = made.clear(room)
        for item in made.readings(room):
            r = item.reading
            if r.held or r.band != "adult" or r.qualifier != "<" or r.value + 2 * r.error <= LEVEL:
                continue
            assert clear.is_empty or clear.distance(Point(r.x, r.y)) >= plan.guard_m - 1e-9


@given(plans())
def test_a_room_without_a_used_reading_is_never_clear(make: Make, plan: Plan) -> None:
    made = make(plan)
    for room in made.evidence.floor.rooms:
        if not any(item.role == "used" for item in made.readings(room)):
            assert not made.of(room, "clear")


@given(plans())
def test_a_room_without_opening_and_reading_has_no_data(make: Make, plan: Plan) -> None:
    made = make(plan)
    joined = {str(k) for pair in plan.doors for k in pair}
    for room in made.evidence.floor.rooms:
        # a held reading whose place is in no room bears on the nearest
        astray = any(raw.place == "elsewhere" for raw in plan.readings)
        if room.id not in joined and not made.readings(room) and not astray:
            assert [z.name for z in made.of(room)] == ["no data"]


@given(plans())
def test_with_fewer_than_three_used_readings_nothing_is_clear(make: Make, plan: Plan) -> None:
    made = make(plan)
    if len(made.evidence.used) < 3:
        assert made.surface is None
        assert all(zone.name != "clear" for zone in made.zones.zones)


@given(plans())
def test_clear_ground_has_a_low_probability_of_being_above_the_level(
    make: Make, plan: Plan
) -> None:
    made = make(plan)
    if made.surface is None:
        return
    raster = made.surface.raster
    probability = exceedance_probability(
        made.surface.mean,
        made.surface.sd,
        working_level(made.surface, LEVEL),
        degrees_of_freedom=made.surface.degrees_of_freedom,
    )
    x, y = np.meshgrid(raster.x, raster.y)
    for index, room in enumerate(made.evidence.floor.rooms):
        clear = made.clear(room)
        if clear.is_empty:
            continue
        inside = shapely.contains_xy(clear.buffer(-1e-6), x, y) & (raster.room_index == index)
        assert (probability[inside] <= plan.clear_at + 1e-9).all()
        for zone in made.of(room, "clear"):
            assert zone.highest_reading is None or zone.highest_reading <= LEVEL


@given(plans())
def test_more_caution_never_makes_more_clear_ground(make: Make, plan: Plan) -> None:
    # the same estimate ruled on with a wider guard, and with a lower probability
    made = make(plan)
    if made.surface is None:
        return
    wider = make_zones(
        made.evidence, made.surface, guard_m=plan.guard_m + 1, clear_at=plan.clear_at,
        also=[] if made.full is None else [(AT_FULL_WEIGHT, made.full)],
    )  # fmt: skip
    stricter = make_zones(
        made.evidence, made.surface, guard_m=plan.guard_m, clear_at=plan.clear_at / 2,
        also=[] if made.full is None else [(AT_FULL_WEIGHT, made.full)],
    )  # fmt: skip
    for room in made.evidence.floor.rooms:
        here = made.zones.area_m2("clear", room.id)
        assert wider.area_m2("clear", room.id) <= here + 1e-6
        assert stricter.area_m2("clear", room.id) <= here + 1e-6


BANDS = (HeightBand("child", 0.5, 1.0), HeightBand("adult", 1.2, 1.8))


@given(plans())
def test_the_resample_list_leaves_nothing_doubtful_out(make: Make, plan: Plan) -> None:
    made = make(plan)
    found = rank_resample(
        made.evidence, made.surface, made.zones, bands=BANDS, guard_m=plan.guard_m
    ).places
    assert [one.rank for one in found] == list(range(1, len(found) + 1))
    left = [one.left_m2 for one in found if one.left_m2 is not None]
    assert left == sorted(left, reverse=True)
    rooms = {room.id: room for room in made.evidence.floor.rooms}
    for one in found:
        room = rooms[one.room]
        assert room.polygon.distance(Point(one.x, one.y)) <= 0.01
        doubtful = made.zones.area_m2("resample") + made.zones.area_m2("no data")
        assert 0 <= one.expected_m2 <= doubtful + 1e-6  # a reading may settle ground next door
        assert one.reasons
    reasons = {(one.room, reason) for one in found for reason in one.reasons}
    for room in rooms.values():
        items = made.readings(room)
        if not any(item.role == "used" for item in items):
            assert any(r == room.id and "room without a reading" in text for r, text in reasons)
        if made.zones.area_m2("resample", room.id) > 2.0:
            assert any(one.room == room.id for one in found)
        for item in items:
            if item.role == "held":
                assert any(
                    r == room.id and f"held reading {item.reading.id}:" in text
                    for r, text in reasons
                )
