"""An instrument log from the demo's file, as a test needs it; the program's own reader is apart."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from hgmap.site.instruments.model import Check, Instrument, InstrumentLog

LOG = Path(__file__).parents[2] / "demo_site" / "instruments" / "log.csv"


def demo_log() -> InstrumentLog:
    """Every row of the demo's log, read as plainly as can be."""
    rows = list(csv.DictReader(LOG.read_text("utf-8").splitlines()))
    names = {row["instrument"]: row for row in rows}
    instruments = tuple(Instrument(name, "gold film", row["serial"]) for name, row in names.items())
    return InstrumentLog(instruments, tuple(_checks(rows)))


def _checks(rows: list[dict[str, Any]]) -> Iterator[Check]:
    for number, row in enumerate(rows, start=2):
        yield Check(
            instrument=row["instrument"],
            kind=row["check"],
            start=datetime.fromisoformat(row["start"]),
            end=datetime.fromisoformat(row["end"]),
            values=tuple(float(one) for one in row["values"].split()),
            reference=float(row["reference"]) if row["reference"] else None,
            passed=True if row["result"] in ("pass", "done") else None,
            temperature_c=float(row["temperature_c"]),
            note=row["note"],
            where=f"instruments/log.csv, row {number}",
        )
