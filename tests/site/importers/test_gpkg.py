"""GeoPackages become features like those of GeoJSON; a read leaves nothing beside the file."""

from __future__ import annotations

import functools
import io
import math
import sqlite3
import struct
import zipfile
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box
from shapely.geometry import shape

from hgmap.errors import PlanError
from hgmap.site.importers import gpkg
from hgmap.site.importers.features import read_features
from hgmap.site.importers.gpkg import gpkg_features

UTM = "EPSG:25832"


def write(
    path: Path, layer: str, geometry: list[Any], crs: str | None = UTM, **fields: Any
) -> Path:
    frame = gpd.GeoDataFrame(fields, geometry=geometry, crs=crs)
    kind = "Polygon" if not geometry else None
    pyogrio.write_dataframe(frame, path, layer=layer, geometry_type=kind)
    return path


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    path = write(tmp_path / "plan.gpkg", "rooms", [box(0, 0, 6, 4), box(6, 0, 9, 4)],
                 name=["Lab", "Store"], level=["-1;0", "0"], seats=[2, 0])  # fmt: skip
    write(path, "Walls of level 0", [LineString([(0, 0), (9, 0)])], name=["south"])
    write(path, "doors", [Point(6, 2)], kind=["opening"])
    return write(path, "remarks", [Point(1, 1)], text=["wet"])


def test_layers_say_what_their_features_are_where_these_do_not(plan: Path) -> None:
    features, crs, notes = gpkg_features(plan, file="plan.gpkg")
    assert crs == pyproj.CRS(UTM)
    assert notes == []
    kinds = [(one["properties"].get("kind"), one["properties"]["layer"]) for one in features]
    assert kinds == [("room", "rooms"), ("room", "rooms"), ("wall", "Walls of level 0"),
                     ("opening", "doors"), (None, "remarks")]  # fmt: skip
    assert features[0]["properties"] == {
        "name": "Lab", "level": "-1;0", "seats": 2, "layer": "rooms", "kind": "room",
    }  # fmt: skip
    assert [shape(one["geometry"]).area for one in features[:2]] == [24, 12]


def test_the_features_are_read_on_as_those_of_geojson(plan: Path) -> None:
    features, _, _ = gpkg_features(plan, file="plan.gpkg")
    (level,) = read_features(features, where="level=-1", file="plan.gpkg")
    assert [(one.role, one.name) for one in level.features] == [("room", "Lab")]


def test_a_kind_that_is_no_part_of_a_building_gives_way_to_the_layer_and_is_kept(
    tmp_path: Path,
) -> None:
    path = write(tmp_path / "a.gpkg", "spaces", [box(0, 0, 1, 1)] * 2, kind=["office", "wall"])
    (office, wall), _, _ = gpkg_features(path, file="a.gpkg")
    assert office["properties"]["kind"] == "room"
    assert office["properties"]["kind in the file"] == "office"
    assert wall["properties"]["kind"] == "wall"


def test_nothing_is_written_beside_the_file_and_nothing_in_it(plan: Path) -> None:
    with sqlite3.connect(plan) as opened:
        opened.execute("pragma journal_mode=wal")
    opened.close()
    before = plan.read_bytes()
    assert before[18:20] == b"\x02\x02"
    assert len(gpkg_features(plan, file="plan.gpkg")[0]) == 5
    assert [one.name for one in plan.parent.iterdir()] == ["plan.gpkg"]
    assert plan.read_bytes() == before


def test_changes_that_are_not_in_the_file_yet_are_not_passed_over(plan: Path) -> None:
    opened = sqlite3.connect(plan)
    opened.execute("pragma journal_mode=wal")
    opened.execute("update gpkg_contents set description = 'changed'")
    opened.commit()
    try:
        with pytest.raises(PlanError, match=r"changes that are not in it yet \(plan.gpkg-wal\)"):
            gpkg_features(plan, file="plan.gpkg")
    finally:
        opened.close()


def test_an_empty_layer_and_a_table_are_told(plan: Path) -> None:
    write(plan, "empty", [])
    with sqlite3.connect(plan) as opened:
        opened.execute("create table notes (id integer primary key, text text)")
        opened.execute("insert into gpkg_contents (table_name, data_type, identifier) "
                       "values ('notes', 'attributes', 'notes')")  # fmt: skip
    opened.close()
    _, _, notes = gpkg_features(plan, file="plan.gpkg")
    assert notes == ["layer 'empty' is empty", "layer 'notes' has no shapes: left out"]
    with pytest.raises(PlanError, match="has no feature"):
        gpkg_features(write(plan.parent / "b.gpkg", "rooms", []), file="b.gpkg")


