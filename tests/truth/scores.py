"""How good a map is against a known truth, and a table of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm

Floats = NDArray[np.float64]


class Score(NamedTuple):
    """One map against the truth.

    Attributes
    ----------
    rmse : float
        Root mean square error over the targets that have an estimate.
    coverage : float
        Share of them whose 95 % interval holds the truth; NaN where there is no sd.
    no_data : float
        Share of the targets that have none.
    """

    rmse: float
    coverage: float
    no_data: float


def score(mean: Floats, sd: Floats | None, truth: Floats) -> Score:
    """Score an estimate; a NaN in ``mean`` is a target without one."""
    there = np.isfinite(mean)
    no_data = 1.0 - float(there.mean())
    if not there.any():
        return Score(np.nan, np.nan, no_data)
    held = np.nan if sd is None else coverage(mean[there], sd[there], truth[there])
    return Score(rmse(mean[there], truth[there]), held, no_data)


def rmse(mean: Floats, truth: Floats) -> float:
    """Return the root mean square difference."""
    return float(np.sqrt(np.mean((mean - truth) ** 2)))


def coverage(mean: Floats, sd: Floats, truth: Floats) -> float:
    """Return the share of the truth within ``mean`` ± 1.96 ``sd``."""
    return float(np.mean(np.abs(mean - truth) <= norm.ppf(0.975) * sd))


def table(headers: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Lay rows out in columns, the first to the left and the others to the right."""
    widths = [max(len(line[k]) for line in (headers, *rows)) for k in range(len(headers))]
    lines = [
        "  ".join(
            cell.ljust(width) if k == 0 else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in (headers, *rows)
    ]
    return "\n".join([lines[0], "  ".join("-" * width for width in widths), *lines[1:]])


def number(value: float, form: str = ".3f") -> str:
    """Write a number, or nothing where there is none."""
    return format(value, form) if np.isfinite(value) else ""
