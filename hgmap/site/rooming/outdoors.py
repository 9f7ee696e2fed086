"""Ground that is not in the building: what reaches the frame, or lies open to the outline."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hgmap.site.rooming.ground import Ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

WALLED_SHARE = 0.5
"""Where walls and windows stand along less of the outline than this share, it stands for the
outer walls itself; ours, no source."""

BARE_SHARE = 0.4
"""A space whose outer edge is bare outline over more than this share is a terrace or a strip
before the walls, not a room; ours, no source. A corner room drawn without both its outer walls has
half of its edge bare, so what is left out is named and can be had back."""

REVEAL_SHARE = 0.15
"""... and one no wider than a wall is thick is the reveal before a window from this share on."""

BARE_M = 0.5
"""Bare edges shorter than this (m) in all are not worth a word."""

POCKET_GAP_M = 4.0
"""Ground outdoors that is reached only through gaps narrower than this (m) may be a room whose wall
is missing, and is named; ours, no source."""

POCKET_M2 = 2.0
POCKET_M = 0.8
"""... where it has this area (m²) and is somewhere so wide (m): the inner corners of a building are
not."""

TOUCH_M = 1e-3
"""An edge within this (m) of the outline is part of it."""


def indoors(
    ground: Ground,
    spaces: Sequence[Polygon],
    solid: shapely.Geometry,
    settings: Rooming,
    repairs: Repairs,
) -> NDArray[np.bool_]:
    """Tell which spaces are in the building.

    Parameters
    ----------
    ground : Ground
        The drawing.
    spaces : sequence of Polygon
        All ground inside its extent that is not solid.
    solid : shapely.Geometry
        Walls, windows and doors.
    settings : Rooming
        Its ``gap_m``.
    repairs : Repairs
        Takes what is left out.
    """
    edge = shapely.boundary(ground.extent)
    rings = np.array([space.exterior for space in spaces], dtype=object)
    inside = np.ones(len(rings), dtype=bool)
    if not len(rings) or ground.walkable is not None:
        return inside
    if ground.outline is None:
        shapely.prepare(edge)
        inside = ~np.asarray(shapely.dwithin(edge, rings, TOUCH_M))
        if not (inside.any() or len(ground.rooms)):  # no plan will come of it
            return inside
        out = shapely.union_all(np.array(spaces, dtype=object)[~inside])
        # a wall with outdoors on both sides is no edge of it; the first of two is the prepared one
        shapely.prepare(out)
        beside = ground.lines[shapely.intersects(out, ground.lines)]
        walls = shapely.union_all(shapely.buffer(beside, TOUCH_M))
        _name_pockets(shapely.difference(out, walls), edge, repairs)
        return inside
    near = shapely.buffer(solid, settings.gap_m)
    beside = (
        shapely.union_all(shapely.buffer(ground.lines, settings.gap_m))
        if len(ground.lines)
        else shapely.Polygon()
    )
    bare = shapely.difference(edge, shapely.union(near, beside))
    if bare.length > (1 - WALLED_SHARE) * edge.length:
        return inside
    along = shapely.length(shapely.intersection(rings, shapely.buffer(bare, TOUCH_M)))
    thin = shapely.is_empty(
        shapely.buffer(np.array(spaces, dtype=object), -settings.thickest_wall_m / 2)
    )
    most = np.where(thin, REVEAL_SHARE, BARE_SHARE)
    share = along / shapely.length(rings)
    for number in np.nonzero(along > BARE_M)[0].tolist():
        space, length = spaces[number], float(along[number])
        if share[number] > most[number]:
            inside[number] = not repairs.wants(
                "outdoors",
                f"{space.area:.2f} m² left outdoors: no wall along {length:.1f} m of its edge, "
                "which is the outline;",
                space,
                float(np.sqrt(space.area)),
            )
        else:
            repairs.doubt(
                "no wall",
                f"a room without a wall along {length:.1f} m of its edge, where the outline runs; "
                "look whether it is indoors,",
                space,
            )
    return inside


def _name_pockets(out: shapely.Geometry, edge: shapely.Geometry, repairs: Repairs) -> None:
    """Say what lies outdoors only because a wall does not close."""
    half = POCKET_GAP_M / 2
    cores = shapely.get_parts(shapely.buffer(out, -half))
    # FRAME_M is wider than half a gap: round the building the ground is reached from the frame
    round_about = cores[shapely.distance(cores, edge) <= half + TOUCH_M]
    reached = shapely.buffer(shapely.union_all(round_about), half + TOUCH_M)
    for pocket in shapely.get_parts(shapely.difference(out, reached)):
        if pocket.area < POCKET_M2 or shapely.is_empty(shapely.buffer(pocket, -POCKET_M / 2)):
            continue
        repairs.doubt(
            "pocket",
            f"{pocket.area:.2f} m² between walls lie open to outdoors, and are read as outdoors; "
            "look whether a wall or a door is missing,",
            pocket,
        )
