"""Which column of theirs is which of ours: by name, by unit, by content; two that fit are asked."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.errors import ReadingsError
from hgmap.site.intake.dates import parse_time
from hgmap.site.intake.header import Header
from hgmap.site.intake.kinds import parse_kind
from hgmap.site.intake.not_results import is_no_result, is_not_when_taken
from hgmap.site.intake.opening import Row
from hgmap.site.intake.result import parse_result
from hgmap.site.intake.synonyms import TARGETS, Title, concentration_unit
from hgmap.site.textfile import DecimalMarks

ASKED_WHERE_TWO_FIT: Final = ("value", "room", "x", "y", "height", "unit", "floor",
                              "detection_limit")  # fmt: skip
_LEAST_SHARE: Final = 0.8
"""Share of the cells of a column that have to fit for it to be known by its content."""


@dataclass(frozen=True, slots=True)
class Match:
    """One column of ours and what it is made from.

    Attributes
    ----------
    ours : str
        Our name.
    theirs : str
        Their title; for a unit, perhaps the unit itself.
    column : int or None
        Position from 0; None where no column holds it.
    example : str
        The first cell in it.
    why : str
        How it was found.
    """

    ours: str
    theirs: str
    column: int | None
    example: str
    why: str


@dataclass(frozen=True, slots=True)
class Columns:
    """The mapping of a table.

    Attributes
    ----------
    matches : tuple of Match
        In the order of our columns.
    titles : tuple of Title
        All titles of theirs.
    unread : tuple of int
        Columns with something in them that are none of ours.
    """

    matches: tuple[Match, ...]
    titles: tuple[Title, ...]
    unread: tuple[int, ...]

    def position(self, ours: str) -> int | None:
        """Return the column of theirs that is this one of ours."""
        return next((one.column for one in self.matches if one.ours == ours), None)


def choose_columns(
    header: Header, sample: Sequence[Row], said: Mapping[str, str], *, where: str
) -> Columns:
    """Find our columns among theirs.

    Parameters
    ----------
    header : Header
        Their titles.
    sample : sequence of (int, cells)
        The first rows of data.
    said : mapping of str to str
        What a person said: ours to theirs (a title, or ``#3`` for the third column; empty: none).
    where : str
        The file, for messages.

    Raises
    ------
    ReadingsError
        With the option that answers it, where two columns fit or none holds the results.
    """
    found: dict[str, tuple[int, str]] = {}
    for ours, theirs in said.items():
        if ours not in TARGETS:
            near = difflib.get_close_matches(ours, TARGETS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(TARGETS)}"
            raise ReadingsError(f"no column {ours!r} of ours", where="--column", todo=hint)
        if theirs:
            found[ours] = _said_column(theirs, header.titles, ours), "as said"
    taken = {column for column, _ in found.values()}
    filled = _filled(header.titles, sample)
    _by_name(header, filled, found, taken, said, where=where)
    if "value" not in found and "value" not in said:
        _value_by_content(header, filled, found, taken, where=where)
    _others_by_content(header, filled, found, taken, said)
    if "value" not in found:
        raise ReadingsError(
            "no column of results was found",
            where=where,
            todo=f"name it with --column value=TITLE (titles: {_titles(header.titles)})",
        )
    matches = [
        Match(ours, header.titles[found[ours][0]].text, found[ours][0],
              next(iter(filled[found[ours][0]]), ""), found[ours][1])
        for ours in TARGETS if ours in found
    ]  # fmt: skip
    unread = [k for k in range(len(header.titles)) if k not in taken and filled[k]]
    return Columns(tuple(matches), header.titles, tuple(unread))


def _said_column(theirs: str, titles: Sequence[Title], ours: str) -> int:
    fits = [k for k, title in enumerate(titles) if title.text.casefold() == theirs.casefold()]
    if not fits and theirs.startswith("#") and theirs[1:].isdecimal():
        number = int(theirs[1:]) if len(theirs) < 8 else 0
        fits = [number - 1] if 1 <= number <= len(titles) else []
    if len(fits) == 1:
        return fits[0]
    if fits:
        numbers = " or ".join(f"--column {ours}=#{k + 1}" for k in fits[:3])
        raise ReadingsError(f"{len(fits)} columns are called {theirs!r}", where="--column",
                            todo=f"say {numbers}")  # fmt: skip
    raise ReadingsError(
        f"the table has no column {theirs!r}", where="--column", todo=f"titles: {_titles(titles)}"
    )


def _titles(titles: Iterable[Title], most: int = 12) -> str:
    texts = [title.text for title in titles if title.text]
    more = f", and {len(texts) - most} more" if len(texts) > most else ""
    return ", ".join(repr(text[:40]) for text in texts[:most]) + more


def _filled(titles: Sequence[Title], sample: Sequence[Row]) -> list[list[str]]:
    """Return the cells of each column that have something in them."""
    columns: list[list[str]] = [[] for _ in titles]
    for _, cells in sample:
        for column, cell in zip(columns, cells, strict=False):
            if cell:
                column.append(cell)
    return columns


def _by_name(
    header: Header,
    filled: Sequence[Sequence[str]],
    found: dict[str, tuple[int, str]],
    taken: set[int],
    said: Mapping[str, str],
    *,
    where: str,
) -> None:
    candidates: dict[str, list[tuple[int, int]]] = {}
    for k, title in enumerate(header.titles):
        if k in taken:
            continue
        known = title.ours
        if (
            title.concentration
            and (known is None or known[0] not in ("low", "detection_limit"))
            and not (known is None and is_no_result(title.key, has_unit=True))
        ):
            known = ("value", known[1] if known and known[0] == "value" else 50)
        if known is not None and known[0] not in said:
            candidates.setdefault(known[0], []).append((known[1], k))
    if "qualifier" not in candidates and "qualifier" not in found:
        # "low" may be a height; beside a qualifier it is the lower end of a range
        lows = [one for one in candidates.pop("low", []) if header.titles[one[1]].key != "low"]
        if lows:
            candidates["low"] = lows
    for ours, ranked in candidates.items():
        with_cells = [one for one in ranked if filled[one[1]]] or ranked
        best = min(rank for rank, _ in with_cells)
        first = [k for rank, k in with_cells if rank == best]
        if ours in ("value", "detection_limit"):
            first = [k for _, k in with_cells]
        if len(first) > 1 and (ours in ASKED_WHERE_TWO_FIT or _differ(first, filled)):
            one, other = (header.titles[k].text for k in first[:2])
            choice = f"#{first[0] + 1}" if one.casefold() == other.casefold() else repr(one)
            raise ReadingsError(
                f"columns {one!r} (#{first[0] + 1}) and {other!r} (#{first[1] + 1}) could both be "
                f"the {ours}",
                where=f"{where}, row {header.last}",
                todo=f"say which: --column {ours}={choice}",
            )
        why = "by its unit" if best == 50 and ours == "value" else "by its title"
        found[ours] = first[0], why
        taken.add(first[0])


def _differ(columns: Sequence[int], filled: Sequence[Sequence[str]]) -> bool:
    return any(filled[k] != filled[columns[0]] for k in columns[1:])


def _value_by_content(
    header: Header,
    filled: Sequence[Sequence[str]],
    found: dict[str, tuple[int, str]],
    taken: set[int],
    *,
    where: str,
) -> None:
    """Take the one column of numbers that is none of the others."""
    fits = [
        k
        for k, title in enumerate(header.titles)
        if k not in taken
        and not is_no_result(title.text, has_unit=bool(title.concentration))
        and _share(filled[k], _result)
    ]
    if len(fits) > 1:
        one, other = (header.titles[k].text for k in fits[:2])
        raise ReadingsError(
            f"columns {one!r} and {other!r} could both be the value",
            where=f"{where}, row {header.last}",
            todo=f"say which: --column value={one!r}",
        )
    if fits:
        found["value"] = fits[0], "by its content"
        taken.add(fits[0])


def _others_by_content(
    header: Header,
    filled: Sequence[Sequence[str]],
    found: dict[str, tuple[int, str]],
    taken: set[int],
    said: Mapping[str, str],
) -> None:
    for ours, test in (("unit", _unit), ("time", _moment), ("kind", _kind)):
        if ours in found or ours in said or (ours == "time" and "date" in found):
            continue
        fits = [k for k in range(len(header.titles)) if k not in taken and _share(filled[k], test)]
        if ours == "time":
            fits = [k for k in fits if not is_not_when_taken(header.titles[k].text)]
        if len(fits) == 1:
            found[ours] = fits[0], "by its content"
            taken.add(fits[0])


def _share(cells: Sequence[str], test: object) -> bool:
    assert callable(test)
    return bool(cells) and sum(map(bool, map(test, cells))) >= _LEAST_SHARE * len(cells)


def _result(cell: str) -> bool:
    found = parse_result(cell, DecimalMarks())
    return found.value is not None or "thousands" in found.held or bool(found.word)


def _unit(cell: str) -> bool:
    return bool(concentration_unit(cell))


def _moment(cell: str) -> bool:
    return not isinstance(parse_time(cell, "day-first"), str) or not isinstance(
        parse_time(cell, "month-first"), str
    )


def _kind(cell: str) -> bool:
    return parse_kind(cell) is not None
