"""One row of the instrument log becomes one check, or a problem, or both."""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from hgmap.errors import SiteError
from hgmap.site.instruments.log_cells import (
    KINDS,
    MOST_VALUES,
    CellError,
    Row,
    check_kind,
    date_before,
    date_of,
    may_hide_a_failure,
    number_of,
    principle_of,
    result_of,
    says_saturated,
    time_of,
    value_texts,
    words,
)
from hgmap.site.instruments.model import Check, CheckKind, Doubt, Principle
from hgmap.site.model import Problem
from hgmap.site.textfile import DecimalMarks
from hgmap.site.units import to_computing

LONGEST_MIN: Final = 24 * 60.0
"""A check that took longer is a slip of the pen."""

_LOST: Final = "the row is left out and may hide a failed check"
_HARMLESS: Final = "the row is left out"
_FAILED: Final = "the check counts as failed until the row is mended"


@dataclass(frozen=True, slots=True)
class LogRow:
    """One check, and what its row says of the instrument."""

    check: Check
    principle: Principle | None
    serial: str
    certificate: date | None


def read_row(
    row: Row, marks: DecimalMarks, where: str, problems: list[Problem], *, extra_cells: bool
) -> LogRow | Doubt | None:
    """Read one row; one that does not say which check of which instrument at what time is none.

    It is a doubt where it may hide a failed check or a saturation, else None.
    """

    def warn(message: str, todo: str) -> None:
        problems.append(Problem("warning", where, message, todo))

    def lost(message: str, todo: str) -> Doubt | None:
        hides = may_hide_a_failure(row, kind)
        warn(f"{message}: {_LOST if hides else _HARMLESS}", todo)
        if not hides:
            return None
        what = f"a row of the log that cannot be read may hide a failed check: {message}"
        return Doubt(name, date_before(row["start"]), what, (where,))

    name = " ".join(row["instrument"].split())
    kind = check_kind(row["check"])
    if says_saturated(row.get("result", "")):
        kind = "saturation"
    try:
        start = time_of(row["start"], "start")
    except CellError as error:
        return lost(str(error), "write date and time of the check")
    if not name:
        return lost("no instrument", "write which instrument was checked")
    if kind is None:
        return lost(f"check {row['check']!r} is not known", _nearest(row["check"]))
    bad: list[str] = []
    if extra_cells:
        bad.append("the row has more cells than the header; a comma inside a number?")
    principle = principle_of(row.get("principle", ""))
    if principle is None and row.get("principle"):
        warn(
            f"principle {row['principle']!r} is not known",
            "write gold film, atomic absorption or atomic fluorescence",
        )
    certificate = None
    if row.get("certificate"):
        try:
            certificate = date_of(row["certificate"])
        except CellError as error:
            warn(f"certificate {error}", "write the date of the certificate")
    check = _check(row, marks, where, name, kind, start, bad, warn)
    if bad:
        warn(f"{'; '.join(bad)}: {_FAILED}", "mend it as it was written on the day")
    return LogRow(check, principle, " ".join(row.get("serial", "").split()), certificate)


def _check(
    row: Row,
    marks: DecimalMarks,
    where: str,
    name: str,
    kind: CheckKind,
    start: datetime,
    bad: list[str],
    warn: Callable[[str, str], None],
) -> Check:
    def number(column: str) -> float | None:
        text = row.get(column, "")
        if not text:
            return None
        try:
            return number_of(text, column, marks)
        except CellError as error:
            bad.append(str(error))
            return None

    temperature_c = None
    if row.get("temperature_c"):
        try:
            temperature_c = number_of(row["temperature_c"], "temperature_c", marks)
        except CellError as error:
            warn(str(error), "write degrees Celsius")
    end = _end(row, start, number("minutes"), bad)
    values: list[float] = []
    texts = value_texts(row.get("values", ""))
    if len(texts) > MOST_VALUES:
        bad.append(f"{len(texts)} values in one cell")
        texts = []
    for text in texts:
        try:
            values.append(number_of(text, "value", marks))
        except CellError as error:
            bad.append(str(error))
            break
    spacing_s = number("spacing_s")
    if spacing_s is not None and spacing_s < 0:
        bad.append(f"spacing_s {spacing_s:g} is below zero")
        spacing_s = None
    reference = number("reference")
    unit = row.get("unit", "")
    if kind != "battery" and unit:
        try:
            values = [_ug_m3(value, unit, temperature_c) for value in values]
            reference = None if reference is None else _ug_m3(reference, unit, temperature_c)
        except SiteError as error:
            bad.append(error.message)
            values, reference = [], None
    if reference is not None and reference < 0:
        bad.append(f"reference {reference:g} is below zero")
        reference = None
    if reference == 0 and kind == "span":
        bad.append("a span check needs a reference above zero")
        reference = None
    try:
        passed = None if kind == "saturation" else result_of(row.get("result", ""))
    except CellError as error:
        bad.append(str(error))
        passed = None
    if kind == "saturation":
        passed = None  # it counts as one whatever else the row says
    elif bad:
        passed = False
    return Check(
        instrument=name,
        kind=kind,
        start=start,
        end=end,
        values=tuple(values),
        spacing_s=spacing_s,
        reference=reference,
        passed=passed,
        temperature_c=temperature_c,
        note=row.get("note", ""),
        where=where,
    )


def _end(row: Row, start: datetime, minutes: float | None, bad: list[str]) -> datetime:
    if minutes is not None and not 0 <= minutes <= LONGEST_MIN:
        bad.append(f"a check of {minutes:g} min")
        return start
    text = row.get("end", "")
    try:
        counted = start + timedelta(minutes=minutes or 0.0)
        if not text:
            return counted
        end = time_of(text, "end")
        if (end.tzinfo is None) != (start.tzinfo is None):
            # one of the two lacks its zone: both were read off one watch
            end = end.replace(tzinfo=start.tzinfo)
        took = (end - start).total_seconds() / 60.0
    except CellError as error:
        bad.append(str(error))
        return start
    except OverflowError:
        bad.append("the check ends beyond the calendar")
        return start
    if took < 0:
        bad.append(f"end {text!r} is before the start")
        return start
    if took > LONGEST_MIN:
        bad.append(f"a check of {took:g} min")
        return start
    if minutes is not None and math.fabs(took - minutes) > 1.0:
        bad.append(f"minutes {minutes:g} and end {text!r} disagree")
    return end


def _ug_m3(value: float, unit: str, temperature_c: float | None) -> float:
    return to_computing(value, unit, "air", temperature_c=temperature_c)


def _nearest(text: str) -> str:
    by_words = {words(kind): kind for kind in KINDS}
    near = difflib.get_close_matches(words(text), by_words, n=1, cutoff=0.5)
    known = f"known checks: {', '.join(KINDS)}"
    return f"did you mean {by_words[near[0]]!r}? {known}" if near else known
