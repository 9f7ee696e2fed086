"""What the maps of a survey leave open: where it is above the level, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from shapely import Point

from hgmap.questions.places import whole_of
from hgmap.questions.points import OpenPoint, Question, QuestionKey, State, of_problem, question_of
from hgmap.report.words import square_metres

if TYPE_CHECKING:  # the window asks them before anything is estimated
    from hgmap.decide.model import Zone, ZoneName
    from hgmap.floor_map import FloorMap
    from hgmap.site.building import Floor
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Site

MOST_REASONS: Final = 2
"""Of ground in doubt, in a table; the spot under the cursor says all of them."""

TODO: Final[dict[ZoneName, str]] = {
    "remediate": "tape it off; keep people out until it is clean and read again",
    "resample": "not known to be clear; the next question says where to measure",
    "no data": "nothing speaks for it; measure there, or say why nobody can get in",
}


def map_question(check: SiteCheck, maps: Mapping[str, FloorMap]) -> Question:
    """Say what is above the level, and what is not known to be below it.

    Only ground that is clear leaves nothing open.
    """
    if check.level is None:
        why = next((one for one in check.problems if one.where == "action level"), None)
        point = OpenPoint(
            "map",
            "stop",
            why.message if why else "no action level is chosen",
            why.todo if why else "choose one on the bar above the plan",
        )
        return Question("map", "open", point.message, (point,))
    points = [
        of_problem("map", one) for one in check.problems if one.where == "action level"
    ]  # fmt: skip
    if not maps:
        return Question("map", "not yet", "", tuple(points))
    area: dict[ZoneName, float] = dict.fromkeys(TODO, 0.0)
    for floor_map in maps.values():
        floor = floor_map.floor.name
        ruled = [one for one in floor_map.zones.zones if one.name in TODO]
        for zone in sorted(ruled, key=lambda one: list(TODO).index(one.name)):
            area[zone.name] += zone.area_m2
            points.append(OpenPoint("map", "look", _about(zone), TODO[zone.name], floor,
                                    zone.geometry, zone.room))  # fmt: skip
        against = [floor_map.nothing_clear]
        against += [f"no surface: {floor_map.no_surface}"] if floor_map.surface is None else []
        points += [OpenPoint("map", "look", text, "", floor) for text in against if text]
        points += [
            OpenPoint("map", "note", text, "", floor)
            for text in floor_map.warnings
            if text not in against
        ]
    answer = _answer(area)
    points += [_unseen("map", one) for one in check.site.floors if one.name not in maps]
    return _of_these_floors(question_of("map", points, answer, answer), check.site, maps)


def _about(zone: Zone) -> str:
    """Return what is to be said of ground that is not clear."""
    most = None if zone.name == "remediate" else MOST_REASONS
    reasons = list(zone.reasons[:most])
    if len(reasons) < len(zone.reasons):
        reasons.append(f"and {len(zone.reasons) - len(reasons)} more reasons")
    why = f" ({'; '.join(reasons)})" if reasons else ""
    return f"{zone.room_name}: {zone.name} {square_metres(zone.area_m2)}{why}"


def _answer(area: Mapping[ZoneName, float]) -> str:
    """Return where it is above the level in a sentence; ground in doubt is never left out."""
    above, doubt = area["remediate"], area["resample"] + area["no data"]
    if above:
        rest = f"; {square_metres(doubt)} more are not known to be clear" if doubt else ""
        return f"{square_metres(above)} are to be remediated{rest}."
    if doubt:
        return (
            f"{square_metres(doubt)} are not known to be clear and are to be measured again; "
            "nothing is known to be above the level."
        )
    return "Nothing is known to be above the level, and no ground is in doubt."


def _unseen(key: QuestionKey, floor: Floor) -> OpenPoint:
    """Return the point that a floor was not looked at; nothing is said of it meanwhile."""
    return OpenPoint(key, "look", f"{floor.title}: no map of it yet",
                     "choose it; it is mapped as soon as it is shown", floor.name,
                     whole_of(floor))  # fmt: skip


def next_question(site: Site, maps: Mapping[str, FloorMap], shown: str) -> Question:
    """List the places to measure; ``shown`` is the floor whose are listed one by one."""
    if not maps:
        return Question("next", "not yet", "")
    points: list[OpenPoint] = []
    answers = []
    for one in maps.values():
        count, doubt = len(one.resample.places), in_doubt(one)
        here = shown not in maps or one.floor.name == shown
        if count and not here:
            points.append(OpenPoint("next", "look", f"{one.floor.title}: {count} to measure",
                                    "choose it for its list", one.floor.name,
                                    whole_of(one.floor)))  # fmt: skip
        if doubt and not count:
            points.append(OpenPoint("next", "look", f"{one.floor.title}: {square_metres(doubt)} "
                                    "in doubt, and no place to measure is proposed for it",
                                    "choose places yourself", one.floor.name,
                                    whole_of(one.floor)))  # fmt: skip
        if not here:
            continue
        points += [
            OpenPoint(
                "next", "look", f"{place.rank}. {place.room_name}: {'; '.join(place.reasons)}",
                place.instrument, place.floor, Point(place.x, place.y), place.room,
            )
            for place in one.resample.places
        ]  # fmt: skip
        stop = one.resample.stop
        if stop is not None and stop.why:
            answers.append(stop.why)
    points += [_unseen("next", one) for one in site.floors if one.name not in maps]
    found = question_of("next", points, "No place is left to measure.", "; ".join(answers))
    return _of_these_floors(found, site, maps)


def in_doubt(one: FloorMap) -> float:
    """Return the area (m²) of a floor that is neither clear nor to be remediated."""
    return one.zones.area_m2("resample") + one.zones.area_m2("no data")


def not_looked_at(site: Site, looked_at: Iterable[str]) -> str:
    """Return a sentence on the floors that a map is not of; empty where it is of all of them."""
    shown = set(looked_at)
    titles = {one.name: one.title for one in site.floors}
    names = dict.fromkeys((*titles, *site.floors_without_a_plan))
    rest = [titles.get(one, one) for one in names if one not in shown]
    if not rest:
        return ""
    some = ", ".join(rest[:3]) + (f" and {len(rest) - 3} more" if len(rest) > 3 else "")
    return f"This is not of every floor: {some} not looked at."


def _of_these_floors(found: Question, site: Site, maps: Mapping[str, FloorMap]) -> Question:
    """Let what is known of some floors not be read as of the whole site."""
    rest = not_looked_at(site, maps)
    if not rest:
        return found
    state: State = "open" if found.state == "settled" else found.state
    seen = ", ".join(one.floor.title for one in maps.values())
    return replace(found, state=state, answer=f"{seen}: {found.answer} {rest}")
