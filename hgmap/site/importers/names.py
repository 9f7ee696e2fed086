"""Names from outside: one line, of a bearable length, and each only once."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from itertools import count

from hgmap.errors import PlanError

LONGEST_NAME = 80
"""A name longer than this (characters) is cut, or refused where a person typed it; no label could
show it."""


def one_line_text(value: object) -> str:
    r"""Turn a property into one line of text: no control characters, at most 80 characters.

    Examples
    --------
    >>> one_line_text(" Store\troom\n2 ")
    'Store room 2'
    >>> one_line_text(None)
    ''
    """
    return _one_line(value)[:LONGEST_NAME].strip()


def typed_name(text: object, what: str) -> str:
    """Return a name that a person typed, as one line; nothing of it is cut.

    Parameters
    ----------
    text : object
        What was typed; None as empty.
    what : str
        What is called so, for the complaint: ``"a room"``.

    Raises
    ------
    PlanError
        If it has more than 80 characters.

    Examples
    --------
    >>> typed_name(" Store  2 ", "a room")
    'Store 2'
    """
    name = _one_line(text)
    if len(name) > LONGEST_NAME:
        raise PlanError(
            f"the name of {what} has at most {LONGEST_NAME} characters, found {len(name)}: "
            f"{name[:30]!r} and so on",
            todo="type a shorter one",
        )
    return name


def _one_line(value: object) -> str:
    if value is None or isinstance(value, dict | list):
        return ""
    # Cc, Cf, Cs ...: control characters, marks that turn the writing direction, half characters
    spaced = "".join(" " if character.isspace() else character for character in str(value))
    kept = "".join(c for c in spaced if not unicodedata.category(c).startswith("C"))
    return " ".join(unicodedata.normalize("NFC", kept).split())


def unique_names(given: Sequence[str], *, otherwise: str = "room") -> list[str]:
    """Give every room a name of its own.

    Parameters
    ----------
    given : sequence of str
        Names as :func:`one_line_text` makes them; empty for an unnamed room.
    otherwise : str
        An unnamed room is called by this word and a number.

    Returns
    -------
    list of str
        As many names, all different also when capitals are not told apart; the first room of a
        name keeps it.

    Examples
    --------
    >>> unique_names(["Lab", "", "lab", "room 1"])
    ['Lab', 'room 2', 'lab (2)', 'room 1']
    """
    taken = {name.casefold() for name in given if name}
    met: set[str] = set()
    names: list[str] = []
    unnamed = (f"{otherwise} {n}" for n in count(1))
    repeated: dict[str, Iterator[int]] = {}
    for name in given:
        key = name.casefold()
        if not name:
            name = _first_free(unnamed, taken)
        elif key in met:
            name = _first_free(_numbered(name, repeated.setdefault(key, count(2))), taken)
        met.add(name.casefold())
        taken.add(name.casefold())
        names.append(name)
    return names


def unique_ids(given: Sequence[str], *, letter: str, names: Iterable[str] = ()) -> list[str]:
    """Give every part an id: its own where nobody else has it, else a letter and a number.

    ``names`` are not used for made-up ids, so that a reading's "R2" can mean one room only.

    Examples
    --------
    >>> unique_ids(["", "G1", "g1", ""], letter="R", names=["R1"])
    ['R2', 'G1', 'R3', 'R4']
    """
    taken = {text.casefold() for text in (*given, *names) if text}
    met: set[str] = set()
    ids: list[str] = []
    made_up = (f"{letter}{n}" for n in count(1))
    for identifier in given:
        if not identifier or identifier.casefold() in met:
            identifier = _first_free(made_up, taken)
        met.add(identifier.casefold())
        taken.add(identifier.casefold())
        ids.append(identifier)
    return ids


def _numbered(name: str, numbers: Iterator[int]) -> Iterator[str]:
    for n in numbers:
        suffix = f" ({n})"
        yield name[: LONGEST_NAME - len(suffix)].rstrip() + suffix


def _first_free(candidates: Iterator[str], taken: set[str]) -> str:
    return next(one for one in candidates if one.casefold() not in taken)
