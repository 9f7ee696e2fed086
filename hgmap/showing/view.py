"""One floor to be drawn, with no word yet about where."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hgmap.report.drawing import Drawing, Hatch, Pen
from hgmap.report.extent import extent
from hgmap.scene.key import Key
from hgmap.site.building import Floor

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Sign:
    """One line of a short key: a hatch, an outline and its word."""

    word: str
    hatch: Hatch | None
    pen: Pen


@dataclass(frozen=True)
class Scale:
    """A scale of shades: what they are of, RGBA from its low to its high end, places 0 to 1."""

    label: str
    ramp: NDArray[np.uint8]
    ticks: tuple[tuple[float, str], ...]


@dataclass(frozen=True, slots=True)
class View:
    """A floor and what is shown of it.

    Attributes
    ----------
    title : str
        What it is.
    lines : tuple of str
        The level with its source, and what else has to stand with the picture.
    floor : tuple of str
        Names that the floor goes by.
    bounds : tuple of float
        West, south, east, north (m).
    draw : callable
        From millimetres of the picture for a metre, and those left round the floor, to a drawing in
        metres and its whole key.
    signs : tuple of Sign
        The short key, where there is no paper for the whole one.
    scale : Scale or None
        Of its shades, for the short key.
    beware : tuple of str
        Set under the whole key.
    alone : bool
        Whether it brings its own plan; without one it may be drawn on top of another picture.
    """

    title: str
    lines: tuple[str, ...]
    floor: tuple[str, ...]
    bounds: Bounds
    draw: Callable[[float, float], tuple[Drawing, Key]]
    signs: tuple[Sign, ...] = ()
    beware: tuple[str, ...] = ()
    alone: bool = True
    scale: Scale | None = None


def bounds_of(floor: Floor) -> Bounds:
    """Return how far a floor reaches (m)."""
    return extent(floor)
