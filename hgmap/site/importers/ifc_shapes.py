"""What stands where on a storey: meshes of an IFC file, cut level or looked at from above (m)."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

CUT_M: Final = 1.0
"""Plans are drawn as cut about this high (m) above the floor; common practice, no source."""

GRID_M: Final = 1e-6
SMALLEST_M2: Final = 1e-4
OFF_A_CORNER_M: Final = 1.3e-4
"""A cut goes this much (m) beside the round height, where no corner of a mesh is."""


class Meshes:
    """Makes the mesh of a product in the file's axes, once: corners (n, 3) in m, triangles (m, 3).

    Holes for doors are not cut out of walls: a door is laid over its wall.
    """

    def __init__(self) -> None:
        import ifcopenshell.geom

        self._settings = ifcopenshell.geom.settings()
        self._settings.set("use-world-coords", True)
        self._settings.set("disable-opening-subtractions", True)
        self._lines = ifcopenshell.geom.settings()
        self._lines.set("use-world-coords", True)
        self._lines.set(
            "dimensionality", ifcopenshell.ifcopenshell_wrapper.CURVES_SURFACES_AND_SOLIDS
        )
        self._create = ifcopenshell.geom.create_shape
        self._made: dict[int, Mesh | None] = {}

    def of(self, product: Any) -> Mesh | None:
        """Return the mesh of a product, or of its parts together; None where it has none."""
        key = int(product.id())
        if key not in self._made:
            self._made[key] = self._whole(product)
        return self._made[key]

    def footprint(self, product: Any) -> tuple[shapely.Geometry, float] | None:
        """Return what the lines of a product's FootPrint enclose, and their height (m)."""
        for one in getattr(product.Representation, "Representations", None) or ():
            if one.RepresentationIdentifier != "FootPrint":
                continue
            try:
                made = self._create(self._lines, product, one).geometry
            except Exception:  # as in _mesh
                continue
            corners = np.array(made.verts, dtype=np.float64).reshape(-1, 3)
            edges = np.array(made.edges, dtype=np.intp).reshape(-1, 2)
            if len(edges) and np.isfinite(corners).all():
                return enclosed(corners[edges][:, :, :2]), float(corners[:, 2].min())
        return None

    def _whole(self, product: Any) -> Mesh | None:
        if product.Representation is not None:
            return self._mesh(product)
        parts = [
            mesh
            for relation in product.IsDecomposedBy
            for part in relation.RelatedObjects
            if getattr(part, "Representation", None) is not None
            and (mesh := self._mesh(part)) is not None
        ]
        if not parts:
            return None
        starts = np.cumsum([0, *(len(mesh.corners) for mesh in parts[:-1])])
        return Mesh(
            np.concatenate([mesh.corners for mesh in parts]),
            np.concatenate(
                [mesh.triangles + start for mesh, start in zip(parts, starts, strict=True)]
            ),
        )

    def _mesh(self, product: Any) -> Mesh | None:
        try:
            made = self._create(self._settings, product).geometry
        except Exception:  # a shape that cannot be made: whoever asks says that there is none
            return None
        corners = np.array(made.verts, dtype=np.float64).reshape(-1, 3)
        triangles = np.array(made.faces, dtype=np.intp).reshape(-1, 3)
        return Mesh(corners, triangles) if len(triangles) and np.isfinite(corners).all() else None


class Mesh:
    """Triangles in space."""

    def __init__(self, corners: NDArray[np.float64], triangles: NDArray[np.intp]) -> None:
        self.corners = corners
        self.triangles = triangles

    @property
    def bottom_m(self) -> float:
        """Height (m) of its lowest corner."""
        return float(self.corners[:, 2].min())

    @property
    def top_m(self) -> float:
        """Height (m) of its highest corner."""
        return float(self.corners[:, 2].max())

    def from_above(self) -> shapely.Geometry:
        """Return the ground that it covers: polygons, perhaps none."""
        flat = self.corners[self.triangles][:, :, :2]
        a, b, c = flat[:, 0], flat[:, 1], flat[:, 2]
        doubled = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
        lying = flat[np.abs(doubled) > 2 * GRID_M * GRID_M]
        rings = shapely.polygons(np.concatenate([lying, lying[:, :1]], axis=1))
        return tidied(shapely.union_all(rings, grid_size=GRID_M))

    def cut(self, height_m: float) -> shapely.Geometry:
        """Return what a level plane cuts of it: polygons, perhaps none."""
        return enclosed(self._crossings(height_m + OFF_A_CORNER_M))

    def _crossings(self, height_m: float) -> NDArray[np.float64]:
        """Return the lines, shape (n, 2, 2), in which the triangles meet a level plane."""
        start = self.corners[self.triangles]
        end = np.roll(start, -1, axis=1)
        met = (start[:, :, 2] > height_m) != (end[:, :, 2] > height_m)  # two sides, or none
        p, q = start[met], end[met]
        share = (height_m - p[:, 2]) / (q[:, 2] - p[:, 2])
        return np.asarray((p + (q - p) * share[:, None])[:, :2].reshape(-1, 2, 2), dtype=np.float64)


def enclosed(segments: NDArray[np.float64]) -> shapely.Geometry:
    """Return what lines, shape (n, 2, 2), enclose: polygons, perhaps none.

    A place is inside where a line from it to afar crosses them an odd number of times.
    """
    if not len(segments):
        return shapely.MultiPolygon()
    lines = shapely.set_precision(shapely.linestrings(segments), GRID_M)
    lines = shapely.union_all(lines[~shapely.is_empty(lines)], grid_size=GRID_M)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    inside = np.array(
        [_inside(face.representative_point(), segments) for face in faces], dtype=bool
    )
    return tidied(shapely.union_all(faces[inside]))


def _inside(point: shapely.Point, segments: NDArray[np.float64]) -> bool:
    (x1, y1), (x2, y2) = segments[:, 0].T, segments[:, 1].T
    crossing = (y1 > point.y) != (y2 > point.y)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = x1 + (point.y - y1) * (x2 - x1) / (y2 - y1)
    return int((crossing & (at > point.x)).sum()) % 2 == 1


def tidied(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a polygon or several, without corners that are none and without specks."""
    parts = [
        one.simplify(GRID_M)
        for one in shapely.get_parts(shapely.get_parts(shape))
        if one.geom_type == "Polygon" and one.area >= SMALLEST_M2
    ]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)


def middle_line(shape: shapely.Geometry) -> LineString | None:
    """Return the line through the middle of a long shape, from one short side to the other.

    Examples
    --------
    >>> middle_line(shapely.box(0, 0, 0.9, 0.1)).length
    0.9
    """
    around = shapely.minimum_rotated_rectangle(shape)
    if around.geom_type != "Polygon":
        return around if around.geom_type == "LineString" else None
    corners = shapely.get_coordinates(around)
    a, b, c, d = corners[:4]
    if np.hypot(*(b - a)) < np.hypot(*(c - b)):
        return LineString([(a + b) / 2, (c + d) / 2])
    return LineString([(b + c) / 2, (d + a) / 2])
