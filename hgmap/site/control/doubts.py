"""What speaks against a fit: a unit, a mirror, a point that misses, east and north swapped."""

from __future__ import annotations

import math
import shlex
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from hgmap.errors import SiteError
from hgmap.site.control.fit import IN_LINE, Fit, FitKind, solve, spread_across
from hgmap.site.control.points import ControlPoint, places_of
from hgmap.site.lengths import FOOT_M, INCH_M, YARD_M

# Ours, no source: control at a building is good for centimetres.
POOR_RMSE_M: Final = 0.1
"""A fit that misses its points by more says so."""
LEAST_MISS_M: Final = 0.005
"""A point that misses by less is not called out, whatever the others do."""
OUTLIER_P: Final = 0.01
"""So likely is it at most that one of the points of a sound fit is called out."""
REFUSED_SCALE: Final = 0.02
STRANGE_SCALE: Final = 0.001
"""How far the scale may be from that of the map's own projection; grids stay within 0.0004, and a
building 3 km up adds as much."""
MOST_NAMED: Final = 2
REFUSED_SKEW_DEG: Final = 5.0
STRANGE_SKEW_DEG: Final = 0.1
NARROW: Final = 0.05
"""Points whose spread across is less than this share of their spread along hold it badly."""

_UNITS: Final = (
    (FOOT_M, "feet"),
    (0.001, "millimetres"),
    (0.01, "centimetres"),
    (INCH_M, "inches"),
    (YARD_M, "yards"),
    (66.0 * FOOT_M, "chains"),
    (1000.0, "kilometres"),
)
"""Metres of a unit that coordinates may be in by mistake (exact; chains of 66 ft)."""


def refuse_fit(points: Sequence[ControlPoint], fit: Fit, *, where: str) -> None:
    """Refuse a fit whose points cannot be what they say, with the likeliest reason.

    Raises
    ------
    SiteError
        Where one point fits only with two numbers swapped, the plan would have to be turned over,
        a scale is more than 2 % from 1, or the axes more than 5° from square.
    """
    names, what = swapped_points(fit.kind, points, fit)
    if names:
        raise SiteError(
            f"point {' or '.join(map(repr, names))} fits only with {what} swapped",
            where=where,
            todo=f"mend that row, or leave it out: --without {shlex.quote(names[0])}",
        )
    if _mirrored(points, fit):
        raise SiteError(
            "the points fit only with the plan turned over: y runs down on it, or east and north "
            "are swapped in every row",
            where=where,
            todo="measure y upwards (or give it with a minus), or swap the two columns",
        )
    far = max(fit.scales, key=lambda one: abs(math.log(one)) if one > 0 else math.inf)
    if abs(far - 1.0) <= REFUSED_SCALE:
        _refuse_skew(fit, where=where)
        return
    told = unit_of(fit.scale)
    out = None if told else point_that_misses(points, fit)
    if out is not None:
        told = f"point {out[0].name!r} lies {out[1]:.6g} m from where the others put it"
    else_out = f", or leave it out: --without {shlex.quote(out[0].name)}" if out else ""
    raise SiteError(
        f"a metre of the plan would be {far:.6g} m on the map{f': {told}' if told else ''}",
        where=where,
        todo="give both x, y and east, north in metres; check the coordinates of every point"
        + else_out,
    )


def _refuse_skew(fit: Fit, *, where: str) -> None:
    skew = fit.frame("").skew_deg
    if abs(skew) > REFUSED_SKEW_DEG:
        raise SiteError(
            f"the plan's axes would be {skew:+.1f}° from square on the map",
            where=where,
            todo="check the coordinates of every point",
        )


def _mirrored(points: Sequence[ControlPoint], fit: Fit) -> bool:
    """Tell whether the plan has to be turned over; of two points nobody can."""
    if fit.kind == "affine" or len(points) == 2:
        return fit.mirrored
    plan, on_map = places_of(points)
    over = solve("conformal", plan * (1.0, -1.0), on_map)
    return fit.rmse_m > POOR_RMSE_M and over.squares * 100.0 < fit.squares


def unit_of(scale: float) -> str:
    """Say which unit a scale smells of; empty where of none.

    Examples
    --------
    >>> unit_of(0.30481)
    'x and y look like feet'
    >>> unit_of(1000.2)
    'east and north look like millimetres'
    >>> unit_of(1.7)
    ''
    """
    for metres, name in _UNITS:
        if abs(scale / metres - 1.0) < 0.01:
            return f"x and y look like {name}"
        if abs(scale * metres - 1.0) < 0.01:
            return f"east and north look like {name}"
    return ""


