"""Everything that the readings of one room say about clearance, and what they cannot say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from hgmap.decide.clearance.censored import KaplanMeier, kaplan_meier, robust_ros
from hgmap.decide.clearance.distribution import shape_of
from hgmap.decide.clearance.sample import CannotTell, Flags, Floats, checked, exponential
from hgmap.decide.clearance.tolerance import (
    Exceedance,
    exceedance_counted,
    exceedance_lognormal,
    utl95,
)
from hgmap.decide.clearance.ucl import Ucl, mean_and_error, ucl95
from hgmap.decide.clearance.ucl_others import by_every_method
from hgmap.errors import EstimateError
from hgmap.site.reading import Reading

MeanMethod = Literal["Kaplan-Meier", "robust ROS"]

SATURATED: Final = "a saturated reading is only known to be above its value"


@dataclass(frozen=True, slots=True)
class Figure:
    """One number with its method, or why there is none.

    Attributes
    ----------
    value : float or None
    method : str
        Empty where there is no value.
    why : str
        Why there is none, or a note on the method.
    """

    value: float | None
    method: str = ""
    why: str = ""


class Readings(NamedTuple):
    """Readings of one room as arrays.

    Attributes
    ----------
    values : tuple of float
        In one unit; a non-detect's detection limit, a saturated reading's value, the upper end of
        a range.
    is_detect, is_saturated : tuple of bool
    """

    values: tuple[float, ...]
    is_detect: tuple[bool, ...]
    is_saturated: tuple[bool, ...]


def as_written(readings: Iterable[Reading]) -> Readings:
    """Return readings as arrays, each taken so that a room never looks cleaner than it was read.

    A range (``to``) and the highest of several (``up to``) count at their upper end; ``~`` counts
    as written; ``<`` is a non-detect, ``>`` is saturated.

    Raises
    ------
    EstimateError
        If one has no concentration in the computing unit.
    """
    values, detect, saturated = [], [], []
    for one in readings:
        if one.concentration is None:
            raise EstimateError("a reading without a concentration", where=f"reading {one.id}")
        values.append(one.concentration)
        detect.append(one.qualifier != "<")
        saturated.append(one.qualifier == ">")
    return Readings(tuple(values), tuple(detect), tuple(saturated))


@dataclass(frozen=True, slots=True)
class RoomStatistics:
    """The clearance statistics of one room in one round, in the unit of the readings.

    Attributes
    ----------
    room : str
    level : float
        That ``exceedance`` was counted against.
    n, detects, saturated : int
        Saturated readings are among the detects.
    minimum, maximum : float or None
        Of the detects; None where there are none.
    lowest_limit, highest_limit : float or None
        Of the detection limits of the non-detects.
    highest_saturated : float or None
        The value that a saturated reading is above.
    least_mean : float or None
        Mean with every non-detect at zero and every saturated reading at its value: the mean
        cannot be lower. None without readings.
    worst_mean, worst_sd : float or None
        Mean with every non-detect at its limit, and the largest standard deviation that the
        readings can have whatever their non-detects are: neither can be higher. None where one is
        saturated, or there are fewer than two.
    mean, median, percentile95 : Figure
    mean_error : float or None
        Standard error of the mean; None where the scatter is not known.
    ucl : Ucl
        95 % upper confidence limit of the mean.
    ucl_by_method : dict of str to float or None
        The same by every method, where everything was detected: shown, never ruled by.
    utl : Figure
        95/95 upper tolerance limit.
    exceedance : Exceedance or None
        Share above ``level``, 95 % limits; ``exceedance_why`` says why there is none.
    highest_elsewhere : float or None
        Highest reading of the room at heights that are not among the n.
    saturated_elsewhere : float or None
        The value that a saturated reading there is above.
    """

    room: str
    level: float
    n: int
    detects: int
    saturated: int
    minimum: float | None
    maximum: float | None
    lowest_limit: float | None
    highest_limit: float | None
    highest_saturated: float | None
    least_mean: float | None
    worst_mean: float | None
    worst_sd: float | None
    mean: Figure
    median: Figure
    percentile95: Figure
    mean_error: float | None
    ucl: Ucl
    ucl_by_method: dict[str, float | None]
    utl: Figure
    exceedance: Exceedance | None
    exceedance_why: str
    highest_elsewhere: float | None
    saturated_elsewhere: float | None


def room_statistics(
    room: str,
    values: ArrayLike,
    is_detect: ArrayLike,
    level: float,
    *,
    is_saturated: ArrayLike | None = None,
    mean_method: MeanMethod = "Kaplan-Meier",
    highest_elsewhere: float | None = None,
    saturated_elsewhere: float | None = None,
    seed: int = 0,
) -> RoomStatistics:
    """Work out the statistics of one room; nothing is said that its readings do not carry.

    With a saturated reading there is no mean, no limit and no fraction: only counts, the lowest
    and highest, and the least that the mean can be.

    Parameters
    ----------
    values, is_detect, is_saturated : array_like, shape (n,)
        See :class:`Readings`; n may be zero.
    level : float
        In the unit of the values, above zero.
    mean_method
        How mean and median are taken where something was not detected.
    highest_elsewhere : float, optional
        Highest reading at other heights, which the statistics leave out.
    saturated_elsewhere : float, optional
        The value that a saturated one of them is above.

    Raises
    ------
    EstimateError
        If the level or a value is not above zero, the shapes differ, or a reading is both a
        non-detect and saturated.
    """
    if not (np.isfinite(level) and level > 0.0):
        raise EstimateError(f"a level above zero is needed, not {level:g}", where="clearance")
    number, detect = checked(values, is_detect)
    given = np.asarray(values, dtype=np.float64)
    over = np.zeros(given.shape, bool) if is_saturated is None else np.asarray(is_saturated, bool)
    if over.shape != given.shape or bool((over & ~np.asarray(is_detect, bool)).any()):
        raise EstimateError(
            "one flag of saturation for each value was expected, and none on a non-detect",
            where="clearance",
        )
    n, detects, seen = len(number), int(detect.sum()), number[detect]
    saturated = int(over.sum())
    spread = None if saturated else mean_and_error(number, detect)
    if saturated or not n:
        why = SATURATED if saturated else "there is no reading"
        mean = median = percentile = utl = Figure(None, why=why)
        ucl = Ucl(None, "", why, "not known")
        share: Exceedance | CannotTell = CannotTell(why)
    else:
        mean, median = _middle(number, detect, mean_method)
        percentile = _percentile95(number, detect)
        ucl = ucl95(number, detect, seed=seed)
        found = utl95(number, detect)
        utl = Figure(None, why=found.reason) if isinstance(found, CannotTell) else Figure(*found)
        share = _share(number, detect, level)
    limits = number[~detect]
    return RoomStatistics(
        room=room,
        level=level,
        n=n,
        detects=detects,
        saturated=saturated,
        minimum=float(seen[0]) if detects else None,
        maximum=float(seen[-1]) if detects else None,
        lowest_limit=float(limits[0]) if len(limits) else None,
        highest_limit=float(limits[-1]) if len(limits) else None,
        highest_saturated=float(given[over].max()) if saturated else None,
        least_mean=float(seen.sum() / n) if n else None,
        worst_mean=None if saturated or n < 2 else float(number.mean()),
        worst_sd=None if saturated or n < 2 else _worst_sd(number, detect),
        mean=mean,
        median=median,
        percentile95=percentile,
        mean_error=None if spread is None else spread[1],
        ucl=ucl,
        ucl_by_method=by_every_method(number) if detects == n and not saturated else {},
        utl=utl,
        exceedance=None if isinstance(share, CannotTell) else share,
        exceedance_why=share.reason if isinstance(share, CannotTell) else "",
        highest_elsewhere=highest_elsewhere,
        saturated_elsewhere=saturated_elsewhere,
    )


def _worst_sd(number: Floats, detect: Flags) -> float:
    """Return a bound of the standard deviation, whatever lies below the detection limits.

    The sum of squares about the mean is the least about any point; about the middle of what the
    highest limit leaves open, no non-detect adds more than half of that limit squared.
    """
    if detect.all():
        return float(number.std(ddof=1))
    half = 0.5 * float(number[~detect].max())
    squares = float(((number[detect] - half) ** 2).sum()) + int((~detect).sum()) * half**2
    return float(np.sqrt(squares / (len(number) - 1)))


def _middle(number: Floats, detect: Flags, method: MeanMethod) -> tuple[Figure, Figure]:
    if detect.all():
        return (
            Figure(float(number.mean()), "arithmetic mean"),
            Figure(float(np.median(number)), "median"),
        )
    if method == "robust ROS":
        ros = robust_ros(number, detect)
        if isinstance(ros, CannotTell):
            return Figure(None, why=ros.reason), Figure(None, why=ros.reason)
        return Figure(ros.mean, "robust ROS"), Figure(ros.median, "robust ROS")
    km = kaplan_meier(number, detect)
    if isinstance(km, CannotTell):
        return Figure(None, why=km.reason), Figure(None, why=km.reason)
    note = "" if km.below == 0.0 else "what lies below the lowest detect counts at its limits"
    return Figure(km.mean, "Kaplan-Meier", note), _median(km)


def _median(km: KaplanMeier) -> Figure:
    if km.median is None:
        return Figure(None, why="half of the readings or more lie below the lowest detect")
    return Figure(km.median, "Kaplan-Meier")


def _percentile95(number: Floats, detect: Flags) -> Figure:
    if not detect.all():
        return Figure(None, why="not estimated where something was not detected")
    shape = shape_of(number)
    z = float(special.ndtri(0.95))
    if shape.name == "lognormal":
        logs = np.log(number)
        return Figure(exponential(float(logs.mean() + z * logs.std(ddof=1))), "lognormal")
    if shape.name == "normal":
        return Figure(float(number.mean() + z * number.std(ddof=1)), "normal")
    if len(number) >= 20:
        return Figure(float(np.quantile(number, 0.95)), "counted")
    return Figure(None, why="neither normal nor lognormal, and fewer than 20 readings")


def _share(number: Floats, detect: Flags, level: float) -> Exceedance | CannotTell:
    if detect.all() and shape_of(number).p_lognormal >= 0.05:
        return exceedance_lognormal(number, level)
    return exceedance_counted(number, detect, level)
