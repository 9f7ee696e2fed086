"""Head and foot of the sheet: which place, which level, whose work, what scale, which way up."""

from __future__ import annotations

import math
from typing import Final

import shapely
from shapely import affinity

from hgmap.decide.model import FloorEvidence
from hgmap.field.surface import Surface
from hgmap.field.variogram import AveragedFit
from hgmap.report.cells import Row, row_of
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Area, Drawing, Frame, Item, Label, Path, Pen, Up
from hgmap.report.palette import INK, NOTICE, PAPER, RULE, SOFT
from hgmap.report.typeset import width_mm, wrap
from hgmap.report.words import (
    band_line,
    count,
    day,
    grouped,
    level_line,
    level_value,
    metres,
    named,
    number,
    round_line,
)
from hgmap.site.building import Floor
from hgmap.site.cautions import screening
from hgmap.site.lengths import FOOT_M
from hgmap.site.model import Round, Site

FROM_MEMORY: Final = "Level: value from memory. Read it in its source before anyone relies on it."
INVENTED: Final = "INVENTED DATA"

_DIGITS: Final = (1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.5)


def head(column: Column, site: Site, round_: Round, evidence: FloorEvidence) -> None:
    """Set the name of the site, what was surveyed when, and the level in full."""
    kept = 0.0
    if site.invented:
        kept = _banner(column) + 4.0
    column.line(site.name, 16.0, bold=True, right_mm=kept)
    floor = evidence.floor
    where = f"{floor.title or floor.name}  ·  {round_line(round_)}"
    band = band_line(evidence.band, site.height_bands)
    for line in wrap(f"{where}  ·  {band}", 9.0, column.width_mm - kept, most_lines=2):
        column.line(line, 9.0)
    column.skip(1.0)
    level = evidence.level
    title = f"Action level {level_value(level)}"
    indent = width_mm(title, 9.0, bold=True) + 3.5
    column.draw(Label(column.left_mm, column.top_mm, title, 9.0, INK, True, up="top"))
    column.skip(0.45)
    for line in wrap(level_line(level), TEXT_PT, column.width_mm - indent, most_lines=3):
        column.line(line, TEXT_PT, indent_mm=indent)
    if level.from_memory:
        column.skip(0.4)
        column.line(FROM_MEMORY, TEXT_PT + 0.5, bold=True)
    column.skip(1.6)


def _banner(column: Column) -> float:
    """Draw the banner of invented data at the right of the head; return its width (mm)."""
    note = "made up to show the program; no real place"
    width = max(width_mm(INVENTED, 11.0, bold=True), width_mm(note, SMALL_PT)) + 6.0
    right = column.left_mm + column.width_mm
    box = shapely.box(right - width, column.top_mm - 9.6, right, column.top_mm)
    middle = right - width / 2.0
    column.draw(
        Area(box, fill=NOTICE, pen=Pen(INK, 1.4)),
        Label(middle, column.top_mm - 1.7, INVENTED, 11.0, INK, True, across="centre", up="top"),
        Label(middle, column.top_mm - 6.3, note, SMALL_PT, INK, across="centre", up="top"),
    )
    return width


def caution(site: Site) -> str:
    """Return the sentence that every sheet carries."""
    return screening(site.medium)


def foot_rows(
    site: Site,
    evidence: FloorEvidence,
    method: str,
    sheet_line: str,
    width: float,
    most_lines: int,
) -> tuple[Row, Row]:
    """Return the cells that say whose work this is: two rows of a width (mm)."""
    block = site.title_block
    whose = (
        ("client", block.client),
        ("address", block.address),
        ("project", block.project),
        ("prepared by", block.prepared_by),
        ("reviewed by", block.reviewed_by),
        ("revision", block.revision),
    )
    how = (
        ("instrument", block.instrument or instruments_line(evidence)),
        ("read on", dates_line(evidence)),
        ("method", method),
        ("sheet", sheet_line),
    )
    return row_of(whose, width, most_lines), row_of(how, width, most_lines)


def instruments_line(evidence: FloorEvidence) -> str:
    """Name the instruments that the readings themselves name."""
    return named(sorted({item.reading.instrument for item in evidence.items} - {""}))


def dates_line(evidence: FloorEvidence) -> str:
    """Say on which days the readings of a floor were taken, as far as they say so."""
    days = {item.reading.time.date() for item in evidence.items if item.reading.time is not None}
    if not days:
        return ""
    first, last = min(days), max(days)
    return day(first) if first == last else f"{day(first)} to {day(last)}"


def method_line(surface: Surface | None, evidence: FloorEvidence) -> str:
    """Say how the estimate was made."""
    if surface is None:
        return f"no estimate; {count(len(evidence.used), 'usable reading')}"
    fit = surface.variogram
    doors = bool(surface.settings.get("walls"))
    name = "kriging through the doors" if doors else "ordinary kriging along straight lines"
    if surface.method == "idw":
        way = "through the doors" if doors else "along straight lines"
        name = f"inverse distance weighting {way}, which has no error model"
    scale = "logarithms of concentration" if surface.scale == "log" else "concentration"
    line = (
        f"{name}, {scale}, {count(len(surface.values), 'place')}, "
        f"cells of {surface.raster.cell_m:g} m"
    )
    if isinstance(fit, AveragedFit):
        line += f"; weighed over {count(fit.candidates, 'pair')} of range and nugget"
    return f"{line}; nothing estimated outside rooms"


