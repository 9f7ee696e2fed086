"""Opening an IFC file (ISO 16739) by ifcopenshell: whether it is whole, its unit, its place."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyproj
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.georef import WGS84
from hgmap.site.importers.names import one_line_text

MOST_BYTES: Final = 256 * 2**20
MOST_PRODUCTS: Final = 100_000
"""Spaces, walls, doors and windows; ours, no source."""

SCALE_AGREES: Final = 0.002
"""As far as a map's own scale may lead away from 1; beyond it, it is a unit that was forgotten."""

EDGE_DEG: Final = 1.0
"""So far beyond its area (degrees) a system is still used."""

_BEGIN: Final = b"ISO-10303-21;"
_END: Final = b"END-ISO-10303-21;"
_OTHER: Final = {
    b"PK\x03\x04": "is a ZIP archive (ifcZIP)",
    b"<": "is XML (ifcXML)",
    b"{": "is JSON",
    b"\x89HDF": "is HDF5 (ifcHDF)",
}


@dataclass(frozen=True, slots=True)
class OnTheMap:
    """From the file's metres to a map's: turn, stretch, then move.

    Attributes
    ----------
    crs : pyproj.CRS
        In metres.
    east_m, north_m : float
        Of the file's origin.
    turn_rad : float
        Of the file's x axis from east, counterclockwise.
    scale : float
        Metres of the map for one of the file's; near 1.
    """

    crs: pyproj.CRS
    east_m: float
    north_m: float
    turn_rad: float
    scale: float

    def __call__(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Convert coordinates of shape (n, 2)."""
        cos, sin = self.scale * math.cos(self.turn_rad), self.scale * math.sin(self.turn_rad)
        turned = xy @ np.array([[cos, sin], [-sin, cos]])
        return np.asarray(turned + np.array([self.east_m, self.north_m]), dtype=np.float64)


def open_ifc(data: bytes, *, file: str) -> Any:
    """Open the bytes of a file in the STEP physical form (ISO 10303-21).

    Raises
    ------
    PlanError
        If it is in another form, cut short, damaged or too large, or ifcopenshell is not there.
    """
    _check(data, file=file)
    try:
        import ifcopenshell
    except ImportError:
        raise PlanError(
            "IFC needs ifcopenshell", where=file, todo="install it: pip install 'hgmap[ifc]'"
        ) from None
    ifcopenshell.get_log()  # what others did not read
    try:
        model = ifcopenshell.file.from_string(_in_ascii(data))
        schema = str(model.schema)
        read = len(list(model.entity_names()))
    except Exception as error:  # the library raises whatever it meets first
        raise PlanError(
            f"cannot be read as IFC ({one_line_text(error)})",
            where=file,
            todo="export it again as IFC4",
        ) from None
    complaints = [line for line in ifcopenshell.get_log().splitlines() if line.startswith("[error")]
    written = len(re.findall(rb"(?:^|;)\s*#\d+\s*=", data, re.MULTILINE))
    if read < written and complaints:
        said = one_line_text(re.sub(r"^(\[[^]]*\]\s*)+", "", complaints[0]))
        raise PlanError(
            f"{written - read} of its {written} entries cannot be read ({said})",
            where=file,
            todo=f"it is damaged, or not {schema}: export it again",
        )
    products = sum(len(model.by_type(one)) for one in ("IfcSpace", "IfcWall", "IfcDoor"))
    if products > MOST_PRODUCTS:
        raise PlanError(
            f"has {products} spaces, walls and doors",
            where=file,
            todo=f"export one building: at most {MOST_PRODUCTS}",
        )
    return model


def _in_ascii(data: bytes) -> str:
    """Write letters that should not stand in such a file as it would (ISO 10303-21, 6.4.3.3)."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return re.sub(r"[^\x00-\x7f]+", _escaped, text)


def _escaped(letters: re.Match[str]) -> str:
    return f"\\X4\\{letters[0].encode('utf-32-be', errors='replace').hex().upper()}\\X0\\"


def _check(data: bytes, *, file: str) -> None:
    if not data.strip():
        raise PlanError("is empty", where=file, todo="export it again")
    if len(data) > MOST_BYTES:
        raise PlanError(
            f"is larger than {MOST_BYTES / 2**20:.0f} MiB",
            where=file,
            todo="export spaces, walls, doors and windows alone",
        )
    start = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    for signature, what in _OTHER.items():
        if start.startswith(signature):
            raise PlanError(what, where=file, todo="export it as plain IFC (STEP)")
    if not start.startswith(_BEGIN):
        raise PlanError(
            "does not begin like an IFC file", where=file, todo="export it as plain IFC (STEP)"
        )
    if not data.rstrip(b" \t\r\n\x00").endswith(_END):
        raise PlanError("is cut short", where=file, todo="copy or export it again")


def metres_per_unit(model: Any, notes: list[str], *, file: str) -> float:
    """Return the length (m) of the file's unit of length; a metre where it names none."""
    import ifcopenshell.util.unit

    if not ifcopenshell.util.unit.get_project_unit(model, "LENGTHUNIT"):
        notes.append("the file names no unit of length: taken for metres; check the width")
        return 1.0
    unit = float(ifcopenshell.util.unit.calculate_unit_scale(model))
    if not 1e-6 <= unit <= 1e4:
        raise PlanError(
            f"its unit of length is {unit:g} m", where=file, todo="export it in millimetres"
        )
    return unit


def place_on_the_map(model: Any, unit_m: float, notes: list[str]) -> OnTheMap | None:
    """Read IfcMapConversion and IfcProjectedCRS; None, and why, where they give no place."""
    import ifcopenshell.util.geolocation
    import ifcopenshell.util.unit

    if str(model.schema) == "IFC2X3" or not model.by_type("IfcMapConversion"):
        return None
    target = model.by_type("IfcMapConversion")[0].TargetCRS
    name = one_line_text(getattr(target, "Name", None))
    try:
        crs = pyproj.CRS.from_user_input(name)
    except pyproj.exceptions.CRSError:
        notes.append(f"its map system {name!r} is not known: it has no place on the map")
        return None
    metric = crs.is_projected and abs(crs.axis_info[0].unit_conversion_factor - 1) < 1e-9
    if not metric:
        notes.append(f"its map system {name} is not in metres: it has no place on the map")
        return None
    wcs = ifcopenshell.util.geolocation.get_wcs(model)
    if wcs is not None and not np.allclose(wcs, np.eye(4), atol=1e-9):
        notes.append("its world axes are moved (WorldCoordinateSystem): no place on the map")
        return None
    found = ifcopenshell.util.geolocation.get_helmert_transformation_parameters(model)
    east, north = float(found.e), float(found.n)
    map_m = _map_metres(getattr(target, "MapUnit", None), unit_m, crs, (east, north))
    if map_m is None:
        notes.append(f"its place, {east:g} {north:g}, lies outside {name}: left out")
        return None
    scale = float(found.scale) * float(found.factor_x) * map_m / unit_m
    if abs(scale - 1) > SCALE_AGREES:
        if abs(float(found.scale) - 1) > SCALE_AGREES:
            notes.append(
                f"its map scale {float(found.scale):g} would make 1 m {scale:g} m long: left out"
            )
        scale = 1.0
    turn = math.atan2(float(found.xao), float(found.xaa))
    return OnTheMap(crs, east * map_m, north * map_m, turn, scale)


def _map_metres(
    unit: Any, unit_m: float, crs: pyproj.CRS, place: tuple[float, float]
) -> float | None:
    """Return the length (m) of the unit that a place on the map is written in; None if none fits.

    Where the file does not say: metres, or the file's own unit, whichever lies where the system
    is meant for.
    """
    import ifcopenshell.util.unit

    given = [float(ifcopenshell.util.unit.get_named_unit_scale(unit))] if unit is not None else []
    for length_m in given or (1.0, unit_m):
        if _within(crs, place[0] * length_m, place[1] * length_m):
            return length_m
    return None


def _within(crs: pyproj.CRS, east_m: float, north_m: float) -> bool:
    lon, lat = pyproj.Transformer.from_crs(crs, WGS84, always_xy=True).transform(east_m, north_m)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        return False
    area = crs.area_of_use
    return area is None or (
        area.west - EDGE_DEG <= lon <= area.east + EDGE_DEG
        and area.south - EDGE_DEG <= lat <= area.north + EDGE_DEG
    )
