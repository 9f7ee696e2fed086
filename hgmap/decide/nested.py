"""Zones of several levels, one inside the other, whatever the evidence of each level alone says.

Ground that is to remediate at a level is so at every lower one, and ground that is not clear at a
level is clear at no lower one. Where a survey says otherwise (a reading counts at one level and
cannot see the other) the more careful ruling holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.guards import Guard
from hgmap.decide.model import ZoneName
from hgmap.site.model import ActionLevel

Parts = Mapping[ZoneName, BaseGeometry]

_ROUNDING: Final = 1e-9
"""Share of a room that may lie outside by rounding of its coordinates."""


def nested_parts(room: Polygon, own: Parts, higher: Parts) -> dict[ZoneName, BaseGeometry]:
    """Return the parts of a room at a level, put under those at a higher level."""
    empty = Polygon()
    above = higher.get("remediate", empty)
    remediate = polygonal(shapely.union(own.get("remediate", empty), above))
    both = shapely.intersection(own.get("clear", empty), higher.get("clear", empty))
    clear = polygonal(shapely.difference(both, remediate))
    unknown = polygonal(shapely.difference(own.get("no data", empty), above))
    taken = shapely.union_all([remediate, clear, unknown])
    return {
        "remediate": remediate,
        "resample": polygonal(shapely.difference(room, taken)),
        "clear": clear,
        "no data": unknown,
    }


def lies_under(room: Polygon, lower: Parts, higher: Parts) -> bool:
    """Tell whether the parts of a room at a level lie under those at a higher level."""
    empty, least = Polygon(), _ROUNDING * room.area
    beyond = shapely.difference(higher.get("remediate", empty), lower.get("remediate", empty))
    let_in = shapely.difference(lower.get("clear", empty), higher.get("clear", empty))
    return bool(beyond.area <= least and let_in.area <= least)


def imposed(own: Parts, higher: Parts, level: ActionLevel) -> list[Guard]:
    """Return the ground that a higher level takes from ``clear`` or ``resample``, and why."""
    empty = Polygon()
    above, open_ = higher.get("remediate", empty), higher.get("clear", empty)
    value = f"{level.value:g} {level.unit}"
    changes = (
        (shapely.difference(above, own.get("remediate", empty)),
         f"to remediate at the higher level {value}"),
        (shapely.difference(own.get("clear", empty), shapely.union(open_, above)),
         f"not clear at the higher level {value}"),
    )  # fmt: skip
    return [Guard(polygonal(ground), why) for ground, why in changes if not ground.is_empty]
