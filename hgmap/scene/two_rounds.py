"""Two rounds on one plan: left of a line as it was, right of it as it is now, in one scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.change_model import FloorChange, Visit
from hgmap.decide.model import ZONE_NAMES, ZoneName
from hgmap.report.drawing import Area, Drawing, Item, Label, Path, Pen, Picture
from hgmap.report.extent import extent
from hgmap.report.palette import INK, PAPER, ZONE_LOOKS
from hgmap.report.plan_drawing import building, openings
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.words import number, published_per_computed
from hgmap.scene.release_scene import paper_under
from hgmap.site.building import Floor

_PT: Final = 8.5
_INK: Final = "#3b2a6b"


@dataclass(frozen=True)
class TwoSides:
    """What is painted of two rounds; ``shades`` are those of both.

    Attributes
    ----------
    pictures : tuple of tuple of Picture
        Of the round before and of the round after, room by room.
    grounds : tuple of dict
        Ground of each zone, before and after.
    titles : tuple of str
    before : Floor
        As it stood in the round before: a door may have been closed then.
    mm_per_m : float
        Of the screen.
    """

    floor: Floor
    extent: tuple[float, float, float, float]
    shades: Shades
    unit: str
    pictures: tuple[tuple[Picture, ...], tuple[Picture, ...]]
    grounds: tuple[dict[ZoneName, BaseGeometry], dict[ZoneName, BaseGeometry]]
    titles: tuple[str, str]
    before: Floor
    mm_per_m: float


def two_sides(change: FloorChange, titles: tuple[str, str], mm_per_m: float) -> TwoSides | None:
    """Lay both rounds of a floor out for a scale (mm of the screen for a metre).

    None where either round has no surface.
    """
    visits = (change.before, change.after)
    shades = shared_shades(*visits)
    if shades is None:
        return None
    floor, level = change.after.evidence.floor, change.after.evidence.level
    factor = published_per_computed(level)
    painted, grounds = [], []
    for visit in visits:
        if visit.surface is None:
            return None
        ground = {
            name: shapely.union_all([z.geometry for z in visit.zones.zones if z.name == name])
            for name in ZONE_NAMES
        }
        painted.append(pictures(visit.surface, floor, shades, factor, mm_per_m, ground["no data"]))
        grounds.append(ground)
    return TwoSides(
        floor, extent(floor), shades, level.unit, (painted[0], painted[1]),
        (grounds[0], grounds[1]), titles,
        change.before.evidence.floor, mm_per_m,
    )  # fmt: skip


def shared_shades(before: Visit, after: Visit) -> Shades | None:
    """Return one scale that holds both rounds: a shade means the same on both sides."""
    if before.surface is None or after.surface is None:
        return None
    both = (
        shades_of(before.surface, before.evidence), shades_of(after.surface, after.evidence)
    )  # fmt: skip
    return Shades(min(one.low for one in both), max(one.high for one in both))


def whole_after(sides: TwoSides) -> Drawing:
    """Return the round after over the whole floor, on paper that hides what is below."""
    return (Area(paper_under(sides.floor), fill=PAPER), *_side(sides, 1, None, hatched=True))


def part_before(sides: TwoSides, x: float, *, hatched: bool = True) -> Drawing:
    """Return the round before left of ``x`` (m), on paper of its own.

    ``hatched``: while the line moves the outlines of the zones have to do.
    """
    west, south, east, north = paper_under(sides.floor).bounds
    if not west < x <= east:
        return ()
    cut = shapely.box(west, south, x, north)
    return (Area(cut, fill=PAPER), *_side(sides, 0, cut, hatched=hatched))


def stood_before(sides: TwoSides, x: float) -> frozenset[str]:
    """Return the ids of the openings left of the line that stood otherwise in the round before."""
    now = {one.id: one.state for one in sides.floor.openings}
    return frozenset(
        one.id for one in sides.before.openings
        if now.get(one.id) != one.state and one.line.centroid.x < x
    )  # fmt: skip


def on_top(sides: TwoSides, before: frozenset[str]) -> Drawing:
    """Draw the building, each opening as it stood on its side of the line."""
    was = {one.id: one for one in sides.before.openings}
    doors = tuple(was[one.id] if one.id in before else one for one in sides.floor.openings)
    floor = replace(sides.floor, openings=doors)
    return (*building(floor), *openings(floor, sides.mm_per_m))


def _side(sides: TwoSides, side: int, cut: BaseGeometry | None, *, hatched: bool) -> Drawing:
    """Paint one round, within ``cut`` where it is given."""

    def within(shape: BaseGeometry) -> BaseGeometry:
        return shape if cut is None else shapely.intersection(shape, cut)

    items: list[Item] = []
    for one in sides.pictures[side]:
        clip = within(shapely.box(*one.bounds) if one.clip is None else one.clip)
        if clip.area > 0.0:
            items.append(Picture(one.rgba, one.bounds, clip))
    for name, shape in sides.grounds[side].items():
        look, here = ZONE_LOOKS[name], within(shape)
        if here.area <= 0.0:
            continue
        if hatched and look.hatch is not None:
            items += [Area(here, hatch=look.hatch_rim), Area(here, hatch=look.hatch)]
        items += [Area(here, pen=look.pen_rim), Area(here, pen=look.pen)]
    return tuple(items)


def handle(sides: TwoSides, x: float) -> Drawing:
    """Draw the line that parts the rounds, and the words of each at its side."""
    south, north = sides.extent[1], sides.extent[3]
    line = shapely.LineString([(x, south), (x, north)])
    middle = (south + north) / 2.0
    scale = f"one scale: {number(sides.shades.low)} to {number(sides.shades.high)} {sides.unit}"

    def said(text: str, across: str, by_pt: float) -> tuple[Label, ...]:
        return (
            Label(x, north, text, _PT, _INK, True, across, "middle", PAPER, (by_pt, 10.0)),  # type: ignore[arg-type]
        )

    return (
        Path(line, Pen(PAPER, 5.0)),
        Path(line, Pen(_INK, 2.2)),
        Label(x, middle, "◀ ▶", 12.0, _INK, True, "centre", "middle", PAPER),
        *said(f"before: {sides.titles[0]}", "right", -8.0),
        *said(f"after: {sides.titles[1]}", "left", 8.0),
        Label(x, south, scale, 7.0, INK, False, "centre", "middle", PAPER, (0.0, -10.0)),
    )
