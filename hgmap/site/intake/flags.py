"""Signs and flags that stand in a column of their own, whatever its title."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from hgmap.site.intake.synonyms import Title

SIGNS: Final = frozenset(("<", ">", "<=", ">=", "=<", "=>", "\u2264", "\u2265", "~", "\u2248"))
_FLAG: Final = re.compile(
    r"(?P<non>(?:non|not|un|no)\W?\s?)?detect(?:ed|s|ion|able)?(?:\W?\s?flag)?\W*"
)
_YES: Final = frozenset(("y", "yes", "true", "t", "1", "x"))
_NO: Final = frozenset(("n", "no", "false", "f", "0"))
NON_DETECT: Final = "U"


def flag_columns(titles: Sequence[Title]) -> dict[int, bool]:
    """Return the columns that say yes or no to "detected"; True where yes means not detected."""
    matches = {k: _FLAG.fullmatch(one.text.strip().casefold().replace("_", " "))
               for k, one in enumerate(titles)}  # fmt: skip
    return {k: bool(match["non"]) for k, match in matches.items() if match is not None}


def flagged(text: str, *, yes_is_non_detect: bool) -> str | None:
    """Return ``U`` for a non-detect, an empty text for a detect, None where the cell says neither.

    Examples
    --------
    >>> flagged("N", yes_is_non_detect=False), flagged("Yes", yes_is_non_detect=False)
    ('U', '')
    """
    key = text.casefold().strip()
    if key in _YES:
        return NON_DETECT if yes_is_non_detect else ""
    if key in _NO:
        return "" if yes_is_non_detect else NON_DETECT
    return None if key else ""


def is_sign(text: str) -> bool:
    """Tell whether a cell is nothing but a sign before a number."""
    return text in SIGNS
