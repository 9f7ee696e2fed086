"""Why a place reads so: estimate, interval, probability, and the readings that drive it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.stats import t
from shapely import Point

from hgmap.decide.evidence import describe
from hgmap.decide.exceedance import exceedance_probability, working_level
from hgmap.decide.model import FloorEvidence, ZoneName, Zones
from hgmap.decide.whose import IN_A_WALL_M
from hgmap.errors import EstimateError
from hgmap.field.influence import reading_weights
from hgmap.field.paths import Walks
from hgmap.field.routes import Route
from hgmap.field.surface import Surface
from hgmap.site.building import Room


@dataclass(frozen=True, slots=True)
class Driver:
    """Readings at one place and what they weigh in the estimate.

    Attributes
    ----------
    readings : tuple of str
        Their ids.
    text : str
        As they were written.
    weight : float
        Share of the estimate on the working scale; negative where another reading screens them.
    straight_m : float
        As the crow flies (m).
    route : Route or None
        The shortest walk; None where there is none.
    """

    readings: tuple[str, ...]
    text: str
    room: Room
    weight: float
    straight_m: float
    route: Route | None


@dataclass(frozen=True, slots=True)
class Explanation:
    """What the map says at one place, and why; concentrations in the computing unit.

    ``estimate`` is the median where the scale is log. Numbers are None where no reading reaches.
    """

    x: float
    y: float
    room: Room
    zone: ZoneName | None
    reasons: tuple[str, ...]
    scale: str
    method: str
    estimate: float | None
    low: float | None
    high: float | None
    probability: float | None
    drivers: tuple[Driver, ...]


def explain_place(
    evidence: FloorEvidence, surface: Surface, zones: Zones, x: float, y: float
) -> Explanation:
    """Explain one place (m) of a floor; one in a wall or doorway is taken for its nearest room's.

    Parameters
    ----------
    evidence, surface, zones
        Of the floor.
    x, y : float

    Raises
    ------
    EstimateError
        If the place is in no room.
    """
    floor, point = evidence.floor, Point(x, y)
    apart = shapely.distance([room.polygon for room in floor.rooms], point)
    index = int(np.argmin(apart))
    room = floor.rooms[index]
    if apart[index] > IN_A_WALL_M:
        raise EstimateError(
            f"({x:g}, {y:g}) is in no room of {floor.title}",
            where="--at",
            todo=f"the nearest room is {room.name}, {apart[index]:.1f} m away",
        )
    ruled = next((zone for zone in zones.zones if zone.room == room.id
                  and zone.geometry.distance(point) <= 0.01), None)  # fmt: skip
    mean, sd = _at(surface, x, y, index)
    reached = np.isfinite(mean)
    reach = float(t(surface.degrees_of_freedom).ppf(0.975)) * sd
    ends = [_concentration(surface, value) for value in (mean, mean - reach, mean + reach)]
    level = working_level(surface, evidence.level.concentration)
    probability = exceedance_probability(
        mean, sd, level, degrees_of_freedom=surface.degrees_of_freedom
    )
    estimate, low, high = ends if reached else (None, None, None)
    return Explanation(
        x=x,
        y=y,
        room=room,
        zone=None if ruled is None else ruled.name,
        reasons=() if ruled is None else ruled.reasons,
        scale=surface.scale,
        method=surface.method,
        estimate=estimate,
        low=low,
        high=high,
        probability=float(probability) if reached else None,
        drivers=_drivers(evidence, surface, np.array([x, y]), index) if reached else (),
    )


def _at(surface: Surface, x: float, y: float, room: int) -> tuple[float, float]:
    """Return mean and sd of the nearest cell of the room, as the map shows them."""
    raster = surface.raster
    row, column = np.nonzero(raster.room_index == room)
    if not len(row):
        return np.nan, np.nan
    k = int(np.argmin((raster.x[column] - x) ** 2 + (raster.y[row] - y) ** 2))
    return float(surface.mean[row[k], column[k]]), float(surface.sd[row[k], column[k]])


def _concentration(surface: Surface, working: float) -> float:
    return float(np.exp(working)) if surface.scale == "log" else max(working, 0.0)


def _drivers(
    evidence: FloorEvidence, surface: Surface, at: NDArray[np.float64], room: int
) -> tuple[Driver, ...]:
    weight = reading_weights(surface, evidence.floor, at, room)
    walks = Walks.over(evidence.floor)
    drivers = []
    for place in np.argsort(-np.abs(weight), kind="stable"):
        used = [evidence.used[k].reading for k in np.flatnonzero(surface.group == place)]
        home = int(surface.room[place])
        drivers.append(
            Driver(
                tuple(one.id for one in used),
                ", ".join(map(describe, used)),
                evidence.floor.rooms[home],
                float(weight[place]),
                float(np.hypot(*(surface.xy[place] - at))),
                walks.route(surface.xy[place], home, at, room),
            )
        )
    return tuple(drivers)
