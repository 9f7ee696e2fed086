"""Bad input of the estimation, up to the ruling: no traceback, no NaN, and no false clear.

Every case goes by kriging and inverse distance weighting, through doors and along straight lines,
on the log and the linear scale.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Literal, NamedTuple

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from hgmap.batch import FloorMap, MapOptions, map_floor, map_site
from hgmap.errors import EstimateError
from hgmap.site.building import Floor, Opening, Room
from hgmap.site.files import write_text
from hgmap.site.reading import Reading
from tests.decide.conftest import _level, _reading, _site

Case = tuple[str, float, float, float, str]
"""Room, x, y (m), concentration (level 1) and qualifier."""


class Way(NamedTuple):
    """How a floor is estimated."""

    method: Literal["kriging", "idw"]
    walls: bool
    scale: Literal["log", "linear"]


WAYS = [
    Way(*each)  # type: ignore[arg-type]
    for each in itertools.product(("kriging", "idw"), (True, False), ("log", "linear"))
]


def name_of(way: Way) -> str:
    return f"{way.method}-{'doors' if way.walls else 'straight'}-{way.scale}"


each_way = pytest.mark.parametrize("way", WAYS, ids=name_of)
log_ways = pytest.mark.parametrize("way", [w for w in WAYS if w.scale == "log"], ids=name_of)
"""Where the scale changes nothing about the geometry that a test is about."""


def floor_of(
    rooms: dict[str, Polygon],
    doors: Iterable[tuple[str, str, tuple[float, float], tuple[float, float]]] = (),
    state: Literal["open", "closed", "sealed"] = "open",
    walls: tuple[LineString, ...] = (),
) -> Floor:
    made = tuple(Room(key, f"Room {key}", polygon) for key, polygon in rooms.items())
    openings = tuple(
        Opening(f"d{k}", LineString([start, end]), state, (one, other))
        for k, (one, other, start, end) in enumerate(doors)
    )
    return Floor("ground", "Ground floor", made, walls, openings)


A, B, C = box(0, 0, 6, 5), box(6, 0, 12, 5), box(0, 5, 12, 9)
DOOR = ("a", "b", (6.0, 2.0), (6.0, 3.0))
PLAIN = floor_of({"a": A, "b": B, "c": C}, [DOOR])
"""Two rooms and a door; a third that no air reaches."""


def net(value: Callable[[int], float], qualifier: str = "", count: int = 15) -> list[Case]:
    places = [(1.1 + 2.45 * (k % 5), 0.9 + 1.6 * (k // 5 % 3)) for k in range(count)]
    return [("a" if x < 6 else "b", x, y, value(k), qualifier) for k, (x, y) in enumerate(places)]


def low(k: int) -> float:
    return 0.1 * float(np.exp(0.3 * np.sin(k)))


def readings(cases: Iterable[Case]) -> list[Reading]:
    return [
        _reading(f"R{k}", room, (x, y), value, qualifier)
        for k, (room, x, y, value, qualifier) in enumerate(cases)
    ]


def ruled(cases: Iterable[Case], way: Way, floor: Floor = PLAIN, cell_m: float = 0.5) -> FloorMap:
    """Map a floor; what comes out is finite, tiles the rooms, and progress never goes back."""
    site = _site(floor, readings(cases), scale=way.scale)
    shares: list[float] = []
    made = map_floor(
        site, floor, site.rounds[0], "adult", _level(1.0),
        MapOptions(method=way.method, walls=way.walls, cell_m=cell_m),
        lambda done, whole: shares.append(done / whole),
    )  # fmt: skip
    assert shares == sorted(shares)
    if made.surface is not None:
        assert shares[-1] == 1.0
        surface = made.surface
        assert (np.isnan(surface.mean) == np.isnan(surface.sd)).all()
        assert not np.isinf(surface.mean).any()
        assert not np.isinf(surface.sd).any()
        assert np.isfinite([surface.scores.rmse, surface.scores.mean_error]).all()
        assert (surface.sd[np.isfinite(surface.sd)] > 0).all()
    outcomes: list[Any] = [*made.zones.zones, *made.rooms, *made.resample.places]
    for thing in outcomes:
        numbers = [getattr(thing, name) for name in thing.__slots__]
        assert np.isfinite([one for one in numbers if isinstance(one, float)]).all(), thing
    for room in floor.rooms:
        tiled = sum(zone.area_m2 for zone in made.zones.zones if zone.room == room.id)
        assert tiled == pytest.approx(room.area_m2, rel=1e-6)
    return made


def area(made: FloorMap, name: Any, room: str | None = None) -> float:
    return made.zones.area_m2(name, room)


# --- values


@pytest.mark.parametrize(
    ("value", "qualifier", "name", "way"),
    [(0.1, "", "clear", way) for way in WAYS]
    + [(9.0, "", "remediate", way) for way in WAYS]
    + [(0.1, "<", "clear", way) for way in WAYS if way.scale == "log"]
    + [(5.0, ">", "remediate", way) for way in WAYS if not way.walls],
)
def test_readings_that_are_all_equal_rule_their_rooms_alike_and_no_other(
    way: Way, value: float, qualifier: str, name: str
) -> None:
    made = ruled(net(lambda k: value, qualifier), way)
    assert area(made, name) == pytest.approx(60)
    assert area(made, "no data", "c") == pytest.approx(48)


@each_way
def test_non_detects_that_cannot_see_the_level_clear_nothing(way: Way) -> None:
    made = ruled(net(lambda k: 1.2, "<"), way)
    assert area(made, "clear") == 0.0
    assert made.no_surface


@each_way
def test_one_reading_a_million_times_the_others_is_never_clear_ground(way: Way) -> None:
    cases = [*net(lambda k: 1e-4 * low(k), count=14), ("b", 11.0, 4.0, 100.0, "")]
    made = ruled(cases, way)
    assert area(made, "remediate", "b") > 0
    around = box(10.0, 3.0, 12.0, 5.0)
    for zone in made.zones.zones:
        if zone.name == "clear":
            assert zone.geometry.intersection(around).area < 0.2


@pytest.mark.parametrize("scale", ["log", "linear"])
@pytest.mark.parametrize("walls", [True, False])
@pytest.mark.parametrize("twin", ["", ">"])
def test_a_low_replicate_does_not_make_a_very_high_reading_say_nothing(
    scale: Any, walls: bool, twin: str
) -> None:
    cases = [*net(low), ("a", 1.1, 0.9, 5e3, twin)]
    made = ruled(cases, Way("kriging", walls, scale))
    assert area(made, "clear", "a") == 0.0
    texts = [reason for place in made.resample.places for reason in place.reasons]
    assert twin or any("replicates disagree" in text for text in texts)


@each_way
@pytest.mark.parametrize("value", [1e-300, 1e300])
def test_a_number_that_no_instrument_shows_makes_no_surface_in_one_line(
    way: Way, value: float
) -> None:
    made = ruled([*net(low, count=14), ("b", 11.0, 4.0, value, "")], way)
    if value < 1 and way.scale == "linear":
        assert made.surface is not None
        return
    assert made.no_surface == f"a concentration of {value:g} is beyond any measurement"
    assert area(made, "clear") == 0.0


@each_way
def test_readings_that_differ_by_thirty_powers_of_ten_stay_finite(way: Way) -> None:
    made = ruled(net(lambda k: 1e-20 if k % 2 else 1e10), way)
    assert area(made, "clear") < 2.0


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
@pytest.mark.parametrize("place", [False, True])
def test_a_reading_with_a_number_that_is_none_is_held_and_the_rest_is_mapped(
    value: float, place: bool
) -> None:
    odd: Case = ("b", value if place else 11.0, 4.0, 0.1 if place else value, "")
    made = ruled([*net(low, count=14), odd], Way("idw", True, "log"))
    assert [item.role for item in made.evidence.items].count("held") == 1
    assert len(made.evidence.used) == 14
    assert area(made, "clear", "a") == pytest.approx(30)
    assert area(made, "resample", "b") > 3.0


# --- places


@each_way
@pytest.mark.parametrize("count", [1, 2])
def test_any_number_of_readings_at_one_place_or_two_is_no_surface(way: Way, count: int) -> None:
    made = ruled([("a", 2.0 + k % count, 2.0, low(k), "") for k in range(15)], way)
    assert "a surface needs 3" in made.no_surface
    assert area(made, "resample", "a") == pytest.approx(30)
    assert area(made, "clear") == 0.0


@log_ways
def test_readings_on_one_line_make_a_surface(way: Way) -> None:
    cases: list[Case] = [("a" if x < 6 else "b", x, 2.5, low(k), "")
                         for k, x in enumerate(np.linspace(0.5, 11.5, 12))]  # fmt: skip
    assert area(ruled(cases, way), "clear") == pytest.approx(60)


@each_way
def test_readings_on_lines_in_doorways_and_corners_leave_no_unknown_error(way: Way) -> None:
    on_lines: list[Case] = [
        ("a", 6.0, 2.5, 0.1, ""),  # in the doorway, once for each of its rooms
        ("b", 6.0, 2.5, 0.2, ""),
        ("a", 0.0, 2.0, 0.1, ""),  # on an outer wall
        ("a", 0.0, 0.0, 0.12, ""),  # in a corner
        ("b", 12.0, 5.0, 0.1, ""),
        ("a", 3.0, 2.0, 0.11, ""),  # on a wall inside the room
    ]
    walls = (LineString([(3, 0), (3, 4)]), LineString([(5, 2.5), (7, 2.5)]))  # one across the door
    floor = floor_of({"a": A, "b": B, "c": C}, [DOOR], walls=walls)
    made = ruled([*net(low, count=12), *on_lines], way, floor)
    assert area(made, "clear", "c") == 0.0
    # high there: nothing may be clear beside it
    high = [(room, x, y, 50.0, q) for room, x, y, _, q in on_lines]
    made = ruled([*net(low, count=12), *high], way, floor)
    assert area(made, "clear") < 30


@pytest.mark.parametrize("way", WAYS[:1])
def test_a_thousand_replicates_at_one_place_count_as_one_place(way: Way) -> None:
    cases = [*net(low), *(("a", 2.0, 2.0, 0.1 + 1e-5 * k, "") for k in range(1000))]
    made = ruled(cases, way)
    assert made.surface is not None
    assert len(made.surface.values) == 16


# --- plans


STRIP = floor_of(
    {"a": A, "s": box(6, 0, 6.05, 5), "b": box(6.05, 0, 12, 5)},
    [("a", "s", (6, 2), (6, 3)), ("s", "b", (6.05, 2), (6.05, 3))],
)


@log_ways
def test_a_strip_between_two_rooms_is_resample_and_air_passes_it(way: Way) -> None:
    only_a: list[Case] = [(room, x, y, v, q) for room, x, y, v, q in net(low) if room == "a"]
    made = ruled(only_a, way, STRIP, 0.4)
    assert area(made, "resample", "s") == pytest.approx(0.25)
    assert area(made, "clear", "b") == 0.0
    assert made.surface is not None
    beyond = made.surface.mean[made.surface.raster.room_index == 2]
    assert np.isfinite(beyond).all()


@log_ways
def test_a_passage_of_a_room_that_holds_no_cell_is_never_clear(way: Way) -> None:
    """6 m by 5 m, and a passage of 0.4 m by 6 m between two rows of centres."""
    passage = box(6, 2.3, 12, 2.7)
    floor = floor_of({"a": A.union(passage), "b": box(6, 2.8, 12, 5)}, [
        ("a", "b", (6.0, 3.0), (6.0, 4.0))])  # fmt: skip
    cases = [one for one in net(low) if one[0] == "a"]
    made = ruled([*cases, ("a", 9.0, 2.5, 0.1, "")], way, floor, 0.5)
    assert made.surface is not None
    columns = made.surface.raster.room_index[:, made.surface.raster.x > 6.1]
    assert not (columns == 0).any()  # the case is what it says
    far = passage.intersection(box(7.5, 0, 12, 5))
    for zone in made.zones.zones:
        if zone.room == "a" and zone.name == "clear":
            assert zone.geometry.intersection(far).area == pytest.approx(0.0, abs=1e-9)


@log_ways
@pytest.mark.parametrize(
    "floor",
    [
        floor_of({"a": A, "b": B, "c": C}, [DOOR], state="sealed"),
        floor_of({"a": A, "b": B, "c": C}, [("a", "a", (6, 2), (6, 3))]),
        floor_of({"a": A, "b": B, "c": C}, [("a", "b", (6, 2), (6, 2))]),
        floor_of({"a": A, "b": B, "c": C}, [("a", "b", (60, 2), (60, 3))]),
        floor_of(
            {"a": box(0, 0, 12, 5).difference(box(4, 1, 8, 4)), "b": box(4, 1, 8, 4), "c": C},
            [("a", "b", (6, 1), (7, 1))],
        ),
    ],
    ids=["sealed", "door to itself", "no width", "far from both", "nested"],
)
def test_doors_that_lead_nowhere_and_nested_rooms_carry_no_clear_on(way: Way, floor: Floor) -> None:
    only_a: list[Case] = [
        ("a", x, y, low(k), "") for k, (x, y) in enumerate([(1, 1), (2, 4), (3, 2), (1, 3)])
    ]
    made = ruled(only_a, way, floor)
    assert area(made, "clear", "b") == 0.0
    assert area(made, "clear", "c") == 0.0


@log_ways
def test_overlapping_rooms_never_make_clear_what_the_estimate_doubts(way: Way) -> None:
    """Such a plan is refused at the door; from arrays it comes through."""
    rooms = {"a": box(0, 0, 7, 5), "b": box(5, 0, 12, 5)}
    made = ruled(net(lambda k: 0.8, count=3), way, floor_of(rooms, [DOOR]))
    assert area(made, "clear") == 0.0


@log_ways
@pytest.mark.parametrize("value", [0.7, 20.0])
def test_a_part_of_a_floor_with_one_reading_is_ruled_by_it(way: Way, value: float) -> None:
    made = ruled([*net(low), ("c", 3.0, 7.0, value, "")], way)
    far = area(made, "clear", "c")
    assert far == 0.0 if value > 1 and way.walls else far < 48.0
    if value > 1:
        assert area(made, "remediate", "c") > 0


# --- too much


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_a_thousand_million_cells_are_refused_in_one_line_with_the_step_that_fits(
    make_site: Any, make_plan: Any, make_room: Any, run: Any, method: str
) -> None:
    site = make_site(plans={"ground": make_plan(make_room("A", 0, 0, 1000, 1000))})
    got = run("map", site, "--cell", "0.0316", "--method", method)
    assert got.code == 2
    (line,) = [one for one in got.text.splitlines() if "cells" in one]
    assert "cells of 0.0316 m make 1e+09 cells, about 140 GiB" in line
    assert "use cells of 0.5 m or more" in line


def test_more_walks_than_memory_holds_are_refused_in_one_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("hgmap.field.by_idw.MOST_WALKS", 10_000)
    count = 2100
    random = np.random.default_rng(1)
    places = random.uniform((0.1, 0.1), (5.9, 4.9), (20 * count, 2))
    _, first = np.unique((places / 0.08).astype(int), axis=0, return_index=True)
    apart = (places[first] // 0.08 + 0.5) * 0.08
    cases: list[Case] = [("a", float(x), float(y), 0.1, "") for x, y in apart[:count]]
    with pytest.raises(EstimateError, match="GiB") as caught:
        ruled(cases, Way("idw", True, "log"))
    assert "--straight" in str(caught.value)
    assert caught.value.where == "floor 'ground'"


def test_three_hundred_rooms_are_ruled_in_seconds() -> None:
    """No room looks at every other one, nor at the whole raster."""
    side = 17
    rooms = {f"r{i}-{j}": box(4 * i, 4 * j, 4 * i + 4, 4 * j + 4)
             for i in range(side) for j in range(side)}  # fmt: skip
    doors = [
        (f"r{i}-{j}", f"r{i + 1}-{j}", (4 * i + 4, 4 * j + 1), (4 * i + 4, 4 * j + 2))
        for i in range(side - 1)
        for j in range(side)
    ]
    cases: list[Case] = [(f"r{i}-{j}", 4 * i + 2, 4 * j + 2, 0.1 + 0.01 * (i % 3), "")
                         for i in range(0, side, 3) for j in range(0, side, 2)]  # fmt: skip
    started = time.process_time()
    made = ruled(cases, Way("idw", True, "log"), floor_of(rooms, doors), 1.0)
    assert time.process_time() - started < 12.0  # 1 to 2 s on a quiet core
    unread = {zone.room for zone in made.zones.zones} - {case[0] for case in cases}
    assert all(area(made, "clear", room) == 0.0 for room in unread)


# --- cancelled


class CancelledError(Exception):
    """Raised by a user who has seen enough."""


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize(
    ("way", "kind"),
    [(WAYS[0], CancelledError), (WAYS[2], KeyboardInterrupt), (WAYS[4], KeyboardInterrupt),
     (WAYS[6], CancelledError)],
)  # fmt: skip
def test_a_run_cancelled_half_way_leaves_the_earlier_results_and_nothing_else(
    make_site: Any, way: Way, kind: type[BaseException]
) -> None:
    site = make_site()
    options = MapOptions(cell_m=0.5, method=way.method, walls=way.walls)
    shares: list[float] = []
    map_site(site, options, lambda _, share: shares.append(share))
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)
    before = {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}
    readings_file = site / "readings" / "first.csv"
    readings_file.write_text(readings_file.read_text().replace("ug/m3", "mg/m3"))
    before[readings_file] = readings_file.read_bytes()
    for at in sorted({0.0, shares[len(shares) // 2], 0.7, 1.0}):

        def stop(_: str, share: float, at: float = at) -> None:
            if share >= at:
                raise kind

        with pytest.raises(kind):
            map_site(site, options, stop)
        after = {path: path.read_bytes() for path in site.rglob("*") if path.is_file()}
        assert after == before


def test_a_file_whose_writing_is_interrupted_leaves_no_temporary_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "zones.csv"
    path.write_text("whole")

    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("os.fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_text(path, "half")
    assert path.read_text() == "whole"
    assert list(tmp_path.iterdir()) == [path]
