"""Free floor from well-known text."""

from __future__ import annotations

from pathlib import Path

import pyproj
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.wkt import draw_wkt
from tests.site.dxf_cases import drawn_or_not

PLANS = Path(__file__).parents[3] / "shared" / "data" / "plans"
SQUARE = "POLYGON ((0 0, 8 0, 8 6, 0 6, 0 0))"
HOLED = "POLYGON((0 0,8 0,8 6,0 6,0 0),(2 2,3 2,3 3,2 3,2 2))"


def drawn(text: str) -> Drawing:
    (drawing,) = draw_wkt(text.encode(), file="a.wkt")
    return drawing


@pytest.mark.parametrize(
    ("text", "areas"),
    [
        (SQUARE, [48]),
        (HOLED, [47]),
        ("\ufeff  polygon((0 0,8 0,8 6,0 6,0 0))\r\n", [48]),
        ("MULTIPOLYGON (((0 0, 8 0, 8 6, 0 6, 0 0)), ((9 0, 10 0, 10 1, 9 0)))", [48, 0.5]),
        (f"GEOMETRYCOLLECTION ({SQUARE}, GEOMETRYCOLLECTION ({HOLED}))", [48, 47]),
        (f"{SQUARE}\n{HOLED}\n\n{SQUARE};", [48, 47, 48]),
        ("POLYGON Z ((0 0 3, 8 0 3, 8 6 3, 0 6 3, 0 0 3))", [48]),
        (f"POLYGON EMPTY\n{SQUARE}", [48]),
    ],
)
def test_polygons_are_free_floor_however_they_are_put(text: str, areas: list[float]) -> None:
    drawing = drawn(text)
    assert [part.geometry.area for part in drawing.parts] == areas
    assert {part.role for part in drawing.parts} == {"walkable"}
    assert not any(part.geometry.has_z for part in drawing.parts)
    assert (drawing.metres_per_unit, drawing.crs) == (1.0, None)


def test_lines_are_walls_and_points_are_named() -> None:
    drawing = drawn(f"{SQUARE}\nMULTILINESTRING((1 1, 1 5),(2 1, 2 5))\nPOINT (3 3)")
    assert [part.role for part in drawing.parts] == ["walkable", "wall", "wall"]
    assert drawing.parts[1].label == "geometry 2 (character 37)"
    assert drawing.notes == ("1 Point that is no floor",)


def test_heights_of_one_storey_are_laid_flat_and_those_of_two_are_refused() -> None:
    drawing = drawn("POLYGON Z ((0 0 3, 8 0 3.1, 8 6 3, 0 6 3, 0 0 3))")
    assert drawing.notes == ("heights from 3 to 3.1 m were laid flat",)
    assert drawing.elevation_m == 3
    with pytest.raises(PlanError, match=r"heights from 0 to 3 m.*one storey alone"):
        drawn("POLYGON Z ((0 0 0, 8 0 0, 8 6 0, 0 0 0))\nPOLYGON Z ((0 0 3, 8 0 3, 8 6 3, 0 0 3))")


