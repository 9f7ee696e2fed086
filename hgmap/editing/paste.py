"""Rows pasted from a spreadsheet become a readings file, by the import of the command line.

Pasted text is read as ``hgmap import readings`` reads a file: nothing is guessed, what has to be
asked is asked, every row that is no reading is listed with why.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from hgmap.editing.reading_edits import plain_or_as_is
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import table_of
from hgmap.errors import HgmapError, SiteError
from hgmap.site.intake.answers import Answers
from hgmap.site.intake.import_readings import ImportedReadings, import_readings
from hgmap.site.store import SITE_FILE

MOST_BYTES: Final = 64 * 2**20
_CHOICES: Final = {
    "--dates": ("day-first", "month-first"),
    "--decimal": ("comma", "point"),
}
_ASKED: Final = re.compile(r"--(?:dates|decimal|unit|round|column|floor|date)\b")


@dataclass(frozen=True)
class Question:
    """What has to be said before the rows can be taken.

    Attributes
    ----------
    text : str
        The question, in one line, with the row that it comes from.
    about : str
        Which answer is missing: dates, decimal, unit, column, round, floor, date; empty where
        the table itself has to be mended.
    choices : tuple of str
        The answers that there are; empty where it is a text.
    """

    text: str
    about: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class PasteResult:
    """What came of pasted text.

    Attributes
    ----------
    files : SiteFiles
        The site with the rows; as it was where something has to be asked.
    imported : ImportedReadings or None
        Rows taken, rows left out and why, rows that will be held and why; None with a question.
    question : Question or None
        What has to be answered first.
    """

    files: SiteFiles
    imported: ImportedReadings | None = None
    question: Question | None = None


def pasted(
    text: str,
    files: SiteFiles,
    round_: str,
    floor: str | None = None,
    answers: Answers | None = None,
) -> PasteResult:
    """Take pasted rows into a new readings file of a round.

    Parameters
    ----------
    text : str
        As the clipboard gives it: cells set apart by tabs (or commas, semicolons), a line of
        titles above them.
    files : SiteFiles
    round_ : str
        The round of rows that name none; made where the site has no such round.
    floor : str, optional
        The floor of rows that name none.
    answers : Answers, optional
        What a person has answered so far.

    Returns
    -------
    PasteResult
        Either files with the rows and what was read, or the question and the files as they were.

    Raises
    ------
    SiteError
        If site.toml cannot be used, or the text is too long.
    """
    table = table_of(files)
    try:
        data = text.encode()
    except UnicodeEncodeError:
        data = text.encode(errors="replace")
    if len(data) > MOST_BYTES:
        raise SiteError(f"more than {MOST_BYTES / 2**20:.0f} MiB", where="pasted text",
                        todo="save it as a file and import that")  # fmt: skip
    if not text.strip():
        return PasteResult(files, question=Question("pasted text: there is nothing in it", ""))
    said = answers or Answers()
    if floor is not None and said.floor is None:
        said = said.model_copy(update={"floor": floor})
    readings = {
        name: files.contents[name]
        for one in table.rounds
        for name in map(plain_or_as_is, one.readings)
        if name in files.contents
    }
    with tempfile.TemporaryDirectory(prefix="hgmap-") as scratch:
        folder = Path(scratch) / "site"
        for name, content in ({SITE_FILE: files.contents[SITE_FILE]} | readings).items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_bytes(content)
        name = _free_name(files)
        try:
            done = import_readings(data, folder, said, name=name, round_=round_)
        except HgmapError as error:
            line = str(error).replace(str(folder), str(files.folder)).replace(name, "pasted text")
            return PasteResult(files, question=_question(error, line, files))
        after = files.with_file(done.file, (folder / done.file).read_bytes())
        after = after.with_file(SITE_FILE, (folder / SITE_FILE).read_bytes())
    return PasteResult(after, done)


def _free_name(files: SiteFiles) -> str:
    """Return a name for the table whose file is neither in memory nor on the disk."""
    number = 1
    while True:
        stem = f"pasted-{number}"
        file = f"readings/{stem}.csv"
        taken = file in files.contents or file in files.unread
        if not taken and not (files.folder / file).exists():
            return stem
        number += 1


def _question(error: HgmapError, line: str, files: SiteFiles) -> Question:
    found = _ASKED.search(error.todo) or _ASKED.search(error.where)
    if found is None:
        # units are asked for with examples of how to say them
        return Question(line, "")
    option = found[0]
    choices: tuple[str, ...] = _CHOICES.get(option, ())
    if option == "--floor":
        choices = tuple(one.name for one in table_of(files).floors)
    elif option == "--round":
        choices = tuple(one.name for one in table_of(files).rounds)
    return Question(line, option.removeprefix("--"), choices)
