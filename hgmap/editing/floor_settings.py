"""Adding, naming and taking away the floors of a site, and the picture under a plan."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Final

from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import (
    Values,
    drop_entry,
    entry_of,
    put,
    table_of,
    with_text,
    with_values,
)
from hgmap.errors import SiteError
from hgmap.site.files import slug
from hgmap.site.importers.names import typed_name
from hgmap.site.new_site import with_floor, with_title
from hgmap.site.plan_picture import PICTURE_ENDINGS, PlanPicture
from hgmap.site.schema import FloorTable
from hgmap.site.store import plain_name

EMPTY_PLAN: Final = json.dumps({"type": "FeatureCollection", "features": []}).encode() + b"\n"


def add_floor(
    files: SiteFiles, name: str, *, title: str | None = None, plan: bytes | None = None
) -> SiteFiles:
    """Add a floor, with the plan given or with an empty one to draw on.

    Raises
    ------
    SiteError
        If the name does not fit, or its plan's file is there already.
    """
    name = typed_name(name, "a floor")
    title = typed_name(title, "a floor") or None
    file = f"plans/{slug(name)}.geojson"
    if name and (file in files.contents or (files.folder / file).exists()):
        raise SiteError("the file is there already", where=file, todo="choose another name")
    keys = {"name": name, "title": title, "plan": file}
    entry = {key: value for key, value in keys.items() if value is not None}

    def on_values(values: Values) -> None:
        values.setdefault("floors", []).append(entry)

    files = with_text(
        files, lambda text: with_floor(text, name=name, title=title, plan=file), on_values
    )
    return files.with_file(file, EMPTY_PLAN if plan is None else plan)


def rename_floor(files: SiteFiles, floor: str, title: str) -> SiteFiles:
    """Give a floor another title; its name stays, for readings may say it. Empty: no title."""
    _floor(files, floor)
    title = typed_name(title, "a floor")

    def change(values: Values) -> None:
        put(entry_of(values, "floors", floor), "title", title or None)

    if not title:
        return with_values(files, change)
    return with_text(files, lambda text: with_title(text, floor=floor, title=title), change)


def set_north(files: SiteFiles, floor: str, north_deg: float | None) -> SiteFiles:
    """Say where north is on a plan (degrees clockwise from plan-up); None: nobody knows."""
    _floor(files, floor)
    return with_values(
        files, lambda values: put(entry_of(values, "floors", floor), "north_deg", north_deg)
    )


def remove_floor(files: SiteFiles, floor: str) -> SiteFiles:
    """Take a floor away: its plan and picture, and what rounds say of its openings.

    Its readings stay in their files; they are held, for there is no such floor.
    """
    entry = _floor(files, floor)
    rounds = [one.name for one in table_of(files).rounds if floor in one.openings]

    def change(values: Values) -> None:
        drop_entry(values, "floors", floor)
        for name in rounds:
            one = entry_of(values, "rounds", name)
            del one["openings"][floor]
            if not one["openings"]:
                del one["openings"]

    files = with_values(files, change)
    for file in (entry.plan, entry.picture.file if entry.picture else None):
        files = _without_unnamed(files, file)
    return files


def set_picture(
    files: SiteFiles, floor: str, picture: PlanPicture | None, *, data: bytes | None = None
) -> SiteFiles:
    """Lay an image under a floor's plan, move the one that is there, or take it away (None).

    Parameters
    ----------
    files : SiteFiles
    floor : str
    picture : PlanPicture or None
        Its ``file`` is the name as it was chosen where ``data`` is given, and else not looked at.
    data : bytes, optional
        A new image (PNG or JPEG); it is copied beside the plans.

    Raises
    ------
    SiteError
        If there is no such floor, or no picture to move, or it is of another kind.
    """
    entry = _floor(files, floor)
    before = entry.picture.file if entry.picture else None
    name = before
    if picture is not None and data is not None:
        ending = Path(picture.file).suffix.casefold()
        if ending not in PICTURE_ENDINGS:
            raise SiteError("is no PNG or JPEG image", where=picture.file, todo="save it as one")
        name = f"plans/{slug(floor)}{ending}"
        if name != before and (name in files.contents or (files.folder / name).exists()):
            raise SiteError("the file is there already", where=name, todo="rename that one")
        files = files.with_file(name, data)
    if picture is not None and name is None:
        raise SiteError(f"floor {floor!r} has no picture", where=files.place("site.toml"))
    value = None if picture is None else {**asdict(picture), "file": name}
    if value is not None and not value["guessed"]:
        del value["guessed"]  # it says nothing: most pictures have their scale
    files = with_values(
        files, lambda values: put(entry_of(values, "floors", floor), "picture", value)
    )
    return files if name == before and picture is not None else _without_unnamed(files, before)


def _floor(files: SiteFiles, name: str) -> FloorTable:
    for one in table_of(files).floors:
        if one.name == name:
            return one
    raise SiteError(f"no floor {name!r}", where=files.place("site.toml"))


def _without_unnamed(files: SiteFiles, file: str | None) -> SiteFiles:
    """Take a file away, unless another floor still names it."""
    if file is None:
        return files
    named = [one.plan for one in table_of(files).floors]
    named += [one.picture.file for one in table_of(files).floors if one.picture]
    where = files.place("site.toml")
    try:
        key = plain_name(file, where=where)
        kept = key in {plain_name(one, where=where) for one in named}
    except SiteError:
        return files  # it lies outside the folder: not ours to take away
    return files if kept else files.without(key)
