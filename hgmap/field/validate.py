"""How well an estimate predicts the readings it was made from, each left out in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Scores:
    """Leave-one-out scores on the working scale.

    Attributes
    ----------
    n : int
        Readings (after replicates were merged).
    mean_error, rmse : float
        Mean and root mean square of observed minus predicted.
    mean_squared_standardised : float or None
        Mean of (error / sd)², near 1 for an honest sd; None where the method has no sd.
    coverage_95 : float or None
        Share of readings inside their 95 % interval.
    residuals : array of shape (n,)
        Observed minus predicted.
    """

    n: int
    mean_error: float
    rmse: float
    mean_squared_standardised: float | None
    coverage_95: float | None
    residuals: NDArray[np.float64]
