"""A clearance as CSV, one row a room, level and rule, and as JSON with everything behind it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from typing import Any, Final

from hgmap.decide.clearance.outcome import (
    BandFigures,
    FloorClearance,
    LevelClearance,
    RoomClearance,
    RuleOutcome,
)
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.clearance.statistics import Figure
from hgmap.report.clearance_notes import LAST
from hgmap.report.tables import csv_text
from hgmap.site.intake.cells import guarded
from hgmap.site.model import ActionLevel, Problem, Round, Site

COLUMNS: Final = (
    "floor", "what", "room", "room_name", "level", "level_value", "unit", "rule", "outcome",
    "reasons", "missing", "height_band", "n", "detects", "saturated", "minimum_detect",
    "maximum_detect", "lowest_detection_limit", "highest_detection_limit", "highest_saturated",
    "highest_at_other_heights", "mean", "mean_method", "median", "median_method", "percentile_95",
    "percentile_95_method", "ucl_95_of_mean", "ucl_95_method", "utl_95_95", "utl_95_95_method",
    "share_above_level", "share_above_low_95", "share_above_high_95", "share_above_method",
    "probability_nowhere_above", "readings",
)  # fmt: skip


def clearance_csv(levels: Iterable[LevelClearance]) -> str:
    """Return one row a room, level and rule, and one a floor, level and rule, floors last.

    Figures are those of ``height_band``, the height that decides, in ``unit``; ``n`` counts
    places: repeats of one place count once, at their highest. Where there is no figure its method
    says why, after ``none:``. A floor's figures pool its rooms; its outcome is that of its worst
    room.
    """
    rows: list[tuple[str, ...]] = []
    for level in levels:
        for floor in level.floors:
            for room in floor.rooms:
                rows += [
                    _row(floor, room, one, room.figures(one.band), level.level)
                    for one in room.outcomes
                ]
            rows += [
                _row(floor, None, one, floor.figures(one.band), level.level)
                for one in floor.outcomes
            ]
    return csv_text(COLUMNS, rows)


def _row(
    floor: FloorClearance,
    room: RoomClearance | None,
    one: RuleOutcome,
    figures: BandFigures,
    level: ActionLevel,
) -> tuple[str, ...]:
    found = figures.statistics
    share = found.exceedance
    return (
        guarded(floor.floor.name),
        "floor" if room is None else "room",
        "" if room is None else guarded(room.room.id),
        "" if room is None else guarded(room.room.name),
        guarded(level.name),
        _number(level.value),
        level.unit,
        one.rule.name,
        one.ruling.outcome,
        guarded("; ".join(one.ruling.reasons)),
        guarded("; ".join(one.ruling.missing)),
        guarded(one.band),
        str(found.n),
        str(found.detects),
        str(found.saturated),
        *(
            _number(value)
            for value in (
                found.minimum, found.maximum, found.lowest_limit, found.highest_limit,
                found.highest_saturated,
            )
        ),
        f">{_number(found.saturated_elsewhere)}" if found.saturated_elsewhere is not None
        and found.saturated_elsewhere == found.highest_elsewhere
        else _number(found.highest_elsewhere),
        *_figure(found.mean),
        *_figure(found.median),
        *_figure(found.percentile95),
        *_figure(Figure(found.ucl.value, found.ucl.method, found.ucl.why)),
        *_figure(found.utl),
        *(_number(None if share is None else one) for one in _share(found.exceedance)),
        f"none: {found.exceedance_why}" if share is None else guarded(share.method),
        "" if figures.nowhere is None else f"{figures.nowhere:.3f}",
        guarded(" ".join(figures.readings)),
    )  # fmt: skip


def _share(share: Any) -> tuple[float | None, float | None, float | None]:
    return (None, None, None) if share is None else (share.fraction, share.lower, share.upper)


def _figure(figure: Figure) -> Iterator[str]:
    yield _number(figure.value)
    if figure.value is None:
        yield f"none: {figure.why}"
    else:
        yield f"{figure.method} ({figure.why})" if figure.why else figure.method


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"


def clearance_summary(
    site: Site,
    round_: Round,
    rules: Sequence[ClearanceRule],
    levels: Sequence[LevelClearance],
    *,
    failed: Sequence[Problem],
    notes: Sequence[str],
    warnings: Sequence[str],
    version: str,
    with_map: bool,
) -> dict[str, Any]:
    """Return everything that made a clearance, so that any outcome can be made again."""
    return {
        "made_by": f"hgmap {version}",
        "site": site.name,
        "invented": site.invented,
        "analyte": site.analyte,
        "use": site.use,
        "round": round_.name,
        "purpose": round_.purpose,
        "conditions": asdict(round_.conditions),
        "guidance": site.trust.guidance,
        "occupied_temperature_c": site.trust.occupied_temperature_c,
        "with_map": with_map,
        "rules": [rule.model_dump() for rule in rules],
        "levels": [_level(one) for one in levels],
        "floors_not_made": [asdict(one) for one in failed],
        "notes": list(notes),
        "warnings": list(warnings),
        "inputs_sha256": dict(sorted(site.digests.items())),
        "caution": LAST,
    }


def _level(level: LevelClearance) -> dict[str, Any]:
    return {
        "action_level": asdict(level.level),
        "holds_for_every_room": [asdict(one) for one in level.held_back],
        "notes": list(level.notes),
        "floors": [
            {
                "floor": floor.floor.name,
                "outcomes": [_outcome(one) for one in floor.outcomes],
                "pooled": [_band(one) for one in floor.bands],
                "rooms": [
                    {
                        "room": room.room.id,
                        "name": room.room.name,
                        "outcomes": [_outcome(one) for one in room.outcomes],
                        "held_back": [asdict(one) for one in room.held_back],
                        "heights": [_band(one) for one in room.bands],
                    }
                    for room in floor.rooms
                ],
            }
            for floor in level.floors
        ],
    }


def _outcome(one: RuleOutcome) -> dict[str, Any]:
    return {
        "rule": one.rule.name,
        "outcome": one.ruling.outcome,
        "height_band": one.band,
        "reasons": list(one.ruling.reasons),
        "missing": list(one.ruling.missing),
    }


def _band(one: BandFigures) -> dict[str, Any]:
    """Return the figures of one height, in the unit of the level as published."""
    return {
        "height_band": one.band,
        "readings": list(one.readings),
        "probability_nowhere_above": one.nowhere,
        **asdict(one.statistics),
    }
