"""A clearance in words and figures: the same on the terminal and in the report."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from hgmap.decide.clearance.judge import Outcome
from hgmap.decide.clearance.outcome import (
    BandFigures,
    LevelClearance,
    RoomClearance,
    RuleOutcome,
    worst,
)
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.clearance.withheld import vouches
from hgmap.report.clearance_notes import elsewhere_words, highest_words
from hgmap.report.words import number
from hgmap.site.quality.figures import counted, named

MOST_ROOMS: Final = 6
OUTCOMES: Final[tuple[Outcome, ...]] = ("meets", "cannot tell yet", "does not meet")
_MORE: Final = re.compile(r"(?P<before>(?:.*: )?)(?P<n>\d+) more usable readings?")
_ABOUT: Final = re.compile(
    r"(?P<before>.*more readings: about )(?P<n>\d+)(?P<after> in the room, .*)"
)


def level_named(level: LevelClearance) -> str:
    """Name the level with its value."""
    at = level.level
    value = f"{number(at.value)} {at.unit}"
    return value if at.kind == "stated" else f"{value} ({at.name})"


def rule_line(rule: ClearanceRule, *, with_source: bool) -> str:
    """Say what a rule asks for, who says so where asked, and what it cannot see."""
    source = f"; source: {rule.source}" if with_source else ""
    memory = " (from memory)" if rule.from_memory else ""
    return (
        f"rule {rule.name}{memory}: {rule.title}; {counted(rule.least, 'reading')} or more in a "
        f"room at each height{_asks(rule)}{source}; it cannot see {rule.cannot_see}"
    )


def _asks(rule: ClearanceRule) -> str:
    """Return what a rule asks for besides readings, with who says so."""
    found = []
    if rule.laboratory is not None:
        found.append(f"a laboratory sample in every room ({rule.laboratory_source})")
    if rule.again_after_h is not None:
        found.append(
            f"a second clearance round {rule.again_after_h:g} h or more apart ({rule.again_source})"
        )
    if rule.guard is not None:
        few = rule.guard
        found.append(
            "the limit has to hold by Chebyshev as well, at "
            f"{100.0 * few.few_confidence:g} % below {few.few} readings ({few.source})"
        )
    return "".join(f"; {text}" for text in found)


def deciding_height(outcomes: Iterable[RuleOutcome]) -> str:
    """Return the height to show: that of the first rule with the worst outcome."""
    every = list(outcomes)
    bad = worst(one.ruling.outcome for one in every)
    return next(one.band for one in every if one.ruling.outcome == bad)


def outcome_words(outcomes: Sequence[RuleOutcome]) -> str:
    """Return the worst outcome of the rules, with how many of them say so where they differ."""
    bad = worst(one.ruling.outcome for one in outcomes)
    same = sum(one.ruling.outcome == bad for one in outcomes)
    return bad if same == len(outcomes) else f"{bad} ({same} of {len(outcomes)} rules)"


def figures_row(one: BandFigures) -> tuple[str, ...]:
    """Return height, n, detects, highest, mean, upper limit of the mean, highest elsewhere."""
    found = one.statistics
    limit = found.ucl
    return (
        one.band,
        str(found.n),
        str(found.detects),
        highest_words(found),
        "–" if found.mean.value is None else number(found.mean.value),
        "–" if limit.value is None else f"{number(limit.value)} ({limit.method})",
        elsewhere_words(found),
    )


def rooms_called(level: LevelClearance) -> Iterator[tuple[str, RoomClearance]]:
    """Go through the rooms, each with what to call it beside those of other floors.

    Where two rooms have one name, floor and id stand behind it.
    """
    same = Counter(room.room.name for room in level.rooms)
    for floor in level.floors:
        for room in floor.rooms:
            name = room.room.name
            one = same[name] == 1
            yield (name if one else f"{name} ({floor.floor.title}, {room.room.id})"), room


def why_of(level: LevelClearance, outcome: Outcome, rules: int) -> Iterator[str]:
    """Yield the reasons of each room with an outcome, and by which rules where there are more."""
    for name, room in rooms_called(level):
        found = [one for one in room.outcomes if one.ruling.outcome == outcome]
        reasons = dict.fromkeys(text for one in found for text in one.ruling.reasons)
        if reasons:
            by = f" under {named([one.rule.name for one in found])}" if rules > 1 else ""
            yield f"{name}{by}: {'; '.join(reasons)} ({level.level.unit})"


def held_back_lines(level: LevelClearance) -> list[str]:
    """Say what takes a *meets* back: of the whole round first, then of rooms."""
    lines = [f"no room can meet yet: {held.reason}" for held in level.held_back]
    rooms: dict[str, list[str]] = {}
    for name, room in rooms_called(level):
        for held in room.held_back:
            rooms.setdefault(held.reason, []).append(name)
    return lines + [
        f"cannot meet yet: {named(names, MOST_ROOMS, '; ')}: {text}"
        for text, names in rooms.items()
    ]


def what_is_missing(levels: Sequence[LevelClearance]) -> list[str]:
    """Return what is missing, each thing once, with the rooms that lack it.

    What makes an instrument vouch stands first, as held readings may come back by it; then what
    every room that cannot be told lacks, without their names.
    """
    rooms: dict[str, dict[str, None]] = {}
    most: dict[str, set[int]] = {}
    open_: set[str] = set()
    for level in levels:
        for name, room in rooms_called(level):
            for text, n in _lacks(room):
                open_.add(name)
                rooms.setdefault(text, {})[name] = None
                if n:
                    most.setdefault(text, set()).add(n)
    lines = []
    for text, some in rooms.items():
        shown = text
        if text in most:
            low, high = min(most[text]), max(most[text])
            shown = text.replace("#", f"{low}" if low == high else f"{low} to {high}")
        every = len(some) == len(open_)
        where = (
            "every room that cannot be told yet" if every else named(list(some), MOST_ROOMS, "; ")
        )
        lines.append(((not vouches(text), not every), f"{shown}: {where}"))
    return [text for _, text in sorted(lines, key=lambda pair: pair[0])] or ["nothing"]


def _lacks(room: RoomClearance) -> Iterator[tuple[str, int]]:
    """Yield what a room lacks; numbers of readings under one text, with the number.

    Where a height has fewer readings than a rule asks for, it is not said that more would help.
    """
    texts = [text for one in room.outcomes for text in one.ruling.missing]
    few = {found["before"] for text in texts if (found := _MORE.fullmatch(text))}
    for text in texts:
        found = _MORE.fullmatch(text)
        if found is not None:
            yield f"{found['before']}# more usable readings in a room", int(found["n"])
        elif (about := _ABOUT.fullmatch(text)) is not None:
            yield f"{about['before']}#{about['after']}", int(about["n"])
        elif not any(text.startswith(f"{before}more readings") for before in few):
            yield text, 0
