"""When to stop measuring again: the smallest number of places that leaves little enough doubt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hgmap.decide.model import ResamplePlace, StopRule

NO_VARIANCE: Final = "this map has no error of its own to reckon with"
NOT_CLEAR: Final = "no ground of this floor may be clear, whatever is read: "


def stop_rule(
    places: Sequence[ResamplePlace], *, share: float, area_m2: float, now_m2: float, why: str
) -> StopRule:
    """Return the smallest number of places after which less than a share of an area is in doubt.

    Parameters
    ----------
    places : sequence of ResamplePlace
        In their order; ``left_m2`` of each is what counts.
    share : float
    area_m2, now_m2 : float
        Of the floor, and in doubt now.
    why : str
        What stays in doubt after the whole list, or why nothing can be said.
    """
    told = [one.left_m2 for one in places if one.left_m2 is not None]
    if why.startswith((NO_VARIANCE, NOT_CLEAR)):
        return StopRule(share, area_m2, now_m2, None, None, None, why)
    enough = share * area_m2
    for count, left in enumerate([now_m2, *told]):
        if left < enough:
            readings = sum(readings_at(one) for one in places[:count])
            return StopRule(share, area_m2, now_m2, count, readings, left)
    return StopRule(share, area_m2, now_m2, None, None, told[-1] if told else now_m2, why)


def readings_at(place: ResamplePlace) -> int:
    """Return how many readings a place asks for, over its heights and repeats."""
    return place.repeats + len(place.also_m)


def stop_sentence(stop: StopRule) -> str:
    """Put a stop rule into a sentence.

    Examples
    --------
    >>> stop_sentence(StopRule(0.05, 200.0, 80.0, 9, 9, 9.0))
    'after 9 more readings the doubt is expected to be under 5 % of the area (4.5 %; now 40 %)'
    >>> stop_sentence(StopRule(0.05, 200.0, 80.0, None, None, 24.0, "doors"))
    'the whole list is expected to leave 12 % of the area in doubt (now 40 %): doors'
    """
    now, allowed = _percent(stop.now_m2, stop), f"{100.0 * stop.share:.3g} %"
    if stop.left_m2 is None:
        return f"no stop rule can be given: {stop.why} (in doubt now: {now} of the area)"
    left = _percent(stop.left_m2, stop)
    if stop.places is None:
        why = f": {stop.why}" if stop.why else ""
        return f"the whole list is expected to leave {left} of the area in doubt (now {now}){why}"
    if stop.places == 0:
        return f"the doubt is under {allowed} of the area ({now}) without another reading"
    many = f"{stop.places} more readings" if stop.places > 1 else "1 more reading"
    if stop.readings != stop.places:
        where = f"{stop.places} more places" if stop.places > 1 else "1 more place"
        many = f"{where} ({stop.readings} readings)"
    return (
        f"after {many} the doubt is expected to be under {allowed} of the area ({left}; now {now})"
    )


def _percent(area_m2: float, stop: StopRule) -> str:
    share = 100.0 * area_m2 / stop.area_m2 if stop.area_m2 > 0 else 0.0
    return f"{share:.2g} %" if share < 99.5 else "100 %"
