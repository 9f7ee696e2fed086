"""From a site folder to its report: one round mapped, ruled on and written up, in three formats."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final, Literal

from hgmap.__about__ import __version__
from hgmap.batch import (
    LOSES_A_FLOOR,
    MapRun,
    Progress,
    map_floor_of,
    run_facts,
    run_warnings,
)
from hgmap.batch_choice import choose_floors, results_folder
from hgmap.clearance import ClearanceOptions, rule_on_rooms
from hgmap.decide.clearance.outcome import LevelClearance, RuleOutcome
from hgmap.decide.clearance.rules import find_rule
from hgmap.errors import HgmapError
from hgmap.floor_map import FloorMap, MapOptions, floor_failure
from hgmap.floor_sheets import check_sheets, floor_sheets
from hgmap.level_cases import purpose_and_level
from hgmap.map_case import MapCase, map_case
from hgmap.report.document.content import Document
from hgmap.report.document.html_page import html_bytes
from hgmap.report.document.pdf_file import report_pdf
from hgmap.report.document.records import MOST_READINGS, READINGS_FILE, readings_of
from hgmap.report.document.style import HouseStyle, read_style
from hgmap.report.document.survey import Survey, SurveyClearance, SurveyFloor
from hgmap.report.document.word_file import docx_bytes
from hgmap.report.document.write_up import write_up
from hgmap.report.drawing import Sheet
from hgmap.report.readings_table import readings_csv
from hgmap.report.sheet_setup import A4, PaperSize, text_paper
from hgmap.report.site_map import several_buildings, site_map
from hgmap.report.tables import write_csv
from hgmap.report_change import change_since, check_since
from hgmap.site.building import Floor
from hgmap.site.files import write_bytes
from hgmap.site.folder import read_site
from hgmap.site.model import Problem, Site
from hgmap.site.staging import staged

Format = Literal["pdf", "docx", "html"]
FORMATS: Final[tuple[Format, ...]] = ("pdf", "docx", "html")

_WRITERS: Final[dict[Format, Callable[[Document, HouseStyle], bytes]]] = {
    "pdf": report_pdf, "docx": docx_bytes, "html": html_bytes,
}  # fmt: skip


@dataclass(frozen=True)
class ReportOptions:
    """What a report was asked for.

    Attributes
    ----------
    map : MapOptions
        Round, level and how to map; paper, scale and kinds of the sheets.
    rule : str or None
        The clearance rule that decides; None shows every rule that needs no further map.
    style : path or None
        A house style (:mod:`hgmap.report.document.style`).
    formats : tuple of str
    out : path or None
        None: the site's results folder of the round.
    since : str or None
        An earlier round: the report says what changed since then.
    """

    map: MapOptions = field(default_factory=MapOptions)
    rule: str | None = None
    style: Path | None = None
    formats: tuple[Format, ...] = FORMATS
    out: Path | str | None = None
    since: str | None = None


@dataclass(frozen=True)
class ReportRun:
    """What was written, and the run of maps behind it."""

    run: MapRun
    survey: Survey
    files: tuple[Path, ...]

    @property
    def exit_code(self) -> int:
        """As that of a run of maps: 0 clean, 1 done with something to read, of a change too."""
        change = self.survey.change
        return max(self.run.exit_code, int(change is not None and change.to_read))

    @property
    def floors(self) -> tuple[FloorMap, ...]:
        """Those that are in the report."""
        return self.run.floors

    @property
    def failed(self) -> tuple[Problem, ...]:
        """Floors that could not be made."""
        return self.run.failed

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the user should read."""
        return self.run.warnings


@dataclass(frozen=True)
class SheetedFloor:
    """One floor's map and its sheets by name: what a report takes from a floor."""

    map: FloorMap
    sheets: tuple[tuple[str, Sheet], ...]


def report_site(
    folder: Path | str, options: ReportOptions | None = None, progress: Progress | None = None
) -> ReportRun:
    """Write the report of one round of a site; its files appear together or not at all.

    Parameters
    ----------
    folder : path
        The site folder.
    options : ReportOptions, optional
    progress : callable, optional
        See :func:`hgmap.batch.map_site`.

    Raises
    ------
    HgmapError
        If nothing can be done: no site, level, round or rule of that name, no floor that can be
        mapped, a house style that cannot be read, or a folder that cannot be written.
    """
    options = options or ReportOptions()
    style = house_style(options)

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, share)

    run, survey = survey_of(read_site(folder), options, lambda what, share: tell(what, 0.7 * share))
    names = write_report(
        survey, style, options.formats, run.out, lambda what, share: tell(what, 0.7 + 0.3 * share),
        paper=text_paper(options.map.setup.paper),
    )  # fmt: skip
    tell("done", 1.0)
    return ReportRun(run, survey, tuple(run.out / name for name in names))


