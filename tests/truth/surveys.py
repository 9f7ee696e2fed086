"""Whole surveys of simulated buildings, with what an instrument cannot see, ready to be ruled on.

A survey has a level that part of its floor is above, an instrument with a detection limit, a
ceiling in one of three, and an error of 10 to 20 %. Where the air is above the level is known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.decide.model import Zones
from hgmap.site.building import HeightBand
from hgmap.site.model import ActionLevel, MapSettings, Round, Site, TitleBlock
from hgmap.site.reading import Reading
from tests.truth.buildings import Building, take_readings

Floats = NDArray[np.float64]

BAND: Final = HeightBand("adult", 1.2, 1.8)
HEIGHT_M: Final = 1.5
ROUND: Final = Round("survey", "Survey", date(2026, 3, 2), ())


@dataclass(frozen=True)
class Instrument:
    """What reads: relative error (sd of the logarithm), detection limit and ceiling (µg/m³)."""

    error: float
    detection_limit: float
    ceiling: float

    def read(self, log_truth: Floats, random: np.random.Generator) -> list[tuple[float, str]]:
        """Return what it shows at places: a number and its qualifier."""
        shown = np.exp(log_truth + self.error * random.normal(size=len(log_truth)))
        return [
            (self.detection_limit, "<") if one < self.detection_limit
            else (self.ceiling, ">") if one > self.ceiling
            else (float(one), "")
            for one in shown
        ]  # fmt: skip


@dataclass(frozen=True)
class Survey:
    """One simulated survey."""

    building: Building
    level: ActionLevel
    instrument: Instrument
    site: Site

    @property
    def above(self) -> NDArray[np.bool_]:
        """Which targets of the building are truly above the level."""
        return np.asarray(self.building.truth > np.log(self.level.concentration))

    def with_readings(self, xy: Floats, seed: int) -> Survey:
        """Return the survey with readings at further places (m).

        They are taken with an instrument that sees a tenth of the level and has no ceiling, as the
        list of places asks for: with a limit above half the level no number of them clears ground.
        """
        instrument = replace(
            self.instrument,
            detection_limit=min(self.instrument.detection_limit, 0.1 * self.level.concentration),
            ceiling=np.inf,
        )
        made = _readings(
            self.building, instrument, xy, self.building.room_of(xy), seed,
            first=len(self.site.readings),
        )  # fmt: skip
        return replace(self, site=replace(self.site, readings=(*self.site.readings, *made)))


def make_survey(building: Building, n: int, seed: int, *, cell_m: float = 0.2) -> Survey:
    """Take n readings of a building against a level that 3 to 60 % of its floor is above.

    The detection limit lies between a twentieth of the level and the whole of it (log-uniform):
    one in four proves nothing clear. All invented.
    """
    random = np.random.default_rng([building.seed, n, seed, 1])
    concentration = float(np.exp(np.quantile(building.truth, random.uniform(0.4, 0.97))))
    instrument = Instrument(
        error=float(random.uniform(0.1, 0.2)),
        detection_limit=concentration * float(np.exp(random.uniform(np.log(0.05), 0.0))),
        ceiling=concentration * (5.0 if random.random() < 1 / 3 else 1e6),
    )
    readings = take_readings(building, n, seed)
    made = _readings(building, instrument, readings.xy, readings.room, seed)
    site = Site(
        folder=Path(),
        name="invented",
        analyte="mercury",
        medium="air",
        use=None,
        invented=True,
        level=None,
        floors=(building.floor,),
        rounds=(ROUND,),
        height_bands=(BAND,),
        readings=made,
        settings=MapSettings(cell_m=cell_m),
        title_block=TitleBlock(),
        problems=(),
    )
    return Survey(building, _level(concentration), instrument, site)


def zone_of(zones: Zones, xy: Floats) -> NDArray[np.str_]:
    """Return the name of the zone that each place (m) lies in; empty on a line between two."""
    found = np.full(len(xy), "", dtype="U9")
    for zone in zones.zones:
        found[shapely.intersects_xy(zone.geometry, xy[:, 0], xy[:, 1])] = zone.name
    return found


def _readings(
    building: Building,
    instrument: Instrument,
    xy: Floats,
    room: NDArray[np.int64],
    seed: int,
    *,
    first: int = 0,
) -> tuple[Reading, ...]:
    random = np.random.default_rng([building.seed, len(xy), seed, first, 2])
    shown = instrument.read(building.log_truth(xy), random)
    return tuple(
        Reading(
            id=f"S{first + k + 1:03d}",
            round=ROUND.name,
            floor=building.floor.name,
            room=building.floor.rooms[room[k]].id,
            x=float(xy[k, 0]),
            y=float(xy[k, 1]),
            height_m=HEIGHT_M,
            time=None,
            value=value,
            unit="µg/m³",
            qualifier=qualifier,  # type: ignore[arg-type]
            note="",
            concentration=value,
            band=BAND.name,
            placed="given",
            where=f"simulated, row {first + k + 1}",
        )
        for k, (value, qualifier) in enumerate(shown)
    )


def _level(concentration: float) -> ActionLevel:
    return ActionLevel(
        name="invented",
        value=concentration,
        unit="µg/m³",
        medium="air",
        concentration=concentration,
        averaging="8 h",
        height="breathing zone",
        scenario="invented",
        kind="stated",
        uses=(),
        source="invented",
        year=2026,
    )
