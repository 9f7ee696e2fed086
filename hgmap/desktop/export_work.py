"""Writing what the window shows: the same functions as the command line's, into one folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.print_sheets import Known, Wanted, survey_made
from hgmap.desktop.work import Progress
from hgmap.errors import HgmapError
from hgmap.site.model import Site

if TYPE_CHECKING:
    from hgmap.floor_map import FloorMap
    from hgmap.report.document.style import HouseStyle
    from hgmap.report.document.survey import Survey
    from hgmap.report.sheet_setup import PaperSize


@dataclass(frozen=True)
class Export:
    """What to write and where.

    Attributes
    ----------
    folder : Path
    parts : frozenset of str
        ``map``, ``sheets`` (with the map, every sheet), ``diagnostics``, ``clearance``, ``change``.
    chosen : Wanted
        Floor, paper, and for a change the round before.
    also : tuple of str
        Further formats of the map.
    report : tuple of str
        Formats of the report; none where it is empty.
    """

    folder: Path
    parts: frozenset[str]
    chosen: Wanted = field(default_factory=Wanted)
    also: tuple[str, ...] = ()
    report: tuple[str, ...] = ()


@dataclass(frozen=True)
class Exported:
    """What was written, relative to the folder, and what a person should know of it.

    ``lost`` are the floors that could not be made, each with its reason.
    """

    folder: Path
    files: tuple[str, ...]
    said: tuple[str, ...]
    lost: tuple[str, ...] = ()


def proposed_folder(site: Site, choices: Choices, floor: str) -> Path:
    """Return the results folder that the command line would take."""
    from hgmap.batch_choice import choose_round, results_folder

    round_, _ = choose_round(site, choices.round or None)
    only = [one for one in site.floors if one.name == floor]
    return results_folder(site, round_, only)


def export(
    site: Site, choices: Choices, wanted: Export, progress: Progress, known: Known | None = None
) -> Exported:
    """Write the parts that are wanted; each of them whole, or not at all.

    What can be refused is worked out before the first file is written.

    Parameters
    ----------
    site, choices : Site, Choices
        What the window shows.
    wanted : Export
    progress : callable
    known : Known, optional
        What the preview has made of it: a report that was looked at is the one that is written.

    Raises
    ------
    HgmapError
        In one line, what cannot be done or written.
    """
    as_shown = site
    site = pipeline.as_chosen(site, choices)  # what is written is what the window shows
    before = _stamps(wanted.folder)
    chosen = wanted.chosen
    options = replace(
        chosen.options(choices), out=wanted.folder, diagnostics="diagnostics" in wanted.parts,
        also=wanted.also, sheets="sheets" in wanted.parts,
    )  # fmt: skip
    lost: list[str] = []
    """Floors that are not in what was written: said before all else."""
    said: list[str] = []
    writers: list[Callable[[], object]] = []
    made: Sequence[FloorMap] = ()
    style = _style(chosen) if wanted.report else None
    if "clearance" in wanted.parts:
        from hgmap.clearance import write_clearance

        ruled = pipeline.clearance_of(site, choices, progress)
        run = replace(ruled, out=wanted.folder)
        lost += [f"{one.where}: {one.message}" for one in run.failed]
        writers.append(lambda: write_clearance(run))
    if "change" in wanted.parts:
        from hgmap.compare import compare_read_site, write_comparison

        comparison = replace(
            compare_read_site(site, chosen.before, choices.round, options, progress),
            out=wanted.folder,
        )
        lost += [f"{one.where}: {one.message}" for one in comparison.failed]
        said += comparison.warnings
        writers.append(lambda: write_comparison(comparison))
    if "map" in wanted.parts or "diagnostics" in wanted.parts:
        from hgmap.batch import map_read_site

        mapped = map_read_site(site, options, progress)
        if not mapped.floors:
            first = mapped.failed[0] if mapped.failed else None
            raise HgmapError(
                first.message if first else "no floor can be mapped",
                where=first.where if first else str(site.folder),
                todo=first.todo if first else "",
            )
        lost += [f"{one.where}: {one.message}" for one in mapped.failed]
        said += mapped.warnings
        made = mapped.floors
    if style is not None:
        survey = _survey(as_shown, choices, chosen, progress, known, made)
        lost += [f"{one.where}: {one.message}" for one in survey.failed]
        writers.append(lambda: _write_report(survey, style, wanted, progress, chosen.text_paper))
    for write in writers:
        write()
    after = _stamps(wanted.folder)
    files = sorted(name for name, stamp in after.items() if before.get(name) != stamp)
    files = [one for one in files if not Path(one).name.startswith(".tmp-")]
    about = tuple(dict.fromkeys(said))
    return Exported(wanted.folder, tuple(files), about, tuple(dict.fromkeys(lost)))


def _style(chosen: Wanted) -> HouseStyle:
    from hgmap.report.document.style import HouseStyle, read_style

    return read_style(Path(chosen.style)) if chosen.style else HouseStyle()


def _survey(
    site: Site, choices: Choices, chosen: Wanted, progress: Progress, known: Known | None,
    made: Sequence[FloorMap],
) -> Survey:  # fmt: skip
    """Return what a report says: as the preview has it, else of the maps of this run."""
    if known is None or not known.still(site, choices):
        known = Known(site, choices)
    return survey_made(site, choices, chosen, known, progress, made)[1]


def _write_report(
    survey: Survey, style: HouseStyle, wanted: Export, progress: Progress, paper: PaperSize
) -> None:
    from hgmap.survey_report import FORMATS, write_report

    formats = [one for one in FORMATS if one in wanted.report]
    write_report(survey, style, formats, wanted.folder, progress, paper=paper)


def _stamps(folder: Path) -> dict[str, tuple[int, int]]:
    """Return what tells a file that was written from one that lay there before."""
    return dict(_stamped(folder)) if folder.is_dir() else {}


def _stamped(folder: Path) -> Iterator[tuple[str, tuple[int, int]]]:
    for path in folder.rglob("*"):
        try:
            if path.is_file():
                about = path.stat()
                yield path.relative_to(folder).as_posix(), (about.st_mtime_ns, about.st_ino)
        except OSError:
            continue  # it went away meanwhile
