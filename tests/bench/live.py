"""How long a person waits for a floor while a reading is dragged: python -m tests.bench.live.

Times are medians over moves of one reading of the demo's ground floor; the largest gap is that of
a thread that ticks every 5 ms beside the work, as the window's event loop would.
"""

from __future__ import annotations

import resource
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import median
from typing import TypeVar

import numpy as np

from hgmap.batch_choice import choose_floors, choose_round
from hgmap.decide.evidence import choose_band
from hgmap.level_cases import first_level
from hgmap.live.floor import LiveCase, LiveFloor
from hgmap.site.folder import read_site
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.trust import judged_site

DEMO = Path(__file__).parents[2] / "demo_site"
MOVES = 6
TICK_S = 0.005

Made = TypeVar("Made")


def case_of_the_demo() -> LiveCase:
    """Return the demo's ground floor as it is mapped by default."""
    as_read = read_site(DEMO)
    level, _, purpose = first_level(as_read, None)
    site = judged_site(as_read, level)
    round_, _ = choose_round(site, None)
    band, _ = choose_band(site, round_.name, None)
    floors, _ = choose_floors(site, ())
    unfit = not_fit(quality_report(site, level, round_.name))
    return LiveCase(site, floors[0], round_, band, level, unfit=unfit, purpose=purpose)


def moved(case: LiveCase, seed: int) -> LiveCase:
    """Return the case with one of its readings moved within its room."""
    random = np.random.default_rng(seed)
    rooms = {room.id: room.polygon for room in case.floor.rooms}
    readings = list(case.site.readings)
    own = [
        k for k, one in enumerate(readings)
        if one.round == case.round.name and one.floor == case.floor.name and one.room in rooms
        and one.x is not None and one.concentration
    ]  # fmt: skip
    k = int(random.choice(own))
    west, south, east, north = rooms[readings[k].room].buffer(-0.3).bounds
    x, y = float(random.uniform(west, east)), float(random.uniform(south, north))
    readings[k] = readings[k]._replace(x=x, y=y)
    return replace(case, site=replace(case.site, readings=tuple(readings)))


def timed(work: Callable[[], Made]) -> tuple[Made, float, float, float]:
    """Return what work makes, its seconds, those of its thread's processor, the longest gap (s)."""
    found: list[tuple[Made, float]] = []

    def run() -> None:
        before = time.thread_time()
        made = work()
        found.append((made, time.thread_time() - before))

    thread = threading.Thread(target=run)
    start = last = time.perf_counter()
    longest = 0.0
    thread.start()
    while thread.is_alive():
        time.sleep(TICK_S)
        now = time.perf_counter()
        longest, last = max(longest, now - last), now
    made, used = found[0]
    return made, last - start, used, longest


def memory_mb() -> tuple[float, float]:
    """Return the memory that the process holds now, and the most that it held (MB)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    return pages * resource.getpagesize() / 1e6, most


def main() -> None:
    """Print the table."""
    case, floor = case_of_the_demo(), LiveFloor()
    print(f"before: {memory_mb()[0]:.0f} MB")
    made, wall, used, gap = timed(lambda: floor.map(case))
    print(f"cold map        {wall * 1e3:5.0f} ms ({used * 1e3:5.0f} used), gap {gap * 1e3:.0f} ms")
    for number, (name, work) in enumerate((("draft", floor.draft), ("map after move", floor.map))):
        cases = [moved(case, seed + MOVES * number) for seed in range(MOVES)]
        rows = [timed(partial(work, one)) for one in cases]
        walls, useds, gaps = zip(*(row[1:] for row in rows), strict=True)
        print(
            f"{name:15} {median(walls) * 1e3:5.0f} ms ({median(useds) * 1e3:5.0f} used), "
            f"gap {max(gaps) * 1e3:.0f} ms"
        )
    print(f"kept: {memory_mb()[0]:.0f} MB, most {memory_mb()[1]:.0f} MB")
    _, wall, used, gap = timed(lambda: floor.finish(made))
    print(f"finish          {wall * 1e3:5.0f} ms ({used * 1e3:5.0f} used), gap {gap * 1e3:.0f} ms")
    print(f"after: {memory_mb()[0]:.0f} MB, most {memory_mb()[1]:.0f} MB")


if __name__ == "__main__":
    main()
