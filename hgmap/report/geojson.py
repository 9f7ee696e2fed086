"""GeoJSON: a file for each layer of a floor.

RFC 7946 knows no coordinates but longitude and latitude. Where the site has a map frame they are
written so. A plan that lies nowhere on the map keeps its own metres: then the file's name, a note
at its head and one on every feature say it. The member ``crs`` of the format's older edition names
the plan's frame besides: readers that know it then do not take metres for degrees, as GDAL 3.12
does without it.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.errors import HgmapError
from hgmap.report.layers import LAYERS, NESTED, PLAN_CRS, layer_rows
from hgmap.report.run_facts import MappedFloor, RunFacts, facts_of_floor, facts_of_run
from hgmap.site.files import write_text
from hgmap.site.georef import map_to_lonlat

PLAN_METRES: Final = "plan metres, not longitude and latitude"
_LONLAT: Final = "longitude, latitude (WGS 84, degrees)"
_DEGREE_DIGITS: Final = 8
"""A step of 1e-8 degrees is 1.1 mm on the ground."""
_METRE_DIGITS: Final = 4


def geojson_files(*, on_map: bool, several_levels: bool) -> tuple[str, ...]:
    """Name the files of a floor, in the order of its layers."""
    layers = (*LAYERS, NESTED) if several_levels else LAYERS
    return tuple(
        f"{layer.replace('_', '-')}{'' if on_map else '-plan-metres'}.geojson" for layer in layers
    )


def write_geojson(folder: Path, facts: RunFacts, one: MappedFloor) -> list[str]:
    """Write the layers of a floor into a folder, each file in one step; return their names.

    Raises
    ------
    HgmapError
        If the plan lies where its map frame has no longitude and latitude, or a file cannot be
        written.
    """
    frame = one.floor.map_frame
    turn = map_to_lonlat(frame) if frame else lambda coordinates: coordinates
    digits = _DEGREE_DIGITS if frame else _METRE_DIGITS
    about = _about(facts, one, on_map=frame is not None)
    own = {} if frame else {"coordinates": PLAN_METRES}
    rows = layer_rows([(one.evidence, one.zones, one.resample)], one.nested)
    names = geojson_files(on_map=frame is not None, several_levels=bool(one.nested))
    texts = []
    for layer, features in rows.items():
        collection: dict[str, Any] = {"type": "FeatureCollection", "name": layer, "about": about}
        if frame is None:
            collection["crs"] = {"type": "name", "properties": {"name": PLAN_CRS}}
        collection["features"] = [
            {
                "type": "Feature",
                "properties": own | {name: _plain(value) for name, value in row.items()
                                     if name != "geometry"},
                "geometry": _geometry(row["geometry"], turn, digits),
            }
            for row in features
        ]  # fmt: skip
        texts.append(json.dumps(collection, ensure_ascii=False, allow_nan=False) + "\n")
    try:
        for name, text in zip(names, texts, strict=True):
            write_text(folder / name, _without_halves(text))
    except HgmapError:  # some layers without the others would look like all of them
        for name in names:
            (folder / name).unlink(missing_ok=True)
        raise
    return list(names)


def _about(facts: RunFacts, one: MappedFloor, *, on_map: bool) -> dict[str, Any]:
    told: Iterable[tuple[str, str]] = (*facts_of_floor(one), *facts_of_run(facts))
    lines = list(dict.fromkeys(f"{heading}: {text}" for heading, text in told))
    where = _LONLAT if on_map else f"{PLAN_METRES}; x to the right, y up on the plan"
    return {"coordinates": where, "lines": lines}


def _geometry(
    geometry: BaseGeometry | None,
    turn: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    digits: int,
) -> dict[str, Any] | None:
    """Turn a geometry into what stands in the file; outer rings run counter-clockwise."""
    if geometry is None or geometry.is_empty:
        return None
    turned = shapely.orient_polygons(
        shapely.transform(geometry, lambda places: np.round(turn(places), digits))
    )
    found: dict[str, Any] = shapely.geometry.mapping(turned)
    return found


def _plain(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _without_halves(text: str) -> str:
    """Replace halves of characters, which UTF-8 cannot hold."""
    return text.encode("utf-8", "replace").decode()
