"""A building that is turned on its map: every file puts it where its frame puts it."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import geopandas as gpd
import numpy as np
import pyproj
import pytest
import shapely
import tifffile
from ezdxf import bbox
from rasterio.io import MemoryFile

from hgmap.report.drawing import Label
from hgmap.report.dxf import dxf_bytes
from hgmap.report.geojson import write_geojson
from hgmap.report.geotiff import geotiff_bytes
from hgmap.report.gis import write_geopackage
from hgmap.report.title_block import north_arrow
from hgmap.site.map_frame import MapFrame
from tests.report.exported import EAST, NORTH, Mapped, mapped

SHEARED = MapFrame("EPSG:25832", EAST, NORTH, 33.0, 0.9997, 1.0002, 0.3, "by hand")
OVER = MapFrame("EPSG:25832", EAST, NORTH, 180.0)
MODEL_TRANSFORMATION = 34264


def toml(frame: MapFrame) -> str:
    keys = {"crs": f'"{frame.crs}"', "origin_x_m": frame.origin_x_m, "origin_y_m": frame.origin_y_m,
            "angle_deg": frame.angle_deg, "scale": frame.scale, "skew_deg": frame.skew_deg,
            "fitted": f'"{frame.fitted}"'}  # fmt: skip
    if frame.scale_y is not None:
        keys["scale_y"] = frame.scale_y
    return "[map_frame]\n" + "\n".join(f"{key} = {value}" for key, value in keys.items()) + "\n"


@pytest.fixture(scope="session")
def turned(site_maker: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Mapped:
    folder = tmp_path_factory.mktemp("turned") / "site"
    return mapped(site_maker, folder, extra=toml(SHEARED))


@pytest.fixture(scope="session")
def over(site_maker: Callable[..., Path], tmp_path_factory: pytest.TempPathFactory) -> Mapped:
    return mapped(site_maker, tmp_path_factory.mktemp("over") / "site", extra=toml(OVER))


def tiff(got: Mapped) -> bytes:
    assert got.one.surface is not None
    return geotiff_bytes(got.facts, got.one, got.one.surface)


def test_the_map_itself_is_that_of_the_plan_where_it_lies_straight(
    turned: Mapped, plain: Mapped
) -> None:
    assert turned.one.floor.map_frame == SHEARED
    assert turned.one.surface is not None
    assert plain.one.surface is not None
    assert np.array_equal(turned.one.surface.mean, plain.one.surface.mean, equal_nan=True)
    areas = [[zone.area_m2 for zone in got.one.zones.zones] for got in (turned, plain)]
    assert areas[0] == areas[1]


def test_two_readers_put_the_corners_of_the_cells_where_the_frame_puts_them(
    turned: Mapped,
) -> None:
    data, surface = tiff(turned), turned.one.surface
    assert surface is not None
    raster = surface.raster
    ny, nx = raster.shape
    corners = np.array([(0, 0), (nx, 0), (0, ny), (nx, ny), (3, 2)], float)
    plan = np.column_stack([
        raster.west_m + corners[:, 0] * raster.cell_m,
        raster.south_m + (ny - corners[:, 1]) * raster.cell_m,
    ])  # fmt: skip
    expected = SHEARED.to_map(plan)
    with MemoryFile(data) as memory, memory.open() as file:
        assert file.crs.to_epsg() == 25832
        found = np.array([file.transform @ tuple(one) for one in corners])
    assert found == pytest.approx(expected, abs=1e-6)
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        tag = file.pages[0].tags[MODEL_TRANSFORMATION].value
    matrix = np.reshape(tag, (4, 4))
    places = np.column_stack([corners, np.zeros(5), np.ones(5)])
    assert (places @ matrix.T)[:, :2] == pytest.approx(expected, abs=1e-6)


def test_the_estimate_at_a_reading_is_found_at_its_place_on_the_map(turned: Mapped) -> None:
    surface = turned.one.surface
    assert surface is not None
    raster, shown = surface.raster, surface.concentration()
    with MemoryFile(tiff(turned)) as memory, memory.open() as file:
        for item in turned.one.evidence.used:
            # a little off, for some readings stand where cells meet
            x, y = item.reading.x + 0.01, item.reading.y + 0.01
            ((east, north),) = SHEARED.to_map([(x, y)])
            (value, *_), *_ = file.sample([(east, north)])
            column = int((x - raster.west_m) / raster.cell_m)
            row = int((y - raster.south_m) / raster.cell_m)
            assert value == pytest.approx(shown[row, column], rel=1e-6)


def test_a_raster_that_is_not_turned_keeps_its_plain_tags(placed: Mapped) -> None:
    with tifffile.TiffFile(io.BytesIO(tiff(placed))) as file:
        assert MODEL_TRANSFORMATION not in file.pages[0].tags


def test_the_geopackage_has_rooms_and_readings_at_their_places(
    turned: Mapped, tmp_path: Path
) -> None:
    one = turned.one
    path = tmp_path / "site.gpkg"
    write_geopackage(path, [(one.evidence, one.zones, one.resample)])
    rooms = gpd.read_file(path, layer="rooms").set_index("room")
    assert rooms.crs.to_epsg() == 25832
    for room in one.floor.rooms:
        there = rooms.loc[room.id, "geometry"]
        assert there.hausdorff_distance(SHEARED.place(room.polygon)) < 1e-6
        assert there.area == pytest.approx(
            room.area_m2 * float(np.linalg.det(SHEARED.matrix)), rel=1e-9
        )
        assert rooms.loc[room.id, "area_m2"] == room.area_m2  # metres of the building
    readings = gpd.read_file(path, layer="readings").set_index("id")
    for item in one.evidence.items:
        place = readings.loc[item.reading.id, "geometry"]
        assert SHEARED.to_plan([(place.x, place.y)])[0] == pytest.approx(
            [item.reading.x, item.reading.y], abs=1e-6
        )


def test_geojson_has_the_longitudes_and_latitudes_of_those_places(
    turned: Mapped, tmp_path: Path
) -> None:
    write_geojson(tmp_path, turned.facts, turned.one)
    told = json.loads((tmp_path / "readings.geojson").read_text("utf-8"))
    back = pyproj.Transformer.from_crs("EPSG:4326", "EPSG:25832", always_xy=True)
    places = {one.reading.id: one.reading for one in turned.one.evidence.items}
    for feature in told["features"]:
        east, north = back.transform(*feature["geometry"]["coordinates"])
        reading = places[feature["properties"]["id"]]
        assert SHEARED.to_plan([(east, north)])[0] == pytest.approx(
            [reading.x, reading.y], abs=0.002
        )
    assert "map frame: EPSG:25832, by hand" in told["about"]["lines"]


def drawing(got: Mapped) -> Any:
    document = ezdxf.read(io.StringIO(dxf_bytes(got.facts, got.one).decode("utf-8")))
    found = document.audit()
    assert not found.errors
    assert not found.fixes
    return document


def test_the_drawing_has_rooms_readings_and_marks_turned_with_the_plan(turned: Mapped) -> None:
    space = drawing(turned).modelspace()
    rings = [
        shapely.Polygon([p[:2] for p in one]) for one in space.query('LWPOLYLINE[layer=="rooms"]')
    ]
    rooms = [SHEARED.place(room.polygon) for room in turned.one.floor.rooms]
    for room in rooms:
        assert min(ring.hausdorff_distance(room) for ring in rings) < 1e-6
    places = {one.reading.id: one.reading for one in turned.one.evidence.items}
    blocks = [one for one in space.query('INSERT[layer=="readings"]') if one.attribs]
    assert len(blocks) == len(places)
    for block in blocks:
        reading = places[block.get_attrib_text("ID")]
        there = (block.dxf.insert.x, block.dxf.insert.y)
        assert SHEARED.to_plan([there])[0] == pytest.approx([reading.x, reading.y], abs=1e-6)
        assert block.dxf.rotation == pytest.approx(33.0)
    values = space.query('TEXT[layer=="reading-values"]')
    assert {round(one.dxf.rotation, 6) for one in values} == {33.0}
    notes = space.query('TEXT[layer=="notes"]')
    assert {one.dxf.rotation for one in notes} == {0.0}
    lowest = min(room.bounds[1] for room in rooms)
    assert all(one.dxf.insert.y < lowest for one in notes)
    said = [one.dxf.text for one in notes]
    assert any("the map's grid north" in text for text in said)


def test_a_plan_on_its_head_has_upright_texts_over_the_same_ground(
    over: Mapped, placed: Mapped
) -> None:
    def boxes(got: Mapped, layer: str) -> dict[str, Any]:
        found = drawing(got).modelspace().query(f'TEXT[layer=="{layer}"]')
        assert {round(one.dxf.rotation, 6) for one in found} == {0.0}
        return {one.dxf.text: bbox.extents([one]) for one in found}

    for layer in ("room-names", "reading-values"):
        straight, turned_over = boxes(placed, layer), boxes(over, layer)
        assert set(straight) == set(turned_over)
        assert straight
        for text, box in straight.items():
            was = np.array([box.center.x - EAST, box.center.y - NORTH])
            now = turned_over[text].center
            # the letters' own descent is all that differs
            assert np.array([now.x - EAST, now.y - NORTH]) == pytest.approx(
                -was, abs=box.size.y / 3
            )


def test_the_arrow_points_to_grid_north_and_says_so(turned: Mapped, placed: Mapped) -> None:
    floor = turned.one.floor
    said = [one.text for one in north_arrow(0.0, 0.0, floor) if isinstance(one, Label)]
    assert said == ["grid north", "N"]
    tip = next(one for one in north_arrow(0.0, 0.0, floor) if getattr(one, "text", "") == "N")
    way = SHEARED.matrix @ (tip.x, tip.y)
    assert math.degrees(math.atan2(way[0], way[1])) == pytest.approx(0, abs=1e-6)
    plain = [one.text for one in north_arrow(0.0, 0.0, placed.one.floor) if isinstance(one, Label)]
    assert plain == ["N"]


def test_floors_of_two_buildings_lie_each_at_its_own_place(
    site_maker: Callable[..., Path], make_plan: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    rows = [*make_rows(), *make_rows(floor="shed", prefix="S")]
    annex = (
        '[[buildings]]\nname = "Annex"\norigin_x_m = 600050\norigin_y_m = 5700020\nangle_deg = 60\n'
    )
    site = site_maker(
        tmp_path / "site", plans={"ground": make_plan(), "shed": make_plan()},
        readings={"first.csv": make_table(rows)}, extra=toml(SHEARED) + annex,
    )  # fmt: skip
    text = (site / "site.toml").read_text("utf-8")
    text = text.replace('name = "shed"\n', 'name = "shed"\nbuilding = "Annex"\n')
    (site / "site.toml").write_text(text, "utf-8")
    got = mapped(lambda _: site, site)
    path = tmp_path / "site.gpkg"
    write_geopackage(path, [(one.evidence, one.zones, one.resample) for one in got.floors])
    rooms = gpd.read_file(path, layer="rooms")
    frames = {"ground": SHEARED, "shed": MapFrame("EPSG:25832", 600050, 5700020, 60)}
    for floor in got.floors:
        there = shapely.union_all(rooms[rooms["floor"] == floor.floor.name].geometry.array)
        expected = frames[floor.floor.name].place(floor.floor.outline)
        assert there.hausdorff_distance(expected) < 1e-6
        assert floor.surface is not None
        data = geotiff_bytes(got.facts, floor, floor.surface)
        with MemoryFile(data) as memory, memory.open() as file:
            assert "Annex" in file.tags().get("BUILDING", "") or floor.floor.name == "ground"
            footprint = shapely.Polygon(
                [file.transform @ one for one in ((0, 0), (file.width, 0),
                 (file.width, file.height), (0, file.height))]
            )  # fmt: skip
            assert footprint.buffer(0.01).covers(expected)
