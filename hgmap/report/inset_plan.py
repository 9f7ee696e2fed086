"""An inset as it is drawn: one room in a frame of its own, under a head that says which."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, Zones
from hgmap.field.surface import Surface
from hgmap.report.drawing import Area, Drawing, Frame, Label, Pen
from hgmap.report.insets import HEAD_MM, HEAD_PT, LETTER_MM, Inset, alone, zones_of
from hgmap.report.palette import INK, PAPER
from hgmap.report.plan_drawing import (
    building,
    contour_lines,
    openings,
    unknown_ground,
    zone_areas,
)
from hgmap.report.room_letters import letter
from hgmap.report.shades import Shades, pictures
from hgmap.report.typeset import fit, width_mm
from hgmap.report.words import grouped, number, published_per_computed

_EDGE: Final = Pen(INK, 0.7)


def inset_frame(
    inset: Inset, evidence: FloorEvidence, surface: Surface | None, shades: Shades | None,
    zones: Zones, under: Drawing = (),
) -> Frame:  # fmt: skip
    """Put the room into the frame of its inset: estimate, zones, walls, readings; no neighbour.

    ``under`` (m) is drawn beneath the readings.
    """
    floor, scale = alone(evidence.floor, inset.room), inset.frame.mm_per_m
    own = zones_of(zones, inset)
    ground: Drawing = ()
    if surface is not None and shades is not None:
        factor = published_per_computed(evidence.level)
        ground = pictures(surface, evidence.floor, shades, factor, scale, unknown_ground(own),
                          inset.room.polygon)  # fmt: skip
    drawing = (
        Area(shapely.box(*inset.frame.seen_m), fill=PAPER),
        *ground,
        *zone_areas(own, scale),
        *contour_lines(own),
        *building(floor),
        *openings(floor, scale),
        *under,
        *inset.marks.drawing,
    )
    return replace(inset.frame, drawing=drawing)


def inset_head(inset: Inset) -> Drawing:
    """Draw an inset's edge, and over it its letter, the room's name and its scale (page, mm)."""
    left, _, right, top = inset.box_mm
    under = top - HEAD_MM
    middle = (top + under) / 2.0
    denominator = 1000.0 / inset.frame.mm_per_m
    ratio = grouped(denominator) if denominator == round(denominator) else number(denominator)
    said = f"1 : {ratio}"
    wide = right - left - LETTER_MM - width_mm(said, HEAD_PT) - 3.5
    name = inset.room.name or inset.room.id
    if width_mm(name, HEAD_PT, True) > wide:  # two rooms may begin alike
        name = inset.room.id
    name = fit(name, HEAD_PT, wide, True)
    return (
        Area(shapely.box(left, under, right, top), fill=PAPER, pen=_EDGE),
        Area(shapely.box(*inset.box_mm), pen=_EDGE),
        *letter(inset.letter, left + 2.8, middle),
        Label(left + LETTER_MM, middle, name, HEAD_PT, INK, True, up="middle"),
        Label(right - 1.2, middle, said, HEAD_PT, INK, across="right", up="middle"),
    )
