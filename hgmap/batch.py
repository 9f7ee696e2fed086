"""From a site folder to maps, zones and places to measure again, floor by floor."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from hgmap.__about__ import __version__
from hgmap.decide.evidence import choose_band, gather_evidence
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.resample import rank_resample
from hgmap.decide.zones import make_zones
from hgmap.errors import EstimateError, HgmapError, SiteError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.surface import Surface
from hgmap.report import paper
from hgmap.report.gis import write_geopackage
from hgmap.report.sheet import zone_sheet
from hgmap.report.summary import floor_summary, run_summary, to_json
from hgmap.report.tables import resample_csv, write_csv, zones_csv
from hgmap.site.files import slug, write_text
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.levels import only_background
from hgmap.site.model import ActionLevel, Floor, Problem, Round, Site
from hgmap.site.schema import FINEST_CELL_M

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of the run that is done, 0 to 1."""

SHEETS = ("map.pdf", "map.png")


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
    out: Path | None = None


@dataclass(frozen=True)
class FloorMap:
    """Everything about one floor's map; ``surface`` None where ``no_surface`` says why."""

    floor: Floor
    evidence: FloorEvidence
    surface: Surface | None
    zones: Zones
    resample: ResampleList
    no_surface: str = ""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader of this floor's map has to know."""
        return (
            *((f"no surface: {self.no_surface}",) if self.surface is None else ()),
            *self.evidence.notes,
            *(self.surface.notes if self.surface else ()),
        )


