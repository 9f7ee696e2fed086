"""A million rows through the import: python tests/bench/million_rows.py [rows].

Not part of the fast suite. The file is invented and made here.
"""

from __future__ import annotations

import random
import resource
import sys
import tempfile
import time
from pathlib import Path

from hgmap.site.intake.answers import Answers
from hgmap.site.intake.import_readings import import_readings

MOST_SECONDS = 60.0
MOST_MIB = 1024.0


def table(rows: int) -> bytes:
    """Make a table of readings with limits, words and times."""
    random.seed(20260302)
    lines = ["id,floor,room,x,y,height,time,Hg (ug/m3),note"]
    for k in range(rows):
        value = random.lognormvariate(0, 1)
        cell = "ND" if k % 1000 == 0 else f"<{value:.3g}" if value < 0.2 else f"{value:.4g}"
        lines.append(
            f"R{k},ground,G{k % 40:02d},{random.random() * 30:.2f},{random.random() * 20:.2f},1.5,"
            f"2026-03-02T{k // 3600 % 24:02d}:{k // 60 % 60:02d},{cell},"
        )
    lines[rows // 2] = "R?,ground,G01,1,1,1.5,2026-03-02T09:00,about ten,"
    return "\n".join(lines).encode()


def main() -> int:
    """Import it, and say the time and the memory."""
    rows = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    data = table(rows)
    with tempfile.TemporaryDirectory() as folder:
        site = Path(folder)
        (site / "site.toml").write_text('name = "Invented"\n[[rounds]]\nname = "first"\n', "utf-8")
        start = time.perf_counter()
        done = import_readings(data, site, Answers(), name="million.csv")
        seconds = time.perf_counter() - start
        written = (site / "readings" / "million.csv").read_bytes().count(b"\n")
    mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{done.rows} rows of {len(data) / 2**20:.0f} MiB in {seconds:.1f} s, {mib:.0f} MiB")
    print("; ".join(done.doubts))
    kept = done.rows == rows and written == rows + 1 and done.doubtful == 1
    return 0 if kept and seconds <= MOST_SECONDS and mib <= MOST_MIB else 1


if __name__ == "__main__":
    sys.exit(main())
