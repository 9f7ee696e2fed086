"""What people decided against the tool (instruments/overrules.csv), with initials and a reason.

Columns: ``reading, round, verdict, initials, reason, date``. ``reading`` is an id, or ``*`` for
every reading of the round; ``round`` may be empty for an id that one round has. One that several
rounds have is held in each of them by such a row, and used in none.

``use`` lifts what the instrument log and the statistics hold against a reading. It never makes a
reading of one that has no value, no unit or no place. ``hold`` always holds, and wins.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Final, Literal

from hgmap.site.columns import known_columns
from hgmap.site.instruments.log_cells import CellError, date_of, words
from hgmap.site.instruments.model import Overrule
from hgmap.site.instruments.without_rule import OVERRULE
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Problem
from hgmap.site.reading import Finding, Reading
from hgmap.site.textfile import read_table

COLUMNS: Final = ("reading", "round", "verdict", "initials", "reason", "date")
REQUIRED: Final = ("reading", "verdict", "initials", "reason")
EVERY: Final = "*"

_VERDICTS: Final[dict[str, Literal["use", "hold"]]] = {"use": "use", "hold": "hold"}


def read_overrules(data: bytes, *, where: str) -> tuple[list[Overrule], list[Problem]]:
    """Read the decisions.

    A row without initials or a reason lifts nothing: it is refused. One that holds still holds.

    Parameters
    ----------
    data : bytes
        The file.
    where : str
        Its name, for messages.

    Raises
    ------
    ReadingsError
        If the file as a whole cannot be read, or lacks a column that it needs.
    """
    table = read_table(data, where=where)
    problems: list[Problem] = []
    if table.remark:
        problems.append(Problem("warning", where, table.remark, "look at the quotation marks"))
    index = known_columns(
        table, COLUMNS, REQUIRED, problems, where=where, name_of=words, unread="warning"
    )
    found = []
    for number, cells in table.rows:
        row = {name: cells[i] if i < len(cells) else "" for name, i in index.items()}
        extra = any(cells[len(table.header) :])
        one = _overrule(row, f"{where}, row {number}", problems, extra_cells=extra)
        if one is not None:
            found.append(one)
    return found, problems


def _overrule(
    row: dict[str, str], where: str, problems: list[Problem], *, extra_cells: bool
) -> Overrule | None:
    verdict = _VERDICTS.get(words(row["verdict"]))
    initials, reason = (" ".join(unguarded(row[name]).split()) for name in ("initials", "reason"))
    reading, round_name = unguarded(row["reading"]), unguarded(row.get("round", ""))
    wrong = []
    if verdict is None:
        wrong.append(f"verdict {row['verdict']!r} is neither use nor hold")
    if not reading:
        wrong.append("no reading")
    if reading == EVERY and not round_name:
        wrong.append("every reading of which round?")
    if not initials:
        wrong.append("no initials")
    if not reason:
        wrong.append("no reason")
    if extra_cells:
        wrong.append("more cells than the header; a comma inside the reason?")
    when = None
    if row.get("date"):
        try:
            when = date_of(row["date"])
        except CellError as error:
            problems.append(Problem("warning", where, f"date {error}", "write the day it was said"))
    holds = verdict == "hold" and bool(reading)
    if wrong:
        then = "it holds all the same" if holds else "the row is refused and lifts nothing"
        todo = "write reading, verdict, initials and reason"
        problems.append(Problem("warning", where, f"{'; '.join(wrong)}: {then}", todo))
    if verdict is None or (wrong and not holds):
        return None
    return Overrule(reading, round_name, verdict, initials, reason, when, where)


def apply_overrules(
    readings: Sequence[Reading], overrules: Sequence[Overrule]
) -> tuple[list[Reading], list[Problem]]:
    """Return the readings as people decided, and a problem for each decision that met none.

    A lifted finding stays with the reading, with who lifted it and why, and moves to the cautions
    so that it is printed. Reasons in ``held`` that are no finding stay in force.
    """
    if not overrules:
        return list(readings), []
    by_id: dict[str, list[Overrule]] = {}
    rounds: dict[str, set[str]] = {one.reading: set() for one in overrules if not one.round}
    for reading in readings:
        if reading.id in rounds:
            rounds[reading.id].add(reading.round)
    several = {name for name, some in rounds.items() if len(some) > 1}
    which = [one for one in overrules
             if one.verdict == "use" and not one.round and one.reading in several]  # fmt: skip
    problems = [
        Problem(
            "warning",
            one.where,
            f"reading {one.reading!r} is in several rounds: the row lifts nothing",
            "write the round",
        )
        for one in which
    ]
    overrules = [one for one in overrules if one not in which]
    for one in overrules:
        by_id.setdefault(one.reading, []).append(one)
    met: set[int] = set()
    every = by_id.get(EVERY, [])
    notes: dict[tuple[int, str], list[str]] = {}
    result = []
    for reading in readings:
        own = [
            one for one in (*by_id.get(reading.id, ()), *every) if one.round in ("", reading.round)
        ]
        if not own:
            result.append(reading)
            continue
        met.update(id(one) for one in own)
        result.append(_decided(reading, own, notes))
    problems.extend(
        Problem(
            "warning",
            one.where,
            f"no reading {one.reading!r}{f' in round {one.round!r}' if one.round else ''}",
            "write the id and the round as the readings have them",
        )
        for one in overrules
        if id(one) not in met
    )
    by_number = {id(one): one for one in overrules}
    problems.extend(
        Problem(
            "warning",
            by_number[number].where,
            f"{_some(ids)}: {why}",
            "mend the reading or this row",
        )
        for (number, why), ids in notes.items()
    )
    return result, problems


def _some(ids: Sequence[str]) -> str:
    """Name a few readings, however many there are."""
    named = ", ".join(repr(one) for one in ids[:3])
    return f"reading {named}" + (f" and {len(ids) - 3} more" if len(ids) > 3 else "")


def _decided(
    reading: Reading, own: Sequence[Overrule], notes: dict[tuple[int, str], list[str]]
) -> Reading:
    """Return the reading as people decided; ``notes`` takes what they did not reach, and why."""
    holding = [one for one in own if one.verdict == "hold"]
    if holding:
        for one in own:
            if one.verdict == "use":
                why = f"held by {holding[0].where}, and stays held"
                notes.setdefault((id(one), why), []).append(reading.id)
        more = tuple(_held_by(holding))
        return reading.with_verdict(
            held=reading.held + tuple(one.text for one in more),
            cautions=reading.cautions,
            error=reading.error,
            findings=reading.findings + more,
        )
    use = own[0]
    who = f"{use.initials}: {use.reason}"
    held, cautions = list(reading.held), list(reading.cautions)
    findings = []
    for finding in reading.findings:
        if finding.severity == "caution" or finding.overruled or finding.rule == OVERRULE:
            findings.append(finding)
            continue
        if finding.text in held:
            held.remove(finding.text)
        lifted = replace(finding, overruled=who)
        findings.append(lifted)
        cautions.append(lifted.text)
    if held:
        why = f"stays held, nobody can lift that: {'; '.join(held)}"
        notes.setdefault((id(use), why), []).append(reading.id)
    elif not reading.held:
        notes.setdefault((id(use), "nothing holds it"), []).append(reading.id)
    return reading.with_verdict(
        held=tuple(held),
        cautions=tuple(cautions),
        error=reading.error,
        findings=tuple(findings),
    )


def _held_by(holding: Iterable[Overrule]) -> Iterator[Finding]:
    for one in holding:
        who = one.initials or "someone who left no initials"
        reason = one.reason or "no reason written"
        yield Finding("hold", OVERRULE, f"held by {who}: {reason}", (one.where,))
