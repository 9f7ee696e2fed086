"""The plan on the map: buildings, control points, and how far the fit misses each of them.

Everything is drawn in map coordinates, up is grid north. Misses are drawn so many times as long as
they are; how many stands in the key.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.report.drawing import (
    CAP_HEIGHT,
    PT_PER_MM,
    Dot,
    Drawing,
    Frame,
    Item,
    Label,
    Path,
    Pen,
    Sheet,
)
from hgmap.report.free_paper import on_paper
from hgmap.report.labels import Paper
from hgmap.report.map_page import (
    OTHER,
    ROUND,
    building_name,
    map_net,
    map_page,
    near,
    paper_of,
    whole,
)
from hgmap.report.palette import INK, PAPER, SOFT
from hgmap.report.plan_drawing import building
from hgmap.report.plan_page import (
    KEY_LEFT_MM,
    MARGIN_MM,
    SMALL_PT,
    TEXT_PT,
    Head,
    filled,
    page_number,
)
from hgmap.report.typeset import fit, width_mm, width_pt
from hgmap.report.wanted import Wanted
from hgmap.site.building import Floor, Opening, Room

MARK_PT: Final = 8.0
LONGEST_MM: Final = 14.0
"""The longest miss on paper."""
_MOST_NAMED: Final = 80
"""Points with a name and a number; more of them would cover the plan."""
_REACH: Final = Pen("#5c6166", 0.7)
_MISS: Final = Pen("#c74a00", 1.4)
_POINT: Final = Pen("#00508a", 1.3)
_DEED: Final = Pen("#5c6166", 1.1, (5.0, 2.5))
FOOT: Final = (
    "Plan and control points in map coordinates (m). What stands on the map is no better than the "
    "points it was fitted to."
)


@dataclass(frozen=True)
class OnTheMap:
    """What the picture shows, in map coordinates (m).

    Attributes
    ----------
    floors : sequence of Floor
        Of the building that was fitted; each has its frame. The first is drawn whole.
    others : mapping of names to shapes
        The ground of the other buildings.
    names : sequence of str
        The control points.
    given, residuals : array of shape (n, 2)
        Where they were measured, and what the fit makes of them, less that.
    outline : Polygon or None
        The figure of a deed.
    """

    floors: Sequence[Floor]
    others: dict[str, BaseGeometry]
    names: Sequence[str]
    given: NDArray[np.float64]
    residuals: NDArray[np.float64]
    outline: BaseGeometry | None = None


def frame_sheet(shown: OnTheMap, head: Head, author: str = "") -> Sheet:
    """Lay the picture out on A4; the lines of ``head`` say the fit."""
    page, base = map_page(head, _shapes(shown), FOOT)
    floors = [_moved(floor, base) for floor in shown.floors]
    frame = page.frame
    times = _times(shown.residuals, frame.mm_per_m)
    others = {name: whole(near(shape, base)) for name, shape in shown.others.items()}
    deed = None if shown.outline is None else near(shown.outline, base)
    reach = [whole(floor.outline) for floor in floors]
    shapes = [room.polygon for floor in floors[:1] for room in floor.rooms]
    paper = paper_of([*shapes, *reach, *others.values(), *([deed] if deed else [])], frame)
    lines, ticks = map_net(frame, base, paper)
    drawing: list[Item] = [*lines]
    drawing += [Path(shape.boundary, OTHER) for shape in others.values() if not shape.is_empty]
    # one plan over another is no plan: of the other floors only how far they reach
    drawing += [Path(shape.boundary, _REACH) for shape in reach[1:]]
    for floor in floors[:1]:
        drawing += building(floor)
    if deed is not None:
        drawing.append(Path(deed.boundary, _DEED))
    given = shown.given - base
    drawing += _misses(given, shown.residuals * times, paper, frame)
    drawing += _named_points(shown, given, paper, frame)
    drawing += [label for name, shape in others.items() if name
                for label in building_name(name, shape, paper, frame)]  # fmt: skip
    items = (*page.items, *ticks, *_key(page.strip_mm, times, frame, shown),
             page_number(page.width_mm, 1, 1))  # fmt: skip
    title = f"{head.site}: {head.title}"
    return Sheet(page.width_mm, page.height_mm, (filled(frame, tuple(drawing)),), items, title,
                 author)  # fmt: skip


def _shapes(shown: OnTheMap) -> list[BaseGeometry]:
    shapes: list[BaseGeometry] = [shapely.MultiPoint(shown.given), *shown.others.values()]
    shapes += [_on_map(floor.outline, floor) for floor in shown.floors]
    return shapes if shown.outline is None else [*shapes, shown.outline]


def _on_map(shape: BaseGeometry, floor: Floor) -> BaseGeometry:
    return shape if floor.map_frame is None else floor.map_frame.place(shape)


def _moved(floor: Floor, base: NDArray[np.float64]) -> Floor:
    """Return a floor as it lies on the map, from a place near it."""

    def put(shape: BaseGeometry) -> BaseGeometry:
        return near(_on_map(shape, floor), base)

    return replace(
        floor,
        rooms=tuple(Room(one.id, one.name, put(one.polygon)) for one in floor.rooms),
        walls=tuple(put(one) for one in floor.walls),
        openings=tuple(Opening(one.id, put(one.line), one.state) for one in floor.openings),
    )


def _times(residuals: NDArray[np.float64], mm_per_m: float) -> float:
    """Return how many times as long a miss is drawn: 1, 2 or 5 times a power of ten."""
    longest = float(np.hypot(*residuals.T).max(initial=0.0))
    if longest < 1e-6:  # an exact fit: nothing is drawn
        return 1.0
    most = LONGEST_MM / (longest * mm_per_m)
    tens = 10.0 ** math.floor(math.log10(most))
    return max(1.0, max(step * tens for step in ROUND if step * tens <= most))


def _misses(
    given: NDArray[np.float64], drawn: NDArray[np.float64], paper: Paper, frame: Frame
) -> Drawing:
    """Draw an arrow from every point to where the fit has it, longer than it is."""
    items: list[Item] = []
    for start, step in zip(given, drawn, strict=True):
        long_mm = float(np.hypot(*step)) * frame.mm_per_m
        if long_mm < 0.3:
            continue
        end = start + step
        along = step / np.hypot(*step)
        head = min(1.8, 0.5 * long_mm) / frame.mm_per_m
        across = np.array([-along[1], along[0]]) * 0.45 * head
        back = end - along * head
        items.append(Path(shapely.LineString([start, end]), _MISS))
        items.append(Path(shapely.LineString([back + across, end, back - across]), _MISS))
        line = on_paper(shapely.LineString([start, end]), frame)
        boxes = [piece.buffer(1.5).bounds for piece in _pieces(line)]
        paper.take(np.array(boxes))
    return tuple(items)


def _pieces(line: BaseGeometry) -> list[BaseGeometry]:
    """Cut a line into short pieces, whose boxes cover little but the line."""
    cut = max(1, math.ceil(line.length / 4.0))
    at = [line.interpolate(k / cut, normalized=True) for k in range(cut + 1)]
    return [shapely.LineString([at[k], at[k + 1]]) for k in range(cut)]


def _named_points(
    shown: OnTheMap, given: NDArray[np.float64], paper: Paper, frame: Frame
) -> Drawing:
    """Mark every point, and write its name and by how much it is missed where there is room."""
    items: list[Item] = []
    places = [on_paper(shapely.Point(one), frame) for one in given]
    half = MARK_PT / 2.0
    for (x, y), at in zip(given.tolist(), places, strict=True):
        items.append(Dot(x, y, MARK_PT, "circle", PAPER, _POINT))
        items.append(Dot(x, y, MARK_PT, "plus", None, _POINT))
        paper.take(np.array([at.x - half, at.y - half, at.x + half, at.y + half]))
    missed = np.hypot(*shown.residuals.T)
    worst = np.argsort(-missed, kind="stable")[:_MOST_NAMED]
    for k in worst.tolist():
        text = f"{fit(shown.names[k], TEXT_PT, 30.0)}  {missed[k] * 1000.0:.0f} mm"
        items += _label(text, places[k], paper, frame, given[k])
    return tuple(items)


def _label(
    text: str, at: BaseGeometry, paper: Paper, frame: Frame, place: NDArray[np.float64]
) -> Drawing:
    wide, high = width_pt(text, TEXT_PT), TEXT_PT * CAP_HEIGHT
    x, y = at.x, at.y
    half = MARK_PT / 2.0
    spot = paper.place(
        Wanted(x, y, wide, high + 1.0, half + 2.5, longest=95.0, anywhere=True),
        (x - half, y - half, x + half, y + half),
    )
    if spot is None:
        return ()
    middle = spot.centre
    # a pt of the paper in metres
    step = 1.0 / (frame.mm_per_m * PT_PER_MM)
    items: list[Item] = []
    if spot.leader is not None:
        ends = [(frame.west_m + px * step, frame.south_m + py * step) for px, py in spot.leader]
        items.append(Path(shapely.LineString([place, ends[1]]), Pen(SOFT, 0.5)))
    items.append(Label(frame.west_m + middle[0] * step, frame.south_m + middle[1] * step, text,
                       TEXT_PT, INK, across="centre", up="middle", halo=PAPER))  # fmt: skip
    return tuple(items)


def _key(strip_mm: float, times: float, frame: Frame, shown: OnTheMap) -> list[Item]:
    left, y = MARGIN_MM + KEY_LEFT_MM, strip_mm - 5.0
    items: list[Item] = [
        Dot(left + 3.0, y, MARK_PT, "circle", PAPER, _POINT),
        Dot(left + 3.0, y, MARK_PT, "plus", None, _POINT),
        Label(left + 8.0, y, "control point, with the distance that the fit misses it by",
              SMALL_PT, up="middle"),
    ]  # fmt: skip
    y -= 4.5
    longest = float(np.hypot(*shown.residuals.T).max(initial=0.0))
    if longest * times * frame.mm_per_m >= 0.3:
        head = shapely.LineString([(left + 4.6, y + 0.7), (left + 6.0, y), (left + 4.6, y - 0.7)])
        items += [
            Path(shapely.LineString([(left, y), (left + 6.0, y)]), _MISS),
            Path(head, _MISS),
            Label(left + 8.0, y, "to where the fit has it, drawn "
                  f"{times:g} times as long (6 mm are {_length(6.0 / frame.mm_per_m / times)})",
                  SMALL_PT, up="middle"),
        ]  # fmt: skip
    else:
        items.append(Label(left + 8.0, y, "the fit goes through every point: no miss is drawn",
                           SMALL_PT, up="middle"))  # fmt: skip
    y -= 4.5
    x = left
    samples = (
        (len(shown.floors) > 1, "another floor", _REACH),
        (any(not one.is_empty for one in shown.others.values()), "another building", OTHER),
        (shown.outline is not None, "the deed", _DEED),
    )
    for drawn, text, pen in samples:
        if drawn:
            items.append(Path(shapely.LineString([(x, y), (x + 6.0, y)]), pen))
            items.append(Label(x + 8.0, y, text, SMALL_PT, up="middle"))
            x += 16.0 + width_mm(text, SMALL_PT)
    return items


def _length(metres: float) -> str:
    return f"{metres:.2g} m" if metres >= 0.1 else f"{metres * 1000.0:.2g} mm"
