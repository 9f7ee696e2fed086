"""EnergyPlus input files: zones become rooms on their storeys; what cannot be read says so."""

from __future__ import annotations

import contextlib
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.idf import NO_OPENINGS, draw_idf
from hgmap.site.importers.idf_text import read_idf
from hgmap.site.plan import OVERLAP_ALLOWED_M2

HOSPITAL = (
    Path(__file__).parents[4] / "shared" / "data" / "plans" / "doe-Hospital_STD2010_Chicago.idf"
)
RULES = "GlobalGeometryRules, UpperLeftCorner, CounterClockWise, {system};\n"


def draw(text: str, *, system: str = "World") -> tuple[Drawing, ...]:
    return draw_idf((RULES.format(system=system) + text).encode(), file="m.idf")


def floor(zone: str, x: float, y: float, width: float, depth: float, z: float = 0.0) -> str:
    corners = [(x, y), (x, y + depth), (x + width, y + depth), (x + width, y)]  # seen from below
    numbers = ", ".join(f"{a!r}, {b!r}, {z!r}" for a, b in corners)
    return (
        f"BuildingSurface:Detailed, {zone} {x} {y} {z}, Floor, slab, {zone}, Ground, , NoSun, "
        f"NoWind, 0, 4, {numbers};\n"
    )


def wall(name: str, zone: str, start: tuple[float, float], end: tuple[float, float]) -> str:
    (a, b), (c, d) = start, end  # from left to right, seen from outside
    corners = f"{a},{b},3, {a},{b},0, {c},{d},0, {c},{d},3"
    return f"Wall:Detailed, {name}, board, {zone}, Surface, , NoSun, NoWind, 0, 4, {corners};\n"


def areas(drawing: Drawing) -> dict[str, float]:
    return {one.name: round(one.geometry.area, 6) for one in drawing.of_role("room")}


@pytest.mark.skipif(not HOSPITAL.is_file(), reason="needs ../shared/data, which is not here")
def test_the_hospital_has_six_storeys_and_its_zones_have_the_areas_that_their_volumes_say() -> None:
    data = HOSPITAL.read_bytes()
    storeys = draw_idf(data, file="hospital.idf")
    assert [round(one.elevation_m or 0.0, 4) for one in storeys] == [
        -2.439, 0, 4.2683, 8.5366, 12.8049, 17.0732,
    ]  # fmt: skip
    assert [len(one.of_role("room")) for one in storeys] == [1, 9, 11, 13, 13, 8]
    zones = {one.name: one for one in read_idf(data, file="")["zone"]}
    drawn = {one.name: one for storey in storeys for one in storey.of_role("room")}
    assert drawn.keys() == zones.keys()
    for name, room in drawn.items():  # the file states volume and height of each zone
        stated = zones[name].number(8) / zones[name].number(7)
        assert room.geometry.area == pytest.approx(stated, rel=2e-3), name
        assert room.geometry.is_valid
        assert room.geometry.geom_type == "Polygon"
    for storey in storeys[1:]:
        assert NO_OPENINGS in storey.notes
        shapes = [one.geometry for one in storey.of_role("room")]
        shared = sum(one.area for one in shapes) - shapely.union_all(shapes).area
        assert shared <= OVERLAP_ALLOWED_M2  # as drawn: 0.018 m² on the highest storey
    assert any("'ER_Exam1_Mult4_Flr_1' stands for 4 alike" in note for note in storeys[1].notes)
    assert any("-90 degrees" in note for note in storeys[0].notes)


storey_heights = st.lists(st.integers(-3, 40), min_size=1, max_size=6, unique=True)
sides = st.integers(1, 400).map(lambda n: n / 8)


@given(storey_heights, st.lists(st.tuples(sides, sides), min_size=1, max_size=5), st.randoms())
def test_storeys_and_rooms_come_back_in_whatever_order_they_are_written(
    heights: list[int], sizes: list[tuple[float, float]], random: np.random.Generator
) -> None:
    lines = []
    for height in heights:
        x = 0.0
        for number, (width, depth) in enumerate(sizes):
            lines.append(floor(f"Z{height}-{number}", x, 0.0, width, depth, 4.0 * height))
            x += width
    random.shuffle(lines)  # type: ignore[arg-type]
    storeys = draw("".join(lines))
    assert [one.elevation_m for one in storeys] == [4.0 * one for one in sorted(heights)]
    for storey, height in zip(storeys, sorted(heights), strict=True):
        assert areas(storey) == {
            f"Z{height}-{n}": round(width * depth, 6) for n, (width, depth) in enumerate(sizes)
        }


