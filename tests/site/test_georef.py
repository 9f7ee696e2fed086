"""The building's metres and the map: metres only, and no guess between degrees and metres."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError, SiteError
from hgmap.site.georef import check_map_crs, local_frame_at, lonlat_to_local, looks_like_degrees
from hgmap.site.map_frame import MapFrame


@pytest.mark.parametrize("text", ["EPSG:25832", "EPSG:32633", "EPSG:27700"])
def test_a_projected_system_in_metres_is_taken(text: str) -> None:
    assert check_map_crs(text, where="here").is_projected


@pytest.mark.parametrize(
    "text", ["EPSG:4326", "EPSG:2263", "EPSG:99999", "", "hello", "{", "EPSG:5773"]
)
def test_any_other_system_is_refused_with_what_to_write(text: str) -> None:
    with pytest.raises(SiteError, match=r"^here: ") as caught:
        check_map_crs(text, where="here")
    assert caught.value.todo
    assert "\n" not in str(caught.value)


@given(st.floats(-179, 179), st.floats(-80, 80), st.floats(-200, 200), st.floats(-200, 200))
def test_metres_in_the_local_frame_are_metres_on_the_ground(
    lon: float, lat: float, east: float, north: float
) -> None:
    # a geodesic of pyproj (PROJ) on the same ellipsoid is the outside check
    import pyproj

    frame = local_frame_at(lon, lat)
    geod = pyproj.Geod(ellps="WGS84")
    distance = math.hypot(east, north)
    to_lon, to_lat, _ = geod.fwd(lon, lat, math.degrees(math.atan2(east, north)), distance)
    x, y = lonlat_to_local(frame)(np.array([lon, to_lon]), np.array([lat, to_lat]))
    assert math.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(distance, rel=1e-6, abs=0.02)
    assert x[0] == pytest.approx(0, abs=0.02)


def test_the_origin_of_a_frame_is_taken_off() -> None:
    frame = MapFrame("EPSG:25832", 600_000.0, 5_700_000.0)
    bare = MapFrame("EPSG:25832")
    x, y = lonlat_to_local(bare)(np.array([10.5]), np.array([51.5]))
    own_x, own_y = lonlat_to_local(frame)(np.array([10.5]), np.array([51.5]))
    assert own_x == pytest.approx(x - 600_000)
    assert own_y == pytest.approx(y - 5_700_000)


@pytest.mark.parametrize(
    ("bounds", "degrees"),
    [
        ((10.0, 51.0, 10.001, 51.001), True),
        ((0.0, 0.0, 12.0, 5.0), False),
        ((500_000.0, 5.7e6, 500_020.0, 5.70001e6), False),
        ((0.0, 0.0, 0.05, 0.05), True),
        ((-200.0, 0.0, -199.95, 0.05), False),
    ],
)
def test_degrees_are_told_from_metres_by_the_span(
    bounds: tuple[float, float, float, float], degrees: bool
) -> None:
    assert looks_like_degrees(bounds, where="here") is degrees


@pytest.mark.parametrize("span", [0.1, 0.5, 0.99])
def test_a_span_that_could_be_either_is_asked_about(span: float) -> None:
    with pytest.raises(PlanError, match="degrees or metres"):
        looks_like_degrees((0.0, 0.0, span, span), where="here")
