"""What parts of a mixture make of any target, summed before a target is looked at.

With c the covariance of a target with the readings, f its trend, P the projected precision of the
readings z, J the information of the means and A' = F' C⁻¹, one part has, in sills,

    mean       c' P z + f' J⁻¹ A' z
    variance   prior - c' P c - 2 f' J⁻¹ A' c + f' J⁻¹ f

(Cressie 1993, Statistics for Spatial Data, section 3.4). P does not see what is common to all
readings of a part of the floor, so that a constant is taken off all covariances within it: long
ranges, whose covariances are all near 1, then lose no digits. Parts whose candidates share the
columns of c are summed: P as the triangle R of the rows whose product it is (Golub and Van Loan,
Matrix Computations, section 5.2; from memory), since the sum itself would lose digits where the
nugget is small. The same for what intervals hide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from hgmap.field.mixture import Features, Mixture, Part
from hgmap.field.spectrum import Spectrum

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Group = tuple[list[Part], Features]


class Found(NamedTuple):
    """At targets: the mean of the first part, and what all parts add up to, by their weights.

    ``mean`` and ``square`` are those of the parts' means less a shift; ``variance`` is theirs less
    that of the prior.
    """

    first: Floats
    mean: Floats
    square: Floats
    variance: Floats


@dataclass(frozen=True)
class Forms:
    """Forms in a target's features, its shape and 1, the last two in its part of the floor.

    Attributes
    ----------
    level : array of shape (parts,)
        What is taken off the covariances within each part of the floor.
    """

    level: Floats
    weight: Floats
    _off: Floats
    _means: Floats
    _rows: Floats
    _signs: Floats
    _across: Floats
    _alone: Floats
    _k: int

    @classmethod
    def of(
        cls, mixture: Mixture, features: Features, groups: Sequence[Group], owners: Ints
    ) -> Forms:
        """Sum the parts of candidates that share ``features``.

        ``owners`` are targets that stand for each part of the floor, shape (parts,).
        """
        trend = mixture.trend
        k, parts = features.matrix.shape[1], trend.shape[1]
        level = _common_level(trend, groups)
        off = np.zeros((parts, k))
        off[:, features.at] = level[:, None] * trend.T
        means, lost, hidden = [], [], []
        across, alone = np.zeros((parts, k)), np.zeros((2, parts))
        for members, own in groups:
            lift = np.zeros((parts, len(own.at)))
            if own.by_part is not None and own.component is not None:
                lift = own.by_part[own.component[owners]]
            for part in members:
                one = _PartForms.of(part, level)
                means.append(_spread(one.mean, own.at, lift, k))
                bare = np.zeros((parts, len(one.lost)))
                lost.append(_spread(np.vstack([one.lost.T, bare]), own.at, lift, k))
                hidden.append(_spread(one.hidden, own.at, lift, k))
                across[:, own.at] += one.across
                alone[0] += np.einsum("ij,ij->i", one.across, lift)
                alone[1] += one.alone
        minus, plus = _triangle(np.hstack(lost).T), _triangle(np.hstack(hidden).T)
        signs = np.concatenate([np.full(len(minus), -1.0), np.ones(len(plus))])
        weight = np.array([part.weight for members, _ in groups for part in members])
        return cls(
            level, weight, off, np.hstack(means), np.vstack([minus, plus]).T.copy(), signs,
            across, alone, k,
        )  # fmt: skip

    def at(self, matrix: Floats, part: Ints, shape: Floats | None, about: Floats | None) -> Found:
        """Return what the parts say at targets.

        Parameters
        ----------
        matrix : array of shape (m, k)
            Features.
        part : array of shape (m,)
            Of the floor.
        shape : array of shape (m,) or None
        about : array of shape (m,) or None
            What means are taken less; None: that of the first part.
        """
        matrix = matrix - self._off[part]
        means = self._read(self._means, matrix, part, shape)
        first = means[:, 0].copy()
        means -= (first if about is None else about)[:, None]
        variance = self._read(self._rows, matrix, part, shape) ** 2 @ self._signs
        variance += 2.0 * np.einsum("ij,ij->i", matrix, self._across[part]) + self._alone[1][part]
        if shape is not None:
            variance += 2.0 * shape * self._alone[0][part]
        return Found(first, means @ self.weight, means**2 @ self.weight, variance)

    def _read(self, rows: Floats, matrix: Floats, part: Ints, shape: Floats | None) -> Floats:
        """Return the product of (features, shape, 1) of targets with columns of numbers."""
        parts = len(self.level)
        found = matrix @ rows[: self._k]
        if shape is not None:
            found += shape[:, None] * rows[self._k : self._k + parts][part]
        found += rows[self._k + parts :][part]
        return np.asarray(found)


class _PartForms(NamedTuple):
    """Of one part, in (c, f): columns of its mean, of what P is made of, of what is hidden."""

    mean: Floats
    lost: Floats
    hidden: Floats
    across: Floats
    alone: Floats

    @classmethod
    def of(cls, part: Part, level: Floats) -> _PartForms:
        spectrum: Spectrum = part.spectrum
        both = spectrum.basis.T @ np.column_stack([part.values, part.spread])
        one = spectrum.solve(part.share, both)
        swing = np.vstack([spectrum.basis @ (one.precision[:, None] * one.residual), one.means])
        scale = part.weight * part.sill
        root = np.sqrt(one.precision)
        # rows whose product is P: those of the precision, the means taken out of them
        rows = (spectrum.basis * root).T
        trend = spectrum.trend * root[:, None]
        rows = rows - trend @ np.linalg.solve(one.information, trend.T @ rows)
        across = np.linalg.solve(one.information, (spectrum.basis @ one.weighted).T)
        return cls(
            swing[:, :1],
            np.sqrt(scale) * rows,
            np.sqrt(part.weight) * swing[:, 1:],
            np.asarray(-scale * across),
            np.asarray(scale * (np.diagonal(np.linalg.inv(one.information)) - level)),
        )


def _spread(columns: Floats, at: Ints, lift: Floats, k: int) -> Floats:
    """Return columns over (c, f) as columns over (features, shape in part, 1 in part)."""
    n, parts = len(at), len(lift)
    found = np.zeros((k + 2 * parts, columns.shape[1]))
    found[at] = columns[:n]
    found[k : k + parts] = lift @ columns[:n]
    found[k + parts :] = columns[n:]
    return found


def _triangle(rows: Floats) -> Floats:
    """Return as few rows with the same product of their transpose with them."""
    return rows if len(rows) <= rows.shape[1] else np.asarray(np.linalg.qr(rows, mode="r"))


def _common_level(trend: Floats, groups: Sequence[Group]) -> Floats:
    """Return the mean covariance among the readings of each part of the floor."""
    count = trend.sum(axis=0) ** 2
    found = [np.diagonal(trend.T @ parts[0].candidate.gram @ trend) / count for parts, _ in groups]
    return np.asarray(np.min(found, axis=0))
