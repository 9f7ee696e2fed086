"""Zones of several levels, one inside the other, whatever the evidence of each level alone says.

Ground that is to remediate at a level is so at every lower one, and ground that is not clear at a
level is clear at no lower one. Where a survey says otherwise (a reading counts at one level and
cannot see the other) the more careful ruling holds.
"""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.guards import Guard
from hgmap.decide.model import Zone, ZoneName, Zones
from hgmap.decide.ruling import RoomRuling


def nested_parts(
    ruling: RoomRuling, of_higher: Sequence[Zone], higher: Zones
) -> tuple[dict[ZoneName, BaseGeometry], list[Guard]]:
    """Return the parts of a room under those of a higher level, and what that changes and why.

    Parameters
    ----------
    ruling : RoomRuling
        At the lower level.
    of_higher : sequence of Zone
        The zones of the same room at the higher level.
    higher : Zones
        Those of the whole floor, for the name of their level.
    """
    room = ruling.room.polygon
    above = shapely.union_all([one.geometry for one in of_higher if one.name == "remediate"])
    open_ = shapely.union_all([one.geometry for one in of_higher if one.name == "clear"])
    own = ruling.part("remediate")
    remediate = polygonal(shapely.union(own, above))
    clear = polygonal(shapely.difference(shapely.intersection(ruling.part("clear"), open_), above))
    unknown = polygonal(shapely.difference(ruling.part("no data"), above))
    taken = shapely.union_all([remediate, clear, unknown])
    parts: dict[ZoneName, BaseGeometry] = {
        "remediate": remediate,
        "resample": polygonal(shapely.difference(room, taken)),
        "clear": clear,
        "no data": unknown,
    }
    level = f"{higher.level.value:g} {higher.level.unit}"
    changes = (
        (polygonal(shapely.difference(above, own)), f"to remediate at the higher level {level}"),
        (
            polygonal(shapely.difference(ruling.part("clear"), shapely.union(clear, above))),
            f"not clear at the higher level {level}",
        ),
    )
    return parts, [Guard(ground, why) for ground, why in changes if not ground.is_empty]
