"""The instrument log as a table: every check, every row that could not be read, every overrule."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from hgmap.report.tables import Table
from hgmap.site.instruments.model import Check, InstrumentLog
from hgmap.site.intake.cells import guarded
from hgmap.site.model import Site

COLUMNS: Final = (
    "entry", "instrument", "principle", "serial", "start", "end", "minutes", "values", "spacing_s",
    "reference", "unit", "result", "temperature_c", "note", "source_row",
)  # fmt: skip
_AIR: Final = "µg/m³"
_OURS: Final = frozenset(
    {"start", "end", "minutes", "values", "spacing_s", "reference", "temperature_c"}
)


def log_table(site: Site) -> Table:
    """Return one row an entry: ``entry`` is the kind of check, ``not read``, or ``overrule``.

    Values and reference are in ``unit``; those of a battery are as written. Checks stand in the
    order of their start.
    """
    return COLUMNS, _rows(site)


def _rows(site: Site) -> Iterator[tuple[str, ...]]:
    if site.log is not None:
        for check in site.log.checks:
            yield _check(check, site.log)
        for problem in site.log.problems:
            text = f"{problem.message}; {problem.todo}" if problem.todo else problem.message
            yield _row(entry="not read", note=text, source_row=problem.where)
    for one in site.overrules:
        when = "" if one.date is None else f" on {one.date.isoformat()}"
        yield _row(
            entry="overrule", result=one.verdict, source_row=one.where,
            note=f"reading {one.reading}" + (f" of round {one.round}" if one.round else "")
            + f", by {one.initials}{when}: {one.reason}",
        )  # fmt: skip


def _check(check: Check, log: InstrumentLog) -> tuple[str, ...]:
    about = log.instrument(check.instrument)
    in_air = check.kind != "battery"
    return _row(
        entry=check.kind,
        instrument=check.instrument,
        principle="" if about is None or about.principle is None else about.principle,
        serial="" if about is None else about.serial,
        start=check.start.isoformat(),
        end=check.end.isoformat(),
        minutes=f"{check.minutes:.10g}",
        values=" ".join(f"{value:.10g}" for value in check.values),
        spacing_s=_number(check.spacing_s),
        reference=_number(check.reference),
        unit=_AIR if in_air and (check.values or check.reference is not None) else "",
        result={True: "passed", False: "failed", None: ""}[check.passed],
        temperature_c=_number(check.temperature_c),
        note=check.note,
        source_row=check.where,
    )


def _row(**cells: str) -> tuple[str, ...]:
    return tuple(
        cells.get(name, "") if name in _OURS else guarded(cells.get(name, "")) for name in COLUMNS
    )


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.10g}"
