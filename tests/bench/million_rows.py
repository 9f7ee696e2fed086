"""A million rows of CSV: imported, then read, parsed and judged.

``python -m tests.bench.million_rows [ROWS]``. Prints figures, asserts nothing; the file is invented
and made here. Each step is a process of its own, so that the memory is its own too.
"""

from __future__ import annotations

import multiprocessing
import random
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo_site"
SEED = 20260302


def make_site(folder: Path, rows: int) -> bytes:
    """Make a site with the demo's plans and a log without fault; return a table of readings."""
    from hgmap.site.folder import read_site

    shutil.copytree(DEMO / "plans", folder / "plans")
    head = (DEMO / "site.toml").read_text("utf-8").split("[[rounds]]")[0]
    head = head.replace('sampling_plan = "sampling-plan.csv"\n', "")
    (folder / "site.toml").write_text(head, "utf-8")
    who = "one,gold film,INVENTED-1,2025-09-01"
    (folder / "instruments").mkdir()
    (folder / "instruments/log.csv").write_text(
        "instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result\n"
        f"{who},regeneration,2026-03-02T06:30,2026-03-02T07:15,,,,done\n"
        f"{who},warm-up,2026-03-02T07:15,2026-03-02T07:25,,,,done\n"
        f"{who},zero-air,2026-03-02T07:25,2026-03-02T07:27,0.03 0.01 0 0 0,15,,pass\n"
        f"{who},span,2026-03-02T07:27,2026-03-02T07:30,2.08 1.99 2.01,15,2,pass\n"
        f"{who},zero-air,2026-03-02T20:00,2026-03-02T20:02,0.02 0.01 0 0 0,15,,pass\n"
        f"{who},end-of-day,2026-03-02T20:02,2026-03-02T20:07,2.01 2.02 1.96,15,2,pass\n"
        f"{who},regeneration,2026-03-02T20:07,2026-03-02T20:52,,,,done\n",
        "utf-8",
    )
    rooms = [(floor.name, room) for floor in read_site(DEMO).floors for room in floor.rooms]
    drawn = random.Random(SEED)
    lines = ["id,floor,room,x,y,height,time,Hg (ug/m3),temperature"]
    for k in range(rows):
        floor, room = rooms[k * 7 % len(rooms)]
        spot = room.polygon.representative_point()
        value = drawn.lognormvariate(0, 1)
        cell = "ND" if k % 1000 == 0 else f"<{value:.2g}" if value < 0.2 else f"{value:.3g}"
        second = 27_000 + k * 43_000 // rows
        lines.append(
            f"R{k},{floor},{room.id},{spot.x + drawn.uniform(-0.3, 0.3):.2f},"
            f"{spot.y + drawn.uniform(-0.3, 0.3):.2f},1.5,2026-03-02T{second // 3600:02d}:"
            f"{second // 60 % 60:02d}:{second % 60:02d},{cell},{drawn.uniform(18, 24):.1f}"
        )
    return "\n".join(lines).encode()


def import_it(folder: Path) -> None:
    """Import the table."""
    from hgmap.site.intake.answers import Answers
    from hgmap.site.intake.import_readings import import_readings

    data = (folder / "table.csv").read_bytes()
    start = time.perf_counter()
    done = import_readings(data, folder, Answers(), name="a.csv", round_="first")
    _say(f"{done.rows} rows imported and written", start)


def judge_it(folder: Path) -> None:
    """Read, parse and judge the site's own readings file."""
    from hgmap.site.folder import read_site
    from hgmap.site.level_in_force import level_in_force
    from hgmap.site.trust import judged_site

    start = time.perf_counter()
    site = read_site(folder)
    level, _ = level_in_force(site, None)
    site = judged_site(site, level)
    usable = sum(one.usable for one in site.readings)
    _say(f"{len(site.readings)} rows read, parsed and judged ({usable} usable)", start)


def _say(what: str, start: float) -> None:
    mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what}: {time.perf_counter() - start:.1f} s, {mib:.0f} MiB", flush=True)


def _alone(step: Callable[[Path], None], folder: Path) -> None:
    process = multiprocessing.get_context("spawn").Process(target=step, args=(folder,))
    process.start()
    process.join()


def main() -> None:
    """Make the table, import it, judge it."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        data = make_site(folder, rows)
        (folder / "table.csv").write_bytes(data)
        print(f"{rows} rows, {len(data) / 2**20:.0f} MiB")
        _alone(import_it, folder)
        _alone(judge_it, folder)


if __name__ == "__main__":
    main()
