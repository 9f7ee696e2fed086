"""Tables of a sampling design: the plan to be held to, the sheet to fill in, the survey judged."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from hgmap.decide.design.on_plan import SurveyGaps
from hgmap.decide.design.places import DesignPlace
from hgmap.report.tables import csv_text
from hgmap.site.building import Floor, HeightBand
from hgmap.site.intake.cells import guarded, number_cell

FIELD_COLUMNS: Final = (
    "id", "floor", "room", "x", "y", "height", "kind", "duplicate_of", "time", "value", "unit",
    "qualifier", "instrument", "note",
)  # fmt: skip
"""Names that ``hgmap import readings`` takes for its own; those after duplicate_of are blank."""

_BLANKS: Final = ("",) * (len(FIELD_COLUMNS) - FIELD_COLUMNS.index("time"))


def sampling_plan_csv(places: Iterable[DesignPlace], bands: Sequence[HeightBand]) -> str:
    """Return how many readings are meant, as ``sampling_plan`` of site.toml reads it.

    One line for each room, height band and kind; any round. What lies in no band asks for no band.
    """
    count: Counter[tuple[str, str, str, str]] = Counter()
    for one in places:
        band = "" if one.height_m is None or not one.floor else band_of(one.height_m, bands)
        count[one.floor, one.room, band, one.kind] += 1
    rows = [
        ("", guarded(floor), guarded(room), guarded(band), kind, str(number))
        for (floor, room, band, kind), number in count.items()
    ]
    return csv_text(("round", "floor", "room", "band", "kind", "count"), rows)


def band_of(height_m: float, bands: Sequence[HeightBand]) -> str:
    """Return the name of the height band that a height (m) lies in; empty: none."""
    return next((band.name for band in bands if band.holds(height_m)), "")


def field_sheet_csv(places: Iterable[DesignPlace]) -> str:
    """Return one row a reading in the order of the walk, with empty cells for the result."""
    rows = [
        (
            guarded(one.id),
            guarded(one.floor),
            guarded(one.room),
            *(number_cell(round(v, 3)) if v is not None else "" for v in (one.x, one.y)),
            number_cell(one.height_m) if one.height_m is not None else "",
            one.kind,
            guarded(one.duplicate_of),
            *_BLANKS,
        )
        for one in places
    ]
    return csv_text(FIELD_COLUMNS, rows)


def survey_csv(floors: Iterable[tuple[Floor, SurveyGaps]], round_name: str, band: str) -> str:
    """Return one row a room: the radius (m) that the survey would have found; ``none``: no size.

    Rounded up to centimetres: it promises no more than was found.
    """
    header = (
        "round", "band", "floor", "room", "room_name", "area_m2", "readings", "probability",
        "radius_found_m", "farthest_m", "says",
    )  # fmt: skip
    rows = [
        (
            guarded(round_name),
            guarded(band),
            guarded(floor.name),
            guarded(row.room),
            guarded(row.room_name),
            f"{row.area_m2:.2f}",
            str(row.readings),
            f"{gaps.probability:g}",
            radius_cell(row.radius_m),
            radius_cell(row.farthest_m),
            guarded(row.says),
        )
        for floor, gaps in floors
        for row in gaps.rows
    ]
    return csv_text(header, rows)


def radius_cell(radius_m: float) -> str:
    """Write a radius (m), rounded up to centimetres; ``none`` where every size would be missed.

    Examples
    --------
    >>> radius_cell(1.231), radius_cell(math.inf)
    ('1.24', 'none')
    """
    return (
        f"{math.ceil(radius_m * 100.0 - 1e-9) / 100.0:.2f}" if math.isfinite(radius_m) else "none"
    )
