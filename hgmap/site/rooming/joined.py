"""Rooms that were read as one without a repair: over a gap wider than a door, or with a nook.

Two rooms joined by mistake mix their air and their readings; a room parted by mistake hides one
half from the other. So nothing is parted here, and each place is named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import Polygon, STRtree

from hgmap.site.rooming.arrangement import (
    Arrangement,
    Floats,
    Shapes,
    clear_of,
    holds_circle,
    lengths_of,
    noded,
    widths,
)
from hgmap.site.rooming.passages import AHEAD, Nook, Parted
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming
from hgmap.site.rooming.wall_ends import WallEnds

WIDEST_M = 6.0
"""Ends of walls farther apart (m) are those of one hall. Ours, no source."""

ALCOVE = 0.5
"""Ground behind a gap is an alcove where it is less than this share of the gap's length squared:
open all along, and half as deep. Ours, no source."""

ROOMY_M = 0.9
"""On both sides of a gap there is a room where a circle so wide (m) fits: the narrowest corridor is
no narrower. Common practice, no source."""


def say_wide_gaps(
    rooms: Sequence[Polygon],
    lines: Shapes,
    parted: Parted,
    settings: Rooming,
    repairs: Repairs,
    *,
    wider: float,
) -> None:
    """Name the gaps between facing ends of walls, wider than a door, that keep two rooms one.

    Parameters
    ----------
    rooms : sequence of Polygon
        As found (m).
    lines : array of LineString
        Noded: all that stops air (m).
    parted : Parted
        The ground that they come from.
    settings : Rooming
        Its ``widest_door_m``, ``thickest_wall_m``.
    repairs : Repairs
        Takes each place.
    wider : float
        Both sides hold a circle at least so many times as wide as the gap.
    """
    if not rooms:
        return
    most = settings.widest_door_m
    for cut, areas in _wide_gaps(rooms, lines, parted, settings, wider):
        line = shapely.linestrings(cut)
        long = f"{line.length:.2f}" if round(line.length, 2) > most else f"{line.length:.4f}"
        one, other = sorted(areas)
        repairs.doubt(
            "wide gap",
            f"two walls face one another over {long} m, wider than a door ({most:g} m), so that "
            f"{one:.1f} m² and {other:.1f} m² are one room; look whether they are two,",
            line,
        )


def say_nooks(
    rooms: Sequence[Polygon], nooks: Sequence[Nook], settings: Rooming, repairs: Repairs
) -> None:
    """Name the nooks that were read as part of a room.

    Parameters
    ----------
    rooms : sequence of Polygon
        As found (m).
    nooks : sequence of Nook
        Strips of ground that were joined to what they open to.
    settings : Rooming
        Its ``thickest_wall_m``.
    repairs : Repairs
        Takes each place.
    """
    tree = STRtree(list(rooms))
    for nook in nooks:
        if len(tree.query(nook.ground.representative_point(), predicate="within")):
            repairs.doubt(
                "nook",
                f"{nook.ground.area:.2f} m² behind a gap of {nook.gap.length:.2f} m, no deeper "
                f"than a wall may be thick ({settings.thickest_wall_m:.2g} m), are read as part of "
                "the room there; look whether they are a cupboard or a room of their own,",
                nook.ground,
            )


def facing_ends(ends: WallEnds, least_m: float, most_m: float, aside_m: float) -> Floats:
    """Return the ways between ends of walls that look at one another, shape (n, 2, 2) (m).

    Parameters
    ----------
    ends : WallEnds
        Ends of walls.
    least_m, most_m : float
        The ways are longer than the one, and no longer than the other (m).
    aside_m : float
        So far (m) may one wall lie aside of the line of the other.

    Examples
    --------
    >>> ends = WallEnds(np.array([(0, 0), (3, 0.1), (0, 9)]), np.array([(1, 0), (-1, 0), (1, 0)]),
    ...                 np.ones(3), np.ones(3, bool))
    >>> facing_ends(ends, 2.5, 6.0, 0.3).tolist()
    [[[0.0, 0.0], [3.0, 0.1]]]
    """
    seen = shapely.linestrings(np.stack([ends.places, ends.places + most_m * ends.ways], axis=1))
    tree = STRtree(shapely.points(ends.places))
    i, j = tree.query(seen, predicate="dwithin", distance=aside_m)
    way = ends.places[j] - ends.places[i]
    length = np.hypot(*way.T)
    some = (length > 0) & (length <= most_m)
    i, j, way, length = i[some], j[some], way[some], length[some]
    ahead = np.einsum("ij,ij->i", way, ends.ways[i]) >= AHEAD * length
    back = np.einsum("ij,ij->i", -way, ends.ways[j]) >= AHEAD * length
    aside = np.abs(way[:, 0] * ends.ways[i, 1] - way[:, 1] * ends.ways[i, 0]) <= aside_m
    some = ahead & back & aside
    i, j, length = i[some], j[some], length[some]
    order = np.lexsort((length, i))
    _, first = np.unique(i[order], return_index=True)
    near = order[first]  # beyond the nearest there is a wall
    near = near[length[near] > least_m]
    pairs = np.unique(np.sort(np.column_stack([i[near], j[near]]), axis=1), axis=0)
    found: Floats = ends.places[pairs].astype(np.float64)
    return found


def _wide_gaps(
    rooms: Sequence[Polygon],
    lines: Shapes,
    parted: Parted,
    settings: Rooming,
    wider: float,
) -> Iterator[tuple[Floats, tuple[float, float]]]:
    """Go through the gaps that part a room in two, with the areas (m²) at both sides."""
    ends, cuts = parted.ends, parted.cuts
    wide = facing_ends(ends, settings.widest_door_m, WIDEST_M, settings.thickest_wall_m)
    if not len(wide):
        return
    wide = wide[clear_of(wide, lines)]
    gap, room = STRtree(list(rooms)).query(shapely.points(wide.mean(axis=1)), predicate="within")
    if not len(gap):
        return
    line_tree, cut_tree = STRtree(lines), STRtree(shapely.linestrings(cuts))
    for number in np.unique(room).tolist():
        inside = rooms[number]
        near = np.sort(line_tree.query(inside, predicate="intersects"))
        narrow = np.sort(cut_tree.query(inside, predicate="intersects"))
        yield from _parting(inside, lines[near], cuts[narrow], wide[gap[room == number]], wider)


def _parting(
    room: Polygon, lines: Shapes, narrow: Floats, wide: Floats, wider: float
) -> Iterator[tuple[Floats, tuple[float, float]]]:
    """Close all gaps of a room, and open them again from the widest one on, where nothing is lost.

    A gap is told where there is a room at both sides of it.
    """
    edges = noded(np.array([*lines, room.boundary], dtype=object))
    cuts = np.concatenate([wide, narrow])
    chosen = clear_of(cuts, edges)
    arrangement = Arrangement.of(edges, cuts[chosen])
    faces = arrangement.faces
    free = np.asarray(shapely.within(shapely.point_on_surface(faces), room))
    arrangement = arrangement.between(free)
    length = lengths_of(arrangement.cuts)
    area = shapely.area(faces)
    roomy = free & holds_circle(faces, ROOMY_M)
    width = widths(faces) if wider else np.full(len(faces), np.inf)

    def merged(one: int, other: int) -> None:
        area[one] += area[other]
        roomy[one] |= roomy[other]
        width[one] = max(width[one], width[other])

    def keeps(cut: int, one: int, other: int) -> bool:
        enough = min(width[one], width[other]) >= wider * length[cut]
        return bool(roomy[one] and roomy[other] and enough)

    group, kept = arrangement.joined(keeps, merged)
    is_wide = chosen[arrangement.number] < len(wide)
    told: set[int] = set()
    for cut in np.nonzero(kept & is_wide)[0].tolist():
        if arrangement.number[cut] not in told:
            told.add(int(arrangement.number[cut]))
            one, other = area[group[arrangement.sides[cut]]].tolist()
            if min(one, other) >= ALCOVE * length[cut] ** 2:
                yield arrangement.cuts[cut], (one, other)
