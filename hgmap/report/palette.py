"""Inks, and how each zone looks: hue, hatch and outline say the same thing three times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hgmap.decide.model import ZoneName
from hgmap.report.drawing import Hatch, Pen

INK: Final = "#1a1a1a"
SOFT: Final = "#5c6166"
RULE: Final = "#c9ccd0"
PAPER: Final = "#ffffff"
WALL: Final = "#6f7479"
NOTICE: Final = "#fff3c4"

LEVEL_PEN: Final = Pen(INK, 1.3)
LEVEL_RIM: Final = Pen(PAPER, 2.9)


@dataclass(frozen=True, slots=True)
class ZoneLook:
    """Hatch and outline of a zone, in print order."""

    hatch: Hatch | None
    pen: Pen


# Hues after Okabe and Ito (2008), "Color Universal Design"; value from memory.
ZONE_LOOKS: Final[dict[ZoneName, ZoneLook]] = {
    "clear": ZoneLook(None, Pen("#009e73", 0.9, (7.0, 2.0, 1.2, 2.0))),
    "no data": ZoneLook(Hatch("cross", "#8a8f94", 6.0, 0.45), Pen("#5c6166", 0.9, (1.2, 1.8))),
    "resample": ZoneLook(Hatch("dots", "#0072b2", 5.0, 1.25), Pen("#0072b2", 1.1, (4.5, 2.2))),
    "remediate": ZoneLook(Hatch("diagonal", "#d55e00", 4.2, 0.95), Pen("#d55e00", 1.7)),
}
