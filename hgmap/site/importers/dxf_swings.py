"""Arcs of a drawing along which a door's leaf may swing.

A circle is laid through each curve, and curves that follow one another on the same circle are one
arc: all curves of a drawing at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.importers.dxf_curves import Points, cubic_runs
from hgmap.site.importers.dxf_entities import Shape

SWEEP_DEG: Final = (15.0, 185.0)
"""Arcs that sweep less or more are no doors."""
_SAME: Final = 0.02
"""A curve that leaves its circle by more than this share of the radius is no arc; of two circles
whose centres are nearer to one another, one is the other."""
_STRAIGHT: Final = 1e-4
"""A curve that is flatter than this is a line."""

Place = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Swing:
    """An arc that a leaf's end may go along: centre, radius (units) and both ends.

    ``turn`` is 1 where it runs counter-clockwise from the first end, else -1.
    """

    hinge: Place
    radius: float
    ends: tuple[Place, Place]
    sweep_deg: float
    turn: int
    shape: Shape


def swings_of(shapes: Iterable[Shape]) -> list[Swing]:
    """Find arcs that may be doors, in arcs, in bulges of polylines, and where a block is skewed."""
    runs: list[Points] = []
    of_run: list[Shape] = []
    for shape in shapes:
        if shape.filled:
            continue
        for loop in shape.loops:
            found = cubic_runs(loop)
            runs += found
            of_run += [shape] * len(found)
    return _arcs(runs, of_run) if runs else []


def _arcs(runs: list[Points], of_run: list[Shape]) -> list[Swing]:
    """Return the arcs among runs of curves, in order."""
    number = np.array([(len(run) - 1) // 3 for run in runs])
    first = np.cumsum(number) - number
    run = np.repeat(np.arange(len(runs)), number)
    start = 3 * np.arange(len(run)) + run  # a run of n curves has 3 n + 1 points
    controls = np.concatenate(runs)[start[:, None] + np.arange(4), :2]
    points = _along(controls)
    centres, radii, is_arc = _circles(points)
    begins = _begins(centres, radii, is_arc, first, number)
    heads = np.flatnonzero(begins)
    arc = np.cumsum(begins) - 1
    x, y = np.moveaxis(points - centres[heads[arc]][:, None], 2, 0)
    steps = np.arctan2(
        x[:, :-1] * y[:, 1:] - y[:, :-1] * x[:, 1:], x[:, :-1] * x[:, 1:] + y[:, :-1] * y[:, 1:]
    ).sum(axis=1)
    turned = np.degrees(np.bincount(arc[is_arc], steps[is_arc], minlength=len(heads)))
    lasts = np.zeros(len(heads), dtype=np.intp)
    lasts[arc[is_arc]] = np.flatnonzero(is_arc)
    sweeps = np.abs(turned)
    kept = np.flatnonzero((sweeps >= SWEEP_DEG[0]) & (sweeps <= SWEEP_DEG[1]))
    return [
        Swing(centre, radius, ends, sweep, 1 if sweep_turned > 0 else -1, of_run[which])
        for centre, radius, ends, sweep, sweep_turned, which in zip(
            centres[heads[kept]],
            radii[heads[kept]].tolist(),
            zip(points[heads[kept], 0], points[lasts[kept], -1], strict=True),
            sweeps[kept].tolist(),
            turned[kept].tolist(),
            run[heads[kept]].tolist(),
            strict=True,
        )
    ]


def _begins(
    centres: Place, radii: Place, is_arc: NDArray[np.bool_], first: Points, number: Points
) -> NDArray[np.bool_]:
    """Tell which curves begin an arc; others that are arcs go on with the one before them."""
    begins = np.zeros(len(radii), dtype=bool)
    head = np.full(len(first), -1)
    for step in range(int(number.max())):
        runs = np.flatnonzero(number > step)
        at, before = first[runs] + step, head[runs]
        apart = np.hypot(*(centres[before] - centres[at]).T)
        goes_on = (before >= 0) & is_arc[at] & (apart <= _SAME * radii[at])
        begins[at] = is_arc[at] & ~goes_on
        head[runs] = np.where(goes_on, before, np.where(is_arc[at], at, -1))
    return begins


def _along(controls: Place) -> Place:
    """Return five points of each curve, shape (n, 5, 2), by its control points, shape (n, 4, 2)."""
    t = np.linspace(0.0, 1.0, 5)
    shares = np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3])
    found: Place = np.einsum("ki,nkj->nij", shares, controls - controls[:, :1])
    return found + controls[:, :1]


def _circles(points: Place) -> tuple[Place, Place, NDArray[np.bool_]]:
    """Return centres and radii of circles through five points each, and which are circles.

    They go through the first, the middle and the last, which a curve that stands for an arc meets
    exactly; the others are within 2 % of them.
    """
    local = points - points[:, :1]  # far from the origin squares would lose the digits
    (ax, ay), (bx, by) = local[:, 2].T, local[:, 4].T
    twice = 2 * (ax * by - ay * bx)
    a, b = ax * ax + ay * ay, bx * bx + by * by
    bent = np.abs(twice) > _STRAIGHT * np.maximum(a, b)
    twice = np.where(bent, twice, 1.0)
    centres = np.stack([by * a - ay * b, ax * b - bx * a], axis=1) / twice[:, None]
    radii = np.hypot(centres[:, 0], centres[:, 1])
    x, y = np.moveaxis(local - centres[:, None], 2, 0)
    off = np.abs(np.hypot(x, y) - radii[:, None]).max(axis=1)
    return centres + points[:, 0], radii, bent & (off <= _SAME * radii)
