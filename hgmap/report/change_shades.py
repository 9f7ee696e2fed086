"""The ratio of two estimates as colour: two hues that part at no change, each paling towards it.

Teal where the air fell, plum where it rose: told apart by every common colour vision, and by the
outline of the ground as well (our own choice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.change_model import ChangeWord
from hgmap.report.drawing import Hatch, Pen
from hgmap.report.shades import Shades

FELL: Final = "#00616b"
ROSE: Final = "#7a1f6e"
DOUBT: Final = "#8a8f94"

GROUND_PENS: Final[dict[ChangeWord, Pen]] = {
    "fell": Pen(FELL, 1.5, (6.0, 1.6)),
    "rose": Pen(ROSE, 2.2),
    "cannot tell": Pen(DOUBT, 0.5),
}
DOUBT_HATCH: Final = Hatch("diagonal", "#4a4f54", 7.0, 0.4)
UNKNOWN_HATCH: Final = Hatch("cross", DOUBT, 6.0, 0.45)

_PALEST: Final = np.array([0.975, 0.97, 0.955])
_ENDS: Final = {"fell": np.array([0.33, 0.66, 0.68]), "rose": np.array([0.75, 0.47, 0.71])}
_LEAST: Final = 2.0
_MOST: Final = 100.0


@dataclass(frozen=True, slots=True)
class ChangeShades(Shades):
    """A scale of ratios from ``1 / high`` to ``high``; ``low`` is ``1 / high``."""

    def rgba(self, logarithm: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Paint natural logarithms of ratios; NaN is transparent."""
        share = np.clip(np.nan_to_num(logarithm) / math.log(self.high), -1.0, 1.0)[..., None]
        end = np.where(share < 0.0, _ENDS["fell"], _ENDS["rose"])
        colours = np.empty((*np.shape(logarithm), 4))
        colours[..., :3] = _PALEST + np.abs(share) * (end - _PALEST)
        colours[..., 3] = np.isfinite(logarithm)
        return np.asarray(np.round(255.0 * colours), dtype=np.uint8)


def change_shades(log_ratio: NDArray[np.float64]) -> ChangeShades:
    """Choose the scale: as far either way as the estimate goes, from twice to a hundred times."""
    held = np.abs(log_ratio[np.isfinite(log_ratio)])
    widest = math.exp(min(float(held.max()), math.log(_MOST))) if held.size else _LEAST
    high = min(_MOST, max(_LEAST, widest))
    return ChangeShades(1.0 / high, high)


def ratio_ticks(shades: ChangeShades) -> tuple[float, ...]:
    """Return round ratios of the scale, the same to both sides of no change."""
    steps = (2.0, 5.0, 10.0, 30.0, 100.0) if shades.high < 20.0 else (3.0, 10.0, 30.0, 100.0)
    up = [one for one in steps if one <= shades.high * 1.001]
    return (*(1.0 / one for one in reversed(up)), 1.0, *up)
