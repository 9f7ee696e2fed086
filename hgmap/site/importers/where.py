"""Choosing features by one property, such as ``level``: lists ("-1;0") and ranges ("0-2")."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

from hgmap.errors import PlanError

_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_RANGE = re.compile(rf"({_NUMBER})\s*[-–]\s*({_NUMBER})")

LONGEST_RANGE = 200
"""A range is written out up to this many whole numbers; more storeys do not exist."""


def parse_where(text: str) -> tuple[str, str]:
    """Split ``"level=0"`` into the property and the value wanted.

    Raises
    ------
    PlanError
        If it has not that form.
    """
    key, _, value = text.partition("=")
    if not key.strip() or not value.strip():
        raise PlanError(
            f"{text!r} is not property=value", where="--where", todo='write it like "level=0"'
        )
    return key.strip(), value.strip()


def tokens(value: object) -> list[str]:
    """Split a property into its values.

    Examples
    --------
    >>> tokens("-1; 0"), tokens(2), tokens(None)
    (['-1', '0'], ['2'], [])
    """
    if value is None or isinstance(value, dict):
        return []
    parts = value if isinstance(value, list) else [value]
    split = [token.strip() for part in parts for token in str(part).split(";")]
    return [token for token in split if token]


def holds(value: object, wanted: str) -> bool:
    """Tell whether a property holds the value wanted, in its list or within its range.

    Numbers are compared as numbers ("0" is "0.0"), other text without regard to capitals.

    Examples
    --------
    >>> holds("-1;0", "0"), holds("-1-2", "0"), holds("10", "1")
    (True, True, False)
    """
    number = _number(wanted)
    for token in tokens(value):
        if token.casefold() == wanted.casefold():
            return True
        if number is None:
            continue
        if _number(token) == number:
            return True
        ends = _range(token)
        if ends and ends[0] <= number <= ends[1]:
            return True
    return False


def distinct_values(values: Iterable[object]) -> list[str]:
    """List the different single values, numbers first and in order, ranges written out.

    Examples
    --------
    >>> distinct_values(["0-2", "-1;0", 1, "roof", "0.0"])
    ['-1', '0', '1', '2', 'roof']
    """
    numbers: dict[Decimal, str] = {}
    texts: dict[str, str] = {}
    for value in values:
        for token in tokens(value):
            number, ends = _number(token), _range(token)
            if number is not None:
                numbers.setdefault(number, token)
            elif ends and ends[1] - ends[0] <= LONGEST_RANGE:
                for step in range(int(ends[1] - ends[0]) + 1):
                    numbers.setdefault(ends[0] + step, str(ends[0] + step))
            else:
                texts.setdefault(token.casefold(), token)
    return [numbers[key] for key in sorted(numbers)] + [texts[key] for key in sorted(texts)]


def _number(text: str) -> Decimal | None:
    return Decimal(text) if re.fullmatch(_NUMBER, text) else None


def _range(text: str) -> tuple[Decimal, Decimal] | None:
    found = _RANGE.fullmatch(text)
    if not found:
        return None
    ends = sorted(Decimal(end) for end in found.groups())
    return ends[0], ends[1]
