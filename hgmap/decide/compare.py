"""Two rounds of one floor side by side: what fell, what rose, and where nobody can tell."""

from __future__ import annotations

from hgmap.decide.change_bounds import barred_cells
from hgmap.decide.change_cells import cell_change, grounds_of, without_rooms
from hgmap.decide.change_model import FloorChange, Visit
from hgmap.decide.change_rooms import room_changes, zone_moves
from hgmap.decide.paired import paired_places, paired_statistics
from hgmap.errors import EstimateError


def compare_visits(
    before: Visit, after: Visit, temperature_ratio: float | None = None
) -> FloorChange:
    """Compare one floor between two rounds.

    Parameters
    ----------
    before, after : Visit
        Of one floor, one height band and one level.
    temperature_ratio : float, optional
        What the temperatures alone would make of the air (after over before), for the reasons.

    Raises
    ------
    EstimateError
        If the two are not of one floor, or not on the same cells.
    """
    old, new = before.evidence, after.evidence
    if [one.id for one in old.floor.rooms] != [one.id for one in new.floor.rooms]:
        raise EstimateError("the two rounds are not of one floor")
    cells = no_cells = None
    if before.surface is not None and after.surface is not None:
        cells = cell_change(before.surface, after.surface)
        no_cells = barred_cells(before, after)
    pairs = paired_places(old, new)
    rooms = room_changes(before, after, temperature_ratio, pairs)
    unread = {one.room.id for one in rooms if not (one.before.readings and one.after.readings)}
    barred = {one.room.id for one in rooms if one.by_bounds}
    if cells is not None and after.surface is not None and barred:
        cells = without_rooms(cells, after.surface, new.floor, barred)
    return FloorChange(
        before,
        after,
        cells,
        rooms,
        zone_moves(before, after),
        grounds_of(new.floor, after.surface, cells, unread, barred, no_cells),
        pairs,
        paired_statistics(pairs),
    )
