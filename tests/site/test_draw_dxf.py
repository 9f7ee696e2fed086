"""Drawing a floor from DXF: what of a file becomes which part."""

from __future__ import annotations

import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import Matrix44

from hgmap.errors import PlanError
from hgmap.site.importers.dxf import draw_dxf
from tests.site.dxf_cases import (
    DOORS,
    all_ends,
    binary,
    box,
    bytes_of,
    drawn,
    empty,
    ends,
    house,
    noted,
    of_role,
)

GALLERY = Path(__file__).parents[3] / "shared" / "data" / "plans" / "jps-Gallery.dxf"
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
HOUSE_DOORS = {frozenset((float(x), float(y)) for x, y in door) for door in DOORS}


# Versions and encodings


@pytest.mark.parametrize("version", VERSIONS)
def test_the_house_is_the_same_in_every_version(version: str) -> None:
    data = bytes_of(house(version=version), sound=True)
    (drawing,) = draw_dxf(data, file="a.dxf", unit="m" if version == "R12" else None)
    assert len(of_role(drawing, "wall")) == 8
    assert all_ends(of_role(drawing, "door")) == HOUSE_DOORS
    assert [part.name for part in of_role(drawing, "text")] == ["Lab", "Store"]
    assert (drawing.metres_per_unit, drawing.crs, drawing.storey) == (1.0, None, "")


def test_a_version_without_units_is_told_by_its_doors() -> None:
    drawing = drawn(house(version="R12", per_metre=1000))
    assert drawing.metres_per_unit == 0.001
    assert noted(drawing, "the header says no unit", "3 doors of 900 units are right in mm")


def test_a_binary_file_is_read_like_a_text() -> None:
    (drawing,) = draw_dxf(binary(house()), file="b.dxf")
    assert drawing.parts == drawn(house()).parts


def test_names_of_an_old_file_are_read_in_its_own_code_page() -> None:
    document = ezdxf.new("R2000")
    document.encoding = "cp1252"
    document.header["$INSUNITS"] = 6
    space = document.modelspace()
    box(space, 0, 0, 5, 4, "Wände")
    space.add_text("Küche", dxfattribs={"layer": "Raumnamen", "insert": (2, 2)})
    drawing = drawn(document)
    assert [part.name for part in of_role(drawing, "text")] == ["Küche"]
    assert len(of_role(drawing, "wall")) == 1


def test_lines_that_end_in_carriage_returns_are_read_alike() -> None:
    data = bytes_of(house()).replace(b"\n", b"\r\n")
    (drawing,) = draw_dxf(data, file="a.dxf")
    assert all_ends(of_role(drawing, "door")) == HOUSE_DOORS


# Walls


def test_walls_are_lines_thin_outlines_are_solid_and_a_room_drawn_round_is_a_line() -> None:
    document = empty()
    space = document.modelspace()
    box(space, 0, 0, 10, 0.2, "WALLS")  # a wall's outline
    box(space, 0, 0, 10, 8, "WALLS")  # the outer face of all walls
    box(space, 4, 4, 4.4, 4.4, "WALLS")  # a column
    space.add_lwpolyline([(1, 1), (5, 1), (5, 3)], dxfattribs={"layer": "WALLS"})
    kinds = [part.geometry.geom_type for part in of_role(drawn(document), "wall")]
    assert kinds == ["Polygon", "LineString", "Polygon", "LineString"]


def test_a_line_as_wide_as_its_wall_is_solid() -> None:
    document = empty()
    line = document.modelspace().add_lwpolyline([(0, 0), (5, 0)], dxfattribs={"layer": "WALL"})
    line.dxf.const_width = 0.3
    (wall,) = of_role(drawn(document), "wall")
    assert wall.geometry.area == pytest.approx(1.5)


def test_a_solid_hatch_is_a_wall_with_its_holes_and_a_pattern_is_none() -> None:
    document = empty()
    space = document.modelspace()
    solid = space.add_hatch(dxfattribs={"layer": "WALL"})
    solid.paths.add_polyline_path([(0, 0), (10, 0), (10, 8), (0, 8)], is_closed=True)
    solid.paths.add_polyline_path([(0.3, 0.3), (9.7, 0.3), (9.7, 7.7), (0.3, 7.7)], is_closed=True)
    pattern = space.add_hatch(dxfattribs={"layer": "WALL"})
    pattern.set_pattern_fill("ANSI31")
    pattern.paths.add_polyline_path([(20, 0), (30, 0), (30, 8)], is_closed=True)
    drawing = drawn(document)
    (wall,) = of_role(drawing, "wall")
    assert wall.geometry.area == pytest.approx(80 - 9.4 * 7.4)
    assert noted(drawing, "layer WALL: wall; used: 1 HATCH; left out: 1 HATCH")


