"""Why a place reads so: estimate, interval, probability, and the readings that drive it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import shapely
from scipy.special import stdtrit
from shapely import Point

from hgmap.decide.evidence import describe
from hgmap.decide.exceedance import exceedance_probability, working_level
from hgmap.decide.model import FloorEvidence, ZoneName, Zones
from hgmap.decide.whose import IN_A_WALL_M
from hgmap.errors import EstimateError
from hgmap.field.influence import reading_weights
from hgmap.field.paths import Walks
from hgmap.field.routes import Departure, Route, find_route
from hgmap.field.surface import Surface
from hgmap.site.building import Room

WORST_FIRST: Final[tuple[ZoneName, ...]] = ("remediate", "resample", "no data", "clear")


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
    ``lighter`` places of readings weigh less than the ``drivers`` and are not among them.
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
    lighter: int = 0


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
    return Drives(evidence, surface).of(figures_at(evidence, surface, zones, x, y))


def figures_at(
    evidence: FloorEvidence, surface: Surface, zones: Zones, x: float, y: float
) -> Explanation:
    """Say what the map says at a place (m), without what drives it: a look at the nearest cell.

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
    here = [zone for zone in zones.zones
            if zone.room == room.id and zone.geometry.distance(point) <= 0.01]  # fmt: skip
    # where two zones meet, it is of the worse
    ruled = min(here, key=lambda zone: WORST_FIRST.index(zone.name), default=None)
    mean, sd = _at(surface, x, y, index)
    reached = np.isfinite(mean)
    reach = float(stdtrit(surface.degrees_of_freedom, 0.975)) * sd
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
        drivers=(),
    )


class Drives:
    """What drives the places of one map; what several places have in common is kept.

    That is the floor's walks, and what is seen from each reading.
    """

    def __init__(self, evidence: FloorEvidence, surface: Surface) -> None:
        self.evidence, self.surface = evidence, surface
        self._departures: dict[int, Departure] = {}
        self._legs: dict[tuple[int, int], list[int]] = {}

    @cached_property
    def walks(self) -> Walks:
        """The walks of the floor."""
        return Walks.over(self.evidence.floor)

    def of(self, one: Explanation, most: int | None = None) -> Explanation:
        """Add the readings that drive a place, the heaviest first; ``most``: no more of them."""
        if one.estimate is None:
            return one
        evidence, surface, floor = self.evidence, self.surface, self.evidence.floor
        room = next(k for k, held in enumerate(floor.rooms) if held is one.room)
        at = np.array([one.x, one.y])
        weight = reading_weights(surface, floor, at, room, self.walks)
        order = np.argsort(-np.abs(weight), kind="stable")
        heavy = order if most is None else order[:most]
        arrival = self.walks.arrival(at, room)
        drivers = []
        for place in map(int, heavy):
            used = [evidence.used[k].reading for k in np.flatnonzero(surface.group == place)]
            home = int(surface.room[place])
            drivers.append(
                Driver(
                    tuple(one.id for one in used),
                    ", ".join(map(describe, used)),
                    floor.rooms[home],
                    float(weight[place]),
                    float(np.hypot(*(surface.xy[place] - at))),
                    find_route(floor, self._from(place), arrival, (home, room), self._legs),
                )
            )
        return replace(one, drivers=tuple(drivers), lighter=len(order) - len(heavy))

    def _from(self, place: int) -> Departure:
        if place not in self._departures:
            home = int(self.surface.room[place])
            self._departures[place] = self.walks.departure(self.surface.xy[place], home)
        return self._departures[place]


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
