"""Cells of the instrument log: words, times and numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Final, get_args

from hgmap.site.instruments.model import CheckKind, Principle
from hgmap.site.textfile import AmbiguousNumberError, DecimalMarks, parse_number

Row = Mapping[str, str]

KINDS: Final[tuple[CheckKind, ...]] = get_args(CheckKind)

_KIND_WORDS: Final[dict[str, CheckKind]] = {
    "zero": "zero-air",
    "zero check": "zero-air",
    "closing": "end-of-day",
    "closing check": "end-of-day",
}
_PRINCIPLES: Final[dict[str, Principle]] = {
    "gold film": "gold film",
    "goldfilm": "gold film",
    "atomic absorption": "atomic absorption",
    "aa": "atomic absorption",
    "cvaa": "atomic absorption",
    "atomic fluorescence": "atomic fluorescence",
    "af": "atomic fluorescence",
    "cvaf": "atomic fluorescence",
}
_RESULTS: Final[dict[str, bool | None]] = {
    "": None,
    "saturated": None,
    **dict.fromkeys(("pass", "passed", "ok", "done", "yes", "good"), True),
    **dict.fromkeys(("fail", "failed", "no", "not done", "aborted", "bad"), False),
}

_SATURATED: Final = re.compile(r"saturat|over ?(range|load|scale)")
"""However people write that the top of the scale was passed."""

_TROUBLE: Final = re.compile(rf"{_SATURATED.pattern}|fail|abort")

NUMBERS: Final = ("minutes", "spacing_s", "reference", "temperature_c")
MOST_VALUES: Final = 10_000


class CellError(ValueError):
    """A cell that cannot be read; the text says why."""


def words(text: str) -> str:
    """Reduce a spelling to lower-case words with single spaces."""
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def check_kind(text: str) -> CheckKind | None:
    """Return the check that a spelling means, or None.

    Whatever speaks of saturation is one: that word must not be lost to a spelling.
    """
    plain = words(text)
    if _SATURATED.search(plain):
        return "saturation"
    by_words: dict[str, CheckKind] = {words(kind): kind for kind in KINDS} | _KIND_WORDS
    return by_words.get(plain)


def principle_of(text: str) -> Principle | None:
    """Return the principle that a spelling means, or None."""
    return _PRINCIPLES.get(words(text))


def result_of(text: str) -> bool | None:
    """Return whether a check passed; None: nobody wrote it.

    Raises
    ------
    CellError
        If the word is not known.
    """
    plain = words(text)
    if plain not in _RESULTS:
        raise CellError(f"result {text!r} is not known")
    return _RESULTS[plain]


def says_saturated(result: str) -> bool:
    """Tell whether a result, whatever check it is of, speaks of saturation."""
    return _SATURATED.search(words(result)) is not None


def may_hide_a_failure(row: Row, kind: CheckKind | None) -> bool:
    """Tell whether a row that is left out may be of a saturation or of a check that failed.

    It is not where nothing but a pass was written, nor a regeneration, a warm-up or a check that
    is not known without result and values: to lose those lends no reading any trust. One that is
    not known is where its note speaks of a saturation or a failure.
    """
    if kind == "saturation" or (kind is None and _TROUBLE.search(words(row.get("note", "")))):
        return True
    try:
        passed = result_of(row.get("result", ""))
    except CellError:
        return True
    if passed is False or value_texts(row.get("values", "")):
        return True
    return passed is None and kind not in (None, "regeneration", "warm-up")


def date_before(text: str) -> date | None:
    """Return the date that a text begins with (2026-03-02), or None."""
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None


def time_of(text: str, name: str) -> datetime:
    """Return a date with a time of day.

    Raises
    ------
    CellError
        If it is not one.
    """
    if not text:
        raise CellError(f"no {name}")
    if ":" not in text:
        raise CellError(f"{name} {text!r} has no time of day")
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise CellError(f"{name} {text!r} is not a time (write 2026-03-02T09:30)") from None


def date_of(text: str) -> date:
    """Return a date, of which a time of day may follow.

    Raises
    ------
    CellError
        If it is not one.
    """
    try:
        return datetime.fromisoformat(text).date()
    except ValueError:
        raise CellError(f"{text!r} is not a date (write 2026-03-02)") from None


def number_texts(row: Row) -> Iterator[str]:
    """Go through everything in a row that should be a number."""
    yield from (row.get(name, "") for name in NUMBERS)
    yield from value_texts(row.get("values", ""))


def value_texts(text: str) -> list[str]:
    """Split the cell of the values."""
    return re.split(r"[\s;]+", text.strip("; ")) if text.strip("; ") else []


def number_of(text: str, name: str, marks: DecimalMarks) -> float:
    """Return a number.

    Raises
    ------
    CellError
        If it is not one, can be read in two ways, or is beyond any measurement.
    """
    try:
        number = parse_number(text, marks)
    except AmbiguousNumberError as error:
        raise CellError(f"{name} {text!r}: {error}") from None
    if number is None:
        raise CellError(f"{name} {text!r} is not a number")
    if not abs(number) <= 1e9:
        raise CellError(f"{name} {text!r} is beyond any measurement")
    return number
