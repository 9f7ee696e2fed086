"""Time the whole command on an invented grid of rooms: ``python -m tests.bench.many_rooms 100``.

The argument is the rooms on a side (100: 10,000 rooms of 4 m, doors all round, a reading each).
"""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any, Final

import numpy as np

from tests.bench.map_demo import measure

ROOM_M = 4.0
WAYS: Final[tuple[list[str], ...]] = (["--method", "idw", "--straight"], ["--method", "idw"], [])


def feature(kind: str, name: str, shape: str, coordinates: Any) -> dict[str, Any]:
    """Return a feature of a plan."""
    return {
        "type": "Feature",
        "properties": {"kind": kind, "id": name, "name": name},
        "geometry": {"type": shape, "coordinates": coordinates},
    }


def write_site(root: Path, side: int) -> None:
    """Write an invented site of ``side`` by ``side`` rooms."""
    random = np.random.default_rng(0)
    features, rows = [], ["id,floor,room,x,y,height,value,unit"]
    for i in range(side):
        for j in range(side):
            west, south = ROOM_M * i, ROOM_M * j
            east, north, name = west + ROOM_M, south + ROOM_M, f"r{i}-{j}"
            ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
            features.append(feature("room", name, "Polygon", [ring]))
            if i + 1 < side:
                line = [[east, south + 1], [east, south + 2]]
                features.append(feature("opening", f"e{name}", "LineString", line))
            if j + 1 < side:
                line = [[west + 1, north], [west + 2, north]]
                features.append(feature("opening", f"n{name}", "LineString", line))
            value = 0.3 * np.exp(0.5 * random.normal())
            rows.append(f"R{i}-{j},ground,{name},{west + 2},{south + 2.2},1.5,{value:.4g},ug/m3")
    plan = {"type": "FeatureCollection", "features": features}
    (root / "plan.geojson").write_text(json.dumps(plan), "utf-8")
    (root / "readings.csv").write_text("\n".join(rows) + "\n", "utf-8")
    (root / "site.toml").write_text(
        'schema_version = 1\nname = "Grid (invented)"\ninvented = true\nuse = "commercial"\n'
        '[level]\nname = "atsdr-commercial-occupancy"\n'
        '[[floors]]\nname = "ground"\nplan = "plan.geojson"\n'
        '[[rounds]]\nname = "first"\ndate = 2026-03-01\nreadings = ["readings.csv"]\n',
        "utf-8",
    )


def main(side: int) -> None:
    """Print seconds and memory; exit status 2 is a refusal in one line."""
    with tempfile.TemporaryDirectory() as folder:
        write_site(Path(folder), side)
        for way in WAYS:
            process, wall, peak, codes = measure(["map", folder, "--cell", "1", *way], 1)
            print(
                f"{side**2} rooms, {' '.join(way) or 'kriging through doors'}: {process:.0f} s "
                f"process, {wall:.0f} s wall, {peak:.0f} MiB peak, exit status {codes}"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
