"""Bringing one table of readings into a site folder: nothing is guessed, no row is lost."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Final, TextIO

from hgmap.errors import HgmapError, ReadingsError, SiteError
from hgmap.shows_itself import InATable
from hgmap.site.files import (
    inside_folder,
    read_bytes,
    slug,
    write_atomically,
    write_bytes,
)
from hgmap.site.folder import SITE_FILE
from hgmap.site.intake.answers import Answers, checked_unit
from hgmap.site.intake.assumed import assumed
from hgmap.site.intake.breaks import Breaks
from hgmap.site.intake.cells import guarded
from hgmap.site.intake.convert import MOST_CARRIED, Converter, Defaults
from hgmap.site.intake.evidence import gather
from hgmap.site.intake.header import Header, find_header, no_header
from hgmap.site.intake.listing import round_name, with_readings
from hgmap.site.intake.mapping import Columns, Match, choose_columns
from hgmap.site.intake.opening import Row, Sheet, open_text
from hgmap.site.intake.result_cells import QuestionError, ResultRules
from hgmap.site.intake.sorting import LeftOut, grouped, why_no_reading
from hgmap.site.intake.synonyms import COLUMNS
from hgmap.site.intake.tally import Tally
from hgmap.site.intake.twice import check_not_twice
from hgmap.site.intake.unfilled import Unfilled
from hgmap.site.intake.workbook import ZIP_SIGNATURE, open_workbook
from hgmap.site.new_site import read_site_text, write_site_text
from hgmap.site.schema import SiteTable, parse_site_table
from hgmap.site.textfile import printable

SAMPLE: Final = 200
"""Rows of data that columns are known by."""

MOST_DOUBTS: Final = 1000
"""Rows with a doubt that are kept apiece; all of them are counted."""


@dataclass(frozen=True, slots=True)
class ImportedReadings(InATable):
    """What an import found and did.

    Attributes
    ----------
    file : str
        The file that was written, relative to the site folder.
    rounds : tuple of str
        The rounds that it is listed under.
    made_round : str
        The round that was made; empty for none.
    header : tuple of int
        Rows of the header.
    rows : int
        Rows of readings that were written.
    matches : tuple of Match
        Our columns and theirs.
    carried, unread : tuple of str
        Their columns that went into the note, and those that were left behind.
    left_out : tuple of LeftOut
        Every other row of the file, and why it is no reading.
    unfilled : tuple of str
        Ids of rows that were never filled in; they are left out too.
    doubts : tuple of str
        Row and reason of rows that were written as they stand, to be held; the first thousand.
    doubtful : int
        How many there are.
    notes : tuple of str
        What was assumed.
    dry_run : bool
        Whether nothing was written.
    """

    file: str
    rounds: tuple[str, ...]
    made_round: str
    header: tuple[int, ...]
    rows: int
    matches: tuple[Match, ...]
    carried: tuple[str, ...]
    unread: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    unfilled: tuple[str, ...]
    doubts: tuple[str, ...]
    doubtful: int
    notes: tuple[str, ...]
    dry_run: bool


def import_readings(
    data: bytes,
    folder: Path,
    answers: Answers,
    *,
    name: str,
    round_: str | None = None,
    replace: bool = False,
    dry_run: bool = False,
) -> ImportedReadings:
    """Write a table of readings into a site folder, in the site's own columns.

    Parameters
    ----------
    data : bytes
        The table: delimited text, or an XLSX workbook.
    folder : Path
        The site folder.
    answers : Answers
        What a person has said about the table.
    name : str
        Name of the file, for messages and for the file that is written.
    round_ : str, optional
        The round of rows that name none; made where the site has no such round.
    replace : bool
        Whether a file of that name may be written over.
    dry_run : bool
        Find out everything and write nothing.

    Raises
    ------
    HgmapError
        If something has to be asked, or cannot be used or written; nothing is changed then.
    """
    where = printable(name)
    before = read_site_text(folder)
    if before is None:
        raise SiteError(f"has no {SITE_FILE}", where=str(folder), todo="import a plan first")
    site_file = str(folder / SITE_FILE)
    table = parse_site_table(before, where=site_file)
    stem = slug(Path(name).stem)
    file = f"readings/{stem}.csv"
    path = inside_folder(folder, file, where=file)
    if path.exists() and not replace:
        raise ReadingsError("the file is there already", where=file, todo="rename yours (pasted "
                            "text: give a file), or say --replace")  # fmt: skip
    if path.is_file() and read_bytes(path, where=file) == data:
        raise ReadingsError("is the site's own file", where=file, todo="import the table that it "
                            "came from")  # fmt: skip
    sheet = _open(data, answers, where=where)
    header, columns = _columns(sheet, answers)
    where = sheet.where
    rules, notes = _rules(header, columns, answers)
    evidence = gather(
        _below(sheet, header),
        columns,
        answers,
        points_may_group=sheet.points_may_group,
        where=where,
    )
    named, made = _round(round_, table, columns, stem)
    round_date = next((one.date for one in table.rounds if one.name == named), None)
    date = answers.date or round_date
    of_round = round_date if columns.position("round") is None else None
    known = frozenset(one.name for one in table.rounds) | ({named} if named else set())
    converter = Converter(
        columns,
        rules,
        evidence,
        Defaults(stem, named, known, of_round, date, guarded(answers.floor or "")),
    )
    tally = Tally(_above(sheet, header))
    breaks = Breaks(header, columns.position("value") or 0, rules.unit)
    lines = _lines(sheet, header, columns, converter, tally, breaks, where=where)
    if dry_run:
        for _ in lines:
            pass
        tally.check_rows(where=where)
    else:
        _write(path, lines, tally, before=before, table=table, file=file, folder=folder,
               date=answers.date, new_ids=columns.position("id") is None, where=where)  # fmt: skip
    titles = [columns.titles[k].text or f"column {k + 1}" for k in columns.unread]
    return ImportedReadings(
        file=file,
        rounds=tuple(tally.rounds),
        made_round=named if made and named in tally.rounds else "",
        header=header.rows,
        rows=tally.rows,
        matches=(*columns.matches, *_unit_match(rules, answers, header)),
        carried=tuple(titles[:MOST_CARRIED]),
        unread=tuple(titles[MOST_CARRIED:]),
        left_out=tuple(tally.left_out),
        unfilled=tuple(tally.unfilled),
        doubts=tuple(tally.doubts),
        doubtful=tally.doubtful,
        notes=(*sheet.notes, *notes, *assumed(evidence, converter, date)),
        dry_run=dry_run,
    )


def _open(data: bytes, answers: Answers, *, where: str) -> Sheet:
    if data.startswith(ZIP_SIGNATURE):
        return open_workbook(data, where=where, sheet=answers.sheet)
    if answers.sheet is not None:
        raise ReadingsError("is no workbook and has no sheets", where=where, todo="leave --sheet "
                            "out")  # fmt: skip
    return open_text(data, where=where)


def _columns(sheet: Sheet, answers: Answers) -> tuple[Header, Columns]:
    top = sheet.top()
    if not top:
        raise ReadingsError("the file is empty", where=sheet.where, todo="export it again")
    header = find_header(top, {theirs.casefold() for theirs in answers.columns.values() if theirs})
    if header is None:
        if not any(theirs.startswith("#") for theirs in answers.columns.values()):
            raise ReadingsError(
                f"no header was found in its first {len(top)} rows",
                where=sheet.where,
                todo="write one line of titles over the rows, or say --column value=#3 and the "
                "like by number",
            )
        header = no_header(max(len(cells) for _, cells in top))
    sample = list(islice((row for row in _below(sheet, header) if any(row[1])), SAMPLE))
    if not sample:
        raise ReadingsError("has a header but no row", where=sheet.where, todo="export it again")
    return header, choose_columns(header, sample, answers.columns, where=sheet.where)


def _below(sheet: Sheet, header: Header) -> Iterator[Row]:
    return (row for row in sheet.rows() if row[0] > header.last)


def _above(sheet: Sheet, header: Header) -> list[LeftOut]:
    lines: list[LeftOut] = []
    for number, cells in sheet.rows():
        if number >= header.last:
            break
        if number in header.rows:
            continue
        text = " ".join(filter(None, cells))
        grouped(lines, number, f"above the header: {text[:60]!r}" if text else "empty")
    return lines


def _rules(header: Header, columns: Columns, answers: Answers) -> tuple[ResultRules, list[str]]:
    """Find out where units come from: a person, the title, a column, the lines above."""
    title = columns.titles[columns.position("value") or 0]
    low = columns.position("low")
    from_title = title.concentration or (columns.titles[low].concentration if low else "")
    said = checked_unit(answers.unit) if answers.unit else ""
    has_column = columns.position("unit") is not None
    if said and from_title and said != from_title:
        raise ReadingsError(
            f"column {title.text!r} says {from_title}, not {said}",
            where="--unit",
            todo="leave --unit out, or mend the title",
        )
    if said or from_title:
        return ResultRules(title.text, said or from_title, bool(from_title), has_column), []
    if header.unit and not has_column and not title.strange_unit:
        note = f"unit {header.unit} as row {header.unit_row} says"
        return ResultRules(title.text, header.unit, False, False), [note]
    return ResultRules(title.text, "", False, has_column), []


def _unit_match(rules: ResultRules, answers: Answers, header: Header) -> list[Match]:
    """Return the line of the mapping that says where the unit comes from, if from no column."""
    if not rules.unit:
        return []
    why = (
        f"from the title {rules.title!r}"
        if rules.from_title
        else ("as said" if answers.unit else f"from row {header.unit_row}")
    )
    return [Match("unit", "", None, rules.unit, why)]


def _round(
    said: str | None, table: SiteTable, columns: Columns, stem: str
) -> tuple[str | None, bool]:
    """Return the round of rows that name none, and whether it is new."""
    names = [one.name for one in table.rounds]
    if said is not None:
        name = round_name(said, table)
        return name, name not in names
    if len(names) == 1:
        return names[0], False
    if columns.position("round") is not None:
        return None, False
    if not names:
        return round_name(stem, table), True
    raise ReadingsError(
        f"the site has {len(names)} rounds ({', '.join(map(repr, names[:5]))})",
        where="--round",
        todo="say which one these readings are of, or a new name",
    )


def _lines(
    sheet: Sheet,
    header: Header,
    columns: Columns,
    converter: Converter,
    tally: Tally,
    breaks: Breaks,
    *,
    where: str,
) -> Iterator[list[str]]:
    """Go through the rows of ours; what is left out or doubtful is put down in the tally."""
    value_column = columns.position("value") or 0
    time_column = columns.position("time")
    time_column = columns.position("date") if time_column is None else time_column
    round_at = COLUMNS.index("round")
    unfilled = Unfilled(columns, ends_early=sheet.ends_early, covered=sheet.covered)
    for number, cells in _below(sheet, header):
        why = why_no_reading(cells, header, value_column, time_column)
        try:
            breaks.look(number, cells, why)
            if why:
                grouped(tally.left_out, number, why)
                continue
            if name := unfilled.id_of(number, cells):
                tally.unfilled.append(printable(name))
                continue
            ours, doubts = converter.convert(number, cells)
        except QuestionError as question:
            raise question.at(f"{where}, row {number}") from None
        tally.rows += 1
        if ours[round_at] not in tally.rounds:
            tally.rounds[ours[round_at]] = None
        if doubts:
            tally.doubtful += 1
            if len(tally.doubts) < MOST_DOUBTS:
                tally.doubts.append(f"row {number}: {'; '.join(doubts)}")
        yield ours


def _write(
    path: Path,
    lines: Iterator[list[str]],
    tally: Tally,
    *,
    before: str,
    table: SiteTable,
    file: str,
    folder: Path,
    date: dt.date | None,
    new_ids: bool,
    where: str,
) -> None:
    """Write the readings, then site.toml, so that it never names a file that is not there."""
    site_file = folder / SITE_FILE
    text = before

    def fill(temporary: Path) -> None:
        nonlocal text
        # a byte-order mark, so that spreadsheets read the µ
        with temporary.open("w", encoding="utf-8-sig", newline="") as stream:
            _fill(stream, lines)
        tally.check_rows(where=where)
        if new_ids:
            others = [one for one in sorted(path.parent.glob("[!.]*.csv")) if one != path]
            check_not_twice(temporary, others, where=where)
        text = with_readings(before, tally.rounds, file, date=date, where=str(site_file))

    old = read_bytes(path, where=file) if path.is_file() else None
    write_atomically(path, fill)
    if text == before:
        return
    try:
        write_site_text(folder, text)
    except HgmapError:
        if old is None:
            path.unlink()
        else:
            write_bytes(path, old)
        raise


def _fill(stream: TextIO, lines: Iterator[list[str]]) -> None:
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(lines)
