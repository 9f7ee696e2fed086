"""What a question of a survey is: where it stands, and the points that are open under it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:  # the window asks them before anything is estimated
    from hgmap.clearance import ClearanceRun
    from hgmap.editing.soundness import Finding
    from hgmap.floor_map import FloorMap
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Problem

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


SEVERITY: Final[dict[str, Severity]] = {
    "error": "stop", "stop": "stop", "warning": "look", "look": "look", "held": "look",
    "note": "note",
}  # fmt: skip


def question_of(
    key: QuestionKey, points: Iterable[OpenPoint], nothing_open: str, answer: str = ""
) -> Question:
    """Put a question's points in the order of their weight; with none that counts it is settled."""
    order = {"stop": 0, "look": 1, "note": 2}
    sorted_points = tuple(sorted(points, key=lambda one: order[one.severity]))
    counted = any(one.severity != "note" for one in sorted_points)
    return Question(key, "open" if counted else "settled",
                    answer if counted or answer else nothing_open, sorted_points)  # fmt: skip


def of_problem(key: QuestionKey, one: Problem) -> OpenPoint:
    """Return a problem of the site as an open point."""
    where = f"{one.where}: " if one.where and one.where != "action level" else ""
    return OpenPoint(key, SEVERITY[one.severity], where + one.message, one.todo, one.floor)
