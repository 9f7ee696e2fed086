"""From a row of theirs to a row of ours."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache
from operator import itemgetter
from typing import Final

from hgmap.site.intake.cells import guarded, number_cell
from hgmap.site.intake.dates import join_date_and_time, parse_time
from hgmap.site.intake.evidence import Evidence
from hgmap.site.intake.flags import NON_DETECT, flag_columns, flagged, is_sign
from hgmap.site.intake.header import is_number
from hgmap.site.intake.height import METRES_IN, parse_height
from hgmap.site.intake.kinds import duplicate_of, kind_in_place_of_room, parse_kind, why_unsure
from hgmap.site.intake.mapping import Columns
from hgmap.site.intake.measures import length_m, pressure_kpa, temperature_c
from hgmap.site.intake.numerals import decided_numbers
from hgmap.site.intake.result import parse_result
from hgmap.site.intake.result_cells import QuestionError, ResultCells, ResultRules, result_cells
from hgmap.site.intake.synonyms import COLUMNS, TARGETS
from hgmap.site.reading import OFF_MAP
from hgmap.site.textfile import DecimalMarks

_REMEMBERED = 1 << 16
MOST_CARRIED = 8
"""Columns of theirs beyond ours whose cells are carried over into the note."""

LONGEST_WRITTEN = 4000
"""A longer cell (characters) is cut, and said: no reader of CSV has to take it whole."""

HIGHEST_WITHOUT_UNIT_M = 3.0
"""A greater height without a unit may be feet: then 1 would be taken for an adult's breathing zone
(common practice, no source)."""

SAME_VISIT_DAYS: Final = 7
"""Readings that are more days from their round's may be of another visit (ours, no source)."""

Measure = Callable[[str, str, DecimalMarks], "float | str | None"]


@dataclass(frozen=True, slots=True)
class Defaults:
    """What holds for a row that does not say it.

    ``stem`` begins the ids that are made; ``rounds`` are those of the site. ``round_date`` is the
    day of their round where no column of theirs names the round. ``floor`` is that of readings
    which were taken on one and name none.
    """

    stem: str
    round: str | None
    rounds: frozenset[str]
    round_date: date | None
    date: date | None
    floor: str = ""


