"""From a site folder to maps, zones and places to measure again, floor by floor."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from shapely.errors import ShapelyError
from threadpoolctl import threadpool_limits

from hgmap.__about__ import __version__
from hgmap.batch_choice import choose_floors, choose_round, results_folder
from hgmap.decide.design.places import DesignPlace
from hgmap.errors import HgmapError
from hgmap.floor_map import FloorMap, MapOptions, floor_failure, map_floor
from hgmap.floor_sheets import LEVELS as LEVEL_SHEETS
from hgmap.floor_sheets import MAP as SHEETS
from hgmap.floor_sheets import check_sheets, floor_sheets, old_sheets, write_floor_sheets
from hgmap.map_case import MapCase, map_case
from hgmap.report import resample_sheet
from hgmap.report.design_tables import field_sheet_csv
from hgmap.report.diagnostics import DIAGNOSTICS, write_diagnostics
from hgmap.report.exports import (
    check_formats,
    floor_files_not_in,
    run_files_not_in,
    write_floor_exports,
    write_run_exports,
)
from hgmap.report.gis import write_geopackage
from hgmap.report.quality_files import quality_pages, write_quality
from hgmap.report.readings_table import readings_csv
from hgmap.report.resample_sheet import write_resample_sheet
from hgmap.report.run_facts import RunFacts, lines_about
from hgmap.report.settings_digest import settings_digest
from hgmap.report.summary import floor_summary, run_summary, to_json
from hgmap.report.tables import nested_zones_csv, resample_csv, rooms_csv, write_csv, zones_csv
from hgmap.shows_itself import OnPlans
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_text
from hgmap.site.folder import read_site
from hgmap.site.levels import only_background
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import QualityReport
from hgmap.site.reading import Reading
from hgmap.site.rules import how_zones_are_cut
from hgmap.site.staging import named_as_it_will_be, put_out_of_date, staged

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of the run that is done, 0 to 1."""

THREADS = 1
"""Of BLAS: the matrices of a survey are small, and more threads only wait for each other."""

LOSES_A_FLOOR: Final = (HgmapError, ShapelyError, np.linalg.LinAlgError, MemoryError)
"""What a floor may fail by; it is reported, and the others go on."""

AGAIN = (resample_sheet.PDF, resample_sheet.PNG)
NESTED_TABLE = "nested-zones.csv"

__all__ = [
    "FloorMap", "MapOptions", "MapRun", "Progress", "choose_round", "look_at_site", "map_floor",
    "map_site",
]  # fmt: skip


