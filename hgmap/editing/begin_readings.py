"""A first table of readings: looked at before the site is there, so that questions come early."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import read_bytes, write_text
from hgmap.site.intake.answers import Answers
from hgmap.site.intake.header import find_header, no_header
from hgmap.site.intake.import_readings import ImportedReadings, import_readings
from hgmap.site.intake.opening import Sheet, open_text
from hgmap.site.intake.workbook import ZIP_SIGNATURE, open_workbook
from hgmap.site.new_site import new_site_text
from hgmap.site.store import SITE_FILE

MOST_BYTES = 512 * 2**20
PASTED = "pasted"


@dataclass(frozen=True)
class FirstReadings:
    """A table of readings and what a person said about it.

    Attributes
    ----------
    name : str
        Of the file; ``pasted`` for text.
    data : bytes
    answers : Answers
    round_name : str
        The visit that rows are of which name none.
    """

    name: str
    data: bytes
    answers: Answers = field(default_factory=Answers)
    round_name: str = "survey"


def readings_from_file(path: Path) -> tuple[str, bytes]:
    """Return a file's name and bytes.

    Raises
    ------
    SiteError
        If it cannot be read.
    """
    return path.name, read_bytes(path, where=str(path), most_bytes=MOST_BYTES)


def import_first(
    first: FirstReadings, folder: Path, floor: str, *, dry_run: bool = False
) -> ImportedReadings:
    """Bring the table into a site folder; rows that name no floor are of ``floor``.

    Raises
    ------
    HgmapError
        If something has to be asked, or cannot be used; nothing is changed then.
    """
    answers = first.answers
    if answers.floor is None:
        answers = answers.model_copy(update={"floor": floor})
    return import_readings(
        first.data, folder, answers, name=first.name, round_=first.round_name, dry_run=dry_run
    )


def look_at_readings(first: FirstReadings, floor: str) -> ImportedReadings:
    """Say how a table would be understood; nothing is kept.

    Raises
    ------
    HgmapError
        As :func:`import_first`.
    """
    try:
        with tempfile.TemporaryDirectory() as place:
            write_text(Path(place) / SITE_FILE, new_site_text("new"))
            return import_first(first, Path(place), floor, dry_run=True)
    except OSError as error:
        raise SiteError(
            f"cannot be looked at ({error.strerror or error})", where=first.name
        ) from None


def titles_of(first: FirstReadings) -> tuple[str, ...]:
    """Return the titles of a table's columns, or their numbers where it has none."""
    try:
        sheet = _open(first)
        top = sheet.top()
        header = find_header(top, set())
        if header is None:
            width = max((len(cells) for _, cells in top), default=0)
            return tuple(f"#{number + 1}" for number in range(len(no_header(width).titles)))
        texts = [one.text for one in header.titles]
    except HgmapError:
        return ()
    twice = {text for text in texts if texts.count(text) > 1 or not text}
    return tuple(f"#{k + 1}" if text in twice else text for k, text in enumerate(texts))


def _open(first: FirstReadings) -> Sheet:
    if first.data.startswith(ZIP_SIGNATURE):
        return open_workbook(first.data, where=first.name, sheet=first.answers.sheet)
    return open_text(first.data, where=first.name)
