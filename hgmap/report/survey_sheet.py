"""The map of a survey's gaps: how large a hot spot its readings would have found, place by place.

Classes of radius differ by lightness and by hatch, and every room has its number in print.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from hgmap.decide.design.on_plan import SurveyGaps
from hgmap.decide.model import FloorEvidence
from hgmap.field.raster import Raster
from hgmap.report.drawing import PT_PER_MM, Area, Drawing, Hatch, Item, Label, Pen, Picture, Sheet
from hgmap.report.extent import extent
from hgmap.report.free_paper import free_paper, on_paper
from hgmap.report.marks import half_width_pt, kind_of, mark
from hgmap.report.palette import INK, PAPER
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_page import (
    KEY_LEFT_MM,
    MARGIN_MM,
    SMALL_PT,
    Head,
    PlanPage,
    filled,
    name_on_plan,
    page_number,
    plan_page,
)
from hgmap.report.room_names import names_in_rooms, names_outside
from hgmap.report.typeset import width_mm, width_pt
from hgmap.report.words import band_line, count, level_value, round_line
from hgmap.site.building import Floor
from hgmap.site.model import Round, Site

EDGES_M: Final = (1.0, 2.0, 3.0, 5.0)
"""Upper ends of the classes but the last."""

SHADES: Final = ("#fbfaf4", "#e0e3d1", "#bac7bb", "#8fa5a9", "#647d8d")
UNREAD: Final = Hatch("cross", "#3a3f44", 5.0, 0.7)
_PIXEL_MM: Final = 0.3
_MOST_PIXELS: Final = 1600
_FAR_M: Final = 1e6

FOOT: Final = (
    "The shade of a place: radius of the smallest hot spot with its middle there that holds a "
    "reading; it ends at walls and doors. A smaller one may have been missed, and so may one that "
    "gave off little at the time."
)


def survey_sheet(site: Site, round_: Round, evidence: FloorEvidence, gaps: SurveyGaps) -> Sheet:
    """Lay out the map of one floor on A4.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence : FloorEvidence
        The readings that count are its ``used`` ones.
    gaps : SurveyGaps
        Of the same floor.
    """
    floor = evidence.floor
    title = f"How large a hot spot would have been found, {floor.title or floor.name}"
    share = f"{gaps.probability * 100:g} %"
    lines = (
        f"{round_line(round_)}  ·  {band_line(evidence.band, site.height_bands)}  ·  "
        f"{count(len(evidence.used), 'reading')} that can see {level_value(evidence.level)}",
        f"The number after a room's name: the radius that was found there with {share}, rounded "
        "up; none: no reading counts, every size would have been missed",
    )
    page = plan_page(Head(site.name, title, lines, site.invented), floor, extent(floor), FOOT)
    drawing, unnamed = _plan(evidence, gaps, page)
    items = (*page.items, *_key(page, unnamed), page_number(page.width_mm, 1, 1))
    return Sheet(page.width_mm, page.height_mm, (filled(page.frame, drawing),), items,
                 f"{site.name}: {title}", site.title_block.prepared_by)  # fmt: skip


def _plan(
    evidence: FloorEvidence, gaps: SurveyGaps, page: PlanPage
) -> tuple[Drawing, tuple[str, ...]]:
    floor, frame = evidence.floor, page.frame
    rooms = [on_paper(room.polygon, frame) for room in floor.rooms]
    paper = free_paper(floor, frame, rooms)
    dots: list[Item] = []
    for item in evidence.used:
        x, y = item.reading.x, item.reading.y
        if x is None or y is None:
            continue
        kind = kind_of(item)
        dots += mark(kind, x, y)
        half = half_width_pt(kind, above=False)
        at = on_paper(shapely.Point(x, y), frame)
        paper.take(np.array([at.x - half, at.y - half, at.x + half, at.y + half]))
    names = [
        f"{name_on_plan(row.room_name or row.room)}: {found_words(row.radius_m)}"
        for row in gaps.rows
    ]
    named, unset = names_in_rooms(names, rooms, frame, paper)
    outside, leaders, unnamed = names_outside(names, rooms, unset, frame, paper)
    under = _under([*named, *outside], frame.mm_per_m * PT_PER_MM)
    unread = [
        Area(room.polygon.difference(under), hatch=UNREAD)
        for room, row in zip(floor.rooms, gaps.rows, strict=True)
        if not row.readings
    ]
    return (
        *_shaded(floor, gaps, frame.mm_per_m),
        *unread,
        *building(floor),
        *openings(floor, frame.mm_per_m),
        *dots,
        *named,
        *leaders,
        *outside,
    ), unnamed


def _under(names: list[Item], pt_per_m: float) -> BaseGeometry:
    """Return the ground (m) under names in their rooms: a hatch through letters is not read."""
    boxes = []
    for one in names:
        if isinstance(one, Label) and one.up == "top":
            half = width_pt(one.text, one.size_pt) / 2.0 + 2.0
            low, high = one.y - (one.size_pt + 1.0) / pt_per_m, one.y + 2.0 / pt_per_m
            boxes.append(shapely.box(one.x - half / pt_per_m, low, one.x + half / pt_per_m, high))
    return shapely.union_all(boxes)


def found_words(radius_m: float) -> str:
    """Write a radius (m), rounded up to a tenth; ``none`` where every size would be missed.

    Examples
    --------
    >>> found_words(1.21), found_words(math.inf)
    ('1.3 m', 'none')
    """
    return f"{math.ceil(radius_m * 10.0 - 1e-9) / 10.0:.1f} m" if math.isfinite(radius_m) else (
        "none")  # fmt: skip


def _shaded(floor: Floor, gaps: SurveyGaps, mm_per_m: float) -> list[Picture]:
    """Paint the classes, each room from its own cells; a room without a cell stays white.

    Ground that is walled off from every reading of its room has the widest class.
    """
    raster = Raster.over(floor, gaps.cell_m)
    table = np.array([[int(c[k : k + 2], 16) for k in (1, 3, 5)] + [255] for c in SHADES], np.uint8)
    painted = []
    radii = np.minimum(gaps.radius_m, _FAR_M)
    for index, room in enumerate(floor.rooms):
        held = raster.room_index == index
        if not gaps.rows[index].readings or not held.any():
            continue
        rows, columns = ndimage.find_objects(held.astype(np.uint8))[0]
        window = _carried(radii[rows, columns], held[rows, columns])
        west, south, east, north = room.polygon.bounds
        high, wide = (
            int(min(_MOST_PIXELS, max(2, math.ceil(side * mm_per_m / _PIXEL_MM))))
            for side in (north - south, east - west)
        )
        y = north - (np.arange(high) + 0.5) * (north - south) / high
        x = west + (np.arange(wide) + 0.5) * (east - west) / wide
        grid = np.meshgrid(
            (y - raster.y[rows][0]) / raster.cell_m, (x - raster.x[columns][0]) / raster.cell_m,
            indexing="ij",
        )  # fmt: skip
        radius = ndimage.map_coordinates(window, grid, order=1, mode="nearest")
        classes = np.searchsorted(EDGES_M, radius - 1e-9)
        painted.append(Picture(table[classes], (west, south, east, north), room.polygon))
    return painted


def _carried(values: NDArray[np.float64], held: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Carry the nearest cell of the room into the cells that are not the room's."""
    if held.all():
        return values
    row, column = ndimage.distance_transform_edt(~held, return_distances=False, return_indices=True)
    carried: NDArray[np.float64] = values[row, column]
    return carried


