"""Whole imports of plans, each as a process: seven floors of a building, and a DXF of 1e5 entities.

``python -m tests.bench.import_plans [ENTITIES]``. Prints time, processor time and largest memory;
asserts nothing. Targets: the floors together in 20 s, the DXF in 30 s and 1 GiB. The DXF is
invented and made here, the floors public data that need not be there.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from tests.bench import read_dxf

PLANS = Path(__file__).parents[3] / "shared" / "data" / "plans"
DEEP = 250
"""Rooms from south to north."""


def rooms(entities: int) -> bytes:
    """Draw rooms of single walls: of four entities three lines and the arc of a door."""
    document, space = read_dxf.new_document()
    for number in range(entities // 4):
        x, y = (read_dxf.ROOM * one for one in divmod(number, DEEP))
        for start, end in (((0, 0), (4, 0)), ((0, 0), (0, 1.5)), ((0, 2.4), (0, 4))):
            space.add_line((x + start[0], y + start[1]), (x + end[0], y + end[1]),
                           dxfattribs={"layer": "A-WALL"})  # fmt: skip
        space.add_arc((x, y + 1.5), 0.9, 0, 90, dxfattribs={"layer": "A-DOOR"})
    return read_dxf.as_bytes(document)


def drawings(folder: Path, entities: int) -> Iterator[tuple[str, list[Path]]]:
    """Make the drawings; yield what each bench is called, and its files."""
    floors = sorted(PLANS.glob("westport-house-floor-*.geojson"))
    if floors:
        yield "seven floors", floors
    file = folder / "rooms.dxf"
    file.write_bytes(rooms(entities))
    yield f"a DXF of {entities} entities", [file]


def run(file: Path, site: Path) -> tuple[float, float, float, str]:
    """Import one plan; return time (s), processor time (s), largest memory (MiB), first line."""
    start = time.perf_counter()
    words = ["import", "plan", str(file), "--into", str(site), "--floor", file.stem]
    with subprocess.Popen(
        [sys.executable, "-m", "hgmap", *words, "--rooms", "walls"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        said = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    took = time.perf_counter() - start
    first = said.strip().split("\n")[0].replace(f"{site}{os.sep}", "")
    return took, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, first


def main() -> None:
    """Print a line for each import, and one for all of a bench."""
    entities = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for number, (name, files) in enumerate(drawings(folder, entities)):
            runs = [run(file, folder / f"site-{number}") for file in files]
            for *_, first in runs:
                print(f"  {first}")
            took, worked = sum(one[0] for one in runs), sum(one[1] for one in runs)
            largest = max(one[2] for one in runs)
            print(
                f"{name}: {took:.1f} s ({worked:.1f} s of a processor), {largest:.0f} MiB",
                flush=True,
            )


if __name__ == "__main__":
    main()
