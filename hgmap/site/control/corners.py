"""A deed's file in, its corners out: as control points to fill in, or as an outline to import."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import shapely

from hgmap.errors import SiteError
from hgmap.site.control.deed import read_deed
from hgmap.site.control.traverse import Traverse, run_traverse
from hgmap.site.files import write_text
from hgmap.site.textfile import printable, text_encoding


def read_deed_file(data: bytes, start: tuple[float, float], *, where: str) -> Traverse:
    """Read a deed and go along it from a start (east, north, m).

    Raises
    ------
    SiteError
        If it is no text, or a course cannot be read.
    """
    try:
        encoding = text_encoding(data, where=where)
    except SiteError as error:
        raise SiteError("is not text", where=where, todo="save it as plain text") from error
    text = data.decode("utf-8-sig" if encoding == "utf-8" else encoding, errors="replace")
    return run_traverse(read_deed(printable(text), where=where), start, where=where)


def write_corners(path: Path, traverse: Traverse, crs: str | None) -> None:
    """Write the corners, in one step.

    Parameters
    ----------
    path : Path
        ``.csv``: control points whose x and y are to be filled in. ``.geojson``: the outline as a
        room, which a plan can be imported from.
    traverse : Traverse
    crs : str or None
        The map's system; None where the corners count from the first one.

    Raises
    ------
    SiteError
        If the ending is another one, or an outline is asked for and there is none.
    HgmapError
        If the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending == ".csv":
        rows = [f"{name},,,{east:.4f},{north:.4f}" for name, (east, north) in
                traverse.places.items()]  # fmt: skip
        write_text(path, "\n".join(["point,x,y,east,north", *rows]) + "\n")
    elif ending == ".geojson":
        write_text(path, _outline(path.stem, traverse, crs))
    else:
        raise SiteError(
            f"{ending or 'no ending'} is no format of corners", where=str(path),
            todo="use .csv (control points to fill in) or .geojson (the outline)",
        )  # fmt: skip


def _outline(name: str, traverse: Traverse, crs: str | None) -> str:
    if traverse.outline is None:
        raise SiteError(
            "the figure has no inside", where=f"{name}.geojson", todo="check the courses"
        )
    shape = shapely.transform(
        shapely.orient_polygons(traverse.outline), lambda places: np.round(places, 4) + 0.0
    )
    feature = {"type": "Feature", "properties": {"kind": "room", "name": name},
               "geometry": shapely.geometry.mapping(shape)}  # fmt: skip
    told = {"crs": {"type": "name", "properties": {"name": crs}}} if crs else {}
    return json.dumps({"type": "FeatureCollection", **told, "features": [feature]},
                      ensure_ascii=False) + "\n"  # fmt: skip