def house_style(options: ReportOptions) -> HouseStyle:
    """Read the house style of a report.

    Raises
    ------
    HgmapError
        If it cannot be read.
    """
    return HouseStyle() if options.style is None else read_style(options.style)


def write_report(
    survey: Survey,
    style: HouseStyle,
    formats: Collection[Format],
    folder: Path,
    progress: Progress | None = None,
    *,
    paper: PaperSize = A4,
) -> tuple[str, ...]:
    """Write a survey up into a folder, all formats or none; return the names of the files.

    ``progress`` is called with what is being written and the share that is done, 0 to 1; raising
    inside it leaves the folder as it was.

    Raises
    ------
    HgmapError
        If the folder cannot be written.
    """
    with staged(folder) as stage:
        return write_report_files(survey, style, formats, stage, progress, paper=paper)


def write_report_files(
    survey: Survey,
    style: HouseStyle,
    formats: Collection[Format],
    stage: Path,
    progress: Progress | None = None,
    *,
    paper: PaperSize = A4,
) -> tuple[str, ...]:
    """Write the files of a report one after another; as :func:`write_report`."""

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, share)

    document = write_up(survey, style.cautions, paper)
    wanted = [one for one in FORMATS if one in formats]
    names = []
    for number, ending in enumerate(wanted):
        tell(f"report.{ending}", number / len(wanted))
        names.append(f"report.{ending}")
        write_bytes(stage / names[-1], _WRITERS[ending](document, style))
    readings = readings_of(survey)
    if len(readings) > MOST_READINGS:
        names.append(READINGS_FILE)
        write_csv(stage / READINGS_FILE, readings_csv(readings, survey.site.medium))
    tell("report", 1.0)  # the last moment at which it can still be stopped
    return tuple(names)


def survey_of(
    as_read: Site,
    options: ReportOptions,
    progress: Progress | None = None,
    known: Mapping[str, FloorMap] | None = None,
) -> tuple[MapRun, Survey]:
    """Map every floor of a round and rule on its rooms; writes nothing.

    ``known`` are floors that were mapped already, of this site by these options, by their names.

    Raises
    ------
    HgmapError
        As :func:`report_site`.
    """
    case = report_case(as_read, options)
    floors, failed, out = plan_report(case, options)
    made: list[SheetedFloor] = []
    for number, floor in enumerate(floors):

        def tell(share: float, number: int = number, floor: Floor = floor) -> None:
            if progress is not None:
                progress(floor.title, (number + share) / len(floors))

        tell(0.0)
        try:
            one = (known or {}).get(floor.name)
            made.append(
                sheeted_floor(case, floor, options, tell) if one is None
                else _sheeted(case, one, options)
            )  # fmt: skip
        except LOSES_A_FLOOR as error:
            failed.append(floor_failure(floor, error, floor.name))
    return gathered(as_read, case, options, out, made, failed, progress)


def report_case(as_read: Site, options: ReportOptions) -> MapCase:
    """Judge a site for a report.

    Raises
    ------
    HgmapError
        If there is no level, round or rule of that name, or no other round ``since``.
    """
    if options.rule is not None:
        find_rule(options.rule)
    case = map_case(as_read, options.map)
    if options.since is not None:
        check_since(case.site, case.round, options.since)
    return case


def plan_report(case: MapCase, options: ReportOptions) -> tuple[list[Floor], list[Problem], Path]:
    """Return the floors to make, those that are lost already, and the folder of the report."""
    floors, failed = choose_floors(case.site, options.map.floors)
    check_sheets(case, floors, options.map)
    only = floors if options.map.floors else []
    return floors, failed, Path(options.out or results_folder(case.site, case.round, only))


