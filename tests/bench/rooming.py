"""Time rooms from walls: ``python -m tests.bench.rooming [ROOMS_A_SIDE]``; asserts nothing.

Every room has a door and a wall that ends 2 cm short. Target: 1e5 lines (160 rooms a side) within
about 15 s of process time and 1 GiB.
"""

from __future__ import annotations

import resource
import sys
import time

import shapely

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming import Rooming, rooms_from_walls

WIDE_M, DEEP_M, DOOR_M, SHORT_M = 4.0, 3.0, 0.9, 0.02


def floor_of(side: int) -> list[Part]:
    """Draw ``side`` times ``side`` rooms with single lines."""
    lines: list[list[tuple[float, float]]] = []
    for x, y in ((WIDE_M * i, DEEP_M * j) for i in range(side) for j in range(side)):
        lines += [
            [(x, y), (x + 1, y)],
            [(x + 1 + DOOR_M, y), (x + WIDE_M, y)],
            [(x, y + SHORT_M), (x, y + DEEP_M / 2)],
            [(x, y + DEEP_M / 2), (x, y + DEEP_M)],
        ]
    east, north = WIDE_M * side, DEEP_M * side
    lines += [[(0, north), (east, north)], [(east, 0), (east, north)]]
    return [Part("wall", shapely.LineString(one), f"LINE {n}") for n, one in enumerate(lines)]


def main() -> None:
    """Print time, memory and what was found."""
    for side in [int(one) for one in sys.argv[1:]] or [10, 40, 160]:
        parts = floor_of(side)
        start = time.process_time()
        plan = rooms_from_walls(parts, Rooming())
        took = time.process_time() - start
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
        print(
            f"{len(parts)} lines: {len(plan.rooms)} rooms, {len(plan.openings)} openings, "
            f"{len(plan.repairs)} repairs in {took:.1f} s of process time, {peak:.2f} GiB"
        )


if __name__ == "__main__":
    main()
