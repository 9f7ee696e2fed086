"""Drawings from a GeoJSON file: RFC 7946, or the older form with a ``crs`` member."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import pyproj
import shapely

from hgmap.errors import PlanError
from hgmap.site.building import OpeningState
from hgmap.site.files import read_bytes
from hgmap.site.importers.drawing import Drawing, Part
from hgmap.site.importers.features import Feature, Level, read_features
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.placing import Bounds, Units, source_crs
from hgmap.site.lengths import FOOT_M, INCH_M
from hgmap.site.plan import STATES, parse_geojson

METRES_IN: Final = {"cm": 0.01, "mm": 0.001, "ft": FOOT_M, "in": INCH_M}
"""Lengths (m) of units that no map is in."""


def draw_geojson(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    """Read the drawings of a file, one for each level.

    Parameters
    ----------
    file : Path
        A FeatureCollection.
    answers : mapping
        ``where``: keep the features whose property holds a value, ``"level=0"``. ``units``:
        ``"lonlat"``, ``"metres"`` or another length, otherwise told from the span of the
        coordinates. ``crs``: the system that they are in.

    Raises
    ------
    PlanError
        If the file cannot be used.
    SiteError
        If the system named is unknown or not in metres.
    """
    source = str(file)
    collection = parse_geojson(read_bytes(file, where=source), where=source)
    return drawings_of(collection["features"], answers, member=collection.get("crs"), file=source)


def drawings_of(
    raw: Sequence[Any],
    answers: Mapping[str, str],
    *,
    member: object = None,
    known: pyproj.CRS | None = None,
    file: str,
) -> tuple[Drawing, ...]:
    """Make drawings of features.

    ``member`` is the ``crs`` of a GeoJSON file, which is not always to be believed; ``known`` is a
    system that is, unless a person says another.
    """
    levels = read_features(raw, where=answers.get("where"), file=file)
    units, said = _units(answers.get("units")), answers.get("crs")
    length = METRES_IN.get(answers.get("units", ""))
    crs = known
    if length is not None:
        if said:
            raise PlanError("a map system has units of its own", where="--crs",
                            todo="leave --crs or --units out")  # fmt: skip
        crs = None
    elif known is None or units or said:
        crs = source_crs(_bounds(levels), units=units, crs=said, member=member, file=file)
    return tuple(_drawing(level, crs, length or 1.0, file=file) for level in levels)


def _drawing(level: Level, crs: pyproj.CRS | None, metres: float, *, file: str) -> Drawing:
    parts = tuple(
        Part(one.role, one.geometry, one.label, one.name, one.id, _state(one, file=file))
        for one in level.features
    )
    return Drawing(parts, file, metres, crs, storey=level.name, notes=level.left_out)


def _units(text: str | None) -> Units | None:
    if not text or text in METRES_IN:
        return None
    if text == "lonlat":
        return "lonlat"
    if text == "metres":
        return "metres"
    known = ", ".join(("lonlat", "metres", *METRES_IN))
    raise PlanError(f"{text!r} is no unit", where="--units", todo=f"write one of {known}")


def _bounds(levels: Sequence[Level]) -> Bounds:
    features = [one for level in levels for one in level.features]
    rooms = [one for one in features if one.role == "room"]
    shapes = [one.geometry for one in rooms or features]
    west, south, east, north = shapely.total_bounds(shapes)
    return float(west), float(south), float(east), float(north)


def _state(one: Feature, *, file: str) -> OpeningState:
    """Return the state said with our own ``kind``; other markings do not say how a door stood."""
    said = one.properties.get("state") if "kind" in one.properties else None
    if one.role != "door":
        return "open"
    for state in STATES:
        if said in (state, None):
            return state if said else "open"
    raise PlanError(
        f"{one.label}: state {one_line_text(said)!r} is not one of {', '.join(STATES)}",
        where=file,
        todo="write one of them, or leave it out for 'open'",
    )
