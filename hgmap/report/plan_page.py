"""A page of A4 that is mostly plan: a head, the plan as large as it goes, a strip, a foot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.drawing import Area, Drawing, Frame, Item, Label, Path, Pen
from hgmap.report.extent import extent, view_start
from hgmap.report.palette import INK, NOTICE, RULE, SOFT
from hgmap.report.title_block import INVENTED, bar_width_mm, denominator, north_arrow, scale_bar
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.site.building import Floor
from hgmap.site.cautions import LICENSED

MARGIN_MM: Final = 12.0
LONG_MM: Final = 297.0
SHORT_MM: Final = 210.0
TEXT_PT: Final = 8.0
SMALL_PT: Final = 6.5
PAD_MM: Final = 3.0
STRIP_MM: Final = 17.0
_NAME_MM: Final = 70.0
KEY_LEFT_MM: Final = 92.0
"""Where the key begins in the strip, right of scale bar and north arrow."""

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the top of a page: the site, the page's title, lines of text."""

    site: str
    title: str
    lines: tuple[str, ...]
    invented: bool


@dataclass(frozen=True, slots=True)
class PlanPage:
    """Paper of one page with head, scale bar and foot set, and an empty frame for the plan."""

    width_mm: float
    height_mm: float
    frame: Frame
    items: tuple[Item, ...]
    strip_mm: float


def plan_page(head: Head, floor: Floor, bounds: Bounds, foot: str) -> PlanPage:
    """Lay out a page round a part of a floor (west, south, east, north, m); it lies as that does.

    ``foot`` stands over the sentence that every sheet carries.
    """
    west, south, east, north = bounds
    tall = north - south > east - west
    width, height = (SHORT_MM, LONG_MM) if tall else (LONG_MM, SHORT_MM)
    inner = width - 2.0 * MARGIN_MM
    top, items = head_items(head, width, height)
    bottom, low = foot_items(foot, width)
    items.extend(bottom)
    strip = low + STRIP_MM
    room = top - strip
    scale = denominator(east - west, north - south, inner - 2.0 * PAD_MM, room - 2.0 * PAD_MM)
    mm_per_m = 1000.0 / scale
    whole, pad = extent(floor), PAD_MM / mm_per_m
    frame = Frame(
        (), MARGIN_MM, strip, inner, room,
        view_start((west, east), inner / mm_per_m, (whole[0] - pad, whole[2] + pad)),
        view_start((south, north), room / mm_per_m, (whole[1] - pad, whole[3] + pad)),
        mm_per_m,
    )  # fmt: skip
    items.extend(scale_bar(MARGIN_MM + 2.0, low + 7.0, min(46.0, bar_width_mm(frame)), mm_per_m,
                           "A4 paper"))  # fmt: skip
    items.extend(north_arrow(MARGIN_MM + 70.0, low + 8.0, floor))
    return PlanPage(width, height, frame, tuple(items), strip)


def head_items(head: Head, width: float, height: float) -> tuple[float, list[Item]]:
    """Set the head of a page; return where it ends (mm) and what is drawn."""
    top, right, items = height - MARGIN_MM, width - MARGIN_MM, list[Item]()
    inner = width - 2.0 * MARGIN_MM
    kept = 0.0
    if head.invented:
        wide = width_mm(INVENTED, 11.0, bold=True) + 8.0
        box = shapely.box(right - wide, top - 8.5, right, top)
        items.append(Area(box, fill=NOTICE, pen=Pen(INK, 1.4)))
        items.append(Label(right - wide / 2.0, top - 4.25, INVENTED, 11.0, INK, True,
                           across="centre", up="middle"))  # fmt: skip
        kept = wide + 4.0
    for text, size in ((head.title, 13.0), (head.site, 9.0)):
        items.append(Label(MARGIN_MM, top, fit(text, size, inner - kept, size > 10.0), size, INK,
                           size > 10.0, up="top"))  # fmt: skip
        top -= line_mm(size) + 0.6
    for text in head.lines:
        for line in wrap(text, TEXT_PT, inner, most_lines=3):
            items.append(Label(MARGIN_MM, top, line, TEXT_PT, INK, up="top"))
            top -= line_mm(TEXT_PT)
    top -= 0.8
    items.append(Path(shapely.LineString([(MARGIN_MM, top), (right, top)]), Pen(RULE, 0.6)))
    return top - 1.0, items


def foot_items(text: str, width: float) -> tuple[list[Item], float]:
    """Set the foot of a page; return what is drawn and where it begins (mm)."""
    inner = width - 2.0 * MARGIN_MM - 26.0  # the page's number stands at the right
    lines = [(line, INK, True) for line in wrap(LICENSED, TEXT_PT, inner, bold=True)]
    lines = [*((line, SOFT, False) for line in wrap(text, SMALL_PT, inner)), *lines]
    y, items = MARGIN_MM - 4.0, list[Item]()
    for line, colour, bold in reversed(lines):
        size = TEXT_PT if bold else SMALL_PT
        items.append(Label(MARGIN_MM, y, line, size, colour, bold))
        y += line_mm(size)
    return items, y + 0.5


def page_number(width: float, number: int, of: int) -> Label:
    """Set the number of a page into its foot."""
    return Label(width - MARGIN_MM, MARGIN_MM - 4.0, f"page {number} of {of}", SMALL_PT, SOFT,
                 across="right")  # fmt: skip


def name_on_plan(name: str) -> str:
    """Return a room's name, cut where it would run over half of the plan."""
    return fit(name, TEXT_PT, _NAME_MM)


def filled(frame: Frame, drawing: Drawing) -> Frame:
    """Put a drawing into an empty frame."""
    return Frame(
        drawing, frame.left_mm, frame.bottom_mm, frame.width_mm, frame.height_mm, frame.west_m,
        frame.south_m, frame.mm_per_m,
    )  # fmt: skip
