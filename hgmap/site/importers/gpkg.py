"""Features of a GeoPackage (an open standard of the OGC), as those of a GeoJSON file.

A copy is read, so that nothing is ever written beside the file; arcs come as chords.
"""

from __future__ import annotations

import contextlib
import math
import re
import sqlite3
import tempfile
import warnings
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import mapping

from hgmap.errors import PlanError
from hgmap.site.files import read_bytes
from hgmap.site.importers.features import ONE_STOREY_M
from hgmap.site.importers.gpkg_crs import common_crs, layer_crs
from hgmap.site.importers.names import one_line_text

Features = list[dict[str, Any]]

MOST_BYTES: Final = 256 * 2**20
MOST_FEATURES: Final = 200_000
"""A plan of the largest hospital has some ten thousand; ours, no source."""

SIGNATURE: Final = b"SQLite format 3\x00"

LAYER_ROLES: Final[Mapping[str, str]] = {
    "room": "room", "rooms": "room", "space": "room", "spaces": "room", "corridor": "room",
    "corridors": "room", "wall": "wall", "walls": "wall", "door": "door", "doors": "door",
    "doorway": "door", "doorways": "door", "opening": "opening", "openings": "opening",
    "window": "window", "windows": "window", "outline": "outline", "outlines": "outline",
    "footprint": "outline", "walkable": "walkable",
}  # fmt: skip
"""What a word of a layer's name says of its features."""

ROLE_KEYS: Final = ("kind", "type", "indoor")
KIND_BEFORE: Final = "kind in the file"


def gpkg_features(
    source: Path | bytes, *, file: str
) -> tuple[Features, pyproj.CRS | None, list[str]]:
    """Read the features of every layer.

    Parameters
    ----------
    source : Path or bytes
        The file, or all of its bytes.
    file : str
        Its name, for messages.

    Returns
    -------
    features : list of dict
        As in GeoJSON: ``type``, ``properties``, ``geometry`` (None where there is none). Each has
        the property ``layer``, and where no property says what a feature is and a word of the
        layer's name does, ``kind``.
    crs : pyproj.CRS or None
        Of all coordinates (x east, y north): degrees, or metres; None for metres of nobody's map.
    notes : list of str
        What was left out or converted.

    Raises
    ------
    PlanError
        If it is no GeoPackage, is damaged or too large, or its layers have no common system.
    """
    data = source if isinstance(source, bytes) else _whole(source, file=file)
    data = _checked(data, file=file)
    try:
        with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of forms of the format that nobody here needs
            copy = Path(folder) / "plan.gpkg"
            copy.write_bytes(data)
            return _read(copy, file=file)
    except PlanError:
        raise
    except Exception as error:  # a damaged database makes the library raise whatever it meets first
        said = one_line_text(str(error).rpartition(": ")[2])
        raise PlanError(
            f"cannot be read as a GeoPackage ({said})",
            where=file,
            todo="it may be damaged: save it again",
        ) from None


def _whole(path: Path, *, file: str) -> bytes:
    """Return the bytes of a file that nobody is writing."""
    data = read_bytes(path, where=file, most_bytes=MOST_BYTES)
    for ending in ("-wal", "-journal"):
        beside = path.with_name(path.name + ending)
        if beside.is_file() and beside.stat().st_size:
            raise PlanError(
                f"has changes that are not in it yet ({beside.name})",
                where=file,
                todo="close it where it is open, then import it again",
            )
    return data


def _checked(data: bytes, *, file: str) -> bytes:
    """Return the bytes of a database that is whole, in the form that needs no second file.

    Offsets are those of the SQLite file format, section 1.3 (sqlite.org/fileformat2.html).
    """
    if not data:
        raise PlanError("is empty", where=file, todo="export it again")
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES / 2**20:.0f} MiB", where=file, todo="export one building"
        )
    if not data.startswith(SIGNATURE) or len(data) < 100:
        raise PlanError(
            "is no GeoPackage" + (" but a ZIP archive" if data.startswith(b"PK") else ""),
            where=file,
            todo="export the plan as GeoPackage or GeoJSON",
        )
    page = int.from_bytes(data[16:18], "big")
    pages = int.from_bytes(data[28:32], "big")
    known = data[24:28] == data[92:96]  # older writers do not keep the number of pages
    if known and len(data) < pages * (65536 if page == 1 else page):
        raise PlanError("is cut short", where=file, todo="copy or export it again")
    if data[18:20] == b"\x02\x02":  # a log of changes is expected beside it: there is none
        data = data[:18] + b"\x01\x01" + data[20:]
    return data


