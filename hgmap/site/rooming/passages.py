"""Gaps between the ends of walls that a person walks through, though no door is drawn there.

Every wall end looks the way its wall would go on. Where it meets the end of another wall, or a
wall across, no farther than a door is wide, a cut is laid; it stays where it parts two rooms. The
ends of the two faces of a thick wall are tied to one another in the same way, so that the strip
between the faces does not open into the rooms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.outlines import GRID_M
from hgmap.site.rooming.arrangement import (
    Arrangement,
    Floats,
    Shapes,
    clear_of,
    holds_circle,
    is_strip,
    lengths_of,
    segments_of,
    shortest_ways,
    widths,
)
from hgmap.site.rooming.gaps import are_free, gap_cuts, refused_gaps
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming
from hgmap.site.rooming.wall_ends import WallEnds, at_columns, wall_ends

AHEAD = 0.97
"""A wall goes on towards a place where the cosine between both directions is at least this."""

SIDE_DOOR_M = 1.3
"""A gap between the end of a wall and a wall across is a door up to this width (m): a wider one may
as well be a room with a screen in it. Common practice, no source."""

BEHIND = 2.0
"""... and where the wall before it is at least so many times as long as the gap: a shorter one is
a nib or a screen. Ours, no source."""

SAME_CORNER_M = 0.02
"""A way across a door ends in a corner within this (m): jambs are not drawn finer."""

GAP, DOOR, JAMB = range(3)
"""The kinds of cuts."""

NOOK_M = 0.3
"""Ground less deep than this (m) is the inside of a wall or a reveal. Ours, no source."""

NOOK_OPEN = 0.75
"""A nook has a gap of this share of its length at most; a niche is open all along. Ours."""

SQUARE = 0.3
"""The ends of two faces lie side by side where the cosine between the way from one to the other
and the faces is at most this."""


@dataclass(frozen=True, slots=True)
class Nook:
    """Ground as narrow as a wall is thick, which a gap joins to a room: its shape, the gap (m)."""

    ground: Polygon
    gap: LineString


@dataclass(frozen=True, slots=True)
class Parted:
    """Ground parted at its passages.

    Attributes
    ----------
    spaces : array of Polygon
        Rooms, strips between the faces of thick walls, ground outdoors.
    openings : tuple of LineString
        Across each gap (m), in the middle of the wall.
    ties : array of shape (n, 2, 2)
        Hairline gaps that were closed, and where the ends of two faces of a wall were tied (m).
    hairlines : array of shape (n, 2, 2)
        All places narrower than a gap (m), whether they part anything or not.
    ends : WallEnds
        Ends of walls.
    cuts : array of shape (n, 2, 2)
        All cuts that were laid: at gaps, doors and the ends of faces (m).
    nooks : tuple of Nook
        Strips of ground that were joined to what they open to.
    ahead : array of shape (n, 2, 2)
        From ends of walls to what is nearest ahead, as far as a door is wide (m).
    no_door : array of shape (n,)
        Which of these were read as no door.
    """

    spaces: Shapes
    openings: tuple[LineString, ...]
    ties: Floats
    hairlines: Floats
    ends: WallEnds
    cuts: Floats
    nooks: tuple[Nook, ...]
    ahead: Floats
    no_door: NDArray[np.bool_]


def passage_cuts(
    ends: WallEnds,
    lines: Shapes,
    solid: shapely.Geometry,
    settings: Rooming,
    shut: Sequence[LineString] = (),
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Return the ways ahead of wall ends, and the cuts that close the ends of thick walls.

    Parameters
    ----------
    ends : WallEnds
        Ends of walls among the lines.
    lines : array of LineString
        Noded, hairline gaps closed (m).
    solid : shapely.Geometry
        Thick walls; the corners of columns are no wall ends.
    settings : Rooming
        Its widths of doors and walls.
    shut : sequence of LineString
        Doors that are lines among them: a wall ends beside its door all the same.

    Returns
    -------
    ahead : array of shape (n, 2, 2)
        From ends of walls to what is nearest ahead (m).
    door : array of shape (n,)
        Which of these may be doors.
    jambs : array of shape (k, 2, 2)
        In metres.
    """
    ahead, door = _doors(ends, segments_of(lines), settings)
    if len(shut):
        ends = _ends(_without_doors(lines, shut), solid, settings)
    return ahead, door, _jambs(ends, settings)


def _ends(lines: Shapes, solid: shapely.Geometry, settings: Rooming) -> WallEnds:
    ends = wall_ends(lines, settings.thickest_wall_m)
    return ends.chosen(~at_columns(ends.places, solid, settings.thickest_wall_m))