def test_a_system_before_the_geometry_is_taken() -> None:
    drawing = drawn("SRID=25832;POLYGON ((500000 0, 500008 0, 500008 6, 500000 0))")
    assert drawing.crs == pyproj.CRS.from_epsg(25832)
    assert drawn("SRID=0;" + SQUARE).crs is None
    unknown = drawn("SRID=987654321;" + SQUARE)
    assert unknown.crs is None
    assert unknown.notes == (
        "SRID 987654321 is no known system: the coordinates were taken for metres",
    )
    with pytest.raises(PlanError, match=r"different systems \(SRID 25832, 25833\)"):
        drawn(f"SRID=25832;{SQUARE}\nSRID=25833;{SQUARE}")
    with pytest.raises(PlanError, match=r"different systems \(SRID 25832, and none\)"):
        drawn(f"SRID=25832;{SQUARE}\n{SQUARE}")
    with pytest.raises(PlanError, match=r"SRID 2263: .*not a projected system in metres"):
        drawn("SRID=2263;" + SQUARE)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "a.wkt: is empty; write POLYGON"),
        (b"\xff\xfe\x00", "is no text (byte 1)"),
        (b"hello", "expected a geometry at character 1, found 'hello'"),
        (SQUARE.encode() + b"\n<svg>", "expected a geometry at character 37, found '<svg>'"),
        (b"POLYGON ((0 0, 8 0, 8 6", "the bracket at character 9 is never closed"),
        (b"POLYGON ((0 0, 8 0))", "the geometry at character 1 cannot be read"),
        (b"POLYGON ((0 0, 8 0, 8 6, 1 1))", "the geometry at character 1 cannot be read"),
        (b"POLYGON ((0 0, 8 nan, 8 6, 0 0))", "nan at character 18 is no coordinate"),
        (b"POLYGON ((0 0, 8 -inf, 8 6, 0 0))", "-inf at character 18 is no coordinate"),
        (b"POLYGON ((0 0, 1e400 0, 8 6, 0 0))", "inf is no coordinate"),
        (b"POLYGON ((0 0, 1e300 0, 8 6, 0 0))", "1e+300 is no coordinate"),
        (b"POLYGON ((0 0, 8 $0, 8 6, 0 0))", "character 18, '$', does not belong"),
        (b"LINESTRING (0 0, 8 0)", "has no polygon with an area"),
        (b"POLYGON ((0 0, 8 0, 4 0, 0 0))", "has no polygon with an area"),
        (b"POLYGON EMPTY", "has no polygon with an area"),
        (b"(" * 50 + b")" * 50, "expected a geometry"),
        (b"GEOMETRYCOLLECTION(" * 5000 + b")" * 5000, "more than 32 brackets inside one another"),
        (b"CIRCULARSTRING (0 0, 1 1, 2 0)", "expected a geometry"),
    ],
)
def test_what_is_no_floor_is_refused_with_its_place(data: bytes, message: str) -> None:
    with pytest.raises(PlanError) as caught:
        draw_wkt(data, file="a.wkt")
    assert message in str(caught.value)
    assert "\n" not in str(caught.value)


@given(st.text(st.sampled_from("POLYGNMULTISRD=;(),.0123456789 eE-+Z\n"), max_size=80))
def test_any_text_is_a_drawing_or_our_own_error(text: str) -> None:
    found = drawn_or_not(lambda: draw_wkt(text.encode(), file="a.wkt"))
    assert isinstance(found, Drawing) or "\n" not in found


@given(st.lists(st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6)), min_size=3, max_size=9))
def test_what_a_library_writes_is_read_back_exactly(corners: list[tuple[float, float]]) -> None:
    polygon = shapely.MultiPoint(corners).convex_hull
    if not isinstance(polygon, shapely.Polygon) or polygon.area == 0:
        return
    (part,) = drawn(shapely.to_wkt(polygon, rounding_precision=-1)).parts
    assert part.geometry.equals_exact(polygon, 1e-9 * 1e6)


@pytest.mark.skipif(
    not (PLANS / "jps-BUW.wkt").is_file(), reason="the public plans (../shared/data) are not here"
)
@pytest.mark.parametrize(
    ("name", "holes", "area"),
    [
        # holes and areas as shapely has them
        ("jps-office_rooms.wkt", 0, 69.62), ("jps-BUW.wkt", 40, 1377.57),
        ("jps-arena.wkt", 18, 262.45), ("horseshoe.wkt", 0, 6.557),
    ],
)  # fmt: skip
def test_public_plans_are_one_floor_with_their_walls_as_holes(
    name: str, holes: int, area: float
) -> None:
    (drawing,) = draw_wkt((PLANS / name).read_bytes(), file=name)
    (part,) = drawing.parts
    assert len(part.geometry.interiors) == holes
    assert part.geometry.area == pytest.approx(area, abs=0.005)
    assert drawing.notes == ()
