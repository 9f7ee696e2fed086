"""Every reading of a round with its verdict, as CSV: none is left out, wherever it was taken."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from hgmap.decide.evidence import describe
from hgmap.report.tables import Table, csv_text
from hgmap.site.intake.cells import guarded
from hgmap.site.model import Medium
from hgmap.site.reading import Reading
from hgmap.site.units import COMPUTING_UNIT

COLUMNS: Final = (
    "id", "round", "floor", "room", "x_m", "y_m", "placed_by", "height_m", "height_band", "time",
    "kind", "duplicate_of", "instrument", "as_written", "qualifier", "concentration",
    "concentration_low", "concentration_unit", "measured_error", "temperature_c", "verdict",
    "held_because", "cautions", "log_rows", "overruled_by", "note", "source_row",
)  # fmt: skip


def readings_csv(readings: Iterable[Reading], medium: Medium) -> str:
    """Return one row a reading.

    ``concentration`` and ``measured_error`` (one standard deviation, from the instrument's own
    checks) are in ``concentration_unit``; ``as_written`` has the sign and unit of the file.
    ``qualifier`` belongs to the number: ``<`` below that limit, ``>`` above that value, ``~`` about
    it, nothing where it is a plain number, so that no limit is taken for a reading.
    ``log_rows`` are the rows of the instrument log behind the verdict.

    Parameters
    ----------
    readings : iterable of Reading
        Judged.
    medium : {"air", "surface", "bulk"}
        That of the site.
    """
    return csv_text(*readings_table(readings, medium))


def readings_table(readings: Iterable[Reading], medium: Medium) -> Table:
    """Return header and rows of :func:`readings_csv`."""
    return COLUMNS, (_row(one, medium) for one in readings)


def _row(reading: Reading, medium: Medium) -> tuple[str, ...]:
    rows = dict.fromkeys(row for one in reading.findings for row in one.rows)
    people = dict.fromkeys(one.overruled for one in reading.findings if one.overruled)
    return (
        *(guarded(text) for text in (reading.id, reading.round, reading.floor, reading.room)),
        _number(reading.x, ".2f"),
        _number(reading.y, ".2f"),
        reading.placed,
        _number(reading.height_m),
        guarded(reading.band),
        "" if reading.time is None else reading.time.isoformat(),
        reading.kind,
        guarded(reading.duplicate_of),
        guarded(reading.instrument),
        guarded(describe(reading)),
        reading.qualifier,
        _number(reading.concentration),
        _number(reading.concentration_low),
        "" if reading.concentration is None else COMPUTING_UNIT[reading.medium or medium],
        _number(reading.error or None, ".2g"),
        _number(reading.temperature_c),
        reading.verdict,
        guarded("; ".join(reading.held)),
        guarded("; ".join(reading.cautions)),
        guarded("; ".join(rows)),
        guarded("; ".join(people)),
        guarded(reading.note),
        guarded(reading.where),
    )


def _number(value: float | None, shape: str = ".10g") -> str:
    return "" if value is None else format(value, shape)
