"""What was ruled on a floor, and why, before anybody says how its zones are cut and described."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.guards import Guard
from hgmap.decide.model import Evidence, FloorEvidence, Zone, ZoneName
from hgmap.site.building import Room

Floats = NDArray[np.float64]

LEAST_SHARE = 1e-9
"""Parts smaller than this share of their room are rounding, not ground."""


@dataclass(frozen=True)
class RoomCells:
    """The cells of a room's window: where they lie (m), which are the room's own, what they say.

    ``estimate`` is a concentration (computing unit), ``probability`` that of being above the level.
    """

    x: Floats
    y: Floats
    own: NDArray[np.bool_]
    estimate: Floats
    probability: Floats

    def highest(self, geometry: BaseGeometry) -> tuple[float | None, float | None]:
        """Return the highest estimate and probability inside a part of the room; None: unknown.

        A part smaller than a cell is spoken for by its nearest one.
        """
        west, south, east, north = geometry.bounds
        rows = np.flatnonzero((self.y >= south) & (self.y <= north))
        columns = np.flatnonzero((self.x >= west) & (self.x <= east))
        inside = np.zeros((0, 0), dtype=np.bool_)
        if len(rows) and len(columns):
            box = np.ix_(rows, columns)
            x, y = np.meshgrid(self.x[columns], self.y[rows])
            inside = self.own[box] & shapely.intersects_xy(geometry, x, y)
        if not inside.any():
            point = geometry.representative_point()
            row = int(np.argmin((self.y - point.y) ** 2))
            column = int(np.argmin((self.x - point.x) ** 2))
            return (
                _highest(self.estimate[row : row + 1, column]),
                _highest(self.probability[row : row + 1, column]),
            )
        return _highest(self.estimate[box][inside]), _highest(self.probability[box][inside])


@dataclass(frozen=True)
class RoomRuling:
    """The parts of one room, which tile it, and what they are due to.

    Attributes
    ----------
    room : Room
    items : tuple of Evidence
        All that bears on the room.
    parts : mapping of ZoneName to Polygon or MultiPolygon
        Some may be empty.
    cells : RoomCells or None
        None where no estimate speaks for the room.
    doubtful : geometry
        Where the probability of being above the level keeps ground out of ``clear``.
    guards : tuple of Guard
        What else keeps ground out of ``clear``.
    whole : Zone or None
        The one zone of a room that no estimate speaks for, with its reasons.
    """

    room: Room
    items: tuple[Evidence, ...]
    parts: Mapping[ZoneName, BaseGeometry]
    cells: RoomCells | None
    doubtful: BaseGeometry
    guards: tuple[Guard, ...]
    whole: Zone | None = None

    def part(self, name: ZoneName) -> BaseGeometry:
        """Return a part; empty where there is none."""
        return self.parts.get(name, Polygon())


@dataclass(frozen=True)
class FloorRuling:
    """The rulings on the rooms of a floor, in the order of its rooms."""

    evidence: FloorEvidence
    rooms: tuple[RoomRuling, ...]
    contours: tuple[LineString, ...]
    remediate_at: float
    clear_at: float


def one_zone(room: Room, items: Sequence[Evidence], zone: Zone) -> RoomRuling:
    """Return the ruling on a room that no estimate speaks for."""
    return RoomRuling(room, tuple(items), {zone.name: room.polygon}, None, Polygon(), (), zone)


def tangible(pieces: Iterable[BaseGeometry], room: Room) -> list[BaseGeometry]:
    """Leave out what is rounding."""
    return [one for one in pieces if one.area > LEAST_SHARE * room.polygon.area]


def _highest(values: Floats) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.max()) if len(known) else None