@dataclass(frozen=True)
class MapRun(OnPlans):
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
    quality: QualityReport

    def floor(self, name: str) -> FloorMap | None:
        """Return the map of the floor of this name or title, or None."""
        return next((one for one in self.floors if name in (one.floor.name, one.floor.title)), None)

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
        Raising inside it cancels the run, which then leaves nothing behind.

    Raises
    ------
    HgmapError
        If nothing can be done: no site, no level, no such floor or round.
    """
    return map_read_site(read_site(folder), options, progress)


def look_at_site(folder: Path | str, options: MapOptions | None = None) -> MapRun:
    """Map every floor of a site as :func:`map_site` does, and write nothing.

    Parameters
    ----------
    folder : path
        The site folder.
    options : MapOptions, optional
        What is asked of files is not looked at.

    Returns
    -------
    MapRun
        As of :func:`map_site`; ``out`` is where it would have been written.

    Raises
    ------
    HgmapError
        As :func:`map_site`.
    """
    options = options or MapOptions()
    case = map_case(read_site(folder), options)
    floors, failed, out = plan_run(case, options)
    made = []
    for floor in floors:
        try:
            made.append(map_floor_of(case, floor, options, lambda done, whole: None))
        except LOSES_A_FLOOR as error:
            failed.append(floor_failure(floor, error, floor.name))
    return _run_of(case, tuple(made), failed, (), out)


def map_floor_of(
    case: MapCase, floor: Floor, options: MapOptions, progress: Callable[[int, int], None]
) -> FloorMap:
    """Map one floor of a case; raises as :func:`hgmap.floor_map.map_floor`."""
    with threadpool_limits(THREADS):
        return map_floor(
            case.site, floor, case.round, case.band, case.level, options, progress,
            unfit=case.unfit, purpose=case.purpose, further=case.further,
        )  # fmt: skip


def map_read_site(
    as_read: Site, options: MapOptions | None = None, progress: Progress | None = None
) -> MapRun:
    """Map a site that was read already; as :func:`map_site`."""
    options = options or MapOptions()
    case = map_case(as_read, options)
    floors, failed, out = plan_run(case, options)
    made: list[MadeFloor] = []
    with staged(out) as stage:
        for number, floor in enumerate(floors):

            def report(share: float, number: int = number, floor: Floor = floor) -> None:
                if progress is not None:
                    progress(floor.title, (number + share) / len(floors))

            try:
                made.append(make_floor(case, floor, options, stage, report))
            except LOSES_A_FLOOR as error:
                shutil.rmtree(stage / slug(floor.name), ignore_errors=True)
                named = named_as_it_will_be(error, stage, out)
                failed.append(floor_failure(floor, named, floor.name))
        return finish_run(case, options, out, stage, made, failed)


def plan_run(case: MapCase, options: MapOptions) -> tuple[list[Floor], list[Problem], Path]:
    """Return the floors to make, those that are lost already, and the folder of the results.

    Raises
    ------
    HgmapError
        If there is no such floor or room, a further format is none of ours, or a floor does not fit
        the paper at the scale asked for.
    """
    check_formats(options.also)
    floors, failed = choose_floors(case.site, options.floors)
    check_sheets(case, floors, options)
    only = floors if options.floors else []
    return floors, failed, Path(options.out or results_folder(case.site, case.round, only))


@dataclass(frozen=True)
class MadeFloor:
    """One floor as made.

    Attributes
    ----------
    summary : dict
        Its part of the summary; ``files`` are those that were written for it.
    again : tuple of DesignPlace
        Its readings to take again.
    not_exported : tuple of str
        Further formats that could not be made of it, and why.
    """

    map: FloorMap
    summary: dict[str, Any]
    again: tuple[DesignPlace, ...]
    not_exported: tuple[str, ...] = ()


def make_floor(
    case: MapCase,
    floor: Floor,
    options: MapOptions,
    folder: Path,
    report: Callable[[float], None] = lambda share: None,
) -> MadeFloor:
    """Map one floor and write its own files below ``folder``; it knows nothing of other floors.

    ``report`` is told the share that is done, 0 to 1; raising inside it cancels.
    """
    report(0.0)
    one = map_floor_of(case, floor, options, lambda done, whole: report(0.6 * done / whole))
    report(0.7)
    own = folder / slug(floor.name)
    names = _write_sheets(case, one, own, options)
    sheet, rows = write_resample_sheet(case.site, one.zones, one.resample, own, case.round.name)
    names += sheet
    if options.diagnostics and one.surface is not None:
        names += write_diagnostics(case.site, case.round, one.evidence, one.surface, own)
    exported, lost = write_floor_exports(own, options.also, run_facts(case), one)
    names += exported
    summary = floor_summary(
        one.evidence, one.surface, one.zones, one.resample,
        rooms=one.rooms, opinion=one.opinion, no_surface=one.no_surface,
        files=[f"{own.name}/{name}" for name in names], nested=one.nested,
        digest=settings_digest(case.site, one.evidence, one.surface),
    )  # fmt: skip
    report(1.0)
    return MadeFloor(one, summary, tuple(rows), tuple(lost))


def run_facts(case: MapCase) -> RunFacts:
    """Return what the files of a run say of it, beside its floors."""
    return RunFacts(
        case.site, case.round, case.level, case.band,
        (*case.cautions, *case.unusual, how_zones_are_cut(case.site.settings)),
        (*case.warnings, *case.about_further), __version__,
    )  # fmt: skip


def finish_run(
    case: MapCase,
    options: MapOptions,
    out: Path,
    stage: Path,
    floors: Sequence[MadeFloor],
    failed: Sequence[Problem],
) -> MapRun:
    """Write what all floors share into ``stage``; put what is out of date in ``out`` aside."""
    made = tuple(one.map for one in floors)
    not_exported = (text for one in floors for text in one.not_exported)
    run = _run_of(case, made, failed, not_exported, out)
    if made:
        facts = replace(run_facts(case), failed=tuple(failed))
        of_round = _write_tables(run, facts, [one.summary for one in floors], stage)
        write_run_exports(stage, options.also, facts, made, of_round)
        put_out_of_date(out, run_files_not_in(options.also, made))
        again = [place for one in floors for place in one.again]
        write_csv(stage / resample_sheet.CSV, field_sheet_csv(again))
        written = write_quality(stage, case.site, case.level, case.quality)
        put_out_of_date(out, tuple(one for one in quality_pages(out) if one not in written))
    _put_old_floors_aside(case, options, out, floors, failed)
    return run


def _run_of(
    case: MapCase,
    made: tuple[FloorMap, ...],
    failed: Sequence[Problem],
    not_exported: Iterable[str],
    out: Path,
) -> MapRun:
    background = tuple(text for text in case.cautions if only_background(text))
    return MapRun(
        case.site, case.round, case.level, case.band, made, tuple(failed),
        (*case.notes, *case.unusual, *background),
        (*run_warnings(case, made), *not_exported), out, case.quality,
    )  # fmt: skip


def _put_old_floors_aside(
    case: MapCase,
    options: MapOptions,
    out: Path,
    floors: Sequence[MadeFloor],
    failed: Sequence[Problem],
) -> None:
    """Put aside what an earlier run left of a floor and this one did not write again."""
    sheets = (*SHEETS, *LEVEL_SHEETS)
    for problem in failed:
        of_any = floor_files_not_in((), sheets)
        folder = out / slug(problem.floor)
        put_out_of_date(folder, (*sheets, *AGAIN, *DIAGNOSTICS, *of_any, *old_sheets(folder)))
    if not case.further:
        put_out_of_date(out, (NESTED_TABLE,))
    for one in floors:
        folder = out / slug(one.map.floor.name)
        written = [Path(name).name for name in one.summary["files"]]
        put_out_of_date(
            folder, (*floor_files_not_in(written, sheets), *old_sheets(folder, written))
        )
        if not one.map.resample.places:
            put_out_of_date(folder, AGAIN)
        if not case.further:
            put_out_of_date(folder, LEVEL_SHEETS)
        if not options.diagnostics or one.map.surface is None:
            put_out_of_date(folder, DIAGNOSTICS)


def _write_tables(
    run: MapRun, facts: RunFacts, summaries: list[dict[str, Any]], folder: Path
) -> list[Reading]:
    """Write the tables of a run; return the readings that are in them."""
    made = run.floors
    nested = [zones for m in made for zones in m.nested]
    write_geopackage(
        folder / "site.gpkg", [(m.evidence, m.zones, m.resample) for m in made], nested,
        lines_about(facts, made),
    )  # fmt: skip
    if nested:
        write_csv(folder / NESTED_TABLE, nested_zones_csv(m.nested for m in made))
    write_csv(folder / "zones.csv", zones_csv(m.zones for m in made))
    write_csv(folder / "rooms.csv", rooms_csv((m.evidence, m.rooms) for m in made))
    write_csv(folder / "resample.csv", resample_csv(m.resample for m in made))
    elsewhere = {one.name for one in run.site.rounds} - {run.round.name}
    of_round = [one for one in run.site.readings if one.round not in elsewhere]
    write_csv(folder / "readings.csv", readings_csv(of_round, run.site.medium))
    summary = run_summary(
        run.site, run.level, summaries, round_name=run.round.name, band=run.band,
        version=__version__, notes=run.notes, warnings=run.warnings, failed=run.failed,
        held=run.held, quality=run.quality,
    )  # fmt: skip
    write_text(folder / "summary.json", to_json(summary))
    return of_round


def _write_sheets(case: MapCase, one: FloorMap, folder: Path, options: MapOptions) -> list[str]:
    return write_floor_sheets(floor_sheets(case, one, options), folder, options)


def run_warnings(case: MapCase, made: Sequence[FloorMap]) -> tuple[str, ...]:
    """Return what the user should read of a run: of its site, its level and its floors."""
    serious = (text for text in case.cautions if not only_background(text))
    return (*case.warnings, *serious, *case.about_further, *_map_warnings(made))


def _map_warnings(made: Sequence[FloorMap]) -> tuple[str, ...]:
    """Say which floors were mapped by parameters that their readings do not bear out."""
    warnings = []
    for one in made:
        variogram = one.surface.variogram if one.surface else None
        if one.surface is not None and one.surface.contradicted:
            warnings.append(f"{one.floor.title}: {one.surface.contradicted}: nothing is clear")
        if variogram is not None and variogram.origin == "default":
            warnings.append(f"{one.floor.title}: default variogram parameters ({variogram.note})")
    return tuple(warnings)
