"""One floor of a round: from its evidence to its surface, its zones and where to measure again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from hgmap.decide.evidence import gather_evidence
from hgmap.decide.further import AT_FULL_WEIGHT, other_evidence
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.resample import rank_resample
from hgmap.decide.rooms import RoomRow, room_rows
from hgmap.decide.zones import make_zones
from hgmap.errors import EstimateError, HgmapError
from hgmap.field.crosscheck import SecondOpinion, opinion_on
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.measured import error_by_room
from hgmap.field.rooms import room_figures
from hgmap.field.surface import Surface
from hgmap.field.walls import WallField
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.round_openings import floor_in_round
from hgmap.site.warnings import lost_readings


@dataclass(frozen=True)
class MapOptions:
    """What a run was asked for; None takes the site's own."""

    floors: tuple[str, ...] = ()
    round: str | None = None
    method: Literal["kriging", "idw"] | None = None
    level: str | None = None
    height_band: str | None = None
    cell_m: float | None = None
    walls: bool | None = None
    range_m: float | None = None
    nugget: float | None = None
    sill: float | None = None
    out: Path | str | None = None
    diagnostics: bool = False


@dataclass(frozen=True)
class FloorMap:
    """Everything about one floor's map.

    ``surface`` is None where ``no_surface`` says why; ``nothing_clear`` says why no ground of this
    floor may be clear, whatever the readings at hand say.
    """

    floor: Floor
    evidence: FloorEvidence
    surface: Surface | None
    zones: Zones
    resample: ResampleList
    rooms: tuple[RoomRow, ...] = ()
    opinion: SecondOpinion | None = None
    no_surface: str = ""
    nothing_clear: str = ""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader of this floor's map has to know."""
        return (
            *((f"no surface: {self.no_surface}",) if self.surface is None else ()),
            *((self.nothing_clear,) if self.nothing_clear else ()),
            *self.evidence.notes,
            *(self.surface.notes if self.surface else ()),
        )


def map_floor(
    site: Site,
    floor: Floor,
    round_: Round,
    band: str,
    level: ActionLevel,
    options: MapOptions,
    progress: Callable[[int, int], None] | None = None,
    *,
    unfit: tuple[str, ...] = (),
) -> FloorMap:
    """Estimate one floor, rule on it, and rank where to measure again; writes nothing.

    ``unfit`` says why the readings of the round are not fit to map: then nothing is clear.
    """
    floor, round_name = floor_in_round(floor, round_), round_.name
    evidence = gather_evidence(site, floor, round_name, band, level)
    settings = _settings(site, options)
    surface, no_surface = None, ""
    also: list[tuple[str, Surface]] = []
    kept: dict[float, WallField] = {}
    try:
        first = _surface(evidence, settings, kept, progress)
        if evidence.error.any():
            also.append((AT_FULL_WEIGHT, _surface(evidence, settings, kept, trusted=True)))
        for why, other in other_evidence(site, evidence):
            also.append((why, _surface(other, settings, kept)))
            if other.error.any():
                also.append((why, _surface(other, settings, kept, trusted=True)))
        surface = first  # by all of them or not at all
    except EstimateError as error:
        if error.where:  # a step that does not fit is a mistake to mend, not a finding
            raise
        no_surface = str(error)
    rules = site.settings
    contradicted = () if surface is None or not surface.contradicted else (surface.contradicted,)
    nothing_clear = "; ".join((*lost_readings(site, round_name), *contradicted, *unfit))
    zones = make_zones(
        evidence,
        surface,
        remediate_at=rules.remediate_at,
        clear_at=rules.clear_at,
        guard_m=rules.guard_m,
        no_surface=no_surface,
        nothing_clear=nothing_clear,
        also=also,
    )
    figures = None
    if surface is not None and surface.estimate is not None:
        log = surface.scale == "log"
        figures = room_figures(
            surface.estimate,
            len(floor.rooms),
            log=log,
            seed=settings.seed,
            error=error_by_room(surface.room, surface.error, len(floor.rooms)),
        )
    rooms = room_rows(evidence, zones, figures)
    resample = rank_resample(
        evidence, surface, zones, bands=site.height_bands, guard_m=rules.guard_m,
        doubt_share=rules.doubt_share, nothing_clear=nothing_clear,
    )  # fmt: skip
    return FloorMap(
        floor, evidence, surface, zones, resample, rooms, opinion_on(surface), no_surface,
        nothing_clear,
    )  # fmt: skip


def estimate_floor(
    site: Site, floor: Floor, round_: Round, band: str, level: ActionLevel, options: MapOptions
) -> tuple[FloorEvidence, Surface | None, str]:
    """Estimate one floor and rule on nothing: its evidence, its surface, else why there is none."""
    evidence = gather_evidence(site, floor_in_round(floor, round_), round_.name, band, level)
    try:
        return evidence, _surface(evidence, _settings(site, options), {}), ""
    except EstimateError as error:
        if error.where:
            raise
        return evidence, None, str(error)


def _settings(site: Site, options: MapOptions) -> EstimateSettings:
    """Return how to estimate: what was asked for, else the site's own."""
    return EstimateSettings(
        method=options.method or site.settings.method,
        scale=site.settings.scale,
        cell_m=_first(options.cell_m, site.settings.cell_m),
        walls=_first(options.walls, site.settings.walls),
        range_m=_first(options.range_m, site.settings.range_m),
        nugget=_first(options.nugget, site.settings.nugget),
        sill=_first(options.sill, site.settings.sill),
    )


def _surface(
    evidence: FloorEvidence,
    settings: EstimateSettings,
    kept: dict[float, WallField],
    progress: Callable[[int, int], None] | None = None,
    *,
    trusted: bool = False,
) -> Surface:
    """Estimate from the used readings; ``trusted``: as though they had no error of their own."""
    return estimate_surface(
        evidence.floor, evidence.xy, evidence.concentration, settings, progress,
        room=evidence.room, bounds=evidence.bounds, ranges=evidence.ranges,
        error=None if trusted else evidence.error, kept=kept,
    )  # fmt: skip


def _first(asked: Any, of_site: Any) -> Any:
    """Return what was asked for, else the site's own."""
    return of_site if asked is None else asked


def floor_failure(floor: Floor, error: Exception, where: str) -> Problem:
    """Say why a floor is not made; the others go on. ``where`` stands in for a place not named."""
    if isinstance(error, HgmapError):
        return Problem("error", error.where or where, error.message, error.todo, floor.name)
    if isinstance(error, MemoryError):
        what, todo = "there is not enough memory for it", "give a coarser --cell, or one --floor"
    else:
        what = f"its geometry cannot be computed with ({type(error).__name__}: {error})"
        todo = "look at the plan's coordinates and outlines"
    return Problem("error", floor.title, what, todo, floor.name)