def test_faces_and_solids_are_walls_and_a_standing_face_is_seen_as_a_line() -> None:
    document = empty()
    space = document.modelspace()
    on = {"layer": "WALL"}
    space.add_solid([(0, 0), (4, 0), (0, 0.2), (4, 0.2)], dxfattribs=on)
    space.add_3dface([(0, 5, 0), (4, 5, 0), (4, 5, 2.5), (0, 5, 2.5)], dxfattribs=on)
    drawing = drawn(document)
    solid, standing = of_role(drawing, "wall")
    assert solid.geometry.area == pytest.approx(0.8)
    assert ends(standing) == {(0, 5), (4, 5)}
    assert noted(drawing, "heights from 0.00 to 2.50 m were laid flat")


def test_several_parallel_lines_drawn_as_one_are_taken_apart() -> None:
    document = empty()
    document.modelspace().add_mline([(0, 0), (8, 0)], dxfattribs={"layer": "WALL"})
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 2
    assert all(part.label.startswith("MLINE") for part in of_role(drawing, "wall"))


@pytest.mark.parametrize("k", [1.0, 1000.0, 1 / 0.0254])
@pytest.mark.parametrize("kind", ["ARC", "CIRCLE", "ELLIPSE", "SPLINE", "BULGE", "OLD"])
def test_a_curve_is_followed_to_five_millimetres(kind: str, k: float) -> None:
    document = empty(INSUNITS={1.0: 6, 1000.0: 4, 1 / 0.0254: 1}[k])
    space, on, radius = document.modelspace(), {"layer": "WALL"}, 21 * k
    if kind == "ARC":
        space.add_arc((0, 0), radius, 0, 90, dxfattribs=on)
    elif kind == "CIRCLE":
        space.add_circle((0, 0), radius, dxfattribs=on)
    elif kind == "ELLIPSE":
        space.add_ellipse((0, 0), (radius, 0), 1.0, 0, 2, dxfattribs=on)
    elif kind == "BULGE":
        space.add_lwpolyline([(radius, 0, 1), (-radius, 0, 0)], format="xyb", dxfattribs=on)
    elif kind == "OLD":
        space.add_polyline2d([(radius, 0, 1), (-radius, 0, 0)], format="xyb", dxfattribs=on)
    else:
        angles = np.linspace(0, 2, 20)
        space.add_spline(
            [(radius * math.cos(a), radius * math.sin(a)) for a in angles], dxfattribs=on
        )
    space.add_line((0, 0), (5 * k, 0), dxfattribs=on)
    wall, _ = of_role(drawn(document), "wall")
    if kind == "SPLINE":
        (spline,) = space.query("SPLINE")
        true = shapely.LineString([p.vec2 for p in spline.flattening(1e-5 * k, segments=64)])
        assert shapely.hausdorff_distance(wall.geometry, true, densify=0.02) <= 0.0055 * k
        return
    points = shapely.get_coordinates(shapely.segmentize(wall.geometry, 0.02 * radius))
    off_m = np.abs(np.hypot(*points.T) - radius) / k
    assert off_m.max() <= 0.0055


def test_curved_windows_are_kept_and_open_casements_are_not() -> None:
    document = house()
    space = document.modelspace()
    on = {"layer": "A-GLAZ"}
    space.add_arc((5, 3), 4, 20, 60, dxfattribs=on)
    space.add_arc((0, 4), 0.6, 0, 90, dxfattribs=on)
    box(space, 0, 3, 0.1, 4, "A-GLAZ")
    drawing = drawn(document)
    assert len(of_role(drawing, "window")) == 2
    assert noted(drawing, "layer A-GLAZ: window", "1 ARC (a casement that stands open)")


# Areas


