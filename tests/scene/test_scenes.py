"""What the window shows of a floor is what the sheet prints of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.exceedance import exceedance_probability
from hgmap.decide.explain import explain_place
from hgmap.floor_map import FloorMap, MapOptions, map_floor
from hgmap.map_case import map_case
from hgmap.report.drawing import Area, Dot, Drawing, Label, Picture, Stroke
from hgmap.report.drawing import Path as Line
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.sheet import zone_sheet
from hgmap.scene.explain_scene import explain_scene
from hgmap.scene.floor_scene import NOWHERE, Shown, floor_scene
from hgmap.scene.highlight import place_sign, shape_sign
from hgmap.scene.key import TALL_MM, key_of
from hgmap.scene.pick import next_place_at, reading_at, room_at
from hgmap.scene.plan_scene import plan_scene
from hgmap.scene.probability import probability_of, probability_rgba
from hgmap.scene.screen import mm_per_m, screen_frame
from hgmap.scene.views import USUAL, VIEWS
from hgmap.site.folder import read_site


@pytest.fixture(scope="module")
def mapped(tmp_path_factory: pytest.TempPathFactory, site_maker: Callable[..., Path]) -> FloorMap:
    folder = site_maker(tmp_path_factory.mktemp("scene") / "site")
    case = map_case(read_site(folder), MapOptions(cell_m=0.25))
    return map_floor(
        case.site, case.site.floors[0], case.round, case.band, case.level,
        MapOptions(cell_m=0.25), unfit=case.unfit,
    )  # fmt: skip


@pytest.fixture(scope="module")
def shown(mapped: FloorMap) -> Shown:
    return Shown(
        mapped.evidence.floor, mapped.evidence, mapped.surface, mapped.zones, mapped.resample,
        mapped.evidence.items and tuple(one.reading for one in mapped.evidence.items),
    )  # fmt: skip


def words(drawing: Drawing) -> set[str]:
    return {item.text for item in drawing if isinstance(item, Label)}


def test_a_screen_has_96_pixels_to_the_inch() -> None:
    assert mm_per_m(96.0) == pytest.approx(25.4)


def test_the_screen_at_the_sheet_s_scale_shows_the_items_of_the_sheet(
    shown: Shown, mapped: FloorMap, site_maker: Callable[..., Path], tmp_path: Path
) -> None:
    case = map_case(read_site(site_maker(tmp_path / "site")), MapOptions(cell_m=0.25))
    sheet = zone_sheet(
        case.site, case.round, mapped.evidence, mapped.surface, mapped.zones, mapped.resample
    )
    frame = sheet.frames[0]
    scene = floor_scene(shown, frame.mm_per_m * 96.0 / 25.4)
    kinds = {type(one) for one in frame.drawing}
    assert {type(one) for one in scene.drawing} >= kinds - {Label}
    ours = [one for one in scene.drawing if isinstance(one, Area | Line)]
    theirs = [one for one in frame.drawing if isinstance(one, Area | Line)]
    # zones, walls, contours and openings, one by one; leaders and marks may stand elsewhere
    assert sum(any(one == other for other in theirs) for one in ours) >= 0.9 * len(theirs)


@pytest.mark.parametrize("px_per_m", [3.0, 30.0, 400.0])
def test_every_reading_has_its_mark_at_every_scale(shown: Shown, px_per_m: float) -> None:
    scene = floor_scene(shown, px_per_m)
    assert scene.marks is not None
    on_map = [one for one in shown.readings if one.on_map]
    assert scene.marks.drawn + scene.marks.off_plan == len(on_map)


def test_what_is_not_asked_for_is_not_shown(shown: Shown) -> None:
    bare = floor_scene(shown, 30.0, ()).drawing
    assert not [one for one in bare if isinstance(one, Picture)]
    with_estimate = floor_scene(shown, 30.0, ("estimate",)).drawing
    assert [one for one in with_estimate if isinstance(one, Picture)]
    zones_only = floor_scene(shown, 30.0, ("zones",)).drawing
    assert sum(isinstance(one, Area) for one in zones_only) > sum(
        isinstance(one, Area) for one in bare
    )
    assert {room.name for room in shown.floor.rooms} <= words(bare)


def test_ground_that_nothing_speaks_for_is_hatched_where_chances_are_shown(shown: Shown) -> None:
    assert shown.zones is not None
    room = shown.floor.rooms[1]
    kept = [one for one in shown.zones.zones if one.room != room.id]
    some = next(iter(shown.zones.zones))
    unknown = replace(some, name="no data", room=room.id, geometry=room.polygon)
    zones = replace(shown.zones, zones=(*kept, unknown))
    drawn = floor_scene(replace(shown, zones=zones), 30.0, ("probability",)).drawing
    hatched = [one for one in drawn if isinstance(one, Area) and one.hatch is not None]
    assert any(one.shape.equals(room.polygon) for one in hatched)
    pictures = [one for one in drawn if isinstance(one, Picture)]
    west, south, east, north = room.polygon.bounds
    assert all(one.bounds != (west, south, east, north) for one in pictures)


def test_the_chances_shown_are_those_that_the_zones_are_ruled_by(shown: Shown) -> None:
    assert shown.surface is not None
    assert shown.evidence is not None
    surface, level = shown.surface, shown.evidence.level
    found = probability_of(surface, level)
    expected = exceedance_probability(
        surface.mean, surface.sd, np.log(level.concentration),
        degrees_of_freedom=surface.degrees_of_freedom,
    )  # fmt: skip
    inside = np.isfinite(surface.mean)
    np.testing.assert_allclose(found[inside], expected[inside])
    assert np.isnan(found[~inside]).all()


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=20))
def test_a_higher_chance_is_never_a_lighter_ink(chances: list[float]) -> None:
    ordered = np.sort(np.array(chances))
    rgba = probability_rgba(ordered).astype(float)
    light = rgba[:, :3] @ np.array([0.299, 0.587, 0.114])
    assert (np.diff(light) <= 0.51).all()  # half a step of rounding
    assert (rgba[:, 3] == 255.0).all()


def test_before_a_level_is_chosen_readings_stand_as_written(shown: Shown) -> None:
    drawn = plan_scene(shown.floor, shown.readings, 30.0)
    assert sum(isinstance(one, Dot) for one in drawn) >= len(shown.readings)
    assert len(words(drawn)) > len(shown.floor.rooms)


def test_the_way_of_the_air_is_drawn_from_the_readings_to_the_place(mapped: FloorMap) -> None:
    assert mapped.surface is not None
    found = explain_place(mapped.evidence, mapped.surface, mapped.zones, 11.0, 1.0)
    lines = [one for one in explain_scene(found) if isinstance(one, Line)]
    assert lines
    for one in lines:
        end = shapely.get_coordinates(one.shape)[-1]
        np.testing.assert_allclose(end, (11.0, 1.0), atol=1e-6)


def test_what_is_near_is_picked_and_what_is_far_is_not(shown: Shown) -> None:
    one = next(one for one in shown.readings if one.x is not None and one.y is not None)
    assert one.x is not None
    assert one.y is not None
    assert reading_at(shown.readings, one.x + 0.01, one.y, 0.1) == one
    assert reading_at(shown.readings, one.x, one.y + 300.0, 0.1) is None
    assert reading_at((), 0.0, 0.0, 1.0) is None
    room = room_at(shown.floor, 1.0, 1.0)
    assert room is not None
    assert room.id == "A"
    assert room_at(shown.floor, -50.0, 0.0) is None
    for place in shown.resample.places:
        assert next_place_at(shown.resample, place.floor, place.x, place.y, 0.1) == place
    assert next_place_at(shown.resample, "ground", 900.0, 0.0, 1.0) is None


def test_signs_lie_where_they_point() -> None:
    (first, *_) = place_sign(2.0, 3.0)
    assert isinstance(first, Dot)
    assert (first.x, first.y) == (2.0, 3.0)
    box = shapely.box(0, 0, 1, 1)
    (area,) = shape_sign(box)
    assert isinstance(area, Area)
    assert area.shape.equals(box)
    assert shape_sign(shapely.Polygon()) == ()
    assert shape_sign(shapely.Point(2, 3)) == place_sign(2.0, 3.0)


@pytest.mark.parametrize("views", [USUAL, {"probability", "readings"}, set(), set(VIEWS)])
def test_the_key_fits_its_column_and_explains_what_is_shown(shown: Shown, views: set[str]) -> None:
    scene = floor_scene(shown, 30.0, views)
    drawing, height = key_of(shown, scene, views, 58.0)
    assert (height > 0.0) == bool(drawing)
    for one in drawing:
        if isinstance(one, Label):
            assert TALL_MM - height - 1.0 <= one.y <= TALL_MM
    if "readings" in views:
        assert any("used for this map" in text for text in words(drawing))


def test_labels_find_paper_however_far_in_a_person_zooms(shown: Shown) -> None:
    frame = screen_frame(shown.floor, 50_000.0)
    assert frame.mm_per_m <= 250.0


def test_on_a_crowded_screen_only_a_rooms_highest_goes_far_from_its_mark(shown: Shown) -> None:
    assert shown.evidence is not None
    assert shown.zones is not None
    frame = screen_frame(shown.floor, 6.0)

    def far(drawing: Drawing) -> int:
        return sum(
            np.hypot(*np.subtract(one.end_pt, one.start_pt)) > 27.0
            for one in drawing if isinstance(one, Stroke)
        ) // 2  # fmt: skip

    printed = marks_on_plan(shown.evidence, NOWHERE, frame, shown.zones)
    seen = marks_on_plan(shown.evidence, NOWHERE, frame, shown.zones, near=True)
    rooms = {one.reading.room for one in shown.evidence.items if one.above}
    assert rooms
    assert far(seen.drawing) <= len(rooms) <= far(printed.drawing)
    assert far(seen.drawing) < far(printed.drawing)
    assert seen.labelled < seen.drawn  # and the key says so
    for room in rooms:
        here = [one for one in shown.evidence.items if one.above and one.reading.room == room]
        highest = max(here, key=lambda one: one.reading.concentration or 0.0)
        assert any(f"{highest.reading.value:.3g}" in text for text in words(seen.drawing))
