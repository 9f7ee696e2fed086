"""Why a place reads so, drawn: the readings that drive it, and the way the air takes from each."""

from __future__ import annotations

from typing import Final

import shapely

from hgmap.decide.explain import Explanation
from hgmap.report.drawing import Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import INK, PAPER

MOST_DRAWN: Final = 6
"""Readings drawn; the others weigh less than they would hide."""

LEAST_WEIGHT: Final = 0.02
_WIDEST_PT: Final = 4.0
_TEXT_PT: Final = 7.0
_INK: Final = "#3b2a6b"


def explain_scene(explained: Explanation) -> Drawing:
    """Draw a place's drivers: a line as wide as its weight, broken where a closed door is passed.

    A reading that weighs less than nothing (others screen it) has a dotted line.
    """
    items: list[Item] = []
    labels: list[Item] = []
    for driver in explained.drivers[:MOST_DRAWN]:
        if abs(driver.weight) < LEAST_WEIGHT or driver.route is None:
            continue
        line = shapely.LineString(driver.route.vertices)
        if line.length == 0.0:
            continue
        dashes: tuple[float, ...] = ()
        if driver.weight < 0.0:
            dashes = (1.2, 2.4)
        elif driver.route.closed:
            dashes = (6.0, 3.0)
        width = max(1.0, _WIDEST_PT * min(1.0, abs(driver.weight)))
        items.append(Path(line, Pen(PAPER, width + 1.6)))
        items.append(Path(line, Pen(_INK, width, dashes)))
        x, y = driver.route.vertices[0]
        items.append(Dot(float(x), float(y), 9.0, "circle", None, Pen(_INK, 1.4)))
        labels.append(
            Label(
                float(x), float(y), f"{driver.weight * 100:.0f} %", _TEXT_PT, _INK, True,
                across="centre", halo=PAPER, offset_pt=(0.0, 7.0),
            )
        )  # fmt: skip
    here = (
        Dot(explained.x, explained.y, 9.0, "plus", None, Pen(PAPER, 3.4)),
        Dot(explained.x, explained.y, 9.0, "plus", None, Pen(INK, 1.6)),
    )
    return (*items, *labels, *here)
