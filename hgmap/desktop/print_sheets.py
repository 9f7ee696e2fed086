"""The sheets that a run writes, laid out for the preview: the same objects, no file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.work import Cancelled, Progress
from hgmap.errors import HgmapError
from hgmap.site.model import Site

if TYPE_CHECKING:
    from hgmap.desktop.pipeline import Mapped
    from hgmap.report.drawing import Sheet

ALL: Final = ""
"""Every floor."""


@dataclass(frozen=True)
class Wanted:
    """Which sheets: a kind, a floor (empty: all), and for a change the round before."""

    kind: str
    floor: str = ALL
    before: str = ""


@dataclass(frozen=True)
class Laid:
    """Sheets in order, and what could not be laid out."""

    sheets: tuple[Sheet, ...]
    said: tuple[str, ...]


def lay_out_sheets(
    site: Site,
    choices: Choices,
    wanted: Wanted,
    known: Mapped | None,
    progress: Progress,
    cancelled: Cancelled,
) -> Laid:
    """Lay the sheets out; a floor that cannot be mapped is said, and the others go on.

    Parameters
    ----------
    site : Site
        As the window shows it.
    choices : Choices
    wanted : Wanted
    known : Mapped or None
        The map on the screen, which is not made again.
    progress, cancelled : callable

    Raises
    ------
    HgmapError
        If there is no level, no round, or nothing of this kind at all.
    """
    if wanted.kind == "change":
        return _change(site, choices, wanted, progress)
    case = pipeline.case_of(site, choices)
    if wanted.kind == "quality":
        from hgmap.report.quality_files import quality_sheets_of

        return Laid(tuple(quality_sheets_of(case.site, case.level, case.quality)), ())
    from hgmap.desktop.mapping import Mapper

    mapper = Mapper()
    names = [one.name for one in site.floors] if wanted.floor == ALL else [wanted.floor]
    sheets: list[Sheet] = []
    said: list[str] = []
    for number, name in enumerate(names):
        progress(name, number / max(len(names), 1))
        try:
            if known is not None and known.floor_map.floor.name == name:
                mapped = known
            else:
                mapped = mapper.whole(site, replace(choices, floor=name), progress, cancelled)
        except HgmapError as error:
            said.append(f"{name}: {error}")
            continue
        sheets += _of_floor(mapped, wanted.kind)
    return Laid(tuple(sheets), tuple(said))


def _of_floor(mapped: Mapped, kind: str) -> list[Sheet]:
    one = mapped.floor_map
    if kind == "resample":
        from hgmap.report.resample_sheet import sheets_of_list

        case = mapped.case
        return sheets_of_list(case.site, one.zones, one.resample, case.round.name)[0]
    from hgmap.floor_map import MapOptions
    from hgmap.floor_sheets import floor_sheets

    found = floor_sheets(mapped.case, one, MapOptions())
    return [found[kind]] if kind in found else []


def _change(site: Site, choices: Choices, wanted: Wanted, progress: Progress) -> Laid:
    from hgmap.compare import compare_read_site

    floors = () if wanted.floor == ALL else (wanted.floor,)
    options = replace(pipeline.options_of(choices), floors=floors, round=None)
    chosen = pipeline.as_chosen(site, choices)
    run = compare_read_site(chosen, wanted.before, choices.round, options, progress)
    return Laid(run.sheets, tuple(f"{one.where}: {one.message}" for one in run.failed))


def scale_of(sheet: Sheet) -> float | None:
    """Return n of the scale 1 : n of a sheet's plan; None where it has no plan."""
    return 1000.0 / sheet.frames[0].mm_per_m if sheet.frames else None
