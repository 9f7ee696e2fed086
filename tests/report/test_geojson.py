"""GeoJSON: degrees where there is a map, else metres that nobody takes for degrees."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import pytest
import rasterio
import shapely
from pyproj import Transformer

from hgmap.errors import HgmapError, SiteError
from hgmap.report.geojson import PLAN_METRES, geojson_files, write_geojson
from hgmap.report.geotiff import write_geotiff
from tests.report.exported import EAST, NORTH, Mapped, mapped


def read(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return found


def positions(geometry: Any) -> list[list[float]]:
    """Every position of a geometry, however deep it lies."""
    if isinstance(geometry[0], int | float):
        return [geometry]
    return [place for part in geometry for place in positions(part)]


def test_two_readers_find_every_layer_with_the_counts_of_the_map(
    placed: Mapped, tmp_path: Path
) -> None:
    names = write_geojson(tmp_path, placed.facts, placed.one)
    one = placed.one
    counts = {
        "rooms.geojson": 2,
        "readings.geojson": 15,
        "contours.geojson": len(one.zones.contours),
        "zones.geojson": len(one.zones.zones),
        "resample.geojson": len(one.resample.places),
        "nested-zones.geojson": sum(len(zones.zones) for zones in one.nested),
    }
    assert sorted(names) == sorted(counts)
    assert counts["contours.geojson"] > 0
    for name, count in counts.items():
        assert pyogrio.read_info(tmp_path / name)["features"] == count
        table = gpd.read_file(tmp_path / name)
        assert len(table) == count
        assert table.crs.to_epsg() == 4326


def test_where_there_is_a_map_positions_are_longitude_and_latitude(
    placed: Mapped, tmp_path: Path
) -> None:
    write_geojson(tmp_path, placed.facts, placed.one)
    collection = read(tmp_path / "readings.geojson")
    assert "crs" not in collection  # RFC 7946 took it out
    back = Transformer.from_crs("EPSG:4326", "EPSG:25832", always_xy=True)
    of = {item.reading.id: item.reading for item in placed.one.evidence.items}
    for feature in collection["features"]:
        lon, lat = feature["geometry"]["coordinates"]
        # 600 km east of UTM 32's false origin, 5700 km north: near 10.4 E, 51.4 N
        assert (lon, lat) == pytest.approx((10.4373, 51.4440), abs=2e-3)
        reading = of[feature["properties"]["id"]]
        x, y = back.transform(lon, lat)
        assert (x - EAST, y - NORTH) == pytest.approx((reading.x, reading.y), abs=2e-3)


def test_areas_on_the_map_are_those_of_the_zones(placed: Mapped, tmp_path: Path) -> None:
    write_geojson(tmp_path, placed.facts, placed.one)
    zones = gpd.read_file(tmp_path / "zones.geojson").to_crs("EPSG:25832")
    for row in zones.itertuples():
        assert row.geometry.area == pytest.approx(row.area_m2, rel=1e-3, abs=0.01)


def test_outer_rings_run_counter_clockwise_and_holes_the_other_way(
    placed: Mapped, tmp_path: Path
) -> None:
    write_geojson(tmp_path, placed.facts, placed.one)
    for name in ("rooms.geojson", "zones.geojson"):
        for shape in gpd.read_file(tmp_path / name).geometry:
            for part in shapely.get_parts(shape):
                assert part.exterior.is_ccw
                assert not any(ring.is_ccw for ring in part.interiors)


def test_a_plan_without_a_place_says_so_in_name_head_and_features(
    plain: Mapped, tmp_path: Path
) -> None:
    names = write_geojson(tmp_path, plain.facts, plain.one)
    assert names == list(geojson_files(on_map=False, several_levels=False))
    for name in names:
        assert name.endswith("-plan-metres.geojson")
        collection = read(tmp_path / name)
        assert collection["about"]["coordinates"].startswith(PLAN_METRES)
        for feature in collection["features"]:
            assert feature["properties"]["coordinates"] == PLAN_METRES
    rooms = gpd.read_file(tmp_path / "rooms-plan-metres.geojson")
    assert tuple(rooms.total_bounds) == (0, 0, 12, 5)


def test_no_reader_takes_plan_metres_for_degrees(plain: Mapped, tmp_path: Path) -> None:
    for name in write_geojson(tmp_path, plain.facts, plain.one):
        table = gpd.read_file(tmp_path / name)
        assert table.crs is not None
        assert not table.crs.is_geographic
        assert "LOCAL" in pyogrio.read_info(tmp_path / name)["crs"]


def test_the_cautions_stand_in_every_file(plain: Mapped, tmp_path: Path) -> None:
    for name in write_geojson(tmp_path, plain.facts, plain.one):
        lines = read(tmp_path / name)["about"]["lines"]
        assert "caution: a caution of the level" in lines
        assert any("not a health opinion" in line for line in lines)
        assert any("3 µg/m³" in line for line in lines)


def test_the_same_map_gives_the_same_bytes(plain: Mapped, tmp_path: Path) -> None:
    names = write_geojson(tmp_path / "a", plain.facts, plain.one)
    write_geojson(tmp_path / "b", plain.facts, plain.one)
    for name in names:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_every_number_is_finite_and_positions_have_two(placed: Mapped, tmp_path: Path) -> None:
    for name in write_geojson(tmp_path, placed.facts, placed.one):
        for feature in read(tmp_path / name)["features"]:
            for place in positions(feature["geometry"]["coordinates"]):
                assert len(place) == 2
                assert all(map(math.isfinite, place))


def test_a_reading_without_a_place_has_no_geometry(
    site_maker: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    table = make_table([*make_rows(), "H1,ground,,,,1.5,,1,ug/m3,,"])
    got = mapped(site_maker, tmp_path / "site", readings={"first.csv": table})
    write_geojson(tmp_path, got.facts, got.one)
    rows = read(tmp_path / "readings-plan-metres.geojson")["features"]
    lost = next(one for one in rows if one["properties"]["id"] == "H1")
    assert lost["geometry"] is None
    assert lost["properties"]["role"] == "held"


def test_an_origin_off_the_earth_is_one_line_and_leaves_no_file(
    site_maker: Any, tmp_path: Path
) -> None:
    frame = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 1e30\norigin_y_m = 1e30\n'
    got = mapped(site_maker, tmp_path / "site", extra=frame)
    with pytest.raises(SiteError, match="no longitude and latitude"):
        write_geojson(tmp_path / "out", got.facts, got.one)
    assert not list((tmp_path / "out").glob("*"))


def test_a_disk_that_fills_up_in_the_middle_leaves_no_layer_without_the_others(
    plain: Mapped, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = iter([True, True])

    def fill(path: Path, data: bytes) -> None:
        if not next(left, False):
            raise OSError(28, "No space left on device")
        path.write_bytes(data)

    monkeypatch.setattr("hgmap.site.files._fill", fill)
    with pytest.raises(HgmapError, match="No space left on device"):
        write_geojson(tmp_path / "out", plain.facts, plain.one)
    assert not list((tmp_path / "out").iterdir())


ODD = ("\ud800", "a\x00b\x1b[31m", '<b>&"', "\u202eolleh", "学校", "x" * 300)


@pytest.mark.parametrize("name", ODD)
def test_odd_names_make_files_that_open(plain: Mapped, tmp_path: Path, name: str) -> None:
    facts = replace(plain.facts, site=replace(plain.site, name=name))
    write_geojson(tmp_path, facts, plain.one)
    lines = read(tmp_path / "zones-plan-metres.geojson")["about"]["lines"]
    assert any(line.startswith("site: ") for line in lines)
    assert pyogrio.read_info(tmp_path / "zones-plan-metres.geojson")["features"] > 0
    assert write_geotiff(tmp_path / "surface.tif", facts, plain.one)
    with rasterio.open(tmp_path / "surface.tif") as file:
        assert "a caution of the level" in file.tags()["CAUTION"]
        assert not name.isprintable() or file.tags()["SITE"].splitlines()[0] == name
