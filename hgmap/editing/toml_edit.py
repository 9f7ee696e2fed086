"""Editing site.toml so that its comments and its order stay, and nothing else changes with it.

Every edit is made twice: on the document with its comments and on the bare values. What is then
read from the document has to be the bare values, or the edit is refused.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Mapping, MutableMapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import InlineTable, Table

from hgmap.editing.site_files import SiteFiles
from hgmap.errors import SiteError
from hgmap.site.folder import checked_table
from hgmap.site.line_ends import in_form_of, plain_ends
from hgmap.site.schema import SiteTable, parse_site_table
from hgmap.site.store import SITE_FILE

Values = MutableMapping[str, Any]


def table_of(files: SiteFiles) -> SiteTable:
    """Return site.toml as it is understood.

    Raises
    ------
    SiteError
        If it cannot be used as it is.
    """
    return checked_table(files.data(SITE_FILE), where=files.place(SITE_FILE))


def with_values(files: SiteFiles, change: Callable[[Values], None]) -> SiteFiles:
    """Return the files with another site.toml.

    Parameters
    ----------
    files : SiteFiles
    change : callable
        Changes the values in place; it is called with a document and with plain dictionaries.

    Raises
    ------
    SiteError
        If site.toml cannot be used before or after, or cannot be changed without harm.
    """

    def on_text(text: str) -> str:
        document = tomlkit.parse(text)
        change(document)
        return tomlkit.dumps(document)

    return with_text(files, on_text, change)


def with_text(
    files: SiteFiles, on_text: Callable[[str], str], on_values: Callable[[Values], None]
) -> SiteFiles:
    """Return the files with another site.toml; the text has to say what the values say.

    Raises
    ------
    SiteError
        As :func:`with_values`.
    """
    where = files.place(SITE_FILE)
    # the library that keeps comments writes plain line ends; those of the file are put back
    text = plain_ends(files.text(SITE_FILE))
    parse_site_table(text, where=where)
    meant = copy.deepcopy(tomllib.loads(text))
    on_values(meant)
    try:
        new = on_text(text)
        said = tomllib.loads(new)
    except (TOMLKitError, tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError,
            IndexError, ValueError):  # fmt: skip
        raise _by_hand(where) from None
    if said != meant:
        raise _by_hand(where)
    encoded = in_form_of(new, files.data(SITE_FILE))
    checked_table(encoded, where=where)
    return files.with_file(SITE_FILE, encoded)


def _by_hand(where: str) -> SiteError:
    return SiteError(
        "cannot be changed here without harm", where=where, todo="change it by hand in an editor"
    )


def put(values: Values, key: str, value: object) -> None:
    """Set a key; None takes it away."""
    if value is None:
        values.pop(key, None)
    elif key not in values or values[key] != value:
        values[key] = list(value) if isinstance(value, tuple) else value


def put_table(values: Values, name: str, keys: Mapping[str, object]) -> None:
    """Set keys of a table, which is made where it is absent and goes where nothing is left."""
    if name not in values:
        if all(one is None for one in keys.values()):
            return
        values[name] = new_table(values)
    inner = values[name]
    for key, value in keys.items():
        put(inner, key, value)
    if not inner:
        del values[name]


def new_table(parent: Values) -> Any:
    """Return an empty table of the kind that fits what it will stand in."""
    if isinstance(parent, InlineTable):
        return tomlkit.inline_table()
    if not isinstance(parent, tomlkit.TOMLDocument | Table):
        return {}
    table = tomlkit.table()
    table.trivia.indent = "\n"
    return table


def entry_of(values: Values, kind: str, name: str) -> Any:
    """Return the floor or round of a name.

    Raises
    ------
    KeyError
        If there is none; ask :func:`table_of` first.
    """
    for one in values.get(kind, []):
        if one["name"] == name:
            return one
    raise KeyError(name)


def drop_entry(values: Values, kind: str, name: str) -> None:
    """Take a floor or round away, and the list with the last one."""
    entries = values[kind]
    for position, one in enumerate(entries):
        if one["name"] == name:
            del entries[position]
            break
    if not entries:
        del values[kind]