def swapped_points(
    kind: FitKind, points: Sequence[ControlPoint], fit: Fit
) -> tuple[tuple[str, ...], str]:
    """Find the point that fits once two of its numbers change places.

    Returns
    -------
    names : tuple of str
        The points of which each alone would mend the fit; empty where none does, or where it could
        be more than one thing.
    what : str
        ``"east and north"`` or ``"x and y"``.
    """
    if fit.rmse_m <= POOR_RMSE_M and _is_a_plan(fit, REFUSED_SCALE):
        return (), ""
    plan, on_map = places_of(points)
    for what, k in (("east and north", 1), ("x and y", 0)):
        names = []
        for index, point in enumerate(points):
            turned = (plan.copy(), on_map.copy())
            turned[k][index] = turned[k][index, ::-1]
            again = solve(kind, *turned)
            exact = again.degrees_of_freedom == 0  # only scale and angles say that it fits
            near = exact or again.rmse_m <= min(POOR_RMSE_M, fit.rmse_m / 10.0)
            if near and _is_a_plan(again, REFUSED_SCALE / 4.0 if exact else REFUSED_SCALE):
                names.append(point.name)
        if names:
            return (tuple(names), what) if len(names) <= MOST_NAMED else ((), "")
    return (), ""


def _is_a_plan(fit: Fit, off: float) -> bool:
    """Tell whether a fit leaves a plan its size, within a share, its angles and its right side."""
    square = not fit.mirrored and abs(fit.frame("").skew_deg) <= REFUSED_SKEW_DEG
    return square and all(abs(one - 1.0) <= off for one in fit.scales)


def point_that_misses(
    points: Sequence[ControlPoint], fit: Fit
) -> tuple[ControlPoint, float] | None:
    """Find the point that the others do not bear out.

    Without the point the sum of squares falls from ``S`` to ``s``. Of sound points with normal
    errors ``F = ((S - s) / 2) / (s / m)`` has 2 and ``m`` degrees of freedom, ``m`` being those of
    the fit without it, and the chance of a larger one is ``(s / S)^(m / 2)``, which holds exactly.
    The chance is multiplied by the number of points that were looked at (Bonferroni).

    Returns
    -------
    tuple of ControlPoint, float, or None
        The point, and how far (m) the fit to all others misses it.
    """
    free = fit.degrees_of_freedom - 2
    if free <= 0 or fit.squares == 0.0:
        return None
    plan, on_map = places_of(points)
    tried = [fit.without(k, plan, on_map) for k in range(len(points))]
    k = min(range(len(points)), key=lambda one: tried[one].squares)
    chance = (tried[k].squares / fit.squares) ** (free / 2.0)
    # a difference first: the origin of a frame far away is not exact enough
    near = solve(fit.kind, np.delete(plan, k, 0) - plan[k], np.delete(on_map, k, 0) - on_map[k])
    missed = float(np.hypot(*near.origin))
    if chance * len(points) > OUTLIER_P or missed < LEAST_MISS_M:
        return None
    return points[k], missed


def doubts_of_fit(
    points: Sequence[ControlPoint], fit: Fit, grid_scale: float
) -> Iterator[tuple[str, str]]:
    """Go through what a person should know of a fit: what, and what to do.

    ``grid_scale`` is how long a metre on the ground is on the map here.
    """
    out = point_that_misses(points, fit)
    if out is not None:
        yield (
            f"point {out[0].name!r} stands out: the others put it {out[1]:.3f} m from where it was "
            "measured",
            f"measure it again, or leave it out: --without {shlex.quote(out[0].name)}",
        )
    if fit.rmse_m > POOR_RMSE_M:
        yield (
            f"the fit misses its points by {fit.rmse_m:.2f} m (RMSE)",
            "check the points: a place on the map is no better than that",
        )
    plan, _ = places_of(points)
    # of a small building a scale says little: three of its own standard errors are no finding
    chance = 3.0 * max(fit.standard_error_m or 0.0, LEAST_MISS_M) / math.sqrt(fit.held_by(plan))
    right, up = fit.scales
    off = max((one / grid_scale - 1.0 for one in (right, up)), key=abs)
    if abs(off) > max(STRANGE_SCALE, chance):
        yield (
            f"the scale is {off * 1e6:+.0f} ppm from that of the map here, {grid_scale:.6f}",
            "check the scale of the plan, and the points",
        )
    skew = abs(fit.frame("").skew_deg)
    if skew > max(STRANGE_SKEW_DEG, math.degrees(chance)):
        yield (
            f"the fit takes the plan's axes {skew:.2f}° from square",
            "a building is drawn square: check the points, or fit a conformal frame",
        )
    if fit.kind == "affine" and IN_LINE <= spread_across(plan) < NARROW:
        yield (
            "the points lie nearly on a line: across it the fit says little",
            "add a point well off the line, or fit a conformal frame",
        )