def sheeted_floor(
    case: MapCase, floor: Floor, options: ReportOptions, report: Callable[[float], None]
) -> SheetedFloor:
    """Map one floor and lay out its sheets; writes nothing and knows nothing of other floors."""
    report(0.0)
    one = map_floor_of(case, floor, options.map, lambda done, whole: report(0.9 * done / whole))
    sheeted = _sheeted(case, one, options)
    report(1.0)
    return sheeted


def _sheeted(case: MapCase, one: FloorMap, options: ReportOptions) -> SheetedFloor:
    return SheetedFloor(one, tuple(floor_sheets(case, one, options.map).items()))


def gathered(
    as_read: Site,
    case: MapCase,
    options: ReportOptions,
    out: Path,
    floors: Sequence[SheetedFloor],
    failed: Sequence[Problem],
    progress: Progress | None = None,
) -> tuple[MapRun, Survey]:
    """Put the floors of a report together and rule on their rooms.

    Raises
    ------
    HgmapError
        If there is no floor.
    """
    if not floors:
        first = failed[0]
        raise HgmapError(first.message, where=first.where, todo=first.todo)
    maps = tuple(one.map for one in floors)
    run = MapRun(
        case.site, case.round, case.level, case.band, maps, tuple(failed), case.notes,
        tuple(dict.fromkeys(run_warnings(case, maps))), out, case.quality,
    )  # fmt: skip
    survey = Survey(
        case.site, case.round, case.band, case.level, case.quality,
        tuple(_survey_floor(one.map, one.sheets) for one in floors),
        _clearance(as_read, case, options, progress),
        (*case.cautions, *case.unusual, *case.about_further), case.notes, run.warnings,
        tuple(failed), run.held, __version__,
        None if options.since is None
        else change_since(as_read, case, options.map, options.since, [one.floor for one in maps]),
        _site_map(case, maps, failed),
    )  # fmt: skip
    return run, survey


def _site_map(case: MapCase, maps: Sequence[FloorMap], failed: Sequence[Problem]) -> Sheet | None:
    if not several_buildings(maps):
        return None
    return site_map(replace(run_facts(case), failed=tuple(failed)), maps)


def _survey_floor(one: FloorMap, sheets: tuple[tuple[str, Sheet], ...]) -> SurveyFloor:
    return SurveyFloor(
        one.floor, one.evidence, one.surface, one.zones, one.resample, one.rooms, one.opinion,
        one.no_surface, one.warnings, sheets,
    )  # fmt: skip


def _clearance(
    as_read: Site, case: MapCase, options: ReportOptions, progress: Progress | None
) -> SurveyClearance:
    """Rule on every room, or say why nobody can."""

    def tell(what: str, share: float) -> None:
        if progress is not None:
            progress(what, 1.0)

    asks_map = options.rule is not None and find_rule(options.rule).test == "map"
    asked = (options.map.level, *options.map.further_levels)
    levels = tuple(purpose_and_level(one)[1] for one in asked if one)
    try:
        found = rule_on_rooms(
            as_read,
            ClearanceOptions(case.round.name, levels, options.rule, with_map=asks_map),
            tell,
        )
    except HgmapError as error:
        return SurveyClearance(why_none=str(error))
    if options.rule is not None:
        return SurveyClearance(found.levels, found.rules, found.notes)
    kept = tuple(rule for rule in found.rules if rule.test != "map")
    left = tuple(
        f"rule {rule.name} was not asked here: it needs a map of every breathing height, and is "
        "judged where it is the one that is chosen"
        for rule in found.rules if rule.test == "map"
    )  # fmt: skip
    names = {rule.name for rule in kept}
    # said in the report's own words: its reader has no command line
    notes = tuple(text for text in found.notes if not text.startswith("no rule was chosen"))
    shown = tuple(_with_rules(level, names) for level in found.levels)
    return SurveyClearance(shown, kept, notes, rules_left_out=left)


def _with_rules(level: LevelClearance, names: Collection[str]) -> LevelClearance:
    """Return a clearance with the outcomes of some rules only."""

    def kept(outcomes: tuple[RuleOutcome, ...]) -> tuple[RuleOutcome, ...]:
        return tuple(one for one in outcomes if one.rule.name in names)

    return replace(level, floors=tuple(
        replace(floor, outcomes=kept(floor.outcomes), rooms=tuple(
            replace(room, outcomes=kept(room.outcomes)) for room in floor.rooms
        ))
        for floor in level.floors
    ))  # fmt: skip
