"""Rooms of an EnergyPlus model: the floors of each zone, joined storey by storey."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final, TypeVar

import shapely

from hgmap.site.importers.idf_surfaces import Axes, Surface
from hgmap.site.importers.names import one_line_text

Thing = TypeVar("Thing")

ONE_STOREY_M: Final = 1.0
"""Floors whose heights follow within this (m) are one storey; ours, no source."""

SMALLEST_M2: Final = 1e-3


@dataclass(frozen=True, slots=True)
class IdfRoom:
    """A zone's (or a space's) floor on one storey."""

    name: str
    zone: str
    shape: shapely.Geometry
    height_m: float
    label: str


def read_rooms(surfaces: Iterable[Surface], axes: Axes, notes: list[str]) -> list[IdfRoom]:
    """Join each zone's floors on one storey; ceilings where it has no floor."""
    by_zone: dict[str, list[Surface]] = defaultdict(list)
    names: dict[str, str] = {key: one.name for key, one in axes.zones.items()}
    for one in surfaces:
        by_zone[one.zone.casefold()].append(one)
        names.setdefault(one.zone.casefold(), one_line_text(one.zone))
    rooms: list[IdfRoom] = []
    for key in names:
        own = by_zone[key]
        floors = [one for one in own if one.type == "floor"]
        if not floors:
            floors = [one for one in own if one.type == "ceiling"]
            notes.append(
                f"zone {names[key]!r} has no floor: "
                + ("its ceiling is drawn" if floors else "left out")
            )
        bottom = min((float(one.corners[:, 2].min()) for one in own), default=0.0)
        rooms += _rooms_of_zone(names[key], floors, bottom, notes)
    return rooms


def _rooms_of_zone(
    name: str, floors: Iterable[Surface], bottom: float, notes: list[str]
) -> list[IdfRoom]:
    rooms: list[IdfRoom] = []
    by_space: dict[str, list[Surface]] = defaultdict(list)
    for one in floors:
        if one.crosses_itself:
            notes.append(f"{one.source.where}: its outline crosses itself (left out); mend it")
            continue
        by_space[one.space.casefold()].append(one)
    for own in by_space.values():
        called = one_line_text(own[0].space) or name
        label = f"zone {name!r}" if called == name else f"space {called!r}"
        high = [
            (
                one.height_m if one.type == "floor" else bottom,
                one.on_plan,
            )
            for one in own
        ]
        for group in by_height(high, lambda one: one[0]):
            shape = _polygons(shapely.union_all([on_plan for _, on_plan in group]))
            if shape.is_empty:
                notes.append(f"{label}: a floor without area (left out)")
            else:
                rooms.append(IdfRoom(called, name, shape, group[0][0], label))
    return rooms


def by_height(things: Iterable[Thing], height_m: Callable[[Thing], float]) -> list[list[Thing]]:
    """Part things into storeys, from the lowest up.

    Examples
    --------
    >>> by_height([4.0, 0.2, 0.0, 4.5], lambda height: height)
    [[0.0, 0.2], [4.0, 4.5]]
    """
    ordered = sorted(things, key=height_m)
    storeys = [ordered[:1]]
    for below, one in itertools.pairwise(ordered):
        if height_m(one) - height_m(below) < ONE_STOREY_M:
            storeys[-1].append(one)
        else:
            storeys.append([one])
    return storeys


def _polygons(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a polygon, or several: what a union leaves of lines and points is none of a floor."""
    parts = [
        one
        for one in shapely.get_parts(shapely.get_parts(shape))
        if one.geom_type == "Polygon" and one.area >= SMALLEST_M2
    ]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
