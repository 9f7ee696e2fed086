"""The cells of our tables with their kinds: what CSV and workbook say is the same to the digit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from hgmap.report.tables import Table

Cell = str | float | int | datetime | None

_WHOLE: Final = frozenset({"readings", "rank"})
_NUMBERS: Final = frozenset(
    {
        "level_value", "tape_m", "highest_estimate", "highest_reading_number",
        "highest_probability", "average", "average_standard_error", "average_low_95",
        "average_high_95", "probability_anywhere_above", "expected_in_doubt_share",
        "concentration", "concentration_low", "measured_error", "temperature_c", "height_m",
        "x_m", "y_m", "reference", "minutes", "spacing_s",
    }
)  # fmt: skip
_TIMES: Final = frozenset({"time", "start", "end"})


def typed(table: Table) -> tuple[Sequence[str], Iterator[tuple[Cell, ...]]]:
    """Return a table with numbers and times as such; an empty cell is None.

    What a person wrote stays text, whatever it looks like: ``as_written`` of 0.5 is no number, and
    the room ``007`` keeps its noughts.
    """
    header, rows = table
    kinds = [_kind(name) for name in header]
    return header, (tuple(map(_cell, row, kinds)) for row in rows)


def _kind(column: str) -> str:
    if column in _WHOLE:
        return "whole"
    if column in _TIMES:
        return "time"
    return "number" if column in _NUMBERS or column.endswith("_m2") else "text"


def _cell(text: str, kind: str) -> Cell:
    if not text:
        return None
    if kind == "whole":
        return int(text)
    if kind == "number":
        return float(text)
    return datetime.fromisoformat(text) if kind == "time" else text
