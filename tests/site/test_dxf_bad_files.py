"""DXF files that are none, are damaged, or hold nothing that can be used: one line each."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers import dxf_file
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.dxf import draw_dxf
from tests.site.dxf_cases import (
    binary,
    box,
    bytes_of,
    drawn,
    drawn_or_not,
    empty,
    house,
    noted,
    of_role,
)

HOUSE = bytes_of(house())
BINARY = binary(house())


def without_eof(data: bytes) -> bytes:
    return re.sub(rb"\s*0\s+EOF\s*$", b"\n", data)


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "a.dxf: is empty; export the floor as DXF again"),
        (b" \n ", "is empty"),
        (b"AC1032\x00\x00\x00\x00\x05", "is a DWG, whatever its ending says; export it as DXF"),
        (b"AC1015\x00\x00\x00", "is a DWG"),
        (b"%PDF-1.7 ...", "is no DXF"),
        (b"\x89PNG\r\n\x1a\n", "is no DXF"),
        (b"ISO-10303-21;\nHEADER;", "is no DXF"),
        (HOUSE.decode().encode("utf-16"), "is no DXF"),
        (b"0\nHELLO\n0\nEOF\n", "is no DXF: it has no section"),
        (HOUSE[: len(HOUSE) // 2], "ends before its last line (EOF): what is missing may be walls"),
        (HOUSE[:-5], "ends before its last line"),
        (without_eof(HOUSE), "ends before its last line"),
        (BINARY[: len(BINARY) // 2], "ends before its last line"),
        (BINARY[:9000] + BINARY[-60:], "a.dxf: "),
    ],
)
def test_what_is_no_whole_dxf_is_refused_in_one_line(data: bytes, message: str) -> None:
    with pytest.raises(PlanError) as caught:
        draw_dxf(data, file="a.dxf")
    assert message in str(caught.value)
    assert str(caught.value).startswith("a.dxf: ")
    assert "\n" not in str(caught.value)


def test_a_file_that_is_too_large_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(dxf_file, "MOST_BYTES", 1000)
    with pytest.raises(PlanError, match="is larger than"):
        draw_dxf(HOUSE, file="a.dxf")


def test_an_empty_model_space_says_where_to_look() -> None:
    document = empty()
    document.paperspace().add_line((0, 0), (1, 1))
    with pytest.raises(PlanError, match="nothing in its model space; export the model"):
        drawn(document)


def test_layers_that_say_nothing_are_listed_with_what_to_say() -> None:
    document = empty()
    space = document.modelspace()
    for layer, n in (("0", 3), ("Plan 1", 5), ("A-FURN", 1)):
        for _ in range(n):
            box(space, 0, 0, 5, 4, layer)
    document.layers.add("A-WALL").off()
    box(space, 0, 0, 5, 4, "A-WALL")
    with pytest.raises(PlanError) as caught:
        drawn(document)
    assert "Plan 1 (5), 0 (3), " in str(caught.value)
    assert "A-FURN (1, furniture)" in str(caught.value)
    assert "A-WALL (1, switched off)" in str(caught.value)
    assert '--layers "wall=NAME"' in str(caught.value)


def test_a_layer_of_walls_without_a_length_is_no_plan() -> None:
    document = empty()
    document.modelspace().add_line((1, 1), (1, 1), dxfattribs={"layer": "WALL"})
    box(document.modelspace(), 0, 0, 9, 9, "A-GLAZ")
    with pytest.raises(PlanError):
        drawn(document)


@pytest.mark.parametrize("value", [math.nan, math.inf, 1e300])
def test_coordinates_that_are_no_numbers_cost_their_own_entity_only(value: float) -> None:
    document = house()
    space = document.modelspace()
    on = {"layer": "A-WALL"}
    space.add_line((1, value), (2, 2), dxfattribs=on)
    space.add_lwpolyline([(1, value), (2, 2)], dxfattribs=on)
    space.add_circle((value, 1), 2, dxfattribs=on)
    space.add_text("Hall", dxfattribs={"layer": "A-AREA-IDEN", "insert": (value, 1)})
    (drawing,) = draw_dxf(bytes_of(document), file="a.dxf")
    assert len(of_role(drawing, "wall")) == 8
    assert len(of_role(drawing, "text")) == 2
    line = next(note for note in drawing.notes if note.startswith("layer A-WALL"))
    assert "1 LINE" in line.split("left out: ")[1]


@pytest.mark.parametrize(("radius", "end"), [(0.0, 90.0), (1e-13, 90.0), (0.9, 0.0), (0.9, 1e-9)])
def test_an_arc_without_a_length_is_left_out_and_costs_nothing_else(
    radius: float, end: float
) -> None:
    document = house()
    document.modelspace().add_arc((3, 3), radius, 0, end, dxfattribs={"layer": "A-DOOR"})
    drawing = drawn(document)
    assert drawing.parts == drawn(house()).parts
    assert noted(drawing, "layer A-DOOR", "left out: 1 ARC (without a length)")


SPOILS: dict[str, Callable[[bytes], bytes]] = {
    "no header": lambda data: data[data.index(b"ENDSEC") + 7 :],
    "a line too many": lambda data: data.replace(b"AcDbLine\n", b"AcDbLine\n\n", 1),
    "a number that is none": lambda data: data.replace(b"\n 10\n", b"\n 10\nabc\n 10\n", 1),
    "a double handle": lambda data: re.sub(rb"(AcDbEntity)", rb"\1", data),
    "no tables": lambda data: re.sub(
        rb"  0\nSECTION\n  2\nTABLES\n.*?ENDSEC\n", b"", data, count=1, flags=re.DOTALL
    ),
    "no objects": lambda data: re.sub(
        rb"  0\nSECTION\n  2\nOBJECTS\n.*?ENDSEC\n", b"", data, count=1, flags=re.DOTALL
    ),
}


@pytest.mark.parametrize("spoil", sorted(SPOILS))
def test_a_damaged_file_is_mended_with_a_word_or_refused_in_one_line(spoil: str) -> None:
    data = SPOILS[spoil](HOUSE)
    found = drawn_or_not(lambda: draw_dxf(data, file="a.dxf", unit="m"))
    if isinstance(found, Drawing):
        whole = len(of_role(found, "wall")) == 8
        assert whole or noted(found, "damaged and was mended")
    else:
        assert "\n" not in found


@settings(max_examples=60)
@given(st.integers(0, len(HOUSE) - 1), st.binary(min_size=0, max_size=6), st.integers(0, 400))
def test_no_damage_ends_in_anything_but_a_drawing_or_our_own_error(
    place: int, put: bytes, lost: int
) -> None:
    data = HOUSE[:place] + put + HOUSE[place + lost :]
    found = drawn_or_not(lambda: draw_dxf(data, file="a.dxf"))
    assert isinstance(found, Drawing) or "\n" not in found


@settings(max_examples=30)
@given(st.integers(22, len(BINARY) - 1), st.binary(min_size=1, max_size=6))
def test_no_damage_of_a_binary_file_does_either(place: int, put: bytes) -> None:
    data = BINARY[:place] + put + BINARY[place + len(put) :]
    found = drawn_or_not(lambda: draw_dxf(data, file="a.dxf"))
    assert isinstance(found, Drawing) or "\n" not in found


@pytest.mark.parametrize(
    ("whole", "broken"),
    [
        (b"$LTSCALE", b"\xdcLTSCALE"),  # said in our error
        (b"\nCLASS\n", b"\nCL\xdc\xff\n"),  # in the library's log
    ],
)
def test_letters_that_are_none_reach_no_message_and_the_library_s_log_is_not_shown(
    caplog: pytest.LogCaptureFixture, whole: bytes, broken: bytes
) -> None:
    assert whole in HOUSE
    found = drawn_or_not(lambda: draw_dxf(HOUSE.replace(whole, broken, 1), file="a.dxf", unit="m"))
    said = found if isinstance(found, str) else "\n".join((*found.doubts, *found.notes))
    assert said.encode("utf-8")
    assert not [one for one in caplog.records if one.name.startswith("ezdxf")]
