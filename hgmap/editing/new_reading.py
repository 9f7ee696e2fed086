"""Writing down a reading that was not there before. Pure: files to files."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from pathlib import PurePosixPath
from typing import Final

from hgmap.editing.numbers_in_file import check_other_numbers, marks_of, number_text
from hgmap.editing.reading_edits import (
    PLACE_DIGITS,
    cell_text,
    plain_or_as_is,
    with_our_columns,
)
from hgmap.editing.sheet import ReadingsSheet, read_sheet, with_rows
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import Values, table_of, with_text
from hgmap.errors import SiteError
from hgmap.site.files import slug
from hgmap.site.intake.cells import unguarded
from hgmap.site.intake.listing import with_readings
from hgmap.site.reading_context import COLUMNS
from hgmap.site.store import SITE_FILE, plain_name

_NUMBERED: Final = re.compile(r"(.*?)(\d{1,9})", re.DOTALL)
# a byte-order mark, so that spreadsheets read the µ
_HEADER: Final = ("\ufeff" + ",".join(COLUMNS) + "\n").encode()


def add_reading(
    files: SiteFiles,
    round_: str,
    *,
    value: str,
    unit: str,
    floor: str = "",
    x: float | None = None,
    y: float | None = None,
    height: str = "",
    time: datetime | None = None,
    others: Mapping[str, str] | None = None,
) -> tuple[SiteFiles, str]:
    """Add a reading at the end of the round's last file, or of a new one.

    Parameters
    ----------
    files : SiteFiles
    round_ : str
    value, unit : str
        As written; ``"<0.05"`` is a non-detect.
    floor : str
        Name of the floor.
    x, y : float, optional
        Place in the floor's frame (m), written to the millimetre.
    height : str
        Above the floor, as written (``"1.5"``: metres).
    time : datetime, optional
        The clock in the building.
    others : mapping, optional
        Further columns of ours: room, kind, instrument, note, duplicate_of ...

    Returns
    -------
    SiteFiles
    str
        Its id, which no other reading of the site has.

    Raises
    ------
    SiteError
        If there is no such round, or its file cannot be written to.
    """
    table = table_of(files)
    entry = next((one for one in table.rounds if one.name == round_), None)
    if entry is None:
        raise SiteError(f"no round {round_!r}", where=files.place(SITE_FILE))
    files, name = _file_of(files, round_, entry.readings)
    sheet = read_sheet(files.data(name), name=name)
    identifier = _new_id(files, sheet)
    shared = sum(name in map(plain_or_as_is, one.readings) for one in table.rounds) > 1
    marks = marks_of(sheet)
    texts = {
        **(others or {}),
        "id": identifier,
        "floor": floor,
        "height": height,
        "time": time.isoformat(timespec="minutes") if time else "",
        "value": value,
        "unit": unit,
        "round": round_ if shared or sheet.position("round") is not None else "",
    }
    where = f"{name}, new row"
    texts = {key: cell_text(key, text, marks, where=where) for key, text in texts.items() if text}
    for key, number in (("x", x), ("y", y)):
        if number is not None:
            texts[key] = number_text(round(number, PLACE_DIGITS), marks)
    after = with_our_columns(sheet, texts)
    cells = [""] * len(after.header)
    for key, text in texts.items():
        position = after.position(key)
        assert position is not None
        cells[position] = text
    after = with_rows(after, [cells])
    check_other_numbers(sheet, after, (), old=marks)
    return files.with_file(name, after.to_bytes()), identifier


def _file_of(files: SiteFiles, round_: str, listed: tuple[str, ...]) -> tuple[SiteFiles, str]:
    """Return the file that a round's next reading goes into; a new one is listed in site.toml."""
    if listed:
        name = plain_name(listed[-1], where=f"round {round_!r}")
        if name in files.contents and not files.contents[name].strip(b"\xef\xbb\xbf \t\r\n"):
            return files.with_file(name, _HEADER), name
        return files, name
    stem, number = f"readings/{slug(round_)}", 1
    name = f"{stem}.csv"
    while _taken(files, name):
        number += 1
        name = f"{stem}-{number}.csv"

    def on_values(values: Values) -> None:
        for one in values["rounds"]:
            if one["name"] == round_:
                one["readings"] = [name]

    where = files.place(SITE_FILE)
    files = with_text(
        files, lambda text: with_readings(text, [round_], name, date=None, where=where), on_values
    )
    return files.with_file(name, _HEADER), name


def _taken(files: SiteFiles, name: str) -> bool:
    """Tell whether a file stands there that holds anything but our header."""
    if name in files.contents:
        return files.contents[name] != _HEADER
    return name in files.unread or (files.folder / name).exists()


def _new_id(files: SiteFiles, sheet: ReadingsSheet) -> str:
    """Return an id that continues the file's own and that nobody has, whatever its capitals."""
    ids = _ids(sheet)
    own = next((m for m in map(_NUMBERED.fullmatch, reversed(ids)) if m), None)
    prefix, width = (own[1], len(own[2])) if own else ("R", 1)
    taken: set[str] = set()
    for name in _readings_files(files):
        try:
            other = sheet if name == sheet.name else read_sheet(files.data(name), name=name)
        except SiteError:
            continue  # it has no readings that anybody can see
        taken.update(one.casefold() for one in _ids(other))
    numbers = [
        int(match[2])
        for match in map(_NUMBERED.fullmatch, taken)
        if match and match[1] == prefix.casefold()
    ]
    number = max(numbers, default=0) + 1
    while f"{prefix}{number:0{width}d}".casefold() in taken:
        number += 1
    return f"{prefix}{number:0{width}d}"


def _ids(sheet: ReadingsSheet) -> list[str]:
    """Return the ids of a file, made-up ones too."""
    position = sheet.position("id")
    stem = PurePosixPath(sheet.name).stem
    return [
        (unguarded(cells[position]) if position is not None and position < len(cells) else "")
        or f"{stem}-row-{row}"
        for row, cells in sheet.rows
    ]


def _readings_files(files: SiteFiles) -> tuple[str, ...]:
    names = [plain_or_as_is(name) for one in table_of(files).rounds for name in one.readings]
    return tuple(dict.fromkeys(name for name in names if name in files.contents))
