"""What an import took for granted, in words that a person can check."""

from __future__ import annotations

import datetime as dt

from hgmap.site.intake.convert import Converter
from hgmap.site.intake.evidence import Evidence
from hgmap.site.quality.figures import counted


def assumed(evidence: Evidence, converter: Converter, date: dt.date | None) -> list[str]:
    """Return one line for each thing that was assumed.

    Parameters
    ----------
    evidence : Evidence
    converter : Converter
        After the last row.
    date : date or None
        The day of times that have none.
    """
    notes = []
    if evidence.marks.comma and not evidence.marks.point:
        notes.append(f"commas are decimal marks, as {evidence.marks.comma!r} shows")
    if evidence.order:
        notes.append(f"dates have the {evidence.order.removesuffix('-first')} first")
    if date is not None and converter.times_without_date:
        notes.append(f"times without a date are taken as of {date.isoformat()}")
    if converter.other_days:
        days = sorted(set(converter.other_days))
        span = f"{days[0]} to {days[-1]}" if len(days) > 1 else f"{days[0]}"
        notes.append(
            f"readings of {span} go into a round of {converter.round_date}: another visit is "
            "another round (--round), another year perhaps a slip"
        )
    if converter.air_in_note:
        one = converter.air_in_note == 1
        values = counted(
            converter.air_in_note, "temperature or pressure names", "temperatures or pressures name"
        )
        kept = "it stands in the note and is" if one else "they stand in the note and are"
        notes.append(f"{values} no unit, or cannot be; {kept} not used")
    if converter.kinds_from_rooms:
        rows = counted(converter.kinds_from_rooms, "row names", "rows name")
        notes.append(f"{rows} a blank or the outdoors where a room should be")
    return notes
