"""IFC: storeys, spaces, walls and doors as the file places them; what is not whole is refused."""

from __future__ import annotations

import contextlib
import functools
import io
import math
import zipfile

import numpy as np
import pyproj
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import box

pytest.importorskip("ifcopenshell", reason="needs the extra ifc")

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing, Part, Role
from hgmap.site.importers.ifc import draw_ifc
from hgmap.site.importers.ifc_shapes import Mesh
from tests.site.importers.ifc_house import House, rectangle, two_rooms


def draw(house: House) -> tuple[Drawing, ...]:
    return draw_ifc(house.data(), file="house.ifc")


def only(drawing: Drawing, role: Role) -> Part:
    (part,) = drawing.of_role(role)
    return part


def same(shape: shapely.Geometry, wanted: shapely.Geometry) -> bool:
    return bool(shape.symmetric_difference(wanted).area < 1e-4 * wanted.area)


@pytest.mark.parametrize("schema", ["IFC4", "IFC2X3", "IFC4X3"])
@pytest.mark.parametrize("units", ["m", "mm", "ft"])
def test_storeys_spaces_walls_and_doors_come_in_metres_whatever_the_unit(
    units: str, schema: str
) -> None:
    ground, upper = draw(two_rooms(House(units, schema)))
    assert (ground.storey, upper.storey) == ("Ground", "Upper")
    assert (ground.elevation_m, upper.elevation_m) == pytest.approx((0, 3.2))
    assert ground.metres_per_unit == 1
    assert ground.crs is None
    lab, store = ground.of_role("room")
    assert (lab.name, lab.id, store.name, store.id) == ("Lab", "G01", "Store", "")
    assert same(lab.geometry, box(0, 0, 6, 4))
    assert same(store.geometry, box(6.2, 0, 9.2, 4))
    assert same(only(ground, "door").geometry, box(6, 1, 6.2, 1.9))
    assert same(only(ground, "window").geometry, box(2, -0.3, 3.5, 0))
    # whole, though doors and windows have made holes in them
    assert [round(one.geometry.area, 6) for one in ground.of_role("wall")] == [0.8, 2.76]
    assert [(one.role, one.name) for one in upper.parts] == [("room", "Office")]
    assert ground.notes == upper.notes == ()


def test_what_a_site_is_moved_and_turned_by_is_in_the_coordinates() -> None:
    ground, _ = draw(two_rooms(House("mm", site_at=(100, 50), site_turned_deg=30)))
    turn = math.radians(30)
    matrix = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    wanted = shapely.transform(box(0, 0, 6, 4), lambda xy: xy @ matrix.T + (100, 50))
    assert same(ground.of_role("room")[0].geometry, wanted)
    door = shapely.transform(box(6, 1, 6.2, 1.9), lambda xy: xy @ matrix.T + (100, 50))
    assert same(only(ground, "door").geometry, door)


@pytest.mark.parametrize(("units", "scale"), [("m", None), ("mm", 0.001), ("mm", None)])
def test_a_map_conversion_puts_the_plan_on_its_map(units: str, scale: float | None) -> None:
    house = two_rooms(House(units))
    house.on_the_map("EPSG:25832", east=500_000, north=5_400_000, turned_deg=90, scale=scale)
    ground, _ = draw(house)
    assert ground.crs == pyproj.CRS("EPSG:25832")
    assert ground.notes == ()
    # x runs north, y west: the laboratory is 6 m long to the north
    assert same(ground.of_role("room")[0].geometry, box(499_996, 5_400_000, 500_000, 5_400_006))


def test_a_scale_of_the_map_is_used_where_it_is_one() -> None:
    house = two_rooms(House("m"))
    house.on_the_map("EPSG:25832", east=500_000, north=5_400_000, scale=0.9996)
    room = draw(house)[0].of_role("room")[0].geometry
    assert room.area == pytest.approx(24 * 0.9996**2, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "east", "scale", "complaint"),
    [
        ("EPSG:2263", 980_000, None, "EPSG:2263 is not in metres"),
        ("nowhere", 500_000, None, "'nowhere' is not known"),
        ("EPSG:25832", 9e9, None, "lies outside EPSG:25832"),
    ],
)
def test_a_place_that_is_none_is_told_and_left_out(
    name: str, east: float, scale: float | None, complaint: str
) -> None:
    house = two_rooms(House("m"))
    house.on_the_map(name, east=east, north=5_400_000, scale=scale)
    ground, _ = draw(house)
    assert ground.crs is None
    assert complaint in " ".join(ground.notes)
    assert same(ground.of_role("room")[0].geometry, box(0, 0, 6, 4))


