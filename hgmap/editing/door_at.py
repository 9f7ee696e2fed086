"""A door of the usual width on the wall nearest to a place."""

from __future__ import annotations

from typing import Final

import numpy as np

from hgmap.editing.plan_draft import PlanDraft, edges_of
from hgmap.editing.plan_edits import Place, finite_place
from hgmap.errors import PlanError
from hgmap.site.plan import OPENING_REACH_M

DOOR_M: Final = 0.9
"""Width of a door (m). Common practice, no source."""


def door_at(
    draft: PlanDraft, place: Place, width_m: float = DOOR_M, reach_m: float = OPENING_REACH_M
) -> tuple[Place, Place]:
    """Return the jambs of a door with its middle on the wall nearest to a place.

    It is moved along the wall where it would stand over the wall's end.

    Raises
    ------
    PlanError
        If no wall of a room is within reach, or the wall is shorter than the door.
    """
    at = finite_place(place)
    edges = edges_of([room.polygon for room in draft.sound_rooms.values()])
    starts, along = edges[:, :2], edges[:, 2:] - edges[:, :2]
    lengths = np.hypot(*along.T)
    share = np.einsum("ij,ij->i", at - starts, along) / np.where(lengths > 0, lengths, 1.0) ** 2
    feet = starts + along * np.clip(share, 0.0, 1.0)[:, None]
    away = np.hypot(*(feet - at).T)
    if not len(edges) or not away.min() <= reach_m:
        raise PlanError(
            f"no wall of a room is within {reach_m:g} m", todo="click on the wall of a room"
        )
    # of walls as near, the one that holds a door: a click in a corner means the longer one
    near = np.flatnonzero(away <= away.min() + 0.05)
    best = int(max(near, key=lambda n: (lengths[n] >= width_m, -away[n])))
    if lengths[best] < width_m:
        raise PlanError(
            f"the wall is {lengths[best]:.2f} m long, shorter than a door of {width_m:g} m",
            todo="click both jambs instead",
        )
    unit = along[best] / lengths[best]
    middle = np.clip(
        float(unit @ (at - starts[best])), width_m / 2, float(lengths[best]) - width_m / 2
    )
    first, second = (starts[best] + unit * (middle + side * width_m / 2) for side in (-1, 1))
    return (float(first[0]), float(first[1])), (float(second[0]), float(second[1]))
