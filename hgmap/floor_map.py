"""One floor of a round: from its evidence to its surface, its zones and where to measure again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from hgmap.decide.described import described
from hgmap.decide.evidence import gather_evidence
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.resample import rank_resample
from hgmap.decide.rooms import RoomRow, room_rows
from hgmap.decide.shaped import Shaped, shaped_zones
from hgmap.decide.taped import TapeRules
from hgmap.errors import EstimateError, HgmapError
from hgmap.field.crosscheck import SecondOpinion, opinion_on
from hgmap.field.estimate import EstimateSettings
from hgmap.field.measured import error_by_room
from hgmap.field.points import Check, never
from hgmap.field.rooms import room_figures
from hgmap.field.surface import Surface
from hgmap.floor_ruling import Estimates, LevelCase, Ruled, rule_on
from hgmap.report.sheet_setup import PLAIN, SheetSetup
from hgmap.shows_itself import OnAPlan
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.round_openings import floor_in_round


@dataclass(frozen=True)
class MapOptions:
    """What a run was asked for; None takes the site's own.

    ``also`` names further formats (:data:`hgmap.report.exports.FORMATS`).
    ``sheets`` asks for every sheet of a floor, ``rooms`` for the detail of some rooms.
    """

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
    remediate_at: float | None = None
    clear_at: float | None = None
    whole_rooms: bool = False
    further_levels: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    setup: SheetSetup = PLAIN
    sheets: bool = False
    rooms: tuple[str, ...] = ()


@dataclass(frozen=True)
class FloorMap(OnAPlan):
    """Everything about one floor's map.

    ``surface`` is None where ``no_surface`` says why; ``nothing_clear`` says why no ground of this
    floor may be clear, whatever the readings at hand say. ``zones`` are the pieces that can be
    taped off, ``ruled`` the zones as the contours run. ``nested`` are the zones of every level,
    the highest first, where there is more than one.
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
    ruled: Zones | None = None
    nested: tuple[Zones, ...] = ()

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
    purpose: str = "",
    further: Sequence[LevelCase] = (),
) -> FloorMap:
    """Estimate one floor, rule on it, and rank where to measure again; writes nothing.

    ``unfit`` says why the readings of the round are not fit to map: then nothing is clear.
    ``further`` are other levels that zones are made for, inside or round those of this one;
    ``purpose`` is what this one is for, in words.
    """
    shaped = shape_floor(
        site, floor, round_, band, level, options, Estimates(settings_of(site, options), progress),
        unfit=unfit, purpose=purpose, further=further,
    )  # fmt: skip
    return finish_floor(shaped)


@dataclass(frozen=True)
class ShapedFloor:
    """What one floor's map rules: its surface and its zones, before anything is made of them.

    Fields as in :class:`FloorMap`.
    """

    site: Site
    floor: Floor
    own: Ruled
    zones: Zones
    nested: tuple[Zones, ...]
    seed: int

    @property
    def evidence(self) -> FloorEvidence:
        """What it is made of."""
        return self.own.evidence

    @property
    def surface(self) -> Surface | None:
        """The estimate."""
        return self.own.surface


def shape_floor(
    site: Site,
    floor: Floor,
    round_: Round,
    band: str,
    level: ActionLevel,
    options: MapOptions,
    made: Estimates | None = None,
    *,
    unfit: tuple[str, ...] = (),
    purpose: str = "",
    further: Sequence[LevelCase] = (),
) -> ShapedFloor:
    """Estimate one floor, rule on it and cut its zones; parameters as of :func:`map_floor`.

    ``made`` are the estimates of this floor; new ones where not given.
    """
    floor, round_name = floor_in_round(floor, round_), round_.name
    rules = site.settings
    main = LevelCase(site, level, unfit, purpose)
    settings = settings_of(site, options)
    made = made or Estimates(settings)
    # this level first, so that its estimate is the one that is shared
    ruled = {
        one.level.concentration: rule_on(one, floor, round_name, band, made)
        for one in (main, *further)
    }
    nested: list[Shaped] = []
    for one in sorted((main, *further), key=lambda case: -case.level.concentration):
        nested.append(
            shaped_zones(
                ruled[one.level.concentration].ruling,
                TapeRules(rules.tape_width_m, rules.tape_area_m2, rules.zones == "whole rooms"),
                higher=nested[-1] if nested else None,
                purpose=one.purpose,
                check=made.check,
            )
        )
    by_level = tuple(one.zones for one in nested)
    zones = next(one for one in by_level if one.level is level)
    return ShapedFloor(
        site, floor, ruled[level.concentration], zones, by_level if further else (), settings.seed
    )


def finish_floor(
    shaped: ShapedFloor, check: Check = never, *, second_opinion: bool = True
) -> FloorMap:
    """Say what is in every room, and rank where to measure again.

    ``check`` is called now and then; raising inside it cancels. The ``second_opinion`` of another
    library rules on nothing, and may be left out where nobody reads it.
    """
    floor, own, zones, rules = shaped.floor, shaped.own, shaped.zones, shaped.site.settings
    evidence, surface, ruling = own.evidence, own.surface, described(own.ruling)
    figures = None
    if surface is not None and surface.estimate is not None:
        check()
        figures = room_figures(
            surface.estimate,
            len(floor.rooms),
            log=surface.scale == "log",
            seed=shaped.seed,
            error=error_by_room(surface.room, surface.error, len(floor.rooms)),
            check=check,
        )
    check()
    rooms = room_rows(evidence, zones, figures)
    resample = rank_resample(
        evidence, surface, ruling, bands=shaped.site.height_bands, guard_m=rules.guard_m,
        doubt_share=rules.doubt_share, nothing_clear=own.nothing_clear,
    )  # fmt: skip
    check()
    opinion = opinion_on(surface) if second_opinion else None
    return FloorMap(
        floor, evidence, surface, zones, resample, rooms, opinion, own.no_surface,
        own.nothing_clear, ruling, shaped.nested,
    )  # fmt: skip


def estimate_floor(
    site: Site, floor: Floor, round_: Round, band: str, level: ActionLevel, options: MapOptions
) -> tuple[FloorEvidence, Surface | None, str]:
    """Estimate one floor and rule on nothing: its evidence, its surface, else why there is none."""
    evidence = gather_evidence(site, floor_in_round(floor, round_), round_.name, band, level)
    try:
        return evidence, Estimates(settings_of(site, options)).of(evidence), ""
    except EstimateError as error:
        if error.where:
            raise
        return evidence, None, str(error)


def settings_of(site: Site, options: MapOptions) -> EstimateSettings:
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
