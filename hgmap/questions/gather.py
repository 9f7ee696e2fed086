"""A survey as five questions in the order of the work, each with what is still open.

An open point says what is the matter, what to do, and where on the plan it lies, so that a table
and a plan can point at each other. Nothing is decided here: it gathers what the core found.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from hgmap.decide.clearance.outcome import worst
from hgmap.questions.maps import map_question, next_question, not_looked_at
from hgmap.questions.places import name, place_of, whole_of
from hgmap.questions.points import (
    QUESTIONS,
    SEVERITY,
    Known,
    OpenPoint,
    Question,
    QuestionKey,
    Severity,
    State,
    of_problem,
    question_of,
)

if TYPE_CHECKING:  # the window asks them before anything is estimated
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.clearance.outcome import RoomClearance
    from hgmap.editing.soundness import Finding
    from hgmap.site.building import Floor
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Problem, Site
    from hgmap.site.reading import Reading

__all__ = [
    "QUESTIONS", "Known", "OpenPoint", "Question", "QuestionKey", "Severity", "State", "name",
    "not_looked_at", "place_of", "questions", "whole_of",
]  # fmt: skip


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
        map_question(known.check, known.maps),
        next_question(known.check.site, known.maps if known.listed else {}, known.floor),
        _release(known.check, known.clearance),
    )


def _plan(check: SiteCheck, findings: Mapping[str, Sequence[Finding]]) -> Question:
    # a plan that is not read says so once: its findings also say where, and how to mend it
    told = {floor for floor, found in findings.items() if any(f.severity == "error" for f in found)}
    points = [
        of_problem("plan", one)
        for one in check.problems
        if _of_plan(one, check.site) and not (one.severity == "error" and one.floor in told)
    ]
    for floor, found in findings.items():
        said = f"{floor}: " if len(findings) > 1 else ""  # of which floor, where there are several
        points += [
            OpenPoint("plan", "note" if one.kept else SEVERITY[one.severity], said + one.message,
                      one.todo, floor, one.place, finding=one)
            for one in found
        ]  # fmt: skip
    return question_of("plan", points, "The plan holds nothing that stands against it.")


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
    points += _cautioned(site, round_name)
    quality = [one for one in check.quality if not round_name or one.round == round_name]
    for report in quality:
        fit = report.fitness
        severity: Severity = "stop" if fit.verdict == "not fit" else "look"
        for k, reason in enumerate(fit.reasons):
            todo = fit.todo[k] if k < len(fit.todo) else ""
            points.append(OpenPoint("readings", severity if reason in fit.against else "look",
                                    reason, todo))  # fmt: skip
    points += [
        of_problem("readings", one)
        for one in check.problems
        if one.severity != "held" and not _of_plan(one, site) and one.where != "action level"
    ]
    answer = " ".join(one.fitness.sentence for one in quality[:1])
    return question_of("readings", points, answer, answer)


def _cautioned(site: Site, round_name: str) -> Iterator[OpenPoint]:
    """Go through what goes with readings that are used: each caution once, with whom it is about.

    They are notes: a caution is to be read, there is nothing to settle.
    """
    of: dict[str, list[Reading]] = {}
    for one in site.readings:
        if one.usable and (not round_name or one.round == round_name):
            for text in dict.fromkeys(one.cautions):
                of.setdefault(text, []).append(one)
    todo = "read it before relying on the map there"
    for text, some in of.items():
        first = some[0]
        if len(some) == 1:
            yield OpenPoint("readings", "note", f"{name(first)}: {text}", todo, first.floor,
                            place_of(first, site), first.room, first.where)  # fmt: skip
            continue
        more = f" and {len(some) - 3} more" if len(some) > 3 else ""
        names = ", ".join(name(one) for one in some[:3])
        yield OpenPoint("readings", "note", f"{names}{more}: {text}", todo)


def _release(check: SiteCheck, run: ClearanceRun | None) -> Question:
    if run is None:
        return Question("release", "not yet", "")
    points = [of_problem("release", one) for one in run.failed]
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
    return question_of("release", points, answer, answer)


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


def _of_plan(problem: Problem, site: Site) -> bool:
    """Tell whether a problem is about a floor's plan."""
    return bool(problem.floor) and not problem.round and problem.severity != "held"


def _decided(reading: Reading) -> bool:
    """Tell whether a person held it, with initials and a reason."""
    return any(one.rule == "overrule" and one.severity == "hold" for one in reading.findings)
