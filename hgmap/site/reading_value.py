"""What a row says was measured: a number, a limit or a range, in the computing unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, NamedTuple, get_args

from hgmap.errors import HgmapError
from hgmap.site.intake.result import parse_result
from hgmap.site.model import Medium
from hgmap.site.reading import Qualifier, ReadingKind
from hgmap.site.reading_context import ReadingContext
from hgmap.site.textfile import DecimalMarks, parse_a_number
from hgmap.site.units import (
    parse_unit,
    saturated_concentration_ug_m3,
    to_computing,
)

HOTTEST_ROOM_C: Final = 40.0
MOST_BULK_MG_KG: Final = 1e6

KIND_MEDIUM: Final[dict[ReadingKind, Medium]] = {"bulk sample": "bulk", "surface wipe": "surface"}

_SIGNS: Final = {"": "", "=": "", "≤": "<", "≥": ">", "≈": "~", "range": "to"} | {
    sign: sign for sign in get_args(Qualifier)
}
_HOW: Final[dict[str, str]] = {
    "~": "approximate, as written",
    "to": "a range was written: the estimate takes anything in it, the rulings its upper end",
    "up to": "the highest of several, as written",
}


class ValueCells(NamedTuple):
    """The cells of a row that say what was measured.

    ``temperature`` and ``pressure`` are empty where the unit does not need them.
    """

    value: str
    unit: str
    qualifier: str
    low: str
    detection_limit: str
    temperature: str
    pressure: str
    kind: ReadingKind
    round: str


@dataclass(frozen=True, slots=True)
class ReadValue:
    """What was measured; the fields are those of :class:`~hgmap.site.reading.Reading`."""

    value: float | None
    unit: str
    qualifier: Qualifier
    low: float | None
    concentration: float | None
    concentration_low: float | None
    medium: Literal["", "air", "surface", "bulk"]
    held: tuple[str, ...]
    cautions: tuple[str, ...]


class ValueReader:
    """Reads the value cells of one file."""

    def __init__(self, context: ReadingContext, marks: DecimalMarks) -> None:
        self._context = context
        self._marks = marks

    def read(self, cells: ValueCells) -> ReadValue:
        """Read one row's cells."""
        held: list[str] = []
        cautions: list[str] = []
        result = parse_result(cells.value, self._marks)
        if result.held:
            held.append(result.held)
        if result.caution:
            cautions.append(f"value {cells.value!r}: {result.caution}")
        qualifier = _qualifier(cells, result.qualifier, held)
        unit = _unit(cells.unit, result.unit, held)
        value, low = result.value, result.low
        if low is None:
            low = self._number("low", cells.low, held)
        if result.word and value is None:
            value, unit, qualifier = self._word(result.word, cells, unit, held, cautions)
        elif value == 0 and not held:
            value, unit, qualifier = self._zero(cells, unit, qualifier, held, cautions)
        medium = KIND_MEDIUM.get(cells.kind, self._context.medium)
        if value is not None and value > 0 and qualifier != ">" and cells.detection_limit:
            value, unit, qualifier = self._at_its_limit(
                value, unit, qualifier, medium, cells, held, cautions
            )
        if qualifier == "to" and value is not None:
            low = _low_end(low, value, held)
        if qualifier in _HOW:
            cautions.append(_HOW[qualifier])
        concentration = self._concentration(value, unit, medium, cells, held)
        concentration_low = None
        if qualifier == "to" and low is not None and concentration is not None:
            concentration_low = self._concentration(low, unit, medium, cells, held)
        return ReadValue(
            value, unit, qualifier, low if qualifier == "to" else None, concentration,
            concentration_low, "" if medium == self._context.medium else medium,
            tuple(held), tuple(cautions),
        )  # fmt: skip

    def _limit(self, cells: ValueCells, unit: str) -> tuple[float, str, str] | None:
        """Return detection limit, its unit, and who says so."""
        of_row = parse_result(cells.detection_limit, self._marks)
        if of_row.value is not None and of_row.value > 0:
            return of_row.value, of_row.unit or unit, "the row"
        if cells.detection_limit and of_row.held:
            # the row has a limit of its own, so that the site's is not to be put in its place
            return None
        if self._context.detection_limit is not None and cells.kind not in KIND_MEDIUM:
            return *self._context.detection_limit, "site.toml"
        return None

    def _at_its_limit(
        self,
        value: float,
        unit: str,
        qualifier: Qualifier,
        medium: Medium,
        cells: ValueCells,
        held: list[str],
        cautions: list[str],
    ) -> tuple[float, str, Qualifier]:
        """Read a result below its row's detection limit as a non-detect at the limit."""
        of_row = parse_result(cells.detection_limit, self._marks)
        if of_row.value is None or of_row.value <= 0:
            if not of_row.word:
                cautions.append(f"detection limit {cells.detection_limit!r} cannot be read")
            return value, unit, qualifier
        limit, unit_of_limit = of_row.value, of_row.unit or unit
        trouble: list[str] = []
        ours = self._concentration(value, unit, medium, cells, [])
        least = self._concentration(limit, unit_of_limit, medium, cells, trouble)
        if ours is None or held:
            return value, unit, qualifier
        if least is None:
            held.append(f"detection limit {cells.detection_limit!r}: {'; '.join(trouble)}")
            return value, unit, qualifier
        # a factor that undoes the rounding of two units
        if ours >= least * (1 - 1e-9):
            return value, unit, qualifier
        cautions.append(
            f"{qualifier}{value:g} {unit} is below the row's detection limit: "
            f"read as < {limit:g} {unit_of_limit}"
        )
        return limit, unit_of_limit, "<"

    def _zero(
        self,
        cells: ValueCells,
        unit: str,
        qualifier: Qualifier,
        held: list[str],
        cautions: list[str],
    ) -> tuple[float | None, str, Qualifier]:
        """Zero is not a concentration: it is a non-detect, and needs its detection limit."""
        limit = self._limit(cells, unit)
        if limit is None or qualifier not in ("", "<", "~"):
            held.append(
                "a reading of zero is a non-detect: write < and the detection limit, "
                "or state [readings] detection_limit in site.toml"
            )
            return 0.0, unit, qualifier
        cautions.append(f"zero read as a non-detect, < {limit[0]:g} {limit[1]} as {limit[2]} says")
        return limit[0], limit[1], "<"

    def _word(
        self, word: str, cells: ValueCells, unit: str, held: list[str], cautions: list[str]
    ) -> tuple[float | None, str, Qualifier]:
        limit = self._limit(cells, unit)
        if word == "non-detect" and limit is not None:
            cautions.append(f"{cells.value!r} read as < {limit[0]:g} {limit[1]} as {limit[2]} says")
            return limit[0], limit[1], "<"
        todo = {
            "non-detect": "a non-detect without its detection limit: write < and the limit, or "
            "state [readings] detection_limit in site.toml",
            "trace": "something was detected, but how much is not said: write a number",
            "over range": "above the top of the scale, which is not said: write > and the top",
            "not measured": "not measured",
        }[word]
        held.append(f"value {cells.value!r}: {todo}")
        return None, unit, ">" if word == "over range" else ""

    def _concentration(
        self,
        value: float | None,
        unit: str,
        medium: Medium,
        cells: ValueCells,
        held: list[str],
    ) -> float | None:
        if value is None:
            if not held:
                held.append("no value")
            return None
        if not unit:
            held.append("no unit")
            return None
        if abs(value) > 1e12:
            held.append(f"value {value:g} is beyond any measurement")
            return None
        if value < 0:
            held.append(f"a concentration of {value:g} {unit} cannot be")
            return None
        try:
            concentration = to_computing(value, unit, medium, **self._air(cells, held))
        except HgmapError as error:
            held.append(str(error))
            return None
        if medium == "bulk" and concentration > MOST_BULK_MG_KG:
            held.append(f"{value:g} {unit} is more than the whole sample")
        if medium == "air" and self._context.mercury_vapour:
            most = saturated_concentration_ug_m3(HOTTEST_ROOM_C)
            if concentration > most:
                held.append(
                    f"{value:g} {unit} is above the saturated concentration at "
                    f"{HOTTEST_ROOM_C:g} °C ({most:,.0f} µg/m³): a wrong unit or a slip"
                )
        return concentration

    def _number(self, name: str, text: str, held: list[str]) -> float | None:
        value, trouble = parse_a_number(text, self._marks)
        if trouble:
            held.append(f"{name} {text!r}{trouble}")
        return value

    def _air(self, cells: ValueCells, held: list[str]) -> dict[str, float]:
        """Return the state of the air that parts per billion need: the row's, or the round's."""
        of_round = self._context.conditions.get(cells.round)
        air = {
            "temperature_c": parse_a_number(cells.temperature, self._marks)[0],
            "pressure_kpa": self._number("pressure", cells.pressure, held),
        }
        for name, value in air.items():
            if value is None and of_round is not None:
                air[name] = getattr(of_round, name)
        return {name: value for name, value in air.items() if value is not None}


