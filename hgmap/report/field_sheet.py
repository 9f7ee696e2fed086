"""The field sheet of a floor: a map with numbered places in the order of the walk, then blanks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

import shapely

from hgmap.decide.design.places import DesignPlace
from hgmap.decide.design.visits import FloorWalk, Visit
from hgmap.report.drawing import Dot, Drawing, Frame, Item, Label, Path, Pen, Sheet
from hgmap.report.extent import extent
from hgmap.report.field_rows import Line, table_pages
from hgmap.report.free_paper import also_clear_of, free_paper, on_paper
from hgmap.report.numbered import SIDE_PT, numbered_places
from hgmap.report.palette import INK, PAPER
from hgmap.report.plan_drawing import building, opening_sample, openings
from hgmap.report.plan_page import (
    KEY_LEFT_MM,
    LONG_MM,
    MARGIN_MM,
    SHORT_MM,
    SMALL_PT,
    Bounds,
    Head,
    PlanPage,
    filled,
    name_on_plan,
    page_number,
    plan_page,
)
from hgmap.report.room_names import names_in_rooms, names_outside
from hgmap.report.typeset import width_mm
from hgmap.report.words import count, named
from hgmap.site.model import Site

MOST_ON_A_MAP: Final = 60
"""Places that one map numbers; of more, each stretch of the walk gets a map of its own."""

IN_ORDER: Final = "place, in the order of the walk"

_ROUND_PLACES_M: Final = 1.5
_ROUND_PLACES: Final = 0.12
"""Ground shown round the places of a stretch: metres at least, and as a share of their extent."""

_SEEN: Final = 0.3
_SEEN_PAPER: Final = 0.05
"""Shares of a room, and of the paper, above which a room that is partly seen gets its name."""

BEFORE: Final = (
    # common practice, no source
    "Before you go in: agree on the reading at which everybody leaves, and who is told. Go from "
    "clean rooms to doubtful ones, do not step on what you see, and keep the inlet off the floor "
    "and off liquid."
)
WAY: Final = Pen("#5c6166", 0.7, (3.0, 2.0))


def field_sheets(
    site: Site,
    design: FloorWalk,
    *,
    before: Sequence[DesignPlace] = (),
    after: Sequence[DesignPlace] = (),
    lines: Sequence[str] = (),
    start: tuple[float, float] | None = None,
    title: str = "Field sheet",
    numbers: str = IN_ORDER,
    says: Mapping[int, str] | None = None,
) -> list[Sheet]:
    """Lay out the field sheet of one floor on A4.

    Parameters
    ----------
    site : Site
    design : FloorWalk
        Of the floor.
    before, after : sequence of DesignPlace
        What has no place on a floor and is taken before and after its walk.
    lines : sequence of str
        How the places were chosen, for the first page.
    start : tuple of float, optional
        Where the walk begins (m).
    title : str
        What the sheet is, before the floor's title.
    numbers : str
        What the numbers of the places are, for the key.
    says : mapping of int to str, optional
        A line under the first row of a place, by its number.

    Returns
    -------
    list of Sheet
        Maps first, each of a stretch of the walk, then the table with blanks.
    """
    floor = design.floor
    title = f"{title}, {floor.title or floor.name}"
    stretches = _stretches(design.places)
    pages: list[tuple[float, float, tuple[Item, ...], Drawing, PlanPage | None]] = []
    for number, (first, last) in enumerate(stretches):
        texts = [f"{count(design.places, 'place')} in the order of the walk, "
                 f"{count(len(design.visits), 'reading')}; the table follows the map"]  # fmt: skip
        if len(stretches) > 1:
            texts[0] += f". This map: places {first} to {last}"
        if number == 0:
            texts += lines
        if design.source_room and number == len(stretches) - 1:
            texts.append(f"{design.source_room} comes last: the highest air is expected there.")
        if design.unreachable:
            texts.append(f"No way on foot to: {named(design.unreachable, 4)}. Their places stand "
                         "at the end; find out why before they are left out.")  # fmt: skip
        head = Head(site.name, title, tuple(texts), site.invented)
        bounds = _bounds(design, first, last, whole=len(stretches) == 1)
        page = plan_page(head, floor, bounds, BEFORE)
        drawing, unnamed = walk_on_plan(
            design, page.frame, first, last, start if number == 0 else None
        )
        items = (
            *page.items,
            *_key(page, bool(design.way), start is not None and number == 0, unnamed, numbers),
        )
        pages.append((page.width_mm, page.height_mm, items, drawing, page))
    head = Head(site.name, f"{title}: readings", (), site.invented)
    rows = _table(design.visits, before, after, says or {})
    pages += [(SHORT_MM, LONG_MM, items, (), None) for items in table_pages(head, rows, BEFORE)]
    sheets = []
    for number, (width, height, items, drawing, page_) in enumerate(pages, start=1):
        frames = () if page_ is None else (filled(page_.frame, drawing),)
        done = (*items, page_number(width, number, len(pages)))
        sheets.append(Sheet(width, height, frames, done, f"{site.name}: {title}",
                            site.title_block.prepared_by))  # fmt: skip
    return sheets


def _stretches(places: int) -> list[tuple[int, int]]:
    """Cut a walk into even stretches of no more places than one map can number."""
    parts = max(1, -(-places // MOST_ON_A_MAP))
    ends = [round(places * part / parts) for part in range(parts + 1)]
    return [(a + 1, b) for a, b in pairwise(ends)]


def _bounds(design: FloorWalk, first: int, last: int, *, whole: bool) -> Bounds:
    """Return the whole floor, or the ground round the places of a stretch (m)."""
    if whole:
        return extent(design.floor)
    wanted = [one.place for one in design.visits if first <= one.number <= last]
    spots = shapely.points([(one.x, one.y) for one in wanted])
    west, south, east, north = (float(v) for v in shapely.total_bounds(spots))
    edge = max(_ROUND_PLACES_M, _ROUND_PLACES * max(east - west, north - south))
    # never more than there is: the paper is for the plan
    low, high = extent(design.floor)[:2], extent(design.floor)[2:]
    return (
        max(west - edge, low[0]),
        max(south - edge, low[1]),
        min(east + edge, high[0]),
        min(north + edge, high[1]),
    )


def walk_on_plan(
    design: FloorWalk,
    frame: Frame,
    first: int,
    last: int,
    start: tuple[float, float] | None,
) -> tuple[Drawing, tuple[str, ...]]:
    """Draw the building, the way, the places and the names; return rooms without a name too.

    ``first`` and ``last`` are the numbers of the places that are drawn.
    """
    floor = design.floor
    rooms = [on_paper(room.polygon, frame) for room in floor.rooms]
    paper = free_paper(floor, frame, rooms)
    spots = {one.number: one.place for one in reversed(design.visits)}
    home = {room.id: shape for room, shape in zip(floor.rooms, rooms, strict=True)}
    here = [(number, spots[number]) for number in range(first, last + 1) if number in spots]
    leaders, circles = numbered_places(here, home, frame, paper)
    sheet = shapely.box(*paper.edge)
    parts = [room.intersection(sheet) for room in rooms]
    least = _SEEN_PAPER * sheet.area
    seen = [k for k, one in enumerate(parts) if one.area > min(_SEEN * rooms[k].area, least)]
    names = [name_on_plan(floor.rooms[k].name or floor.rooms[k].id) for k in seen]
    shown = [parts[k] for k in seen]
    legs = [leg for number, leg in design.way if first <= number <= last]
    paper = also_clear_of(paper, legs, frame)
    named, unset = names_in_rooms(names, shown, frame, paper)
    outside, lines, unnamed = names_outside(names, shown, unset, frame, paper)
    way: list[Item] = [Path(leg, WAY) for leg in legs]
    if start is not None:
        way += list(start_mark(*start))
    body = (*building(floor), *openings(floor, frame.mm_per_m))
    return (*body, *way, *named, *lines, *leaders, *circles, *outside), unnamed


def start_mark(x: float, y: float) -> Drawing:
    """Draw where the walk begins."""
    return (
        Dot(x, y, 9.0, "triangle", PAPER, Pen(PAPER, 2.4)),
        Dot(x, y, 8.0, "triangle", INK, Pen(PAPER, 0.6)),
    )


def _key(
    page: PlanPage, way: bool, start: bool, unnamed: tuple[str, ...], numbers: str
) -> list[Item]:
    """Say in the strip under the plan what its marks mean."""
    left = MARGIN_MM + KEY_LEFT_MM
    top = page.strip_mm - 3.6
    items: list[Item] = [
        Dot(left + 3.0, top, SIDE_PT, "circle", PAPER, Pen(INK, 1.0)),
        Label(left + 3.0, top, "1", 6.5, INK, True, across="centre", up="middle"),
        Label(left + 8.0, top, numbers, SMALL_PT, up="middle"),
    ]
    if way:
        items += [
            Path(shapely.LineString([(left, top - 5.0), (left + 6.0, top - 5.0)]), WAY),
            Label(left + 8.0, top - 5.0, "the walk", SMALL_PT, up="middle"),
        ]
    if start:
        items += [*start_mark(left + 26.0, top - 5.0),
                  Label(left + 29.0, top - 5.0, "begins here", SMALL_PT, up="middle")]  # fmt: skip
    right = left + 12.0 + width_mm(numbers, SMALL_PT)
    for row, state in enumerate(("open", "closed", "sealed")):
        items += opening_sample(state, right + 2.5, top - 4.0 * row, 6.0)
        items.append(Label(right + 13.0, top - 4.0 * row, f"{state} on the plan", SMALL_PT,
                           up="middle"))  # fmt: skip
    if unnamed:
        text = f"{count(len(unnamed), 'room')} too small for the name"
        items.append(Label(left, top - 9.6, text, SMALL_PT, up="middle"))
    return items


def _table(
    visits: Sequence[Visit],
    before: Sequence[DesignPlace],
    after: Sequence[DesignPlace],
    says: Mapping[int, str],
) -> list[Line]:
    first = {one.number: k for k, one in reversed(list(enumerate(visits)))}
    return [
        *(Line(None, one) for one in before),
        *(
            Line(one.number, one.place, says.get(one.number, "") if first[one.number] == k else "")
            for k, one in enumerate(visits)
        ),
        *(Line(None, one) for one in after),
    ]