def _key(page: PlanPage, unnamed: tuple[str, ...]) -> list[Item]:
    """Show the classes and the marks in the strip under the plan."""
    left, top = MARGIN_MM + KEY_LEFT_MM, page.strip_mm - 3.4
    items: list[Item] = []
    ends = [
        f"up to {EDGES_M[0]:g} m",
        *(f"{low:g} to {high:g} m" for low, high in pairwise(EDGES_M)),
        f"over {EDGES_M[-1]:g} m",
        "unread",
    ]
    wide = 15.0
    for k, text in enumerate(ends):
        x = left + wide * k
        box = shapely.box(x, top - 4.0, x + wide - 1.0, top)
        fill, hatch = (SHADES[k], None) if k < len(SHADES) else (PAPER, UNREAD)
        items.append(Area(box, fill=fill, hatch=hatch, pen=Pen(INK, 0.6)))
        items.append(Label(x + (wide - 1.0) / 2.0, top - 5.2, text, SMALL_PT, across="centre",
                           up="top"))  # fmt: skip
    y = top - 10.6
    items += [*mark("used", left + 1.5, y), Label(left + 4.0, y, "reading", SMALL_PT, up="middle")]
    x = left + 20.0
    items += [*mark("non-detect", x, y), Label(x + 2.5, y, "non-detect", SMALL_PT, up="middle")]
    if unnamed:
        text = f"{count(len(unnamed), 'room')} too small for name and number: see the table"
        items.append(Label(x + 8.0 + width_mm("non-detect", SMALL_PT), y, text, SMALL_PT,
                           up="middle"))  # fmt: skip
    return items
