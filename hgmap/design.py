"""From the plans of a site to a sampling design, before there is a reading: places and sheets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import shapely
from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS
from hgmap.batch_choice import choose_floors
from hgmap.decide.design.hot_spot import points_for, spacing_for, spacing_of_points
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.places import CELL_M, DesignPlace, design_building
from hgmap.decide.design.route import MOST_PLACES
from hgmap.decide.design.rules import load_design_rules
from hgmap.decide.design.spots import ToFind
from hgmap.decide.design.visits import FloorDesign, design_visits
from hgmap.errors import EstimateError, HgmapError, SiteError
from hgmap.field.raster import FARTHEST_OUTSIDE_M
from hgmap.report.design_tables import field_sheet_csv, sampling_plan_csv
from hgmap.report.field_sheet import field_sheets
from hgmap.report.paper import pdf_bytes, png_bytes
from hgmap.report.tables import write_csv
from hgmap.report.words import count, metres, per_cent
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_bytes
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.model import Problem, Site, Use
from hgmap.site.staging import staged

FOLDER: Final = "design"
PLAN: Final = "sampling-plan.csv"
SHEET: Final = "field-sheet"
PROBABILITY: Final = 0.95
LEAST_M: Final = 0.001
DPI: Final = 150.0
MOST_PICTURES: Final = 24
"""Pages of a floor that are written as PNG too; the PDF has all."""


@dataclass(frozen=True)
class DesignOptions:
    """What is asked of a design.

    Attributes
    ----------
    floors : tuple of str
        Names or titles; none: all.
    find_radius_m, probability : float or None
        Hot spot that every room shall find, and with what chance (0.95 where only the radius is
        given).
    spacing_m : float or None
        Of the grid; where not given, it follows from the hot spot, else from the least number of
        places that the rules ask for.
    grid : {"square", "triangular"}
    seed : int
        Of the grid's random offset and of the duplicates drawn.
    start : tuple of float, optional
        Where the walk begins (m), on the one floor.
    source : str or None
        Id or name of the room where the source is expected; it comes last.
    out : path, optional
        Folder; SITE/results/design where not given.
    """

    floors: tuple[str, ...] = ()
    find_radius_m: float | None = None
    probability: float | None = None
    spacing_m: float | None = None
    grid: GridShape = "square"
    seed: int = 0
    start: tuple[float, float] | None = None
    source: str | None = None
    out: Path | None = None


@dataclass(frozen=True)
class DesignRun:
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
    find = _to_find(options)
    site = read_site(folder)
    if site.medium != "air":
        raise SiteError(f"the site is of {site.medium} samples; a design is of places to read "
                        "the air", where="site.toml, medium", todo="set it to air")  # fmt: skip
    floors, failed = choose_floors(site, options.floors)
    if not floors:
        raise EstimateError(failed[0].message, where=failed[0].where, todo=failed[0].todo)
    spacing_m, notes = _spacing(site, options, find)
    _check_number(floors, site.use, options, spacing_m, find)
    _check_start(floors, options.start)
    source = _source(floors, options.source)
    with threadpool_limits(THREADS):
        places = design_building(
            floors, use=site.use, spacing_m=spacing_m, grid=options.grid, find=find,
            seed=options.seed,
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
        tuple(_warnings(made, find)),
        tuple(failed),
        Path(options.out or site.folder / RESULTS_FOLDER / FOLDER),
    )
    _write(run, options)
    return run


def _to_find(options: DesignOptions) -> ToFind | None:
    """Check the hot spot that is asked for."""
    radius, chance = options.find_radius_m, options.probability
    if radius is not None and not (math.isfinite(radius) and radius > 0):
        raise EstimateError(
            f"a hot spot of {radius:g} m cannot be looked for",
            where="--find",
            todo="give its radius in metres, above 0",
        )
    if chance is not None and not 0 < chance < 1:
        raise EstimateError(
            f"a probability of {chance:g} cannot be designed for",
            where="--probability",
            todo="give one between 0 and 1, as 0.95",
        )
    if radius is None:
        if chance is not None:
            raise EstimateError("a probability, but of what size of hot spot?",
                                where="--probability", todo="say --find RADIUS_M")  # fmt: skip
        return None
    if radius < CELL_M:
        raise EstimateError(
            f"a hot spot of {radius:g} m is too small for a grid of places",
            where="--find",
            todo=f"give {CELL_M:g} m or more; what is smaller is searched for along the floor",
        )
    return ToFind(radius, PROBABILITY if chance is None else chance)


def _spacing(site: Site, options: DesignOptions, find: ToFind | None) -> tuple[float, list[str]]:
    """Return the spacing (m) of the grid, and what was taken for granted."""
    rules = load_design_rules()
    _, rule = rules.places_in(1.0, site.use)
    notes = []
    if site.use is None:
        notes.append(
            f"site.toml does not say the use of the building: the strictest rule is taken, one "
            f"place for each {rule.area_for_a_place_m2:g} m², at every height"
        )
    if options.spacing_m is not None:
        if not (math.isfinite(options.spacing_m) and options.spacing_m >= LEAST_M):
            raise EstimateError(f"a spacing of {options.spacing_m:g} m cannot be used",
                                where="--spacing", todo=f"give {LEAST_M:g} m or more")  # fmt: skip
        return options.spacing_m, notes
    if find is not None:
        spacing = spacing_for(options.grid, radius_m=find.radius_m, probability=find.probability)
        notes.append(
            f"spacing not stated: {spacing:.2f} m, the widest {options.grid} grid that finds a "
            f"hot spot of {metres(find.radius_m)} radius with {per_cent(find.probability)} where "
            "no wall cuts it; places are added where walls do"
        )
        return spacing, notes
    spacing = spacing_of_points(options.grid, points=1, area_m2=rule.area_for_a_place_m2)
    notes.append(
        f"neither hot spot nor spacing stated: {spacing:.2f} m, one place for each "
        f"{rule.area_for_a_place_m2:g} m² ({rule.source})"
    )
    return spacing, notes


def _check_number(
    floors: Sequence[Floor],
    use: Use | None,
    options: DesignOptions,
    spacing_m: float,
    find: ToFind | None,
) -> None:
    """Refuse what makes more places than anybody walks to, before it is laid out."""
    rules = load_design_rules()
    for floor in floors:
        least = sum(rules.places_in(room.area_m2, use)[0] for room in floor.rooms)
        if least > MOST_PLACES:
            raise EstimateError(
                f"the rules ask for {least} places at least; {MOST_PLACES} is the most of a floor",
                where=f"floor {floor.name!r}",
                todo="import it in parts, as one floor each",
            )
    asked = [("--spacing" if options.spacing_m is not None else "--find", spacing_m)]
    if find is not None and options.spacing_m is not None:
        asked.append(("--find", spacing_for(options.grid, radius_m=find.radius_m,
                                            probability=find.probability)))  # fmt: skip
    for where, spacing in asked:
        for floor in floors:
            number = points_for(options.grid, spacing_m=spacing, area_m2=floor.area_m2)
            if number > MOST_PLACES:
                raise EstimateError(
                    f"a spacing of {spacing:.3g} m makes about {number:.0f} places on floor "
                    f"{floor.name!r}; {MOST_PLACES} is the most",
                    where=where,
                    todo="ask for a wider one, or for a larger hot spot",
                )


def _check_start(floors: Sequence[Floor], start: tuple[float, float] | None) -> None:
    """Refuse a start that is on several floors or on none."""
    if start is None:
        return
    if len(floors) > 1:
        raise SiteError("a start is on one floor", where="--start", todo="say --floor too")
    away = floors[0].outline.distance(shapely.Point(start))
    if not away <= FARTHEST_OUTSIDE_M:
        raise SiteError(
            f"({start[0]:g}, {start[1]:g}) is {away:.3g} m outside every room of floor "
            f"{floors[0].name!r}",
            where="--start",
            todo="give metres in the floor's frame",
        )


def _source(floors: Sequence[Floor], asked: str | None) -> dict[str, int]:
    """Return the floor and the position of the room that comes last."""
    if asked is None:
        return {}
    found = [
        (floor.name, k)
        for floor in floors
        for k, room in enumerate(floor.rooms)
        if asked.casefold() in (room.id.casefold(), room.name.casefold())
    ]
    if not found:
        raise SiteError(f"no room {asked!r} on {count(len(floors), 'floor')}", where="--source",
                        todo="give its id or its name as on the plan")  # fmt: skip
    if len(found) > 1:
        raise SiteError(f"{len(found)} rooms are called {asked!r}", where="--source",
                        todo="give the id, and --floor where floors share it")  # fmt: skip
    return dict(found)


def _warnings(made: Sequence[FloorDesign], find: ToFind | None) -> list[str]:
    """Say which rooms cannot be walked to, and which are found with less than was asked."""
    texts = []
    for one in made:
        title = one.floor.title or one.floor.name
        if one.unreachable:
            texts.append(f"{title}: no way on foot to {', '.join(one.unreachable)}; find out why, "
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
            f"{metres(run.find.radius_m)} radius with {per_cent(run.find.probability)} in each room"
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
            for number, sheet in enumerate(sheets[:MOST_PICTURES], start=1):
                name = f"{SHEET}.png" if number == 1 else f"{SHEET}-{number}.png"
                write_bytes(stage / folder / name, png_bytes(sheet, DPI))
                kept.append(run.out / folder / name)
    clear_old(kept, f"{SHEET}*.png")


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
