"""What is asked of a design, checked: the hot spot, the spacing, the samples, the start."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import shapely

from hgmap.decide.design.hot_spot import points_for, spacing_for, spacing_of_points
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.places import CELL_M
from hgmap.decide.design.route import MOST_PLACES
from hgmap.decide.design.rules import load_design_rules
from hgmap.decide.design.spots import LEAST_ASPECT, ToFind
from hgmap.decide.design.statements import Statement
from hgmap.errors import EstimateError, SiteError
from hgmap.field.raster import FARTHEST_OUTSIDE_M
from hgmap.report.words import count
from hgmap.site.building import Floor
from hgmap.site.model import Site, Use

PROBABILITY: Final = 0.95
LEAST_M: Final = 0.001


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
    shape : float or None
        Width over length of an ellipse, ``find_radius_m`` being half its length; None: a circle.
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
    statements : tuple of Statement
        What is to be stated of the air: their samples are printed.
    each_room : bool
        Give every room as many places as the statement that needs most.
    out : path, optional
        Folder; SITE/results/design where not given.
    """

    floors: tuple[str, ...] = ()
    find_radius_m: float | None = None
    probability: float | None = None
    shape: float | None = None
    spacing_m: float | None = None
    grid: GridShape = "square"
    seed: int = 0
    start: tuple[float, float] | None = None
    source: str | None = None
    statements: tuple[Statement, ...] = ()
    each_room: bool = False
    out: Path | None = None


def asked_spot(options: DesignOptions) -> ToFind | None:
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
    if options.shape is not None:
        if not LEAST_ASPECT <= options.shape <= 1:
            raise EstimateError(
                f"a hot spot {options.shape:g} times as wide as long cannot be looked for",
                where="--shape",
                todo=f"give {LEAST_ASPECT:g} to 1, a circle; what is narrower is a crack: sweep it",
            )
        if radius is None:
            raise EstimateError("the shape of a hot spot, but of what size?", where="--shape",
                                todo="say --find, half its length in metres")  # fmt: skip
    aspect = 1.0 if options.shape is None else options.shape
    if radius is None:
        if chance is not None:
            raise EstimateError("a probability, but of what size of hot spot?",
                                where="--probability", todo="say --find RADIUS_M")  # fmt: skip
        return None
    if radius * aspect < CELL_M:
        raise EstimateError(
            f"a hot spot of {radius * aspect:g} m is too small for a grid of places",
            where="--find",
            todo=f"give {CELL_M:g} m or more, at its narrowest; what is smaller is searched for "
            "along the floor",
        )
    return ToFind(radius, PROBABILITY if chance is None else chance, aspect)


def asked_spacing(
    site: Site, options: DesignOptions, find: ToFind | None
) -> tuple[float, list[str]]:
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
        spacing = _spacing_to_find(options.grid, find)
        notes.append(
            f"spacing not stated: {spacing:.2f} m, the widest {options.grid} grid that finds a "
            f"hot spot of {find.size} with {find.probability * 100:.6g} % where "
            "no wall cuts it; places are added where walls do"
        )
        return spacing, notes
    spacing = spacing_of_points(options.grid, points=1, area_m2=rule.area_for_a_place_m2)
    notes.append(
        f"neither hot spot nor spacing stated: {spacing:.2f} m, one place for each "
        f"{rule.area_for_a_place_m2:g} m² ({rule.source})"
    )
    return spacing, notes


def _spacing_to_find(grid: GridShape, find: ToFind) -> float:
    return spacing_for(
        grid, radius_m=find.radius_m, probability=find.probability, aspect=find.aspect
    )


def asked_samples(options: DesignOptions) -> tuple[int, str]:
    """Return how many places every room needs for the statements, and why."""
    if not options.each_room:
        return 0, ""
    if not options.statements:
        raise EstimateError("a statement in each room, but which?", where="--each-room",
                            todo="say --tolerance or --test")  # fmt: skip
    most = max(options.statements, key=lambda one: one.samples)
    return most.samples, f"drawn at random: {most.samples} in each room for a {most.name}"


def check_number(
    floors: Sequence[Floor],
    use: Use | None,
    options: DesignOptions,
    spacing_m: float,
    find: ToFind | None,
    samples: int,
) -> None:
    """Refuse what makes more places than anybody walks to, before it is laid out."""
    rules = load_design_rules()
    for floor in floors:
        least = sum(rules.places_in(room.area_m2, use)[0] for room in floor.rooms)
        if samples * len(floor.rooms) > MOST_PLACES:
            raise EstimateError(
                f"{samples} places in each of {count(len(floor.rooms), 'room')} of floor "
                f"{floor.name!r}; {MOST_PLACES} is the most of a floor",
                where="--each-room",
                todo="leave it out, and state it of the building or of some rooms",
            )
        if least > MOST_PLACES:
            raise EstimateError(
                f"the rules ask for {least} places at least; {MOST_PLACES} is the most of a floor",
                where=f"floor {floor.name!r}",
                todo="import it in parts, as one floor each",
            )
    asked = [("--spacing" if options.spacing_m is not None else "--find", spacing_m)]
    if find is not None and options.spacing_m is not None:
        asked.append(("--find", _spacing_to_find(options.grid, find)))
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


def check_start(floors: Sequence[Floor], start: tuple[float, float] | None) -> None:
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


def source_rooms(floors: Sequence[Floor], asked: str | None) -> dict[str, int]:
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
