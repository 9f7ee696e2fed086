"""What imaginary readings would change, drawn so that nobody takes it for what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Zones
from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import INK, PAPER, ZONE_LOOKS
from hgmap.site.reading import Reading

SMALLEST_M2: Final = 0.5
"""Ground that would be in another zone is drawn from here on (m²)."""
_LABELLED_M2: Final = 1.5
_DASHES: Final = (5.0, 4.0)
_PT: Final = 7.0
_WORDS_PT: Final = -14.0
_BELOW_WORDS_PT: Final = _WORDS_PT - 1.5 * _PT


def imaginary_signs(readings: Sequence[Reading]) -> Drawing:
    """Draw a broken diamond and the word at every imaginary place."""
    items: list[Item] = []
    for one in readings:
        if one.x is None or one.y is None:
            continue
        sign = one.qualifier if one.qualifier in ("<", ">", "~") else ""
        value = "" if one.value is None else f": {sign}{one.value:g} {one.unit}"
        items += [
            Dot(one.x, one.y, 15.0, "diamond", PAPER, Pen(PAPER, 4.0)),
            Dot(one.x, one.y, 15.0, "diamond", PAPER, Pen(INK, 1.4, (2.0, 1.6))),
            Dot(one.x, one.y, 5.0, "plus", None, Pen(INK, 1.0)),
            Label(one.x, one.y, f"{one.id}{value}", _PT, INK, True, "centre", "middle", PAPER,
                  (0.0, _WORDS_PT)),
        ]  # fmt: skip
    return tuple(items)


def what_if_scene(now: Zones, then: Zones, readings: Sequence[Reading]) -> Drawing:
    """Outline, broken, the ground that would be in another zone, and say in which."""
    items: list[Item] = []
    labels: list[Item] = []
    before = now.by_room()
    for room, zones in then.by_room().items():
        largest: tuple[float, Item] | None = None
        for zone in zones:
            others = [one.geometry for one in before.get(room, []) if one.name != zone.name]
            if not others:
                continue
            ground = zone.geometry.intersection(shapely.union_all(others)).buffer(0)
            if ground.area < SMALLEST_M2:
                continue
            colour = ZONE_LOOKS[zone.name].pen.colour
            items.append(Area(ground, fill=PAPER + "a8"))
            items.append(Path(ground.boundary, Pen(PAPER, 4.0)))
            items.append(Path(ground.boundary, Pen(colour, 2.0, _DASHES)))
            x, y, up_pt = _place_of_words(ground, readings)
            said = Label(x, y, f"would be: {zone.name}", _PT, colour, True, "centre", "middle",
                         PAPER, (0.0, up_pt))  # fmt: skip
            if ground.area >= _LABELLED_M2 and (largest is None or ground.area > largest[0]):
                largest = (ground.area, said)
        if largest is not None:
            labels.append(largest[1])
    # the words last: half hidden by a sign, "would be: clear" would read "be: clear"
    return (*items, *imaginary_signs(readings), *labels)


def _place_of_words(
    ground: BaseGeometry, readings: Sequence[Reading]
) -> tuple[float, float, float]:
    """Return where it is said of a ground what it would be: x, y (m), and how far above (pt).

    Where an imaginary reading lies on the ground its own words stand, so it is said below those.
    """
    for one in readings:
        if one.x is not None and one.y is not None and ground.covers(shapely.Point(one.x, one.y)):
            return one.x, one.y, _BELOW_WORDS_PT
    x, y = ground.representative_point().coords[0]
    return float(x), float(y), 17.0
