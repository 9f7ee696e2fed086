"""Conditional simulation: fields that agree with the readings and vary as much as the air may.

An unconditional field is drawn from a candidate, read with error where the readings stand, and
corrected by the kriging of what is missing there (Journel and Huijbregts 1978, Mining
Geostatistics, ch. VII; Cressie 1993, Statistics for Spatial Data, section 3.6.2). Over many draws
mean and variance are those of kriging; range, nugget, sill and what intervals hide are drawn too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.field.mixture import Mixture, Part
from hgmap.field.points import Check, never
from hgmap.field.predict import by_candidate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DRAWS: Final = 400


@dataclass(frozen=True)
class Draws:
    """Fields drawn over some cells of an estimate.

    Attributes
    ----------
    cells : array of shape (k,)
        Positions in the estimate's graph.
    fields : array of shape (k, count)
        Noise-free field (working scale); NaN where no reading reaches.
    """

    cells: Ints
    fields: Floats


def simulate(
    mixture: Mixture,
    target_trend: Floats,
    *,
    count: int = DRAWS,
    seed: int = 0,
    check: Check = never,
) -> Draws:
    """Draw fields of one estimate.

    Parameters
    ----------
    mixture : Mixture
    target_trend : array of shape (m, p)
        1 where a target belongs to a part of the floor that a reading reaches.
    count : int
    seed : int
        The same seed draws the same fields.
    check : callable, optional
        Called candidate by candidate; raising inside it cancels.
    """
    random = np.random.default_rng(seed)
    share = np.array([part.weight for part in mixture.parts])
    number = dict(zip(map(id, mixture.parts), random.multinomial(count, share), strict=True))
    cells = mixture.parts[0].candidate.cells_to_draw()
    fields = np.empty((len(cells), count))
    at = 0
    for parts in by_candidate(mixture):
        wanted = sum(int(number[id(part)]) for part in parts)
        if not wanted:
            continue
        check()
        candidate = parts[0].candidate
        free = candidate.draw(cells, wanted, random)
        rotated = candidate.columns()[cells] @ parts[0].spectrum.basis
        start = 0
        for part in parts:
            if own := int(number[id(part)]):
                check()
                some = slice(start, start + own)
                fields[:, at : at + own] = _conditioned(
                    mixture,
                    part,
                    rotated,
                    target_trend[cells],
                    free[0][:, some],
                    free[1][:, some],
                    random,
                )
                at, start = at + own, start + own
    fields[~target_trend[cells].any(axis=1)] = np.nan
    return Draws(cells, fields)


def _conditioned(
    mixture: Mixture,
    part: Part,
    rotated: Floats,
    trend: Floats,
    there: Floats,
    at_readings: Floats,
    random: np.random.Generator,
) -> Floats:
    """Correct free fields of unit sill, and the same at the readings, to what was read."""
    spectrum = part.spectrum
    freedom, count = mixture.degrees_of_freedom, there.shape[1]
    sill = np.full(count, part.sill)
    if not mixture.sill_is_known:  # given the readings it is scaled inverse chi-squared
        sill *= freedom / random.chisquare(freedom, count)
    error = np.sqrt(part.share * mixture.error_weight)[:, None]
    read = at_readings + error * random.normal(size=at_readings.shape)
    values = part.values[:, None] + part.spread @ random.normal(size=(part.spread.shape[1], count))
    missing = values - np.sqrt(sill) * read
    one = spectrum.solve(part.share, spectrum.basis.T @ missing)
    correction = rotated @ (one.precision[:, None] * one.residual)
    return np.asarray(np.sqrt(sill) * there + trend @ one.means + correction)