def test_layers_of_different_systems_come_into_the_first(plan: Path) -> None:
    there = pyproj.Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
    write(plan, "rooms in degrees", [shapely.transform(box(500000, 5.4e6, 500006, 5400004),
          lambda xy: np.column_stack(there.transform(*xy.T)))], "EPSG:4326")  # fmt: skip
    features, crs, notes = gpkg_features(plan, file="plan.gpkg")
    assert crs == pyproj.CRS(UTM)
    assert shape(features[-1]["geometry"]).area == pytest.approx(24, abs=1e-6)
    assert notes == ["layer 'rooms in degrees' is in WGS 84: made ETRS89 / UTM zone 32N"]


def test_feet_on_the_map_become_longitude_and_latitude(tmp_path: Path) -> None:
    # EPSG:2263 counts US survey feet: 1200/3937 m each (US National Bureau of Standards, 1959)
    side_ft = 30 * 3937 / 1200
    room = box(980000, 190000, 980000 + side_ft, 190000 + side_ft)
    path = write(tmp_path / "a.gpkg", "rooms", [room], "EPSG:2263")
    (feature,), crs, notes = gpkg_features(path, file="a.gpkg")
    assert crs == pyproj.CRS("EPSG:4326")
    assert "US survey foot: made longitude and latitude" in notes[0]
    area, _ = pyproj.Geod(ellps="WGS84").geometry_area_perimeter(shape(feature["geometry"]))
    assert abs(area) == pytest.approx(900, rel=1e-3)


def test_axes_of_a_drawing_s_own_have_no_place_on_the_map(tmp_path: Path) -> None:
    for axes in (None, 'ENGCRS["site",EDATUM["site"],CS[Cartesian,2],AXIS["x",east],'
                       'AXIS["y",north],LENGTHUNIT["foot",0.3048]]'):  # fmt: skip
        path = tmp_path / f"{axes is None}.gpkg"
        if axes is None:
            with pytest.warns(UserWarning, match="crs"):
                write(path, "rooms", [box(0, 0, 10, 10)], None)
        else:
            write(path, "rooms", [box(0, 0, 10, 10)], axes)
        (feature,), crs, notes = gpkg_features(path, file="a.gpkg")
        assert crs is None
        side = 10 if axes is None else 3.048
        assert shape(feature["geometry"]).bounds == pytest.approx((0, 0, side, side))
        assert notes == ([] if axes is None else ["lengths are in foot: made metres"])


def test_some_layers_with_a_system_and_some_without_are_refused(plan: Path) -> None:
    with pytest.warns(UserWarning, match="crs"):
        write(plan, "sketch", [Point(0, 0)], None)
    with pytest.raises(PlanError, match="layer 'sketch' has no coordinate system"):
        gpkg_features(plan, file="plan.gpkg")


def test_heights_of_one_storey_are_dropped_and_told_and_heights_of_several_are_left(
    tmp_path: Path,
) -> None:
    flat = shapely.force_3d(box(0, 0, 6, 4), 2.0)
    path = write(tmp_path / "a.gpkg", "rooms", [flat])
    (feature,), _, notes = gpkg_features(path, file="a.gpkg")
    assert not shape(feature["geometry"]).has_z
    assert notes == ["corners have heights (z), which are left out"]
    high = write(tmp_path / "b.gpkg", "rooms", [flat, shapely.force_3d(box(0, 0, 6, 4), 6.0)])
    features, _, notes = gpkg_features(high, file="b.gpkg")
    assert notes == []
    with pytest.raises(PlanError, match="stand at heights from 2 m"):
        read_features(features, where=None, file="b.gpkg")


def put_geometry(path: Path, wkb: bytes) -> None:
    """Replace the geometry of every room; the index of places has to go for it."""
    with sqlite3.connect(path) as opened:
        for (name,) in opened.execute(
            "select name from sqlite_master where type = 'trigger' and tbl_name = 'rooms'"
        ).fetchall():
            opened.execute(f'drop trigger "{name}"')
        opened.execute(
            "update rooms set geom = ?", (b"GP\x00\x01" + struct.pack("<i", 25832) + wkb,)
        )
    opened.close()


