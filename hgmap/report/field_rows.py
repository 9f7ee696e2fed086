"""The table of a field sheet: a row for each reading, with blanks to fill in by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely

from hgmap.decide.design.places import DesignPlace
from hgmap.report.column import line_mm
from hgmap.report.drawing import Item, Label, Path, Pen
from hgmap.report.palette import INK, RULE, SOFT
from hgmap.report.plan_page import (
    LONG_MM,
    MARGIN_MM,
    SHORT_MM,
    SMALL_PT,
    TEXT_PT,
    Head,
    foot_items,
    head_items,
)
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.report.words import metres

_ROW_MM: Final = 7.0
_SAYS_MM: Final = 4.0
_HEAD_MM: Final = 6.0
_SMALL: Final = 5.5
_SAYS_PT: Final = 6.0
_BLANK_LINE_MM: Final = 8.0
_COLUMNS: Final = (
    ("place", 10.0), ("id", 30.0), ("room; x, y in m", 40.0), ("height", 14.0), ("what", 23.0),
    ("time", 15.0), ("result", 21.0), ("sign", 9.0), ("note", 24.0),
)  # fmt: skip
"""Titles and widths (mm); they fill the paper between its margins."""

_FIRST_BLANK: Final = 5
_HEADING_BLANKS: Final = (
    (("date", 30.0), ("surveyor", 56.0), ("instrument and serial number", 100.0)),
    (("unit of the results", 40.0), ("temperature", 30.0), ("zero-air check before", 56.0),
     ("and after", 60.0)),
)  # fmt: skip
_SIGNS: Final = (
    "sign: < below the detection limit (write the limit as result), > beyond the range, ~ not "
    "steady. Write the doors and windows that stand otherwise than on the plan into a note."
)


@dataclass(frozen=True, slots=True)
class Line:
    """A row: the number of its place on the map, None off the map, and what to read.

    ``says`` stands under it in small type.
    """

    number: int | None
    place: DesignPlace
    says: str = ""

    @property
    def height_mm(self) -> float:
        """Height of the row."""
        return _ROW_MM + (_SAYS_MM if self.says else 0.0)


def table_pages(head: Head, lines: Sequence[Line], foot: str) -> list[tuple[Item, ...]]:
    """Set the rows on upright A4; heights of one place stay together where they fit a page."""
    pages: list[tuple[Item, ...]] = []
    left = list(lines)
    while left or not pages:
        top, items = head_items(head, SHORT_MM, LONG_MM)
        bottom, low = foot_items(foot, SHORT_MM)
        items += bottom
        if not pages:
            top = _blanks(items, top)
        top = _titles(items, top)
        taken = _whole_places(left, _fits(left, top - low - 2.0))
        for k, line in enumerate(left[:taken]):
            first = k == 0 or line.number is None or line.number != left[k - 1].number
            _row(items, top, line, first)
            top -= line.height_mm
        _rule(items, top, 0.9)
        left = left[taken:]
        pages.append(tuple(items))
    return pages


def _fits(lines: Sequence[Line], high_mm: float) -> int:
    """Return how many rows fit, one at least."""
    for k, line in enumerate(lines):
        high_mm -= line.height_mm
        if high_mm < 0.0:
            return max(1, k)
    return len(lines)


def _whole_places(lines: Sequence[Line], fits: int) -> int:
    """Return how many rows go on a page, so that a place is not torn apart."""
    if len(lines) <= fits:
        return len(lines)
    at = fits
    while at > 1 and lines[at].number is not None and lines[at].number == lines[at - 1].number:
        at -= 1
    return at if at > 1 else fits


def _blanks(items: list[Item], top: float) -> float:
    for row in _HEADING_BLANKS:
        top -= _BLANK_LINE_MM
        left = MARGIN_MM
        for title, wide in row:
            items.append(Label(left, top, title, SMALL_PT, SOFT))
            begin = left + width_mm(title, SMALL_PT) + 1.5
            line = shapely.LineString([(begin, top - 0.4), (left + wide - 3.0, top - 0.4)])
            items.append(Path(line, Pen(INK, 0.6)))
            left += wide
    top -= 2.5
    for text in wrap(_SIGNS, SMALL_PT, SHORT_MM - 2.0 * MARGIN_MM):
        items.append(Label(MARGIN_MM, top, text, SMALL_PT, SOFT, up="top"))
        top -= line_mm(SMALL_PT)
    return top - 1.5


def _titles(items: list[Item], top: float) -> float:
    left = MARGIN_MM
    for title, wide in _COLUMNS:
        items.append(Label(left + 1.0, top - 3.9, fit(title, SMALL_PT, wide - 1.5), SMALL_PT, INK,
                           True))  # fmt: skip
        left += wide
    return top - _HEAD_MM


def _row(items: list[Item], top: float, line: Line, first: bool) -> None:
    """Set a row; the rule over the first one of a place is heavier."""
    _rule(items, top, 0.9 if first else 0.3, from_column=0 if first else 1)
    if line.says:
        items.append(_under(top, line.says))
    place, left, middle = line.place, MARGIN_MM, top - _ROW_MM / 2.0
    height = "" if place.height_m is None else metres(place.height_m)
    room = place.room_name or place.room or ("outdoors" if place.kind == "background" else "")
    texts = ("" if line.number is None else str(line.number), place.id, room, height, place.kind)
    for column, (_, wide) in enumerate(_COLUMNS):
        if column >= _FIRST_BLANK:
            edge = shapely.LineString([(left, top), (left, top - _ROW_MM)])
            items.append(Path(edge, Pen(RULE, 0.6)))
        elif column == 0:
            if first:
                items.append(Label(left + 1.0, middle, texts[0], 10.0, INK, True, up="middle"))
        elif column == 2 and place.x is not None and place.y is not None:
            if first:
                items.append(_text(texts[2], left, middle + 1.5, wide, TEXT_PT - 1.0))
                where = f"{place.x:.2f}, {place.y:.2f}"
                items.append(_text(where, left, middle - 1.7, wide, _SMALL))
        else:
            text = _end(place.id, wide) if column == 1 else texts[column]
            items.append(_text(text, left, middle, wide, TEXT_PT - 1.0))
        left += wide


def _under(top: float, text: str) -> Label:
    """Set what a row says under it, right of the number."""
    left = MARGIN_MM + _COLUMNS[0][1]
    wide = sum(wide for _, wide in _COLUMNS[1:])
    middle = top - _ROW_MM - _SAYS_MM / 2.0 + 0.6
    return Label(left + 1.0, middle, fit(text, _SAYS_PT, wide - 1.6), _SAYS_PT, SOFT, up="middle")


def _end(text: str, wide: float) -> str:
    """Cut an id at its front: what tells it from the next one stands at its end."""
    size, room = TEXT_PT - 1.0, wide - 1.6
    if width_mm(text, size) <= room:
        return text
    first = next(k for k in range(len(text)) if width_mm(f"…{text[k:]}", size) <= room)
    return f"…{text[first:]}"


def _text(text: str, left: float, middle: float, wide: float, size: float) -> Label:
    return Label(left + 1.0, middle, fit(text, size, wide - 1.6), size, INK, up="middle")


def _rule(items: list[Item], y: float, width_pt: float, from_column: int = 0) -> None:
    left = MARGIN_MM + sum(wide for _, wide in _COLUMNS[:from_column])
    right = MARGIN_MM + sum(wide for _, wide in _COLUMNS)
    items.append(Path(shapely.LineString([(left, y), (right, y)]), Pen(INK, width_pt)))
