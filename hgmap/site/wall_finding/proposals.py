"""Finding walls and door gaps in a placed picture: from its ink to what is proposed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.plan_picture import PlanPicture
from hgmap.site.quality.figures import counted
from hgmap.site.wall_finding.door_gaps import Gap, gaps_at_walls, gaps_in_line, without_leaves
from hgmap.site.wall_finding.faces import pair_faces
from hgmap.site.wall_finding.find_pieces import LEAST_PX, Search, find_pieces, without_islands
from hgmap.site.wall_finding.ink import Ink, find_ink
from hgmap.site.wall_finding.joints import join_ends
from hgmap.site.wall_finding.merge import directions, merge_collinear, snapped, turned_by
from hgmap.site.wall_finding.pieces import Piece
from hgmap.site.wall_finding.proposed import DoorGap, WallProposal, WallProposals, WallSearch
from hgmap.site.wall_finding.series import without_series

LONGEST_PX: Final = 6000
"""A picture with a longer side is searched at half its pixels."""

MOST_WALLS: Final = 3000
"""More are no floor plan."""

OBLIQUE_DEG: Final = 3.0
OBLIQUE_M: Final = 1.0
"""A line that runs as nothing else does is a wall only where it is longer. Ours."""


def propose_walls(
    grey: NDArray[np.uint8], picture: PlanPicture, search: WallSearch | None = None
) -> WallProposals:
    """Propose walls and door gaps from an image.

    Parameters
    ----------
    grey : array of uint8, shape (rows, columns)
        Row 0 at the top.
    picture : PlanPicture
        Where it lies; its scale has to be known.
    search : WallSearch, optional

    Raises
    ------
    PlanError
        If the scale is a guess, the image has no lines that stand out or is no clean drawing, or
        the library that finds lines is not installed.
    """
    search = search or WallSearch()
    _check(search)
    if picture.guessed:
        raise PlanError(
            "nobody has set the scale of the picture: what is a door and what a wall hangs on it",
            where=picture.file, todo="place it by two points first",
        )  # fmt: skip
    ink = find_ink(grey, search.threshold, laser_map=search.laser_map)
    by = -(-max(grey.shape) // LONGEST_PX)
    mask = _smaller(ink.mask, by)
    m_per_px = picture.m_per_px * by
    coarse = search.shortest_m / m_per_px < 2.0
    if coarse:
        raise PlanError(
            f"a pixel is {m_per_px:.2f} m wide: too coarse to tell a wall", where=picture.file,
            todo="scan the drawing with more dots an inch, or say a longer --shortest",
        )  # fmt: skip
    pieces, gaps, notes = _found(mask, m_per_px, ink, search)
    return _in_metres(pieces, gaps, by, picture, grey, ink, notes)


def _check(search: WallSearch) -> None:
    for name, value, most in (
        ("--shortest", search.shortest_m, 20.0), ("--thickest", search.thickest_m, 3.0),
        ("--widest-door", search.widest_door_m, 10.0),
    ):  # fmt: skip
        if not 0.05 <= value <= most:
            raise PlanError(f"{value:g} m", where=name, todo=f"say 0.05 to {most:g} m")
    if not search.narrowest_door_m < search.widest_door_m:
        raise PlanError(
            f"{search.widest_door_m:g} m is no wider than the narrowest door",
            where="--widest-door", todo=f"say more than {search.narrowest_door_m:g}",
        )  # fmt: skip


def _smaller(mask: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    """Return ink at fewer pixels: one of a block is ink where any of it was."""
    if by == 1:
        return mask
    rows, columns = (-(-side // by) * by for side in mask.shape)
    padded = np.zeros((rows, columns), dtype=bool)
    padded[: mask.shape[0], : mask.shape[1]] = mask
    blocks = padded.reshape(rows // by, by, columns // by, by)
    return np.asarray(blocks.any(axis=(1, 3)))


def _found(
    mask: NDArray[np.bool_], m_per_px: float, ink: Ink, search: WallSearch
) -> tuple[list[Piece], list[Gap], list[str]]:
    """Find walls and gaps in pixels."""
    notes = []
    bridged = 5 if ink.laser_map else 1
    island = search.shortest_m if ink.laser_map else search.island_m
    mask, islands = without_islands(mask, island / m_per_px, bridged)
    if islands:
        notes.append(
            f"{counted(islands, 'island')} of ink under {island:g} m (letters, furniture) left out"
        )
    stub = max(search.shortest_m / 2 / m_per_px, float(LEAST_PX))
    pieces = find_pieces(
        mask, Search(stub, 5 if ink.laser_map else 3, search.thickest_m / m_per_px, 0.0)
    )
    least_thick = max(0.06 / m_per_px, 4.0)
    pieces = [
        Piece(one.start, one.end, one.width, one.support, "filled")
        if one.width >= least_thick else one
        for one in pieces
    ]  # fmt: skip
    bridge = (search.narrowest_door_m - 0.1 if ink.laser_map else 0.3) / m_per_px
    side = 1.25 + 0.01 / m_per_px
    pieces = merge_collinear(pieces, bridge, side)
    pieces, steps = without_series(pieces, 0.5 / m_per_px)
    if steps:
        notes.append(f"{counted(steps, 'line')} at equal distances (stairs, hatching) left out")
    pieces = pair_faces(
        pieces, mask, max(0.05 / m_per_px, side), search.thickest_m / m_per_px, stub
    )
    pieces = merge_collinear(pieces, bridge, side)
    ways = directions(pieces)
    pieces = [snapped(one, ways) for one in pieces]
    pieces = [one for one in pieces if _keeps_to(one, ways, m_per_px)]
    doors = (search.narrowest_door_m / m_per_px, search.widest_door_m / m_per_px)
    pieces, leaves = without_leaves(
        pieces, gaps_in_line(pieces, mask, *doors, side), 0.15 / m_per_px + 2.0
    )
    if leaves:
        notes.append(
            f"{counted(leaves, 'line')} at the side of a gap and as long as it (doors) left out"
        )
    joints = join_ends(pieces)
    shortest = search.shortest_m / m_per_px
    kept = [
        n
        for n, (one, met) in enumerate(zip(joints.pieces, joints.met, strict=True))
        if one.length >= shortest or (one.kind != "line" and any(met))
    ]
    short = len(pieces) - len(kept)
    if short:
        notes.append(f"{counted(short, 'line')} under {search.shortest_m:g} m left out")
    joints = type(joints)([joints.pieces[n] for n in kept], [joints.met[n] for n in kept])
    if len(kept) > MOST_WALLS:
        raise PlanError(
            f"{len(kept)} lines: no clean drawing", where="--threshold",
            todo="choose a cleaner picture, or say a longer --shortest",
        )  # fmt: skip
    gaps = gaps_in_line(joints.pieces, mask, *doors, side)
    # beside a wall only the width of one leaf: wider, it is the end of a wall in a room
    narrow = (doors[0], min(doors[1], 1.3 / m_per_px))
    gaps += gaps_at_walls(joints, mask, *narrow, gaps)
    return joints.pieces, gaps, notes


def _keeps_to(piece: Piece, ways: Iterable[float], m_per_px: float) -> bool:
    """Tell whether a piece runs as the building does, or is long enough not to."""
    if piece.kind != "line" or piece.length * m_per_px >= OBLIQUE_M:
        return True
    return any(turned_by(piece.angle, one) <= OBLIQUE_DEG for one in ways)


def _in_metres(
    pieces: list[Piece],
    gaps: list[Gap],
    by: int,
    picture: PlanPicture,
    grey: NDArray[np.uint8],
    ink: Ink,
    notes: list[str],
) -> WallProposals:
    m_per_px = picture.m_per_px * by
    row = max(1.0 / m_per_px, 1.0)
    order = sorted(
        range(len(pieces)),
        key=lambda n: (
            pieces[n].kind == "line",
            (pieces[n].start[1] + pieces[n].end[1]) // (2 * row),
            pieces[n].start[0] + pieces[n].end[0],
        ),
    )
    number = {n: k for k, n in enumerate(order, start=1)}

    def place(at: tuple[float, float]) -> tuple[float, float]:
        x, y = picture.to_metres([(at[0] * by, at[1] * by)])[0]
        return float(x), float(y)

    walls = tuple(
        WallProposal(
            number[n], place(pieces[n].start), place(pieces[n].end),
            None if pieces[n].kind == "line" else pieces[n].width * m_per_px,
            pieces[n].support, pieces[n].kind,
        )
        for n in order
    )  # fmt: skip
    doors = tuple(
        DoorGap(k, place(one.start), place(one.end), (number[one.first], number[one.second]))
        for k, one in enumerate(sorted(gaps, key=lambda one: (one.start[1], one.start[0])), start=1)
    )
    if ink.laser_map:
        notes.insert(
            0, "read as a laser map: grey is ground that nobody has seen; say so if it is a drawing"
        )
    if ink.negative:
        notes.insert(0, "read as bright lines on dark ground")
    thin = sum(one.length_m for one in walls if one.kind == "line")
    whole = sum(one.length_m for one in walls)
    if walls and 0 < thin < 0.4 * whole:
        count = sum(one.kind == "line" for one in walls)
        notes.append(
            f"{counted(count, 'single line')} where most walls are thick: numbered last, and "
            "perhaps windows, furniture or dimension lines"
        )
    ways = tuple(
        (picture.angle_deg - one) % 180.0 for one in directions(pieces)
    )  # y runs down in the picture
    high, wide = grey.shape
    return WallProposals(
        picture, (wide, high), walls, doors, ways, ink.threshold, ink.laser_map, tuple(notes)
    )
