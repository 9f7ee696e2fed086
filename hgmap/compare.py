"""From a site folder to what changed between two of its rounds, floor by floor."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from shapely.errors import ShapelyError

from hgmap.__about__ import __version__
from hgmap.batch import MapOptions, Progress
from hgmap.decide.change_model import FloorChange
from hgmap.errors import EstimateError, HgmapError
from hgmap.floor_map import floor_failure
from hgmap.report import paper
from hgmap.report.change_sheet import change_sheet
from hgmap.report.change_tables import (
    change_moves_csv,
    change_places_csv,
    change_rooms_csv,
    change_summary,
)
from hgmap.report.drawing import Sheet
from hgmap.report.sheet_page import numbered
from hgmap.report.summary import to_json
from hgmap.report.tables import write_csv
from hgmap.shows_itself import OnPlans
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_text
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.staging import put_out_of_date, staged
from hgmap.two_rounds import compare_floor, two_rounds

SHEETS = ("change.pdf", "change.png")
TABLES = ("compare-rooms.csv", "compare-zones.csv", "compare-places.csv", "compare.json")


@dataclass(frozen=True)
class Comparison(OnPlans):
    """Two rounds compared: what was made, what failed, and what the user should read."""

    site: Site
    before: Round
    after: Round
    level: ActionLevel
    band: str
    floors: tuple[FloorChange, ...]
    failed: tuple[Problem, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    temperature: tuple[str, ...]
    out: Path
    sheets: tuple[Sheet, ...] = ()
    dpi: float = 200.0

    @property
    def exit_code(self) -> int:
        """0 where every room fell or stayed clear; 1: something to read; 2: nothing done.

        A room that nobody can tell of is something to read, unless it was clear in both rounds; so
        is any ground on which the air rose, or that went into a worse zone.
        """
        if not self.floors:
            return 2
        rooms = [room for floor in self.floors for room in floor.rooms]
        if self.failed or self.warnings or any(one.rebounded for one in rooms):
            return 1
        if any(one.grounds.rose.area > 0.0 for one in self.floors):
            return 1
        if any(move.worse for one in self.floors for move in one.moves):
            return 1
        calm = all(one.word == "fell" or one.stayed_clear for one in rooms)
        return 0 if calm else 1


def compare_site(
    folder: Path | str,
    before: str,
    after: str,
    options: MapOptions | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Map two rounds of a site on the same cells, compare them, and write the results.

    A floor that cannot be compared is reported and the others go on.

    Parameters
    ----------
    folder : path
        The site folder.
    before, after : str
        Names of the rounds.
    options : MapOptions, optional
        As for the map; its round is not looked at.
    progress : callable, optional

    Raises
    ------
    HgmapError
        If nothing can be done: no site, no level, no such floor or round, one round twice, or no
        surface on any floor in one of them.
    """
    run = compare_read_site(read_site(folder), before, after, options, progress)
    write_comparison(run)
    return run


def compare_read_site(
    site: Site,
    before: str,
    after: str,
    options: MapOptions | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Compare two rounds of a site that was read already; as :func:`compare_site`, writes nothing.

    The sheets are laid out; :func:`write_comparison` writes them.
    """
    options = options or MapOptions()
    case = two_rounds(site, before, after, options)
    only = list(case.floors) if options.floors else []
    out = Path(options.out or _results_folder(case.site, case.rounds, only))
    made: list[FloorChange] = []
    sheets: list[Sheet] = []
    failed: list[Problem] = list(case.lost)
    for number, floor in enumerate(case.floors):
        if progress is not None:
            progress(floor.title, number / len(case.floors))
        try:
            change = compare_floor(case, floor, options)
            sheet = change_sheet(
                case.site, case.rounds, change, warnings=(*case.warnings, *case.fitness),
                cautions=case.cautions, version=__version__, setup=options.setup,
            )  # fmt: skip
        except (HgmapError, ShapelyError, np.linalg.LinAlgError, MemoryError) as error:
            failed.append(floor_failure(floor, error, floor.title))
            continue
        made.append(change)
        sheets.append(sheet)
    if not made and failed:
        first = failed[0]
        raise EstimateError(first.message, where=first.where, todo=first.todo)
    return Comparison(
        case.site, *case.rounds, case.level, case.band, tuple(made), tuple(failed),
        (*case.fitness, *case.band_notes, *case.cautions), tuple(dict.fromkeys(case.warnings)),
        case.temperature, out, tuple(numbered(sheets)), options.setup.dpi,
    )  # fmt: skip


def write_comparison(run: Comparison) -> tuple[str, ...]:
    """Write the sheets and the tables of a comparison; return their names.

    Raises
    ------
    HgmapError
        If they cannot be written; what stood there is left as it was.
    """
    names = []
    with staged(run.out) as stage:
        for change, sheet in zip(run.floors, run.sheets, strict=True):
            folder = slug(change.after.evidence.floor.name)
            for name in SHEETS:
                paper.write(stage / folder / name, sheet, dpi=run.dpi)
                names.append(f"{folder}/{name}")
        if run.floors:
            _write_tables(run, stage)
            names += TABLES
        for problem in run.failed:
            put_out_of_date(run.out / slug(problem.floor), SHEETS)
    return tuple(names)


def _results_folder(site: Site, rounds: tuple[Round, Round], only: list[Floor]) -> Path:
    """Return the folder of a comparison; one of a few floors has its own."""
    names = [f"{slug(rounds[0].name)}-to-{slug(rounds[1].name)}", *(slug(f.name) for f in only)]
    return site.folder / RESULTS_FOLDER / "-".join(names)[:200]


def _write_tables(run: Comparison, folder: Path) -> None:
    write_csv(folder / "compare-rooms.csv", change_rooms_csv(run.floors))
    write_csv(folder / "compare-zones.csv", change_moves_csv(run.floors))
    write_csv(folder / "compare-places.csv", change_places_csv(run.floors))
    summary: dict[str, Any] = change_summary(
        run.site, (run.before, run.after), run.level, run.band, run.floors, run.failed,
        notes=run.notes, warnings=run.warnings, temperature=run.temperature, version=__version__,
    )  # fmt: skip
    write_text(folder / "compare.json", to_json(summary))
