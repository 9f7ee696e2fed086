"""Time a batch on generated sites: ``python -m tests.bench.batch [FLOORS] [SITES]``; 200 and 4.

Prints wall time with one and with two floors at a time, and the peak memory of every process. The
target: 200 floors on two cores within 6 minutes and 2 GiB per process, N = 2 at least 1.7 times as
fast as N = 1. Says whether the results are the same; 1 where they are not or a run failed.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from tests.bench.many_rooms import ROOM_M, feature

ROOMS_ON_A_SIDE = 4
READINGS_IN_A_ROOM = 2


def write_floor(random: np.random.Generator, name: str) -> tuple[str, list[str]]:
    """Return the plan and the readings of an invented floor: 16 rooms with doors all round."""
    features, rows, side = [], [], ROOMS_ON_A_SIDE
    source = random.uniform(0, side * ROOM_M, 2)
    for i in range(side):
        for j in range(side):
            west, south, room = ROOM_M * i, ROOM_M * j, f"r{i}-{j}"
            east, north = west + ROOM_M, south + ROOM_M
            ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
            features.append(feature("room", room, "Polygon", [ring]))
            if i + 1 < side:
                line = [[east, south + 1], [east, south + 2]]
                features.append(feature("opening", f"e{room}", "LineString", line))
            if j + 1 < side:
                line = [[west + 1, north], [west + 2, north]]
                features.append(feature("opening", f"n{room}", "LineString", line))
            for k in range(READINGS_IN_A_ROOM):
                x, y = np.add(random.uniform(0.4, ROOM_M - 0.4, 2), (west, south))
                far = np.hypot(x - source[0], y - source[1])
                value = 8 * np.exp(-far / 4 + 0.2 * random.normal())
                rows.append(
                    f"{name}-{room}-{k},{name},{room},{x:.2f},{y:.2f},1.5,{value:.4g},ug/m3"
                )
    return json.dumps({"type": "FeatureCollection", "features": features}), rows


def write_sites(root: Path, floors: int, sites: int) -> list[Path]:
    """Write invented sites with so many floors in all."""
    random, made = np.random.default_rng(0), []
    for number, names in enumerate(np.array_split([f"floor{k}" for k in range(floors)], sites)):
        site = root / f"site{number}"
        site.mkdir()
        rows = ["id,floor,room,x,y,height,value,unit"]
        text = (
            f'schema_version = 1\nname = "Site {number} (invented)"\ninvented = true\n'
            'use = "commercial"\n[level]\nname = "atsdr-commercial-occupancy"\n'
            '[[rounds]]\nname = "first"\ndate = 2026-03-01\nreadings = ["readings.csv"]\n'
        )
        for name in names:
            plan, more = write_floor(random, str(name))
            (site / f"{name}.geojson").write_text(plan, "utf-8")
            rows += more
            text += f'[[floors]]\nname = "{name}"\nplan = "{name}.geojson"\n'
        (site / "readings.csv").write_text("\n".join(rows) + "\n", "utf-8")
        (site / "site.toml").write_text(text, "utf-8")
        made.append(site)
    return made


def peaks_of(pid: int, found: dict[int, float]) -> None:
    """Note the peak memory (MiB) of a process and of those that it started."""
    try:
        children = Path(f"/proc/{pid}/task").glob("*/children")
        status = Path(f"/proc/{pid}/status").read_text("utf-8")
        pids = [int(one) for path in children for one in path.read_text("ascii").split()]
    except OSError:
        return  # it has ended
    peak = next((one.split()[1] for one in status.splitlines() if one.startswith("VmHWM")), "0")
    found[pid] = max(found.get(pid, 0.0), int(peak) / 1024)
    for child in pids:
        peaks_of(child, found)


def timed(sites: list[Path], out: Path, jobs: int) -> tuple[float, float, list[float], int]:
    """Return wall and process time (s), peak memory of each process (MiB), the exit status."""
    start, peaks = time.perf_counter(), dict[int, float]()
    words = ["map", *map(str, sites), "--out", str(out), "--jobs", str(jobs)]
    with subprocess.Popen(
        [sys.executable, "-m", "hgmap", *words],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    ) as run:  # fmt: skip
        ended = threading.Event()

        def look() -> None:
            while not ended.wait(0.2):
                peaks_of(run.pid, peaks)

        looking = threading.Thread(target=look)
        looking.start()
        _, status, usage = os.wait4(run.pid, 0)  # with what its workers used
        run.returncode = os.waitstatus_to_exitcode(status)
        ended.set()
        looking.join()
    wall, process = time.perf_counter() - start, usage.ru_utime + usage.ru_stime
    return wall, process, sorted(peaks.values(), reverse=True), run.returncode


def digests(folder: Path) -> dict[str, str]:
    """Return a digest of every result; the GeoPackage has its own date in it."""
    return {
        str(one.relative_to(folder)): hashlib.sha256(one.read_bytes()).hexdigest()
        for one in sorted(folder.rglob("*"))
        if one.is_file() and one.suffix != ".gpkg" and one.name != "map-made-from.json"
    }


def main(floors: int, sites: int) -> int:
    """Print the figures; 1 where a run failed or two runs differ."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        written = write_sites(root, floors, sites)
        walls, found, codes = [], [], []
        for jobs in (1, 2):
            wall, process, peaks, code = timed(written, root / f"out{jobs}", jobs)
            walls.append(wall)
            codes.append(code)
            found.append(digests(root / f"out{jobs}"))
            print(
                f"{floors} floors in {sites} sites, N = {jobs}: {wall:.0f} s wall, "
                f"{wall / floors:.2f} s a floor, {process:.0f} s process, peak per process "
                f"{', '.join(f'{one:.0f}' for one in peaks)} MiB, exit status {code}"
            )
        print(f"N = 2 is {walls[0] / walls[1]:.2f} times as fast as N = 1; results "
              f"{'are the same' if found[0] == found[1] else 'DIFFER'}")  # fmt: skip
    return int(found[0] != found[1] or not found[0] or any(code not in (0, 1) for code in codes))


if __name__ == "__main__":
    given = [int(one) for one in sys.argv[1:]]
    sys.exit(main(*(given + [200, 4][len(given) :])))
