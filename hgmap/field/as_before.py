"""A mixture that takes readings as an earlier one of nearly the same readings weighed them.

Good for a draft while a reading is dragged: nothing is weighed, and nothing is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import EstimateError
from hgmap.field.mixture import Candidate, Mixture, Part
from hgmap.field.spectrum import Spectrum
from hgmap.field.truncated import Intervals

Floats = NDArray[np.float64]

MOST_RANGES: Final = 2
MOST_PARTS: Final = 8
"""Of the earlier mixture, the heaviest first."""


def heaviest(before: Mixture) -> tuple[Part, ...]:
    """Return the parts of a mixture that a draft keeps."""
    ranges: dict[float, None] = {}
    kept = []
    for part in before.parts:
        if part.candidate.range_m not in ranges and len(ranges) == MOST_RANGES:
            continue
        ranges[part.candidate.range_m] = None
        kept.append(part)
    return tuple(kept[:MOST_PARTS])


def ranges_before(before: Mixture) -> Floats:
    """Return the ranges (m) of the parts that a draft keeps."""
    return np.unique([part.candidate.range_m for part in heaviest(before)])


def weighed_as_before(
    before: Mixture,
    candidates: Sequence[Candidate],
    values: Floats,
    trend: Floats,
    *,
    error_weight: Floats,
    intervals: Intervals | None,
) -> Mixture:
    """Return a mixture of the readings with range, nugget, sill and weights as they were.

    What intervals hide is taken as it was, where there are as many of them as there were.

    Parameters
    ----------
    before : Mixture
    candidates : sequence of Candidate
        Of :func:`ranges_before`.
    values : array of shape (n,)
    trend : array of shape (n, p)
    error_weight : array of shape (n,)
    intervals : Intervals or None

    Raises
    ------
    EstimateError
        If there are no more readings than separate parts of the floor, or ``before`` has ranges
        that are not among the candidates.
    """
    if len(values) <= trend.shape[1]:
        raise EstimateError("no more readings than separate parts of the floor")
    which = np.empty(0, dtype=np.int64) if intervals is None else intervals.which
    numbers = np.ones(len(values), dtype=bool)
    numbers[which] = False
    hidden = np.flatnonzero(~before.numbers)
    current = values.copy()
    if intervals is not None:
        current[which] = intervals.start()
    found = {(one.range_m, one.log_prior): one for one in candidates}
    parts = heaviest(before)
    total = sum(part.weight for part in parts)
    spectra: dict[int, Spectrum] = {}
    made = []
    for part in parts:
        key = part.candidate.range_m, part.candidate.log_prior
        if key not in found:  # it was of another floor, or of other ways for the air
            raise EstimateError("the ranges are not those of before")
        candidate = found[key]
        if id(candidate) not in spectra:
            spectra[id(candidate)] = Spectrum.of(candidate.gram, trend, error_weight)
        own, spread = current.copy(), np.zeros((len(values), 0))
        if len(which) and len(which) == len(hidden) and intervals is not None:
            own[which] = np.clip(part.values[hidden], intervals.lower, intervals.upper)
            spread = np.zeros((len(values), part.spread.shape[1]))
            spread[which] = part.spread[hidden]
        made.append(
            replace(
                part, candidate=candidate, weight=part.weight / total,
                spectrum=spectra[id(candidate)], values=own, spread=spread,
            )
        )  # fmt: skip
    return Mixture(tuple(made), error_weight, trend, numbers, before.sill_is_known)
