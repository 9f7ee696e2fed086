"""The text of the files of the site folder."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Collection, Sequence
from typing import Any, Final

import shapely
from shapely.geometry import mapping
from story_plan import NORTH_DEG, Storey, outer_walls
from story_survey import LOG_COLUMNS, READING_COLUMNS, Meter, Row, Visit

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
sampling_plan = "sampling-plan.csv"

[level]
name = "{level}"

[title_block]
client = "Governors of the school (invented)"
address = "1 Nowhere Lane, Inventedtown"
project = "Barometer broken in the science store, before and after clean-up"
prepared_by = "Surveyor (invented)"
reviewed_by = "Second surveyor (invented)"
instrument = "{meter.name}, serial {meter.serial}"
revision = "A, first issue (invented)"

{floors}
[[rounds]]
name = "before"
title = "Before clean-up"
date = 2026-03-02
readings = ["readings/2026-03-02.csv"]

[rounds.conditions]
temperature_c = {before.temperature_c:.1f}
outdoor_temperature_c = 6.0
ventilation = "as occupied"
windows = "closed"
hours_closed = 60
note = "door states as on the plan"

[[rounds]]
name = "after"
title = "After clean-up"
date = 2026-03-16
readings = ["readings/2026-03-16.csv"]
purpose = "clearance"

[rounds.conditions]
temperature_c = {after.temperature_c:.1f}
outdoor_temperature_c = 9.0
ventilation = "as occupied"
windows = "closed"
hours_closed = 19
hours_heated = 19
occupied = false

[map]
height_band = "adult breathing"

[clearance]
guidance = "as-occupied"
occupied_temperature_c = 22

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


def site_toml(building: Sequence[Storey], meter: Meter, before: Visit, after: Visit) -> str:
    """Return site.toml."""
    floors = "\n".join(_FLOOR.format(floor=floor, north=NORTH_DEG) for floor in building)
    return _SITE.format(level=LEVEL_NAME, meter=meter, floors=floors, before=before, after=after)


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


PLAN_COLUMNS: Final = ("round", "floor", "room", "band", "kind", "count")


def sampling_plan_csv(building: Sequence[Storey], shut: Collection[str]) -> str:
    """Return what the surveyors meant to read: each room once at adult height, and the checks."""
    rows: list[Row] = []
    for visit in ("before", "after"):
        rows += [
            dict(
                zip(
                    PLAN_COLUMNS, (visit, floor.name, room, "adult breathing", "", "1"), strict=True
                )
            )
            for floor in building
            for room in floor.rooms
            if room not in shut
        ]
        rows += [
            dict(zip(PLAN_COLUMNS, (visit, "", "", "", kind, count), strict=True))
            for kind, count in (("duplicate", "4"), ("background", "2"))
        ]
    return _csv(rows, PLAN_COLUMNS)


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