def test_closed_lines_on_layers_of_rooms_are_rooms_and_nearly_closed_ones_are_closed() -> None:
    document = empty()
    space = document.modelspace()
    box(space, 0, 0, 5, 4, "A-AREA")
    space.add_lwpolyline(
        [(5, 0), (9, 0), (9, 4), (5, 4), (5, 0.02)], dxfattribs={"layer": "A-AREA"}
    )
    space.add_lwpolyline([(9, 0), (12, 0), (12, 4)], dxfattribs={"layer": "A-AREA"})
    space.add_line((0, 0), (5, 4), dxfattribs={"layer": "A-AREA"})
    drawing = drawn(document)
    assert [part.geometry.area for part in of_role(drawing, "room")] == pytest.approx(
        [20, 16], rel=0.01
    )
    assert noted(drawing, "its ends, 20.0 mm apart, were joined")
    assert noted(drawing, "layer A-AREA: room", "1 LINE, 1 LWPOLYLINE (not closed)")


def test_solid_hatches_are_rooms_only_where_no_line_is_closed() -> None:
    document = empty()
    space = document.modelspace()
    for west in (0, 6):
        hatch = space.add_hatch(dxfattribs={"layer": "ROOMS"})
        hatch.paths.add_polyline_path([(west, 0), (west + 5, 0), (west + 5, 4), (west, 4)])
    assert len(of_role(drawn(document), "room")) == 2
    box(space, 0, 0, 5, 4, "ROOMS")
    drawing = drawn(document)
    assert [part.label[:10] for part in of_role(drawing, "room")] == ["LWPOLYLINE"]
    assert noted(drawing, "2 HATCH (drawn by its outline too)")


def test_what_stands_on_free_floor_is_solid_however_thick() -> None:
    document = empty()
    space = document.modelspace()
    box(space, 0, 0, 20, 10, "walkable area")
    box(space, 2, 2, 6, 6, "obstacles")
    box(space, 0, 0, 20, 10, "walls")
    drawing = drawn(document)
    kinds = {part.geometry.geom_type: part.geometry.length for part in of_role(drawing, "wall")}
    assert kinds == {"Polygon": 16, "LineString": 60}
    assert [part.role for part in of_role(drawing, "walkable")] == ["walkable"]


# Texts


def test_names_come_without_control_codes_areas_or_heights() -> None:
    document = house()
    space = document.modelspace()
    on = {"layer": "A-AREA-IDEN", "insert": (1, 1), "char_height": 0.2}
    space.add_mtext(r"{\fArial|b0|i0;Clean room}\P2.14\P24,50 m²\P+3.20", dxfattribs=on)
    space.add_mtext(r"Oven \H0.5x;\S1/2;", dxfattribs=on)
    space.add_text("%%uAnnealing%%u 400%%d", dxfattribs={"layer": "A-AREA-IDEN", "insert": (7, 1)})
    drawing = drawn(document)
    names = [part.name for part in of_role(drawing, "text")]
    assert names == ["Lab", "Store", "Clean room 2.14", "Oven 1/2", "Annealing 400°"]
    assert noted(drawing, "1 text says an area, a height or a length")


def test_attributes_of_one_block_are_one_name_with_its_number() -> None:
    document = house()
    stamp = document.blocks.new("STAMP")
    for number, tag in enumerate(("ROOM_NAME", "ROOM_NUMBER", "AREA")):
        stamp.add_attdef(tag, (0, -number), height=0.2, dxfattribs={"layer": "0"})
    placed = document.modelspace().add_blockref(
        "STAMP", (7, 2), dxfattribs={"layer": "A-AREA-IDEN"}
    )
    placed.add_auto_attribs({"ROOM_NAME": "Archive", "ROOM_NUMBER": "B12", "AREA": "24.5"})
    part = of_role(drawn(document), "text")[-1]
    assert (part.name, part.id) == ("Archive", "B12")
    assert part.geometry.x == pytest.approx(7, abs=1.0)


