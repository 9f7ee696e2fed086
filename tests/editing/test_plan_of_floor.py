"""The plan of a floor among the files of its site: put back, scaled, picked, given a door."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from hgmap.editing.door_at import DOOR_M, door_at
from hgmap.editing.plan_draft import PlanDraft, raw_feature
from hgmap.editing.plan_of_floor import (
    draft_of,
    picture_bounds,
    picture_by_two_points,
    scale_floor,
    with_plan,
)
from hgmap.editing.plan_openings import add_opening
from hgmap.editing.plan_pick import corner_at, edge_at, feature_at
from hgmap.editing.site_files import SiteFiles, site_of
from hgmap.errors import PlanError
from hgmap.scene.draft_scene import draft_extent, draft_scene
from hgmap.site.plan_picture import PlanPicture

SITE = b"""\
schema_version = 1
name = "A shed (invented)"
analyte = "elemental mercury vapour"
medium = "air"

[[floors]]
name = "g"
plan = "plans/g.geojson"

[floors.picture]
file = "plans/g.png"
m_per_px = 0.01
origin_x_m = 2.0

[[rounds]]
name = "one"

[rounds.openings.g]
door = "sealed"
"""

DRAFT = PlanDraft().edited(
    added=[
        raw_feature("room", box(0, 0, 4, 3), id="A", name="Office"),
        raw_feature("room", box(4, 0, 8, 3), id="B", name="Store"),
        raw_feature("opening", LineString([(4, 1), (4, 2)]), id="door", state="open"),
    ]
)
FILES = SiteFiles(
    Path("/nowhere"),
    {"site.toml": SITE, "plans/g.geojson": DRAFT.to_bytes(), "plans/g.png": b"png"},
)

places = st.tuples(st.floats(-50, 50), st.floats(-50, 50))


def test_what_a_round_says_of_an_opening_goes_with_it() -> None:
    without = draft_of(FILES, "g").edited({"opening door": None})
    files = with_plan(FILES, "g", without)
    assert site_of(files).rounds[0].openings == ()
    assert site_of(with_plan(FILES, "g", draft_of(FILES, "g"))).rounds[0].openings != ()


def test_a_plan_and_its_picture_are_scaled_in_step() -> None:
    files = scale_floor(FILES, "g", 0.5)
    assert draft_of(files, "g").sound_rooms["room B"].polygon.equals(box(2, 0, 4, 1.5))
    picture = site_of(files).floors[0].picture
    assert picture is None or picture.m_per_px == 0.005  # None: a PNG that cannot be read
    assert b"m_per_px = 0.005" in files.contents["site.toml"]
    assert b"origin_x_m = 1.0" in files.contents["site.toml"]


@given(first=places, second=places, metres=st.floats(0.5, 60), level=st.booleans())
def test_two_points_of_a_picture_lie_so_far_apart_and_the_first_stays(
    first: tuple[float, float], second: tuple[float, float], metres: float, level: bool
) -> None:
    picture = PlanPicture("a.png", 0.01, 20.0, 1.0, 2.0)
    if math.dist(first, second) < 1.0:
        return
    pixels = picture.to_pixels([first, second])
    lies = picture_by_two_points(picture, first, second, metres, level=level)
    one, two = lies.to_metres(pixels)
    assert one == pytest.approx(first, abs=1e-6)
    assert math.dist(one, two) == pytest.approx(metres)
    if level:
        assert min(abs(two - one)) == pytest.approx(0.0, abs=1e-6)
    else:
        assert lies.angle_deg == pytest.approx(20.0)


def test_the_box_round_a_turned_picture_holds_its_corners() -> None:
    west, south, east, north = picture_bounds(PlanPicture("a.png", 0.1, 90.0), (100, 50))
    assert (east - west, north - south) == pytest.approx((5.0, 10.0))


@given(x=st.floats(0.0, 8.0), y=st.floats(-0.2, 0.2))
def test_a_door_stands_whole_on_one_wall_and_is_as_wide_as_asked(x: float, y: float) -> None:
    first, second = door_at(DRAFT, (x, y))
    assert math.dist(first, second) == pytest.approx(DOOR_M)
    line = LineString([first, second])
    rooms = DRAFT.sound_rooms.values()
    assert any(room.polygon.boundary.buffer(1e-6).covers(line) for room in rooms)
    drawn = add_opening(DRAFT, first, second)
    assert drawn.sound_openings[drawn.openings[-1].key].rooms


def test_a_door_is_refused_where_no_wall_is_or_a_wall_too_short() -> None:
    with pytest.raises(PlanError, match="no wall"):
        door_at(DRAFT, (2.0, 1.5))
    with pytest.raises(PlanError, match="shorter"):
        door_at(DRAFT, (2.0, 0.0), 6.0)
    with pytest.raises(PlanError, match="no wall"):
        door_at(PlanDraft(), (0.0, 0.0))


def test_what_lies_under_a_pointer_is_the_opening_before_the_room() -> None:
    assert feature_at(DRAFT, (4.05, 1.5), 0.1) == "opening door"
    assert feature_at(DRAFT, (2.0, 1.5), 0.1) == "room A"
    assert feature_at(DRAFT, (20.0, 1.5), 0.1) is None
    assert corner_at(DRAFT, "room B", (8.05, 3.0), 0.1) is not None
    assert corner_at(DRAFT, "room B", (8.3, 3.0), 0.1) is None
    found = edge_at(DRAFT, "room A", (2.0, 0.05), 0.1)
    assert found is not None
    assert found[1] == pytest.approx((2.0, 0.0))


def test_a_plan_that_is_not_sound_is_drawn_all_the_same() -> None:
    bow = Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
    draft = PlanDraft().edited(added=[raw_feature("room", bow, id="A"), {"type": "Feature"}])
    pens = [getattr(one, "pen", None) for one in draft_scene(draft, 40.0)]
    assert any(pen is not None and pen.dashes for pen in pens)
    assert draft_extent(draft) == (0.0, 0.0, 4.0, 4.0)
    assert draft_extent(PlanDraft()) is None
    assert shapely.equals(draft.features[0].geometry, bow)
