"""Time what a hand on a plan waits for: ``python -m tests.bench.plan_editing 300``.

The argument is the number of rooms of the invented plan (6 m by 5 m, walls of 0.2 m, doors).
"""

from __future__ import annotations

import json
import sys

from hgmap.editing.plan_areas import merge_rooms, split_room
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_edits import move_corner
from hgmap.editing.snapping import snap
from hgmap.editing.soundness import soundness
from tests.bench.many_rooms import feature
from tests.bench.timing import RUNS, time_in_turn

ACROSS = 20


def plan(rooms: int) -> bytes:
    """Return an invented plan."""
    features = []
    for n in range(rooms):
        west, south = 6.2 * (n % ACROSS), 5.2 * (n // ACROSS)
        east, north = west + 6, south + 5
        ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
        features.append(feature("room", f"r{n}", "Polygon", [ring]))
        door = [[east + 0.1, south + 2], [east + 0.1, south + 3]]
        features.append(feature("opening", f"d{n}", "LineString", door))
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def snaps(draft: PlanDraft) -> None:
    """Ask for a hundred places."""
    for n in range(100):
        snap((n * 0.37, n * 0.41), draft, 0.3, [(1, 2), (3, 4), (9, 9)])


def main() -> None:
    """Print the median times."""
    rooms = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    data = plan(rooms)
    draft = read_plan_draft(data)
    names = ("read", "100 snaps", "move a corner", "split", "merge", "soundness", "write")
    times, _ = time_in_turn(
        RUNS,
        lambda: read_plan_draft(data),
        lambda: snaps(draft),
        lambda: move_corner(draft, "room r5", 0, (31.05, 0.02)),
        lambda: split_room(draft, "room r5", [(31, 2), (36, 2)]),
        lambda: merge_rooms(draft, ["room r5", "room r6"]),
        lambda: soundness(read_plan_draft(data)),
        lambda: draft.edited().to_bytes(),
    )
    print(f"{rooms} rooms, median of {RUNS} runs")
    for name, seconds in zip(names, times, strict=True):
        print(f"{name:15} {seconds * 1e3:8.1f} ms")


if __name__ == "__main__":
    main()
