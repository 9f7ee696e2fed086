"""The sheets that a run writes, laid out for the preview: the same objects, no file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.work import Cancelled, Progress
from hgmap.errors import HgmapError
from hgmap.site.model import Site

if TYPE_CHECKING:
    from hgmap.desktop.pipeline import Mapped
    from hgmap.floor_map import FloorMap, MapOptions
    from hgmap.map_case import MapCase
    from hgmap.report.document.survey import Survey
    from hgmap.report.drawing import Sheet
    from hgmap.report.sheet_setup import PaperSize
    from hgmap.site.building import Floor
    from hgmap.survey_report import ReportOptions

ALL: Final = ""
"""Every floor."""

FURTHER: Final = ("estimate", "uncertainty", "readings", "rooms", "every")
"""Kinds that a run makes where it is asked for every sheet."""


ON_ANY_PAPER: Final = ("map", "levels", "change", *FURTHER)
"""Kinds that are laid out on the paper that is chosen; the others are always A4."""


@dataclass(frozen=True)
class Wanted:
    """Which sheets, and on what.

    Attributes
    ----------
    kind : str
    floor : str
        Empty: all.
    before : str
        For a change, the round before.
    room : str
        The id of a room whose detail is wanted; empty: of the crowded ones.
    sheets : bool
        Whether a run would make every sheet: they are numbered together, and in a report too.
    paper, scale, dpi : str
        As typed; an empty scale is the largest that fits. Dots per inch are those of pictures.
    rule : str or None
        Of a report, the rule of clearance that decides.
    style : str
        Of a report, the file of the house style; empty: none.
    """

    kind: str = "map"
    floor: str = ALL
    before: str = ""
    room: str = ""
    sheets: bool = False
    paper: str = "a4"
    scale: str = ""
    dpi: str = "200"
    rule: str | None = None
    style: str = ""

    def options(self, choices: Choices) -> MapOptions:
        """Return what the command line would be given for the same sheets.

        Raises
        ------
        HgmapError
            If there is no such scale, or pictures cannot be as fine.
        """
        from hgmap.report.sheet_setup import sheet_setup

        return replace(
            pipeline.options_of(choices),
            floors=() if self.floor == ALL else (self.floor,),
            setup=sheet_setup(self.paper, scale_typed(self.scale), dpi_typed(self.dpi)),
            sheets=self.sheets or self.kind in FURTHER,
            rooms=(self.room,) if self.room else (),
        )

    def report_options(self, choices: Choices) -> ReportOptions:
        """Return what the command line would be given for the same report."""
        from hgmap.survey_report import ReportOptions

        style = Path(self.style) if self.style else None
        return ReportOptions(self.options(choices), self.rule, style)

    @property
    def surveyed(self) -> tuple[object, ...]:
        """What a survey that a report writes up depends on, besides the site and its choices."""
        return self.floor, self.rule, self.paper, scale_typed(self.scale), self.sheets, self.room

    @property
    def text_paper(self) -> PaperSize:
        """What the text of a report is printed on."""
        from hgmap.report.sheet_setup import sheet_setup, text_paper

        return text_paper(sheet_setup(self.paper).paper)


@dataclass(frozen=True)
class Known:
    """What was made already of a site as it was chosen: maps by floor, and a survey's report.

    ``asked`` is what the survey was made for (:attr:`Wanted.surveyed`).
    """

    site: Site
    choices: Choices
    maps: dict[str, Mapped] = field(default_factory=dict)
    survey: Survey | None = None
    asked: tuple[object, ...] = ()

    def still(self, site: Site, choices: Choices) -> bool:
        """Tell whether it is of this site, chosen so."""
        return self.site is site and self.choices == choices


@dataclass(frozen=True)
class Laid:
    """Sheets in order, what could not be laid out, and what is known now."""

    sheets: tuple[Sheet, ...]
    said: tuple[str, ...]
    known: Known


def scale_typed(text: str) -> float | None:
    """Read a scale as typed; None where nothing is: the largest that fits.

    Raises
    ------
    HgmapError
        If it is none.

    Examples
    --------
    >>> scale_typed("1 : 100"), scale_typed("1:12.5"), scale_typed("50"), scale_typed(" ")
    (100.0, 12.5, 50.0, None)
    """
    text = "".join(text.split()).replace(",", ".")
    if not text:
        return None
    try:
        return float(text.removeprefix("1:"))
    except ValueError:
        raise HgmapError(f"{text!r} is no scale", todo="write it as 1 : 100") from None


def dpi_typed(text: str) -> float:
    """Read dots per inch as typed.

    Raises
    ------
    HgmapError
        If it is no number.
    """
    try:
        return float(text.strip().replace(",", "."))
    except ValueError:
        raise HgmapError(f"{text!r} is no number of dots per inch", todo="give 200") from None


def lay_out_sheets(
    site: Site, choices: Choices, wanted: Wanted, known: Known, progress: Progress,
    cancelled: Cancelled,
) -> Laid:  # fmt: skip
    """Lay the sheets out; a floor that cannot be mapped is said, and the others go on.

    Parameters
    ----------
    site : Site
        As the window shows it.
    choices : Choices
    wanted : Wanted
    known : Known
        Of this site and these choices; what it has is not made again.
    progress, cancelled : callable

    Raises
    ------
    HgmapError
        If there is no level, no round, or nothing of this kind at all; if the scale does not fit.
    """
    if wanted.kind == "report":
        return _report(site, choices, wanted, known, progress)
    if wanted.kind not in ON_ANY_PAPER:
        wanted = replace(wanted, paper="a4", scale="")
    options = wanted.options(choices)
    if wanted.kind == "change":
        return _change(site, choices, wanted, options, known, progress)
    case = pipeline.case_of(site, choices)
    if wanted.kind == "quality":
        from hgmap.report.quality_files import quality_sheets_of

        found = quality_sheets_of(case.site, case.level, case.quality)
        return Laid(tuple(found), (), known)
    from hgmap.desktop.mapping import Mapper

    mapper, maps = Mapper(), dict(known.maps)
    from hgmap.batch_choice import choose_floors

    sheets: list[Sheet] = []
    floors, lost = choose_floors(site, options.floors)
    said = [f"{one.where}: {one.message}" for one in lost]
    for number, floor in enumerate(floors):
        progress(floor.title or floor.name, number / len(floors))
        try:
            _check(case, floor, options, wanted)
            if floor.name not in maps:
                here = replace(choices, floor=floor.name)
                maps[floor.name] = mapper.whole(site, here, progress, cancelled)
            of_floor, why = _of_floor(maps[floor.name], wanted, options)
        except HgmapError as error:
            said.append(f"{floor.title or floor.name}: {error}")
            continue
        sheets += of_floor
        said += why
    return Laid(tuple(sheets), tuple(said), replace(known, maps=maps))


def _check(case: MapCase, floor: Floor, options: MapOptions, wanted: Wanted) -> None:
    """Refuse a scale that does not fit before anything is estimated."""
    if wanted.kind != "resample":
        from hgmap.floor_sheets import check_sheets

        check_sheets(case, [floor], replace(options, rooms=()))


def _of_floor(
    mapped: Mapped, wanted: Wanted, options: MapOptions
) -> tuple[list[Sheet], tuple[str, ...]]:
    """Return the sheets of one floor, and why one that is wanted is not among them."""
    one, kind = mapped.floor_map, wanted.kind
    if kind == "resample":
        from hgmap.report.resample_sheet import sheets_of_list

        case = mapped.case
        return sheets_of_list(case.site, one.zones, one.resample, case.round.name)[0], ()
    from hgmap.floor_sheets import asked_rooms, floor_sheets
    from hgmap.site.files import slug

    found = floor_sheets(mapped.case, one, options)
    if kind == "every":
        return list(found.values()), ()
    if kind == "rooms":
        names = [f"room-{slug(room)}" for room in asked_rooms([one.floor], options.rooms)]
        return [
            sheet for name, sheet in found.items()
            if name in names or (not options.rooms and name.startswith("room-"))
        ], ()  # fmt: skip
    if kind in ("estimate", "uncertainty") and kind not in found:
        return [], (f"{one.floor.title or one.floor.name}: no surface: {one.no_surface}",)
    return [found[kind]] if kind in found else [], ()


def _change(
    site: Site, choices: Choices, wanted: Wanted, options: MapOptions, known: Known,
    progress: Progress,
) -> Laid:  # fmt: skip
    from hgmap.compare import compare_read_site

    chosen = pipeline.as_chosen(site, choices)
    run = compare_read_site(
        chosen, wanted.before, choices.round, replace(options, round=None, rooms=()), progress
    )
    return Laid(run.sheets, tuple(f"{one.where}: {one.message}" for one in run.failed), known)


def _report(site: Site, choices: Choices, wanted: Wanted, known: Known, progress: Progress) -> Laid:
    """Lay the report's pages out; only what it says anew is made anew."""
    from hgmap.report.document.pdf_file import report_sheets
    from hgmap.report.document.style import HouseStyle, read_style
    from hgmap.report.document.write_up import write_up

    style = read_style(Path(wanted.style)) if wanted.style else HouseStyle()
    known, survey = survey_made(site, choices, wanted, known, progress)
    progress("report", 1.0)
    pages = report_sheets(write_up(survey, style.cautions, wanted.text_paper), style)
    return Laid(tuple(pages), tuple(f"{one.where}: {one.message}" for one in survey.failed), known)


