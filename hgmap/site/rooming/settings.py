"""How walls are read as rooms: each tolerance in metres, and why it is what it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

NO_REFUSALS: Final[frozenset[str]] = frozenset()


@dataclass(frozen=True, slots=True)
class Rooming:
    """The settings of :func:`hgmap.site.rooming.rooms_from_walls`.

    Attributes
    ----------
    gap_m : float
        Gaps between walls up to this wide (m) are slips of the drawing and are closed. 0.05: ours,
        no source; real leaks of drawings are millimetres to centimetres, and nothing that a person
        walks through is as narrow.
    narrowest_door_m, widest_door_m : float
        Gaps between the ends of walls that are doors without a leaf (m). 0.6 to 2.5: common
        practice, no source; a cupboard's door to a wide double door. What lies between ``gap_m``
        and the narrowest door is an opening too, and is named as something to look at.
    thickest_wall_m : float
        A strip between two lines no wider than this (m) is a wall, and a wall no thicker ends in a
        jamb. 0.6: common practice, no source; the thickness that a reading may stand in.
    smallest_room_m2 : float
        A space smaller than this (m²) is no room: 0.25, half a metre square; ours, no source.
    thinnest_room_m : float
        A space that is nowhere wider than this (m) is a sliver between walls, not a room. 0.15:
        ours, no source; half of the slimmest duct that somebody can read a probe in.
    furniture_m2 : float
        A closed shape of lines that touches no wall and is no larger than this (m²) is furniture
        or a column, and belongs to the room round it. 2.0: ours, no source; a large desk. Wall
        polygons that stand alone are columns at any size, and holes in their room.
    door_reach_m : float
        A door drawn farther than this (m) from every wall is laid on none. 1.0, as for doors
        that are points in other plans; ours, no source.
    refused : frozenset of str
        Keys of repairs that are not made.
    """

    gap_m: float = 0.05
    narrowest_door_m: float = 0.6
    widest_door_m: float = 2.5
    thickest_wall_m: float = 0.6
    smallest_room_m2: float = 0.25
    thinnest_room_m: float = 0.15
    furniture_m2: float = 2.0
    door_reach_m: float = 1.0
    refused: frozenset[str] = NO_REFUSALS