def test_a_text_stands_about_its_middle_whatever_its_alignment() -> None:
    document = house()
    space = document.modelspace()
    from ezdxf.enums import MTextEntityAlignment, TextEntityAlignment

    for alignment in (TextEntityAlignment.LEFT, TextEntityAlignment.TOP_RIGHT,
                      TextEntityAlignment.MIDDLE_CENTER):  # fmt: skip
        text = space.add_text("ROOM", height=1, dxfattribs={"layer": "A-AREA-IDEN"})
        text.set_placement((100, 100), align=alignment)
    for corner in MTextEntityAlignment:
        m = space.add_mtext("ROOM", dxfattribs={"layer": "A-AREA-IDEN", "char_height": 1})
        m.set_location((100, 100), attachment_point=corner)
    places = [(p.geometry.x, p.geometry.y) for p in of_role(drawn(document), "text")][2:]
    assert places[0] == pytest.approx((101.4, 100.5))
    assert places[1] == pytest.approx((98.6, 99.5))
    assert places[2] == pytest.approx((100, 100))
    assert places[3] == pytest.approx((101.4, 99.5))  # top left hangs to the right and down
    assert places[7] == pytest.approx((100, 100))
    assert places[11] == pytest.approx((98.6, 100.5))


def test_texts_of_unknown_layers_are_names_only_where_there_are_no_others() -> None:
    document = house()
    space = document.modelspace()
    space.add_text("NOT TO SCALE", dxfattribs={"layer": "X1", "insert": (1, 1)})
    assert [part.name for part in of_role(drawn(document), "text")] == ["Lab", "Store"]
    for text in list(space.query('TEXT[layer=="A-AREA-IDEN"]')):
        space.delete_entity(text)
    drawing = drawn(document)
    assert [part.name for part in of_role(drawing, "text")] == ["NOT TO SCALE"]
    assert noted(drawing, "texts of all layers were taken")


def test_a_mirror_image_is_told_by_its_texts() -> None:
    document = house()
    space = document.modelspace()
    space.add_text("Hall", dxfattribs={"layer": "A-AREA-IDEN", "insert": (1, 1)})
    assert not noted(drawn(document), "mirror")
    for entity in space:
        entity.transform(Matrix44.scale(1, -1, 1))
    drawing = drawn(document)
    assert noted(drawing, "3 of 3 texts read as in a mirror")
    flipped = {frozenset((x, -y + 0.0) for x, y in door) for door in HOUSE_DOORS}
    assert all_ends(of_role(drawing, "door")) == flipped


def test_what_is_drawn_from_below_lies_where_it_is_seen() -> None:
    document = empty()
    space = document.modelspace()
    on = {"layer": "WALL", "extrusion": (0, 0, -1)}
    space.add_lwpolyline([(-10, 0), (0, 0), (0, 8)], dxfattribs=on)
    space.add_arc((-10, 4), 2, 0, 90, dxfattribs=on)
    space.add_text("Hall", dxfattribs={**on, "layer": "ROOM NAMES", "insert": (-5, 4)})
    drawing = drawn(document)
    line, arc = of_role(drawing, "wall")
    assert ends(line) == {(10, 0), (0, 8)}
    assert ends(arc) == {(8, 4), (10, 6)}
    (name,) = of_role(drawing, "text")
    assert 0 < name.geometry.x < 5  # it runs to the left from x = 5


# Layers


def test_each_layer_has_a_line_with_what_was_used_and_left_out() -> None:
    document = house()
    space = document.modelspace()
    for _ in range(3):
        space.add_line((0, 0), (1, 1), dxfattribs={"layer": "A-FURN"})
    space.add_point((1, 1), dxfattribs={"layer": "A-WALL"})
    space.add_line((1, 1), (1, 1), dxfattribs={"layer": "A-WALL"})
    space.add_line((1, 1), (4, 1), dxfattribs={"layer": "Plan 7"})
    drawing = drawn(document)
    for line in (
        "layer A-WALL: wall; used: 8 LINE; left out: 1 POINT; 1 LINE (without a length)",
        "layer A-DOOR: door; used: 3 ARC, 3 LINE",
        "layer A-AREA-IDEN: text; used: 2 TEXT",
        "layer A-FURN: furniture; left out: 3 LINE",
        "layer Plan 7: not known; left out: 1 LINE",
    ):
        assert line in drawing.notes


def test_a_person_can_say_what_layers_are_for() -> None:
    document = empty()
    space = document.modelspace()
    box(space, 0, 0, 5, 4, "Plan 1")
    box(space, 5, 0, 9, 4, "plan 2")
    box(space, 9, 0, 12, 4, "A-WALL")
    drawing = drawn(document, layers={"wall": "PLAN ?", "ignore": "nothing*;A-*"})
    assert len(of_role(drawing, "wall")) == 2
    assert noted(drawing, "layer Plan 1: wall, as said; used: 1 LWPOLYLINE")
    assert noted(drawing, "layer A-WALL: ", "left out: 1 LWPOLYLINE")
    assert len(of_role(drawn(document, layers={"wall": "Plan 1"}), "wall")) == 1