def _read(copy: Path, *, file: str) -> tuple[Features, pyproj.CRS | None, list[str]]:
    import pyogrio

    notes: list[str] = []
    read: list[tuple[str, NDArray[np.object_], list[dict[str, Any]], pyproj.CRS | None]] = []
    left = MOST_FEATURES
    queries = _stored_queries(copy)
    for layer, kind in pyogrio.list_layers(copy):
        called = repr(one_line_text(layer))
        if kind is None:
            notes.append(f"layer {called} has no shapes: left out")
            continue
        if layer in queries:  # it may ask for anything, and without end
            notes.append(f"layer {called} is a stored query: left out; export it as a layer")
            continue
        about = pyogrio.read_info(copy, layer=layer, force_feature_count=True)
        if about["driver"] != "GPKG":
            raise PlanError("is a database but no GeoPackage", where=file, todo="export it as one")
        left -= about["features"]
        if left < 0:
            raise PlanError(
                f"has more than {MOST_FEATURES} features", where=file, todo="export one building"
            )
        if not about["features"]:
            notes.append(f"layer {called} is empty")
            continue
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            meta, _, shapes, fields = pyogrio.raw.read(copy, layer=layer)
        if any("Measured" in str(one.message) for one in said):
            notes.append(f"layer {called} has measures (m), which are left out")
        columns = dict(zip(map(str, meta["fields"]), fields, strict=True))
        rows = [
            {key: _plain(column[n]) for key, column in columns.items()} for n in range(len(shapes))
        ]
        read.append((layer, shapely.from_wkb(shapes), rows, layer_crs(meta["crs"])))
    if not read:
        raise PlanError("has no feature", where=file, todo="export the rooms as polygons")
    crs, convert = common_crs([(layer, own) for layer, _, _, own in read], notes, file=file)
    keep_heights = _storeys_high(shapes for _, shapes, _, _ in read)
    if keep_heights is False:
        notes.append("corners have heights (z), which are left out")
    features: Features = []
    for (layer, shapes, rows, _), turn in zip(read, convert, strict=True):
        for row, shape in zip(rows, shapes, strict=True):
            placed = turn(shape if keep_heights else shapely.force_2d(shape))
            features.append(
                {
                    "type": "Feature",
                    "properties": _with_role(row, layer),
                    "geometry": None if placed is None or placed.is_empty else mapping(placed),
                }
            )
    return features, crs, notes


def _stored_queries(copy: Path) -> set[str]:
    with contextlib.closing(sqlite3.connect(copy)) as opened:
        found = opened.execute("select name from sqlite_master where type = 'view'")
        return {name for (name,) in found}


def _plain(value: Any) -> Any:
    """Return a property as JSON has it."""
    if isinstance(value, np.generic):
        value = None if isinstance(value, np.datetime64) and np.isnat(value) else value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)  # a column of whole numbers with gaps is read as floats
    return value if value is None or isinstance(value, str | int | float | bool) else str(value)


def _storeys_high(layers: Iterable[NDArray[np.object_]]) -> bool | None:
    """Tell whether heights part storeys, so that who reads on must see them; None without any."""
    z = np.concatenate([shapely.get_coordinates(shapes, include_z=True)[:, 2] for shapes in layers])
    z = z[np.isfinite(z)]
    return bool(np.ptp(z) > ONE_STOREY_M) if len(z) else None


def _with_role(row: dict[str, Any], layer: str) -> dict[str, Any]:
    said = dict(row)
    said.setdefault("layer", layer)
    words = re.findall(r"[^\W\d_]+", layer.casefold())
    role = next((LAYER_ROLES[word] for word in words if word in LAYER_ROLES), None)
    own = (str(row.get(key, "")).casefold() for key in ROLE_KEYS)
    if role is not None and not any(word in LAYER_ROLES or word == "area" for word in own):
        if row.get("kind") not in (None, ""):
            said[KIND_BEFORE] = row["kind"]
        said["kind"] = role
    return said
