"""Importing GeoJSON floors: what is kept, what is mended, what is refused, what is written."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.errors import HgmapError, PlanError, SiteError
from hgmap.from_python import import_plan
from hgmap.site import new_site
from hgmap.site.building import Floor
from hgmap.site.folder import read_site
from hgmap.site.georef import local_frame_at, lonlat_to_local
from hgmap.site.importers.features import read_features
from hgmap.site.importers.names import LONGEST_NAME, one_line_text, unique_ids, unique_names
from hgmap.site.importers.where import holds
from hgmap.site.map_frame import MapFrame
from hgmap.site.schema import parse_site_table

MALL = Path(__file__).parents[3] / "shared" / "data" / "plans" / "osm-caserne.geojson"


def feature(geometry: Any, **properties: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def box(west: float, south: float, east: float, north: float, **properties: Any) -> dict[str, Any]:
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return feature({"type": "Polygon", "coordinates": [ring]}, **properties)


def ring_of(*corners: tuple[float, ...], **properties: Any) -> dict[str, Any]:
    ring = [list(corner) for corner in (*corners, corners[0])]
    return feature({"type": "Polygon", "coordinates": [ring]}, **properties)


def point(x: float, y: float, **properties: Any) -> dict[str, Any]:
    return feature({"type": "Point", "coordinates": [x, y]}, **properties)


def line(*corners: tuple[float, float], **properties: Any) -> dict[str, Any]:
    return feature({"type": "LineString", "coordinates": [list(c) for c in corners]}, **properties)


def write(path: Path, *features: Any, **members: Any) -> Path:
    collection = {"type": "FeatureCollection", **members, "features": list(features)}
    path.write_text(json.dumps(collection), encoding="utf-8")
    return path


def one_floor(folder: Path, name: str = "ground") -> Floor:
    site = read_site(folder)
    assert [one for one in site.problems if one.severity == "error"] == []
    floor = site.floor(name)
    assert floor is not None
    return floor


TWO_ROOMS = (
    box(0, 0, 5, 4, indoor="room", level="0", name="Lab"),
    box(5, 0, 12, 4, indoor="corridor", level="0"),
)


# What is read


def test_rooms_of_simple_indoor_tagging_become_a_site_that_can_be_read(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, box(-9, -9, 20, 9, building="yes"))
    report = import_plan(file, tmp_path / "Mill house", "ground", use="dwelling")
    assert (report.rooms, report.walls, report.openings) == (2, 0, 0)
    assert (report.area_m2, report.width_m, report.height_m) == pytest.approx((48, 12, 4))
    assert report.made_site
    assert report.repairs == ()
    assert report.skipped == ("1 feature that is no room, wall or door",)
    site = read_site(tmp_path / "Mill house")
    assert (site.name, site.use, site.level) == ("Mill house", "dwelling", None)
    assert [room.name for room in site.floors[0].rooms] == ["Lab", "room 1"]
    assert site.floors[0].map_frame is None


def test_every_polygon_is_a_room_where_nothing_marks_them(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 2, 2), box(2, 0, 4, 2, ref="B7"), line((0, 0)))
    import_plan(file, tmp_path / "s", "ground")
    names = [room.name for room in one_floor(tmp_path / "s").rooms]
    assert names == ["room 1", "B7"]


def test_polygons_that_some_property_calls_walls_are_not_taken_for_rooms(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 5, 4, use="office"), box(5, 0, 6, 4, use="Wall"))
    with pytest.raises(PlanError, match=r"feature 2 has use=Wall.*--where"):
        import_plan(file, tmp_path / "s", "ground")
    report = import_plan(file, tmp_path / "s", "ground", where="use=office")
    assert report.rooms == 1
    assert "no feature says what it is (kind, or indoor): every polygon is a room" in report.skipped


def test_words_in_a_property_say_what_is_a_wall_and_name_the_rooms(tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.geojson", box(0, 0, 5, 4, type="Rest_room"), box(5, 0, 6, 4, type="Wall"),
        box(6, 0, 9, 4, type="office"), box(5, 1, 6, 2, type="door"),
        box(7, 1, 8, 2, type="furniture"),
    )  # fmt: skip
    report = import_plan(file, tmp_path / "s", "ground")
    floor = one_floor(tmp_path / "s")
    assert [room.name for room in floor.rooms] == ["rest room", "room 1"]
    assert (report.walls, report.openings) == (1, 1)
    assert report.skipped == ("1 feature that is no room, wall or door (of type furniture 1)",)


def test_our_own_kinds_keep_ids_walls_openings_and_states(tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.geojson",
        box(0, 0, 5, 4, kind="room", id="G1", name="Lab"),
        box(5.2, 0, 9, 4, kind="room", id="G2", name="Store"),
        line((5.1, 0), (5.1, 4), kind="wall"),
        box(0, 4, 9, 4.3, kind="wall"),
        line((5.1, 1), (5.1, 2), kind="opening", id="D9", state="closed"),
        box(0, 0, 1, 1, kind="rooom", name="typo"),
        box(0, 0, 99, 99, kind="grass"),
    )
    report = import_plan(file, tmp_path / "s", "ground")
    floor = one_floor(tmp_path / "s")
    assert [room.id for room in floor.rooms] == ["G1", "G2"]
    assert (report.walls, len(floor.walls)) == (2, 2)
    opening = floor.openings[0]
    assert (opening.id, opening.state, set(opening.rooms)) == ("D9", "closed", {"G1", "G2"})
    assert report.skipped[0] == "feature 6 (typo): kind 'rooom' is not known; did you mean 'room'?"


def test_a_state_tag_of_another_scheme_is_not_taken_for_the_state_of_a_door(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, point(0, 2, door="yes", state="Vermont"))
    import_plan(file, tmp_path / "s", "ground")
    assert one_floor(tmp_path / "s").openings[0].state == "open"


def test_a_room_of_two_parts_becomes_two_rooms(tmp_path: Path) -> None:
    parts = [box(0, 0, 2, 2), box(5, 0, 8, 2)]
    many = {"type": "MultiPolygon", "coordinates": [p["geometry"]["coordinates"] for p in parts]}
    file = write(tmp_path / "a.geojson", feature(many, name="Annex"))
    report = import_plan(file, tmp_path / "s", "ground")
    names = [room.name for room in one_floor(tmp_path / "s").rooms]
    assert names == ["Annex", "Annex (2)"]
    assert any("has 2 parts" in repair for repair in report.repairs)


def test_text_from_outside_becomes_one_short_line(tmp_path: Path) -> None:
    dirty = "Lab\n\u202e[red]" + "x" * 200 + "\ud800"
    file = write(tmp_path / "a.geojson", box(0, 0, 5, 4, kind="room", name=dirty))
    import_plan(file, tmp_path / "s", "ground", title="Ground\nfloor")
    floor = one_floor(tmp_path / "s")
    assert floor.title == "Ground floor"
    assert floor.rooms[0].name == ("Lab [red]" + "x" * 200)[:LONGEST_NAME]


# Choosing


def test_several_levels_without_a_choice_are_refused_with_the_way_to_choose(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, box(0, 0, 5, 4, indoor="room", level="-1;1-2"))
    with pytest.raises(PlanError, match=r"\(-1, 0, 1, 2\).*--storey \"1\""):
        import_plan(file, tmp_path / "s", "ground")
    assert not (tmp_path / "s").exists()


def test_a_choice_keeps_lists_and_ranges_and_counts_the_rest(tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.geojson",
        box(0, 0, 2, 2, indoor="room", level="0"),
        box(2, 0, 4, 2, indoor="room", level="-1;0", name="Lift"),
        box(4, 0, 6, 2, indoor="room", level="0-3", name="Stairs"),
        box(0, 0, 2, 2, indoor="room", level="1"),
        box(6, 0, 8, 2, indoor="room", name="Nowhere"),
        point(2, 1, door="yes"),
    )
    report = import_plan(file, tmp_path / "s", "ground", where="level=0")
    assert [room.name for room in one_floor(tmp_path / "s").rooms] == ["room 1", "Lift", "Stairs"]
    assert report.skipped == (
        "feature 5 (Nowhere): a room without 'level'",
        "1 feature without 'level' (1 door)",
        "1 feature of another level than 0",
    )


@pytest.mark.parametrize(
    ("where", "says"),
    [
        ("level=7", "choose one of 0"),
        ("levle=0", "did you mean 'level'"),
        ("level", "is not property=value"),
        ("=0", "is not property=value"),
    ],
)
def test_a_choice_that_fits_nothing_says_what_there_is(
    tmp_path: Path, where: str, says: str
) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    with pytest.raises(PlanError, match=says):
        import_plan(file, tmp_path / "s", "ground", where=where)


LEVELS = st.integers(-20, 60)


@given(st.lists(LEVELS, min_size=1, max_size=6), LEVELS)
def test_a_list_holds_exactly_its_own_values(levels: list[int], wanted: int) -> None:
    assert holds("; ".join(map(str, levels)), str(wanted)) == (wanted in levels)
    assert holds(levels, str(wanted)) == (wanted in levels)


@given(LEVELS, LEVELS, LEVELS)
def test_a_range_holds_what_lies_between_its_ends(low: int, high: int, wanted: int) -> None:
    assert holds(f"{low}-{high}", f"{wanted}.0") == (min(low, high) <= wanted <= max(low, high))


# Doors


def test_a_door_on_a_shared_edge_is_laid_along_it_and_joins_both_rooms(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, point(5.3, 2, door="hinged", level="0"))
    import_plan(file, tmp_path / "s", "ground")
    floor = one_floor(tmp_path / "s")
    (opening,) = floor.openings
    assert set(opening.rooms) == {room.id for room in floor.rooms}
    assert opening.line.length == pytest.approx(0.9, abs=2e-4)
    assert {x for x, _ in opening.line.coords} == {5.0}
    assert opening.line.interpolate(0.5, normalized=True).y == pytest.approx(2, abs=2e-4)


def test_doorways_without_a_door_and_entrances_are_openings_too(tmp_path: Path) -> None:
    doors = [
        point(5, 1, door="no"),
        point(0, 2, entrance="main"),
        point(12, 2, entrance="no"),
        point(3, 3, amenity="clock"),
    ]
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, *doors)
    assert import_plan(file, tmp_path / "s", "ground").openings == 2


def test_a_door_too_far_from_every_edge_is_listed_with_its_distance(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, point(-3.25, 2, door="yes"))
    report = import_plan(file, tmp_path / "s", "ground")
    assert report.openings == 0
    assert any("3.25 m from the nearest room edge" in one for one in report.skipped)


def test_a_door_near_a_corner_is_clipped_to_its_edge(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, point(0.2, 0, door="yes"))
    import_plan(file, tmp_path / "s", "ground")
    (opening,) = one_floor(tmp_path / "s").openings
    assert sorted(opening.line.coords) == [(0, 0), (0.65, 0)]


def test_a_door_drawn_as_a_corner_of_a_straight_edge_keeps_its_width(tmp_path: Path) -> None:
    room = ring_of((0, 0), (2, 0.001), (5, 0), (5, 4), (0, 4), indoor="room")
    file = write(tmp_path / "a.geojson", room, point(2, 0.001, door="yes"))
    import_plan(file, tmp_path / "s", "ground")
    (opening,) = one_floor(tmp_path / "s").openings
    assert opening.line.length == pytest.approx(0.9, abs=2e-4)


# Mending


def test_a_hairline_overlap_is_cut_from_the_larger_room_and_listed(tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.geojson", box(0, 0, 5, 4, name="Lab"), box(4.98, 0, 12, 4, name="Hall")
    )
    report = import_plan(file, tmp_path / "s", "ground")
    floor = one_floor(tmp_path / "s")
    assert floor.rooms[0].area_m2 == pytest.approx(20)
    assert floor.rooms[1].polygon.bounds == pytest.approx((5, 0, 12, 4))
    (repair,) = report.repairs
    assert repair.startswith("feature 2 (Hall): overlapped feature 1 (Lab) at x 4.99, y 2.00 m")
    assert "0.080 m²" in repair


def test_a_room_inside_a_corridor_becomes_a_hole_in_it(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 10, 10, name="Hall"), box(4, 4, 6, 6))
    import_plan(file, tmp_path / "s", "ground")
    hall = one_floor(tmp_path / "s").rooms[0]
    assert len(hall.polygon.interiors) == 1
    assert hall.area_m2 == pytest.approx(96)


def test_a_corridor_cut_through_becomes_two_rooms(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 10, 2, name="Hall"), box(4, -1, 6, 3))
    report = import_plan(file, tmp_path / "s", "ground")
    names = [room.name for room in one_floor(tmp_path / "s").rooms]
    assert names == ["Hall", "Hall (2)", "room 1"]
    assert any("2 parts" in repair for repair in report.repairs)


def test_slivers_and_doubles_are_dropped_and_listed(tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.geojson",
        box(0, 0, 5, 4, name="Lab"),
        ring_of((5, 0), (5, 4), (0, 4), (0, 0), name="Lab again"),
        box(6, 0, 6.1, 0.1, name="Scrap"),
        box(0, 0, 5.01, 4.01, name="Frame"),
    )
    report = import_plan(file, tmp_path / "s", "ground")
    assert [room.name for room in one_floor(tmp_path / "s").rooms] == ["Lab"]
    text = "\n".join(report.skipped)
    assert "feature 2 (Lab again): the same outline as feature 1 (Lab) (20.00 m² at" in text
    assert "feature 3 (Scrap): a sliver of 0.0100 m²" in text
    assert "feature 4 (Frame): smaller rooms cover it" in text


@pytest.mark.parametrize("middle", [[(1, 1)], [(1, 1), (0, 0)], [(6, 0), (3, 0)], [(0, 0)] * 2])
def test_a_room_without_an_area_is_no_room_and_is_listed_once(
    tmp_path: Path, middle: list[tuple[float, float]]
) -> None:
    flat = ring_of((0, 0), *middle, name="Flat")
    report = import_plan(
        write(tmp_path / "a.geojson", box(0, 0, 5, 4, name="Lab"), flat), tmp_path / "s", "ground"
    )
    assert report.rooms == 1
    flats = [text for text in report.skipped if "Flat" in text]
    assert flats == ["feature 2 (Flat): its area is zero"]
    with pytest.raises(PlanError, match=r"no room is left; feature 1 \(Flat\): its area is zero"):
        import_plan(write(tmp_path / "b.geojson", flat), tmp_path / "t", "ground")


def test_a_small_crossing_is_mended_and_a_bow_tie_is_refused_alone(tmp_path: Path) -> None:
    crossed = ring_of(
        (0, 0), (5, 0), (5, 4), (2.5, 4), (2.52, 4.02), (2.5, 4.02), (2.52, 4), (0, 4)
    )
    bow_tie = ring_of((10, 0), (14, 4), (14, 0), (10, 4), name="Bow")
    assert not shapely.geometry.shape(crossed["geometry"]).is_valid
    file = write(tmp_path / "a.geojson", crossed, bow_tie)
    report = import_plan(file, tmp_path / "s", "ground")
    assert report.rooms == 1
    assert report.area_m2 == pytest.approx(20, abs=0.01)
    assert "crossed itself" in report.repairs[0]
    assert report.skipped[0].startswith("feature 1: a sliver of 0.0001 m²")
    assert report.skipped[1].startswith("feature 2 (Bow): its outline is not sound")
    only = write(tmp_path / "b.geojson", bow_tie)
    with pytest.raises(PlanError, match="no room is left"):
        import_plan(only, tmp_path / "t", "ground")
    assert not (tmp_path / "t").exists()


@given(
    st.lists(st.tuples(*[st.integers(0, 12)] * 2, *[st.integers(1, 8)] * 2), min_size=1, max_size=7)
)
def test_mended_rooms_never_overlap_and_lose_no_floor(
    tmp_path_factory: pytest.TempPathFactory, boxes: list[tuple[int, int, int, int]]
) -> None:
    folder = tmp_path_factory.mktemp("law")
    drawn = [box(x, y, x + w, y + h) for x, y, w, h in boxes]
    import_plan(write(folder / "a.geojson", *drawn), folder / "s", "ground")
    rooms = [room.polygon for room in one_floor(folder / "s").rooms]
    union = shapely.union_all([shapely.geometry.shape(one["geometry"]) for one in drawn])
    assert sum(room.area for room in rooms) == pytest.approx(union.area)
    assert shapely.union_all(rooms).area == pytest.approx(union.area)


NAMES = st.lists(st.text(st.sampled_from("aA ß(2)roomR1\n"), max_size=9).map(one_line_text))


@given(NAMES)
def test_names_and_ids_end_up_unique_and_the_first_keeps_its_own(given_names: list[str]) -> None:
    names = unique_names(given_names)
    assert len({name.casefold() for name in names}) == len(given_names) == len(names)
    assert all(0 < len(name) <= LONGEST_NAME for name in names)
    for index, name in enumerate(given_names):
        if name and name.casefold() not in [one.casefold() for one in given_names[:index]]:
            assert names[index] == name
    ids = unique_ids([""] * len(names), letter="R", names=names)
    assert len(set(ids)) == len(ids)
    assert not {one.casefold() for one in ids} & {name.casefold() for name in names}


def test_repeated_names_are_numbered_and_listed(tmp_path: Path) -> None:
    rooms = [box(2 * n, 0, 2 * n + 2, 2, name=name) for n, name in enumerate(["Lab", "lab", "Lab"])]
    report = import_plan(write(tmp_path / "a.geojson", *rooms), tmp_path / "s", "ground")
    names = [room.name for room in one_floor(tmp_path / "s").rooms]
    assert names == ["Lab", "lab (2)", "Lab (3)"]
    assert len(report.repairs) == 2


# Degrees, metres and the map


def lonlat_box(x: float, y: float, width: float, height: float, **properties: Any) -> Any:
    """Return a rectangle drawn in degrees, from metres east and north of 11.5 E 48.1 N."""
    geod = pyproj.Geod(ellps="WGS84")
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    placed = []
    for east, north in corners:
        lon, lat, _ = geod.fwd(11.5, 48.1, 90, east)
        lon, lat, _ = geod.fwd(lon, lat, 0, north)
        placed.append((lon, lat))
    return ring_of(*placed, **properties)


def test_degrees_become_true_metres_and_all_floors_share_one_frame(tmp_path: Path) -> None:
    ground = write(tmp_path / "g.geojson", lonlat_box(0, 0, 30, 20, name="Hall"))
    upper = write(tmp_path / "u.geojson", lonlat_box(10, 0, 20, 20, name="Loft"))
    report = import_plan(ground, tmp_path / "s", "ground")
    import_plan(upper, tmp_path / "s", "upper")
    # the geodesic lengths that the fixture was drawn with, to the frame's 3e-7 and the 0.1 mm grid
    assert report.width_m == pytest.approx(30, abs=1e-3)
    assert report.area_m2 == pytest.approx(600, abs=0.02)
    hall = one_floor(tmp_path / "s", "ground")
    loft = one_floor(tmp_path / "s", "upper")
    assert hall.map_frame == loft.map_frame
    assert loft.rooms[0].polygon.bounds[0] - hall.bounds[0] == pytest.approx(10, abs=1e-3)
    assert max(map(abs, hall.bounds)) < 20
    assert hall.map_frame is not None
    x, y = lonlat_to_local(hall.map_frame)(np.array([11.5]), np.array([48.1]))
    assert (x[0], y[0]) == pytest.approx(hall.bounds[:2], abs=1e-3)


def test_a_projected_plan_keeps_its_system_with_a_whole_offset(tmp_path: Path) -> None:
    member = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::25832"}}
    rooms = (box(686000.5, 5330000.25, 686010.5, 5330008.25),)
    by_member = write(tmp_path / "a.geojson", *rooms, crs=member)
    by_argument = write(tmp_path / "b.geojson", *rooms)
    import_plan(by_member, tmp_path / "s", "ground")
    import_plan(by_argument, tmp_path / "t", "ground", crs="EPSG:25832")
    for folder in (tmp_path / "s", tmp_path / "t"):
        floor = one_floor(folder)
        assert floor.map_frame == MapFrame("EPSG:25832", 686000.0, 5330000.0)
        assert floor.bounds == (0.5, 0.25, 10.5, 8.25)


def test_one_place_in_degrees_and_projected_comes_to_one_place(tmp_path: Path) -> None:
    drawn = lonlat_box(0, 0, 30, 20)
    to_grid = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:32632", always_xy=True)
    ring = [list(to_grid.transform(*xy)) for xy in drawn["geometry"]["coordinates"][0]]
    projected = feature({"type": "Polygon", "coordinates": [ring]})
    import_plan(write(tmp_path / "a.geojson", drawn), tmp_path / "s", "a")
    import_plan(write(tmp_path / "b.geojson", projected), tmp_path / "s", "b", crs="EPSG:32632")
    one, other = one_floor(tmp_path / "s", "a"), one_floor(tmp_path / "s", "b")
    assert one.bounds == pytest.approx(other.bounds, abs=1e-3)


def test_a_world_map_whose_metres_are_too_long_is_not_taken_at_its_word(tmp_path: Path) -> None:
    drawn = lonlat_box(0, 0, 30, 20)
    to_world = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    ring = [list(to_world.transform(*xy)) for xy in drawn["geometry"]["coordinates"][0]]
    file = write(tmp_path / "a.geojson", feature({"type": "Polygon", "coordinates": [ring]}))
    report = import_plan(file, tmp_path / "s", "ground", crs="EPSG:3857")
    assert report.area_m2 == pytest.approx(600, abs=0.05)


def test_metres_far_from_zero_stay_as_given(tmp_path: Path) -> None:
    rooms = (box(1e6, 2e6, 1e6 + 5, 2e6 + 4), box(1e6 + 4.98, 2e6, 1e6 + 12, 2e6 + 4))
    import_plan(write(tmp_path / "a.geojson", *rooms), tmp_path / "s", "ground")
    floor = one_floor(tmp_path / "s")
    assert floor.map_frame is None
    assert floor.bounds == (1e6, 2e6, 1e6 + 12, 2e6 + 4)
    assert floor.area_m2 == pytest.approx(48)


def test_a_member_that_says_degrees_does_not_outweigh_coordinates_in_metres(tmp_path: Path) -> None:
    member = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, crs=member)
    assert import_plan(file, tmp_path / "s", "ground").width_m == 12


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"units": "feet"}, "is no unit; write one of lonlat, metres"),
        ({"crs": "EPSG:nope"}, "not a coordinate reference system"),
        ({"crs": "EPSG:2263"}, "not a projected system in metres"),  # New York in US feet
        ({"crs": "EPSG:4326", "units": "metres"}, "coordinates are in metres"),
        ({"crs": "EPSG:25832", "units": "lonlat"}, "coordinates are in degrees"),
    ],
)
def test_units_that_contradict_each_other_are_refused(
    tmp_path: Path, options: dict[str, Any], says: str
) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    with pytest.raises(HgmapError, match=says):
        import_plan(file, tmp_path / "s", "ground", **options)
    assert not (tmp_path / "s").exists()


def test_a_plan_between_degrees_and_metres_asks_which(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 0.5, 0.5))
    with pytest.raises(PlanError, match="degrees or metres"):
        import_plan(file, tmp_path / "s", "ground")
    assert import_plan(file, tmp_path / "s", "ground", units="metres").area_m2 == 0.25


def test_a_plan_in_millimetres_is_refused(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(0, 0, 12000, 8000))
    with pytest.raises(PlanError, match=r"span 12000 m.*millimetres"):
        import_plan(file, tmp_path / "s", "ground")


def test_a_region_is_imported_where_somebody_says_it_is_in_metres(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", box(400_000, 7_400_000, 900_000, 7_800_000))
    with pytest.raises(PlanError, match="--units metres"):
        import_plan(file, tmp_path / "s", "region")
    report = import_plan(file, tmp_path / "s", "region", units="metres")
    assert report.area_m2 == pytest.approx(2e11)


def test_a_map_frame_is_never_laid_over_floors_that_have_no_place(tmp_path: Path) -> None:
    import_plan(write(tmp_path / "a.geojson", *TWO_ROOMS), tmp_path / "s", "ground")
    before = (tmp_path / "s" / "site.toml").read_bytes()
    degrees = write(tmp_path / "b.geojson", lonlat_box(0, 0, 30, 20))
    with pytest.raises(PlanError, match="other floors have none"):
        import_plan(degrees, tmp_path / "s", "upper")
    assert (tmp_path / "s" / "site.toml").read_bytes() == before
    import_plan(degrees, tmp_path / "s", "ground", replace=True)
    assert one_floor(tmp_path / "s").map_frame == local_frame_at(11.5002, 48.10009)


# The site folder


def test_a_new_site_stays_valid_when_its_hints_are_taken_up() -> None:
    text = new_site.new_site_text('Mill "house"')
    assert parse_site_table(text, where="").use is None
    hints = [
        one[2:] if one.startswith("# ") and ("=" in one or "[" in one) else one
        for one in text.splitlines()
    ]
    table = parse_site_table("\n".join(hints).replace('name = ""', 'name = "x"'), where="")
    assert (table.name, table.use, len(table.rounds)) == ('Mill "house"', "dwelling", 1)
    assert all(use in text for use in new_site.USES)


@pytest.mark.parametrize(
    "floors",
    [
        '[[floors]]\nname = "cellar"\nplan = "plans/c.geojson"  # the old one\n\n# visits\n'
        '[[rounds]]\nname = "before"\n',
        'floors = [{name = "cellar", plan = "plans/c.geojson"}]  # the old one\n',
    ],
)
def test_adding_a_floor_keeps_comments_and_all_that_was_said(tmp_path: Path, floors: str) -> None:
    site = tmp_path / "s"
    site.mkdir()
    text = f'# our house\nname = "Mill"  # by the river\n{floors}'
    (site / "site.toml").write_text(text, encoding="utf-8")
    import_plan(write(tmp_path / "a.geojson", *TWO_ROOMS), site, "ground", title="G", use="school")
    after = (site / "site.toml").read_text(encoding="utf-8")
    assert all(comment in after for comment in ("# our house", "# by the river", "# the old one"))
    said, was = tomllib.loads(after), tomllib.loads(text)
    added = {"name": "ground", "title": "G", "plan": "plans/ground.geojson"}
    assert said == {**was, "use": "school", "floors": [*was["floors"], added]}


def test_a_floor_of_the_same_name_is_refused_unless_replaced(tmp_path: Path) -> None:
    site = tmp_path / "s"
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    first = import_plan(file, site, "ground", title="Ground floor")
    with pytest.raises(PlanError, match="--replace"):
        import_plan(file, site, "ground")
    toml = (site / "site.toml").read_bytes()
    other = write(
        tmp_path / "b.geojson",
        box(20, 0, 30, 4, indoor="room", name="Lab"),
        box(5, 0, 12, 4, indoor="room", name="Hall"),
    )
    report = import_plan(other, site, "ground", replace=True)
    assert (report.plan, report.made_site) == (first.plan, False)
    assert (site / "site.toml").read_bytes() == toml
    look = [one.text for one in report.doubts]
    assert "room 'Lab' is another place now; check the readings that name it" in look
    assert "room 'room 1' was on the plan before and is no more" in look
    assert not any("Hall" in one for one in look)
    assert report.repairs == (), "nobody repaired what the new plan no longer has"


def test_a_room_that_takes_in_others_is_named_when_its_plan_is_replaced(tmp_path: Path) -> None:
    site = tmp_path / "s"
    import_plan(write(tmp_path / "a.geojson", *TWO_ROOMS), site, "ground")
    wall_lost = write(tmp_path / "b.geojson", box(0, 0, 12, 4, indoor="room", name="Lab"))
    report = import_plan(wall_lost, site, "ground", replace=True)
    assert any(
        one.text == "room 'Lab' had 20.0 m² and has 48.0 m² now; check the readings that name it"
        for one in report.doubts
    )


def test_an_opening_that_a_round_calls_sealed_is_named_when_it_is_another_now(
    tmp_path: Path,
) -> None:
    def plan(door_y: float, identifier: str) -> Path:
        line = {"type": "LineString", "coordinates": [[5, door_y], [5, door_y + 0.9]]}
        door = {"type": "Feature", "geometry": line,
                "properties": {"kind": "opening", "id": identifier}}  # fmt: skip
        rooms = [box(x, 0, x + 5, 4, kind="room", name=f"at {x}") for x in (0, 5)]
        return write(tmp_path / "plan.geojson", *rooms, door)

    site = tmp_path / "s"
    import_plan(plan(0.5, "D1"), site, "ground")
    with (site / "site.toml").open("a", encoding="utf-8") as file:
        file.write('[[rounds]]\nname = "before"\n[rounds.openings.ground]\n"D1" = "sealed"\n')
    same = import_plan(plan(0.6, "D1"), site, "ground", replace=True)
    assert not same.doubts
    elsewhere = import_plan(plan(2.5, "D1"), site, "ground", replace=True)
    (line,) = [one.text for one in elsewhere.doubts]
    assert "'D1', which round 'before' calls sealed, is another opening now" in line
    gone = import_plan(plan(2.5, "D7"), site, "ground", replace=True)
    assert any("is no more on the plan" in one.text for one in gone.doubts)


@pytest.mark.parametrize("name", ["Ground floor", "GROUND FLOOR"])
def test_a_floor_is_not_called_by_the_title_of_another(tmp_path: Path, name: str) -> None:
    site = tmp_path / "s"
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    import_plan(file, site, "ground", title="Ground floor")
    import_plan(file, site, "first")
    before = (site / "site.toml").read_bytes()
    with pytest.raises(PlanError, match=f"floor 'ground' is called '{name}' already"):
        import_plan(file, site, name)
    with pytest.raises(PlanError, match="is called 'Ground floor' already"):
        import_plan(file, site, "second", title="Ground floor")
    with pytest.raises(PlanError, match="is called 'ground' already"):
        import_plan(file, site, "first", title="ground", replace=True)
    assert (site / "site.toml").read_bytes() == before


def test_floors_that_would_share_a_file_are_refused(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    import_plan(file, tmp_path / "s", "Level 1")
    with pytest.raises(PlanError, match="file name of floor 'Level 1'"):
        import_plan(file, tmp_path / "s", "level/1")


def test_a_plan_that_stands_there_already_is_not_overwritten(tmp_path: Path) -> None:
    plan = tmp_path / "s" / "plans" / "ground.geojson"
    plan.parent.mkdir(parents=True)
    plan.write_text("mine", encoding="utf-8")
    with pytest.raises(PlanError, match="there already"):
        import_plan(write(tmp_path / "a.geojson", *TWO_ROOMS), tmp_path / "s", "ground")
    assert plan.read_text(encoding="utf-8") == "mine"


def test_the_use_is_checked_against_the_known_ones_and_the_site(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS)
    with pytest.raises(SiteError, match="did you mean 'dwelling'"):
        import_plan(file, tmp_path / "s", "ground", use="dweling")
    import_plan(file, tmp_path / "s", "ground", use="school")
    with pytest.raises(SiteError, match="use is 'school'"):
        import_plan(file, tmp_path / "s", "upper", use="dwelling")


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *TWO_ROOMS, box(4, 1, 7, 3.123456, indoor="area"))
    plans = [import_plan(file, tmp_path / s, "ground").plan.read_bytes() for s in ("s", "t")]
    assert plans[0] == plans[1]
    assert b"3.1235" in plans[0]
    assert b"3.12345" not in plans[0]


def test_a_plan_is_taken_back_when_site_toml_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(path: Path, text: str) -> None:
        raise HgmapError("cannot be written", where=path.name)

    monkeypatch.setattr(new_site, "write_site_text", fail)
    with pytest.raises(HgmapError, match="cannot be written"):
        import_plan(write(tmp_path / "a.geojson", *TWO_ROOMS), tmp_path / "s", "ground")
    assert [one for one in (tmp_path / "s").rglob("*") if one.is_file()] == []


# Bad input


def spoilt(*features: Any) -> str:
    return json.dumps({"type": "FeatureCollection", "features": list(features)})


GOOD = box(0, 0, 5, 4, name="Lab")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (spoilt(GOOD)[:-30], "is not GeoJSON"),
        ("[" * 200_000, "nested too deeply"),
        ('{"features": [' + "9" * 5000 + "]}", "is not GeoJSON"),
        (json.dumps(GOOD), "no list of features"),
        ("[]", "no list of features"),
        (spoilt(), "has no feature"),
        (spoilt(point(1, 1, name="x")), "has no room"),
        (spoilt(line((0, 0), (1, 1), kind="room")), "has no room"),
        (spoilt(GOOD, ring_of((0, 9), (1, float("nan")), (2, 11), (0, 12))), "feature 2.*finite"),
        (spoilt(GOOD, ring_of((0, 9), (1e999, 9), (2, 11))), "feature 2.*finite"),
        (spoilt(GOOD, feature({"type": "Polygon", "coordinates": 5})), "feature 2"),
        (spoilt(GOOD, feature({"type": "Polygon", "coordinates": [[["a", 1]] * 4]})), "feature 2"),
        (
            spoilt(GOOD, feature({"type": "Polygon", "coordinates": [[[6, 0], [9, 0], [9, 4]]]})),
            "feature 2.*not closed",
        ),
        (spoilt(GOOD, ring_of((6, 0, 3), (9, 0, 3), (9, 4, 3), name="Up"), ring_of((0, 9, 0), (
            1, 9, 0), (1, 10, 0))), r"heights from 0 m \(feature 3\) to 3 m \(feature 2 \(Up\)\)"),
    ],
)  # fmt: skip
def test_bad_input_is_refused_in_one_line_and_leaves_no_trace(
    tmp_path: Path, text: str, says: str
) -> None:
    file = tmp_path / "a.geojson"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(PlanError, match=says) as caught:
        import_plan(file, tmp_path / "s", "ground")
    assert "\n" not in str(caught.value)
    assert "a.geojson" in str(caught.value)
    assert not (tmp_path / "s").exists()


def test_one_height_for_all_corners_is_dropped(tmp_path: Path) -> None:
    room = ring_of((0, 0, 3.2), (5, 0, 3.2), (5, 4, 3.2))
    file = write(tmp_path / "a.geojson", room)
    assert import_plan(file, tmp_path / "s", "ground").area_m2 == pytest.approx(10)


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=3) | st.sampled_from(["room", "0"]),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["type", "coordinates", "kind", "level", "name", "geometry"]), inner
        )
    ),
    max_leaves=12,
)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(
    st.builds(
        lambda kind, coordinates, properties: {
            "geometry": {"type": kind, "coordinates": coordinates},
            "properties": properties,
        },
        st.sampled_from(["Polygon", "MultiPolygon", "Point", "LineString", "GeometryCollection"])
        | JSON,
        JSON,
        JSON,
    )
    | JSON
)
def test_no_feature_whatever_raises_anything_but_a_plan_error(made: Any) -> None:
    for good in (GOOD, box(0, 0, 5, 4, kind="room"), box(0, 0, 5, 4, indoor="room")):
        try:
            features, _ = read_features({"features": [good, made]}, where=None, file="a.geojson")
        except PlanError:
            continue
        assert features[0].number == 1


# A file that nobody here wrote


@pytest.mark.skipif(not MALL.exists(), reason="the outside data folder is not on this machine")
@pytest.mark.parametrize(
    ("level", "rooms", "walls", "openings", "far"),
    # counted in the file with a dozen lines of plain Python: indoor polygons of the level, walls
    [("-1", 10, 1, 0, 0), ("0", 55, 2, 5, 5), ("1", 8, 0, 0, 0)],
)
def test_a_mapped_shopping_street_imports_level_by_level(
    tmp_path: Path, level: str, rooms: int, walls: int, openings: int, far: int
) -> None:
    with pytest.raises(PlanError, match=r"has 3 storeys \(-1, 0, 1\)"):
        import_plan(MALL, tmp_path / "s", "one floor")
    report = import_plan(MALL, tmp_path / "s", "one floor", where=f"level={level}")
    assert (report.rooms, report.walls, report.openings) == (rooms, walls, openings)
    assert sum("from the nearest room edge" in one for one in report.skipped) == far
    floor = one_floor(tmp_path / "s", "one floor")
    geod = pyproj.Geod(ellps="WGS84")
    tags = json.loads(MALL.read_text(encoding="utf-8"))["features"]
    drawn = [
        abs(geod.geometry_area_perimeter(shapely.geometry.shape(one["geometry"]))[0])
        for one in tags
        if one["properties"].get("indoor") in ("room", "corridor")
        and one["geometry"]["type"] == "Polygon"
        and level in (one["properties"].get("level") or "").split(";")
    ]
    assert len(drawn) == rooms
    assert floor.area_m2 == pytest.approx(sum(drawn), rel=1e-5)  # geodesic areas, by pyproj


def test_a_kind_that_is_not_known_is_named_with_those_that_are(tmp_path: Path) -> None:
    rooms = [box(0, 0, 4, 4, kind="room", id="A"), box(4, 0, 8, 4, kind="room", id="B")]
    door = box(3.9, 1, 4.1, 2, kind="hatch")
    report = import_plan(
        write(tmp_path / "a.geojson", *rooms, door), tmp_path / "site", "ground", units="metres"
    )
    assert len(report.skipped) == 1
    assert "of kind hatch 1; known kinds: room, wall, opening" in report.skipped[0]
    assert not report.use_stated
