"""Which part of the plan the window shows: pure arithmetic, no Qt.

Plan metres run right and up, widget pixels right and down. Pixels are logical ones; the device
pixel ratio is the painter's business.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

Bounds: TypeAlias = tuple[float, float, float, float]
"""West, south, east, north (m)."""

NARROWEST_M: Final = 0.001
WIDEST_M: Final = 1000.0
"""Least and most of the plan (m) that the longer side of the window can show."""
_MARGIN: Final = 0.04
_FAR_M: Final = 1e7


@dataclass(frozen=True, slots=True)
class View:
    """The place in the middle of the widget and how large a metre is.

    Attributes
    ----------
    x, y : float
        The place of the plan in the middle (m).
    px_per_m : float
    width_px, height_px : float
        Of the widget.
    """

    x: float = 0.0
    y: float = 0.0
    px_per_m: float = 50.0
    width_px: float = 640.0
    height_px: float = 480.0

    @property
    def bounds(self) -> Bounds:
        """The part of the plan that is seen (m)."""
        across = self.width_px / self.px_per_m / 2.0
        up = self.height_px / self.px_per_m / 2.0
        return (self.x - across, self.y - up, self.x + across, self.y + up)

    def to_plan(self, x_px: float, y_px: float) -> tuple[float, float]:
        """Return the place of the plan (m) under a pixel."""
        return (
            self.x + (x_px - self.width_px / 2.0) / self.px_per_m,
            self.y - (y_px - self.height_px / 2.0) / self.px_per_m,
        )

    def to_widget(self, x: float, y: float) -> tuple[float, float]:
        """Return the pixel at which a place of the plan (m) lies."""
        return (
            self.width_px / 2.0 + (x - self.x) * self.px_per_m,
            self.height_px / 2.0 - (y - self.y) * self.px_per_m,
        )

    def panned(self, dx_px: float, dy_px: float) -> View:
        """Move the picture by pixels: what was under (0, 0) comes under (dx, dy)."""
        return self.centred(self.x - dx_px / self.px_per_m, self.y + dy_px / self.px_per_m)

    def zoomed(self, factor: float, at_px: tuple[float, float] | None = None) -> View:
        """Enlarge by a factor, within the limits; what is under ``at_px`` stays there."""
        if not (math.isfinite(factor) and factor > 0.0):
            return self
        at_x, at_y = at_px or (self.width_px / 2.0, self.height_px / 2.0)
        x, y = self.to_plan(at_x, at_y)
        scale = self._within(self.px_per_m * factor)
        return replace(self, px_per_m=scale).centred(
            x - (at_x - self.width_px / 2.0) / scale, y + (at_y - self.height_px / 2.0) / scale
        )

    def centred(self, x: float, y: float) -> View:
        """Bring a place (m) to the middle; one that is no number, or is off the earth, is not."""
        if not (math.isfinite(x) and math.isfinite(y)):
            return self
        return replace(self, x=min(_FAR_M, max(-_FAR_M, x)), y=min(_FAR_M, max(-_FAR_M, y)))

    def resized(self, width_px: float, height_px: float) -> View:
        """Return the view of a widget of another size: same middle, same scale."""
        size = replace(self, width_px=max(1.0, width_px), height_px=max(1.0, height_px))
        return replace(size, px_per_m=size._within(self.px_per_m))

    def fitted(self, bounds: Bounds) -> View:
        """Show all of a rectangle (m), with a little air round it."""
        west, south, east, north = bounds
        if not all(map(math.isfinite, bounds)):
            return self
        across = max(abs(east - west), 1e-9)
        up = max(abs(north - south), 1e-9)
        air = 1.0 - 2.0 * _MARGIN
        scale = self._within(air * min(self.width_px / across, self.height_px / up))
        return replace(self, px_per_m=scale).centred((west + east) / 2.0, (south + north) / 2.0)

    def _within(self, px_per_m: float) -> float:
        longer = max(self.width_px, self.height_px)
        return min(longer / NARROWEST_M, max(longer / WIDEST_M, px_per_m))