def _without_doors(lines: Shapes, shut: Sequence[LineString]) -> Shapes:
    """Return noded lines without those that are doors."""
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    at_door, _ = STRtree(list(shut)).query(middles, predicate="dwithin", distance=GRID_M)
    found: Shapes = np.delete(lines, at_door)
    return found


def _doors(ends: WallEnds, pieces: Floats, settings: Rooming) -> tuple[Floats, NDArray[np.bool_]]:
    """Look from each end along its wall for the nearest end or wall ahead."""
    which, ways = shortest_ways(ends.places, pieces, settings.widest_door_m, SAME_CORNER_M)
    length = lengths_of(ways)
    along = (ways[:, 1] - ways[:, 0]) / length[:, None]
    ahead = np.einsum("ij,ij->i", along, ends.ways[which]) >= AHEAD
    which, ways, length = which[ahead], ways[ahead], length[ahead]
    order = np.lexsort((length, which))
    _, first = np.unique(which[order], return_index=True)
    nearest = order[first]
    which, ways, length = which[nearest], ways[nearest], length[nearest]
    facing = _faces_back(ways, ends)
    beside = (length <= SIDE_DOOR_M) & (ends.behind_m[which] >= BEHIND * length)
    wide = length > settings.gap_m
    return ways[wide], (facing | beside)[wide]


def _faces_back(ways: Floats, ends: WallEnds) -> NDArray[np.bool_]:
    """Tell which ways end in another wall's end that looks back."""
    tree = STRtree(shapely.points(ends.places))
    i, j = tree.query(shapely.points(ways[:, 1]), predicate="dwithin", distance=1e-6)
    along = (ways[i, 0] - ways[i, 1]) / lengths_of(ways[i])[:, None]
    back = np.einsum("ij,ij->i", along, ends.ways[j]) >= AHEAD
    found = np.zeros(len(ways), dtype=bool)
    found[i[back]] = True
    return found


def _jambs(ends: WallEnds, settings: Rooming) -> Floats:
    """Tie the loose ends of two faces that end side by side."""
    places, ways = ends.places[ends.loose], ends.ways[ends.loose]
    tree = STRtree(shapely.points(places))
    i, j = tree.query(
        shapely.points(places), predicate="dwithin", distance=settings.thickest_wall_m
    )
    i, j = i[i < j], j[i < j]
    ties = np.stack([places[i], places[j]], axis=1)
    length = lengths_of(ties)
    along = (ties[:, 1] - ties[:, 0]) / np.maximum(length, 1e-12)[:, None]
    same_way = np.einsum("ij,ij->i", ways[i], ways[j]) >= AHEAD
    beside = (np.abs(np.einsum("ij,ij->i", along, ways[i])) <= SQUARE) & (length > 0)
    found: Floats = ties[same_way & beside]
    return found


