"""From a site folder to maps, zones and places to measure again, floor by floor."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

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
from hgmap.report.drawing import Sheet
from hgmap.report.gis import write_geopackage
from hgmap.report.quality_files import quality_pages, write_quality
from hgmap.report.readings_table import readings_csv
from hgmap.report.resample_sheet import write_resample_sheet
from hgmap.report.settings_digest import settings_digest
from hgmap.report.summary import floor_summary, run_summary, to_json
from hgmap.report.tables import nested_zones_csv, resample_csv, rooms_csv, write_csv, zones_csv
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_text
from hgmap.site.folder import read_site
from hgmap.site.levels import only_background
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import QualityReport
from hgmap.site.staging import put_out_of_date, staged

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of the run that is done, 0 to 1."""

THREADS = 1
"""Of BLAS: the matrices of a survey are small, and more threads only wait for each other."""

AGAIN = (resample_sheet.PDF, resample_sheet.PNG)
NESTED_TABLE = "nested-zones.csv"

__all__ = ["FloorMap", "MapOptions", "MapRun", "Progress", "choose_round", "map_floor", "map_site"]


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
    quality: QualityReport

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


def map_read_site(
    as_read: Site, options: MapOptions | None = None, progress: Progress | None = None
) -> MapRun:
    """Map a site that was read already; as :func:`map_site`."""
    options = options or MapOptions()
    case = map_case(as_read, options)
    site, chosen_round, band, level = case.site, case.round, case.band, case.level
    further, cautions, about_further = case.further, case.cautions, case.about_further
    floors, failed = choose_floors(site, options.floors)
    check_sheets(case, floors, options)
    out = Path(options.out or results_folder(site, chosen_round, floors if options.floors else []))
    quality, unfit, unusual, of_site = case.quality, case.unfit, case.unusual, case.warnings
    made: list[FloorMap] = []
    summaries = []
    again: list[DesignPlace] = []
    with staged(out) as stage:
        for number, floor in enumerate(floors):

            def report(share: float, number: int = number, floor: Floor = floor) -> None:
                if progress is not None:
                    progress(floor.title, (number + share) / len(floors))

            report(0.0)
            try:
                with threadpool_limits(THREADS):
                    one = map_floor(
                        site, floor, chosen_round, band, level, options,
                        lambda done, whole: report(0.6 * done / whole), unfit=unfit,
                        purpose=case.purpose, further=further,
                    )  # fmt: skip
                report(0.7)
                files = _write_sheets(case, one, stage, options)
                sheet, rows = write_resample_sheet(
                    site, one.zones, one.resample, stage / slug(floor.name), chosen_round.name
                )
                files += [f"{slug(floor.name)}/{name}" for name in sheet]
                if options.diagnostics:
                    files += _write_diagnostics(site, chosen_round, one, stage)
            except (HgmapError, ShapelyError, np.linalg.LinAlgError, MemoryError) as error:
                shutil.rmtree(stage / slug(floor.name), ignore_errors=True)
                failed.append(floor_failure(floor, error, floor.name))
                continue
            made.append(one)
            again += rows
            summaries.append(
                floor_summary(
                    one.evidence, one.surface, one.zones, one.resample,
                    rooms=one.rooms, opinion=one.opinion, no_surface=one.no_surface, files=files,
                    nested=one.nested, digest=settings_digest(site, one.evidence, one.surface),
                )
            )  # fmt: skip
            report(1.0)
        background = tuple(text for text in cautions if only_background(text))
        serious = (text for text in cautions if text not in background)
        warnings = (*of_site, *serious, *about_further, *_warnings(made))
        run = MapRun(
            site, chosen_round, level, band, tuple(made), tuple(failed),
            (*case.notes, *unusual, *background), warnings, out, quality,
        )  # fmt: skip
        if made:
            _write_tables(run, summaries, stage)
            write_csv(stage / resample_sheet.CSV, field_sheet_csv(again))
            written = write_quality(stage, site, level, quality)
            put_out_of_date(out, tuple(one for one in quality_pages(out) if one not in written))
        for problem in failed:
            put_out_of_date(
                out / slug(problem.floor),
                (
                    *SHEETS,
                    *LEVEL_SHEETS,
                    *AGAIN,
                    *DIAGNOSTICS,
                    *old_sheets(out / slug(problem.floor)),
                ),
            )
        if not further:
            put_out_of_date(out, (NESTED_TABLE,))
        for one, made_of in zip(made, summaries, strict=True):
            folder = out / slug(one.floor.name)
            put_out_of_date(folder, old_sheets(folder, made_of["files"]))
            if not one.resample.places:
                put_out_of_date(out / slug(one.floor.name), AGAIN)
            if not further:
                put_out_of_date(out / slug(one.floor.name), LEVEL_SHEETS)
            if not options.diagnostics or one.surface is None:
                put_out_of_date(out / slug(one.floor.name), DIAGNOSTICS)
    return run


def _write_tables(run: MapRun, summaries: list[dict[str, Any]], folder: Path) -> None:
    made = run.floors
    nested = [zones for m in made for zones in m.nested]
    write_geopackage(
        folder / "site.gpkg", [(m.evidence, m.zones, m.resample) for m in made], nested
    )
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


def map_sheets(case: MapCase, one: FloorMap) -> dict[str, Sheet]:
    """Lay out the sheets of a floor as a run writes them: ``map``, and ``levels`` where several."""
    return floor_sheets(case, one, MapOptions())


def _write_sheets(case: MapCase, one: FloorMap, stage: Path, options: MapOptions) -> list[str]:
    return write_floor_sheets(floor_sheets(case, one, options), one.floor, stage, options)


def _write_diagnostics(site: Site, round_: Round, one: FloorMap, out: Path) -> list[str]:
    if one.surface is None:
        return []
    folder = slug(one.floor.name)
    names = write_diagnostics(site, round_, one.evidence, one.surface, out / folder)
    return [f"{folder}/{name}" for name in names]


def _warnings(made: list[FloorMap]) -> tuple[str, ...]:
    warnings = []
    for one in made:
        variogram = one.surface.variogram if one.surface else None
        if one.surface is not None and one.surface.contradicted:
            warnings.append(f"{one.floor.title}: {one.surface.contradicted}: nothing is clear")
        if variogram is not None and variogram.origin == "default":
            warnings.append(f"{one.floor.title}: default variogram parameters ({variogram.note})")
    return tuple(warnings)
