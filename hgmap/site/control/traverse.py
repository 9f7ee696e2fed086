"""From courses to corners: where a figure closes, how badly it does not, and what it holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from hgmap.errors import SiteError
from hgmap.site.compass_rule import shared_by_length
from hgmap.site.control.deed import Course

POOR_RATIO: Final = 5_000.0
"""A figure that closes worse than 1 in so many says so: what boundary surveys are held to, common
practice, no source."""
ROUNDING_M: Final = 0.02
"""A misclosure below this is no more than distances written to the centimetre make."""
OPEN_SHARE: Final = 0.05
"""A misclosure of more than this share of the whole length is no error: the figure is open."""


@dataclass(frozen=True)
class Traverse:
    """Corners, one after another, as the courses say; nothing is balanced.

    Attributes
    ----------
    courses : tuple of Course
    corners : array of shape (n + 1, 2)
        East and north (m): the start, then the end of every course.
    """

    courses: tuple[Course, ...]
    corners: NDArray[np.float64]

    @property
    def length_m(self) -> float:
        """The sum of the courses (m)."""
        return math.fsum(one.length_m for one in self.courses)

    @property
    def misclosure(self) -> tuple[float, float]:
        """East and north (m) from the start to where the last course ends: departure, latitude."""
        steps = steps_of(self.courses)
        return math.fsum(steps[:, 0]), math.fsum(steps[:, 1])

    @property
    def misclosure_m(self) -> float:
        """How far (m) the last course ends from the start."""
        return math.hypot(*self.misclosure)

    @property
    def ratio(self) -> float:
        """The whole length over the misclosure: the ``n`` of 1 in n; infinite where it closes."""
        return self.length_m / self.misclosure_m if self.misclosure_m > 0 else math.inf

    @property
    def closed(self) -> bool:
        """Whether the courses come back to where they began."""
        return self.misclosure_m <= OPEN_SHARE * self.length_m

    @property
    def places(self) -> dict[str, tuple[float, float]]:
        """The corners by their numbers from 1 (m); of a closed figure the last end is the first."""
        kept = self.corners[:-1] if self.closed else self.corners
        return {str(k): (float(x), float(y)) for k, (x, y) in enumerate(kept, start=1)}

    @property
    def area_m2(self) -> float | None:
        """The area (m²) by the coordinates of the corners; None of an open or crossed figure."""
        shape = self.outline
        return None if shape is None else shape.area

    @property
    def outline(self) -> Polygon | None:
        """The figure (m); None where it is open, crosses itself or has no inside."""
        if not self.closed or len(self.courses) < 3:
            return None
        shape = Polygon(self.corners[:-1])
        return shape if shape.is_valid and shape.area > 0 else None


def steps_of(courses: Sequence[Course]) -> NDArray[np.float64]:
    """Return the departure (east) and latitude (north) of every course (m), of shape (n, 2)."""
    return np.array([
        (one.length_m * _sine(one.azimuth_deg), one.length_m * _sine(one.azimuth_deg + 90.0))
        for one in courses
    ])  # fmt: skip


def run_traverse(
    courses: Sequence[Course], start: tuple[float, float] = (0.0, 0.0), *, where: str = ""
) -> Traverse:
    """Go along the courses from a start (east, north, m).

    Raises
    ------
    SiteError
        If there is no course.
    """
    if not courses:
        raise SiteError("no course", where=where)
    # summed before the start is added: a map's coordinates have fewer digits to spare
    ends = np.cumsum(steps_of(courses), axis=0)
    return Traverse(tuple(courses), np.vstack([[0.0, 0.0], ends]) + start)


def balanced(traverse: Traverse) -> NDArray[np.float64]:
    """Return the corners (m), of shape (n + 1, 2), closed by the compass rule."""
    lengths = np.array([one.length_m for one in traverse.courses])
    return shared_by_length(traverse.corners, lengths)


def doubt_of_closure(traverse: Traverse) -> str:
    """Say what speaks against the figure; empty where it closes well."""
    if not traverse.closed:
        return (
            f"the figure is open: it ends {traverse.misclosure_m:.2f} m from its start, and has "
            "no area"
        )
    if traverse.outline is None:
        return "the figure crosses itself or has no inside: no area"
    if traverse.ratio < POOR_RATIO and traverse.misclosure_m > ROUNDING_M:
        return f"the figure closes only to 1 in {traverse.ratio:.0f}"
    return ""


def _sine(degrees: float) -> float:
    """Return the sine; exact at right angles, so that a square closes."""
    turned = math.remainder(degrees, 360.0)
    exact = {0.0: 0.0, 90.0: 1.0, -90.0: -1.0, 180.0: 0.0, -180.0: 0.0}
    return exact[turned] if turned in exact else math.sin(math.radians(turned))