def _qualifier(cells: ValueCells, inside: Qualifier, held: list[str]) -> Qualifier:
    """Return the qualifier, which may stand in the value cell, in its own, or in both."""
    text = " ".join(cells.qualifier.casefold().split())
    sign = _SIGNS.get(text)
    if sign is None and parse_result(cells.qualifier, DecimalMarks()).word == "non-detect":
        sign = "<"
    if sign is None:
        known = "<, >, ~, to (a range with its low end) or up to"
        held.append(f"qualifier {cells.qualifier!r} is not {known}")
        return inside
    if inside and sign and inside != sign:
        held.append(f"qualifier {cells.qualifier!r} and value {cells.value!r} disagree")
    return inside or sign


def _unit(cell: str, inside: str, held: list[str]) -> str:
    if not (cell and inside):
        return cell or inside
    try:
        same = parse_unit(cell) == parse_unit(inside)
    except HgmapError:
        same = cell == inside
    if not same:
        held.append(f"two units: {inside!r} in the value, {cell!r} beside it")
    return cell


def _low_end(low: float | None, value: float, held: list[str]) -> float | None:
    if low is None:
        held.append("a range without its low end: write it in the column low")
    elif not 0 <= low <= value:
        held.append(f"a range from {low:g} to {value:g} cannot be")
        return None
    return low
