"""The horseshoe: a published test of smoothing inside an edge that must not be crossed.

Two arms lie 0.2 apart and carry opposite values: whatever leaks from one to the other is wrong.

T. Ramsay (2002), Spline smoothing over difficult regions, JRSS B 64:307-319; the truth as in
S. N. Wood, M. V. Bravington and S. L. Hedley (2008), Soap film smoothing, JRSS B 70:931-955 (R
package mgcv, ``fs.test``). Built here from the formula.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from hgmap.site.building import Floor, Room

Floats = NDArray[np.float64]

MIDDLE: Final = 0.5
"""Radius of the middle line, and how far the arms' middles lie from y = 0."""
HALF_WIDTH: Final = 0.4
ARM: Final = 3.0
"""Where the straight arms end and their round tips begin."""

SIZES: Final = (60, 150, 600)
NOISES: Final = (0.1, 0.3, 1.0)

SHARED: Final = Path(__file__).parents[3] / "shared" / "data" / "readings"
"""Reading sets and the rivals' scores, kept out of the repository."""

SOAP_FILM: Final = {
    (60, 0.1): 0.1060, (60, 0.3): 0.1660, (60, 1.0): 0.3293,
    (150, 0.1): 0.0529, (150, 0.3): 0.1109, (150, 1.0): 0.2444,
    (600, 0.1): 0.0346, (600, 0.3): 0.0712, (600, 1.0): 0.1509,
}  # fmt: skip
"""Mean rmse of a soap film over ten seeds, by readings and noise (measured with mgcv 1.8-41, REML,
k 15/30); for where the reading sets themselves, and its score on each, are not at hand."""


class ReadingSet(NamedTuple):
    """Readings of the horseshoe; ``soap_film`` is that rival's rmse on them, NaN if unknown."""

    seed: int
    xy: Floats
    values: Floats
    soap_film: float = np.nan


def _along_and_off(xy: Floats) -> tuple[Floats, Floats]:
    """Return how far along the middle line places lie, and how far off it."""
    x, y = xy[:, 0], xy[:, 1]
    quarter = 0.5 * np.pi * MIDDLE
    with np.errstate(divide="ignore", invalid="ignore"):
        bend = -MIDDLE * np.arctan(y / x)
    along = np.where(x >= 0, np.where(y > 0, quarter + x, -quarter - x), bend)
    off = np.where(x >= 0, np.abs(y), np.sqrt(x**2 + y**2)) - MIDDLE
    return along, np.where((x >= 0) & (y <= 0), -MIDDLE - y, off)


def truth(xy: Floats) -> Floats:
    """Return f = a + d², a along the middle line (from -3.8 to 3.8 or so) and d off it."""
    along, off = _along_and_off(xy)
    return along + off**2


def is_inside(xy: Floats) -> NDArray[np.bool_]:
    """Tell which places lie on the horseshoe."""
    x, (_, off) = xy[:, 0], _along_and_off(xy)
    beyond = (x > ARM) & ((x - ARM) ** 2 + off**2 > HALF_WIDTH**2 - 1e-12)
    return np.asarray((np.abs(off) <= HALF_WIDTH) & ~beyond)


def nodes() -> Floats:
    """Return the 16,383 inside nodes of x = -1(0.02)4, y = -1(0.02)1.

    Whether a node on the edge itself is in is a matter of rounding; so computed, they are as many
    as those that the rivals were scored on.
    """
    x, y = np.meshgrid(np.arange(-1, 4.001, 0.02), np.arange(-1, 1.001, 0.02))
    everywhere = np.column_stack([x.ravel(), y.ravel()])
    return everywhere[is_inside(everywhere)]


def make_floor(steps: int = 90) -> Floor:
    """Return the horseshoe as a floor of one room; ``steps`` straight pieces per half circle."""
    outer, inner = MIDDLE + HALF_WIDTH, MIDDLE - HALF_WIDTH
    turn = np.linspace(0.5, -0.5, steps + 1) * np.pi
    tip = HALF_WIDTH * np.column_stack([np.cos(turn), np.sin(turn)])
    bend = np.column_stack([-np.cos(turn), np.sin(turn)])
    above, below = np.array([ARM, MIDDLE]), np.array([ARM, -MIDDLE])
    ring = np.vstack([above + tip, inner * bend, below + tip, outer * bend[::-1]])
    return Floor("horseshoe", "Horseshoe", (Room("horseshoe", "Horseshoe", Polygon(ring)),))


def make_readings(n: int, noise_sd: float, seed: int) -> ReadingSet:
    """Draw n readings, evenly over the horseshoe, with a normal error."""
    random = np.random.default_rng([n, round(1000 * noise_sd), seed])
    found = np.empty((0, 2))
    while len(found) < n:
        more = random.uniform([-0.9, -0.9], [3.4, 0.9], (2 * n, 2))
        found = np.vstack([found, more[is_inside(more)]])[:n]
    return ReadingSet(seed, found, truth(found) + noise_sd * random.normal(size=n))


def shared_readings() -> dict[tuple[int, float], list[ReadingSet]] | None:
    """Return the reading sets that the rivals were scored on, by size and noise; None if absent."""
    readings, rivals = SHARED / "horseshoe_readings.csv", SHARED / "horseshoe_soap_film.csv"
    if not (readings.is_file() and rivals.is_file()):
        return None
    rows: dict[tuple[int, float, int], list[tuple[float, float, float]]] = {}
    with readings.open(newline="") as file:
        for row in csv.DictReader(file):
            key = (int(row["n"]), float(row["noise_sd"]), int(row["seed"]))
            rows.setdefault(key, []).append((float(row["x"]), float(row["y"]), float(row["z"])))
    with rivals.open(newline="") as file:
        rmse = {
            (int(row["n"]), float(row["noise_sd"]), int(row["seed"])): float(row["rmse_soap_film"])
            for row in csv.DictReader(file)
        }
    sets: dict[tuple[int, float], list[ReadingSet]] = {}
    for (n, noise_sd, seed), table in sorted(rows.items()):
        array = np.array(table)
        one = ReadingSet(seed, array[:, :2], array[:, 2], rmse[n, noise_sd, seed])
        sets.setdefault((n, noise_sd), []).append(one)
    return sets
