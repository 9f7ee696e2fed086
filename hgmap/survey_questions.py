"""A survey as five questions in the order of the work, each with what is still open.

An open point says what is the matter, what to do, and where on the plan it lies, so that a table
and a plan can point at each other. Nothing is decided here: it gathers what the core found.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final, Literal

from shapely import Point, union_all
from shapely.geometry.base import BaseGeometry

from hgmap.decide.clearance.outcome import worst
from hgmap.report.words import square_metres

if TYPE_CHECKING:  # the window asks them before anything is estimated
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.clearance.outcome import RoomClearance
    from hgmap.editing.soundness import Finding
    from hgmap.floor_map import FloorMap
    from hgmap.site.building import Floor
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Problem, Site
    from hgmap.site.reading import Reading

QuestionKey = Literal["plan", "readings", "map", "next", "release"]
State = Literal["open", "settled", "not yet"]
Severity = Literal["stop", "look", "note"]

QUESTIONS: Final[dict[QuestionKey, str]] = {
    "plan": "Is the plan sound?",
    "readings": "Can the readings be trusted?",
    "map": "Where is it above the level?",
    "next": "What do we measure next?",
    "release": "Can it be released?",
}


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One thing to settle.

    Attributes
    ----------
    severity : {"stop", "look", "note"}
        Nothing can go on; a person has to look; worth knowing. Notes are not counted.
    floor : str
        Name of the floor; empty where it is of none.
    place : geometry or None
        Where on the plan (m); None where nowhere.
    reading : str
        Where the reading stands (file and row); empty where it is about none.
    finding : Finding or None
        Of the plan, with its repair.
    """

    question: QuestionKey
    severity: Severity
    message: str
    todo: str = ""
    floor: str = ""
    place: BaseGeometry | None = None
    room: str = ""
    reading: str = ""
    finding: Finding | None = None


