"""The text of the files of the site folder."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any, Final

import shapely
from shapely.geometry import mapping
from story_plan import NORTH_DEG, Storey, outer_walls
from story_survey import LOG_COLUMNS, READING_COLUMNS, Meter, Row

LEVEL_NAME: Final = "new-jersey-school-floor"

_SITE: Final = """\
# INVENTED for hgmap: no such school, people, instrument or spill.
# Made by make_demo.py; change the story there, not here.
schema_version = 1
name = "Old Orrery School (invented)"
analyte = "elemental mercury vapour"
medium = "air"
use = "school"
invented = true

[level]
name = "{level}"

[title_block]
client = "Governors of the school (invented)"
address = "1 Nowhere Lane, Inventedtown"
project = "Barometer broken in the science store, before and after clean-up"
prepared_by = "Surveyor (invented)"
reviewed_by = "Second surveyor (invented)"
instrument = "{meter.name}, serial {meter.serial}"

{floors}
[[rounds]]
name = "before"
title = "Before clean-up"
date = 2026-03-02
readings = ["readings/2026-03-02.csv"]

[[rounds]]
name = "after"
title = "After clean-up"
date = 2026-03-16
readings = ["readings/2026-03-16.csv"]

[map]
height_band = "adult breathing"

[readings]
detection_limit = "{meter.detection_limit_ug_m3:g} ug/m3"
"""

_FLOOR: Final = """\
[[floors]]
name = "{floor.name}"
title = "{floor.title}"
plan = "plans/{floor.name}.geojson"
north_deg = {north:.1f}
"""


def site_toml(building: Sequence[Storey], meter: Meter) -> str:
    """Return site.toml."""
    floors = "\n".join(_FLOOR.format(floor=floor, north=NORTH_DEG) for floor in building)
    return _SITE.format(level=LEVEL_NAME, meter=meter, floors=floors)


def plan_geojson(storey: Storey) -> str:
    """Return the plan of one floor, one feature a line."""
    features = [
        _feature(shape, kind="room", id=key, name=name)
        for key, (name, shape) in storey.rooms.items()
    ]
    features += [_feature(line, kind="wall") for line in outer_walls(storey)]
    features += [_feature(line, kind="wall") for line in storey.partitions]
    features += [
        _feature(door.line, kind="opening", id=door.id, state=door.state) for door in storey.doors
    ]
    lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in features)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def _feature(shape: shapely.Geometry, **properties: str) -> dict[str, Any]:
    # Millimetres: more digits would only be noise of the arithmetic.
    tidy = shapely.transform(shape, lambda xy: xy.round(3) + 0.0)
    return {"type": "Feature", "properties": properties, "geometry": mapping(tidy)}


def readings_csv(rows: Sequence[Row]) -> str:
    """Return one round's readings."""
    return _csv(rows, READING_COLUMNS)


def log_csv(rows: Sequence[Row]) -> str:
    """Return the instrument log."""
    return _csv(rows, LOG_COLUMNS)


def _csv(rows: Sequence[Row], columns: Sequence[str]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