def survey_made(
    site: Site, choices: Choices, wanted: Wanted, known: Known, progress: Progress,
    made: Sequence[FloorMap] = (),
) -> tuple[Known, Survey]:  # fmt: skip
    """Return the survey that a report writes up; the known one where it is of the same.

    ``made`` are floors of the same site and choices that a run has mapped just now.
    """
    asked = wanted.surveyed
    if known.survey is not None and known.asked == asked:
        return known, known.survey
    from hgmap.field.crosscheck import opinion_on
    from hgmap.field.threads import one_thread
    from hgmap.survey_report import survey_of

    maps = {one.floor.name: one for one in made}
    for name, one in known.maps.items():
        if wanted.floor in (ALL, name) and name not in maps:
            progress(one.floor_map.floor.title or name, 0.0)
            with one_thread():  # the screen does without this opinion, which a report tells of
                opinion = opinion_on(one.floor_map.surface)
            maps[name] = replace(one.floor_map, opinion=opinion)
    _, survey = survey_of(
        pipeline.as_chosen(site, choices), wanted.report_options(choices), progress, maps
    )
    return replace(known, survey=survey, asked=asked), survey


def scale_of(sheet: Sheet) -> float | None:
    """Return n of the scale 1 : n of a sheet's plan; None where it has no plan."""
    return 1000.0 / sheet.frames[0].mm_per_m if sheet.frames else None


def paper_of(sheet: Sheet) -> str:
    """Return the name of the paper that a sheet is laid out on."""
    from hgmap.report.sheet_setup import PAPERS

    sides = sorted((sheet.width_mm, sheet.height_mm))
    return min(
        PAPERS, key=lambda one: abs(one.short_mm - sides[0]) + abs(one.long_mm - sides[1])
    ).title  # fmt: skip
