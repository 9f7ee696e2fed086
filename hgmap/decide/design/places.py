"""A design: every place to read, with its height, its kind, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from hgmap.decide.design.gaps import lay_ground
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.points_on import building_angle_deg, grid_points
from hgmap.decide.design.rules import DesignRules, HeightRule, load_design_rules
from hgmap.decide.design.spots import Spot, ToFind, spots_of_room
from hgmap.errors import EstimateError
from hgmap.field.raster import fitting_cell
from hgmap.site.building import Floor, Room
from hgmap.site.model import Use
from hgmap.site.reading import ReadingKind

CELL_M = 0.25
MOST_CELLS = 200_000


@dataclass(frozen=True, slots=True)
class DesignPlace:
    """One reading or sample to take.

    Attributes
    ----------
    id : str
    floor, room, room_name : str
        Name of the floor, id and name of the room; empty outdoors and for a field blank.
    x, y : float or None
        In the floor's frame (m); None where it has no place on a floor.
    height_m : float or None
        Above the floor, or above the ground outdoors.
    kind : str
        As for readings.
    reason : str
        In words.
    duplicate_of : str
        Id of the place that this one repeats.
    """

    id: str
    floor: str
    room: str
    room_name: str
    x: float | None
    y: float | None
    height_m: float | None
    kind: ReadingKind
    reason: str
    duplicate_of: str = ""


def design_building(
    floors: Sequence[Floor],
    *,
    use: Use | None,
    spacing_m: float,
    grid: GridShape = "square",
    find: ToFind | None = None,
    samples: int = 0,
    samples_says: str = "",
    seed: int = 0,
    rules: DesignRules | None = None,
) -> tuple[DesignPlace, ...]:
    """Lay a design out on each floor, and add background, field blanks and duplicates.

    The arguments are those of :func:`lay_out`.

    Raises
    ------
    EstimateError
        If there is no floor, two have one name, or the spacing cannot be used.
    """
    if not floors:
        raise EstimateError("there is no floor to lay a design out on", todo="give a plan")
    if len({one.name for one in floors}) < len(floors):
        raise EstimateError("two floors have one name", todo="rename one")
    places = [
        place
        for floor in floors
        for place in lay_out(
            floor,
            use=use,
            spacing_m=spacing_m,
            grid=grid,
            find=find,
            samples=samples,
            samples_says=samples_says,
            seed=seed,
            rules=rules,
        )
    ]
    return with_controls(places, seed=seed, rules=rules)


def lay_out(
    floor: Floor,
    *,
    use: Use | None,
    spacing_m: float,
    grid: GridShape = "square",
    find: ToFind | None = None,
    samples: int = 0,
    samples_says: str = "",
    seed: int = 0,
    offset: ArrayLike | None = None,
    angle_deg: float | None = None,
    margin_m: float | None = None,
    rules: DesignRules | None = None,
) -> tuple[DesignPlace, ...]:
    """Lay a grid out on a floor; every room gets its minimum, and never none.

    The same seed gives the same design, and the same offset on every floor.

    Parameters
    ----------
    floor : Floor
    use : str or None
        Of the building: it sets the minimum and the heights; None: the strictest of all.
    spacing_m : float
        Of the grid; see :func:`hgmap.decide.design.hot_spot.spacing_for`.
    grid : {"square", "triangular", "rectangle"}
    find : ToFind, optional
        A hot spot that every room shall find; places are added where walls cut the grid.
    samples, samples_says : int, str
        Places that every room needs for a statement about it, drawn at random, and why.
    seed : int
        Of the grid's random offset.
    offset : array_like of shape (2,), optional
        Of one point from the south-west corner of the floor, in steps; default: random.
    angle_deg : float, optional
        Direction of the grid; default: the building's.
    margin_m : float, optional
        From walls; default: the rules'. Less in rooms too narrow for it.
    rules : DesignRules, optional

    Raises
    ------
    EstimateError
        If the spacing, offset or margin cannot be used.
    """
    rules = rules or load_design_rules()
    margin_m = rules.walls.margin_m if margin_m is None else margin_m
    if not (math.isfinite(margin_m) and margin_m >= 0):
        raise EstimateError(f"a margin of {margin_m:g} m cannot be used", todo="give 0 or more")
    if offset is None:
        offset = np.random.default_rng(seed).random(2)
    angle_deg = building_angle_deg(floor) if angle_deg is None else angle_deg
    xy, rooms = grid_points(floor, grid, spacing_m=spacing_m, offset=offset, angle_deg=angle_deg)
    ground = lay_ground(floor, max(CELL_M, fitting_cell(floor, MOST_CELLS)))
    heights = rules.heights_for(use)
    places: list[DesignPlace] = []
    number = 0
    for index, room in enumerate(floor.rooms):
        minimum, rule = rules.places_in(room.area_m2, use)
        spots = spots_of_room(
            ground,
            index,
            xy[rooms == index],
            grid_says=f"{grid} grid of {spacing_m:.3g} m",
            margin_m=margin_m,
            minimum=minimum,
            minimum_says=f"at least one place for each {rule.area_for_a_place_m2:g} m² of "
            f"{room.area_m2:.0f} m²",
            find=find,
            samples=samples,
            samples_says=samples_says,
            seed=seed,
        )
        for position, spot in enumerate(spots):
            number += 1
            places += _at_heights(floor, room, spot, f"{floor.name}-{number:03d}",
                                  heights, first=position == 0)  # fmt: skip
    return tuple(places)


def with_controls(
    places: Sequence[DesignPlace], *, seed: int = 0, rules: DesignRules | None = None
) -> tuple[DesignPlace, ...]:
    """Add what shows whether the readings can be trusted: background, field blanks, duplicates.

    Background at the start comes first and at the end last; each duplicate follows the reading it
    repeats. Which readings are repeated is random, by ``seed``.

    Raises
    ------
    EstimateError
        If an id stands twice.
    """
    rules = rules or load_design_rules()
    if len({one.id for one in places}) < len(places):
        raise EstimateError("an id stands twice in the design", todo="give each place its own")
    readings = [one.id for one in places if one.kind == "reading"]
    count = math.ceil(len(readings) / rules.duplicate.one_in)
    drawn = np.random.default_rng(seed).permutation(len(readings))[:count]
    repeated = {readings[one] for one in drawn}
    out: list[DesignPlace] = []
    for one in places:
        out.append(one)
        if one.id in repeated:
            says = f"duplicate, 1 reading in {rules.duplicate.one_in}"
            out.append(
                replace(one, id=f"{one.id}-D", kind="duplicate", reason=says, duplicate_of=one.id)
            )
    height = next((one.height_m for one in rules.height if one.kind == "reading"), None)
    blank = DesignPlace("", "", "", "", None, None, None, "field blank", "")
    background = {
        moment: replace(
            blank,
            id=f"background-{moment}",
            height_m=height,
            kind="background",
            reason=f"outdoors, upwind of the building, at the {moment} of the day",
        )
        for moment in rules.background.starts
    }
    blanks = [
        replace(
            blank,
            id=f"blank-{number}",
            reason="goes with the laboratory samples, opened and closed, without air drawn",
        )
        for number in range(1, rules.field_blank.count + 1)
    ]
    first = [background["start"]] if "start" in background else []
    last = [background["end"]] if "end" in background else []
    return (*first, *out, *blanks, *last)


def _at_heights(
    floor: Floor, room: Room, spot: Spot, name: str, heights: Sequence[HeightRule], *, first: bool
) -> list[DesignPlace]:
    wanted = [one for one in heights if one.every == "place" or first]
    return [
        DesignPlace(
            f"{name}{chr(ord('a') + letter)}",
            floor.name,
            room.id,
            room.name,
            spot.x,
            spot.y,
            one.height_m,
            one.kind,
            f"{one.name}: {spot.reason}"
            if one.kind == "reading"
            else f"{one.name}, once a room: sweep above floor, cracks, carpet, drains and stored "
            "things, and write down the highest and where",
        )
        for letter, one in enumerate(wanted)
    ]
