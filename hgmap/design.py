"""From the plans of a site to a sampling design, before there is a reading: places and sheets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS
from hgmap.batch_choice import choose_floors
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.places import DesignPlace, design_building
from hgmap.decide.design.spots import ToFind
from hgmap.decide.design.statements import Statement
from hgmap.decide.design.visits import FloorDesign, design_visits
from hgmap.design_options import (
    DesignOptions,
    asked_samples,
    asked_spacing,
    asked_spot,
    check_number,
    check_start,
    source_rooms,
)
from hgmap.errors import EstimateError, HgmapError, SiteError
from hgmap.report.design_tables import field_sheet_csv, sampling_plan_csv
from hgmap.report.drawing import Sheet
from hgmap.report.field_sheet import field_sheets
from hgmap.report.paper import pdf_bytes, png_bytes
from hgmap.report.tables import write_csv
from hgmap.report.words import count, named
from hgmap.shows_itself import OnPlans
from hgmap.site.files import slug, write_bytes
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.model import Problem, Site
from hgmap.site.staging import staged

FOLDER: Final = "design"
PLAN: Final = "sampling-plan.csv"
SHEET: Final = "field-sheet"
DPI: Final = 150.0
MOST_PICTURES: Final = 24
"""Pages of a floor that are written as PNG too, at most; the PDF has all."""


@dataclass(frozen=True)
class DesignRun(OnPlans):
    """A design that was made, and what somebody should read about it.

    Attributes
    ----------
    before, after : tuple of DesignPlace
        What is taken outdoors, or with the laboratory samples, before and after the walk.
    find : ToFind or None
        Hot spot asked for.
    notes, warnings : tuple of str
    failed : tuple of Problem
        Floors that are lost.
    """

    site: Site
    floors: tuple[FloorDesign, ...]
    before: tuple[DesignPlace, ...]
    after: tuple[DesignPlace, ...]
    spacing_m: float
    grid: GridShape
    find: ToFind | None
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    failed: tuple[Problem, ...]
    out: Path
    statements: tuple[Statement, ...] = ()

    @property
    def places(self) -> tuple[DesignPlace, ...]:
        """Every reading in the order in which it is taken."""
        walked = (visit.place for floor in self.floors for visit in floor.visits)
        return (*self.before, *walked, *self.after)

    @property
    def exit_code(self) -> int:
        """0 clean; 1 where there is something to read."""
        return 1 if self.warnings or self.failed else 0


def design_site(folder: Path | str, options: DesignOptions | None = None) -> DesignRun:
    """Lay a sampling design out on the floors of a site and write its sheets; needs no reading.

    Parameters
    ----------
    folder : path
        The site folder.
    options : DesignOptions, optional

    Raises
    ------
    HgmapError
        If there is no floor to lay it on, or what is asked cannot be had.
    """
    options = options or DesignOptions()
    find = asked_spot(options)
    site = read_site(folder)
    if site.medium != "air":
        raise SiteError(f"the site is of {site.medium} samples; a design is of places to read "
                        "the air", where="site.toml, medium", todo="set it to air")  # fmt: skip
    floors, failed = choose_floors(site, options.floors)
    if not floors:
        raise EstimateError(failed[0].message, where=failed[0].where, todo=failed[0].todo)
    spacing_m, notes = asked_spacing(site, options, find)
    samples, samples_says = asked_samples(options)
    check_number(floors, site.use, options, spacing_m, find, samples)
    check_start(floors, options.start)
    source = source_rooms(floors, options.source)
    with threadpool_limits(THREADS):
        places = design_building(
            floors, use=site.use, spacing_m=spacing_m, grid=options.grid, find=find,
            samples=samples, samples_says=samples_says, seed=options.seed,
        )  # fmt: skip
        made = tuple(
            design_visits(
                floor,
                [one for one in places if one.floor == floor.name],
                find=find,
                start=options.start,
                source_room=source.get(floor.name),
            )
            for floor in floors
        )
    off = [k for k, one in enumerate(places) if not one.floor]
    first = next(k for k, one in enumerate(places) if one.floor)
    run = DesignRun(
        site,
        made,
        tuple(places[k] for k in off if k < first),
        tuple(places[k] for k in off if k > first),
        spacing_m,
        options.grid,
        find,
        tuple(notes),
        (*_warnings(made, find), *_too_few(made, options, samples)),
        tuple(failed),
        Path(options.out or site.folder / RESULTS_FOLDER / FOLDER),
        options.statements,
    )
    _write(run, options)
    return run


def _too_few(made: Sequence[FloorDesign], options: DesignOptions, samples: int) -> list[str]:
    """Say which rooms cannot take the places of a statement, or that the design has too few."""
    texts = []
    for one in made:
        short = [row for row in one.gaps.rows if row.readings < samples]
        texts += [
            f"{one.floor.title or one.floor.name}, {row.room_name or row.room}: "
            f"{count(row.readings, 'place')} of {samples}; no more fit between its walls, nothing "
            "can be stated of it"
            for row in short
        ]
    total = sum(one.places for one in made)
    if not options.each_room:
        texts += [
            f"the design has {count(total, 'place')}, a {one.name} of its air takes {one.samples}: "
            "ask for a closer grid"
            for one in options.statements
            if total < one.samples
        ]
    return texts


def _warnings(made: Sequence[FloorDesign], find: ToFind | None) -> list[str]:
    """Say which rooms cannot be walked to, and which are found with less than was asked."""
    texts = []
    for one in made:
        title = one.floor.title or one.floor.name
        if one.unreachable:
            texts.append(f"{title}: no way on foot to {named(one.unreachable)}; find out why, "
                         "until somebody has read there nothing is known of it")  # fmt: skip
        short = [row for row in one.chances if find and row.probability < find.probability - 1e-9]
        texts += [
            f"{title}, {row.room_name or row.room}: the hot spot is found with "
            f"{math.floor(row.probability * 100)} % only; no more places fit between its walls"
            for row in short
        ]
    return texts


def lines_of(run: DesignRun) -> tuple[str, ...]:
    """Say how the places were chosen, for the head of a field sheet."""
    text = f"{run.grid} grid of {run.spacing_m:.2f} m"
    if run.find is not None:
        text += (
            f", with more places where walls ask for them: to find a hot spot of "
            f"{run.find.size} with {run.find.probability * 100:.6g} % in each room"
        )
    return (f"{text[0].upper()}{text[1:]}. Read at every height that the table names.",)


def _write(run: DesignRun, options: DesignOptions) -> None:
    """Write every table and sheet, all or none."""
    kept = []
    with staged(run.out) as stage:
        write_csv(stage / PLAN, sampling_plan_csv(run.places, run.site.height_bands))
        write_csv(stage / f"{SHEET}.csv", field_sheet_csv(run.places))
        for position, one in enumerate(run.floors):
            sheets = field_sheets(
                run.site,
                one,
                before=run.before if position == 0 else (),
                after=run.after if position == len(run.floors) - 1 else (),
                lines=lines_of(run),
                start=options.start,
            )
            folder = slug(one.floor.name)
            write_bytes(stage / folder / f"{SHEET}.pdf", pdf_bytes(sheets))
            for number, sheet in enumerate(_pictured(sheets), start=1):
                name = f"{SHEET}.png" if number == 1 else f"{SHEET}-{number}.png"
                write_bytes(stage / folder / name, png_bytes(sheet, DPI))
                kept.append(run.out / folder / name)
    clear_old(kept, f"{SHEET}*.png")


def _pictured(sheets: Sequence[Sheet]) -> Sequence[Sheet]:
    """Return the pages that get a picture: the maps, and the table's first page.

    The rest of the table is blanks to fill in, and lies in the PDF; on a large floor its pictures
    took as long to write as everything else but the PDF.
    """
    maps = sum(1 for sheet in sheets if sheet.frames)
    return sheets[: min(maps + 1, MOST_PICTURES)]


def clear_old(kept: Sequence[Path], pattern: str) -> None:
    """Take away pages of an earlier, longer run that stand beside the new ones."""
    for folder in {path.parent for path in kept}:
        for path in folder.glob(pattern):
            if path not in kept:
                try:
                    path.unlink()
                except OSError as error:
                    raise HgmapError(f"an older page cannot be taken away ({error.strerror})",
                                     where=str(path), todo="delete it")  from None  # fmt: skip
