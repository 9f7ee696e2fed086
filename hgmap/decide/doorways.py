"""Ground before a door is not clear while the ground behind it is above the level."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.guards import ROUND_OUT, Guard
from hgmap.site.building import Floor

AT_THE_DOOR_M: Final = 0.6
"""Ground nearer than this (m) to an opening is at it, whatever the thickness of the wall."""


def doorway_guards(
    floor: Floor, above: Mapping[int, BaseGeometry], *, guard_m: float
) -> dict[int, list[Guard]]:
    """Guard the ground before each opening that leads to ground above the level.

    Air does not stop at the threshold, a closed door leaks and is opened, and between the last
    reading on one side and the first on the other the estimate is surer than it can be. A sealed
    one guards nothing. Our rule, no source.

    Parameters
    ----------
    floor : Floor
    above : mapping of int to geometry
        By position in ``floor.rooms``: the ground that is to be remediated.
    guard_m : float
        How far (m) from the opening.

    Returns
    -------
    dict of int to list of Guard
        By position in ``floor.rooms``.
    """
    place = {room.id: index for index, room in enumerate(floor.rooms)}
    guards: dict[int, list[Guard]] = {}
    for opening in floor.openings:
        if opening.state == "sealed" or len(opening.rooms) != 2:
            continue
        first, second = (place.get(identifier) for identifier in opening.rooms)
        if first is None or second is None:
            continue
        for here, there in ((first, second), (second, first)):
            ground = above.get(there)
            if ground is None or opening.line.distance(ground) > AT_THE_DOOR_M:
                continue
            before = opening.line.buffer(guard_m * ROUND_OUT)
            before = polygonal(before.intersection(floor.rooms[here].polygon))
            if not before.is_empty:
                name = floor.rooms[there].name
                article = "an" if opening.state == "open" else "a"
                reason = (
                    f"{article} {opening.state} door away from ground above the level in {name}"
                )
                guards.setdefault(here, []).append(Guard(before, reason))
    return guards
