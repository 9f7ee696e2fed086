"""summary.json: everything that made a run, so that any printed map can be made again."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, Final

from hgmap.decide.evidence import describe
from hgmap.decide.model import (
    ZONE_NAMES,
    Evidence,
    FloorEvidence,
    ResampleList,
    StopRule,
    Zones,
    error_of,
)
from hgmap.decide.rooms import RoomRow
from hgmap.decide.stop import stop_sentence
from hgmap.field.crosscheck import SecondOpinion
from hgmap.field.surface import Surface
from hgmap.field.validate import Scores
from hgmap.site.cautions import screening
from hgmap.site.model import ActionLevel, Problem, Site
from hgmap.site.quality.quality import QualityReport

_RULES: Final = (
    "remediate_at", "clear_at", "guard_m", "doubt_share", "zones", "tape_width_m", "tape_area_m2",
)  # fmt: skip


def floor_summary(
    evidence: FloorEvidence,
    surface: Surface | None,
    zones: Zones,
    resample: ResampleList,
    *,
    rooms: Sequence[RoomRow],
    opinion: SecondOpinion | None,
    no_surface: str,
    files: Sequence[str],
    nested: Sequence[Zones] = (),
    digest: str = "",
) -> dict[str, Any]:
    """Return what a floor's map was made from and what it rules; areas in m².

    ``nested`` are the zones of every level, where there is more than one; ``digest`` is what
    stands in the foot of its sheets.
    """
    return {
        "floor": evidence.floor.name,
        "title": evidence.floor.title,
        "round": evidence.round,
        "height_band": evidence.band,
        "readings": {
            "used": [_reading(item) for item in evidence.used],
            "set_aside": [_reading(item) for item in evidence.set_aside],
        },
        "method": surface.method if surface else None,
        "no_surface": no_surface or None,
        "settings": surface.settings if surface else None,
        "settings_digest": digest,
        "variogram": asdict(surface.variogram) if surface and surface.variogram else None,
        "leave_one_out": _scores(surface.scores) if surface else None,
        "second_opinion": asdict(opinion) if opinion else None,
        "area_m2": evidence.floor.area_m2,
        "zones_m2": {name: zones.area_m2(name) for name in ZONE_NAMES},
        "zones_by_room_m2": {
            room.id: {name: zones.area_m2(name, room.id) for name in ZONE_NAMES}
            for room in evidence.floor.rooms
        },
        "nested_levels": [
            {
                "level": asdict(one.level),
                "is_for": one.purpose,
                "zones_m2": {name: one.area_m2(name) for name in ZONE_NAMES},
            }
            for one in nested
        ],
        "rooms": [_room(row) for row in rooms],
        "resample_places": len(resample.places),
        "stop_rule": _stop(resample.stop),
        "notes": [*evidence.notes, *(surface.notes if surface else ())],
        "files": list(files),
    }


def _stop(stop: StopRule | None) -> dict[str, Any] | None:
    return None if stop is None else {**asdict(stop), "in_words": stop_sentence(stop)}


def _room(row: RoomRow) -> dict[str, Any]:
    """Return a room's figures; concentrations in the computing unit."""
    return {
        "room": row.room.id,
        "readings": row.readings,
        "highest_reading": None if row.highest is None else describe(row.highest),
        "highest_reading_number": row.highest_reading,
        "average": row.average,
        "average_standard_error": row.standard_error,
        "average_95": None if row.low is None else [row.low, row.high],
        "probability_anywhere_above": row.probability_anywhere,
    }


def run_summary(
    site: Site,
    level: ActionLevel,
    floors: Sequence[dict[str, Any]],
    *,
    round_name: str,
    band: str,
    version: str,
    notes: Sequence[str],
    warnings: Sequence[str],
    failed: Sequence[Problem],
    held: Sequence[Problem],
    quality: QualityReport,
) -> dict[str, Any]:
    """Return the summary of a whole run."""
    return {
        "made_by": f"hgmap {version}",
        "site": site.name,
        "invented": site.invented,
        "analyte": site.analyte,
        "medium": site.medium,
        "use": site.use,
        "round": round_name,
        "height_band": band,
        "action_level": asdict(level),
        "rules": {key: getattr(site.settings, key) for key in _RULES},
        "floors": list(floors),
        "floors_not_made": [asdict(problem) for problem in failed],
        "quality": _quality(quality),
        "held": [asdict(one) for one in held],
        "problems": [asdict(one) for one in site.problems if one.severity != "held"],
        "notes": list(notes),
        "warnings": list(warnings),
        "inputs_sha256": dict(sorted(site.digests.items())),
        "caution": screening(site.medium),
    }


def _quality(report: QualityReport) -> dict[str, Any]:
    return {
        "verdict": report.fitness.verdict,
        "sentence": report.fitness.sentence,
        "reasons": list(report.fitness.reasons),
        "todo": list(report.fitness.todo),
        "readings": dict(report.measures.verdicts),
    }


def to_json(summary: dict[str, Any]) -> str:
    """Write a summary as JSON; a number that is not finite becomes null."""
    finite = _finite(summary)
    return json.dumps(finite, indent=1, ensure_ascii=False, allow_nan=False, default=str) + "\n"


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(inner) for inner in value]
    return value


def _reading(item: Evidence) -> dict[str, Any]:
    reading = item.reading
    return {
        "id": reading.id,
        "where": reading.where,
        "as_written": describe(reading),
        "concentration": reading.concentration,
        "concentration_low": reading.concentration_low,
        "error": error_of(reading),
        "kind": reading.kind,
        "instrument": reading.instrument,
        "duplicate_of": reading.duplicate_of,
        "verdict": reading.verdict,
        "findings": [finding.text for finding in reading.findings],
        "placed": reading.placed,
        "role": item.role,
        "above_level": item.above,
        "reasons": list(item.reasons),
    }


def _scores(scores: Scores) -> dict[str, Any]:
    return {
        "n": scores.n,
        "mean_error": scores.mean_error,
        "rmse": scores.rmse,
        "mean_squared_standardised": scores.mean_squared_standardised,
        "coverage_95": scores.coverage_95,
    }
