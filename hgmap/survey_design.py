"""How good the survey was that we have: the hot spot that its readings would have found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS
from hgmap.batch_choice import choose_floors, choose_round
from hgmap.decide.design.gaps import lay_ground
from hgmap.decide.design.on_plan import SurveyGaps, survey_gaps
from hgmap.decide.design.places import CELL_M, MOST_CELLS
from hgmap.decide.evidence import choose_band, gather_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.errors import EstimateError
from hgmap.field.raster import fitting_cell, rooms_of
from hgmap.report.design_tables import survey_csv
from hgmap.report.paper import write
from hgmap.report.survey_sheet import survey_sheet
from hgmap.report.tables import write_csv
from hgmap.report.words import count, named
from hgmap.site.files import slug
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.round_openings import floor_in_round
from hgmap.site.staging import staged
from hgmap.site.trust import judged_site
from hgmap.site.warnings import lost_readings

TABLE: Final = "survey.csv"
SHEETS: Final = ("survey.pdf", "survey.png")
MOST_NAMED: Final = 6


@dataclass(frozen=True)
class SurveyOptions:
    """Which survey is judged: its round, floors, height band and level; where results go."""

    round: str
    floors: tuple[str, ...] = ()
    height_band: str | None = None
    level: str | None = None
    out: Path | None = None


@dataclass(frozen=True)
class FloorSurvey:
    """One floor of a survey: its readings judged, those that count, and what they would find.

    Attributes
    ----------
    evidence : FloorEvidence
        Its ``used`` readings count: usable, in the band, able to see the level.
    gaps : SurveyGaps
    """

    evidence: FloorEvidence
    gaps: SurveyGaps

    @property
    def unread(self) -> tuple[str, ...]:
        """Names of the rooms without a reading that counts."""
        return tuple(row.room_name or row.room for row in self.gaps.rows if not row.readings)


@dataclass(frozen=True)
class SurveyRun:
    """A survey judged, and what somebody should read about it."""

    site: Site
    round: Round
    band: str
    level: ActionLevel
    floors: tuple[FloorSurvey, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    failed: tuple[Problem, ...]
    out: Path

    @property
    def exit_code(self) -> int:
        """0 clean; 1 where there is something to read."""
        return 1 if self.warnings or self.failed else 0


def survey_site(folder: Path | str, options: SurveyOptions) -> SurveyRun:
    """Say how large a hot spot the readings of a round would have found, and draw it.

    Only usable readings of the round in one height band count, and of them only those that can
    see the level: one that cannot finds nothing.

    Parameters
    ----------
    folder : path
        The site folder.
    options : SurveyOptions

    Raises
    ------
    HgmapError
        If there is no such floor, round, band or level.
    """
    site = read_site(folder)
    level, cautions = level_in_force(site, options.level)
    site = judged_site(site, level)
    chosen, notes = choose_round(site, options.round)
    band, band_notes = choose_band(site, chosen.name, options.height_band)
    floors, failed = choose_floors(site, options.floors)
    if not floors:
        raise EstimateError(failed[0].message, where=failed[0].where, todo=failed[0].todo)
    unfit = not_fit(quality_report(site, level, chosen.name))
    made = []
    with threadpool_limits(THREADS):
        for one in floors:
            floor = floor_in_round(one, chosen)
            evidence = gather_evidence(site, floor, chosen.name, band, level)
            rooms = _rooms(evidence)
            ground = lay_ground(floor, max(CELL_M, fitting_cell(floor, MOST_CELLS)))
            made.append(FloorSurvey(evidence, survey_gaps(ground, evidence.xy, room=rooms)))
    run = SurveyRun(
        site,
        chosen,
        band,
        level,
        tuple(made),
        (*notes, *band_notes, *cautions),
        (*unfit, *_warnings(made), *_lost(site, chosen)),
        tuple(failed),
        Path(options.out or site.folder / RESULTS_FOLDER / "design" / slug(chosen.name)),
    )
    _write(run)
    return run


def _rooms(evidence: FloorEvidence) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Return the position of each used reading's room: as written, else from the plan."""
    position = {room.id: index for index, room in enumerate(evidence.floor.rooms)}
    rooms = np.asarray(rooms_of(evidence.floor, evidence.xy), dtype=np.int64)
    for row, item in enumerate(evidence.used):
        rooms[row] = position.get(item.reading.room, int(rooms[row]))
    return rooms


def _warnings(made: Sequence[FloorSurvey]) -> list[str]:
    """Say what was not read, what was read and does not count, and what has no place of its own."""
    texts = []
    for one in made:
        title = one.evidence.floor.title or one.evidence.floor.name
        if one.unread:
            names = named(one.unread, MOST_NAMED)
            texts.append(f"{title}: no reading that counts in {names}; a hot spot of any size "
                         "would have been missed there")  # fmt: skip
        blind = sum(item.role == "cannot see the level" for item in one.evidence.items)
        held = sum(item.role == "held" for item in one.evidence.items)
        for number, why in ((blind, "cannot see the level"), (held, "held")):
            if number:
                texts.append(f"{title}: {count(number, 'reading')} not counted, {why}")
        middle = sum(item.reading.placed == "room" for item in one.evidence.used)
        if middle:
            texts.append(
                f"{title}: of {count(middle, 'reading')} only the room is known; taken to be in "
                "its middle, so the radius there is a guess: write down where it was"
            )
    return texts


def _lost(site: Site, round_: Round) -> list[str]:
    found = len(lost_readings(site, round_.name))
    return [f"{count(found, 'readings file')} of this round could not be read"] if found else []


def _write(run: SurveyRun) -> None:
    """Write the table and the maps, all or none."""
    with staged(run.out) as stage:
        pairs = [(one.evidence.floor, one.gaps) for one in run.floors]
        write_csv(stage / TABLE, survey_csv(pairs, run.round.name, run.band))
        for one in run.floors:
            sheet = survey_sheet(run.site, run.round, one.evidence, one.gaps)
            for name in SHEETS:
                write(stage / slug(one.evidence.floor.name) / name, sheet, dpi=150.0)
