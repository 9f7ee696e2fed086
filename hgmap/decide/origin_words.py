"""Reasons and cautions of likely sources, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import MultiPoint, Point

from hgmap.decide.evidence import describe
from hgmap.decide.model import FloorEvidence
from hgmap.decide.origin_direct import Draft
from hgmap.decide.origin_draws import Spread
from hgmap.decide.origin_model import Climb, HeightRatio, LikelySource

FAR_M: Final = 3.0
"""A place with no reading of its room this near (m) is between the readings or beyond them. Our
rule, no source."""

FLOOR_M: Final = 0.3
"""A reading no higher than this (m) was taken at the floor (ours, no source)."""

AT_THE_EDGE_M: Final = 0.5
"""A place this far (m) outside the ground between the readings is beyond them. Our rule."""

OFTEN: Final = 0.5
"""Where no place has this share of the draws, none stands out."""

WORTH_A_WORD: Final = 0.01
"""A place that was read at a source itself need not hold the floor's highest air as well."""

MOST_NAMED: Final = 4


@dataclass(frozen=True, slots=True)
class Said:
    """What reasons and cautions are made of."""

    evidence: FloorEvidence
    heights: tuple[HeightRatio, ...]
    climbs: tuple[Climb, ...]
    draws: int

    def highest_in(self, room: int) -> tuple[str, ...]:
        """Return the id of the highest used reading of a room."""
        own = self.of_room(room)
        if not len(own):
            return ()
        best = own[np.argmax(self.evidence.concentration[own])]
        return (self.evidence.used[int(best)].reading.id,)

    def of_room(self, room: int) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        """Return the positions of the used readings of a room."""
        return np.flatnonzero(self.evidence.room == room)

    def name(self, room: int) -> str:
        """Return the name of a room."""
        one = self.evidence.floor.rooms[room]
        return one.name or one.id


def height_hint(one: Draft, heights: Sequence[HeightRatio]) -> str:
    """Say at which height to look; empty where nothing says."""
    own = [ratio for ratio in heights if ratio.room == one.room]
    if one.basis == "item":
        return "the item itself"
    if one.basis == "search" and one.height_m is not None and one.height_m > FLOOR_M:
        return f"at {one.height_m:g} m"
    if one.height_m is not None or any(ratio.low is not None and ratio.low > 1.0 for ratio in own):
        return "at the floor"
    if any(ratio.high is not None and ratio.high < 1.0 for ratio in own):
        return "above the floor"
    return ""


def height_words(ratio: HeightRatio) -> str:
    """Say what readings at two heights tell."""
    pairs = f"{ratio.pairs} pair{'s' if ratio.pairs > 1 else ''}"
    if ratio.ratio is not None:
        figures = f"{_two(ratio.ratio)} ({_two(ratio.low or 0.0)} to {_two(ratio.high or 0.0)})"
    else:
        ends = [
            *([f"above {_two(ratio.low)}"] if ratio.low is not None else []),
            *([f"below {_two(ratio.high)}"] if ratio.high is not None else []),
        ]
        figures = " and ".join(ends) or "not known"
    text = f"{ratio.band} over the map's height, {pairs}: {figures}"
    if ratio.low is not None and ratio.low > 1.0:
        return f"{text}: near a source at the floor (droplets, cracks, drains)"
    if ratio.high is not None and ratio.high < 1.0:
        return f"{text}: lower at the floor, so nothing points to the floor here"
    return f"{text}: tells neither way"


def reasons_of(one: Draft, spread: Spread | None, said: Said, *, log: bool) -> tuple[str, ...]:
    """Say why a place is on the list."""
    reasons = list(one.reasons)
    if spread is not None:
        reasons += _by_estimate(one, spread, said.draws, log=log)
    own = said.of_room(one.room)
    if one.basis in ("estimate", "readings") and len(own):
        best = said.evidence.used[int(own[np.argmax(said.evidence.concentration[own])])].reading
        reasons.append(f"highest reading of the room: {best.id}, {describe(best)}")
    reasons += [
        f"the air rises {_two(climb.ratio)} times toward the door to {said.name(climb.towards)}: "
        "look there first"
        for climb in said.climbs
        if climb.room == one.room and one.prominence <= 0.0 and one.basis != "item"
    ]
    reasons += [
        height_words(ratio)
        for ratio in said.heights
        if ratio.room == one.room and (ratio.low is not None or ratio.high is not None)
    ]
    return tuple(dict.fromkeys(reasons))


