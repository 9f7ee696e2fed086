"""Time and weigh each sheet of the demo: ``python -m tests.bench.sheets``; asserts nothing.

Targets: a sheet laid out and written as PDF within 2 s of process time, and under 2 MB.
"""

from __future__ import annotations

import time
from pathlib import Path

from hgmap.batch import MapOptions
from hgmap.floor_map import map_floor
from hgmap.floor_sheets import floor_sheets
from hgmap.map_case import map_case
from hgmap.report.paper import pdf_bytes, png_bytes, svg_bytes
from hgmap.site.folder import read_site

DEMO = Path(__file__).parents[2] / "demo_site"


def main() -> None:
    """Print the figures of the ground floor, before clean-up."""
    options = MapOptions(round="before", sheets=True)
    case = map_case(read_site(DEMO), options)
    floor = map_floor(case.site, case.site.floors[0], case.round, case.band, case.level, options)
    start = time.process_time()
    sheets = floor_sheets(case, floor, options)
    laid = time.process_time() - start
    print(f"{len(sheets)} sheets laid out: {laid:.2f} s, {laid / len(sheets):.2f} s each")
    pdf_bytes(list(sheets.values())[:1])  # what is read once
    for name, sheet in sheets.items():
        told = []
        for kind, write in (("pdf", pdf_bytes), ("png", png_bytes), ("svg", svg_bytes)):
            start = time.process_time()
            size = len(write([sheet] if kind == "pdf" else sheet))  # type: ignore[operator]
            told.append(f"{kind} {time.process_time() - start:.2f} s, {size / 1e6:.2f} MB")
        print(f"{name}: {'; '.join(told)}")


if __name__ == "__main__":
    main()