@dataclass(frozen=True, slots=True)
class Question:
    """One question, where it stands, and its points."""

    key: QuestionKey
    state: State
    answer: str
    points: tuple[OpenPoint, ...] = ()

    @property
    def text(self) -> str:
        """The question in words."""
        return QUESTIONS[self.key]

    @property
    def open_points(self) -> int:
        """How many points a person still has to settle."""
        return sum(one.severity != "note" for one in self.points)


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a survey so far; ``maps`` are those of one round, by floor.

    ``listed`` False: the places to measure again are still being chosen. ``floor`` is the one that
    is looked at: its places to measure are listed one by one, those of the others as a number.
    """

    check: SiteCheck | None = None
    findings: Mapping[str, Sequence[Finding]] = field(default_factory=dict)
    maps: Mapping[str, FloorMap] = field(default_factory=dict)
    clearance: ClearanceRun | None = None
    listed: bool = True
    round: str = ""
    trouble: str = ""
    floor: str = ""


def questions(known: Known) -> tuple[Question, ...]:
    """Return the five questions as things stand.

    ``known.trouble`` is the one line that says why there is no site at all.
    """
    if known.check is None:
        why = known.trouble or "nothing is open"
        point = OpenPoint("plan", "stop", why)
        first = Question("plan", "open", why, (point,) if known.trouble else ())
        return (first, *(Question(key, "not yet", "") for key in list(QUESTIONS)[1:]))
    return (
        _plan(known.check, known.findings),
        _readings(known.check, known.round),
        _map(known.check, known.maps),
        _next(known.check.site, known.maps if known.listed else {}, known.floor),
        _release(known.check, known.clearance),
    )


def _plan(check: SiteCheck, findings: Mapping[str, Sequence[Finding]]) -> Question:
    # a plan that is not read says so once: its findings also say where, and how to mend it
    told = {floor for floor, found in findings.items() if any(f.severity == "error" for f in found)}
    points = [
        _of_problem("plan", one)
        for one in check.problems
        if _of_plan(one, check.site) and not (one.severity == "error" and one.floor in told)
    ]
    for floor, found in findings.items():
        said = f"{floor}: " if len(findings) > 1 else ""  # of which floor, where there are several
        points += [
            OpenPoint("plan", "note" if one.kept else _SEVERITY[one.severity], said + one.message,
                      one.todo, floor, one.place, finding=one)
            for one in found
        ]  # fmt: skip
    return _question("plan", points, "The plan holds nothing that stands against it.")


def _readings(check: SiteCheck, round_name: str) -> Question:
    site = check.site
    if not site.readings:
        point = OpenPoint(
            "readings",
            "stop",
            "there is no reading yet",
            "paste them from a spreadsheet, open a file, or click on the plan",
        )
        return Question("readings", "open", point.message, (point,))
    points: list[OpenPoint] = []
    if round_name and not any(one.round == round_name for one in site.readings):
        nothing = f"round {round_name!r} has no reading"
        todo = "choose another round on the bar, or enter what was read"
        points.append(OpenPoint("readings", "stop", nothing, todo))
    points += [
        OpenPoint("readings", "look", f"{name(one)}: {'; '.join(one.held)}",
                  "mend its row, read it again, or let a person decide", one.floor,
                  place_of(one, site), one.room, one.where)
        for one in site.readings
        if one.held and (not round_name or one.round == round_name) and not _decided(one)
    ]  # fmt: skip
    quality = [one for one in check.quality if not round_name or one.round == round_name]
    for report in quality:
        fit = report.fitness
        severity: Severity = "stop" if fit.verdict == "not fit" else "look"
        for k, reason in enumerate(fit.reasons):
            todo = fit.todo[k] if k < len(fit.todo) else ""
            points.append(OpenPoint("readings", severity if reason in fit.against else "look",
                                    reason, todo))  # fmt: skip
    points += [
        _of_problem("readings", one)
        for one in check.problems
        if one.severity != "held" and not _of_plan(one, site) and one.where != "action level"
    ]
    answer = " ".join(one.fitness.sentence for one in quality[:1])
    return _question("readings", points, answer, answer)


def _map(check: SiteCheck, maps: Mapping[str, FloorMap]) -> Question:
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
        _of_problem("map", one) for one in check.problems if one.where == "action level"
    ]  # fmt: skip
    if not maps:
        return Question("map", "not yet", "", tuple(points))
    area = 0.0
    for floor_map in maps.values():
        floor = floor_map.floor.name
        for zone in floor_map.zones.zones:
            if zone.name != "remediate":
                continue
            area += zone.area_m2
            points.append(
                OpenPoint("map", "look", f"{zone.room_name}: remediate "
                          f"{square_metres(zone.area_m2)} ({'; '.join(zone.reasons)})",
                          "tape it off; keep people out until it is clean and read again",
                          floor, zone.geometry, zone.room)
            )  # fmt: skip
        against = [floor_map.nothing_clear]
        against += [f"no surface: {floor_map.no_surface}"] if floor_map.surface is None else []
        points += [OpenPoint("map", "look", text, "", floor) for text in against if text]
        points += [
            OpenPoint("map", "note", text, "", floor)
            for text in floor_map.warnings
            if text not in against
        ]
    answer = (
        f"{square_metres(area)} are to be remediated."
        if area
        else "Nothing is known to be above the level; what is not clear is to be measured again."
    )
    points += [_unseen("map", one) for one in check.site.floors if one.name not in maps]
    return _of_these_floors(_question("map", points, answer, answer), check.site, maps)


def _unseen(key: QuestionKey, floor: Floor) -> OpenPoint:
    """Return the point that a floor was not looked at; nothing is said of it meanwhile."""
    return OpenPoint(key, "look", f"{floor.title}: no map of it yet",
                     "choose it; it is mapped as soon as it is shown", floor.name,
                     whole_of(floor))  # fmt: skip


def whole_of(floor: Floor) -> BaseGeometry | None:
    """Return all of a floor's rooms as one shape (m); None where it has none."""
    return union_all([one.polygon for one in floor.rooms]) if floor.rooms else None


def _next(site: Site, maps: Mapping[str, FloorMap], shown: str) -> Question:
    if not maps:
        return Question("next", "not yet", "")
    points: list[OpenPoint] = []
    answers = []
    for one in maps.values():
        count = len(one.resample.places)
        if shown in maps and one.floor.name != shown:
            if count:
                points.append(OpenPoint("next", "look", f"{one.floor.title}: {count} to measure",
                                        "choose it for its list", one.floor.name,
                                        whole_of(one.floor)))  # fmt: skip
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
    found = _question("next", points, "No place is left to measure.", "; ".join(answers))
    return _of_these_floors(found, site, maps)


