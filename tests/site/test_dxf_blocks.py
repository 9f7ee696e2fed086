"""Blocks of a DXF: exploded where they are inserted, and guarded."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from ezdxf.document import Drawing as Document
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers import dxf_shapes
from tests.site.dxf_cases import all_ends, box, drawn, empty, ends, house, noted, of_role


def with_block(name: str = "B") -> tuple[Document, Any, Any]:
    document = empty()
    return document, document.blocks.new(name), document.modelspace()


@settings(max_examples=15)
@given(
    st.floats(0.2, 5) | st.floats(-5, -0.2),
    st.floats(0.2, 5) | st.floats(-5, -0.2),
    st.floats(-360, 360),
    st.booleans(),
    st.integers(1, 3),
    st.integers(1, 3),
)
def test_a_block_lies_where_ezdxf_itself_explodes_it(
    xscale: float, yscale: float, turn: float, from_below: bool, columns: int, rows: int
) -> None:
    document, block, space = with_block()
    block.block.dxf.base_point = (1, 2)
    block.add_line((0, 0), (3, 1), dxfattribs={"layer": "WALL"})
    block.add_lwpolyline([(0, 0, 0.5), (2, 0, 0), (2, 2, 0)], format="xyb",
                         dxfattribs={"layer": "WALL"})  # fmt: skip
    block.add_arc((1, 1), 2, 10, 80, dxfattribs={"layer": "WALL"})
    insert = space.add_blockref(
        "B", (7, -3),
        dxfattribs={"xscale": xscale, "yscale": yscale, "rotation": turn, "column_count": columns,
                    "row_count": rows, "column_spacing": 30, "row_spacing": 40,
                    "extrusion": (0, 0, -1 if from_below else 1)},
    )  # fmt: skip
    box(space, -500, -500, 500, 500, "WALL")  # so that the floor is as long as floors are
    from ezdxf.disassemble import recursive_decompose
    from ezdxf.path import make_path

    true = shapely.MultiLineString([
        [point.vec2 for point in make_path(part, segments=8).flattening(0.001)]
        for part in recursive_decompose([insert])
    ])  # fmt: skip
    walls = of_role(drawn(document), "wall")[:-1]
    ours = shapely.MultiLineString([part.geometry for part in walls])
    assert len(walls) == 3 * columns * rows
    assert shapely.hausdorff_distance(true, ours, densify=0.1) <= 0.02


def test_blocks_in_blocks_on_layer_0_lie_on_the_layer_of_their_place() -> None:
    document, outer, space = with_block("OUTER")
    inner = document.blocks.new("INNER")
    inner.add_line((0, 0), (4, 0))
    inner.add_line((0, 1), (4, 1), dxfattribs={"layer": "A-FURN"})
    outer.add_blockref("INNER", (0, 0))
    outer.add_blockref("INNER", (0, 5), dxfattribs={"layer": "A-GLAZ"})
    space.add_blockref("OUTER", (100, 100), dxfattribs={"layer": "A-WALL"})
    drawing = drawn(document)
    assert all_ends(of_role(drawing, "wall")) == {frozenset({(100, 100), (104, 100)})}
    assert all_ends(of_role(drawing, "window")) == {frozenset({(100, 105), (104, 105)})}
    assert noted(drawing, "layer A-FURN: furniture; left out: 2 LINE")
    assert "of block 'INNER'" in of_role(drawing, "wall")[0].label


def test_a_frozen_insert_hides_its_block_and_one_switched_off_only_what_lies_on_layer_0() -> None:
    document, block, space = with_block()
    block.add_line((0, 0), (4, 0))
    block.add_line((0, 1), (4, 1), dxfattribs={"layer": "A-WALL"})
    box(space, 0, 0, 9, 9, "A-WALL")
    document.layers.add("COLD").freeze()
    document.layers.add("WALL DARK").off()
    space.add_blockref("B", (20, 0), dxfattribs={"layer": "COLD"})
    space.add_blockref("B", (30, 0), dxfattribs={"layer": "WALL DARK"})
    walls = of_role(drawn(document), "wall")
    assert ends(walls[1]) == {(30, 1), (34, 1)}
    assert len(walls) == 2


def test_a_block_that_holds_itself_is_left_out_there() -> None:
    document, block, space = with_block("LOOP")
    other = document.blocks.new("OTHER")
    block.add_line((0, 0), (4, 0), dxfattribs={"layer": "WALL"})
    block.add_blockref("OTHER", (0, 1))
    other.add_blockref("LOOP", (0, 1))
    space.add_blockref("LOOP", (0, 0))
    drawing = drawn(document)
    assert len(of_role(drawing, "wall")) == 1
    assert noted(drawing, "block 'LOOP' holds itself")


def test_blocks_too_deep_inside_one_another_are_refused() -> None:
    document = empty()
    document.blocks.new("B0").add_line((0, 0), (4, 0), dxfattribs={"layer": "WALL"})
    for depth in range(1, 20):
        document.blocks.new(f"B{depth}").add_blockref(f"B{depth - 1}", (0, 0))
    document.modelspace().add_blockref("B19", (0, 0))
    with pytest.raises(PlanError, match=r"more than 16 deep.*explode the blocks"):
        drawn(document)


def test_blocks_that_multiply_are_refused_before_they_fill_the_memory() -> None:
    document = empty()
    document.blocks.new("B0").add_line((0, 0), (4, 0), dxfattribs={"layer": "WALL"})
    for depth in range(1, 12):
        block = document.blocks.new(f"B{depth}")
        for _ in range(10):
            block.add_blockref(f"B{depth - 1}", (0, 0))
    document.modelspace().add_blockref("B11", (0, 0))
    with pytest.raises(PlanError, match="more than 1000000 shapes"):
        drawn(document)


def test_an_array_of_a_million_places_is_refused_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dxf_shapes, "MOST_SHAPES", 1000)
    document, block, space = with_block()
    block.add_line((0, 0), (4, 0), dxfattribs={"layer": "WALL"})
    space.add_blockref("B", (0, 0), dxfattribs={"column_count": 32767, "row_count": 32767})
    with pytest.raises(PlanError, match="more than 1000 shapes"):
        drawn(document)


def test_a_missing_block_is_named() -> None:
    document = house()
    document.modelspace().add_blockref("GONE", (0, 0))
    drawing = drawn(document)
    assert noted(drawing, "'GONE' is inserted and is not in the file")
    assert len(of_role(drawing, "wall")) == 8


def test_a_drawing_only_referred_to_is_a_doubt_said_once() -> None:
    document = house()
    document.add_xref_def("upstairs.dwg", "UPSTAIRS")
    document.blocks.new("WING").add_blockref("UPSTAIRS", (0, 0))
    space = document.modelspace()
    for block in ("WING", "WING", "UPSTAIRS"):
        space.add_blockref(block, (0, 0))
    drawing = drawn(document)
    (doubt,) = drawing.doubts
    assert "'UPSTAIRS' is another drawing that is only referred to" in doubt
    assert not any("UPSTAIRS" in line for line in drawing.notes)
    assert len(of_role(drawing, "wall")) == 8


def test_a_drawing_referred_to_on_a_frozen_layer_is_not_missed() -> None:
    document = house()
    document.add_xref_def("survey.dwg", "SURVEY")
    document.layers.add("OLD").freeze()
    document.modelspace().add_blockref("SURVEY", (0, 0), dxfattribs={"layer": "OLD"})
    assert not drawn(document).doubts
