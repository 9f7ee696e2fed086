"""Where on a plan the open points of a survey lie, and what its readings are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely import Point, union_all
from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:  # the window asks before anything is estimated
    from hgmap.site.building import Floor
    from hgmap.site.model import Site
    from hgmap.site.reading import Reading


def whole_of(floor: Floor) -> BaseGeometry | None:
    """Return all of a floor's rooms as one shape (m); None where it has none."""
    return union_all([one.polygon for one in floor.rooms]) if floor.rooms else None


def name(reading: Reading) -> str:
    """Return what a reading is called: its id, else its row."""
    return reading.id or reading.where


def place_of(reading: Reading, site: Site) -> BaseGeometry | None:
    """Return where a reading lies, else the room that it names."""
    if reading.x is not None and reading.y is not None:
        return Point(reading.x, reading.y)
    floor = site.floor(reading.floor)
    room = floor.room(reading.room) if floor and reading.room else None
    return room.polygon if room else None