class Converter:
    """Turns rows into our cells; remembers what it has read, a table repeats itself.

    Parameters
    ----------
    columns : Columns
        The mapping.
    rules : ResultRules
        How results are written.
    evidence : Evidence
        How numbers and dates are read.
    defaults : Defaults
        What a row does not say.
    """

    def __init__(
        self, columns: Columns, rules: ResultRules, evidence: Evidence, defaults: Defaults
    ) -> None:
        self._columns = columns
        self._rules = rules
        self._evidence = evidence
        self._defaults = defaults
        self._at = {one.ours: one.column for one in columns.matches if one.column is not None}
        self._measures = {ours: columns.titles[k].measure for ours, k in self._at.items()}
        self._pick = itemgetter(*(self._at.get(name, -1) for name in TARGETS))
        self._flags = flag_columns(columns.titles)
        self._carried = columns.unread[:MOST_CARRIED]
        self._result = lru_cache(_REMEMBERED)(self._result_cells)
        self._length = lru_cache(_REMEMBERED)(self._length_cell)
        self._height = lru_cache(_REMEMBERED)(self._height_cell)
        self._time = lru_cache(_REMEMBERED)(self._time_cell)
        self._air = lru_cache(_REMEMBERED)(self._air_cell)
        self._kind = lru_cache(_REMEMBERED)(self._kind_cells)
        self._room_kind = lru_cache(_REMEMBERED)(kind_in_place_of_room)
        self._guarded = lru_cache(_REMEMBERED)(guarded)
        self.other_days: list[date] = []
        self.kinds_from_rooms = self.times_without_date = self.air_in_note = 0

    @property
    def round_date(self) -> date | None:
        """The day of the round that rows are put into."""
        return self._defaults.round_date

    def convert(self, number: int, cells: Sequence[str]) -> tuple[list[str], list[str]]:
        """Return our cells in the order of ``COLUMNS``, and why the reader will hold them.

        Raises
        ------
        QuestionError
            If a cell leaves a question that holds for the whole table.
        """
        width, titles = len(cells), len(self._columns.titles)
        doubts: list[str] = []
        if width and max(map(len, cells)) > LONGEST_WRITTEN:
            cells = [text[:LONGEST_WRITTEN] for text in cells]
            doubts.append(f"a cell was cut after {LONGEST_WRITTEN} characters")
        # an empty cell for each that the row lacks, and one at the end for each column of ours
        # that no column of theirs is
        row = [*cells[:titles], *[""] * (titles - width), ""]
        theirs = dict(zip(TARGETS, self._pick(row), strict=True))
        if self._flags or self._columns.unread:
            theirs["qualifier"] = self._qualifier(row, theirs["qualifier"])
        result = self._result(theirs["qualifier"], theirs["low"], theirs["value"], theirs["unit"])
        if result.why:
            doubts.append(result.why)
        notes = [theirs["note"]] if theirs["note"] else []
        notes += [f"{self._title(k)}: {row[k]}" for k in self._carried if row[k]]
        ours = dict.fromkeys(COLUMNS, "")
        ours["value"], ours["unit"], ours["qualifier"], ours["low"] = result[:4]
        for name in ("floor", "room", "instrument", "grid"):
            if theirs[name]:
                ours[name] = self._guarded(theirs[name])
        if theirs["offsets"]:
            ours["offsets"] = self._offsets(theirs["offsets"])
        for name in ("x", "y"):
            if theirs[name]:
                ours[name] = self._told(self._length(theirs[name], name), doubts)
        if theirs["height"]:
            ours["height"] = self._told(self._height(theirs["height"]), doubts)
        if theirs["time"] or theirs["date"]:
            ours["time"] = self._told(self._time(theirs["date"], theirs["time"]), doubts)
        for name in ("temperature", "pressure"):
            if theirs[name]:
                ours[name] = self._air(name, theirs[name])
                if not ours[name]:
                    notes.append(f"{name}: {theirs[name]}")
                    self.air_in_note += 1
        self._place_kind(ours, theirs, notes, doubts)
        if not ours["floor"] and parse_kind(ours["kind"]) not in OFF_MAP:
            ours["floor"] = self._defaults.floor
        if theirs["detection_limit"]:
            ours["detection_limit"] = self._limit(theirs["detection_limit"], result.unit)
        ours["round"] = self._round(theirs["round"])
        ours["id"] = guarded(theirs["id"]) or f"{self._defaults.stem}-row-{number}"
        ours["note"] = guarded("; ".join(notes)) if notes else ""
        if width > titles and any(cells[titles:]):
            doubts.append("more cells than the header; a comma inside a number?")
            # not to be taken for a result, and nothing of it lost
            ours["value"], ours["unit"] = guarded("row of more cells: " + " | ".join(cells)), ""
            ours["qualifier"] = ours["low"] = ""
        return list(ours.values()), doubts

    def _qualifier(self, row: Sequence[str], text: str) -> str:
        """Return the qualifier, or what a column of yes and no makes of it.

        Raises
        ------
        QuestionError
            If a sign stands in a column that is none of ours: a limit would become a number.
        """
        at = self._at.get("qualifier")
        for k, yes_is_non_detect in self._flags.items():
            found = flagged(row[k], yes_is_non_detect=yes_is_non_detect)
            if k == at or not text:
                text = row[k] if found is None else found
            elif found == NON_DETECT and text.upper() == "J":
                text = "UJ"
            elif found == NON_DETECT and not _says_below(text):
                text = f"{text} (not detected)"  # held: the two disagree
        for k in self._columns.unread:
            if is_sign(row[k]):
                raise QuestionError(
                    f"column {self._title(k)!r}: may {row[k]!r} be the sign of the result?",
                    f"say --column qualifier=#{k + 1} or --column note=#{k + 1}",
                )
        return text

    def _offsets(self, text: str) -> str:
        """Return offsets from walls; those of a column in feet with their unit, to be held."""
        mark = self._evidence.written_with
        offsets = guarded(decided_numbers(text, mark) if mark else text)
        unit = self._measures["offsets"]
        return (
            f"{offsets} ({unit}, as the title says)" if METRES_IN.get(unit, 1.0) != 1 else offsets
        )

    def _title(self, k: int) -> str:
        return self._columns.titles[k].text or f"column {k + 1}"

    @staticmethod
    def _told(found: tuple[str, str], doubts: list[str]) -> str:
        if found[1]:
            doubts.append(found[1])
        return found[0]

    def _plain(self, text: str) -> str:
        decimal = self._evidence.decimal
        return decided_numbers(text, decimal) if decimal else text

    def _result_cells(self, qualifier: str, low: str, value: str, unit: str) -> ResultCells:
        return result_cells(qualifier, low, value, unit, self._rules, self._evidence)

    def _ask(self, ours: str, text: str, question: str) -> QuestionError:
        title = self._columns.titles[self._at[ours]].text
        return QuestionError(f"column {title!r}: {text!r}: {question}",
                        "say --decimal comma or --decimal point")  # fmt: skip

    def _length_cell(self, text: str, ours: str) -> tuple[str, str]:
        metres = length_m(self._plain(text), self._measures[ours], self._evidence.marks)
        if isinstance(metres, float):
            return number_cell(metres), ""
        if metres is not None and "decimal mark" in metres:
            raise self._ask(ours, text, metres)
        unit = self._measures[ours]
        counted = f" {unit}" if unit not in METRES_IN else ""  # tiles: the reader must see it too
        return guarded(text) + counted, f"{ours} {text[:40]!r}{counted} is not a length"

    def _height_cell(self, text: str) -> tuple[str, str]:
        plain = self._plain(text)
        unit = self._measures["height"]
        if unit and unit not in METRES_IN:
            return guarded(text), f"height {text[:40]!r}: {unit!r} in its title is no length"
        height = parse_height(plain, self._evidence.marks, unit or "m")
        if "decimal mark" in height.held:
            raise self._ask("height", text, height.held)
        if height.metres is None:
            return guarded(plain), height.held
        if height.metres > HIGHEST_WITHOUT_UNIT_M and not unit and is_number(text):
            title = self._title(self._at["height"])
            raise QuestionError(
                f"column {title!r}: {text!r} would be metres above the floor; or is it feet?",
                f'write the unit into the title, as "{title} (ft)" or "{title} (m)"',
            )
        # a word stays, so that the reader says the same of it
        mark = self._evidence.written_with
        plain = decided_numbers(plain, mark) if mark else plain
        if not height.caution:
            return number_cell(height.metres), ""
        if METRES_IN.get(unit, 1.0) != 1.0 and any(map(str.isdigit, plain)):
            return f"~{number_cell(height.metres)}", ""  # the file has no title that says feet
        return guarded(plain), ""

    def _time_cell(self, day: str, clock: str) -> tuple[str, str]:
        default = self._defaults.date
        text = join_date_and_time(day, clock)
        found = parse_time(text, self._evidence.order)
        if isinstance(found, str) and "without a date" in found:
            if default is None:
                title = self._title(self._at["time"])
                raise QuestionError(f"column {title!r}: {found}", "say the day with --date")
            self.times_without_date += 1
            text = f"{default.isoformat()} {join_date_and_time('', text)}"
            found = parse_time(text, self._evidence.order)
        if isinstance(found, str):
            return guarded(text), found
        of_round = self._defaults.round_date
        if of_round is not None and abs((found.date() - of_round).days) > SAME_VISIT_DAYS:
            self.other_days.append(found.date())
        if found.time() == time() and (":" not in text or text.endswith(" 00:00:00")):
            return found.date().isoformat(), ""
        return _moment(found), ""

    def _air_cell(self, ours: str, text: str) -> str:
        measure: Measure = temperature_c if ours == "temperature" else pressure_kpa
        found = measure(self._plain(text), self._measures[ours], self._evidence.marks)
        if isinstance(found, str) and "decimal mark" in found:
            raise self._ask(ours, text, found)
        return number_cell(found) if isinstance(found, float) else ""

    def _kind_cells(self, text: str) -> tuple[str, str, str]:
        kind = parse_kind(text)
        if kind is None:
            return guarded(text), "", f"kind {text[:40]!r} is not known"
        return ("" if kind == "reading" else kind), guarded(duplicate_of(text)), ""

    def _place_kind(
        self, ours: dict[str, str], theirs: dict[str, str], notes: list[str], doubts: list[str]
    ) -> None:
        kind, repeated, why = self._kind(theirs["kind"])
        if why:
            doubts.append(why)
        ours["duplicate_of"] = guarded(theirs["duplicate_of"]) or repeated
        room = theirs["room"]
        if room and not kind and not theirs["kind"]:
            # "Field blank" where a room should be
            from_room = self._room_kind(room)
            if from_room is not None:
                kind, ours["room"] = from_room, ""
                notes.append(room)
                self.kinds_from_rooms += 1
        ours["kind"] = kind or ("duplicate" if ours["duplicate_of"] else "")
        if not ours["kind"]:
            unsure = why_unsure(theirs["id"], theirs["note"])
            if unsure and theirs["kind"]:
                ours["kind"] = "reading"  # somebody said so
            elif unsure:
                doubts.append(unsure)

    def _limit(self, text: str, unit: str) -> str:
        """Return a detection limit, with its unit where that is not the row's."""
        found = parse_result(self._plain(text), self._evidence.marks)
        if found.value is None:
            return guarded(text)
        own = found.unit or self._columns.titles[self._at["detection_limit"]].concentration
        return number_cell(found.value) + (f" {own}" if own and own != unit else "")

    def _round(self, text: str) -> str:
        if not text:
            if self._defaults.round is None:
                raise QuestionError("a row names no round, and the site has several",
                               "say which with --round")  # fmt: skip
            return guarded(self._defaults.round)
        if text not in self._defaults.rounds:
            raise QuestionError(f"round {text[:60]!r} is not in site.toml",
                           "add it there, or say --column round= and --round NAME")  # fmt: skip
        return guarded(text)


def _says_below(text: str) -> bool:
    found = parse_result(f"{text} 1", DecimalMarks())
    return not found.held and found.qualifier == "<"


def _moment(found: datetime) -> str:
    return found.isoformat(timespec="seconds" if found.second else "minutes")
