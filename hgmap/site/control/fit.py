"""The frame that carries places of a building to places of the map with the least squares.

Both kinds are solved about the middle of the points, so that map coordinates of a thousand
kilometres cost no digits. Sources: Ghilani and Wolf, Adjustment Computations, chapter 18 (value
from memory: two-dimensional conformal and affine coordinate transformation).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import SiteError
from hgmap.site.map_frame import MapFrame, frame_of_matrix

FitKind = Literal["conformal", "affine"]
Floats = NDArray[np.float64]

PARAMETERS: Final[dict[FitKind, int]] = {"conformal": 4, "affine": 6}
SAME_PLACE_M: Final = 1e-3
"""Two points nearer than this are one place: a prism is not set up any better."""
IN_LINE: Final = 1e-3
"""Points whose spread across is less than this share of their spread along lie on a line."""


@dataclass(frozen=True)
class Fit:
    """What carries places of the plan to places of the map, and how well.

    Attributes
    ----------
    kind : {"conformal", "affine"}
    matrix : array of shape (2, 2)
        Turns metres of the plan to metres of the map.
    origin : array of shape (2,)
        Where the plan's origin comes to lie (m).
    residuals : array of shape (n, 2)
        East and north (m) as computed, less as given, of every point.
    """

    kind: FitKind
    matrix: Floats
    origin: Floats
    residuals: Floats

    @property
    def squares(self) -> float:
        """The sum of squared residuals (m²)."""
        return float((self.residuals**2).sum())

    @property
    def rmse_m(self) -> float:
        """The root of the mean, over the points, of the squared distance missed (m)."""
        return math.sqrt(self.squares / len(self.residuals))

    @property
    def degrees_of_freedom(self) -> int:
        """Coordinates on the map, less what was fitted; 0: nothing is left to check the fit by."""
        return 2 * len(self.residuals) - PARAMETERS[self.kind]

    @property
    def standard_error_m(self) -> float | None:
        """The standard error of unit weight (m): of one coordinate of one point; None: unknown."""
        free = self.degrees_of_freedom
        return math.sqrt(self.squares / free) if free > 0 else None

    @property
    def mirrored(self) -> bool:
        """Whether the plan would have to be turned over."""
        return bool(np.linalg.det(self.matrix) < 0)

    @property
    def scales(self) -> tuple[float, float]:
        """Map metres to a metre of the plan, along plan-right and plan-up."""
        right, up = np.hypot(self.matrix[0], self.matrix[1]).tolist()
        return right, up

    @property
    def scale(self) -> float:
        """The one scale that keeps the area: of a conformal fit, the scale."""
        return math.sqrt(abs(float(np.linalg.det(self.matrix))))

    def error_at(self, distance_m: float, plan: Floats) -> float | None:
        """Return the standard error (m) of a map coordinate so far from the middle of the points.

        ``S0 · sqrt(1/n + d² / Σr²)`` of a conformal fit (r: the points' distances from the middle);
        ``S0 · sqrt(1/n + d²/λ)`` in the worst direction of an affine one (λ: the
        least eigenvalue of the points' moments). Propagation of errors; None where S0 is unknown.
        """
        error = self.standard_error_m
        if error is None:
            return None
        return error * math.sqrt(1.0 / len(plan) + distance_m**2 / self.held_by(plan))

    def held_by(self, plan: Floats) -> float:
        """Return what holds turn and scale (m²): ``S0 / sqrt`` of it is the scale's standard error.

        ``Σr²`` of a conformal fit; ``λ`` of an affine one, in the direction that is held worst.
        """
        local = plan - plan.mean(axis=0)
        moments = np.linalg.eigvalsh(local.T @ local)
        return float(moments.sum() if self.kind == "conformal" else moments[0])

    def frame(self, crs: str, fitted: str = "") -> MapFrame:
        """Return it as the frame of a site."""
        return frame_of_matrix(
            crs, self.matrix, self.origin, conformal=self.kind == "conformal", fitted=fitted
        )

    def without(self, index: int, plan: Floats, on_map: Floats) -> Fit:
        """Return the fit of the same kind to every point but one."""
        return solve(self.kind, np.delete(plan, index, 0), np.delete(on_map, index, 0))


def fit_points(
    kind: FitKind,
    plan: ArrayLike,
    on_map: ArrayLike,
    *,
    names: Sequence[str] = (),
    where: str = "",
) -> Fit:
    """Fit a frame to control points.

    Parameters
    ----------
    kind : {"conformal", "affine"}
        Moved, turned and scaled (4 parameters); or also sheared, with a scale for each axis (6).
    plan, on_map : array of shape (n, 2)
        x, y of the points on the plan, and east, north on the map (m).
    names : sequence of str
        The points' names; their numbers where there are none.
    where : str
        What complaints name: the file of the points.

    Raises
    ------
    SiteError
        If there are too few points, two of them are at one place, or all lie on a line.
    """
    plan, on_map = np.asarray(plan, float), np.asarray(on_map, float)
    called = names or [str(k + 1) for k in range(len(plan))]
    least = PARAMETERS[kind] // 2
    if len(plan) < least:
        raise SiteError(
            f"{len(plan)} control {'point' if len(plan) == 1 else 'points'}; a fit that is {kind} "
            f"needs {least}",
            where=where,
            todo="add points, as far apart as the building lets you",
        )
    for named, places in (("on the plan", plan), ("on the map", on_map)):
        for one, other in _at_one_place(places):
            raise SiteError(
                f"control points {called[one]!r} and {called[other]!r} are at one place {named}",
                where=where,
                todo="take one of them out, or mend its coordinates",
            )
    if kind == "affine" and spread_across(plan) < IN_LINE:
        raise SiteError(
            "all control points lie on a line: nothing says how the plan lies across it",
            where=where,
            todo="add a point well off the line, or fit a conformal frame",
        )
    return solve(kind, plan, on_map)


def solve(kind: FitKind, plan: Floats, on_map: Floats) -> Fit:
    """Solve the least squares; :func:`fit_points` asks first whether they can be."""
    # first to a point and then to the middle: a mean of large numbers is not exact enough
    local, far = plan - plan[0], on_map - on_map[0]
    middle, there = local.mean(axis=0), far.mean(axis=0)
    local, far = local - middle, far - there
    if kind == "conformal":
        z, w = local @ (1, 1j), far @ (1, 1j)
        turn = np.vdot(z, w) / np.vdot(z, z)
        matrix = np.array([[turn.real, -turn.imag], [turn.imag, turn.real]])
    else:
        matrix = np.linalg.lstsq(local, far, rcond=None)[0].T
    origin = on_map[0] + there - matrix @ (plan[0] + middle)
    return Fit(kind, matrix, origin, local @ matrix.T - far)


def spread_across(places: Floats) -> float:
    """Return how wide places lie across their longest direction, as a share of how long."""
    along, across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[:2]
    return float(across / along) if along > 0 else 0.0


def _at_one_place(places: Floats) -> Iterator[tuple[int, int]]:
    """Go through pairs of points at one place; only neighbours from west to east are compared."""
    order = np.argsort(places[:, 0], kind="stable").tolist()
    for k, one in enumerate(order):
        for other in order[k + 1 :]:
            if places[other, 0] - places[one, 0] > SAME_PLACE_M:
                break
            if math.dist(places[one], places[other]) < SAME_PLACE_M:
                yield min(one, other), max(one, other)
