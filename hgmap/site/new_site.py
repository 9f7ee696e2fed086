"""Making a site folder, and adding a floor to one: site.toml keeps its comments and its order."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import Final, get_args

import tomlkit
from tomlkit.items import AoT, Array, Table

from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import read_bytes, write_bytes
from hgmap.site.folder import SITE_FILE
from hgmap.site.line_ends import in_form_of, plain_ends
from hgmap.site.map_frame import MapFrame
from hgmap.site.model import Use
from hgmap.site.schema import SCHEMA_VERSION, SiteTable, parse_site_table

USES: Final[tuple[str, ...]] = get_args(Use)

_HINTS = """\
# The action level has no default: choose one with "hgmap levels", then take away the # signs.
# [level]
# name = ""

# One visit is a round; its readings are one file or several.
# [[rounds]]
# name = "before"
# title = "Before clean-up"
# date = 2000-01-31
# readings = ["readings/before.csv"]
"""


def read_site_text(folder: Path) -> str | None:
    """Return the text of site.toml, or None where there is no site yet.

    Where all of its lines end with CRLF they end plainly in the text; :func:`write_site_text` puts
    that back.

    Raises
    ------
    SiteError
        If ``folder`` is a file, or site.toml cannot be read.
    """
    if folder.exists() and not folder.is_dir():
        raise SiteError("is a file, not a folder", where=str(folder), todo="give a site folder")
    path = folder / SITE_FILE
    if not path.exists():
        return None
    try:
        return plain_ends(read_bytes(path, where=str(path)).decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise SiteError("is not UTF-8 text", where=str(path), todo="save it as UTF-8") from None


def write_site_text(folder: Path, text: str) -> None:
    """Write site.toml with the line ends, and the byte-order mark, that it has.

    Raises
    ------
    HgmapError
        If it cannot be written; it is left as it was.
    """
    path = folder / SITE_FILE
    before = read_bytes(path, where=str(path)) if path.exists() else b""
    write_bytes(path, in_form_of(text, before))


def check_use(use: str) -> None:
    """Refuse a use of the building that is not known.

    Raises
    ------
    SiteError
        Naming the uses that are.
    """
    if use not in USES:
        near = difflib.get_close_matches(use, USES, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(USES)}"
        raise SiteError(f"use {use!r} is not known", where="--use", todo=hint)


def new_site_text(name: str, *, use: str | None = None) -> str:
    """Write the site.toml of a new site: what is known, and hints for the rest.

    Parameters
    ----------
    name : str
        The building's name.
    use : str, optional
        What it is used for; no default, since the action level depends on it.
    """
    document = tomlkit.document()
    document["schema_version"] = SCHEMA_VERSION
    document["name"] = name
    document["analyte"] = SiteTable.model_fields["analyte"].default
    document["medium"] = SiteTable.model_fields["medium"].default
    if use is not None:
        document["use"] = use
    text = tomlkit.dumps(document)
    if use is None:
        text += f'# The use has no default; one of: {", ".join(USES)}.\n# use = "{USES[0]}"\n'
    return f"{text}\n{_HINTS}"


def with_floor(
    text: str, *, name: str, title: str | None, plan: str, building: str | None = None
) -> str:
    """Add a ``[[floors]]`` table at the end of the floors."""
    document = tomlkit.parse(text)
    floors = document.get("floors")
    entry = tomlkit.inline_table() if isinstance(floors, Array) else tomlkit.table()
    entry["name"] = name
    if title is not None:
        entry["title"] = title
    if building is not None:
        entry["building"] = building
    entry["plan"] = plan
    if isinstance(entry, Table):
        entry.trivia.indent = "\n"
    if isinstance(floors, AoT | Array):
        floors.append(entry)
        return tomlkit.dumps(document)
    tables = tomlkit.aot()
    tables.append(entry)
    return appended(document, "floors", tables)


def with_title(text: str, *, floor: str, title: str) -> str:
    """Give a floor another title."""
    document = tomlkit.parse(text)
    for entry in document["floors"]:
        if entry["name"] == floor:
            entry["title"] = title
    return tomlkit.dumps(document)


def with_use(text: str, use: str) -> str:
    """Say the use of the building where site.toml does not."""
    document = tomlkit.parse(text)
    document["use"] = use
    return tomlkit.dumps(document)


def with_map_frame(text: str, frame: MapFrame) -> str:
    """Add the ``[map_frame]`` table."""
    table = tomlkit.table()
    table["crs"] = frame.crs
    table["origin_x_m"] = frame.origin_x_m
    table["origin_y_m"] = frame.origin_y_m
    return appended(tomlkit.parse(text), "map_frame", table)


def appended(document: tomlkit.TOMLDocument, key: str, value: object) -> str:
    """Return the text of a document with a table or tables at its end, after an empty line."""
    text = tomlkit.dumps(document)
    tail = tomlkit.document()
    tail[key] = value
    return text.rstrip("\n") + "\n\n" + tomlkit.dumps(tail).lstrip("\n")


def write_floor(folder: Path, plan: Path, data: bytes, text: str, *, before: str | None) -> None:
    """Write a floor's plan, then site.toml, so that site.toml never names a plan that is not there.

    Raises
    ------
    HgmapError
        If either cannot be written; the folder is left as it was.
    """
    parse_site_table(text, where=str(folder / SITE_FILE))
    plan_before = plan.read_bytes() if plan.exists() else None
    write_bytes(plan, data)
    if text == before:
        return
    try:
        write_site_text(folder, text)
    except HgmapError:
        if plan_before is None:
            plan.unlink()
        else:
            write_bytes(plan, plan_before)
        raise
