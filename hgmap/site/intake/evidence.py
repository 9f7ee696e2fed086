"""What all rows of a table prove together: its decimal mark, the order of its dates."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from hgmap.errors import ReadingsError
from hgmap.site.intake.answers import Answers
from hgmap.site.intake.dates import DateOrder, Order, date_order
from hgmap.site.intake.mapping import Columns
from hgmap.site.intake.numerals import LONGEST_CELL, Decimal
from hgmap.site.intake.opening import Row
from hgmap.site.textfile import DecimalMarks, decimal_marks

NUMBERS = ("value", "low", "x", "y", "height", "temperature", "pressure", "detection_limit")


@dataclass(frozen=True, slots=True)
class Evidence:
    """How the numbers and dates of a table are to be read.

    ``decimal`` is what a person said; ``rows`` is how many rows there are, empty ones too.
    """

    marks: DecimalMarks
    order: Order | None
    decimal: Decimal | None
    rows: int

    @property
    def written_with(self) -> Decimal | None:
        """The decimal mark of text that has been read and is written as it stands."""
        return self.decimal or ("comma" if self.marks.comma and not self.marks.point else None)


def gather(
    rows: Iterable[Row],
    columns: Columns,
    answers: Answers,
    *,
    points_may_group: bool = False,
    where: str,
) -> Evidence:
    """Go through all rows of data once.

    Raises
    ------
    ReadingsError
        If the dates leave a question, with the row and the option that answers it; also where
        some are dates and some are text, as a spreadsheet leaves them that took some for another
        country's.
    """
    numbers = [k for k in map(columns.position, NUMBERS) if k is not None]
    dates = columns.position("date")
    dates = columns.position("time") if dates is None else dates
    comma = point = real = grouped = ""
    order = DateOrder()
    first_row: dict[str, int] = {}
    seen: dict[str, DateOrder] = {}
    count = 0
    for number, cells in rows:
        count += 1
        width = len(cells)
        for k in numbers:
            if k >= width:
                continue
            cell = cells[k]
            if "," in cell or ("." in cell and (not point or cell.count(".") > 1)):
                found = decimal_marks([cell[:LONGEST_CELL].lstrip("<>~≤≥ ")])
                comma, point = comma or found.comma, point or found.point
                if not grouped and _GROUPED.fullmatch(cell):
                    grouped = f"row {number}: {cell!r}"
        if dates is not None and dates < width:
            cell = cells[dates]
            if not cell or cell[4:5] == "-":
                if not real and cell[8:10].isdecimal() and "00" < cell[8:10] <= "12":
                    real = cell if cell[5:7] != cell[8:10] else ""
                continue
            one = seen.get(cell)
            if one is None:
                one = date_order([cell])
                if len(seen) < 100_000:
                    seen[cell] = one
            if one != _NOTHING:
                first_row.setdefault(cell, number) if len(first_row) < 100_000 else None
                order = DateOrder(
                    order.day_first or one.day_first,
                    order.month_first or one.month_first,
                    order.open or one.open,
                )
    title = columns.titles[dates].text if dates is not None else ""
    as_text = order.day_first or order.month_first
    if answers.dates is not None and order.order not in (None, answers.dates):
        raise ReadingsError(
            f"column {title!r}: {as_text!r} cannot be {answers.dates}",
            where=f"{where}, row {first_row.get(as_text, 0)}",
            todo=f"say --dates {order.order}",
        )
    if answers.dates is None and real and as_text and not order.contradiction:
        # a spreadsheet that reads 02/03 the other way round leaves 13/03 as text
        raise ReadingsError(
            f"column {title!r} holds {as_text!r} as text and {real!r} as a date: a spreadsheet may "
            "have turned the day and the month of the dates round",
            where=f"{where}, row {first_row.get(as_text, 0)}",
            todo="compare them with the field sheets, then say --dates day-first or --dates "
            "month-first",
        )
    if answers.dates is None and order.question:
        cell = order.month_first if order.contradiction else order.open
        raise ReadingsError(
            f"column {title!r}: {order.question}",
            where=f"{where}, row {first_row.get(cell, 0)}",
            todo="say --dates day-first or --dates month-first",
        )
    if answers.dates is None and _year_first(seen):
        cell = next(iter(seen))
        raise ReadingsError(
            f"column {title!r}: does {cell!r} begin with the day or with the year?",
            where=f"{where}, row {first_row.get(cell, 0)}",
            todo="say --dates day-first, or write the years with four digits",
        )
    if points_may_group and grouped and not (answers.decimal or comma or point):
        raise ReadingsError(
            f"{grouped}: is the point a decimal mark or for thousands? no other number of the file "
            "says",
            where=where,
            todo="say --decimal comma or --decimal point",
        )
    marks = DecimalMarks() if answers.decimal else DecimalMarks(comma, point)
    return Evidence(marks, answers.dates or order.order, answers.decimal, count)


def _year_first(cells: Iterable[str]) -> bool:
    """Tell whether dates with years of two digits may begin with the year, as 26/03/02.

    They do if all begin alike while their ends differ, or end where no survey of today would be.
    """
    matches = [match for match in map(_TWO_DIGITS.match, cells) if match is not None]
    firsts, lasts = {match[1] for match in matches}, {match[2] for match in matches}
    return (
        len(firsts) == 1
        and int(min(firsts)) > _MONTHS
        and (len(lasts) > 1 or int(min(lasts)) < _TOO_LONG_AGO)
    )


_TWO_DIGITS: Final = re.compile(r"(\d\d)[/.]\d{1,2}[/.](\d\d)(?!\d)")
_MONTHS: Final = 12
_TOO_LONG_AGO: Final = 10
_GROUPED: Final = re.compile(r"[<>~\u2264\u2265]?\s*[1-9]\d{0,2}\.\d{3}")
_NOTHING = DateOrder()
