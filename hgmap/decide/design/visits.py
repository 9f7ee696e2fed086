"""The design of one floor as it is walked: numbered places, the way, and what they would find."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from hgmap.decide.design.gaps import lay_ground
from hgmap.decide.design.on_plan import (
    RoomChance,
    SurveyGaps,
    chance_of_places,
    floor_chance,
    survey_gaps,
)
from hgmap.decide.design.places import CELL_M, MOST_CELLS, DesignPlace
from hgmap.decide.design.route import plan_route
from hgmap.decide.design.spots import ToFind
from hgmap.errors import EstimateError
from hgmap.field.paths import Walks
from hgmap.field.raster import fitting_cell
from hgmap.shows_itself import OnAPlan
from hgmap.site.building import Floor

Floats = NDArray[np.float64]

MOST_LEGS: Final = 400
"""Places above which the way between them is not drawn: it would cover the plan."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One reading or sample, and when its turn is.

    Attributes
    ----------
    number : int
        Of its place on the floor, from 1 in the order of the walk; all heights of a place share it.
    place : DesignPlace
    """

    number: int
    place: DesignPlace


@dataclass(frozen=True)
class FloorWalk(OnAPlan):
    """Places of a floor in the order of the walk.

    Attributes
    ----------
    floor : Floor
    visits : tuple of Visit
    route_m : float
        Length of the walk (m), but for what cannot be walked to.
    way : tuple of (int, LineString)
        The walk to each place, by its number, from the one before or from the start (m); none to
        a place on the spot or without a way, and none at all where there are too many.
    unreachable : tuple of str
        Names of rooms with places that cannot be walked to.
    source_room : str
        Name of the room that is kept for the end; empty: none.
    """

    floor: Floor
    visits: tuple[Visit, ...]
    route_m: float
    way: tuple[tuple[int, shapely.LineString], ...]
    unreachable: tuple[str, ...]
    source_room: str

    @property
    def places(self) -> int:
        """The highest number of a place to stand at."""
        return max((one.number for one in self.visits), default=0)


@dataclass(frozen=True)
class FloorDesign(FloorWalk):
    """A floor's design in the order of the walk.

    Attributes
    ----------
    chances : tuple of RoomChance
        For the hot spot asked for; empty where none was.
    gaps : SurveyGaps
        What size of hot spot the design finds with 95 %.
    """

    chances: tuple[RoomChance, ...]
    gaps: SurveyGaps

    @property
    def probability(self) -> float | None:
        """Chance to find the hot spot asked for anywhere on the floor; None where none was."""
        return floor_chance(self.chances) if self.chances else None


def design_visits(
    floor: Floor,
    places: Sequence[DesignPlace],
    *,
    find: ToFind | None = None,
    start: ArrayLike | None = None,
    source_room: int | None = None,
) -> FloorDesign:
    """Put the places of one floor in the order of a walk, and say what they would find.

    Parameters
    ----------
    floor : Floor
    places : sequence of DesignPlace
        Those of this floor, as :func:`hgmap.decide.design.places.design_building` has them.
    find : ToFind, optional
    start : array_like of shape (2,), optional
        Where the walk begins (m).
    source_room : int, optional
        Position in ``floor.rooms`` of the room that comes last.

    Raises
    ------
    EstimateError
        If a place is of another floor or has no coordinates, the start is not on the floor, or
        there are too many places for one walk.
    """
    walk = walk_floor(floor, places, start=start, source_room=source_room)
    xy, rooms = _where(floor, [one.place for one in walk.visits])
    new = _new_spots(xy, rooms)
    ground = lay_ground(floor, max(CELL_M, fitting_cell(floor, MOST_CELLS)))
    chances = (
        ()
        if find is None
        else chance_of_places(ground, xy[new], find.radius_m, room=rooms[new], aspect=find.aspect)
    )
    gaps = survey_gaps(ground, xy[new], room=rooms[new])
    return FloorDesign(
        floor, walk.visits, walk.route_m, walk.way, walk.unreachable, walk.source_room, chances,
        gaps,
    )  # fmt: skip


def walk_floor(
    floor: Floor,
    places: Sequence[DesignPlace],
    *,
    start: ArrayLike | None = None,
    source_room: int | None = None,
    numbers: Sequence[int] | None = None,
) -> FloorWalk:
    """Put the places of one floor in the order of a walk.

    The arguments are those of :func:`design_visits`; ``numbers`` are those of the places, which
    else are numbered as they are walked to.
    """
    xy, rooms = _where(floor, places)
    walks = Walks.over(floor)
    route = plan_route(walks, xy, room=rooms, start=start, source_room=source_room)
    xy, rooms = xy[route.order], rooms[route.order]
    new = _new_spots(xy, rooms)
    given = np.cumsum(new) if numbers is None else np.asarray(numbers)[route.order]
    number = given.astype(np.int64)
    visits = [
        Visit(int(turn), places[index]) for turn, index in zip(number, route.order, strict=True)
    ]
    return FloorWalk(
        floor,
        tuple(visits),
        route.length_m,
        _way(walks, xy[new], rooms[new], number[new], start),
        route.unreachable,
        route.source_room,
    )


def _where(floor: Floor, places: Sequence[DesignPlace]) -> tuple[Floats, NDArray[np.int64]]:
    """Return places (m) and the positions of their rooms."""
    position = {room.id: index for index, room in enumerate(floor.rooms)}
    if any(one.floor != floor.name or one.x is None or one.room not in position for one in places):
        raise EstimateError(f"a place is not of floor {floor.name!r}", todo="give its own only")
    xy = np.array([(one.x, one.y) for one in places], dtype=np.float64).reshape(-1, 2)
    return xy, np.array([position[one.room] for one in places], dtype=np.int64)


def _new_spots(xy: Floats, rooms: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which places are not where the one before is."""
    new = np.ones(len(xy), dtype=bool)
    new[1:] = (xy[1:] != xy[:-1]).any(axis=1) | (rooms[1:] != rooms[:-1])
    return new


def _way(
    walks: Walks,
    xy: Floats,
    rooms: NDArray[np.int64],
    number: NDArray[np.int64],
    start: ArrayLike | None,
) -> tuple[tuple[int, shapely.LineString], ...]:
    """Return the walks from place to place that exist."""
    if len(xy) > MOST_LEGS:
        return ()
    stops: list[tuple[Floats, int | None]] = [
        (at, int(room)) for at, room in zip(xy, rooms, strict=True)
    ]
    if start is not None:
        stops.insert(0, (np.asarray(start, dtype=np.float64), None))
    legs = []
    to = number if start is not None else number[1:]
    for turn, ((a, room_a), (b, room_b)) in zip(to, pairwise(stops), strict=True):
        found = walks.route(a, room_a, b, room_b)
        if found is not None and found.length_m > 0:
            legs.append((int(turn), shapely.LineString(found.vertices)))
    return tuple(legs)
