"""Plans as hypothesis draws them: rooms in rows and columns with walls between, and doors."""

from __future__ import annotations

import json
from typing import Any

from hypothesis import strategies as st

from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.site.plan import Plan, read_plan


def feature(kind: str, shape: str, coordinates: Any, **properties: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"kind": kind, **properties},
        "geometry": {"type": shape, "coordinates": coordinates},
    }


def room(name: str, west: float, south: float, east: float, north: float) -> dict[str, Any]:
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return feature("room", "Polygon", [ring], id=name, name=f"Room {name}")


def door(name: str, x1: float, y1: float, x2: float, y2: float, state: str = "open") -> Any:
    return feature("opening", "LineString", [[x1, y1], [x2, y2]], id=name, state=state)


def data_of(*features: Any, **members: Any) -> bytes:
    return json.dumps({"type": "FeatureCollection", **members, "features": features}).encode()


def draft_of(*features: Any, **members: Any) -> PlanDraft:
    return read_plan_draft(data_of(*features, **members))


def two_rooms(wall: float = 0.0) -> PlanDraft:
    """A and B of 6 m by 5 m side by side, a door between them."""
    half = wall / 2
    return draft_of(
        room("A", 0, 0, 6 - half, 5), room("B", 6 + half, 0, 12, 5), door("d1", 6, 2, 6, 3)
    )


def plan_of(draft: PlanDraft) -> Plan:
    return read_plan(draft.to_bytes(), where="p", floor="ground")


def area(draft: PlanDraft) -> float:
    return sum(one.area_m2 for one in draft.sound_rooms.values())


sides = st.integers(20, 90).map(lambda n: n / 10)
walls = st.sampled_from([0.0, 0.1, 0.15, 0.3])


@st.composite
def plans(draw: st.DrawFn, least: int = 1) -> PlanDraft:
    """Draw a plan of rooms in rows and columns, a door in the middle of each wall between two."""
    across = draw(st.lists(sides, min_size=least, max_size=4))
    up = draw(st.lists(sides, min_size=1, max_size=3))
    wall = draw(walls)
    features: list[Any] = []
    doors: list[Any] = []
    south = 0.0
    for j, height in enumerate(up):
        west = 0.0
        for i, width in enumerate(across):
            east, north = round(west + width, 3), round(south + height, 3)
            features.append(room(f"{chr(65 + j)}{i + 1}", west, south, east, north))
            x, y = east + wall / 2, (south + north) / 2
            if i + 1 < len(across):
                doors.append(door(f"d{j}{i}", x, y - 0.4, x, y + 0.4))
            west = round(east + wall, 3)
        south = round(south + height + wall, 3)
    return draft_of(*features, *doors)