def test_layers_that_are_off_or_frozen_are_left_out_unless_they_are_named() -> None:
    document = house()
    space = document.modelspace()
    for name, state in (("WALL OFF", "off"), ("WALL FROZEN", "freeze")):
        getattr(document.layers.add(name), state)()
        box(space, 0, 0, 9, 9, name)
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 8
    assert noted(drawing, "layer WALL OFF: wall; left out: 1 LWPOLYLINE (switched off)")
    assert noted(drawing, "layer WALL FROZEN: wall; left out: 1 LWPOLYLINE (frozen)")
    said = drawn(document, layers={"wall": "WALL*;A-WALL"})
    assert len(of_role(said, "wall")) == 10


def test_paper_space_and_what_is_made_invisible_are_not_read() -> None:
    document = house()
    document.paperspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "A-WALL"})
    document.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "A-WALL", "invisible": 1})
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 8
    assert noted(drawing, "layer A-WALL", "1 LINE (made invisible)")


# Heights, and far places


def test_several_storeys_over_one_another_are_refused() -> None:
    document = house()
    space = document.modelspace()
    for x in range(12):
        space.add_line((x, 1, 3.2), (x, 5, 3.2), dxfattribs={"layer": "A-WALL"})
    with pytest.raises(PlanError, match=r"several storeys.*0\.00 m \(\d+ shapes\), 3\.20 m \(12"):
        drawn(document)


def test_upper_edges_that_lie_over_lower_ones_are_no_second_storey() -> None:
    document = house()
    space = document.modelspace()
    for line in list(space.query("LINE")):
        space.add_entity(line.copy().translate(0, 0, 2.6))
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 8
    assert noted(drawing, "8 shapes at a height of 2.60 m lie over others")


def test_the_height_of_a_floor_is_kept() -> None:
    document = house()
    for entity in document.modelspace():
        entity.translate(0, 0, 7.5)
    assert drawn(document).elevation_m == pytest.approx(7.5)
    assert drawn(house()).elevation_m is None


@pytest.mark.parametrize("east", [1e6, 1e9])
def test_a_house_far_from_the_origin_keeps_its_millimetres(east: float) -> None:
    document = house()
    for entity in document.modelspace():
        entity.translate(east, -2 * east, 0)
    drawing = drawn(document)
    doors = of_role(drawing, "door")
    assert [part.geometry.length for part in doors] == pytest.approx([0.9] * 3, abs=1e-5)
    moved = {frozenset((x + east, y - 2 * east) for x, y in door) for door in HOUSE_DOORS}
    assert all_ends(doors) == moved


def test_a_stray_far_away_is_left_out_and_named() -> None:
    document = house()
    space = document.modelspace()
    for x in range(60):
        space.add_line((0.1 * x, 1), (0.1 * x, 2), dxfattribs={"layer": "A-WALL"})
    space.add_line((1e7, 1e7), (1e7 + 1, 1e7), dxfattribs={"layer": "A-WALL"})
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 68
    assert noted(drawing, "LINE", "m off the rest and was left out")


# A drawing that nobody here made


@pytest.mark.skipif(not GALLERY.is_file(), reason="the public plans (../shared/data) are not here")
def test_routes_and_exits_of_a_public_drawing_are_no_walls() -> None:
    (drawing,) = draw_dxf(GALLERY.read_bytes(), file=GALLERY.name)
    (floor,) = of_role(drawing, "walkable")
    walls = of_role(drawing, "wall")
    # one outline with an area, 16 closed outlines of what stands on it, one stray of 8 mm
    assert len(walls) == 17
    assert sum(part.geometry.geom_type == "Polygon" for part in walls) == 16
    solid = shapely.union_all([part.geometry for part in walls])
    assert 0.2 < solid.area / floor.geometry.area < 0.35
    assert all(floor.geometry.buffer(0.01).covers(part.geometry) for part in walls)
    for layer in ("jps-journeys", "jps-exits", "jps-waypoints", "jps-distributions"):
        assert noted(drawing, f"layer {layer}: not known; left out")
