"""Numbers of repairs as a person writes them, and the plan without the repairs that they mean."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from hgmap.errors import PlanError
from hgmap.site.importers.found_plan import FoundPlan

_ONE = re.compile(r"([0-9]{1,6})(?:\s*[-–]\s*([0-9]{1,6}))?")


def numbers_of(*texts: str, where: str = "--refuse") -> tuple[int, ...]:
    """Read ``"1, 4-6"``, given once or several times.

    Raises
    ------
    PlanError
        If it is no list of whole numbers.

    Examples
    --------
    >>> numbers_of("1, 4-6")
    (1, 4, 5, 6)
    >>> numbers_of("2", "1-3")
    (2, 1, 3)
    """
    found: list[int] = []
    for one in (part for text in texts for part in text.split(",")):
        matched = _ONE.fullmatch(one.strip())
        if not matched:
            raise PlanError(f"{one.strip()!r} is no number", where=where, todo='write "1,4-6"')
        first = int(matched[1])
        last = int(matched[2] or first)
        found += range(min(first, last), max(first, last) + 1)
    return tuple(dict.fromkeys(found))


Refused = Sequence[int | str]
"""Repairs that are not made: their numbers, or their keys."""


def without_refused(find: Callable[[frozenset[str]], FoundPlan], refused: Refused) -> FoundPlan:
    """Find a plan without the repairs that a person refuses.

    Each repair keeps the number that it had when it was first listed, so that numbers may be added
    to a list of refused ones; one that is needed only because another was refused comes last.

    Parameters
    ----------
    find : callable
        Finds the plan, told the keys of repairs that are not made.
    refused : sequence of int or str
        Numbers of repairs, or their keys.

    Raises
    ------
    PlanError
        If there is no such repair.
    """
    numbers = [one for one in refused if isinstance(one, int)]
    keys = frozenset(one for one in refused if isinstance(one, str))
    found, told = find(frozenset()), frozenset[str]()
    known = {one.key: number for number, one in enumerate(found.repairs, start=1)}
    while (wanted := keys | {key for key, number in known.items() if number in numbers}) != told:
        found, told = find(wanted), wanted
        for one in found.repairs:
            known.setdefault(one.key, len(known) + 1)
    for number in numbers:
        if not 1 <= number <= len(known):
            raise PlanError(
                f"there is no repair {number}", where="--refuse",
                todo=f"they are numbered 1 to {len(known)}" if known else "none is made",
            )  # fmt: skip
    made = tuple(replace(one, number=known[one.key]) for one in found.repairs)
    doubts = tuple(
        replace(one, number=number) for number, one in enumerate(found.doubts, start=len(known) + 1)
    )
    return replace(found, repairs=made, doubts=doubts)
