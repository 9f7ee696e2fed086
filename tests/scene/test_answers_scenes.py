"""Rooms by clearance, the doubt to come, imaginary readings: what is drawn, and what never is."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from hgmap.decide.model import ResampleList, ResamplePlace, StopRule, Zone, Zones
from hgmap.report.drawing import Area, Dot, Label, Path
from hgmap.scene.doubt_curve import doubt_curve, expected_doubt
from hgmap.scene.release_scene import SIGNS, release_scene, room_outcomes
from hgmap.scene.what_if_scene import what_if_scene
from hgmap.site.building import Floor, Room
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

FLOOR = Floor(
    "ground", "Ground", (Room("a", "A", box(0, 0, 8, 5)), Room("b", "B", box(8, 0, 16, 5)))
)
OUTCOMES = st.sampled_from(list(SIGNS))


def levels(
    outcomes: list[str], *, held_back: tuple[Any, ...] = (), room_back: tuple[Any, ...] = ()
) -> Any:
    ruled = tuple(SimpleNamespace(ruling=SimpleNamespace(outcome=one)) for one in outcomes)
    room = SimpleNamespace(room=FLOOR.rooms[0], outcomes=ruled, held_back=room_back)
    floor = SimpleNamespace(floor=FLOOR, rooms=(room,))
    return [SimpleNamespace(floors=(floor,), held_back=held_back)]


@given(st.lists(OUTCOMES, max_size=4), st.booleans(), st.booleans())
def test_a_room_is_met_only_where_every_rule_says_so_and_nothing_is_held_back(
    outcomes: list[str], of_round: bool, of_room: bool
) -> None:
    found = room_outcomes(
        levels(outcomes, held_back=("x",) * of_round, room_back=("x",) * of_room), "ground"
    )
    clear = bool(outcomes) and set(outcomes) == {"meets"} and not of_round and not of_room
    assert (found["a"] == "meets") == clear
    assert ("does not meet" in outcomes) == (found["a"] == "does not meet")


def test_a_room_that_nothing_was_said_of_cannot_be_told_yet() -> None:
    drawing = release_scene(FLOOR, {"a": "meets"}, 15.0)
    said = [one.text for one in drawing if isinstance(one, Label)]
    assert said == ["● meets", "A", "▲ cannot tell yet", "B"]
    hatches = [one.hatch.name for one in drawing if isinstance(one, Area) and one.hatch]
    assert hatches == ["dots"]


def test_a_narrow_room_has_the_sign_alone() -> None:
    said = [one.text for one in release_scene(FLOOR, {}, 0.5) if isinstance(one, Label)]
    assert said == ["▲", "▲"]


def place(rank: int, left: float | None) -> ResamplePlace:
    return ResamplePlace(rank, "ground", "a", "A", 1.0, 1.0, 1.5, ("why",), 1.0, left)


@given(st.lists(st.floats(0.0, 70.0), min_size=1, max_size=9))
def test_the_curve_begins_at_the_doubt_of_now_and_stays_inside_its_frame(
    left: list[float],
) -> None:
    stop = StopRule(0.05, 80.0, 70.0, None, None, left[-1], "doors")
    resample = ResampleList(tuple(place(k + 1, one) for k, one in enumerate(left)), stop)
    assert expected_doubt(resample) == (70.0, *left)
    for item in doubt_curve(resample, 60.0, 32.0, 1):
        if isinstance(item, Path | Area):
            west, south, east, north = item.shape.bounds
            assert 0.0 <= west <= east <= 60.0
            assert 0.0 <= south <= north <= 32.0


def test_nothing_is_foretold_where_nothing_can_be() -> None:
    stop = StopRule(0.05, 80.0, 70.0, None, None, None, "no map")
    assert doubt_curve(ResampleList((place(1, None),), stop), 60.0, 32.0) == ()
    assert doubt_curve(ResampleList(()), 60.0, 32.0) == ()


def zones(*names: str) -> Zones:
    made = tuple(
        Zone(cast(Any, name), room.id, room.name, room.polygon, None, None, None, ())
        for name, room in zip(names, FLOOR.rooms, strict=True)
    )
    return Zones(FLOOR, cast(ActionLevel, None), made, (), 0.5, 0.05)


@pytest.mark.parametrize(("then", "said"), [("clear", ["would be: clear"]), ("resample", [])])
def test_only_ground_that_would_change_is_outlined_and_broken(then: str, said: list[str]) -> None:
    drawing = what_if_scene(zones("resample", "clear"), zones(then, "clear"), ())
    assert [one.text for one in drawing if isinstance(one, Label)] == said
    pens = [one.pen for one in drawing if isinstance(one, Path) and one.pen.colour != "#ffffff"]
    assert all(one.dashes for one in pens)
    assert bool(pens) == bool(said)


def test_what_a_ground_would_be_is_said_below_its_reading_and_over_every_sign() -> None:
    at = FLOOR.rooms[0].polygon.representative_point()
    one = Reading("imaginary 1", "", "ground", "a", at.x, at.y, 1.5, None, 0.05, "ug/m3", "<", "",
                  0.05, "", "given", "here")  # fmt: skip
    drawing = what_if_scene(zones("resample", "clear"), zones("clear", "clear"), (one,))
    said = next(item for item in drawing if isinstance(item, Label) and "would" in item.text)
    words = next(item for item in drawing if isinstance(item, Label) and "imaginary" in item.text)
    assert (said.x, said.y) == (words.x, words.y) == (at.x, at.y)
    assert words.offset_pt[1] - said.offset_pt[1] >= said.size_pt
    last_sign = max(k for k, item in enumerate(drawing) if isinstance(item, Dot))
    assert drawing.index(said) > last_sign
