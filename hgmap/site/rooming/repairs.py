"""The list of repairs while it grows: every one has a key, and none is made that was refused."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.site.importers.found_plan import PlanDoubt, PlanRepair
from hgmap.site.importers.outlines import place_of

LARGE_M = 0.3
"""A repair longer than this (m) is worded so that a person looks at it; ours, no source."""


class Repairs:
    """Repairs and remarks in the order in which they come up.

    Parameters
    ----------
    refused : frozenset of str
        Keys of repairs that are not made.
    origin : array of shape (2,)
        Where the origin of the shapes lies in the floor's frame (m): the rooms are sought near
        zero, where a coordinate has the most digits, and told of where they are.
    """

    def __init__(self, refused: frozenset[str], origin: NDArray[np.float64]) -> None:
        self._refused = refused
        self._origin = origin
        self._met: dict[str, int] = {}
        self.made: list[PlanRepair] = []
        self.left_out: list[str] = []
        self.doubts: list[PlanDoubt] = []

    def at(self, place: shapely.Geometry) -> str:
        """Name a place in the floor's frame."""
        return place_of(self._out(place))

    def wants(self, rule: str, text: str, place: shapely.Geometry, size_m: float) -> bool:
        """List a repair, and say whether it is to be made.

        Parameters
        ----------
        rule : str
            What kind of repair it is.
        text : str
            What is done, with its size; the place is added here.
        place : shapely.Geometry
            Where, near zero (m).
        size_m : float
            How long it is (m).
        """
        there = self._out(place)
        key = self._key(rule, there)
        line = f"{text} {place_of(there)}"
        if key in self._refused:
            self.left_out.append(f"refused, so not done: {line}")
            return False
        if size_m > LARGE_M:
            line = f"{line}; larger than {LARGE_M:g} m: look at it"
        self.made.append(PlanRepair(key, rule, line, there, size_m))
        return True

    def wants_all(
        self, rule: str, text: str, place: shapely.Geometry, first: shapely.Geometry
    ) -> bool:
        """List many small repairs as one, and where the first is; say whether they are made."""
        line = f"{text} {self.at(first)}"
        if rule in self._refused:
            self.left_out.append(f"refused, so not done: {line}")
            return False
        self.made.append(PlanRepair(rule, rule, line, self._out(place), float(np.sqrt(place.area))))
        return True

    def remark(self, text: str, place: shapely.Geometry) -> None:
        """Say what is left out, and where."""
        self.left_out.append(f"{text} {self.at(place)}")

    def doubt(self, rule: str, text: str, place: shapely.Geometry) -> None:
        """Say what a person must look at, and where.

        Parameters
        ----------
        rule : str
            What sort of doubt it is.
        text : str
            What may be otherwise; the place is added here.
        place : shapely.Geometry
            Where, near zero (m).
        """
        there = self._out(place)
        line = isinstance(there, shapely.LineString)
        at = place_of(there.interpolate(0.5, normalized=True) if line else there)
        self.doubts.append(PlanDoubt(self._key(rule, there), rule, f"{text} {at}", there))

    def _key(self, rule: str, there: shapely.Geometry) -> str:
        point = there.representative_point()
        key = f"{rule} {point.x:.2f} {point.y:.2f}"
        times = self._met[key] = self._met.get(key, 0) + 1
        return f"{key} {times}" if times > 1 else key

    def _out(self, place: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(place, lambda xy: xy + self._origin)
