"""Real drawings of others, which stay outside the repository."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import shape

from hgmap.site.georef import local_frame_at, lonlat_to_local
from hgmap.site.importers.drawing import Part, Role
from hgmap.site.rooming import Rooming, rooms_from_walls

PLANS = Path(__file__).parents[4] / "shared" / "data" / "plans"
ROLES: dict[str, Role] = {
    "building_outline": "outline", "wall": "wall", "door": "door", "window": "window",
    "stairs": "room", "elevator": "room", "bathroom": "room", "room": "room",
    "inaccessible_space": "room",
}  # fmt: skip


def office_floor(level: str) -> list[Part]:
    path = PLANS / f"westport-house-floor-{level}.geojson"
    if not path.exists():
        pytest.skip("the plans of others lie beside the repository, not in it")
    convert = lonlat_to_local(local_frame_at(-2.978, 56.46))
    parts: list[Part] = []
    for number, one in enumerate(json.loads(path.read_text("utf-8"))["features"], start=1):
        kind = one["properties"]["type"]
        if kind in ROLES:
            geometry = shapely.transform(
                shape(one["geometry"]), lambda xy: np.column_stack(convert(xy[:, 0], xy[:, 1]))
            )
            parts.append(Part(ROLES[kind], geometry, f"feature {number} ({kind})"))
    return parts


# What is found, looked at on pictures of all seven. Counted by eye on drawings of the bare walls:
# gf 40 (found: one niche more), 1 about 20 (two more), 2 about 30, 3 about 133 (one less), 4 117
# (one less: a round hall is one room with the corridor that runs into it), 5 14, 6 13. As drawn,
# floor 3 falls into 54 spaces of a square metre.
@pytest.mark.parametrize(
    ("level", "rooms"),
    [("gf", 41), ("1", 22), ("2", 30), ("3", 132), ("4", 116), ("5", 14), ("6", 13)],
)
def test_an_office_building_has_the_rooms_that_were_looked_at(level: str, rooms: int) -> None:
    parts = office_floor(level)
    plan = rooms_from_walls(parts, Rooming())
    assert len(plan.rooms) == rooms
    assert all(one.polygon.is_valid for one in plan.rooms)
    polygons = [one.polygon for one in plan.rooms]
    together = shapely.union_all(polygons).area
    assert sum(one.area for one in polygons) == pytest.approx(together, abs=0.01)
    doors = sum(one.role == "door" for one in parts)
    assert len(plan.openings) >= 0.9 * doors