@dataclass(frozen=True)
class MapRun:
    """A whole run: what was made, what failed, and what the user should read."""

    site: Site
    round: Round
    level: ActionLevel
    band: str
    floors: tuple[FloorMap, ...]
    failed: tuple[Problem, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    out: Path

    @property
    def exit_code(self) -> int:
        """0 clean; 1 done, with held readings, lost floors or warnings; 2 nothing done."""
        if not self.floors:
            return 2
        troubled = (
            self.failed
            or self.warnings
            or self.held
            or any(one.severity == "error" for one in self.site.problems)
            or any(one.surface is None for one in self.floors)
        )
        return 1 if troubled else 0

    @property
    def held(self) -> tuple[Problem, ...]:
        """The held readings of this round, and those whose round nobody knows."""
        return tuple(
            one
            for one in self.site.problems
            if one.severity == "held"
            and (one.round == self.round.name or self.site.round(one.round) is None)
        )


def map_site(
    folder: Path | str, options: MapOptions | None = None, progress: Progress | None = None
) -> MapRun:
    """Map every floor of a site and write the results.

    A floor that cannot be made is reported and the others go on.

    Parameters
    ----------
    folder : path
        The site folder.
    options : MapOptions, optional
    progress : callable, optional
        Raising inside it cancels the run; files already written stay whole.

    Raises
    ------
    HgmapError
        If nothing can be done: no site, no level, no such floor or round.
    """
    options = options or MapOptions()
    site = read_site(folder)
    level, cautions = level_in_force(site, options.level)
    chosen_round, notes = choose_round(site, options.round)
    band, band_notes = choose_band(site, chosen_round.name, options.height_band)
    floors, failed = _choose_floors(site, options.floors)
    _check_cell(options.cell_m)
    out = options.out or site.folder / RESULTS_FOLDER / _results_name(
        chosen_round, [floor.name for floor in floors] if options.floors else []
    )
    made: list[FloorMap] = []
    summaries = []
    for number, floor in enumerate(floors):

        def report(share: float, number: int = number, floor: Floor = floor) -> None:
            if progress is not None:
                progress(floor.title, (number + share) / len(floors))

        report(0.0)
        try:
            one = map_floor(
                site, floor, chosen_round.name, band, level, options,
                lambda done, whole: report(0.6 * done / whole),
            )  # fmt: skip
            report(0.7)
            files = _write_sheets(site, chosen_round, one, out, cautions)
        except HgmapError as error:
            failed.append(
                Problem("error", error.where or floor.name, error.message, error.todo, floor.name)
            )
            continue
        made.append(one)
        summaries.append(
            floor_summary(
                one.evidence, one.surface, one.zones, one.resample,
                no_surface=one.no_surface, files=files,
            )
        )  # fmt: skip
        report(1.0)
    for problem in failed:
        _put_out_of_date(out / slug(problem.floor))
    background = tuple(text for text in cautions if only_background(text))
    warnings = (*(text for text in cautions if text not in background), *_warnings(made))
    run = MapRun(
        site, chosen_round, level, band, tuple(made), tuple(failed),
        (*notes, *band_notes, *background), warnings, out,
    )  # fmt: skip
    if made:
        write_geopackage(out / "site.gpkg", [(m.evidence, m.zones, m.resample) for m in made])
        write_csv(out / "zones.csv", zones_csv(m.zones for m in made))
        write_csv(out / "resample.csv", resample_csv(m.resample for m in made))
        summary = run_summary(
            site, level, summaries, round_name=chosen_round.name, band=band, version=__version__,
            notes=run.notes, warnings=warnings, failed=failed, held=run.held,
        )  # fmt: skip
        write_text(out / "summary.json", to_json(summary))
    return run


def map_floor(
    site: Site,
    floor: Floor,
    round_name: str,
    band: str,
    level: ActionLevel,
    options: MapOptions,
    progress: Callable[[int, int], None] | None = None,
) -> FloorMap:
    """Estimate one floor, rule on it, and rank where to measure again; writes nothing."""
    evidence = gather_evidence(site, floor, round_name, band, level)
    settings = EstimateSettings(
        method=options.method or site.settings.method,
        scale=site.settings.scale,
        cell_m=options.cell_m if options.cell_m is not None else site.settings.cell_m,
        walls=options.walls if options.walls is not None else site.settings.walls,
    )
    surface, no_surface = None, ""
    try:
        surface = estimate_surface(
            floor, evidence.xy, evidence.concentration, settings, progress, room=evidence.room
        )
    except EstimateError as error:
        if error.where:  # a step that does not fit is a mistake to mend, not a finding
            raise
        no_surface = str(error)
    rules = site.settings
    zones = make_zones(
        evidence,
        surface,
        remediate_at=rules.remediate_at,
        clear_at=rules.clear_at,
        guard_m=rules.guard_m,
        no_surface=no_surface,
    )
    resample = rank_resample(
        evidence, surface, zones, bands=site.height_bands, guard_m=rules.guard_m
    )
    return FloorMap(floor, evidence, surface, zones, resample, no_surface)


def choose_round(site: Site, asked: str | None) -> tuple[Round, tuple[str, ...]]:
    """Return the round asked for, else the latest one, which is said.

    Raises
    ------
    SiteError
        If there is no round, or none of this name.
    """
    if not site.rounds:
        raise SiteError(
            "the site has no round", where="site.toml", todo="add [[rounds]] with a readings file"
        )
    if asked is not None:
        found = site.round(asked)
        if found is None:
            names = ", ".join(one.name for one in site.rounds)
            raise SiteError(f"no round {asked!r}", where="--round", todo=f"known: {names}")
        return found, ()
    if len(site.rounds) == 1:
        return site.rounds[0], ()
    dated = [(one.date, one) for one in site.rounds if one.date is not None]
    if len(dated) == len(site.rounds):
        latest = max(dated, key=lambda pair: pair[0])[1]
        return latest, (f"round not stated: {latest.name!r} is the latest",)
    last = site.rounds[-1]
    return last, (f"round not stated and not all are dated: {last.name!r} is the last listed",)


def _choose_floors(site: Site, asked: tuple[str, ...]) -> tuple[list[Floor], list[Problem]]:
    failed = [one for one in site.problems if one.severity == "error" and one.floor]
    if not asked:
        if not site.floors and not failed:
            raise SiteError(
                "the site has no floor",
                where="site.toml",
                todo="`hgmap import plan FILE --into SITE --floor NAME` adds one",
            )
        return list(site.floors), failed
    lost = {one.floor for one in failed}
    floors = []
    for name in dict.fromkeys(asked):
        floor = next((f for f in site.floors if name in (f.name, f.title)), None)
        if floor is not None:
            if floor not in floors:
                floors.append(floor)
        elif name not in lost:
            names = ", ".join(one.name for one in site.floors)
            raise SiteError(f"no floor {name!r}", where="--floor", todo=f"known: {names}")
    return floors, [one for one in failed if one.floor in asked]


def _check_cell(cell_m: float | None) -> None:
    if cell_m is not None and not (math.isfinite(cell_m) and cell_m >= FINEST_CELL_M):
        raise SiteError(
            f"a cell of {cell_m:g} m cannot be used",
            where="--cell",
            todo=f"give {FINEST_CELL_M:g} m or more",
        )


def _write_sheets(
    site: Site, round_: Round, one: FloorMap, out: Path, cautions: tuple[str, ...]
) -> list[str]:
    sheet = zone_sheet(
        site, round_, one.evidence, one.surface, one.zones, one.resample,
        warnings=(one.no_surface,) if one.surface is None else (),
        cautions=cautions,
        version=__version__,
    )  # fmt: skip
    folder = slug(one.floor.name)
    for name in SHEETS:
        paper.write(out / folder / name, sheet)
    return [f"{folder}/{name}" for name in SHEETS]


def _warnings(made: list[FloorMap]) -> tuple[str, ...]:
    warnings = []
    for one in made:
        variogram = one.surface.variogram if one.surface else None
        if variogram is not None and variogram.origin == "default":
            warnings.append(f"{one.floor.title}: default variogram parameters ({variogram.note})")
    return tuple(warnings)


def _results_name(round_: Round, only: list[str]) -> str:
    """Name the folder of a run; one of a few floors never writes over that of the whole site."""
    return "-".join([slug(round_.name), *map(slug, only)])[:200]


def _put_out_of_date(folder: Path) -> None:
    """Rename the sheets of an earlier run, so that no old map lies beside new tables."""
    for name in SHEETS:
        try:
            (folder / name).replace(folder / f"out-of-date-{name}")
        except OSError:
            continue  # there was none
