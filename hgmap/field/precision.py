"""What readings say of the wall-aware field, by its precision: many cost no more than few.

The field of :mod:`hgmap.field.walls` has a sparse precision, so its posterior has one too
(Lindgren, Rue and Lindstrom 2011, doi:10.1111/j.1467-9868.2011.00777.x; Rue and Held 2005,
Gaussian Markov Random Fields, chapter 2). In units of the sill, with D the kernel's scale, y = D v
the field with its means, N the error variances over the sill and W what each reading reads of the
cells:

    Q = K K / a,   A = Q + D W' N⁻¹ W D,   y = D v ~ F b + f c + D (field of precision Q)

F marks the parts of the floor that air does not join (b flat), f is the even wall flux (c of
variance ``flux``). With H = D⁻¹ [F f] and B = A⁻¹ Q H, the means are y = D (A⁻¹ D W' N⁻¹ z + B h):

    information of h:   J = [F f]' W' N⁻¹ W D B + diag(0, 1/flux)
    variance of y:      diag(D (A⁻¹ + B J⁻¹ B') D)
    likelihood:         log|N| + log|A| - log|Q| + log|J| + log flux,
    squares             (z - W y)' N⁻¹ (z - W y) + |K (v - H h)|² / a + c² / flux

which is the restricted likelihood of :mod:`hgmap.field.mixture` (Patterson and Thompson 1971).
J is a product, not a difference, and the mean of each part is pinned while A is factored, so that
long ranges, whose mean is all but free, keep their digits. Rounding is left in slow slopes across
the floor: with a range of 1,400 cells, 1e-9 of the variance where the share is small, 4e-6 where it
is 100; the means do better, being refined with K applied twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.bordered import BorderedFactor
from hgmap.field.graph import CellGraph
from hgmap.field.precision_field import OneRange, PrecisionField
from hgmap.field.threads import one_thread
from hgmap.field.walls import WallKernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class PrecisionPosterior:
    """What the readings say, with one range, one share and one flux.

    Attributes
    ----------
    mean, variance : arrays of shape (m,)
        Of the noise-free field in every cell (working scale, and squared); NaN where no reading
        reaches. The uncertainty of the means is in the variance.
    sill : float
        The field's variance (working-scale unit squared).
    log_likelihood : float
        Restricted, up to the constant of :mod:`hgmap.field.mixture`.
    left_out_error, left_out_sd : arrays of shape (n,)
        Of each reading predicted from the others, range, share, flux and sill kept (working scale);
        NaN where it stands alone.
    """

    mean: Floats
    variance: Floats
    sill: float
    log_likelihood: float
    left_out_error: Floats
    left_out_sd: Floats


class Weighing(NamedTuple):
    """The likelihood of one range, share and flux, at the best sill that is allowed."""

    log_likelihood: float
    sill: float


class OneShare:
    """A range and a share, over the readings of a :class:`PrecisionField`; factored."""

    def __init__(self, over: OneRange, share: float) -> None:
        common = over.common
        self.over, self.share = over, share
        self.noise = share * common.error_weight
        self._pinned = _middles(common.parts)
        entries = over.prior + over.read / share
        entries[common.diagonal[self._pinned]] += 1.0 / over.area
        self.factor = BorderedFactor(common.layout, entries)
        self.flux_shape = over.kernel.wall_flux[common.cells]
        raw = np.column_stack([common.parts, common.parts * self.flux_shape[:, None]])
        self.shapes = raw / over.scale[:, None]
        data = common.reads.T @ (common.values / self.noise) * over.scale
        pulled = over.times_k(over.times_k(self.shapes)) / over.area
        parts = common.parts.shape[1]
        pins = np.zeros((len(data), parts))
        pins[self._pinned, np.arange(parts)] = 1.0
        self._unpin(self.factor.solve(pins))
        first = self.solution(np.column_stack([pulled, data]))
        # once more, with K applied twice and never its square
        lack = -self._precision(np.column_stack([first[:, :-1] - self.shapes, first[:, -1]]))
        lack[:, :-1] -= self._read(self.shapes)
        lack[:, -1] += data
        solved = first + self.solution(lack)
        self.reach, self.start = solved[:, :-1], solved[:, -1]
        self.read_reach = common.reads @ (over.scale[:, None] * self.reach)
        read_flux = common.reads @ raw[:, common.parts.shape[1] :]
        self.read_shapes = np.column_stack([common.trend, read_flux])
        information = (self.read_shapes / self.noise[:, None]).T @ self.read_reach
        self._information = (information + information.T) / 2.0

    def _read(self, v: Floats) -> Floats:
        """Return D W' N⁻¹ W D v."""
        scale, reads = self.over.scale[:, None], self.over.common.reads
        return np.asarray(scale * (reads.T @ (reads @ (scale * v) / self.noise[:, None])))

    def _precision(self, v: Floats) -> Floats:
        """Return A v."""
        over = self.over
        return np.asarray(over.times_k(over.times_k(v)) / over.area + self._read(v))

    def _unpin(self, pulls: Floats) -> None:
        """Prepare to take the pins out again.

        A long range leaves Q an eigenvalue of (kappa² a)²/a for the mean of a part beside others of
        64/a, of which doubles keep few digits or none. So what is factored is A + g g' / a, with g
        a cell of each part. With X = (A + g g' / a)⁻¹ g the inverse of A is that of the pinned
        matrix plus X X' / (a t), t = 1 - g' X / a (Woodbury). This difference would lose what
        the pin has saved; but (D⁻¹ F)' A X = t (D⁻¹ F)' g, which loses nothing.
        """
        over, common = self.over, self.over.common
        shapes = common.parts / over.scale[:, None]
        reach = np.einsum("ij,ij->j", over.times_k(shapes), over.times_k(pulls)) / over.area
        read = common.reads @ (over.scale[:, None] * pulls) / self.noise[:, None]
        loose = (reach + np.einsum("ij,ij->j", common.trend, read)) * over.scale[self._pinned]
        self._pulls = pulls / np.sqrt(over.area * loose)
        self._loosened = 1.0 / np.sqrt(over.area * loose)
        self.log_determinant = self.factor.log_determinant + float(np.log(loose).sum())

    def solution(self, right: Floats) -> Floats:
        """Return A⁻¹ times right-hand sides of shape (c, k)."""
        held = self.factor.solve(right)
        loosened = self._pulls @ (self._loosened[:, None] * held[self._pinned])
        return np.asarray(held + loosened)

    def weigh(self, flux: float, least_sill: float = 0.0) -> Weighing:
        """Return the restricted likelihood and sill for a flux (variance in sills; 0: none)."""
        one = self._solve(flux)
        freedom = len(one.residual) - self.over.common.parts.shape[1]
        sill = max(one.squares / freedom, least_sill)
        log_determinant = (
            len(one.residual) * float(np.log(self.share))
            + self.log_determinant
            - self.over.prior_determinant
            + one.log_determinant
        )
        total = one.squares / sill + freedom * float(np.log(sill)) + log_determinant
        return Weighing(-0.5 * total, sill)

    def posteriors(
        self, fluxes: tuple[float, ...], least_sill: float = 0.0
    ) -> list[PrecisionPosterior]:
        """Return the posterior for each flux; the costly part is shared."""
        common, scale = self.over.common, self.over.scale
        reads = common.reads
        count = np.diff(reads.indptr)
        # every pair of cells that one reading reads
        row = np.repeat(np.arange(len(count)), count**2)
        within = np.arange(len(row)) - np.repeat(np.cumsum(count**2) - count**2, count**2)
        first = reads.indptr[row] + within // count[row]
        second = reads.indptr[row] + within % count[row]
        pairs = reads.indices[first].astype(np.int64), reads.indices[second].astype(np.int64)
        diagonal, entries = self.factor.inverse(pairs)
        diagonal += np.einsum("ij,ij->i", self._pulls, self._pulls)
        entries += np.einsum("ij,ij->i", self._pulls[pairs[0]], self._pulls[pairs[1]])
        size = reads.data[first] * reads.data[second] * scale[pairs[0]] * scale[pairs[1]]
        at_readings = np.bincount(row, weights=size * entries, minlength=len(count))
        out = []
        for flux in fluxes:
            one = self._solve(flux)
            weighed = self.weigh(flux, least_sill)
            mean = np.full(len(common.target_trend), np.nan)
            variance = np.full(len(common.target_trend), np.nan)
            mean[common.cells] = scale * one.v
            reach, read_reach = self.reach[:, one.used], self.read_reach[:, one.used]
            own = diagonal + np.einsum("ij,ij->i", reach @ one.covariance, reach)
            variance[common.cells] = weighed.sill * scale**2 * own
            known = at_readings + np.einsum("ij,ij->i", read_reach @ one.covariance, read_reach)
            free = 1.0 - known / self.noise
            free = np.where(free <= 1e-10, np.nan, free)
            out.append(
                PrecisionPosterior(
                    mean, variance, weighed.sill, weighed.log_likelihood,
                    one.residual / free, np.sqrt(weighed.sill * self.noise / free),
                )
            )  # fmt: skip
        return out

    def means(self, flux: float) -> tuple[Floats, Floats]:
        """Return B, shape (c, k), and J⁻¹ of the means (and the flux, where it is above 0)."""
        one = self._solve(flux)
        return self.reach[:, one.used], one.covariance

    def _solve(self, flux: float) -> _Solved:
        over, common = self.over, self.over.common
        parts = common.parts.shape[1]
        used = np.arange(2 * parts if flux > 0 else parts)
        penalty = np.zeros(len(used))
        if flux > 0:
            penalty[parts:] = 1.0 / flux
        information = self._information[np.ix_(used, used)] + np.diag(penalty)
        covariance = np.linalg.inv(information)
        reach, shapes = self.reach[:, used], self.shapes[:, used]
        coefficients = covariance @ (self.read_reach[:, used].T @ (common.values / self.noise))
        v = self.start + reach @ coefficients
        residual = common.values - common.reads @ (over.scale * v)
        apart = over.times_k(v - shapes @ coefficients)
        squares = float(
            residual @ (residual / self.noise)
            + apart @ apart / over.area
            + penalty @ coefficients**2
        )
        log_determinant = float(np.linalg.slogdet(information)[1])
        if flux > 0:
            log_determinant += parts * float(np.log(flux))
        return _Solved(used, covariance, v, residual, squares, log_determinant)


