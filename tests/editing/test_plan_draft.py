"""A draft reads every plan as read_plan does, and loses nothing of those that it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing import plan_draft
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.errors import PlanError
from hgmap.site.plan import read_plan
from tests.editing.drawn_plans import data_of, door, draft_of, feature, plans, room

DEMO = sorted((Path(__file__).parents[2] / "demo_site" / "plans").glob("*.geojson"))


def assert_read_alike(data: bytes) -> None:
    plan, draft = read_plan(data, where="p", floor="g"), read_plan_draft(data)
    assert tuple(draft.sound_rooms.values()) == plan.rooms
    assert tuple(draft.sound_openings.values()) == plan.openings
    assert not [one.complaint for one in draft.features if one.complaint]


@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_the_demo_plans_are_read_as_read_plan_does_and_written_to_the_byte(path: Path) -> None:
    data = path.read_bytes()
    assert_read_alike(data)
    draft = read_plan_draft(data)
    assert draft.to_bytes() == data
    assert draft.edited().source == b""
    assert draft.edited().to_bytes() == data
    assert len(draft.rooms) + len(draft.walls) + len(draft.openings) == len(draft.features)


@given(plans())
def test_a_drawn_plan_is_read_as_read_plan_does(draft: PlanDraft) -> None:
    assert_read_alike(draft.to_bytes())
    assert_read_alike(draft.edited().to_bytes())


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(
                ["type", "geometry", "coordinates", "properties", "kind", "id", "name"]
            ),
            inner
            | st.sampled_from(["Polygon", "Feature", "room", "opening", "wall", "LineString"]),
            max_size=5,
        )
    ),
    max_leaves=20,
)


@given(st.lists(anything, max_size=4), st.dictionaries(st.text(max_size=4), anything, max_size=2))
def test_whatever_a_file_holds_is_written_back_as_it_was(
    features: list[Any], members: dict[str, Any]
) -> None:
    collection = {**members, "features": features}
    draft = read_plan_draft(json.dumps(collection).encode())
    again = json.loads(draft.edited().to_bytes())
    assert again == collection
    assert list(again) == list(collection)
    assert len({one.key for one in draft.features}) == len(features)


@given(st.lists(anything, max_size=4))
def test_a_feature_has_a_complaint_just_where_read_plan_has_one(features: list[Any]) -> None:
    for number, one in enumerate(features, start=1):
        draft = read_plan_draft(json.dumps({"features": [one]}).encode())
        with pytest.raises(PlanError) as caught:
            read_plan(draft.to_bytes(), where="p", floor="g")
        complaint = draft.features[0].complaint
        assert number
        assert complaint in str(caught.value)
        assert bool(complaint) == ("feature 1" in str(caught.value))


@pytest.mark.parametrize("data", [b"", b"[]", b"\xff\xfe\x00", b'{"features": 3}', b"[" * 99_999])
def test_a_file_that_is_no_plan_is_refused_in_one_line(data: bytes) -> None:
    with pytest.raises(PlanError) as caught:
        read_plan_draft(data, where="plans/g.geojson")
    assert str(caught.value).startswith("plans/g.geojson: ")
    assert "\n" not in str(caught.value)


def test_an_empty_draft_is_a_collection_without_features() -> None:
    data = PlanDraft().to_bytes()
    assert json.loads(data) == {"type": "FeatureCollection", "features": []}
    assert read_plan_draft(data) == PlanDraft()


def test_an_open_ring_is_seen_closed_and_written_open() -> None:
    ring = [[0, 0], [6, 0], [6, 5], [0, 5]]
    draft = draft_of(feature("room", "Polygon", [ring], name="Lab"), room("B", 6, 0, 9, 5))
    lab = draft.rooms[0]
    assert "not closed" in lab.complaint
    assert lab.geometry is not None
    assert lab.geometry.area == 30
    assert json.loads(draft.edited().to_bytes())["features"][0]["geometry"]["coordinates"] == [ring]


def test_taking_a_feature_out_leaves_the_made_up_ids_of_those_behind_it() -> None:
    nameless = [room("x", 6 * n, 0, 6 * n + 6, 5) for n in range(3)]
    for one in nameless:
        one["properties"] = {"kind": "room"}
    gap = door("", 6, 2, 6, 3)
    del gap["properties"]["id"]
    draft = draft_of(*nameless, gap)
    after = draft.edited({draft.features[0].key: None})
    assert [one.id for one in after.features] == ["room-2", "room-3", "opening-4"]
    assert [one.key for one in after.features] == [one.key for one in draft.features[1:]]
    assert read_plan_draft(after.to_bytes()) == after


def test_foreign_members_and_unknown_properties_stay_through_an_edit() -> None:
    odd = {**room("A", 0, 0, 6, 5), "id": 7, "bbox": [0, 0, 6, 5]}
    odd["properties"]["floor finish"] = ["oak", None]
    data = data_of(odd, None, name="p", crs={"x": 1})
    draft = read_plan_draft(data).edited(added=[room("B", 6, 0, 9, 5)])
    again = json.loads(draft.to_bytes())
    assert again["features"][:2] == [odd, None]
    assert (again["name"], again["crs"]) == ("p", {"x": 1})


def test_keys_name_by_id_and_by_number_where_an_id_stands_twice() -> None:
    draft = draft_of(room("A", 0, 0, 6, 5), room("A", 6, 0, 9, 5), room("B", 9, 0, 12, 5), 5)
    assert [one.key for one in draft.features] == ["room#1", "room#2", "room B", "#4"]
    with pytest.raises(PlanError, match="any more"):
        draft.feature("room C")


def test_a_plan_is_the_same_whether_its_geometries_are_read_at_once_or_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drawn = {"type": "Polygon", "coordinates": [[[0, 0], [4, 0], [4, 3], [0, 3], [0, 0]]]}
    crossed = {"type": "Polygon", "coordinates": [[[0, 0], [4, 3], [4, 0], [0, 3], [0, 0]]]}
    line = {"type": "LineString", "coordinates": [[0, 1], [0, 2]]}
    features = [
        {"type": "Feature", "properties": {"kind": kind}, "geometry": geometry}
        for kind in ("room", "wall", "opening", "desk")
        for geometry in (drawn, crossed, line)
    ]
    data = json.dumps({"type": "FeatureCollection", "features": features}).encode()
    at_once = read_plan_draft(data)
    monkeypatch.setattr(plan_draft, "geometries_at_once", lambda *_, **__: None)
    one_by_one = read_plan_draft(data)
    assert at_once.features == one_by_one.features
    assert any(one.complaint for one in at_once.features)
