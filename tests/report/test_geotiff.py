"""GeoTIFF: what two readers find in it, cell by cell, and where on the map."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
import tifffile
from rasterio.io import MemoryFile
from scipy.stats import t as student

from hgmap.report.geotiff import NO_RULING, geotiff_bytes, write_geotiff
from tests.report.exported import EAST, NORTH, Mapped, mapped

BANDS = ("estimate", "mean", "sd", "probability")


def content(got: Mapped) -> bytes:
    assert got.one.surface is not None
    return geotiff_bytes(got.facts, got.one, got.one.surface)


def bands_by_rasterio(data: bytes) -> Any:
    with MemoryFile(data) as memory, memory.open() as file:
        return file.read()


def bands_by_tifffile(data: bytes) -> Any:
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        return np.moveaxis(file.pages[0].asarray(), -1, 0)


def test_two_readers_find_the_same_float32_cells(placed: Mapped) -> None:
    data = content(placed)
    one, other = bands_by_rasterio(data), bands_by_tifffile(data)
    assert one.dtype == other.dtype == np.float32
    assert one.shape == other.shape == (4, 10, 24)
    assert np.array_equal(one, other, equal_nan=True)
    assert np.isfinite(one).any()


def test_bands_have_names_and_units_and_the_file_its_cautions(placed: Mapped) -> None:
    with MemoryFile(content(placed)) as memory, memory.open() as file:
        assert file.descriptions == BANDS
        assert file.units == ("µg/m³", "ln(µg/m³)", "ln", "1")
        assert np.isnan(file.nodata)
        tags = file.tags()
        assert tags["RULING"] == NO_RULING
        assert "a caution of the level" in tags["CAUTION"].splitlines()
        assert "3 µg/m³" in tags["ACTION_LEVEL"]
        assert file.tags(4)["MEANING"] == "probability of being above 3 µg/m³"


def test_corner_and_step_are_those_of_the_plan_on_the_map(placed: Mapped) -> None:
    data = content(placed)
    with MemoryFile(data) as memory, memory.open() as file:
        assert tuple(file.bounds) == (EAST, NORTH, EAST + 12, NORTH + 5)
        assert file.crs.to_epsg() == 25832
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        page = file.pages[0]
        assert page.tags["ModelTiepointTag"].value == (0, 0, 0, EAST, NORTH + 5, 0)
        assert page.tags["ModelPixelScaleTag"].value[:2] == (0.5, 0.5)
        assert file.geotiff_metadata["ProjectedCSTypeGeoKey"] == 25832
        assert page.tags["GDAL_NODATA"].value == "nan"


def test_a_place_on_the_map_has_the_estimate_of_its_cell(placed: Mapped) -> None:
    surface = placed.one.surface
    assert surface is not None
    with MemoryFile(content(placed)) as memory, memory.open() as file:
        for x, y in ((0.3, 0.3), (1.1, 0.9), (5.9, 4.9), (11.75, 2.25)):
            row, column = int(y / 0.5), int(x / 0.5)  # of the plan: south first, from (0, 0)
            estimate, mean, sd, _ = next(file.sample([(EAST + x, NORTH + y)]))
            assert estimate == pytest.approx(np.exp(surface.mean[row, column]), rel=1e-6)
            assert mean == pytest.approx(surface.mean[row, column], rel=1e-5, abs=1e-6)
            assert sd == pytest.approx(surface.sd[row, column], rel=1e-6)


def test_the_probability_is_what_mean_and_sd_make_of_the_level(placed: Mapped) -> None:
    surface = placed.one.surface
    assert surface is not None
    _, mean, sd, probability = bands_by_tifffile(content(placed)).astype(float)
    own = student.sf((np.log(3.0) - mean) / sd, surface.degrees_of_freedom)
    assert probability == pytest.approx(own, abs=1e-5, nan_ok=True)


def test_the_highest_estimate_lies_where_the_air_was_highest(placed: Mapped) -> None:
    data = content(placed)
    with MemoryFile(data) as memory, memory.open() as file:
        row, column = np.unravel_index(np.nanargmax(file.read(1)), file.shape)
        x, y = file.xy(int(row), int(column))
    # the readings fall off from (1, 1), in the south-west of the plan
    assert np.hypot(x - EAST - 1, y - NORTH - 1) < 1.5


def test_ground_without_data_and_ground_outside_have_no_value(
    site_maker: Any, make_plan: Any, make_room: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    rooms = [make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5), make_room("C", 13, 0, 16, 5)]
    got = mapped(site_maker, tmp_path / "site", {"walls": False},
                 plans={"ground": make_plan(*rooms)},
                 readings={"first.csv": make_table(make_rows())})  # fmt: skip
    assert {zone.name for zone in got.one.zones.zones if zone.room == "C"} == {"no data"}
    bands = bands_by_rasterio(content(got))
    assert bands.shape == (4, 10, 32)
    assert np.isnan(bands[:, :, 24:]).all()  # between the rooms, and room C
    assert np.isfinite(bands[:, :, :12]).any()


def test_a_plan_without_a_place_is_in_metres_of_its_own(plain: Mapped) -> None:
    with MemoryFile(content(plain)) as memory, memory.open() as file:
        assert tuple(file.bounds) == (0, 0, 12, 5)
        assert not file.crs.is_geographic
        assert not file.crs.is_projected
        assert "Floor plan" in pyproj.CRS.from_wkt(file.crs.to_wkt()).name
        assert file.tags()["COORDINATES"].startswith("plan metres")


def test_a_linear_scale_has_concentrations_all_through(site_maker: Any, tmp_path: Path) -> None:
    got = mapped(site_maker, tmp_path / "site", extra='[map]\nscale = "linear"\n')
    with MemoryFile(content(got)) as memory, memory.open() as file:
        assert file.units == ("µg/m³", "µg/m³", "µg/m³", "1")
        assert np.array_equal(file.read(1), file.read(2), equal_nan=True)


def test_the_unit_is_that_of_the_level_as_published(site_maker: Any, tmp_path: Path) -> None:
    micro = mapped(site_maker, tmp_path / "a", {"level": "3 ug/m3"})
    nano = mapped(site_maker, tmp_path / "b", {"level": "3000 ng/m3"})
    a, b = bands_by_rasterio(content(micro)), bands_by_rasterio(content(nano))
    assert b[0] == pytest.approx(1000.0 * a[0], rel=1e-5, nan_ok=True)
    assert b[1] == pytest.approx(a[1] + np.log(1000.0), rel=1e-5, nan_ok=True)
    assert b[2:] == pytest.approx(a[2:], rel=1e-5, abs=1e-6, nan_ok=True)


def test_the_same_map_gives_the_same_bytes(plain: Mapped) -> None:
    assert content(plain) == content(plain)


def test_a_floor_without_an_estimate_makes_no_file(
    site_maker: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    few = {"first.csv": make_table(make_rows(1))}
    got = mapped(site_maker, tmp_path / "site", readings=few)
    assert got.one.surface is None
    assert not write_geotiff(tmp_path / "surface.tif", got.facts, got.one)
    assert not (tmp_path / "surface.tif").exists()


def test_the_file_is_written_whole(plain: Mapped, tmp_path: Path) -> None:
    assert write_geotiff(tmp_path / "surface.tif", plain.facts, plain.one)
    with rasterio.open(tmp_path / "surface.tif") as file:
        assert file.count == 4
    assert [one.name for one in tmp_path.iterdir()] == ["surface.tif"]
