"""Time the whole command on the demo: ``python -m tests.bench.map_demo``; checks exit statuses.

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


def measure(arguments: list[str], runs: int) -> tuple[float, float, float, set[int]]:
    """Return median process time (s), median wall time (s), peak memory (MiB), exit statuses."""
    process, wall, peak, codes = [], [], [], set()
    for _ in range(runs):
        start = time.perf_counter()
        child = subprocess.Popen(
            [sys.executable, "-m", "hgmap", *arguments],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        _, status, usage = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)  # it is no longer there to wait for
        codes.add(child.returncode)
        wall.append(time.perf_counter() - start)
        process.append(usage.ru_utime + usage.ru_stime)
        peak.append(usage.ru_maxrss / 1024)
    return statistics.median(process), statistics.median(wall), max(peak), codes


def main() -> int:
    """Print the figures; 1 where a run ended otherwise than it should."""
    failed = False
    with tempfile.TemporaryDirectory() as folder:
        # the demo has held readings on purpose: 1
        for label, arguments, runs, expected in (
            ("hgmap --help", ["--help"], 5, 0),
            ("hgmap map demo_site (before)", ["map", str(DEMO), "--round", "before", "--cell",
                                              "0.1", "--out", folder], 3, 1),
            ("hgmap map demo_site (after)", ["map", str(DEMO), "--round", "after", "--cell",
                                             "0.1", "--out", folder], 3, 1),
        ):  # fmt: skip
            process, wall, peak, codes = measure(arguments, runs)
            exits = ", ".join(str(code) for code in sorted(codes))
            print(
                f"{label}: {process:.2f} s process, {wall:.2f} s wall, {peak:.0f} MiB peak, "
                f"exit status {exits}" + ("" if codes == {expected} else f", not {expected}")
            )
            failed = failed or codes != {expected}
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
