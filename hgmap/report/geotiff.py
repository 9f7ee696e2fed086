"""GeoTIFF: the estimate of a floor, its standard deviation and the chance of being above the level.

Cells outside the rooms, and those of ground that is *no data*, have no value. That is NaN and not
a number: a reader that does not know the tag must not find a low concentration there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from hgmap.decide.exceedance import probability_above
from hgmap.decide.model import Zones
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface
from hgmap.report.layers import PLAN_CRS
from hgmap.report.run_facts import MappedFloor, RunFacts, facts_of_floor, facts_of_run
from hgmap.report.words import level_value, published_per_computed
from hgmap.site.files import write_bytes
from hgmap.site.map_frame import MapFrame

NO_RULING: Final = (
    "The zones are the ruling, these bands are not: ground with a low probability may still be "
    "resample, near a reading that is held or above the level, behind a door, or far from readings."
)


class Band(NamedTuple):
    """One band: a short name, its unit, a sentence, and its values (north first)."""

    name: str
    unit: str
    meaning: str
    values: NDArray[np.float32]


def write_geotiff(path: Path, facts: RunFacts, one: MappedFloor) -> bool:
    """Write the surface of a floor in one step; False, and no file, where it has none.

    Coordinates are map coordinates where the site has a map frame, else the floor's own metres.
    """
    if one.surface is None:
        return False
    write_bytes(path, geotiff_bytes(facts, one, one.surface))
    return True


def geotiff_bytes(facts: RunFacts, one: MappedFloor, surface: Surface) -> bytes:
    """Return a GeoTIFF; the same map gives the same bytes."""
    from rasterio import Affine  # here: a map without it need not load GDAL twice
    from rasterio.crs import CRS
    from rasterio.io import MemoryFile

    raster, frame = surface.raster, one.floor.map_frame
    bands = bands_of(surface, one.zones)
    ny, nx = raster.shape
    crs = pyproj.CRS.from_user_input(frame.crs if frame else PLAN_CRS)
    # in memory first: what GDAL says of a full disk when it closes a file is no exception
    with MemoryFile() as memory:
        with memory.open(
            driver="GTiff", width=nx, height=ny, count=len(bands), dtype="float32",
            crs=CRS.from_wkt(crs.to_wkt()), nodata=math.nan, compress="deflate",
            transform=Affine(*_transform(raster, frame)),
        ) as file:  # fmt: skip
            for number, band in enumerate(bands, start=1):
                file.write(band.values, number)
                file.set_band_description(number, band.name)
                file.set_band_unit(number, band.unit)
                file.update_tags(number, MEANING=band.meaning)
            file.update_tags(**_tags(facts, one))
        return bytes(memory.getbuffer())


def _transform(raster: Raster, frame: MapFrame | None) -> tuple[float, ...]:
    """Return what carries columns and rows, from the corner in the plan's north-west, to places.

    Six numbers ``a b c d e f``: x is ``a · column + b · row + c``, y is ``d · column + e · row
    + f``. Where the building is turned on the map, so are the cells: nothing is resampled.
    """
    cell = raster.cell_m
    west, north = raster.west_m, raster.south_m + raster.shape[0] * cell
    if frame is None or not frame.turned:
        x, y = (frame.origin_x_m, frame.origin_y_m) if frame else (0.0, 0.0)
        return cell, 0.0, west + x, 0.0, -cell, north + y
    ((x, y),) = frame.to_map([(west, north)]).tolist()
    (right_x, up_x), (right_y, up_y) = (frame.matrix * cell).tolist()
    return right_x, -up_x, x, right_y, -up_y, y


def bands_of(surface: Surface, zones: Zones) -> tuple[Band, ...]:
    """Return what is written of a surface, in the unit of the level as published."""
    level = zones.level
    factor, unit = published_per_computed(level), level.unit
    log = surface.scale == "log"
    known = np.isfinite(surface.mean) & ~_in_no_data(surface, zones)
    mean = surface.mean + math.log(factor) if log else surface.mean * factor
    sd = surface.sd if log else surface.sd * factor
    working = f"ln({unit})" if log else unit

    def laid(values: NDArray[np.float64]) -> NDArray[np.float32]:
        return np.flipud(np.where(known, values, np.nan)).astype(np.float32)

    above = level_value(level)
    return (
        Band("estimate", unit, "estimated concentration" +
             (": as likely higher as lower (the median)" if log else ""),
             laid(surface.concentration() * factor)),
        Band("mean", working, "mean of the estimate, on the scale that it was made on",
             laid(mean)),
        Band("sd", "ln" if log else unit, "standard deviation of that mean" +
             (", of the natural logarithm" if log else ""), laid(sd)),
        Band("probability", "1", f"probability of being above {above}",
             laid(probability_above(surface, level.concentration))),
    )  # fmt: skip


def _in_no_data(surface: Surface, zones: Zones) -> NDArray[np.bool_]:
    """Tell of which cells no reading speaks, by their centres."""
    raster = surface.raster
    found = np.zeros(raster.shape, dtype=bool)
    ground: Sequence[Any] = [one.geometry for one in zones.zones if one.name == "no data"]
    for shape in ground:
        west, south, east, north = shape.bounds
        rows = slice(*np.searchsorted(raster.y, [south, north + 1e-9]))
        columns = slice(*np.searchsorted(raster.x, [west, east + 1e-9]))
        x, y = np.meshgrid(raster.x[columns], raster.y[rows])
        found[rows, columns] |= shapely.intersects_xy(shape, x, y)
    return found


def _tags(facts: RunFacts, one: MappedFloor) -> dict[str, str]:
    """Return the tags of the file: a heading each, its lines one under another."""
    tags: dict[str, list[str]] = {"RULING": [NO_RULING]}
    for heading, text in (*facts_of_floor(one), *facts_of_run(facts)):
        lines = tags.setdefault(heading.upper().replace(" ", "_"), [])
        # no character that XML cannot hold: the tags are kept as XML
        line = "".join(letter if letter.isprintable() else " " for letter in text)
        if line not in lines:
            lines.append(line)
    if one.floor.map_frame is None:
        tags["COORDINATES"] = ["plan metres: x to the right, y up on the plan"]
    return {heading: "\n".join(lines) for heading, lines in tags.items()}