def denominator(width_m: float, height_m: float, width_mm_: float, height_mm: float) -> float:
    """Return the smallest round scale number at which a floor fits a frame.

    Examples
    --------
    >>> denominator(18.0, 10.0, 190.0, 130.0)
    100.0
    """
    least = max(1000.0 * width_m / width_mm_, 1000.0 * height_m / height_mm, 1.0)
    power = math.floor(math.log10(least))
    for exponent in (power, power + 1):
        for digit in _DIGITS:
            found = digit * 10.0**exponent
            if found >= least * (1.0 - 1e-9):
                return found
    return least


def coarser(scale: float) -> float:
    """Return the next larger round scale number.

    Examples
    --------
    >>> coarser(175.0), coarser(750.0)
    (200.0, 1000.0)
    """
    return denominator(scale * 1.001, 0.0, 1000.0, 1.0)


def scale_bar(left: float, y: float, widest: float, mm_per_m: float, paper: str) -> Drawing:
    """Draw bars of round length in metres and in feet, with the scale as a number for this paper.

    ``widest`` (mm) is the longest that a bar may be; the bar in feet stands on ``y`` (mm).
    """
    return (
        *_bar(left, y + 2.2, widest, mm_per_m, "m", above=True),
        *_bar(left, y, widest, mm_per_m * FOOT_M, "ft", above=False),
        Label(left, y - 3.2, f"1 : {scale_number(mm_per_m)} on {paper}", SMALL_PT, SOFT, up="top"),
    )


def scale_number(mm_per_m: float) -> str:
    """Return n of the scale 1 : n that so many millimetres to the metre are.

    Examples
    --------
    >>> scale_number(10.0), scale_number(1000.0 / 175.0)
    ('100', '175')
    """
    scale = round(1000.0 / mm_per_m, 6)
    return grouped(scale) if scale == round(scale) else number(scale)


def _bar(
    left: float, y: float, widest: float, mm_per_one: float, unit: str, *, above: bool
) -> Drawing:
    """Draw a bar of round length, its ends named above it or under it."""
    longest = widest / mm_per_one
    power = math.floor(math.log10(longest))
    length, parts = max(
        (digit * 10.0**exponent, parts)
        for exponent in (power - 1, power)
        for digit, parts in ((1.0, 5), (2.0, 4), (5.0, 5))
        if digit * 10.0**exponent <= longest
    )
    step = length * mm_per_one / parts
    items: list[Item] = []
    for part in range(parts):
        box = shapely.box(left + part * step, y, left + (part + 1) * step, y + 1.5)
        items.append(Area(box, fill=PAPER if part % 2 else INK, pen=Pen(INK, 0.6)))
    at = y + 2.4 if above else y - 0.8
    up: Up = "baseline" if above else "top"
    last = metres(length).removesuffix("m") + unit
    for part, text in ((0, "0"), (parts, last)):
        items.append(Label(left + part * step, at, text, SMALL_PT, INK, across="centre", up=up))
    return tuple(items)


def north_arrow(x: float, y: float, floor: Floor) -> Drawing:
    """Draw an arrow to the north of a floor; see :func:`arrow_to_north`."""
    return arrow_to_north(x, y, floor.north_deg, of_grid=floor.north_is_grid)


def arrow_to_north(
    x: float, y: float, north_deg: float | None, *, of_grid: bool = False
) -> Drawing:
    """Draw an arrow to a floor's north; where nobody has stated it, it points up and says so.

    North of a map that the building is turned on is called grid north.

    ``(x, y)`` is the centre (mm).
    """
    turn = north_deg or 0.0
    left = shapely.Polygon([(0.0, 4.3), (-1.9, -3.5), (0.0, -2.0)])
    right = shapely.Polygon([(0.0, 4.3), (1.9, -3.5), (0.0, -2.0)])
    items: list[Item] = []
    for half, fill in ((left, INK), (right, PAPER)):
        turned = affinity.rotate(half, -turn, origin=(0.0, 0.0))
        items.append(Area(affinity.translate(turned, x, y), fill=fill, pen=Pen(INK, 0.7)))
    if north_deg is None:
        items.append(Label(x - 4.0, y + 1.0, "plan up", TEXT_PT, INK, across="right"))
        items.append(Label(x - 4.0, y - 2.2, "north not stated", SMALL_PT, SOFT, across="right"))
        return tuple(items)
    if of_grid:
        items.append(Label(x - 4.0, y - 0.6, "grid north", SMALL_PT, SOFT, across="right"))
    angle = math.radians(turn)
    tip = (x + 6.0 * math.sin(angle), y + 6.0 * math.cos(angle))
    items.append(Label(*tip, "N", 8.0, INK, bold=True, across="centre", up="middle"))
    return tuple(items)


def bar_width_mm(frame: Frame) -> float:
    """Return the longest bar (mm) that suits a frame."""
    return min(46.0, 0.3 * frame.width_mm)


def thin_rule(left: float, right: float, y: float) -> Path:
    """Draw a thin line across the page."""
    return Path(shapely.LineString([(left, y), (right, y)]), Pen(RULE, 0.6))


def sheet_line(floor: str, round_name: str, version: str) -> str:
    """Name the sheet of the zones and what made it."""
    return f"zones, {where_line(floor, round_name, version)}"


def where_line(floor: str, round_name: str, version: str) -> str:
    """Name floor, round and program for the foot of a sheet."""
    return f"floor {floor}, round {round_name}; hgmap {version}".strip()


def caution_labels(text: str, left: float, bottom: float, width: float) -> tuple[Label, ...]:
    """Set the caution at the foot of the page, its last line at ``bottom`` (mm); never cut."""
    size = TEXT_PT if width_mm(text, TEXT_PT, bold=True) <= width else TEXT_PT - 0.5
    lines = wrap(text, size, width, bold=True)
    return tuple(
        Label(left, bottom + (len(lines) - 1 - index) * line_mm(size), line, size, INK, True)
        for index, line in enumerate(lines)
    )
