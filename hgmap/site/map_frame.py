"""How a building's own metres lie on the map: moved, turned, and by little scaled or sheared."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import affinity
from shapely.geometry.base import BaseGeometry

MOST_SCALE = 1.1
LEAST_SCALE = 0.9
"""Map metres to a building metre. A plan is in metres, and a map that is so far from true to scale
is not one to work on. Ours, no source."""
MOST_SKEW_DEG = 30.0


@dataclass(frozen=True, slots=True)
class MapFrame:
    """How the building's own frame lies on the map: ``map = origin + matrix · local`` in ``crs``.

    Attributes
    ----------
    crs : str
        A projected coordinate reference system in metres, as pyproj reads it.
    origin_x_m, origin_y_m : float
        Map coordinates of the local origin (m).
    angle_deg : float
        Direction of plan-right, counter-clockwise from the map's east.
    scale : float
        Map metres to a metre of the building, along plan-right.
    scale_y : float or None
        The same along plan-up; None where it is ``scale``.
    skew_deg : float
        How much more than a right angle plan-up lies counter-clockwise from plan-right.
    fitted : str
        What is known of the frame: the fit that it comes from.
    """

    crs: str
    origin_x_m: float = 0.0
    origin_y_m: float = 0.0
    angle_deg: float = 0.0
    scale: float = 1.0
    scale_y: float | None = None
    skew_deg: float = 0.0
    fitted: str = ""

    @property
    def turned(self) -> bool:
        """Whether more is done than to add the origin."""
        return not np.array_equal(self.matrix, np.eye(2))

    @property
    def matrix(self) -> NDArray[np.float64]:
        """What turns local metres to map metres, before the origin is added; shape (2, 2)."""
        right, up = math.radians(self.angle_deg), math.radians(self.angle_deg + self.skew_deg)
        along = self.scale if self.scale_y is None else self.scale_y
        return np.array([
            [self.scale * math.cos(right), -along * math.sin(up)],
            [self.scale * math.sin(right), along * math.cos(up)],
        ]) + 0.0  # fmt: skip

    @property
    def north_deg(self) -> float:
        """The map's grid north on the plan, in degrees clockwise from plan-up."""
        if not self.turned:
            return 0.0
        x, y = np.linalg.solve(self.matrix, (0.0, 1.0))
        return math.degrees(math.atan2(x, y)) + 0.0

    def to_map(self, places: ArrayLike) -> NDArray[np.float64]:
        """Return the map coordinates (m) of local places (m), both of shape (n, 2)."""
        found: NDArray[np.float64] = (
            np.asarray(places, dtype=np.float64) @ self.matrix.T + self._origin
        )
        return found

    def to_plan(self, places: ArrayLike) -> NDArray[np.float64]:
        """Return the local places (m) of map coordinates (m), both of shape (n, 2)."""
        moved: NDArray[np.float64] = np.asarray(places, dtype=np.float64) - self._origin
        if not self.turned:
            return moved
        return np.asarray(np.linalg.solve(self.matrix, moved.T).T, dtype=np.float64)

    def place(self, geometry: BaseGeometry) -> BaseGeometry:
        """Move a geometry from the building's metres to the map."""
        if self.turned:
            (a, b), (c, d) = self.matrix.tolist()
            return affinity.affine_transform(
                geometry, (a, b, c, d, self.origin_x_m, self.origin_y_m)
            )
        if self.origin_x_m == 0 and self.origin_y_m == 0:
            return geometry
        return affinity.translate(geometry, self.origin_x_m, self.origin_y_m)

    @property
    def _origin(self) -> NDArray[np.float64]:
        return np.array([self.origin_x_m, self.origin_y_m])


def frame_of_matrix(
    crs: str, matrix: ArrayLike, origin: ArrayLike, *, conformal: bool, fitted: str = ""
) -> MapFrame:
    """Return the frame of a matrix (2, 2) and an origin (m).

    ``conformal`` promises a matrix that only turns and scales: two numbers say it.

    Examples
    --------
    >>> frame = frame_of_matrix("EPSG:25832", [[0, -1], [1, 0]], [5, 6], conformal=True)
    >>> frame.angle_deg, frame.scale, frame.turned
    (90.0, 1.0, True)
    """
    (a, b), (c, d) = np.asarray(matrix, float).tolist()
    x, y = np.asarray(origin, float).tolist()
    angle = math.degrees(math.atan2(c, a))
    scale = math.hypot(a, c)
    if conformal:
        return MapFrame(crs, x, y, angle, scale, fitted=fitted)
    skew = math.remainder(math.degrees(math.atan2(-b, d)) - angle, 360.0)
    return MapFrame(crs, x, y, angle, scale, math.hypot(b, d), skew, fitted)
