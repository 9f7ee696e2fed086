"""The key of what is shown, set in a column as wide as the window gives it (mm)."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping
from typing import Final

import numpy as np
import shapely

from hgmap.decide.clearance.judge import Outcome
from hgmap.report import legend
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Area, Drawing, Hatch, Label, Pen, Picture
from hgmap.report.palette import INK, SOFT, ZONE_LOOKS
from hgmap.report.typeset import width_mm as text_mm
from hgmap.report.words import number, per_cent, square_metres
from hgmap.scene.floor_scene import Scene, Shown
from hgmap.scene.probability import STOPS, probability_rgba
from hgmap.scene.release_scene import LOOKS, SIGNS
from hgmap.scene.two_rounds import TwoSides
from hgmap.site.building import Floor

TALL_MM = 400.0

Key = Callable[[float], tuple[Drawing, float]]
"""Makes a key of a width (mm): its drawing, down from ``TALL_MM``, and its height (mm)."""

MEANT: Final[dict[Outcome, str]] = {
    "does not meet": "by one rule or more",
    "cannot tell yet": "the table says what is missing",
    "meets": "whoever is licensed for it decides",
}


def key_of(
    shown: Shown, scene: Scene, views: Collection[str], width_mm: float
) -> tuple[Drawing, float]:
    """Return the key as a drawing on a page (mm, down from ``TALL_MM``), and its height (mm)."""
    column = Column(0.0, TALL_MM, width_mm, 0.0)
    if shown.zones is not None and "zones" in views:
        legend.zone_block(column, shown.zones, estimated=shown.surface is not None)
    if shown.surface is not None and shown.evidence is not None:
        if scene.shades is not None:
            legend.estimate_block(column, shown.surface, shown.evidence, scene.shades)
            if shown.zones is not None and shown.zones.contours and "zones" in views:
                legend.contour_row(column)
        elif "probability" in views:
            _probability_block(column)
    if scene.marks is not None and shown.evidence is not None:
        legend.readings_block(column, scene.marks, shown.evidence)
        legend.plan_block(column, shown.evidence, shown.resample)
    return column.done(), TALL_MM - column.top_mm


def _probability_block(column: Column) -> None:
    column.heading("Probability of being above the level")
    left, width = column.left_mm + 1.5, column.width_mm - 3.0
    top, bottom = column.top_mm, column.top_mm - 4.2
    steps = np.linspace(0.0, 1.0, 256)
    column.draw(
        Picture(probability_rgba(steps)[None, :, :], (left, bottom, left + width, top)),
        Area(shapely.box(left, bottom, left + width, top), pen=Pen(INK, 0.5)),
    )
    legend.draw_ticks(column, [(left + width * one, per_cent(one)) for one in STOPS], bottom)
    column.skip(4.2 + 1.5 + line_mm(SMALL_PT) + 0.4)
    column.line("as reckoned from the readings; no promise", SMALL_PT, colour=SOFT)
    column.skip(1.0)


def key_of_release(
    floor: Floor, outcomes: Mapping[str, Outcome], width_mm: float
) -> tuple[Drawing, float]:
    """Return the key of the rooms of a floor by what clearance says of them, as :func:`key_of`.

    A room that nothing was said of cannot be told yet.
    """
    column = Column(0.0, TALL_MM, width_mm, 0.0)
    column.heading("Rooms, by what clearance says")
    found = [outcomes.get(room.id, "cannot tell yet") for room in floor.rooms]
    for outcome, (hatch, pen) in LOOKS.items():
        _row(column, hatch, pen, f"{SIGNS[outcome]} {outcome}", str(found.count(outcome)),
             MEANT[outcome])  # fmt: skip
    column.skip(0.8)
    if floor.openings:
        column.heading("On the plan")
        legend.openings_row(column, floor)
    return column.done(), TALL_MM - column.top_mm


def key_of_rounds(sides: TwoSides, width_mm: float) -> tuple[Drawing, float]:
    """Return the key of two rounds beside each other, as :func:`key_of`."""
    column = Column(0.0, TALL_MM, width_mm, 0.0)
    column.heading("Zones, before and after")
    for name in reversed(ZONE_LOOKS):
        look = ZONE_LOOKS[name]
        was, now = (square_metres(ground[name].area) for ground in sides.grounds)
        _row(column, look.hatch, look.pen, name, "", f"{was} before, {now} after")
    column.skip(0.8)
    shades = sides.shades
    column.heading(f"Estimate, {sides.unit}, one scale for both")
    left, width = column.left_mm + 1.5, column.width_mm - 3.0
    top, bottom = column.top_mm, column.top_mm - 4.2
    steps = np.linspace(math.log(shades.low), math.log(shades.high), 256)
    column.draw(
        Picture(shades.rgba(steps)[None, :, :], (left, bottom, left + width, top)),
        Area(shapely.box(left, bottom, left + width, top), pen=Pen(INK, 0.5)),
    )
    ticks = [(left + width * shades.place(one), number(one)) for one in shades.ticks(6)]
    legend.draw_ticks(column, ticks, bottom)
    column.skip(4.2 + 1.5 + line_mm(SMALL_PT) + 1.0)
    if sides.floor.openings:
        column.heading("On the plan")
        legend.openings_row(column, sides.floor)
    return column.done(), TALL_MM - column.top_mm


def _row(
    column: Column, hatch: Hatch | None, pen: Pen, name: str, figure: str, meaning: str
) -> None:
    """Explain one hatch and outline."""
    wide, high, top = 10.0, 4.8, column.top_mm
    swatch = shapely.box(column.left_mm, top - high, column.left_mm + wide, top)
    column.draw(Area(swatch, hatch=hatch, pen=pen))
    right = column.left_mm + column.width_mm
    column.draw(Label(right, top, figure, TEXT_PT, INK, True, across="right", up="top"))
    used = text_mm(figure, TEXT_PT, bold=True) + 2.0
    column.line(name, TEXT_PT, bold=True, indent_mm=wide + 2.5, right_mm=used)
    column.line(meaning, SMALL_PT, colour=SOFT, indent_mm=wide + 2.5)
    column.skip(0.6)
