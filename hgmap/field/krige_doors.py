"""Kriging through the doors with given parameters, at any places of a floor."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from hgmap.field.graph import CellGraph
from hgmap.field.kernel_step import kernel_step
from hgmap.field.models import matern_scale
from hgmap.field.points import Progress
from hgmap.field.spectrum import Spectrum
from hgmap.field.walls import WallField
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_ERROR: Final = 1e-9
"""Of the sill: readings without any error still have a solution where two stand in one cell."""


def krige_through_doors(
    floor: Floor,
    xy: Floats,
    values: Floats,
    room: Ints,
    targets: Floats,
    target_room: Ints,
    *,
    nugget: float,
    psill: float,
    range_m: float,
    error_variance: Floats,
    progress: Progress | None = None,
) -> tuple[Floats, Floats]:
    """Krige with the no-flux Matern field of smoothness 1 (see :mod:`hgmap.field.walls`).

    Every part of the floor that air joins has a mean of its own.

    Parameters
    ----------
    floor : Floor
    xy, targets : arrays of shape (n, 2) and (m, 2), m
    values : array of shape (n,)
    room, target_room : arrays of shape (n,) and (m,)
        Positions in ``floor.rooms``.
    nugget, psill : float
        Unit of ``values``, squared.
    range_m : float
        Practical range (m): in open space the correlation there is exp(-3).
    error_variance : array of shape (n,)
        Unit of ``values``, squared.
    progress : callable, optional

    Returns
    -------
    mean, variance : arrays of shape (m,)
        The variance includes the nugget; both are NaN where no reading reaches.
    """
    graph = CellGraph.over(floor, kernel_step(floor, 0.0))
    kernel = WallField(graph).kernel(range_m * float(np.sqrt(8.0)) / matern_scale(1.0))
    if progress is not None:
        progress(1, 2)
    reads, wanted = graph.interpolation(xy, room), graph.interpolation(targets, target_room)
    half = kernel.half(reads)
    home, there = _parts(graph, reads), _parts(graph, wanted)
    reached = np.unique(home)
    trend = (home[:, None] == reached[None, :]).astype(float)
    target_trend = (there[:, None] == reached[None, :]).astype(float)
    noise = np.maximum((nugget + error_variance) / max(psill, 1e-300), LEAST_ERROR)
    spectrum = Spectrum.of(half.T @ half, trend, noise)
    one = spectrum.solve(1.0, spectrum.basis.T @ values)
    rotated = (wanted @ kernel.columns(half)) @ spectrum.basis
    left = target_trend - rotated @ one.weighted
    mean = target_trend @ one.means + rotated @ (one.precision * one.residual)
    variance = (
        1.0
        - rotated**2 @ one.precision
        + np.einsum("ij,ij->i", left @ np.linalg.inv(one.information), left)
    )
    variance = psill * np.maximum(variance, 0.0) + nugget
    unknown = ~target_trend.any(axis=1)
    mean[unknown] = variance[unknown] = np.nan
    if progress is not None:
        progress(2, 2)
    return mean, variance


def _parts(graph: CellGraph, weights: sp.csr_array) -> Ints:
    """Return the connected part of the floor that each row of weights reads."""
    return np.asarray(graph.component[np.asarray(weights.argmax(axis=1)).ravel()])
