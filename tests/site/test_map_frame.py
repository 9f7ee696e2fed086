"""A building on its map: moved, turned, scaled, sheared; and back again."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import SiteError
from hgmap.site.folder import read_site
from hgmap.site.map_frame import MapFrame, frame_of_matrix

MakeSite = Callable[..., Path]
FRAMES = st.builds(
    MapFrame, st.just("EPSG:25832"), st.floats(-1e7, 1e7), st.floats(-1e7, 1e7),
    st.floats(-360, 360), st.floats(0.9, 1.1), st.none() | st.floats(0.9, 1.1), st.floats(-30, 30),
)  # fmt: skip
PLACES = st.lists(st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3)), min_size=1, max_size=5)


@given(FRAMES, PLACES)
def test_to_the_map_and_back_is_the_same_place(frame: MapFrame, places: list[Any]) -> None:
    back = frame.to_plan(frame.to_map(places))
    assert back == pytest.approx(np.array(places), abs=1e-6)


@given(st.floats(-1e7, 1e7), st.floats(-1e7, 1e7), st.floats(-360, 360))
def test_it_holds_for_plans_whose_own_coordinates_are_large(x: float, y: float, a: float) -> None:
    frame = MapFrame("EPSG:25832", 1e7, -1e7, a, 1.0004)
    assert frame.to_plan(frame.to_map([(x, y)]))[0] == pytest.approx([x, y], abs=1e-6)


@given(FRAMES, PLACES)
def test_shapes_and_places_go_the_same_way(frame: MapFrame, places: list[Any]) -> None:
    placed = shapely.get_coordinates(frame.place(shapely.MultiPoint(places)))
    assert placed == pytest.approx(frame.to_map(places), abs=1e-8)


@given(FRAMES)
def test_a_frame_is_what_its_matrix_says(frame: MapFrame) -> None:
    again = frame_of_matrix("", frame.matrix, (1.0, 2.0), conformal=False)
    assert again.matrix == pytest.approx(frame.matrix, abs=1e-12)
    assert again.skew_deg == pytest.approx(frame.skew_deg, abs=1e-9)


@given(FRAMES)
def test_north_on_the_plan_points_up_the_map(frame: MapFrame) -> None:
    way = math.radians(90.0 - frame.north_deg)
    east, north = frame.matrix @ (math.cos(way), math.sin(way))
    assert east == pytest.approx(0, abs=1e-9)
    assert north > 0


@given(st.floats(-360, 360))
def test_north_of_a_frame_that_only_turns_is_its_angle(angle: float) -> None:
    off = MapFrame("", angle_deg=angle).north_deg - angle
    assert math.remainder(off, 360) == pytest.approx(0, abs=1e-9)


def test_a_frame_that_only_moves_adds_its_origin_to_the_last_digit() -> None:
    # as it did before frames could turn: files of old sites stay the same bytes
    frame = MapFrame("EPSG:25832", 600_000.3, 5_700_000.7)
    shape = shapely.box(0.1, 0.2, 3.3, 4.4)
    assert not frame.turned
    assert frame.north_deg == 0.0
    assert shapely.get_coordinates(frame.place(shape)).tolist() == [
        [x + 600_000.3, y + 5_700_000.7] for x, y in shapely.get_coordinates(shape).tolist()
    ]
    assert frame.to_plan([(600_001.0, 5_700_001.0)]).tolist() == [
        [600_001.0 - 600_000.3, 5_700_001.0 - 5_700_000.7]
    ]
    assert MapFrame("").place(shape) is shape


TURNED = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 604000\norigin_y_m = 5712000\n'


def test_site_toml_turns_scales_and_shears_a_building(make_site: MakeSite) -> None:
    extra = f"{TURNED}angle_deg = 30\nscale = 0.9996\nscale_y = 1.0001\nskew_deg = 0.02\n"
    floor = read_site(make_site(extra=extra)).floors[0]
    assert floor.map_frame == MapFrame(
        "EPSG:25832", 604000, 5712000, 30, 0.9996, 1.0001, 0.02
    )  # fmt: skip
    assert floor.north_deg == pytest.approx(30.02, abs=0.02)
    assert floor.north_is_grid


def test_a_north_that_was_stated_outweighs_the_map(make_site: MakeSite) -> None:
    site = make_site(extra=f"{TURNED}angle_deg = 30\n")
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8").replace("[[floors]]\n", "[[floors]]\nnorth_deg = 5\n"))
    floor = read_site(site).floors[0]
    assert floor.north_deg == 5
    assert not floor.north_is_grid


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("scale = 0.3048", "scale"), ("scale = 0", "scale"), ("scale_y = 2", "scale_y"),
        ("scale = nan", "scale"), ("angle_deg = 400", "angle_deg"),
        ("angle_deg = inf", "angle_deg"),
        ("skew_deg = 45", "skew_deg"), ("angle = 4", "did you mean 'angle_deg'"),
    ],
)  # fmt: skip
def test_a_frame_that_no_building_has_is_refused(make_site: MakeSite, line: str, said: str) -> None:
    with pytest.raises(SiteError, match=said):
        read_site(make_site(extra=f"{TURNED}{line}\n"))


def test_places_by_compass_follow_the_grid(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    # with the plan a quarter turn against the map, plan-left is north
    row = "N1,ground,A,,,1.5,,2,ug/m3,,"
    text = make_table([*make_rows(), row]).replace("note\n", "note,offsets\n", 1)
    text = text.replace(row, f"{row},north 1; east 2")
    site = read_site(make_site(readings={"first.csv": text}, extra=f"{TURNED}angle_deg = -90\n"))
    found = next(one for one in site.readings if one.id == "N1")
    assert (found.x, found.y) == pytest.approx((1.0, 3.0))
