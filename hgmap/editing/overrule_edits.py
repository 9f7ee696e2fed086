"""Holding and releasing readings by hand, with initials and a reason. Pure: files to files.

The decisions are rows of ``instruments/overrules.csv``; see
:mod:`hgmap.site.instruments.overrules` for what they do.
"""

from __future__ import annotations

import datetime as dt
from typing import Final, Literal

from hgmap.editing.sheet import (
    ReadingsSheet,
    read_sheet,
    with_columns,
    with_rows,
    without_rows,
)
from hgmap.editing.site_files import SiteFiles, site_of
from hgmap.errors import SiteError
from hgmap.site.instruments.log_cells import words
from hgmap.site.instruments.model import Overrule
from hgmap.site.instruments.overrules import COLUMNS, EVERY, read_overrules
from hgmap.site.intake.cells import guarded, unguarded
from hgmap.site.reading import Reading
from hgmap.site.records import OVERRULES_FILE

_HEADER: Final = ("\ufeff" + ",".join(COLUMNS) + "\n").encode()


def hold(
    files: SiteFiles, reading: Reading, initials: str, reason: str, date: dt.date | None = None
) -> SiteFiles:
    """Hold a reading: it enters no map until the decision is withdrawn.

    Raises
    ------
    SiteError
        If initials or reason are empty, or the reading cannot be named.
    """
    return _decided(files, reading, "hold", initials, reason, date)


def release(
    files: SiteFiles, reading: Reading, initials: str, reason: str, date: dt.date | None = None
) -> SiteFiles:
    """Use a reading whatever the instrument log and the statistics hold against it.

    It lifts nothing that is wrong with the row itself: no value, no unit, no place.

    Raises
    ------
    SiteError
        As :func:`hold`; or if a person holds the reading, for a hold wins until it is withdrawn.
    """
    for one in decisions(files, reading):
        if one.verdict == "hold":
            who = one.initials or "somebody"
            raise SiteError(
                f"reading {reading.id!r} is held by {who}, and a hold wins", where=one.where,
                todo="withdraw that decision first",
            )  # fmt: skip
    return _decided(files, reading, "use", initials, reason, date)


def withdraw(files: SiteFiles, reading: Reading) -> SiteFiles:
    """Take back every decision that names this reading.

    Raises
    ------
    SiteError
        If there is none; or a decision also means other readings: every one of the round, or
        those of that id in other rounds.
    """
    found = decisions(files, reading)
    if not found:
        raise SiteError(f"nobody decided about reading {reading.id!r}", where=OVERRULES_FILE)
    for one in found:
        if one.reading == EVERY:
            raise SiteError(
                f"the decision is about every reading of round {one.round!r}", where=one.where,
                todo="take that row away by hand",
            )  # fmt: skip
        if not one.round:
            rounds = {other.round for other in site_of(files).readings if other.id == reading.id}
            if len(rounds) > 1:
                raise SiteError(
                    f"the decision is about reading {reading.id!r} in {len(rounds)} rounds",
                    where=one.where, todo="write the round into that row by hand",
                )  # fmt: skip
    sheet = read_sheet(files.data(OVERRULES_FILE), name=OVERRULES_FILE)
    rows = [int(one.where.rpartition(" ")[2]) for one in found]
    return files.with_file(OVERRULES_FILE, without_rows(sheet, rows).to_bytes())


def decisions(files: SiteFiles, reading: Reading) -> tuple[Overrule, ...]:
    """Return what people decided about a reading, in the order of the file.

    Raises
    ------
    SiteError
        If the file cannot be read.
    """
    if OVERRULES_FILE not in files.contents and OVERRULES_FILE not in files.unread:
        return ()
    data = files.data(OVERRULES_FILE)
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        return ()
    found, _ = read_overrules(data, where=OVERRULES_FILE)
    return tuple(
        one
        for one in found
        if one.round in ("", reading.round) and one.reading in (reading.id, EVERY)
    )


def _decided(
    files: SiteFiles,
    reading: Reading,
    verdict: Literal["use", "hold"],
    initials: str,
    reason: str,
    date: dt.date | None,
) -> SiteFiles:
    where = f"reading {reading.id!r}"
    texts = {
        "reading": reading.id,
        "round": reading.round,
        "verdict": verdict,
        "initials": " ".join(initials.split()),
        "reason": " ".join(reason.split()),
        "date": date.isoformat() if date else "",
    }
    for name in ("initials", "reason"):
        if not texts[name]:
            raise SiteError(f"no {name}", where=where, todo="a decision has a name and a reason")
    cells = {name: guarded(text) for name, text in texts.items()}
    if reading.id == EVERY or unguarded(cells["reading"]) != reading.id:
        raise SiteError("a decision cannot name this id", where=where, todo="give it another id")
    sheet = _sheet(files)
    missing = [one for one in COLUMNS if sheet.position(one, words) is None and cells[one]]
    if missing:
        sheet = with_columns(sheet, missing)
    row = [""] * len(sheet.header)
    for name, text in cells.items():
        position = sheet.position(name, words)
        if position is not None:
            row[position] = text
    after = files.with_file(OVERRULES_FILE, with_rows(sheet, [row]).to_bytes())
    said = decisions(after, reading)[-1]
    meant = (verdict, texts["initials"], texts["reason"], date)
    if (said.verdict, said.initials, said.reason, said.date) != meant:
        raise SiteError("the decision cannot be written as it is", where=where,
                        todo="write it in other words")  # fmt: skip
    return after


def _sheet(files: SiteFiles) -> ReadingsSheet:
    data = files.contents.get(OVERRULES_FILE, b"")
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        files = files.with_file(OVERRULES_FILE, _HEADER)
    return read_sheet(files.data(OVERRULES_FILE), name=OVERRULES_FILE)
