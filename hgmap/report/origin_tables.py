"""Likely sources as CSV, JSON and GeoPackage; concentrations in the unit of the level."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import shapely
from shapely import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.origin_model import HELD_SHARE, HINT, LikelySource, Origins
from hgmap.report.layers import PLAN_CRS, on_map
from hgmap.report.tables import csv_text
from hgmap.report.words import published_per_computed
from hgmap.site.building import Floor
from hgmap.site.files import write_atomically
from hgmap.site.intake.cells import guarded

NO_PLACE: Final = "no place of this floor stands out"

LAYERS: Final = ("likely_sources", "likely_source_regions")

_NUMBERS: Final = frozenset({"share_of_draws", "share_in_room", "own_source", "radius_80_m",
                             "estimate"})  # fmt: skip

_COLUMNS: Final = (
    "floor", "rank", "room", "name", "height", "share_of_draws", "share_in_room", "own_source",
    "radius_80_m", "estimate", "unit", "basis", "readings", "reasons", "cautions", "hint",
)  # fmt: skip


def where_from_csv(floors: Sequence[Origins]) -> str:
    """Return one row a place, the likeliest first on each floor.

    A floor without a place has a row without one, which says why and has the hint all the same: a
    table that is empty reads as if there were no source.
    """
    header = (
        "floor", "rank", "room", "room_name", "x_m", "y_m", "height", "share_of_draws",
        "share_in_room", "own_source", "radius_80_m", "estimate", "unit", "basis", "readings",
        "reasons", "cautions", "hint",
    )  # fmt: skip
    rows = []
    for floor in floors:
        scale = published_per_computed(floor.level)
        rows += [
            (
                guarded(one.floor),
                str(one.rank),
                guarded(one.room),
                guarded(one.room_name),
                _cell(one.x, ".2f"),
                _cell(one.y, ".2f"),
                one.height,
                *(_cell(part, ".3f") for part in (one.share, one.share_in_room, one.own)),
                _cell(one.radius_m, ".2f"),
                _cell(None if one.estimate is None else one.estimate * scale, ".4g"),
                floor.level.unit,
                one.basis,
                guarded(" ".join(one.readings)),
                guarded("; ".join(one.reasons)),
                guarded("; ".join(one.cautions)),
                HINT,
            )
            for one in floor.sources
        ]
        if not floor.sources:
            said = {"floor": guarded(floor.floor.name), "unit": floor.level.unit, "hint": HINT,
                    "reasons": guarded(floor.quiet or NO_PLACE),
                    "cautions": guarded("; ".join(floor.cautions))}  # fmt: skip
            rows.append(tuple(said.get(name, "") for name in header))
    return csv_text(header, rows)


def where_from_summary(floors: Sequence[Origins]) -> list[dict[str, Any]]:
    """Return everything that was found, floor by floor, for JSON."""
    return [
        {
            "floor": one.floor.name,
            "title": one.floor.title,
            "hint": HINT,
            "nothing_to_say": one.quiet or None,
            "draws": one.draws,
            "radius_holds": HELD_SHARE,
            "sources": [_source(source, one) for source in one.sources],
            "rises_toward": [
                {
                    "room": one.floor.rooms[climb.room].id,
                    "toward": one.floor.rooms[climb.towards].id,
                    "ratio": climb.ratio,
                }
                for climb in one.climbs
            ],
            "heights": [
                {
                    "room": one.floor.rooms[ratio.room].id,
                    "band": ratio.band,
                    "pairs": ratio.pairs,
                    "ratio": ratio.ratio,
                    "low_95": ratio.low,
                    "high_95": ratio.high,
                    "readings": list(ratio.readings),
                }
                for ratio in one.heights
            ],
            "cautions": list(one.cautions),
        }
        for one in floors
    ]


def _source(one: LikelySource, origins: Origins) -> dict[str, Any]:
    scale = published_per_computed(origins.level)
    return {
        "rank": one.rank,
        "room": one.room,
        "room_name": one.room_name,
        "x_m": one.x,
        "y_m": one.y,
        "height": one.height or None,
        "share_of_draws": one.share,
        "share_in_room": one.share_in_room,
        "own_source": one.own,
        "radius_80_m": one.radius_m,
        "estimate": None if one.estimate is None else one.estimate * scale,
        "unit": origins.level.unit,
        "basis": one.basis,
        "readings": list(one.readings),
        "reasons": list(one.reasons),
        "cautions": list(one.cautions),
    }


def region_of(one: LikelySource, floor: Floor) -> BaseGeometry | None:
    """Return the ground (m) that holds 80 % of a place's highest places; None where unknown.

    A circle inside its room; the whole room where only that is known.
    """
    room = next((room for room in floor.rooms if room.id == one.room), None)
    if room is None:
        return None
    if one.x is None or one.y is None:
        return room.polygon
    if not one.radius_m:
        return None
    circle = Point(one.x, one.y).buffer(one.radius_m).intersection(room.polygon)
    parts = [part for part in shapely.get_parts(circle) if isinstance(part, Polygon)]
    return MultiPolygon(parts) if parts else None


def write_where_from(path: Path, floors: Sequence[Origins]) -> None:
    """Write places and their regions as two layers of one GeoPackage, in one step."""
    rows: dict[str, list[tuple[BaseGeometry, tuple[Any, ...]]]] = {name: [] for name in LAYERS}
    crs: str = PLAN_CRS
    for floor in floors:
        frame = floor.floor.map_frame
        crs = frame.crs if frame else PLAN_CRS
        for one in floor.sources:
            values = _values(one, floor)
            if one.x is not None and one.y is not None:
                rows[LAYERS[0]].append((on_map(Point(one.x, one.y), floor.floor), values))
            region = region_of(one, floor.floor)
            if region is not None:
                multi = MultiPolygon([region]) if isinstance(region, Polygon) else region
                rows[LAYERS[1]].append((on_map(multi, floor.floor), values))

    import geopandas as gpd  # takes a second to import
    import pandas as pd

    def fill(temporary: Path) -> None:
        temporary.unlink()
        for layer, kind in zip(LAYERS, ("Point", "MultiPolygon"), strict=True):
            table = gpd.GeoDataFrame(
                {
                    name: pd.Series([values[k] for _, values in rows[layer]], dtype=_kind(name))
                    for k, name in enumerate(_COLUMNS)
                },
                geometry=gpd.GeoSeries([shape for shape, _ in rows[layer]], crs=crs),
            )
            try:
                table.to_file(temporary, layer=layer, driver="GPKG", engine="pyogrio",
                              geometry_type=kind)  # fmt: skip
            except RuntimeError as error:  # what GDAL says of a full disk is no OSError
                raise OSError(str(error)) from None

    write_atomically(path, fill)


def _kind(column: str) -> str:
    return "float64" if column in _NUMBERS else "int64" if column == "rank" else "str"


def _values(one: LikelySource, origins: Origins) -> tuple[Any, ...]:
    found = _source(one, origins)
    return (
        one.floor, one.rank, one.room, one.room_name, one.height, one.share, one.share_in_room,
        one.own, one.radius_m, found["estimate"], origins.level.unit, one.basis,
        " ".join(one.readings), "; ".join(one.reasons), "; ".join(one.cautions), HINT,
    )  # fmt: skip


def _cell(value: float | None, form: str) -> str:
    return "" if value is None else format(value, form)
