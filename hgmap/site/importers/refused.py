"""Numbers of repairs as a person writes them, and the repairs that they mean."""

from __future__ import annotations

import re
from collections.abc import Sequence

from hgmap.errors import PlanError
from hgmap.site.importers.found_plan import PlanRepair

_ONE = re.compile(r"([0-9]{1,6})(?:\s*[-–]\s*([0-9]{1,6}))?")


def numbers_of(text: str, *, where: str = "--refuse") -> tuple[int, ...]:
    """Read ``"1, 4-6"``.

    Raises
    ------
    PlanError
        If it is no list of whole numbers.

    Examples
    --------
    >>> numbers_of("1, 4-6")
    (1, 4, 5, 6)
    """
    found: list[int] = []
    for one in text.split(","):
        matched = _ONE.fullmatch(one.strip())
        if not matched:
            raise PlanError(f"{one.strip()!r} is no number", where=where, todo='write "1,4-6"')
        first = int(matched[1])
        last = int(matched[2] or first)
        found += range(min(first, last), max(first, last) + 1)
    return tuple(dict.fromkeys(found))


Refused = Sequence[int | str]
"""Repairs that are not made: their numbers, or their keys."""


def refused_keys(repairs: Sequence[PlanRepair], refused: Refused) -> frozenset[str]:
    """Return the keys of repairs that are given by number, counted from 1; keys stay as they are.

    A key may be that of a repair which is needed only because another one was refused.

    Raises
    ------
    PlanError
        If there is no such repair.
    """
    numbers = [one for one in refused if isinstance(one, int)]
    for one in numbers:
        if not 1 <= one <= len(repairs):
            raise PlanError(
                f"there is no repair {one}", where="--refuse",
                todo=f"they are numbered 1 to {len(repairs)}" if repairs else "none is made",
            )  # fmt: skip
    keys = {one for one in refused if isinstance(one, str)}
    return frozenset(keys | {repairs[one - 1].key for one in numbers})