def part_ground(
    lines: Shapes,
    solid: shapely.Geometry,
    extent: shapely.Geometry,
    settings: Rooming,
    repairs: Repairs,
    *,
    shut: Sequence[LineString] = (),
    wider: float = 0.0,
) -> Parted:
    """Part the ground between lines, at hairline gaps and at gaps between the ends of walls.

    Hairlines and doors are judged together: a wall with a hairline at its end and a door in its
    middle parts two rooms only when both are closed.

    Parameters
    ----------
    lines : array of LineString
        Noded (m).
    solid : shapely.Geometry
        Thick walls, windows, and doors in walls.
    extent : shapely.Geometry
        The ground that is looked at.
    settings : Rooming
        Its sizes of gaps, rooms, doors and walls.
    repairs : Repairs
        Takes each hairline gap.
    shut : sequence of LineString
        Doors that are lines among ``lines``.
    wider : float
        Both sides of a door hold a circle at least so many times as wide as the door. On free
        floor the ends of shelves and of rows of seats face one another like the ends of walls.
    """
    ends = _ends(lines, solid, settings)
    ahead, door, jambs = passage_cuts(ends, lines, solid, settings, shut)
    doors = ahead[door]
    gaps = gap_cuts(lines, settings.gap_m)
    cuts = np.concatenate([gaps, doors, jambs])
    kind = np.repeat([GAP, DOOR, JAMB], [len(gaps), len(doors), len(jambs)])
    chosen = clear_of(cuts, lines)
    arrangement = Arrangement.of(lines, cuts[chosen])
    faces = arrangement.faces
    free = are_free(faces, solid, extent)
    arrangement = arrangement.between(free)
    kind = kind[chosen][arrangement.number]
    width = widths(faces) if wider else np.zeros(len(faces))
    some = free & holds_circle(faces, settings.gap_m)
    strip, large = is_strip(faces, settings.thickest_wall_m), shapely.area(faces)
    large = large >= settings.smallest_room_m2
    roomy = free & ~strip & large
    nook = free & strip & large & holds_circle(faces, NOOK_M)
    least = wider * lengths_of(arrangement.cuts)
    doorways = _doorways(arrangement, kind == DOOR, free & ~roomy, roomy)
    within = np.zeros(len(faces), dtype=bool)
    within[list(doorways)] = True
    at_wall = within[arrangement.sides].any(axis=1) & (kind == DOOR)

    def merged(one: int, other: int) -> None:
        some[one] |= some[other]
        roomy[one] |= roomy[other]
        width[one] = max(width[one], width[other])

    def keeps(cut: int, one: int, other: int) -> bool:
        if kind[cut] == GAP:
            return bool(some[one] and some[other])
        enough = min(width[one], width[other]) >= least[cut]
        return bool(kind[cut] == JAMB or at_wall[cut] or (roomy[one] and roomy[other] and enough))

    group, kept = arrangement.joined(keeps, merged)
    over = np.zeros(len(kept), dtype=bool)
    closed, which = np.unique(arrangement.number[kept & (kind == GAP)], return_inverse=True)
    refused = refused_gaps(cuts[chosen][closed], repairs)
    over[kept & (kind == GAP)] = refused[which]
    group = arrangement.rejoined(group, over)
    openings: list[LineString] = []
    for face, (one, other) in doorways.items():
        beyond = [group[arrangement.sides[cut]] for cut in (one, other)]
        rooms = [pair[0] if pair[1] == group[face] else pair[1] for pair in beyond]
        if rooms[0] == rooms[1]:
            over[[one, other]] = True
        else:
            openings.append(across(shapely.linestrings(arrangement.cuts[[one, other]])))
            free[face] = False
    kept &= group[arrangement.sides[:, 0]] != group[arrangement.sides[:, 1]]
    openings += shapely.linestrings(arrangement.whole(kept & (kind == DOOR) & ~at_wall)).tolist()
    group = arrangement.rejoined(group, over)
    spaces, first = arrangement.spaces(group)
    nook[list(doorways)] = False
    nooks = _nooks(arrangement, (kind == DOOR) & ~kept, nook, roomy, group)
    ties = np.concatenate(
        [cuts[chosen][closed][~refused], arrangement.whole(kept & (kind == JAMB))]
    )
    hairlines = cuts[chosen[chosen < len(gaps)]]
    return Parted(
        spaces[free[first]],
        tuple(openings),
        ties,
        hairlines,
        ends,
        cuts[chosen],
        nooks,
        ahead,
        ~door,
    )


def _nooks(
    arrangement: Arrangement,
    at_gap: NDArray[np.bool_],
    nook: NDArray[np.bool_],
    roomy: NDArray[np.bool_],
    group: NDArray[np.int64],
) -> tuple[Nook, ...]:
    """Find faces that are nooks, and were joined to a room over a gap."""
    found: dict[int, Nook] = {}
    with_room = np.isin(group, group[roomy])
    for cut in np.nonzero(at_gap)[0].tolist():
        for this, that in (arrangement.sides[cut], arrangement.sides[cut][::-1]):
            if nook[this] and with_room[this] and group[this] == group[that]:
                ground, gap = arrangement.faces[this], LineString(arrangement.cuts[cut])
                box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(ground))
                if gap.length <= NOOK_OPEN * lengths_of(np.stack([box[:2], box[1:3]])).max():
                    found.setdefault(int(this), Nook(ground, gap))
    return tuple(found.values())


def _doorways(
    arrangement: Arrangement,
    is_door: NDArray[np.bool_],
    narrow: NDArray[np.bool_],
    roomy: NDArray[np.bool_],
) -> dict[int, list[int]]:
    """Find faces within walls that two door cuts lead through, from one room to another."""
    found: dict[int, list[int]] = {}
    for cut in np.nonzero(is_door)[0].tolist():
        for this, that in (arrangement.sides[cut], arrangement.sides[cut][::-1]):
            if narrow[this] and roomy[that]:
                found.setdefault(int(this), []).append(cut)
    number = arrangement.number
    return {
        face: cuts
        for face, cuts in found.items()
        if len(cuts) == 2 and number[cuts[0]] != number[cuts[1]]
    }


def across(cuts: Sequence[LineString]) -> LineString:
    """Return the line half-way between the two cuts of a doorway."""
    one, other = (shapely.get_coordinates(cut)[[0, -1]] for cut in cuts)
    if np.hypot(*(one - other).T).sum() > np.hypot(*(one - other[::-1]).T).sum():
        other = other[::-1]
    return LineString((one + other) / 2)
