"""A floor from well-known text: the area that can be walked on, as polygons.

The form is that of OGC 06-103r4 (Simple Feature Access, part 1, clause 7), with ``SRID=...;``
before it where somebody says the system (the form that PostGIS calls EWKT). Several geometries may
stand in a file, one after another.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import pyproj
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon

from hgmap.errors import PlanError, SiteError
from hgmap.site.georef import check_map_crs
from hgmap.site.importers.drawing import Drawing, Part

MOST_BYTES: Final = 64 * 2**20
MOST_CORNERS: Final = 5_000_000
MOST_DEPTH: Final = 32
"""Collections inside collections, so deep at most; the parser below calls itself for each."""
LARGEST: Final = 1e12
ONE_STOREY_M: Final = 1.8
"""Heights (third coordinate) that differ by more are of several storeys."""
_START: Final = re.compile(
    r"(?:SRID\s*=\s*(?P<srid>-?\d+)\s*;\s*)?"
    r"(?P<type>POLYGON|MULTIPOLYGON|GEOMETRYCOLLECTION|LINESTRING|LINEARRING|MULTILINESTRING|POINT|"
    r"MULTIPOINT)\s*(?:Z|M|ZM)?\s*(?=\(|EMPTY)",
    re.IGNORECASE,
)
_ALLOWED: Final = re.compile(r"[\s\w.,;()=+-]*")
_TODO: Final = "write POLYGON ((x y, x y, ...)), or a MULTIPOLYGON or GEOMETRYCOLLECTION of such"


@dataclass(frozen=True, slots=True)
class _Piece:
    """One geometry of the text, and where it begins (characters, from 1)."""

    geometry: shapely.Geometry
    at: int
    srid: int | None


def draw_wkt(data: bytes, *, file: str) -> tuple[Drawing, ...]:
    """Read polygons as free floor, and lines as walls.

    Parameters
    ----------
    data : bytes
        UTF-8 text.
    file : str
        Named in messages.

    Returns
    -------
    tuple of Drawing
        One, in metres: well-known text has no unit.

    Raises
    ------
    PlanError
        If it is no well-known text, a number is none, or there is no polygon with an area.
    """
    text = _text(data, file=file)
    pieces = list(_pieces(text, file=file))
    notes: list[str] = []
    crs = _system({piece.srid for piece in pieces}, notes, file=file)
    parts: list[Part] = []
    other: Counter[str] = Counter()
    heights: list[float] = []
    corners = 0
    for number, piece in enumerate(pieces, start=1):
        label = f"geometry {number} (character {piece.at})"
        corners += int(shapely.get_num_coordinates(piece.geometry))
        if corners > MOST_CORNERS:
            raise PlanError(f"has more than {MOST_CORNERS} corners", where=file,
                            todo="export one floor")  # fmt: skip
        for geometry in _flat(piece.geometry):
            xyz = shapely.get_coordinates(geometry, include_z=True)
            _check_numbers(xyz, label, file=file)
            heights += [float(z) for z in xyz[:, 2] if not np.isnan(z)]
            flat = shapely.force_2d(geometry)
            if isinstance(flat, Polygon) and flat.area > 0:
                parts.append(Part("walkable", flat, label))
            elif isinstance(flat, Polygon):
                notes.append(f"{label}: a polygon without an area was left out")
            elif isinstance(flat, LineString) and flat.length > 0:
                parts.append(Part("wall", LineString(flat.coords), label))
            else:
                other[flat.geom_type] += 1
    notes += [f"{n} {kind} that {'is' if n == 1 else 'are'} no floor" for kind, n in other.items()]
    if not any(part.role == "walkable" for part in parts):
        raise PlanError("has no polygon with an area", where=file, todo=_TODO)
    elevation = _elevation(heights, notes, file=file)
    return (Drawing(tuple(parts), file, crs=crs, elevation_m=elevation, notes=tuple(notes)),)


def _text(data: bytes, *, file: str) -> str:
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES // 2**20} MiB", where=file, todo="export one floor"
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise PlanError(
            f"is no text (byte {error.start + 1})", where=file, todo="save it as UTF-8 text"
        ) from None
    if not text.strip():
        raise PlanError("is empty", where=file, todo=_TODO)
    return text


def _pieces(text: str, *, file: str) -> Iterator[_Piece]:
    """Cut the text into its geometries, and parse each; whatever stands between is refused."""
    place = 0
    while place < len(text):
        if text[place] in " \t\r\n;,\ufeff":
            place += 1
            continue
        start = _START.match(text, place)
        if start is None:
            found = " ".join(text[place : place + 20].split())
            raise PlanError(
                f"expected a geometry at character {place + 1}, found {found!r}",
                where=file,
                todo=_TODO,
            )
        end = _end_of(text, start.end(), file=file)
        srid = start["srid"]
        yield _Piece(
            _parse(text[start.start("type") : end], start.start("type"), file=file),
            place + 1,
            int(srid) if srid is not None and int(srid) > 0 else None,
        )
        place = end


def _end_of(text: str, place: int, *, file: str) -> int:
    """Return where the bracket that opens at ``place`` is closed again."""
    if text[place] != "(":
        return place + len("EMPTY")
    depth = 0
    for one in re.finditer(r"[()]", text[place:]):
        depth += 1 if one[0] == "(" else -1
        if depth > MOST_DEPTH:
            raise PlanError(
                f"has more than {MOST_DEPTH} brackets inside one another at character "
                f"{place + one.start() + 1}",
                where=file,
                todo="export polygons without collections in collections",
            )
        if depth == 0:
            return place + one.end()
    raise PlanError(
        f"the bracket at character {place + 1} is never closed", where=file,
        todo="copy the file again; its end is missing",
    )  # fmt: skip


def _parse(text: str, at: int, *, file: str) -> shapely.Geometry:
    odd = _ALLOWED.match(text)
    if odd is not None and odd.end() < len(text):
        raise PlanError(
            f"character {at + odd.end() + 1}, {text[odd.end()]!r}, does not belong into a geometry",
            where=file,
            todo=_TODO,
        )
    if word := re.search(r"(?<![\w.])[+-]?(nan|inf)\w*", text, re.IGNORECASE):
        raise PlanError(
            f"{word[0]} at character {at + word.start() + 1} is no coordinate", where=file,
            todo="export the polygon again",
        )  # fmt: skip
    try:
        with np.errstate(over="ignore"):  # a number too large is refused later, with its place
            return shapely.from_wkt(text)
    except shapely.errors.ShapelyError as error:
        reason = " ".join(str(error).replace("ParseException:", "").split())[:120]
        raise PlanError(
            f"the geometry at character {at + 1} cannot be read ({reason})", where=file, todo=_TODO
        ) from None


def _flat(geometry: shapely.Geometry) -> Iterator[shapely.Geometry]:
    if isinstance(geometry, Polygon | LineString | Point):
        yield geometry
        return
    for one in shapely.get_parts(geometry):
        if isinstance(one, shapely.GeometryCollection | MultiPolygon | MultiLineString):
            yield from _flat(one)
        else:
            yield one


def _check_numbers(xyz: np.ndarray[tuple[int, ...], np.dtype[np.float64]], label: str, *,
                   file: str) -> None:  # fmt: skip
    sound = np.abs(xyz[:, :2]) <= LARGEST
    if not sound.all():
        raise PlanError(
            f"{label}: {xyz[:, :2][~sound][0]:g} is no coordinate", where=file,
            todo="export the polygon again",
        )  # fmt: skip


def _system(srids: set[int | None], notes: list[str], *, file: str) -> pyproj.CRS | None:
    """Return the system that SRID names; None where it names none that a plan can lie in."""
    said = sorted(srid for srid in srids if srid is not None)
    if not said:
        return None
    if len(said) > 1 or None in srids:
        raise PlanError(
            "its geometries name different systems (SRID "
            + ", ".join(map(str, said))
            + (", and none)" if None in srids else ")"),
            where=file,
            todo="export all in one system",
        )
    try:
        crs = pyproj.CRS.from_epsg(said[0])
    except pyproj.exceptions.CRSError:
        notes.append(f"SRID {said[0]} is no known system: the coordinates were taken for metres")
        return None
    if crs.is_geographic:
        return crs
    try:
        return check_map_crs(f"EPSG:{said[0]}", where=file)
    except SiteError as error:
        raise PlanError(f"SRID {said[0]}: {error.message}", where=file, todo=error.todo) from None


def _elevation(heights: list[float], notes: list[str], *, file: str) -> float | None:
    if not heights:
        return None
    low, high = min(heights), max(heights)
    if high - low > ONE_STOREY_M:
        raise PlanError(
            f"its corners stand at heights from {low:g} to {high:g} m", where=file,
            todo="export one storey alone; a plan is flat",
        )  # fmt: skip
    if high > low:
        notes.append(f"heights from {low:g} to {high:g} m were laid flat")
    return low
