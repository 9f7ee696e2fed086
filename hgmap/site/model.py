"""A survey: its rounds, the level it goes by, its settings, and the site that holds them all.

What it is made of stands in :mod:`hgmap.site.building` and :mod:`hgmap.site.reading`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from hgmap.shows_itself import InATable, OnPlans
from hgmap.site.building import Floor, HeightBand, OpeningState
from hgmap.site.reading import Reading, ReadingKind

if TYPE_CHECKING:
    from hgmap.site.instruments.model import InstrumentLog, Overrule

Medium = Literal["air", "surface", "bulk"]
Use = Literal["dwelling", "school", "child care", "health care", "commercial", "industrial"]


@dataclass(frozen=True, slots=True)
class Problem:
    """Something a person should know about an input: where, what, and what to do.

    ``severity`` is ``"error"`` where a floor or file cannot be used, ``"held"`` where a reading
    is kept out, ``"warning"`` where the site asks for less caution than is built in, and
    ``"note"`` where the input was used with a repair or an assumption.
    """

    severity: Literal["error", "held", "warning", "note"]
    where: str
    message: str
    todo: str = ""
    floor: str = ""
    round: str = ""


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the building stood during a round; None: nobody wrote it down.

    ``hours_closed`` and ``hours_heated`` are those before the first reading. ``ventilation`` is
    ``"off"``, ``"as occupied"`` or ``"raised"``.
    """

    temperature_c: float | None = None
    outdoor_temperature_c: float | None = None
    pressure_kpa: float | None = None
    humidity_percent: float | None = None
    ventilation: Literal["off", "as occupied", "raised"] | None = None
    windows: Literal["closed", "open"] | None = None
    hours_closed: float | None = None
    hours_heated: float | None = None
    occupied: bool | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Round:
    """One visit: its readings were taken under one set of conditions.

    Attributes
    ----------
    purpose : {"survey", "clearance"}
        A clearance round needs the conditions that the chosen guidance asks for.
    openings : tuple of (floor, opening, state)
        How openings stood that were not as the plan has them.
    """

    name: str
    title: str
    date: date | None
    files: tuple[str, ...]
    openings: tuple[tuple[str, str, OpeningState], ...] = ()
    purpose: Literal["survey", "clearance"] = "survey"
    conditions: Conditions = Conditions()


@dataclass(frozen=True, slots=True)
class ActionLevel(InATable):
    """An action level is never a bare number: it says for whom, how, and who says so.

    Attributes
    ----------
    value, unit
        As published.
    concentration : float
        In the computing unit of ``medium``.
    uses : tuple of str
        The uses of a building that it was written for.
    kind : str
        ``"occupancy"``, ``"isolation"``, ``"health reference"``, ``"occupational"``,
        ``"emergency"`` or ``"belongings"``; ``"stated"`` for one the user typed.
    from_memory : bool
        The value was not read in the source; it is shown so and never chosen by default.
    analyte : str
        What is measured.
    """

    name: str
    value: float
    unit: str
    medium: Medium
    concentration: float
    averaging: str
    height: str
    scenario: str
    kind: str
    uses: tuple[str, ...]
    source: str
    year: int | None
    from_memory: bool = False
    analyte: str = ""


@dataclass(frozen=True, slots=True)
class LevelRequest:
    """What site.toml says about the action level: a name from the table, or a record."""

    name: str | None = None
    value: float | None = None
    unit: str | None = None
    averaging: str | None = None
    height: str | None = None
    scenario: str | None = None
    source: str | None = None
    year: int | None = None
    purpose: str | None = None


@dataclass(frozen=True, slots=True)
class NestedLevel:
    """A further level that zones are made for: what it is for, and its name or value."""

    name: str
    level: str


@dataclass(frozen=True, slots=True)
class MapSettings:
    """What a site says about how its maps are made; None: the built-in choice, which is printed.

    ``tape_width_m`` and ``tape_area_m2`` are the least width (m) and area (m²) of a zone that a
    crew can tape off; ``zones`` "whole rooms" gives each room its worst zone.
    """

    method: Literal["kriging", "idw"] = "kriging"
    scale: Literal["log", "linear"] = "log"
    cell_m: float | None = None
    height_band: str | None = None
    remediate_at: float = 0.5
    clear_at: float = 0.05
    guard_m: float = 1.5
    doubt_share: float = 0.05
    walls: bool | None = None
    range_m: float | None = None
    nugget: float | None = None
    sill: float | None = None
    tape_width_m: float = 0.6
    tape_area_m2: float = 1.0
    zones: Literal["taped", "whole rooms"] = "taped"


@dataclass(frozen=True, slots=True)
class PlannedReadings:
    """One line of a sampling plan: how many readings somebody meant to take, and where.

    Empty ``round``, ``floor``, ``room`` or ``band`` mean any; ``where`` is its file and row.
    """

    round: str
    floor: str
    room: str
    band: str
    kind: ReadingKind
    count: int
    where: str


@dataclass(frozen=True, slots=True)
class TrustSettings:
    """What a site says about trust in its readings; None: nobody said.

    Attributes
    ----------
    guidance : str or None
        Name of the guidance whose conditions a clearance round has to meet.
    occupied_temperature_c : float or None
        Temperature (°C) of the building when people live or work in it.
    subtract : {"nothing", "background", "field blank"}
        What is taken off readings, with its error.
    """

    guidance: str | None = None
    occupied_temperature_c: float | None = None
    subtract: Literal["nothing", "background", "field blank"] = "nothing"


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """Who the work is for and who did it, as printed on the sheets."""

    client: str = ""
    address: str = ""
    prepared_by: str = ""
    reviewed_by: str = ""
    project: str = ""
    instrument: str = ""
    revision: str = ""


@dataclass(frozen=True, slots=True)
class Site(OnPlans):
    """Everything a surveyor brought back about one building.

    ``lost_floors`` are the names and titles (case-folded) of floors whose plan cannot be used.
    ``log`` is None where the folder has no instrument log; ``sampling_plan`` is empty where nobody
    wrote one.
    """

    folder: Path
    name: str
    analyte: str
    medium: Medium
    use: Use | None
    invented: bool
    level: LevelRequest | None
    floors: tuple[Floor, ...]
    rounds: tuple[Round, ...]
    height_bands: tuple[HeightBand, ...]
    readings: tuple[Reading, ...]
    settings: MapSettings
    title_block: TitleBlock
    problems: tuple[Problem, ...]
    digests: dict[str, str] = field(default_factory=dict)
    lost_floors: frozenset[str] = frozenset()
    log: InstrumentLog | None = None
    overrules: tuple[Overrule, ...] = ()
    sampling_plan: tuple[PlannedReadings, ...] = ()
    trust: TrustSettings = TrustSettings()
    nested_levels: tuple[NestedLevel, ...] = ()

    @property
    def floors_without_a_plan(self) -> tuple[str, ...]:
        """Names of floors whose plan cannot be used, each once, as they stand in site.toml."""
        lost = (one.floor for one in self.problems if one.severity == "error" and one.floor)
        return tuple(dict.fromkeys(lost))

    def floor(self, name: str) -> Floor | None:
        """Return the floor of this name, or None."""
        return next((floor for floor in self.floors if floor.name == name), None)

    def round(self, name: str) -> Round | None:
        """Return the round of this name, or None."""
        return next((one for one in self.rounds if one.name == name), None)
