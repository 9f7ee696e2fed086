"""Listing a readings file under its round in site.toml, which keeps its comments and its order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Array, Table

from hgmap.errors import SiteError
from hgmap.site.files import slug
from hgmap.site.importers.names import one_line_text
from hgmap.site.schema import SiteTable, parse_site_table

LONGEST_ROUND_NAME = 60
"""As in site.toml (characters)."""


def round_name(text: str, table: SiteTable) -> str:
    """Return the name of a round as site.toml has it, or a new name that fits.

    Raises
    ------
    SiteError
        If a new name is too long, or another round's name is written alike.
    """
    for one in table.rounds:
        if one.name == text:
            return text
    name = one_line_text(text)
    if not name or len(name) > LONGEST_ROUND_NAME:
        raise SiteError(
            f"a round's name has 1 to {LONGEST_ROUND_NAME} characters", where="--round",
            todo="choose a shorter one",
        )  # fmt: skip
    for one in table.rounds:
        if slug(one.name).casefold() == slug(name).casefold():
            raise SiteError(
                f"round {name!r} would be written like round {one.name!r}", where="--round",
                todo=f"say --round {one.name!r}, or choose another name",
            )  # fmt: skip
    return name


def with_readings(
    text: str, rounds: Iterable[str], file: str, *, date: dt.date | None, where: str
) -> str:
    """Return site.toml with a file listed under its rounds; a round that is new is made.

    Parameters
    ----------
    text : str
        site.toml as it is.
    rounds : iterable of str
        Names of the rounds that have readings in the file.
    file : str
        The file, relative to the site folder.
    date : date or None
        Of a round that is made.
    where : str
        Name of site.toml, for messages.

    Raises
    ------
    SiteError
        If the file cannot be listed without harm.
    """
    for name in rounds:
        table = parse_site_table(text, where=where)
        listed = [one for one in table.rounds if one.name == name]
        if listed and file in listed[0].readings:
            continue
        try:
            new = {"name": name, "date": date, "readings": [file]}
            text = _listed(text, name, file) if listed else with_round(text, new)
        except (TOMLKitError, KeyError, TypeError, ValueError):
            raise _by_hand(file, name, where) from None
        after = parse_site_table(text, where=where)
        kept = {one.name: one for one in after.rounds}
        whole = all(
            set(one.readings) <= set(kept[one.name].readings) if one.name in kept else False
            for one in table.rounds
        )
        if not whole or name not in kept or file not in kept[name].readings:
            raise _by_hand(file, name, where)
    return text


def _by_hand(file: str, name: str, where: str) -> SiteError:
    return SiteError(
        f"the file cannot be listed under round {name!r}",
        where=where,
        todo=f"write {file!r} into its readings by hand",
    )


def _listed(text: str, name: str, file: str) -> str:
    document = tomlkit.parse(text)
    for entry in document["rounds"]:
        if entry["name"] == name:
            files = entry.get("readings")
            if files is None:
                entry["readings"] = [file]
            else:
                files.append(file)
    return tomlkit.dumps(document)


def with_round(text: str, values: Mapping[str, object]) -> str:
    """Add a ``[[rounds]]`` table at the end of the rounds, with those values that are not None."""
    document = tomlkit.parse(text)
    rounds = document.get("rounds")
    entry = tomlkit.inline_table() if isinstance(rounds, Array) else tomlkit.table()
    for key, value in values.items():
        if value is not None:
            entry[key] = value
    if isinstance(entry, Table):
        entry.trivia.indent = "\n"
    if isinstance(rounds, AoT | Array):
        rounds.append(entry)
        return tomlkit.dumps(document)
    tables = tomlkit.aot()
    tables.append(entry)
    tail = tomlkit.document()
    tail["rounds"] = tables
    return text.rstrip("\n") + "\n\n" + tomlkit.dumps(tail).lstrip("\n")