def _middles(parts: Floats) -> Ints:
    """Return a cell in the midst of each part."""
    cells = [np.flatnonzero(own) for own in parts.T]
    return np.array([own[len(own) // 2] for own in cells], dtype=np.int64)


class _Solved(NamedTuple):
    used: Ints
    covariance: Floats
    v: Floats
    residual: Floats
    squares: float
    log_determinant: float


def posterior_by_precision(
    kernel: WallKernel,
    graph: CellGraph,
    weights: sp.csr_array,
    values: Floats,
    trend: Floats,
    target_trend: Floats,
    *,
    share: float,
    error_weight: Floats | None = None,
    flux: float = 0.0,
    least_sill: float = 0.0,
) -> PrecisionPosterior:
    """Return what readings say of every cell, with the range, share and flux given.

    Parameters
    ----------
    kernel : WallKernel
        Of the graph.
    graph : CellGraph
    weights : sparse array of shape (n, m)
        How the readings read the cells.
    values : array of shape (n,)
        Working scale.
    trend : array of shape (n, p)
        1 where a reading belongs to a part of the floor.
    target_trend : array of shape (m, p)
        1 where a cell does; a row of zeros where no reading reaches: NaN there.
    share : float
        Error variance of one reading over the sill, above 0.
    error_weight : array of shape (n,), optional
        Relative error variance of each reading; 1 where not given.
    flux : float
        Variance of an even flux out of the walls of each part, in sills.
    least_sill : float
        The sill is never taken for less (working-scale unit squared).

    Raises
    ------
    ValueError
        If the share is not above 0: an exact reading has no precision.
    EstimateError
        If the range is some 90,000 cells or more.
    """
    if not share > 0:
        raise ValueError(f"a share of {share} is not above 0")
    error_weight = np.ones(len(values)) if error_weight is None else error_weight
    with one_thread():
        common = PrecisionField(graph, weights, values, trend, target_trend, error_weight)
        return OneShare(OneRange(common, kernel), share).posteriors((flux,), least_sill)[0]
