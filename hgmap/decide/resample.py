"""Places to measure again, one after another: where, at what height, why, and what each settles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from hgmap.decide.candidates import (
    SMALLEST_PART_M2,
    Candidate,
    RoomCase,
    room_candidates,
    unread_words,
)
from hgmap.decide.doubt_ground import lay_doubt_ground
from hgmap.decide.guards import far_distance
from hgmap.decide.how_to_read import how_to_read
from hgmap.decide.model import FloorEvidence, ResampleList, ResamplePlace, Zones
from hgmap.decide.offers import offers_of
from hgmap.decide.outlook import choose_in_turn
from hgmap.decide.stop import NO_VARIANCE, NOT_CLEAR, stop_rule
from hgmap.decide.whose import items_by_room
from hgmap.decide.zones import stray_reason
from hgmap.field.surface import Surface
from hgmap.site.building import HeightBand

MOST_PLACES: Final = 60
"""Places that are chosen at most. Our rule, no source."""

LEAST_GAIN_M2: Final = 0.1
"""Area (m²) that a place has to be expected to settle, to be worth the walk. Our rule, no source.
A place with a reason of its own, such as a held reading, is listed whatever it settles."""

BEYOND: Final = 0.5
"""The list goes on until this share of the doubt that the stop rule allows: an expectation may be
missed. Our rule, no source."""

AFTER_THE_FIRST: Final = "a first reading of this room is expected to leave doubt here"

Listed = tuple[int, Candidate, float, float | None]
"""Room, place, area (m²) that it is expected to settle, and what is left after it."""


def rank_resample(
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    *,
    bands: Sequence[HeightBand] = (),
    guard_m: float = 1.5,
    doubt_share: float = 0.05,
    nothing_clear: str = "",
) -> ResampleList:
    """Propose places in the order in which to read them, and say when there are enough.

    With kriging each place is the one that is expected to leave the least ground in doubt on the
    whole floor, with the readings at the places before it (:mod:`hgmap.decide.outlook`). Without a
    variance (IDW, no surface) the room's area in doubt is shared among its places, and there is no
    stop rule.

    Parameters
    ----------
    evidence, surface, zones
        Of one floor.
    bands : sequence of HeightBand
        The site's, to say at which height to measure.
    guard_m : float
        As the zones were made with.
    doubt_share : float
        Share of the floor's area that may stay in doubt; the stop rule is for it.
    nothing_clear : str
        As the zones were made with: then readings settle only what would be in doubt without it.
    """
    items, zones_of, far_m = items_by_room(evidence), zones.by_room(), far_distance(evidence)
    nothing_clear = nothing_clear or stray_reason(evidence)
    cases = []
    for index, room in enumerate(evidence.floor.rooms):
        doubtful = shapely.union_all(
            [zone.geometry for zone in zones_of.get(room.id, [])
             if zone.name in ("resample", "no data")]
        )  # fmt: skip
        cases.append(RoomCase(room, index, items[index], evidence, surface, zones, doubtful, far_m))
    reasoned = [(case.index, one) for case in cases for one in room_candidates(case)]
    planned = None
    if surface is not None and surface.variogram is not None and surface.posterior is not None:
        planned = _in_turn(cases, reasoned, surface, zones, guard_m, doubt_share, nothing_clear)
    listed, why = planned if planned is not None else (_shared(cases, reasoned), NO_VARIANCE)
    places: list[ResamplePlace] = []
    seen: set[int] = set()
    for rank, (index, one, settles, left) in enumerate(listed, start=1):
        room = evidence.floor.rooms[index]
        first = index not in seen
        seen.add(index)
        how = how_to_read(cases[index], one, bands, first=first)
        places.append(
            ResamplePlace(
                rank,
                evidence.floor.name,
                room.id,
                room.name,
                one.x,
                one.y,
                how.height_m,
                tuple(_first(one, cases[index]) if first else _further(one, cases[index])),
                settles,
                left,
                how.also_m,
                how.repeats,
                how.repeats_reason,
                how.instrument,
                how.way_in,
            )
        )
    if nothing_clear:
        why = f"{NOT_CLEAR}{nothing_clear}"
    now = float(sum(case.doubtful.area for case in cases))
    stop = stop_rule(places, share=doubt_share, area_m2=evidence.floor.area_m2, now_m2=now, why=why)
    return ResampleList(tuple(places), stop)


def _in_turn(
    cases: Sequence[RoomCase],
    reasoned: Sequence[tuple[int, Candidate]],
    surface: Surface,
    zones: Zones,
    guard_m: float,
    doubt_share: float,
    nothing_clear: str,
) -> tuple[list[Listed], str] | None:
    """Choose places one after another, and say what stays; None where there is nothing to see."""
    evidence = cases[0].evidence
    ground = lay_doubt_ground(
        evidence, surface, zones, [case.items for case in cases],
        guard_m=guard_m, far_m=cases[0].far_m, as_ruled=not nothing_clear,
    )  # fmt: skip
    if ground is None:
        return None
    places, offers = offers_of(ground, cases, reasoned, surface)
    area = evidence.floor.area_m2
    outlook = choose_in_turn(
        ground,
        offers,
        enough_m2=BEYOND * doubt_share * area,
        most=MOST_PLACES,
        least_gain_m2=LEAST_GAIN_M2,
        then=_belong(places, cases)[:MOST_PLACES],
    )
    # the cells are few: what they are in doubt of is fitted to the ruled area
    seen = {int(one) for one in np.unique(ground.room)}
    unseen = sum(case.doubtful.area for case in cases if case.index not in seen)
    ruled = sum(case.doubtful.area for case in cases if case.index in seen)
    model = float(outlook.doubt_m2[0])
    scale = ruled / model if model > 0 and not nothing_clear else 1.0
    left = outlook.doubt_m2 * scale + unseen
    listed: list[Listed] = [
        (*places[one], float(left[k] - left[k + 1]), float(left[k + 1]))
        for k, one in enumerate(outlook.chosen)
    ]
    # more of them than can be reckoned with: they stay on the list, with nothing foretold
    taken, rooms = {id(one) for _, one, _, _ in listed}, {index for index, _, _, _ in listed}
    for index, one in reasoned:
        alone = index not in rooms and cases[index].doubtful.area >= SMALLEST_PART_M2
        if id(one) not in taken and (one.must or alone):
            listed.append((index, one, 0.0, None))
            rooms.add(index)
    return listed, outlook.why


def _first(one: Candidate, case: RoomCase) -> list[str]:
    """Return the reasons of the first place of a room, whose reading is the first that counts."""
    said = any(item.role == "used" for item in case.items) or unread_words(case) in one.reasons
    return one.reasons if said else [*one.reasons, unread_words(case)]


def _further(one: Candidate, case: RoomCase) -> list[str]:
    """Return the reasons of a place in a room that has one on the list before it."""
    unread = unread_words(case)
    return [AFTER_THE_FIRST if text == unread else text for text in one.reasons]


def _belong(
    places: Sequence[tuple[int, Candidate]], cases: Sequence[RoomCase]
) -> list[tuple[int, bool]]:
    """Return the offers that belong on the list: always, or where their room has no other place."""
    found = [(k, True) for k, (_, one) in enumerate(places) if one.must]
    first: dict[int, int] = {}
    for k, (index, one) in enumerate(places):
        if not one.must and cases[index].doubtful.area >= SMALLEST_PART_M2:
            first.setdefault(index, k)
    return [*found, *((k, False) for k in first.values())]


def _shared(cases: Sequence[RoomCase], reasoned: Sequence[tuple[int, Candidate]]) -> list[Listed]:
    """Share each room's area in doubt among its places, the largest shares first."""
    count = np.bincount([index for index, _ in reasoned], minlength=len(cases))
    listed: list[Listed] = [
        (index, one, float(cases[index].doubtful.area) / int(count[index]), None)
        for index, one in reasoned
    ]
    name = [case.room.name for case in cases]
    return sorted(listed, key=lambda row: (-row[2], name[row[0]], row[1].x, row[1].y))
