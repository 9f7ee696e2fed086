"""Ordinary kriging on plain arrays: at any places, or on the cells of a grid."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.grid import Grid, as_axis, as_mask
from hgmap.field.krige_doors import krige_through_doors
from hgmap.field.models import Model
from hgmap.field.points import Progress, as_points, as_values
from hgmap.field.raster import as_floor, as_rooms
from hgmap.field.straight import estimate_points
from hgmap.field.system import as_errors, checked_kernel, ready_system
from hgmap.field.tiles import estimate_grid
from hgmap.site.building import Floor

Floats = NDArray[np.float64]

BLOCK_BYTES: Final = 4 * 2**20
"""Of the covariances that one thread holds at a time: more falls out of the cache."""

RANGES_M: Final = (1e-3, 1e6)
"""Through doors, the ranges (m) that the cells of a building can still tell from none or from
endless: squares of the others overflow."""


def krige(
    xy: ArrayLike,
    values: ArrayLike,
    targets: ArrayLike,
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool | None = None,
    progress: Progress | None = None,
    error_variance: ArrayLike | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
    floor: Floor | None = None,
    room: ArrayLike | None = None,
    target_room: ArrayLike | None = None,
) -> tuple[Floats, Floats]:
    r"""Estimate by ordinary kriging with a given variogram.

    The semivariance is ``nugget + psill * (1 - rho(h))`` for h > 0 and 0 at h = 0, with

    ============  =============================================
    model         rho(h)
    ============  =============================================
    spherical     1 - 1.5 u + 0.5 u³ for u < 1, else 0
    exponential   exp(-3 u)
    gaussian      exp(-3 u²)
    matern        2 ** (1 - v) s ** v K_v(s) / Gamma(v), s = k u
    ============  =============================================

    and u = h / ``range_``: ``range_`` is the practical range. For the Matern model of smoothness v
    the factor k is such that rho is exp(-3) at the range, as it is for the exponential model
    (which v = 0.5 is) and the Gaussian one. The same model elsewhere, with a = ``range_``:

    * gstat: ``vgm(psill, "Sph", a, nugget)``, ``vgm(psill, "Exp", a / 3, nugget)``,
      ``vgm(psill, "Gau", a / sqrt(3), nugget)``;
    * GSTools: ``Spherical(var=psill, len_scale=a, nugget=nugget)``,
      ``Exponential(var=psill, len_scale=a / 3, nugget=nugget)``,
      ``Gaussian(var=psill, len_scale=a / sqrt(3), rescale=1, nugget=nugget)``;
    * PyKrige: ``variogram_parameters={"psill": psill, "range": a, "nugget": nugget}``, but for
      the Gaussian model ``"range": a * 7 / (4 * sqrt(3))``;
    * scikit-learn: ``Matern(length_scale=a * sqrt(2 v) / hgmap.field.models.matern_scale(v),
      nu=v)``.

    Coordinates are centred and scaled before the algebra. Readings at one place (within 1e-9 of
    the extent) are averaged, and their rows named in a ``CoincidentReadingsWarning``; with
    ``error_variance`` each counts by its own error instead, and there is nothing to warn of.

    Parameters
    ----------
    xy : array_like of shape (n, 2)
        Places of the readings (any one unit of length).
    values : array_like of shape (n,)
        Readings (any unit).
    targets : array_like of shape (m, 2)
        Places to estimate.
    model : {"spherical", "exponential", "gaussian", "matern"}
    nugget, psill : float
        Nugget and partial sill (unit of ``values``, squared), neither negative, not both zero.
    range_ : float
        Practical range (unit of ``xy``), above 0; with a floor, from 1 mm to 1e6 m.
    exact : bool, optional
        True: the nugget is a feature of the field, shared by readings at one place, and at a
        reading the estimate is that reading with variance 0. False: the nugget is measurement
        error, each reading has its own, and the estimate at a reading is smoothed as it is
        anywhere else. Both variances include the nugget; that of the noise-free field is
        ``variance - nugget`` with ``exact=False``. Where not given: True along straight lines,
        False with a floor, which knows no other.
    progress : callable, optional
        Called with (done, all) after each block. Raising inside it cancels the work.
    error_variance : float or array_like of shape (n,), optional
        Variance of each reading's own error (unit of ``values``, squared), added to its variance
        and left out of the variance of the estimate. A reading with an error is not exact.
    anisotropy : Anisotropy, optional
        Direction of the longest range, and the shortest as a share of it; ``range_`` is then the
        longest.
    smoothness : float, optional
        Of the Matern model, from 0.1 to 20; 1 where not given.
    floor : Floor, optional
        Krige through the doors of this floor, not through its walls: by the Matern field of
        smoothness 1 with no flux through walls (:mod:`hgmap.field.walls`), in metres of the
        floor's frame, with a mean for each part of the floor that air joins. In open space it is
        what ``model="matern"`` is without a floor.
    room, target_room : array_like of shape (n,) and (m,), int, optional
        Position in ``floor.rooms`` of the room of each reading and target; found from the plan
        where not given.

    Returns
    -------
    mean, variance : arrays of shape (m,)
        Estimate and kriging variance; with a floor, NaN where no reading reaches.

    Raises
    ------
    EstimateError
        If there is no reading, shapes do not fit, a number is not finite (its row is named), a
        parameter cannot be used, or the kriging system has no stable solution; if rooms are given
        without a floor, or with one a model that only straight lines have; if with a floor a place
        of which no room is given is more than 0.6 m outside every room.

    References
    ----------
    Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 12.

    Examples
    --------
    >>> mean, variance = krige(
    ...     [[0, 0], [6, 0]], [1.0, 3.0], [[3, 0], [0, 0]],
    ...     model="spherical", nugget=1.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([2.0, 1.0], [2.931, 0.0])

    Two readings at one place, the first ten times as good as the second, count 10 to 1:

    >>> mean, variance = krige(
    ...     [[0, 0], [0, 0]], [2.0, 13.0], [[0, 0]], error_variance=[0.1, 1.0],
    ...     model="exponential", nugget=0.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([3.0], [0.090909])
    """
    wanted = as_points(targets, name="targets")
    if floor is not None:
        floor = as_floor(floor)
        _refuse_straight_only(model, exact=exact, anisotropy=anisotropy, smoothness=smoothness)
        places = as_points(xy)
        readings = as_values(values, len(places))
        checked_kernel(model, nugget, psill, range_, smoothness, len(places))
        if not RANGES_M[0] <= range_ <= RANGES_M[1]:
            raise EstimateError(
                f"through doors a range_ of {range_:g} m cannot be used",
                todo=f"give one from {RANGES_M[0]:g} to {RANGES_M[1]:g} m",
            )
        return krige_through_doors(
            floor, places, readings, as_rooms(floor, places, room, name="room"),
            wanted, as_rooms(floor, wanted, target_room, name="target_room"),
            nugget=nugget, psill=psill, range_m=range_, progress=progress,
            error_variance=as_errors(
                0.0 if error_variance is None else error_variance, len(places)
            ),
        )  # fmt: skip
    if room is not None or target_room is not None:
        raise EstimateError("rooms mean nothing without a floor", todo="give floor as well")
    ready = ready_system(
        xy, values, model=model, nugget=nugget, psill=psill, range_=range_,
        exact=exact is not False, error_variance=error_variance, anisotropy=anisotropy,
        smoothness=smoothness,
    )  # fmt: skip
    return estimate_points(
        ready.system, ready.in_ranges(wanted), block_bytes=BLOCK_BYTES, progress=progress
    )


def _refuse_straight_only(
    model: Model, *, exact: bool | None, anisotropy: Anisotropy | None, smoothness: float | None
) -> None:
    if model != "matern" or smoothness not in (None, 1, 1.0):
        raise EstimateError(
            f"the {model} model knows straight lines only"
            if model != "matern"
            else f"through doors the smoothness is 1, not {smoothness:g}",
            todo='give model="matern" with the floor',
        )
    if anisotropy is not None:
        raise EstimateError("through doors there is no anisotropy", todo="leave it out")
    if exact:
        raise EstimateError(
            "through doors the nugget is error of the readings", todo="give exact=False"
        )


def krige_grid(
    xy: ArrayLike,
    values: ArrayLike,
    gx: ArrayLike,
    gy: ArrayLike,
    inside: NDArray[np.bool_] | None = None,
    *,
    model: Model,
    nugget: float,
    psill: float,
    range_: float,
    exact: bool = True,
    progress: Progress | None = None,
    error_variance: ArrayLike | None = None,
    anisotropy: Anisotropy | None = None,
    smoothness: float | None = None,
) -> tuple[Floats, Floats]:
    """Estimate as :func:`krige` does, at the cells of a grid: the same numbers to 1e-8, sooner.

    Parameters
    ----------
    gx, gy : array_like of shape (nx,) and (ny,)
        Centres of the columns and of the rows, ascending.
    inside : array of shape (ny, nx), bool, optional
        The cells to estimate; all where not given.

    Returns
    -------
    mean, variance : arrays of shape (inside cells,)
        Row by row, as ``Raster.points`` lists them.

    Raises
    ------
    EstimateError
        As :func:`krige`, and if the axes or the mask do not fit.

    Examples
    --------
    >>> mean, variance = krige_grid(
    ...     [[0, 0], [6, 0]], [1.0, 3.0], [0, 3], [0],
    ...     model="spherical", nugget=1.0, psill=3.0, range_=10.0,
    ... )
    >>> mean.round(6).tolist(), variance.round(6).tolist()
    ([1.0, 2.0], [0.0, 2.931])
    """
    x, y = as_axis(gx, "gx"), as_axis(gy, "gy")
    mask = as_mask(inside, (len(y), len(x)))
    ready = ready_system(
        xy, values, model=model, nugget=nugget, psill=psill, range_=range_, exact=exact,
        error_variance=error_variance, anisotropy=anisotropy, smoothness=smoothness,
    )  # fmt: skip
    grid = Grid(x - ready.centre[0], y - ready.centre[1], mask, ready.matrix)
    return estimate_grid(ready.system, grid, block_bytes=BLOCK_BYTES, progress=progress)
