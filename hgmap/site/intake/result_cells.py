"""From their cells of a result to ours: value, unit, qualifier and lower end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from hgmap.errors import ReadingsError
from hgmap.site.intake.cells import guarded, number_cell
from hgmap.site.intake.evidence import Evidence
from hgmap.site.intake.numerals import decided_numbers
from hgmap.site.intake.result import Result, parse_result
from hgmap.site.intake.result_words import WORDS
from hgmap.site.intake.synonyms import concentration_unit

_RANGES = frozenset({"range", "to", "-", "between", "\u2013"})
_PLAIN = frozenset({"", "=", "==", "ok", "detect", "detected"})


class QuestionError(Exception):
    """A cell that a person has to be asked about."""

    def __init__(self, message: str, todo: str) -> None:
        super().__init__(message)
        self.message = message
        self.todo = todo

    def at(self, where: str) -> ReadingsError:
        """Return the complaint, with the file and row."""
        return ReadingsError(self.message, where=where, todo=self.todo)


class ResultCells(NamedTuple):
    """Our four cells, and why the reader will hold them (empty where it need not)."""

    value: str
    unit: str
    qualifier: str
    low: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class ResultRules:
    """How the results of one table are written.

    Attributes
    ----------
    title : str
        Their title of the column.
    unit : str
        The unit of a cell without one: from the title, or as a person said.
    from_title : bool
        Whether ``unit`` stands in the title; then a cell with another unit is a contradiction.
    has_unit_column : bool
        Whether a column of theirs holds units; an empty cell in it is held, not asked.
    """

    title: str
    unit: str
    from_title: bool
    has_unit_column: bool


def result_cells(
    qualifier: str, low: str, value: str, unit: str, rules: ResultRules, evidence: Evidence
) -> ResultCells:
    """Return our cells for theirs.

    A result that needs no remark is written as a number. One with a caution, and one that cannot
    be read, stays as it stands, so that whoever reads the file is told the same.

    Raises
    ------
    QuestionError
        If a comma may be a decimal mark or for thousands, or there is no unit anywhere.
    """
    unit_of_row = (concentration_unit(unit) or unit) if unit else rules.unit
    if not value and not low:
        return ResultCells("", unit_of_row, "", "", "no value")
    text = _one_text(qualifier, low, value)
    plain = decided_numbers(text, evidence.decimal) if evidence.decimal else text
    result = parse_result(plain, evidence.marks)
    if "decimal mark" in result.held:
        raise QuestionError(
            f"column {rules.title!r}: {result.held}", "say --decimal comma or --decimal point"
        )
    if result.held:
        return ResultCells(guarded(text), unit_of_row, "", "", result.held)
    if result.unit and unit_of_row and result.unit != unit_of_row:
        if unit or rules.from_title:
            why = f"value {text!r}: its unit is not {unit_of_row}, as its column says"
            return ResultCells(guarded(f"{text} (column: {unit_of_row})"), unit_of_row, "", "", why)
        unit_of_row = result.unit
    unit_of_row = unit_of_row or result.unit
    why = ""
    if unit and not concentration_unit(unit):
        why = f"unit {unit[:40]!r} is not known"
    elif unit and rules.from_title and unit_of_row != rules.unit:
        why = f"value {text!r}: its row says {unit_of_row}, its title {rules.unit}"
        return ResultCells(guarded(f"{text} (title: {rules.unit})"), unit_of_row, "", "", why)
    if not unit_of_row and result.value is not None:
        if not rules.has_unit_column:
            raise QuestionError(
                f"column {rules.title!r}: {text!r} has no unit, nor has the column",
                'say the unit, as --unit "ug/m3"',
            )
        why = "no unit"
    if result.value is not None and result.value < 0:
        why = why or f"value {text!r} is below zero"
    mark = evidence.written_with
    return _written(decided_numbers(plain, mark) if mark else plain, result, unit_of_row, why)


def _written(plain: str, result: Result, unit: str, why: str) -> ResultCells:
    if result.caution or result.word or result.value is None:
        return ResultCells(guarded(plain), unit, "", "", why)
    low = "" if result.low is None else number_cell(result.low)
    return ResultCells(number_cell(result.value), unit, result.qualifier, low, why)


def _one_text(qualifier: str, low: str, value: str) -> str:
    """Put a qualifier, a lower end and a value into one text, as people write it."""
    sign = qualifier.strip().casefold()
    if low and not value:
        return f"{qualifier} {low}".strip() if sign not in _PLAIN else low
    if sign in _RANGES:
        return f"{low} - {value}" if low else value
    same_word = sign in WORDS and WORDS[sign][0] == WORDS.get(value.casefold(), ("",))[0]
    if sign in _PLAIN or same_word or value.casefold().startswith(sign):
        return f"{low} - {value}" if low and low != value else value
    # laboratories write J, an estimate, behind the number
    return f"{value} J" if sign == "j" else f"{qualifier} {value}"