def test_a_zone_is_turned_clockwise_and_moved_where_coordinates_are_relative() -> None:
    zone = "Zone, Lab, 90, 10, 20, 4;\n"
    (moved,) = draw(zone + floor("Lab", 0, 0, 6, 2), system="Relative")
    assert moved.of_role("room")[0].geometry.bounds == pytest.approx((10, 14, 12, 20))
    assert moved.elevation_m == 4
    (fixed,) = draw(zone + floor("Lab", 0, 0, 6, 2), system="World")
    assert fixed.of_role("room")[0].geometry.bounds == (0, 0, 6, 2)


def test_floors_of_a_zone_on_one_storey_are_one_room_and_on_two_storeys_two() -> None:
    text = floor("Lab", 0, 0, 6, 2) + floor("LAB", 0, 2, 3, 2) + floor("Lab", 0, 0, 3, 2, 4.0)
    low, high = draw("Zone, Lab;\n" + text)
    assert areas(low) == {"Lab": 18}
    assert areas(high) == {"Lab": 6}


def test_a_ceiling_stands_for_a_floor_that_is_missing() -> None:
    roof = floor("Lab", 0, 0, 6, 2, 3.0).replace("Floor", "Roof")
    (only,) = draw(roof + wall("w", "Lab", (0, 0), (6, 0)))
    assert areas(only) == {"Lab": 12}
    assert only.elevation_m == 0
    assert "zone 'Lab' has no floor: its ceiling is drawn" in only.notes


def test_rectangles_are_laid_out_from_their_corner() -> None:
    (only,) = draw(
        "Floor:GroundContact, F, slab, Lab, 180, 180, 1, 6, 0, 4, 5;\n"
        "Floor:Interzone, G, slab, Store, other, 90, 180, 20, 3, 0, 4, 5;\n"
    )
    assert areas(only) == {"Lab": 20, "Store": 20}
    lab, store = only.of_role("room")
    # looked at from below with its top to the north, it runs east and south
    assert lab.geometry.bounds == pytest.approx((1, 1, 5, 6))
    assert store.geometry.bounds == pytest.approx((20, 3, 25, 7))


@pytest.mark.parametrize("newer", [False, True])
def test_doors_are_read_in_both_forms_of_the_format_and_once_though_they_stand_twice(
    newer: bool,
) -> None:
    shading = "" if newer else ", "
    space = ", Bench" if newer else ""
    two = floor("Lab", 0, 0, 6, 4) + floor("Store", 6, 0, 3, 4)
    two = two.replace(", Lab, Ground", f", Lab{space}, Ground")
    walls = wall("w1", "Lab", (6, 0), (6, 4)) + wall("w2", "Store", (6, 4), (6, 0))
    door = "FenestrationSurface:Detailed, {}, Door, wood, {}, , 0{}, , 1, 4, {};\n"
    there = "6,1,2.1, 6,1,0, 6,2,0, 6,2,2.1"
    back = "6,2,2.1, 6,2,0, 6,1,0, 6,1,2.1"
    doors = door.format("d1", "w1", shading, there) + door.format("d2", "w2", shading, back)
    window = door.replace("Door", "Window").format("x", "w1", shading, there)
    (only,) = draw(two + walls + doors + window)
    assert set(areas(only)) == ({"Bench", "Store"} if newer else {"Lab", "Store"})
    assert [one.geometry.wkt for one in only.of_role("door")] == ["LINESTRING (6 1, 6 2)"]
    assert NO_OPENINGS not in only.notes


def test_a_plain_door_is_measured_from_the_left_end_of_its_wall_seen_from_outside() -> None:
    text = floor("Lab", 0, 0, 6, 4) + wall("south", "Lab", (0, 0), (6, 0))
    (only,) = draw(text + "Door, d, wood, south, 1, 1.5, 0, 0.9, 2.1;\n")
    (door,) = only.of_role("door")
    assert shapely.get_coordinates(door.geometry) == pytest.approx(np.array([[1.5, 0], [2.4, 0]]))
    clockwise = RULES.replace("Counter", "").format(system="World")
    turned = wall("south", "Lab", (6, 0), (0, 0))
    data = clockwise + floor("Lab", 0, 0, 6, 4) + turned
    data += "Door, d, wood, south, 1, 1.5, 0, 0.9, 2.1;\n"
    (again,) = draw_idf(data.encode(), file="m.idf")
    assert again.of_role("door")[0].geometry.equals(door.geometry)


