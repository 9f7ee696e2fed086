"""What only all rows of a log together show: who is who, and checks that overlap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import tzinfo
from typing import Final

from hgmap.site.instruments.clock import on_clock
from hgmap.site.instruments.log_row import LogRow
from hgmap.site.instruments.model import Check, Doubt, Instrument
from hgmap.site.model import Problem

_MOMENTS: Final = frozenset({"saturation", "battery", "control point"})
"""These may fall into another check."""


def instruments_of(
    rows: Sequence[LogRow], problems: list[Problem], doubts: list[Doubt]
) -> tuple[tuple[Instrument, ...], tuple[Check, ...]]:
    """Return the instruments, and the checks with the name of each spelled in one way.

    Rows that contradict each other are problems. Two principles: no rule vouches. Two dates of a
    certificate: the older one counts. One serial under two names: the checks of the one may be the
    other's, a doubt about both.
    """
    groups: dict[str, list[LogRow]] = {}
    for row in rows:
        groups.setdefault(row.check.instrument.casefold(), []).append(row)
    instruments = []
    names: dict[str, str] = {}
    for key, group in groups.items():
        names[key] = group[0].check.instrument
        instruments.append(_instrument(group, problems))
    by_serial: dict[str, str] = {}
    for one in instruments:
        other = by_serial.setdefault(one.serial.casefold(), one.name) if one.serial else one.name
        if other != one.name:
            problems.append(
                Problem(
                    "warning",
                    groups[one.name.casefold()][0].check.where,
                    f"serial {one.serial!r} belongs to {other!r} and to {one.name!r}",
                    "write one name for one instrument",
                )
            )
            first = groups[one.name.casefold()][0].check.where
            for name in (other, one.name):
                said = f"serial {one.serial!r} is {other!r} and {one.name!r} in the log: whose "
                doubts.append(Doubt(name, None, f"{said}checks are they?", (first,)))
    checks = tuple(
        replace(row.check, instrument=names[row.check.instrument.casefold()]) for row in rows
    )
    return tuple(instruments), checks


def _instrument(group: Sequence[LogRow], problems: list[Problem]) -> Instrument:
    name = group[0].check.instrument
    principles = {row.principle: row for row in reversed(group) if row.principle is not None}
    serials = {row.serial.casefold(): row for row in reversed(group) if row.serial}
    dates = {row.certificate: row for row in reversed(group) if row.certificate is not None}

    def contradiction(what: str, values: Sequence[str], rows: Sequence[LogRow], todo: str) -> None:
        problems.append(
            Problem(
                "warning",
                rows[-1].check.where,
                f"{name!r} has {what}: {' and '.join(values)}"
                f" (also {'; '.join(row.check.where for row in rows[:-1][:5])})",
                todo,
            )
        )

    if len(serials) > 1:
        contradiction(
            "more than one serial",
            sorted(row.serial for row in serials.values()),
            list(serials.values()),
            "give each instrument a name of its own",
        )
    if len(dates) > 1:
        contradiction(
            "more than one certificate date, the oldest counts",
            [f"{one:%Y-%m-%d}" for one in sorted(dates)],
            list(dates.values()),
            "write the date of the certificate in force",
        )
    if len(principles) > 1:
        contradiction(
            "more than one principle, so no rule vouches for it",
            sorted(principles),
            list(principles.values()),
            "write the right one",
        )
    return Instrument(
        name=name,
        principle=next(iter(principles)) if len(principles) == 1 else None,
        serial=" / ".join(sorted(row.serial for row in serials.values())),
        certificate=min(dates) if dates else None,
    )


def overlaps(checks: Sequence[Check], zone: tzinfo | None) -> Iterator[Problem]:
    """Yield a problem for each check that begins before another of its instrument has ended.

    ``checks`` stand in the order of their start.
    """
    running: dict[str, Check] = {}
    for check in checks:
        if check.kind in _MOMENTS:
            continue
        before = running.get(check.instrument)
        if before is not None:
            start, end = on_clock(check.start, zone), on_clock(before.end, zone)
            same = start == on_clock(before.start, zone) and check.kind == before.kind
            if start < end or same:
                yield Problem(
                    "warning",
                    check.where,
                    f"{check.kind} overlaps the {before.kind} of {before.where}",
                    "mend the times; one instrument does one check at a time",
                )
            if end > on_clock(check.end, zone):
                continue
        running[check.instrument] = check
