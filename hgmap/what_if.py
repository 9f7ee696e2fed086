"""How far the doubt would shrink if a reading were taken: a map with imaginary readings.

An imaginary reading is nobody's: it lives in what is returned here, and nowhere else. No file, no
export and no count of the survey knows of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from threadpoolctl import threadpool_limits

from hgmap.decide.model import ZONE_NAMES, ZoneName, Zones
from hgmap.errors import SiteError
from hgmap.floor_map import FloorMap, MapOptions, map_floor
from hgmap.map_case import MapCase
from hgmap.site.building import Floor, Room
from hgmap.site.intake.result import parse_result
from hgmap.site.model import Site
from hgmap.site.reading import Reading
from hgmap.site.reading_context import ReadingContext
from hgmap.site.reading_value import ValueCells, ValueReader
from hgmap.site.textfile import DecimalMarks

IMAGINARY: Final = "imaginary: nothing was measured here"
MOST_IMAGINARY: Final = 40
_REACH_M: Final = 0.01


@dataclass(frozen=True, slots=True)
class Imaginary:
    """A reading that nobody took: a place (m) of a floor, and a value as it would be written."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class WhatIf:
    """A floor as it is, and as it would be.

    Attributes
    ----------
    readings : tuple of Reading
        The imaginary ones.
    before, after : mapping
        Area (m²) of each zone.
    floor_map : FloorMap
        With the imaginary readings.
    """

    readings: tuple[Reading, ...]
    before: Mapping[ZoneName, float]
    after: Mapping[ZoneName, float]
    floor_map: FloorMap

    @property
    def doubt_m2(self) -> tuple[float, float]:
        """Area (m²) in doubt before and after: what is ``resample`` and what has no data."""
        return tuple(one["resample"] + one["no data"] for one in (self.before, self.after))  # type: ignore[return-value]


def areas(zones: Zones) -> dict[ZoneName, float]:
    """Return the area (m²) of each zone of a floor."""
    return {name: zones.area_m2(name) for name in ZONE_NAMES}


def what_if(
    case: MapCase,
    now: FloorMap,
    imaginary: Sequence[Imaginary],
    options: MapOptions | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> WhatIf:
    """Map a floor as though further readings had been taken; writes nothing.

    Parameters
    ----------
    case : MapCase
        What the floor's map was asked.
    now : FloorMap
        The map without them.
    imaginary : sequence of Imaginary
    options : MapOptions, optional
        As for the map; the cells are those of ``now``.
    progress : callable, optional
        Raising inside it cancels the work.

    Raises
    ------
    SiteError
        If a value cannot be read, or a place is in no room.
    EstimateError
        If no map can be made of them.
    """
    options = options or MapOptions()
    floor = case.site.floor(now.floor.name)
    if floor is None:
        raise SiteError(f"no floor {now.floor.name!r}", where="what if")
    readings = imaginary_readings(case, floor, imaginary, now)
    if now.surface is not None:
        options = replace(options, cell_m=now.surface.raster.cell_m)
    site = _with(case.site, readings)
    further = [replace(one, site=_with(one.site, readings)) for one in case.further]
    with threadpool_limits(1):
        made = map_floor(
            site, floor, case.round, case.band, case.level, options, progress, unfit=case.unfit,
            purpose=case.purpose, further=further,
        )  # fmt: skip
    return WhatIf(readings, areas(now.zones), areas(made.zones), made)


def imaginary_readings(
    case: MapCase, floor: Floor, imaginary: Sequence[Imaginary], now: FloorMap | None = None
) -> tuple[Reading, ...]:
    """Return imaginary readings as a map takes them; each is marked as what it is.

    Raises
    ------
    SiteError
        If a value cannot be read, a place is in no room, or there are too many.
    """
    if len(imaginary) > MOST_IMAGINARY:
        raise SiteError(
            f"{len(imaginary)} imaginary readings", where="what if",
            todo=f"at most {MOST_IMAGINARY} at a time; take some away",
        )  # fmt: skip
    used = [] if now is None else [one.reading.height_m for one in now.evidence.used]
    heights = [one for one in used if one is not None]
    band = next((one for one in case.site.height_bands if one.name == case.band), None)
    if heights:
        height: float | None = float(np.median(heights))
    else:
        height = None if band is None else (band.from_m + band.to_m) / 2.0
    return tuple(
        _reading(case, floor, one, number, height) for number, one in enumerate(imaginary, start=1)
    )


def read_value(case: MapCase, text: str) -> Reading:
    """Read a value as it would be written, in the unit of the level where it names none.

    Raises
    ------
    SiteError
        In one line, why it cannot be read.
    """
    site, text = case.site, text.strip()
    context = ReadingContext(
        site.medium, site.analyte, {one.name.casefold(): one for one in site.floors},
        site.lost_floors, frozenset(one.name for one in site.rounds), site.height_bands, None, None,
        {one.name: one.conditions for one in site.rounds},
    )  # fmt: skip
    marks = DecimalMarks()
    unit = parse_result(text, marks).unit or case.level.unit
    cells = ValueCells(text, unit, "", "", "", "", "", "reading", case.round.name)
    found = ValueReader(context, marks).read(cells)
    if found.held or found.concentration is None:
        why = "; ".join(found.held) or f"value {text!r} is no concentration"
        raise SiteError(
            why, where="imaginary reading", todo="write it as on a meter: 4, 0.12, <0.05 or >50"
        )
    return Reading(
        "", case.round.name, "", "", None, None, None, None, found.value, found.unit,
        found.qualifier, IMAGINARY, found.concentration, "", "", "", low=found.low,
        concentration_low=found.concentration_low, cautions=found.cautions,
    )  # fmt: skip


def _reading(
    case: MapCase, floor: Floor, one: Imaginary, number: int, height_m: float | None
) -> Reading:
    room = _room(floor, one)
    name = f"imaginary {number}"
    return read_value(case, one.text)._replace(
        id=name, floor=floor.name, room=room.id, x=one.x, y=one.y, height_m=height_m,
        band=case.band, placed="given", where=name,
        cautions=(IMAGINARY,),
    )  # fmt: skip


def _room(floor: Floor, one: Imaginary) -> Room:
    point = shapely.Point(one.x, one.y)
    if np.isfinite([one.x, one.y]).all():
        for room in floor.rooms:
            if room.polygon.distance(point) <= _REACH_M:
                return room
    raise SiteError(
        f"({one.x:g}, {one.y:g}) is in no room of {floor.title}", where="imaginary reading",
        todo="put it inside a room",
    )  # fmt: skip


def _with(site: Site, readings: tuple[Reading, ...]) -> Site:
    """Return the site as it was judged, with further readings that nothing stands against."""
    return replace(site, readings=(*site.readings, *readings))
