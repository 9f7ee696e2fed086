"""Small invented floors for the tests of the wall-aware kernel. Lengths in metres."""

from __future__ import annotations

import numpy as np
from shapely import LineString, box

from hgmap.site.building import Floor, Opening, OpeningState, Room

STATES: tuple[OpeningState, ...] = ("open", "closed", "sealed")


def pair(
    *,
    gap_m: float = 0.0,
    door: tuple[float, float] | None = (1.0, 1.9),
    state: OpeningState = "open",
    turned: bool = False,
) -> Floor:
    """Two rooms of 3 by 4, a wall of ``gap_m`` between them, and a door from south to north.

    Turned: x and y swapped, so that the rooms lie one above the other.
    """
    east = 3.0 + gap_m

    def room(west: float, end: float) -> tuple[float, float, float, float]:
        return (0.0, west, 4.0, end) if turned else (west, 0.0, end, 4.0)

    openings: tuple[Opening, ...] = ()
    if door is not None:
        ends = [(3.0 + gap_m / 2, at) for at in door]
        line = LineString([(y, x) for x, y in ends] if turned else ends)
        openings = (Opening("d", line, state, ("a", "b")),)
    return Floor(
        "g",
        "Ground",
        (Room("a", "A", box(*room(0.0, 3.0))), Room("b", "B", box(*room(east, east + 3.0)))),
        openings=openings,
    )


def scattered(seed: int) -> Floor:
    """A block of rooms, 1 to 3 by 1 to 2, with thin or thick walls, doors and half a partition.

    The same seed gives the same floor.
    """
    random = np.random.default_rng(seed)
    across, along = int(random.integers(1, 4)), int(random.integers(1, 3))
    gap = float(random.choice([0.0, 0.15, 0.3]))
    x = np.concatenate([[0.0], np.cumsum(random.uniform(1.2, 3.0, across))]).round(2)
    y = np.concatenate([[0.0], np.cumsum(random.uniform(1.2, 2.6, along))]).round(2)
    rooms, openings = [], []
    for i in range(across):
        for j in range(along):
            shape = box(x[i] + gap / 2, y[j] + gap / 2, x[i + 1] - gap / 2, y[j + 1] - gap / 2)
            rooms.append(Room(f"{i}{j}", f"Room {i}{j}", shape))
            for di, dj in ((1, 0), (0, 1)):
                if i + di >= across or j + dj >= along or random.random() < 0.25:
                    continue
                low, high = (y[j], y[j + 1]) if di else (x[i], x[i + 1])
                start = random.uniform(low + 0.2, high - 0.9)
                ends = [(x[i + 1], start), (x[i + 1], start + 0.7)]
                if dj:
                    ends = [(start, y[j + 1]), (start + 0.7, y[j + 1])]
                state = STATES[int(random.choice(3, p=[0.6, 0.3, 0.1]))]
                joined = (f"{i}{j}", f"{i + di}{j + dj}")
                openings.append(Opening(f"d{len(openings)}", LineString(ends), state, joined))
    middle = float(x[0] + x[1]) / 2
    walls = (LineString([(middle, 0.0), (middle, float(y[1]) / 2)]),)
    return Floor("g", "Ground", tuple(rooms), walls if random.random() < 0.5 else (),
                 tuple(openings))  # fmt: skip
