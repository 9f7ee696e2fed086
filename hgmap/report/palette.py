"""Inks, and how each zone looks: hue, hatch and outline say the same thing three times."""

from __future__ import annotations

from dataclasses import dataclass, replace
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
    """Hatch and outline of a zone, in print order; both lie on a white rim."""

    hatch: Hatch | None
    pen: Pen

    @property
    def hatch_rim(self) -> Hatch | None:
        """What lies under the hatch, so that it stands out from every shade."""
        if self.hatch is None:
            return None
        return replace(self.hatch, colour=PAPER, width_pt=self.hatch.width_pt + _RIM_PT)

    @property
    def pen_rim(self) -> Pen:
        """What lies under the outline."""
        return Pen(PAPER, self.pen.width_pt + 1.4)


_RIM_PT: Final = 1.0

# Hues after Okabe and Ito (2008), "Color Universal Design", the blue and green darkened; value
# from memory.
ZONE_LOOKS: Final[dict[ZoneName, ZoneLook]] = {
    "clear": ZoneLook(None, Pen("#00694c", 1.5, (8.0, 2.0, 1.6, 2.0))),
    "no data": ZoneLook(Hatch("cross", "#8a8f94", 6.0, 0.45), Pen("#868b90", 1.0, (1.2, 1.8))),
    "resample": ZoneLook(Hatch("dots", "#00508a", 6.0, 1.7), Pen("#00508a", 1.4, (4.5, 2.2))),
    "remediate": ZoneLook(Hatch("diagonal", "#c74a00", 6.0, 1.15), Pen("#c74a00", 2.0)),
}
