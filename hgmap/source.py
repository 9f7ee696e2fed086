"""From a site folder to where the vapour of each floor may come from; a hint, never a finding."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from shapely.errors import ShapelyError
from threadpoolctl import threadpool_limits

from hgmap.__about__ import __version__
from hgmap.batch import THREADS, MapOptions, Progress
from hgmap.batch_choice import check_cell, choose_floors, choose_round, results_folder
from hgmap.decide.evidence import choose_band, gather_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.decide.origin_floors import with_other_floors
from hgmap.decide.origin_model import HINT, Origins
from hgmap.decide.origins import find_origins
from hgmap.errors import EstimateError, HgmapError
from hgmap.field.surface import Surface
from hgmap.floor_map import estimate_floor, floor_failure
from hgmap.report import paper
from hgmap.report.origin_sheet import origin_sheet
from hgmap.report.origin_tables import where_from_csv, where_from_summary, write_where_from
from hgmap.report.summary import to_json
from hgmap.report.tables import write_csv
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_text
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.round_openings import floor_in_round
from hgmap.site.staging import named_as_it_will_be, put_out_of_date, staged
from hgmap.site.trust import judged_site
from hgmap.site.warnings import lost_readings, site_warnings

SHEETS: Final = ("where-from.pdf", "where-from.png")
FOLDER: Final = "source"


@dataclass(frozen=True)
class FloorSources:
    """One floor: its evidence, its estimate (None where ``no_surface`` says why), its places."""

    evidence: FloorEvidence
    surface: Surface | None
    origins: Origins
    no_surface: str = ""


@dataclass(frozen=True)
class SourceRun:
    """A whole run: what was found, what failed, and what the user should read."""

    site: Site
    round: Round
    level: ActionLevel
    band: str
    floors: tuple[FloorSources, ...]
    failed: tuple[Problem, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    out: Path

    @property
    def exit_code(self) -> int:
        """0 clean; 1 where there is something to read; 2 nothing done."""
        if not self.floors:
            return 2
        return 1 if self.failed or self.warnings else 0


def source_site(
    folder: Path | str, options: MapOptions | None = None, progress: Progress | None = None
) -> SourceRun:
    """Rank, on every floor of a round, the places where the vapour may come from.

    A floor that cannot be made is reported and the others go on.

    Parameters
    ----------
    folder : path
        The site folder.
    options : MapOptions, optional
        As for the map.
    progress : callable, optional

    Raises
    ------
    HgmapError
        If nothing can be done: no site, no level, no such floor or round.
    """
    options = options or MapOptions()
    site = read_site(folder)
    if site.medium != "air":
        raise EstimateError(
            f"where vapour comes from is asked of the air, not of {site.medium} samples",
            where=str(site.folder), todo="`hgmap map` shows where the samples are highest",
        )  # fmt: skip
    level, cautions = level_in_force(site, options.level)
    site = judged_site(site, level)
    chosen, notes = choose_round(site, options.round)
    band, band_notes = choose_band(site, chosen.name, options.height_band)
    floors, lost = choose_floors(site, options.floors)
    check_cell(options.cell_m)
    out = Path(
        options.out
        or results_folder(site, chosen, floors if options.floors else []) / FOLDER
    )  # fmt: skip
    made: list[FloorSources] = []
    failed: list[Problem] = list(lost)
    for number, floor in enumerate(floors):
        if progress is not None:
            progress(floor.title, number / (len(floors) + 1))
        try:
            with threadpool_limits(THREADS):
                evidence, surface, why = estimate_floor(site, floor, chosen, band, level, options)
                found = find_origins(evidence, surface, bands=site.height_bands)
        except (HgmapError, ShapelyError, np.linalg.LinAlgError, MemoryError) as error:
            failed.append(floor_failure(floor, error, floor.name))
            continue
        made.append(FloorSources(evidence, surface, found, why))
    if not made and failed:
        first = failed[0]
        raise EstimateError(first.message, where=first.where, todo=first.todo)
    made = _side_by_side(site, chosen, made, failed)
    warnings = (
        *lost_readings(site, chosen.name), *site_warnings(site),
        *not_fit(quality_report(site, level, chosen.name)),
    )  # fmt: skip
    if progress is not None:
        progress("writing", len(floors) / (len(floors) + 1))
    with staged(out) as stage:
        drawn = _write_sheets(site, chosen, made, (stage, out), failed)
        run = SourceRun(
            site, chosen, level, band, tuple(drawn), tuple(failed),
            (*notes, *band_notes, *cautions), warnings, out,
        )  # fmt: skip
        if drawn:
            _write_tables(run, stage)
        for problem in failed:
            put_out_of_date(out / slug(problem.floor), SHEETS)
    return run


def _side_by_side(
    site: Site, round_: Round, made: Sequence[FloorSources], failed: Sequence[Problem]
) -> list[FloorSources]:
    """Set every floor beside all others of the building, looked at or not."""
    if not made:
        return []
    looked = {one.evidence.floor.name for one in made} | {one.floor for one in failed}
    first = made[0].evidence
    others = [
        gather_evidence(site, floor_in_round(floor, round_), round_.name, first.band, first.level)
        for floor in site.floors
        if floor.name not in looked
    ]
    found = with_other_floors([(one.evidence, one.origins) for one in made], others)
    return [
        FloorSources(one.evidence, one.surface, origins, one.no_surface)
        for one, origins in zip(made, found, strict=True)
    ]


def _write_sheets(
    site: Site,
    round_: Round,
    made: Sequence[FloorSources],
    stage_and_out: tuple[Path, Path],
    failed: list[Problem],
) -> list[FloorSources]:
    """Draw every floor; one that cannot be drawn joins ``failed``. Return the others."""
    stage, out = stage_and_out
    drawn = []
    for one in made:
        floor: Floor = one.evidence.floor
        try:
            sheet = origin_sheet(
                site, round_, one.evidence, one.surface, one.origins, no_surface=one.no_surface,
                version=__version__,
            )  # fmt: skip
            for name in SHEETS:
                paper.write(stage / slug(floor.name) / name, sheet)
        except (HgmapError, ShapelyError, MemoryError) as error:
            shutil.rmtree(stage / slug(floor.name), ignore_errors=True)
            named = named_as_it_will_be(error, stage, out)
            failed.append(floor_failure(floor, named, floor.name))
            continue
        drawn.append(one)
    return drawn


def _write_tables(run: SourceRun, folder: Path) -> None:
    found = [one.origins for one in run.floors]
    write_csv(folder / "where-from.csv", where_from_csv(found))
    write_where_from(folder / "where-from.gpkg", found)
    summary = {
        "site": run.site.name,
        "invented": run.site.invented,
        "round": run.round.name,
        "height_band": run.band,
        "level": {"name": run.level.name, "value": run.level.value, "unit": run.level.unit},
        "hint": HINT,
        "floors": where_from_summary(found),
        "no_surface": {
            one.evidence.floor.name: one.no_surface for one in run.floors if one.no_surface
        },
        "failed": [
            {"floor": one.floor, "message": one.message, "todo": one.todo} for one in run.failed
        ],
        "notes": list(run.notes),
        "warnings": list(run.warnings),
        "hgmap": __version__,
    }
    write_text(folder / "where-from.json", to_json(summary))
