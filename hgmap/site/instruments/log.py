"""The instrument log (instruments/log.csv): one row a check.

Columns, in any order::

    instrument, principle, serial, certificate, check, start, end, minutes, values, spacing_s,
    reference, unit, result, temperature_c, note

``time`` may stand for ``start``, ``minutes`` for ``end``. Several ``values`` in one cell have
spaces or semicolons between them. ``unit`` is µg/m³ unless written. A row whose check cannot be
judged counts as a failed check; one that does not even say which check of which instrument at what
time is left out, and where it may hide a saturation or a failed check it holds the readings that it
may be about.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from hgmap.errors import ReadingsError
from hgmap.site.columns import known_columns
from hgmap.site.instruments.clock import log_zone, on_clock
from hgmap.site.instruments.log_cells import Row, number_texts
from hgmap.site.instruments.log_row import LogRow, read_row
from hgmap.site.instruments.log_whole import instruments_of, overlaps
from hgmap.site.instruments.model import Doubt, InstrumentLog
from hgmap.site.model import Problem
from hgmap.site.textfile import TextTable, decimal_marks, read_table

COLUMNS: Final = (
    "instrument", "principle", "serial", "certificate", "check", "start", "end", "minutes",
    "values", "spacing_s", "reference", "unit", "result", "temperature_c", "note",
)  # fmt: skip

MOST_ROWS: Final = 20_000

_SYNONYMS: Final = {
    "spacing": "spacing_s",
    "temperature": "temperature_c",
    "value": "values",
    "certificate_date": "certificate",
}


def read_log(data: bytes, *, where: str) -> InstrumentLog:
    """Read a log.

    Parameters
    ----------
    data : bytes
        The file.
    where : str
        Its name, for messages.

    Raises
    ------
    ReadingsError
        If the file as a whole cannot be read: no table, no row, or no column for the instrument,
        the check or its time. Then nothing vouches for the readings: judge them by
        ``InstrumentLog((), ())``, which holds them all, not by None.
    """
    table = read_table(data, where=where)
    problems: list[Problem] = []
    if table.remark:
        problems.append(Problem("warning", where, table.remark, "look at the quotation marks"))
    index = _columns(table, problems, where=where)
    if not table.rows:
        raise ReadingsError("has a header but no row", where=where, todo="write the checks")
    if len(table.rows) > MOST_ROWS:
        raise ReadingsError(
            f"{len(table.rows)} rows are more than any log of checks has",
            where=where,
            todo="is it a file of readings?",
        )
    rows: list[tuple[str, Row, bool]] = [
        (f"{where}, row {number}", _row(cells, index), any(cells[len(table.header) :]))
        for number, cells in table.rows
    ]
    marks = decimal_marks(text for _, row, _ in rows for text in number_texts(row))
    read = [read_row(row, marks, place, problems, extra_cells=extra) for place, row, extra in rows]
    doubts = [one for one in read if isinstance(one, Doubt)]
    return _whole([one for one in read if isinstance(one, LogRow)], problems, doubts)


def _row(cells: Sequence[str], index: Mapping[str, int]) -> Row:
    row = {name: cells[i] if i < len(cells) else "" for name, i in index.items()}
    return {**row, "start": row.get("start") or row.get("time", "")}


def _whole(rows: Sequence[LogRow], problems: list[Problem], doubts: list[Doubt]) -> InstrumentLog:
    zone = log_zone([row.check for row in rows])
    if zone is not None and any(row.check.start.tzinfo is None for row in rows):
        where = next(row.check.where for row in rows if row.check.start.tzinfo is None)
        problems.append(
            Problem(
                "warning",
                where,
                "some times state a zone and some do not; those without are taken as local",
                "write all times in one way",
            )
        )
    ordered = sorted(
        rows, key=lambda row: (on_clock(row.check.start, zone), row.check.kind, row.check.values)
    )
    instruments, checks = instruments_of(ordered, problems, doubts)
    problems.extend(overlaps(checks, zone))
    return InstrumentLog(instruments, checks, tuple(problems), tuple(doubts))


def _columns(table: TextTable, problems: list[Problem], *, where: str) -> dict[str, int]:
    titles = {_plain(title) for title in table.header}
    needed = ("instrument", "check", "time" if "time" in titles else "start")
    return known_columns(
        table, (*COLUMNS, "time"), needed, problems, where=where, name_of=_plain, unread="warning"
    )


def _plain(title: str) -> str:
    name = "_".join(title.casefold().split())
    return _SYNONYMS.get(name, name)