def test_a_circle_of_arcs_becomes_chords(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", "rooms", [box(0, 0, 1, 1)])
    arc = struct.pack("<BII", 1, 8, 5) + struct.pack("<10d", 0, 0, 5, 5, 10, 0, 5, -5, 0, 0)
    put_geometry(path, struct.pack("<BII", 1, 10, 1) + arc)
    (feature,), _, _ = gpkg_features(path, file="a.gpkg")
    assert shape(feature["geometry"]).area == pytest.approx(25 * np.pi, rel=2e-3)


def test_measures_are_dropped_and_told(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", "rooms", [box(0, 0, 1, 1)])
    with sqlite3.connect(path) as opened:
        opened.execute("update gpkg_geometry_columns set m = 1")
    opened.close()
    ring = struct.pack("<12d", 0, 0, 7, 4, 0, 7, 4, 3, 7, 0, 0, 7)
    put_geometry(path, struct.pack("<BIII", 1, 2003, 1, 4) + ring)
    (feature,), _, notes = gpkg_features(path, file="a.gpkg")
    assert feature["geometry"]["coordinates"][0][1] == (4.0, 0.0)
    assert notes == ["layer 'rooms' has measures (m), which are left out"]


def test_a_feature_without_a_shape_is_handed_on_without_one(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", "rooms", [None, Polygon(), box(0, 0, 1, 1)])
    features, _, _ = gpkg_features(path, file="a.gpkg")
    assert [one["geometry"] is None for one in features] == [True, True, False]


def test_a_stored_query_is_never_run(plan: Path) -> None:
    with sqlite3.connect(plan) as opened:
        opened.execute(
            "create view endless as with recursive n(fid) as (select 1 union all select fid + 1 "
            "from n) select fid, geom from rooms, n"
        )
        opened.execute("insert into gpkg_contents (table_name, data_type, identifier, srs_id) "
                       "values ('endless', 'features', 'endless', 25832)")  # fmt: skip
        opened.execute("insert into gpkg_geometry_columns "
                       "values ('endless', 'geom', 'POLYGON', 25832, 0, 0)")  # fmt: skip
    opened.close()
    features, _, notes = gpkg_features(plan, file="plan.gpkg")
    assert len(features) == 5
    assert notes == ["layer 'endless' is a stored query: left out; export it as a layer"]


def test_coordinates_that_are_no_numbers_are_refused_when_they_are_read_on(tmp_path: Path) -> None:
    path = write(tmp_path / "a.gpkg", "rooms", [box(0, 0, 1, 1)])
    ring = struct.pack("<8d", 0, 0, math.nan, 0, 4, 3, 0, 0)
    put_geometry(path, struct.pack("<BIII", 1, 3, 1, 4) + ring)
    features, _, _ = gpkg_features(path, file="a.gpkg")
    with pytest.raises(PlanError, match=r"feature 1 .*not a number|finite|sound"):
        read_features(features, where=None, file="a.gpkg")


def test_more_features_than_a_building_has_are_refused(
    plan: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gpkg, "MOST_FEATURES", 4)
    with pytest.raises(PlanError, match="has more than 4 features"):
        gpkg_features(plan, file="plan.gpkg")


def zipped() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("plan.gpkg", b"0" * 1000)
    return out.getvalue()


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"", "is empty"),
        (b"room,x,y\nLab,1,2\n", "is no GeoPackage"),
        (zipped(), "is no GeoPackage but a ZIP archive"),
        (b"SQLite format 3\x00" + bytes(200), "cannot be read as a GeoPackage"),
    ],
)
def test_another_file_under_the_name_is_refused_in_one_line(data: bytes, complaint: str) -> None:
    with pytest.raises(PlanError, match=complaint) as caught:
        gpkg_features(data, file="plan.gpkg")
    assert str(caught.value).startswith("plan.gpkg: ")
    assert caught.value.todo


def test_a_database_that_is_no_geopackage_is_refused(tmp_path: Path) -> None:
    with sqlite3.connect(tmp_path / "a.gpkg") as opened:
        opened.execute("create table rooms (id integer primary key, name text)")
    opened.close()
    with pytest.raises(PlanError, match=r"no GeoPackage|cannot be read"):
        gpkg_features(tmp_path / "a.gpkg", file="a.gpkg")


@given(st.floats(0.01, 0.99))
def test_a_file_cut_short_anywhere_is_refused(share: float) -> None:
    data = whole()
    with pytest.raises(PlanError, match=r"cut short|no GeoPackage"):
        gpkg_features(data[: int(share * len(data))], file="a.gpkg")


@functools.cache
def whole() -> bytes:
    out = io.BytesIO()
    frame = gpd.GeoDataFrame({"name": ["Lab"]}, geometry=[box(0, 0, 6, 4)], crs=UTM)
    pyogrio.write_dataframe(frame, out, driver="GPKG", layer="rooms")
    return out.getvalue()


@given(st.integers(100, 40000), st.binary(min_size=1, max_size=50))
def test_a_file_damaged_anywhere_is_read_or_refused_in_one_line(place: int, junk: bytes) -> None:
    data = whole()
    try:
        gpkg_features(data[:place] + junk + data[place + len(junk) :], file="a.gpkg")
    except PlanError as error:
        complaint = str(error)
    else:
        return
    assert "\n" not in complaint
