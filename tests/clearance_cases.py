"""Rows, conditions and an instrument log of a clearance round that has all that it needs."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from hgmap.clearance import ClearanceOptions, ClearanceRun, clear_site

MakeSite = Callable[..., Path]
Run = Callable[..., Any]

CONDITIONS = """
purpose = "clearance"
[rounds.conditions]
temperature_c = {temperature}
ventilation = "{ventilation}"
windows = "{windows}"
{hours}
occupied = false
[clearance]
occupied_temperature_c = 22
{guidance}
"""
USUAL = {
    "temperature": 36,
    "ventilation": "off",
    "windows": "closed",
    "hours": "hours_closed = 20\nhours_heated = 20",
    "guidance": 'guidance = "closed-and-heated"',
}
LOG = """instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result
an,gold film,0417,2025-10-06,regeneration,2026-03-02T06:30,2026-03-02T07:15,,,,done
an,gold film,0417,2025-10-06,warm-up,2026-03-02T07:15,2026-03-02T07:20,,,,done
an,gold film,0417,2025-10-06,zero-air,2026-03-02T07:20,2026-03-02T07:22,0.03 0.01 0 0 0,15,,pass
an,gold film,0417,2025-10-06,span,2026-03-02T07:22,2026-03-02T07:25,2 2 2,,2,pass
an,gold film,0417,2025-10-06,zero-air,2026-03-02T15:45,2026-03-02T15:47,0.02 0.01 0 0 0,15,,pass
an,gold film,0417,2025-10-06,end-of-day,2026-03-02T15:47,2026-03-02T15:50,2 2 2,,2,pass
an,gold film,0417,2025-10-06,regeneration,2026-03-02T15:50,2026-03-02T16:35,,,,done
"""
EVERY, MEAN, MAP = "every-reading-below", "breathing-zone-mean-below", "map-nowhere-above"
LEVEL = "3 ug/m3"


def row(number: int, room: str, value: str, height: str = "1.5", *, x: float | None = None,
        note: str = "") -> str:  # fmt: skip
    """Write a reading at a place of its own; ``<0.05`` is a non-detect."""
    west = 0.0 if room == "A" else 6.0
    at = west + 0.5 + number % 10 * 0.5 if x is None else x
    sign = value[0] if value[0] in "<>" else ""
    return (f"R{number},ground,{room},{at:.2f},2.0,{height},2026-03-02T09:{number:02d},"
            f"{value.removeprefix(sign)},ug/m3,{sign},{note}")  # fmt: skip


def rows(a: Iterable[str], b: Iterable[str] = ("<0.05",) * 4) -> list[str]:
    """Write readings of both rooms."""
    return [row(k, "A", one) for k, one in enumerate(a)] + [
        row(20 + k, "B", one) for k, one in enumerate(b)
    ]


def ruled(site: Path, rule: str = EVERY, level: str = LEVEL, **more: Any) -> ClearanceRun:
    return clear_site(site, ClearanceOptions(rule=rule, levels=(level,), **more))


def outcome(run: ClearanceRun, room: str = "A") -> str:
    (found,) = [one for one in run.levels[0].rooms if one.room.id == room]
    return found.outcomes[0].ruling.outcome


def said(run: ClearanceRun, room: str = "A") -> str:
    (found,) = [one for one in run.levels[0].rooms if one.room.id == room]
    ruling = found.outcomes[0].ruling
    return "; ".join((*ruling.reasons, "MISSING", *ruling.missing))


CONFIRMED = "every-reading-below-confirmed"


def of_kind(site: Path, kinds: dict[str, str], file: str = "first") -> Path:
    """Give readings of a file a kind."""
    path = site / f"readings/{file}.csv"
    head, *lines = path.read_text("utf-8").splitlines()
    table = [f"{line},{kinds.get(line.split(',')[0], '')}" for line in lines]
    path.write_text("\n".join([f"{head},kind", *table]) + "\n", "utf-8")
    return site


def with_round(site: Path, text: str, day: str, purpose: str = "clearance") -> Path:
    """Add a round of the same building on another day, with its log."""
    (site / "readings/other.csv").write_text(text.replace("2026-03-02", day), "utf-8")
    toml, log = site / "site.toml", site / "instruments/log.csv"
    whole = toml.read_text("utf-8")
    rounds, rest = whole.split("[clearance]")
    conditions = rounds[rounds.index("[rounds.conditions]") :] if purpose == "clearance" else ""
    added = (f'[[rounds]]\nname = "other"\ndate = {day}\nreadings = ["readings/other.csv"]\n'
             f'purpose = "{purpose}"\n{conditions}')  # fmt: skip
    toml.write_text(f"{rounds}\n{added}\n[clearance]{rest}", "utf-8")
    rows_of_log = log.read_text("utf-8")
    log.write_text(rows_of_log + rows_of_log.split("\n", 1)[1].replace("2026-03-02", day), "utf-8")
    return site
