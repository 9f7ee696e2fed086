"""Time the whole command on the demo: ``python -m tests.bench.map_demo``. Asserts nothing.

Targets: ``hgmap map demo_site`` within 20 s of process time on two cores and under 1.5 GiB;
``hgmap --help`` under 1.5 s.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo_site"


def measure(arguments: list[str], runs: int) -> tuple[float, float, float]:
    """Return median process time (s), median wall time (s) and highest peak memory (MiB)."""
    process, wall, peak = [], [], []
    for _ in range(runs):
        start = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-m", "hgmap", *arguments],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _, _, usage = os.wait4(child.pid, 0)
        wall.append(time.perf_counter() - start)
        process.append(usage.ru_utime + usage.ru_stime)
        peak.append(usage.ru_maxrss / 1024)
    return statistics.median(process), statistics.median(wall), max(peak)


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        for label, arguments, runs in (
            ("hgmap --help", ["--help"], 5),
            ("hgmap map demo_site (before)", ["map", str(DEMO), "--round", "before", "--cell",
                                              "0.1", "--out", folder], 3),
            ("hgmap map demo_site (after)", ["map", str(DEMO), "--round", "after", "--cell",
                                             "0.1", "--out", folder], 3),
        ):  # fmt: skip
            process, wall, peak = measure(arguments, runs)
            print(f"{label}: {process:.2f} s process, {wall:.2f} s wall, {peak:.0f} MiB peak")


if __name__ == "__main__":
    main()
