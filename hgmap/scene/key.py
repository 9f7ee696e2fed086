"""The key of what is shown, set in a column as wide as the window gives it (mm)."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import shapely

from hgmap.report import legend
from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Area, Drawing, Pen, Picture
from hgmap.report.palette import INK, SOFT
from hgmap.report.words import per_cent
from hgmap.scene.floor_scene import Scene, Shown
from hgmap.scene.probability import STOPS, probability_rgba

TALL_MM = 400.0


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