def test_a_scale_that_would_make_rooms_of_another_size_is_left_out_and_told() -> None:
    house = two_rooms(House("m"))
    house.on_the_map("EPSG:25832", east=500_000, north=5_400_000, scale=2.0)
    ground, _ = draw(house)
    assert ground.of_role("room")[0].geometry.area == pytest.approx(24)
    assert "would make 1 m 2 m long" in ground.notes[0]


def test_walls_alone_are_drawn_and_walls_of_two_storeys_stand_on_both() -> None:
    house = House()
    low, high = house.storey("0", 0.0), house.storey("1", 3.0)
    house.wall(low, rectangle(0, 0, 6, 0.2), high_m=6.0)
    house.wall(low, rectangle(0, 3, 6, 3.2))
    house.wall(high, rectangle(0, 1, 6, 1.2), high_m=0.9, name="parapet")
    house.wall(high, rectangle(0, 2, 6, 2.2), name="upper")
    ground, first = draw(house)
    assert [one.geometry.bounds for one in ground.of_role("wall")] == [
        (0, 0, 6, 0.2), (0, 3, 6, 3.2),
    ]  # fmt: skip
    assert [one.label.partition("(")[2] for one in first.of_role("wall")] == ["wall)", "upper)"]


def test_a_hole_to_walk_through_is_a_door_and_a_hatch_is_none() -> None:
    house = House()
    ground = house.storey("0", 0.0)
    wall = house.wall(ground, rectangle(0, 0, 6, 0.2))
    house.hole(wall, ground, rectangle(1, -0.1, 2, 0.3))
    house.hole(wall, ground, rectangle(3, -0.1, 4, 0.3), low_m=1.0, high_m=2.0)
    (drawing,) = draw(house)
    assert same(only(drawing, "door").geometry, box(1, 0, 2, 0.2))


def test_a_door_that_fills_no_hole_is_as_wide_as_it_says_along_its_x_axis() -> None:
    house = House("ft")
    ground = house.storey("0", 0.0)
    house.wall(ground, rectangle(0, 0, 6, 0.2))
    house.fill(None, ground, "IfcDoor", 0.9, at=(2, 0), turned_deg=90)
    (drawing,) = draw(house)
    ends = shapely.get_coordinates(only(drawing, "door").geometry)
    assert ends == pytest.approx(np.array([[2, 0], [2, 0.9]]))


def test_rooms_without_any_opening_are_told() -> None:
    house = House()
    ground = house.storey("0", 0.0)
    house.space(ground, "A", rectangle(0, 0, 3, 3))
    house.space(ground, "B", rectangle(3, 0, 6, 3))
    (drawing,) = draw(house)
    assert "no openings on this storey" in drawing.notes[-1]


def test_a_space_that_is_only_lines_on_the_floor_is_a_room_with_its_courtyard_left_out() -> None:
    house = House("mm", site_at=(100, 50), site_turned_deg=90)
    ground = house.storey("0", 0.0)
    house.drawn_space(ground, "ring", rectangle(0, 0, 6, 4), rectangle(2, 1, 4, 3))
    (drawing,) = draw(house)
    wanted = box(96, 50, 100, 56).difference(box(97, 52, 99, 54))
    assert same(only(drawing, "room").geometry, wanted)


def test_a_room_whose_walls_lean_is_drawn_as_cut_and_told() -> None:
    house = House()
    ground = house.storey("0", 0.0)
    roof = house.space(ground, "attic", rectangle(0, 0, 6, 4))
    solid = roof.Representation.Representations[0].Items[0]
    solid.ExtrudedDirection = house.file.createIfcDirection((0.6, 0.0, 0.8))
    (drawing,) = draw(house)
    # 1 m up along a direction of 3 to 4 it lies 0.75 m farther; 2 m high, it reaches 1.5 m
    assert same(only(drawing, "room").geometry, box(0.75, 0, 6.75, 4))
    assert "24.00 m² at 1 m above its floor, 30.00 m² seen from above" in drawing.notes[0]


def test_a_low_room_is_looked_at_from_above_and_a_space_without_a_shape_is_told() -> None:
    house = House()
    ground = house.storey("0", 0.0)
    house.space(ground, "duct", rectangle(0, 0, 3, 3), height_m=0.6)
    house._spatial("IfcSpace", "ghost", ground)
    house.storey("roof", 9.0)
    (drawing,) = draw(house)
    assert same(only(drawing, "room").geometry, box(0, 0, 3, 3))
    assert any("(ghost): no shape (left out)" in note for note in drawing.notes)
    assert "storeys with no room and no wall: roof" in drawing.notes


