"""Edits of how a site's buildings lie on the map."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.items import AoT

from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import Values, entry_of, put, with_text
from hgmap.site.map_frame import MapFrame
from hgmap.site.new_site import appended


def set_frame(
    files: SiteFiles, frame: MapFrame, *, building: str = "", floors: Sequence[str] = ()
) -> SiteFiles:
    """Say how a building lies on the map.

    Parameters
    ----------
    files : SiteFiles
    frame : MapFrame
        Its ``crs`` becomes that of the site.
    building : str
        One of several; the empty name is the frame of floors that name none.
    floors : sequence of str
        Floors that lie in that building from now on.

    Raises
    ------
    SiteError
        If site.toml cannot be used before or after.
    """
    keys = {
        "origin_x_m": frame.origin_x_m, "origin_y_m": frame.origin_y_m,
        "angle_deg": frame.angle_deg, "scale": frame.scale,
        "scale_y": frame.scale_y, "skew_deg": frame.skew_deg or None,
        "fitted": frame.fitted or None,
    }  # fmt: skip

    def on_values(values: Values) -> None:
        _set_table(values, "map_frame", {"crs": frame.crs} | ({} if building else keys))
        if building:
            entries = values.setdefault("buildings", [])
            if not any(one["name"] == building for one in entries):
                entries.append({"name": building})
            _put_all(entry_of(values, "buildings", building), keys)
        for floor in floors:
            put(entry_of(values, "floors", floor), "building", building or None)

    def on_text(text: str) -> str:
        document = tomlkit.parse(text)
        if "map_frame" not in document:
            document = tomlkit.parse(appended(document, "map_frame", tomlkit.table()))
        if building and "buildings" not in document:
            first = tomlkit.aot()
            first.append(_named(building))
            document = tomlkit.parse(appended(document, "buildings", first))
        elif building and isinstance(document["buildings"], AoT):
            entries = document["buildings"]
            if not any(one["name"] == building for one in entries):
                entry = _named(building)
                entry.trivia.indent = "\n"
                entries.append(entry)
        on_values(document)
        return tomlkit.dumps(document)

    return with_text(files, on_text, on_values)


def _named(building: str) -> Any:
    table = tomlkit.table()
    table["name"] = building
    return table


def _set_table(values: Values, name: str, keys: dict[str, Any]) -> None:
    if name not in values:
        values[name] = {}
    _put_all(values[name], keys)


def _put_all(table: Values, keys: dict[str, Any]) -> None:
    for key, value in keys.items():
        put(table, key, value)
