"""Several buildings on one map: the ground each covers, and where two cover the same."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import combinations
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.site.building import Floor
from hgmap.site.model import Problem

OVERLAP_M2: Final = 0.5
"""Two buildings that share less ground touch: plans are not drawn any finer. Ours, no source."""
FAR_APART_M: Final = 20_000.0
"""Buildings of one survey do not lie so far apart. Ours, no source."""


def footprints(floors: Iterable[Floor]) -> dict[str, BaseGeometry]:
    """Return the ground of each building on the map (m), by its name; all its floors together.

    Floors that lie nowhere on the map are left out; those that name no building are one, called by
    the empty name.
    """
    found: dict[str, list[BaseGeometry]] = {}
    for floor in floors:
        if floor.map_frame is not None:
            found.setdefault(floor.building, []).append(floor.map_frame.place(floor.outline))
    return {name: shapely.union_all(shapes) for name, shapes in found.items()}


def called(building: str) -> str:
    """Name a building in a sentence.

    Examples
    --------
    >>> called("Annex"), called("")
    ("building 'Annex'", 'the building without a name')
    """
    return f"building {building!r}" if building else "the building without a name"


def problems_of_buildings(floors: Iterable[Floor]) -> Iterator[Problem]:
    """Go through pairs of buildings that overlap on the map, or lie far apart."""
    for (one, ground), (other, there) in combinations(footprints(floors).items(), 2):
        pair = f"{called(one)} and {called(other)}"
        shared = ground.intersection(there).area
        if shared > OVERLAP_M2:
            yield Problem(
                "warning", "site.toml, [[buildings]]",
                f"{pair} share {shared:.1f} m² of the map: one of them lies at a wrong place",
                "check origin_x_m, origin_y_m and angle_deg of both",
            )  # fmt: skip
        elif (apart := ground.distance(there)) > FAR_APART_M:
            yield Problem(
                "warning", "site.toml, [[buildings]]",
                f"{pair} lie {apart / 1000.0:.0f} km apart on the map",
                "check origin_x_m and origin_y_m of both",
            )  # fmt: skip