def test_a_file_without_rooms_and_walls_is_refused() -> None:
    house = House()
    house.storey("0", 0.0)
    with pytest.raises(PlanError, match="no space and no wall"):
        draw(house)


def test_a_file_far_from_its_origin_is_refused() -> None:
    with pytest.raises(PlanError, match=r"lies 1e\+09 m from the origin"):
        draw(two_rooms(House(site_at=(1e9, 0))))


@pytest.mark.parametrize(
    "written",
    ["Küche".encode(), "Küche".encode("latin-1"), b"K\\X2\\00FC\\X0\\che", b"K\\S\\|che"],
)
def test_letters_are_read_as_the_standard_writes_them_and_as_people_do(written: bytes) -> None:
    data = two_rooms(House()).data().replace(b"'Lab'", b"'" + written + b"'")
    assert draw_ifc(data, file="house.ifc")[0].of_role("room")[0].name == "Küche"


def zipped(data: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("house.ifc", data)
    return out.getvalue()


BILLION = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "&c;&c;"><!ENTITY c "&d;&d;">]><a>&b;</a>'


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"", "is empty"),
        (b"room,x,y\n", "does not begin like an IFC file"),
        (zipped(b"ISO-10303-21;"), r"is a ZIP archive \(ifcZIP\)"),
        (BILLION, r"is XML \(ifcXML\)"),
        (b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\n", "is cut short"),
        (b"ISO-10303-21;\nHEADER;FILE_SCHEMA(('IFC9'));ENDSEC;DATA;ENDSEC;END-ISO-10303-21;\n",
         "cannot be read as IFC"),
        (b"ISO-10303-21;\nHEADER;FILE_SCHEMA(('IFC4'));ENDSEC;DATA;ENDSEC;END-ISO-10303-21;\n",
         "no space and no wall|cannot be read"),
    ],
)  # fmt: skip
def test_another_form_is_refused_in_one_line(data: bytes, complaint: str) -> None:
    with pytest.raises(PlanError, match=complaint) as caught:
        draw_ifc(data, file="house.ifc")
    assert str(caught.value).startswith("house.ifc: ")
    assert caught.value.todo


def test_a_file_with_an_entry_that_cannot_be_read_is_refused_for_a_room_may_be_missing() -> None:
    data = two_rooms(House()).data()
    with pytest.raises(PlanError, match=r"of its \d+ entries cannot be read"):
        draw_ifc(data.replace(b"IFCSPACE(", b"IFCSPACF(", 1), file="house.ifc")


@functools.cache
def whole() -> bytes:
    return two_rooms(House()).data()


@given(st.floats(0, 1), st.integers(0, 60), st.binary(max_size=12))
@settings(max_examples=60)
def test_a_file_damaged_anywhere_is_read_or_refused_but_never_breaks(
    share: float, length: int, junk: bytes
) -> None:
    data = whole()
    place = int(share * len(data))
    with contextlib.suppress(PlanError):
        draw_ifc(data[:place] + junk + data[place + length :], file="house.ifc")


def prism(rings: list[list[tuple[float, float]]], low: float, high: float) -> Mesh:
    """Walls of triangles over rings; no floor and no ceiling, which a cut does not need."""
    corners: list[tuple[float, float, float]] = []
    triangles: list[tuple[int, int, int]] = []
    for ring in rings:
        for (a, b), (c, d) in zip(ring, [*ring[1:], ring[0]], strict=True):
            n = len(corners)
            corners += [(a, b, low), (c, d, low), (c, d, high), (a, b, high)]
            triangles += [(n, n + 1, n + 2), (n, n + 2, n + 3)]
    return Mesh(np.array(corners), np.array(triangles))


sizes = st.floats(0.5, 50).map(lambda x: round(x, 3))


@given(sizes, sizes, st.floats(0.1, 0.45))
def test_a_cut_through_a_shaft_has_a_hole_in_it(width: float, depth: float, share: float) -> None:
    hole = [
        (share * width, share * depth),
        ((1 - share) * width, share * depth),
        ((1 - share) * width, (1 - share) * depth),
        (share * width, (1 - share) * depth),
    ]
    cut = prism([rectangle(0, 0, width, depth), hole], 0, 3).cut(1.0)
    assert cut.area == pytest.approx(width * depth * (1 - (1 - 2 * share) ** 2), rel=1e-4, abs=1e-4)
    assert prism([rectangle(0, 0, width, depth)], 0, 3).cut(4.0).is_empty