def not_looked_at(site: Site, looked_at: Iterable[str]) -> str:
    """Return a sentence on the floors that a map is not of; empty where it is of all of them."""
    shown = set(looked_at)
    titles = {one.name: one.title for one in site.floors}
    lost = [one.floor for one in site.problems if one.severity == "error" and one.floor]
    names = dict.fromkeys((*titles, *lost))
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


def _release(check: SiteCheck, run: ClearanceRun | None) -> Question:
    if run is None:
        return Question("release", "not yet", "")
    points = [_of_problem("release", one) for one in run.failed]
    told = 0
    for level in run.levels:
        points += [OpenPoint("release", "stop", one.reason, one.missing) for one in level.held_back]
        for floor in level.floors:
            for room in floor.rooms:
                outcome = worst(one.ruling.outcome for one in room.outcomes)
                told += 1
                if outcome != "meets":
                    points.append(_of_room(room, floor.floor, outcome))
    if told == 0:
        points.append(OpenPoint("release", "stop", "no room was ruled on"))
    # one rule that was chosen is not every rule
    asked = "every rule" if len(run.rules) > 1 else "".join(one.name for one in run.rules)
    against = len({(one.floor, one.room) for one in points if one.room})
    answer = (
        f"All {told} rooms meet {asked}; whoever is licensed for it decides."
        if not points
        else f"{against} of {told} rooms are not released: {asked} has to be met."
    )
    if run.failed:
        lost = ", ".join(dict.fromkeys(one.floor or one.where for one in run.failed))
        answer += f" Not ruled on: {lost}."
    return _question("release", points, answer, answer)


def _of_room(room: RoomClearance, floor: Floor, outcome: str) -> OpenPoint:
    missing = dict.fromkeys(
        text
        for one in room.outcomes
        if one.ruling.outcome != "meets"
        for text in one.ruling.missing
    )
    missing.update(dict.fromkeys(one.missing for one in room.held_back))
    return OpenPoint(
        "release", "stop" if outcome == "does not meet" else "look",
        f"{room.room.name}: {outcome}", "; ".join(missing), floor.name, room.room.polygon,
        room.room.id,
    )  # fmt: skip


_SEVERITY: Final[dict[str, Severity]] = {
    "error": "stop", "stop": "stop", "warning": "look", "look": "look", "held": "look",
    "note": "note",
}  # fmt: skip


def _question(
    key: QuestionKey, points: Iterable[OpenPoint], nothing_open: str, answer: str = ""
) -> Question:
    order = {"stop": 0, "look": 1, "note": 2}
    sorted_points = tuple(sorted(points, key=lambda one: order[one.severity]))
    counted = any(one.severity != "note" for one in sorted_points)
    return Question(key, "open" if counted else "settled",
                    answer if counted or answer else nothing_open, sorted_points)  # fmt: skip


def _of_plan(problem: Problem, site: Site) -> bool:
    """Tell whether a problem is about a floor's plan."""
    return bool(problem.floor) and not problem.round and problem.severity != "held"


def _of_problem(key: QuestionKey, one: Problem) -> OpenPoint:
    where = f"{one.where}: " if one.where and one.where != "action level" else ""
    return OpenPoint(key, _SEVERITY[one.severity], where + one.message, one.todo, one.floor)


def _decided(reading: Reading) -> bool:
    """Tell whether a person held it, with initials and a reason."""
    return any(one.rule == "overrule" and one.severity == "hold" for one in reading.findings)


def name(reading: Reading) -> str:
    """Return what a reading is called: its id, else its row."""
    return reading.id or reading.where


def place_of(reading: Reading, site: Site) -> BaseGeometry | None:
    """Return where a reading lies, else the room that it names."""
    if reading.x is not None and reading.y is not None:
        return Point(reading.x, reading.y)
    floor = site.floor(reading.floor)
    room = floor.room(reading.room) if floor and reading.room else None
    return room.polygon if room else None