def test_a_wall_of_air_is_an_opening_as_long_as_itself() -> None:
    two = floor("Lab", 0, 0, 6, 4) + floor("Store", 6, 0, 3, 4)
    text = two + wall("w1", "Lab", (6, 0), (6, 4)).replace("board", "Nothing")
    (only,) = draw(text + "Construction:AirBoundary, nothing, GroupedZones;\n")
    assert [one.geometry.length for one in only.of_role("door")] == [4]


def test_a_floor_that_differs_from_the_area_stated_is_told() -> None:
    zone = "Zone, Lab, 0, 0, 0, 0, 1, 1, 3, 72, {}, , , Yes;\n"
    (right,) = draw(zone.format(24) + floor("Lab", 0, 0, 6, 4))
    assert right.notes == ()
    (wrong,) = draw(zone.format(30) + floor("Lab", 0, 0, 6, 4))
    assert wrong.notes == ("zone 'Lab': its floor is 24.00 m², the file states 30.00 m²",)
    (group,) = draw("ZoneGroup, Middle, List, 8;\n" + floor("Lab", 0, 0, 6, 4))
    assert "zone group 'Middle' stands for 8 alike, and is drawn once" in group.notes
    (plenum,) = draw(zone.replace("Yes", "No").format(24) + floor("Lab", 0, 0, 6, 4))
    assert "plenum" in plenum.notes[0]


def test_a_bad_surface_is_left_out_with_its_line_and_the_good_ones_survive() -> None:
    bad = floor("Store", 6, 0, 3, 4).replace("9, 4, 0.0", "nan, 4, 0.0")
    few = floor("Hall", 9, 0, 3, 4).replace(", 4, 9", ", 5, 9")
    (only,) = draw(floor("Lab", 0, 0, 6, 4) + bad + few)
    assert areas(only) == {"Lab": 24}
    assert only.notes[0].startswith(
        "m.idf, line 3, buildingsurface:detailed 'Store 6 0 0.0': 'nan'"
    )
    assert "not as many as it says" in only.notes[1]


def test_a_floor_that_crosses_itself_is_left_out_and_one_with_a_bridge_to_its_hole_is_not() -> None:
    bow = floor("Bow", 9, 0, 4, 4).replace("9, 4, 0.0, 13, 4, 0.0", "13, 4, 0.0, 9, 4, 0.0")
    ring = [(0, 0), (6, 0), (6, 4), (0, 4), (0, 0), (2, 1), (2, 3), (4, 3), (4, 1), (2, 1)]
    corners = ", ".join(f"{x}, {y}, 0" for x, y in ring)
    text = f"Floor:Detailed, court, slab, Lab, Ground, , NoSun, NoWind, 0, 10, {corners};\n"
    (drawing,) = draw(text + bow)
    assert areas(drawing) == {"Lab": 20}
    assert "its outline crosses itself (left out)" in drawing.notes[0]


GOOD = RULES.format(system="World") + floor("Lab", 0, 0, 6, 4)


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"", "m.idf: is empty"),
        (b"PK\x03\x04....", "is no text"),
        (b'{"Version": {}}', "epJSON"),
        (b"room,x,y\nLab,1,2\n", "the file ends inside an object that began here"),
        (GOOD.encode()[:-40], "m.idf, line 2: the file ends inside an object"),
        (b"##include other.imf\n" + GOOD.encode(), "m.idf, line 1: holds macros"),
        (b"Zone, Lab;", "no GlobalGeometryRules"),
        (GOOD.replace("World", "Mars").encode(), "'mars' is not Relative or World"),
        (RULES.format(system="World").encode() + b"Zone, Lab;", "no zone has a floor"),
        (
            GOOD.replace("6, 4", "1e9, 4").replace("0.0, 4", "1e9, 4").encode(),
            "no zone has a floor",
        ),
        (b"! only a remark\n", "has no object"),
        (b"a word\n" * 5000, "an object without an end begins here"),
        (b"1,\n" * 30000, "an object without an end begins here"),
    ],
)
def test_what_is_no_model_with_floors_is_refused_in_one_line(data: bytes, complaint: str) -> None:
    with pytest.raises(PlanError) as caught:
        draw_idf(data, file="m.idf")
    assert complaint in str(caught.value)
    assert str(caught.value).startswith("m.idf")
    assert "\n" not in str(caught.value)
    assert caught.value.todo


@given(st.binary(max_size=60))
def test_a_model_damaged_anywhere_is_read_or_refused_but_never_breaks(junk: bytes) -> None:
    data = GOOD.encode()
    for damaged in (data[:70] + junk + data[70:], data + junk, junk):
        with contextlib.suppress(PlanError):
            draw_idf(damaged, file="m.idf")
