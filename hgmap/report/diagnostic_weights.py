"""The page of weights: of the ranges and nuggets that were tried, and of the readings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from hgmap.decide.model import FloorEvidence
from hgmap.field.raster import rooms_of
from hgmap.field.surface import Surface
from hgmap.report.diagnostic_drive import CandidateWeights, candidate_weights, drive
from hgmap.report.diagnostic_numbers import PlaceNames
from hgmap.report.diagnostic_page import (
    MARGIN_MM,
    TOP_MM,
    WIDTH_MM,
    Page,
    boxes,
    named_words,
)
from hgmap.report.diagnostic_scales import limits
from hgmap.report.drawing import PT_PER_MM
from hgmap.report.palette import PAPER, WALL, ZONE_LOOKS
from hgmap.report.words import metres, number, per_cent

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FIT: Final = ZONE_LOOKS["resample"].pen.colour
LARGEST: Final = 10
MOST_PT2: Final = 400.0
MOST_COVERED: Final = 0.15
"""The largest disc, and how much of the plan all discs together cover, at most."""

WEIGHTS_TELL: Final = (
    "It can tell which ranges, nuggets and readings this map hangs on; it cannot tell whether "
    "those readings are right: a large disc is a reason to measure there again, not to doubt it."
)
READINGS_TELL: Final = (
    "It can tell which readings this map hangs on; it cannot tell whether they are right: a large "
    "disc is a reason to measure there again, not to doubt it."
)


def draw_weights(page: Page, surface: Surface, evidence: FloorEvidence, places: PlaceNames) -> None:
    """Draw the weights of the candidates, where some were weighed, and how readings drive the map.

    Parameters
    ----------
    page : Page
    surface : Surface
    evidence : FloorEvidence
    places : PlaceNames
    """
    found = candidate_weights(surface)
    bottom, left = 62.0, MARGIN_MM
    if found is not None:
        axes = page.axes(30.0, bottom, 88.0, TOP_MM - bottom)
        _candidates(page, axes, found)
        left = 130.0
        y = page.paragraph(MARGIN_MM, 45.0, 106.0, "Each disc is a pair of range and nugget that "
                           "was tried; its area is its weight. " + _heaviest(found))  # fmt: skip
        if found.flux:
            flux = ", ".join(f"{per_cent(float(number(value, 2)))} for {number(key)}"
                             for key, value in found.flux.items())  # fmt: skip
            page.paragraph(MARGIN_MM, y - 1.0, 106.0, "Wall fluxes, summed up in the discs "
                           f"(variances in sills): {flux}.")  # fmt: skip
    _readings(page, surface, evidence, places, left, bottom - 8.0)
    tells = READINGS_TELL if found is None else WEIGHTS_TELL
    page.paragraph(MARGIN_MM, 20.0, WIDTH_MM - 2.0 * MARGIN_MM, tells)


def _heaviest(found: CandidateWeights) -> str:
    one = int(np.argmax(found.weight))
    return (
        f"The heaviest of {len(found.weight)}: range {metres(float(number(found.range_m[one])))}, "
        f"nugget {number(found.nugget_share[one])} sills, weight "
        f"{per_cent(float(number(found.weight[one], 2)))}."
    )


def _candidates(page: Page, axes: Axes, found: CandidateWeights) -> None:
    for which, values, label in (
        ("x", found.range_m, "range (m)"),
        ("y", found.nugget_share, "nugget (in sills of the field)"),
    ):
        page.scale(axes, which, *limits(values, log=True, margin=0.1), label, log=True)
    axes.scatter(found.range_m, found.nugget_share, s=420.0 * found.weight / found.weight.max(),
                 facecolor=FIT, edgecolor=PAPER, linewidth=0.5, alpha=0.85)  # fmt: skip


def _readings(page: Page, surface: Surface, evidence: FloorEvidence, places: PlaceNames,
              left: float, bottom: float) -> None:  # fmt: skip
    floor = evidence.floor
    driven = drive(surface, floor)
    wide, high = WIDTH_MM - MARGIN_MM - left, TOP_MM - bottom
    axes = page.axes(left, bottom, wide, high)
    axes.set_axis_off()
    west, south, east, north = floor.bounds
    step = 1.06 * max((east - west) / wide, (north - south) / high)
    x, y = (west + east) / 2.0, (south + north) / 2.0
    axes.set(xlim=(x - step * wide / 2, x + step * wide / 2),
             ylim=(y - step * high / 2, y + step * high / 2))  # fmt: skip
    rooms = [room.polygon for room in floor.rooms]
    for line in (*(one.boundary for one in rooms), *floor.walls):
        for part in shapely.get_parts(line):
            axes.plot(*shapely.get_coordinates(part).T, color=WALL, linewidth=0.9, zorder=1)
    words_at = left, 45.0, wide
    if driven is None:
        page.paragraph(*words_at, "Too many readings to weigh one by one.")
        return
    paper = (east - west) * (north - south) / step**2 * PT_PER_MM**2
    largest = min(MOST_PT2, MOST_COVERED * paper * float(driven.max()) / float(driven.sum()))
    area = largest * driven / float(driven.max())
    for which, fill in ((~places.interval, FIT), (places.interval, "none")):
        x, y = surface.xy[which].T
        axes.scatter(x, y, s=area[which], facecolor=fill, edgecolor=FIT, linewidth=1.0,
                      alpha=0.75, zorder=2)  # fmt: skip
    order = np.argsort(-driven, kind="stable")[:LARGEST]
    radius = np.sqrt(area) / 2.0
    named = page.label(
        axes,
        surface.xy[order],
        [places.names[one] for one in order],
        gap_pt=radius[order] + 1.5,
        marks=boxes(axes, surface.xy, 0.8 * radius),
        walls=floor.walls,
        rooms=rooms,
        home=rooms_of(floor, surface.xy[order]),
    )
    hollow = "; hollow: the reading is not a number" if places.interval.any() else ""
    top = per_cent(float(number(float(driven.max()), 2)))
    page.paragraph(*words_at, "Each disc is a place with readings; its area is the mean absolute "
                   f"weight that it has in the cells of the map (largest disc: {top}){hollow}. "
                   f"{named_words(named, len(order), 'largest')}")  # fmt: skip
