"""The field sheet of the places to measure again, and its rows for a spreadsheet."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from hgmap.decide.design.places import DesignPlace
from hgmap.decide.design.visits import FloorWalk, Visit, walk_floor
from hgmap.decide.model import ResampleList, ResamplePlace, Zones
from hgmap.decide.stop import stop_sentence
from hgmap.errors import EstimateError
from hgmap.report.drawing import Sheet
from hgmap.report.field_sheet import field_sheets
from hgmap.report.paper import pdf_bytes, png_bytes
from hgmap.site.building import Floor
from hgmap.site.files import write_bytes
from hgmap.site.model import Site
from hgmap.site.reading import ReadingKind

PDF: Final = "resample-sheet.pdf"
PNG: Final = "resample-sheet.png"
CSV: Final = "resample-sheet.csv"
DPI: Final = 150.0

MOST_ON_THE_SHEET: Final = 120
"""Places of a floor on its sheet; the first of more. All of them stand in resample.csv."""

NUMBERS: Final = "place; number 1 settles most"
LETTERS: Final = "abcdefghijklmnopqrstuvwxyz"

_PLAIN: Final = re.compile(r"\w[\w.-]*")
"""A name that every shell takes as one word."""


def list_name(site: Site) -> str:
    """Return what the ids of a list begin with: no reading of the site begins so.

    A list whose readings were taken back in is followed by another one, whose ids are others: two
    readings of one id are held, both of them.
    """
    ids = [one.id.casefold() for one in site.readings if one.id[:5].casefold() == "again"]
    number = 1
    while any(one.startswith(f"{_numbered(number)}-") for one in ids):
        number += 1
    return _numbered(number)


def _numbered(number: int) -> str:
    return "again" if number == 1 else f"again{number}"


def readings_of(place: ResamplePlace, begin: str = "again") -> list[DesignPlace]:
    """Return the readings that a place asks for: repeats first, then the other heights.

    Their ids begin with ``begin`` (:func:`list_name`).
    """
    name = f"{begin}-{place.floor}-{place.rank:02d}"
    reason = "; ".join(place.reasons)

    def one(suffix: str, height_m: float | None, repeats: str = "") -> DesignPlace:
        kind: ReadingKind = "duplicate" if repeats else "reading"
        return DesignPlace(
            f"{name}{suffix}", place.floor, place.room, place.room_name, round(place.x, 3),
            round(place.y, 3), height_m, kind, reason, repeats,
        )  # fmt: skip

    rows = [one("", place.height_m)]
    rows += [one(f"-{k}", place.height_m, name) for k in range(2, place.repeats + 1)]
    rows += [one(LETTERS[k + 1], height) for k, height in enumerate(place.also_m)]
    return rows


def highest_room(zones: Zones, resample: ResampleList) -> int | None:
    """Return the position of the room to remediate that is highest of those on the list, if any."""
    listed = {one.room for one in resample.places}
    found = [one for one in zones.zones if one.name == "remediate" and one.room in listed]
    worst = max(found, key=lambda one: one.highest_estimate or 0.0, default=None)
    return None if worst is None else [room.id for room in zones.floor.rooms].index(worst.room)


def resample_walk(
    floor: Floor, resample: ResampleList, last: int | None = None, begin: str = "again"
) -> FloorWalk:
    """Put the places of a floor in the order of a walk; their numbers stay their ranks.

    The room at position ``last`` comes last: what is read after it may carry something of it. In
    the order of the list where no walk can be planned. ``begin``: see :func:`list_name`.
    """
    places = [(one.rank, row) for one in resample.places[:MOST_ON_THE_SHEET]
              for row in readings_of(one, begin)]  # fmt: skip
    try:
        return walk_floor(
            floor, [row for _, row in places], numbers=[rank for rank, _ in places],
            source_room=last,
        )  # fmt: skip
    except EstimateError:
        return FloorWalk(floor, tuple(Visit(*pair) for pair in places), 0.0, (), (), "")


def bring_back(round_name: str, begin: str = "again") -> str:
    """Return how a filled-in list joins the round that it was made for, for its sheet.

    A list after the first (``begin``, :func:`list_name`) needs a file of its own: brought in under
    the old name with ``--replace``, it would take the place of the readings before.

    Examples
    --------
    >>> bring_back("before")
    'Bring the filled sheet back into the same round: \
`hgmap import readings resample-sheet.csv --into SITE --round before`.'
    """
    file = CSV if begin == "again" else f"{begin}-{CSV}"
    first = "" if begin == "again" else f"Save the filled {CSV} as {file}. "
    shown = round_name if _PLAIN.fullmatch(round_name) else f'"{round_name}"'
    return (
        f"{first}Bring the filled sheet back into the same round: "
        f"`hgmap import readings {file} --into SITE --round {shown}`."
    )


def resample_sheets(
    site: Site, walk: FloorWalk, resample: ResampleList, round_name: str
) -> list[Sheet]:
    """Lay out the field sheet of the places to measure again on a floor, after a round."""
    needs = dict.fromkeys(one.instrument for one in resample.places if one.instrument)
    shortest = min(needs, key=len, default="")
    lines = [] if resample.stop is None else [_sentence(stop_sentence(resample.stop))]
    lines.append(
        "Number 1 first where time is short: each is expected to settle most after those before it."
    )
    if shortest:
        lines.append(f"Instrument: {shortest}.")
    left_out = len(resample.places) - MOST_ON_THE_SHEET
    if left_out > 0:
        lines.append(f"{left_out} more places stand in resample.csv.")
    lines.append(bring_back(round_name, list_name(site)))
    return field_sheets(
        site,
        walk,
        lines=lines,
        title="Measure again",
        numbers=NUMBERS,
        says={one.rank: _says(one, shortest) for one in resample.places},
    )


def sheets_of_list(
    site: Site, zones: Zones, resample: ResampleList, round_name: str
) -> tuple[list[Sheet], FloorWalk | None]:
    """Lay out a floor's sheets as they are written, with their walk; none of other than air."""
    if not resample.places or site.medium != "air":
        return [], None
    last = highest_room(zones, resample)
    walk = resample_walk(zones.floor, resample, last, list_name(site))
    return resample_sheets(site, walk, resample, round_name), walk


def write_resample_sheet(
    site: Site, zones: Zones, resample: ResampleList, folder: Path, round_name: str
) -> tuple[list[str], list[DesignPlace]]:
    """Write a floor's sheet; return the names of the files and the readings in the walk's order.

    Nothing is written where there is nothing to measure again, or nothing of air.
    """
    sheets, walk = sheets_of_list(site, zones, resample, round_name)
    if walk is None:
        return [], []
    write_bytes(folder / PDF, pdf_bytes(sheets))
    write_bytes(folder / PNG, png_bytes(sheets[0], DPI))
    return [PDF, PNG], [one.place for one in walk.visits]


def _says(place: ResamplePlace, usual: str) -> str:
    """Say why a place is on the list, and what is out of the ordinary there."""
    parts = ["; ".join(place.reasons)]
    if place.way_in:
        parts.insert(0, place.way_in)
    if place.repeats > 1:
        parts.append(f"{place.repeats} readings: {place.repeats_reason}")
    if place.instrument != usual:
        parts.append(place.instrument)
    return _sentence("; ".join(parts))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith(".") else ".")