def _by_estimate(one: Draft, spread: Spread, draws: int, *, log: bool) -> list[str]:
    reasons = []
    if one.prominence > 0.0:
        lower = log and np.isfinite(one.prominence)
        times = f", {_two(float(np.exp(one.prominence)))} times the air on any way to higher places"
        reasons.append("the estimate peaks near here" + (times if lower else ""))
    elif one.basis == "estimate":
        reasons.append("the highest of its room, with no peak of its own in the estimate")
    if one.basis == "estimate" or spread.share >= WORTH_A_WORD:
        reasons.append(
            f"the floor's highest air is here in {100 * spread.share:.0f} % of {draws} fields "
            "drawn to agree with the readings"
        )
    if spread.own is not None and one.prominence > 0.0:
        reasons.append(
            f"its room is above every room joined to it in {100 * spread.own:.0f} %: something "
            "gives off vapour in it then, or it comes from off this plan (a stair, a shaft)"
        )
    return reasons


def place_cautions(one: Draft, said: Said) -> tuple[str, ...]:
    """Say what speaks against trusting a place."""
    evidence = said.evidence
    if one.basis == "item":
        return ("a bag says nothing about the air of the room",)
    if one.x is None or one.y is None:
        return ("only its room is known",)
    own = said.of_room(one.room)
    at = Point(one.x, one.y)
    cautions = []
    if not len(own):
        cautions.append("no reading in this room: what is said of it came through its doors")
    else:
        apart = float(np.hypot(*(evidence.xy[own] - (one.x, one.y)).T).min())
        if apart > FAR_M:
            cautions.append(f"no reading of this room within {apart:.1f} m")
    if one.basis == "estimate" and len(evidence.xy):
        between = MultiPoint(evidence.xy).convex_hull
        if shapely.distance(between, at) > AT_THE_EDGE_M:
            cautions.append("beyond the readings: extrapolated")
    # a door that leads off the plan may let in what is not of this floor
    leads_off = [
        opening
        for opening in evidence.floor.openings
        if len(opening.rooms) == 1 and opening.state == "open"
        and evidence.floor.rooms[one.room].id in opening.rooms
        and shapely.distance(opening.line, at) <= 1.0
    ]  # fmt: skip
    if leads_off:
        cautions.append(
            f"beside {leads_off[0].id}, which leads off this plan: the vapour may come from there"
        )
    return tuple(cautions)


def floor_cautions(
    said: Said, sources: Sequence[LikelySource], quiet: str, unreached: Sequence[str]
) -> tuple[str, ...]:
    """Say what a reader has to know of the floor as a whole."""
    evidence = said.evidence
    cautions = []
    if not quiet and not said.draws:
        cautions.append(
            "no estimate to draw from: places are ranked by their readings alone, and how sure "
            "that is cannot be said"
        )
    shares = [one.share for one in sources if one.share is not None]
    if shares and max(shares) < OFTEN:
        cautions.append(
            f"no place stands out: the likeliest has {100 * max(shares):.0f} % of the draws"
        )
    read = set(evidence.room.tolist())
    unread = [room.name for k, room in enumerate(evidence.floor.rooms)
              if k not in read and room.name not in unreached]  # fmt: skip
    if unread:
        cautions.append(
            f"no reading of its own: {_some(unread)}; a source in there is seen only through doors"
        )
    if unreached:
        cautions.append(
            f"no air way from any reading: {_some(unreached)}; a source in there is not seen"
        )
    held = sum(item.role == "held" for item in evidence.items)
    if held:
        cautions.append(f"held readings are not in this: {held}")
    return tuple(cautions)


def _two(value: float) -> str:
    """Write two digits without an exponent.

    Examples
    --------
    >>> _two(1.234), _two(383.0), _two(0.0123)
    ('1.2', '380', '0.012')
    """
    return f"{float(f'{value:.2g}'):g}"


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more
