"""Rooms taped wall by wall: they close by the compass rule, and meet at the doors they share."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.editing.room_schedule import read_room_schedule
from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.schedule import LAID_APART, draw_schedule
from hgmap.site.importers.tape import Direction, close, read_direction
from hgmap.site.plan import OPENING_REACH_M
from tests.editing.drawn_plans import plan_of

HEAD = "room,wall,turn,length,from corner,door width,to room\n"


def draw(text: str) -> Drawing:
    (only,) = draw_schedule(text.encode(), file="tape.csv")
    return only


def shapes(drawing: Drawing) -> dict[str, shapely.Polygon]:
    return {one.name: one.geometry for one in drawing.of_role("room")}


def test_a_published_traverse_is_adjusted_as_published() -> None:
    """C. D. Ghilani, P. R. Wolf, Elementary Surveying, 10.7: tables 10.2 to 10.4 (from memory).

    Departures and latitudes of a traverse in feet, and both after the compass rule.
    """
    departures = np.array([517.451, 5.964, 192.889, -590.565, -125.715])
    latitudes = np.array([-388.815, -202.942, 694.045, 153.708, -255.919])
    adjusted_departures = np.array([517.444, 5.962, 192.882, -590.571, -125.718])
    adjusted_latitudes = np.array([-388.835, -202.948, 694.022, 153.689, -255.928])
    bearings = np.degrees(np.arctan2(departures, latitudes))
    lengths = np.hypot(departures, latitudes)
    made = close(list(bearings), list(lengths))
    assert made.perimeter_m == pytest.approx(2466.00, abs=0.02)
    assert made.misclosure_m == pytest.approx(0.081, abs=0.001)
    walls = np.diff(np.vstack([made.corners, made.corners[:1]]), axis=0)
    assert walls[:, 0] == pytest.approx(adjusted_departures, abs=0.0015)
    assert walls[:, 1] == pytest.approx(adjusted_latitudes, abs=0.0015)


lengths = st.lists(st.floats(0.5, 60), min_size=3, max_size=12)


@given(lengths, st.data())
def test_corners_close_and_each_wall_changes_by_its_share_of_what_was_missing(
    walls: list[float], data: st.DataObject
) -> None:
    bearings = data.draw(st.lists(st.floats(0, 360), min_size=len(walls), max_size=len(walls)))
    made = close(bearings, walls)
    turn = np.radians(bearings)
    legs = np.array(walls)[:, None] * np.column_stack([np.sin(turn), np.cos(turn)])
    adjusted = np.diff(np.vstack([made.corners, made.corners[:1]]), axis=0)
    assert adjusted.sum(axis=0) == pytest.approx([0, 0], abs=1e-9)
    change = np.hypot(*(adjusted - legs).T)
    assert change == pytest.approx(made.misclosure_m * np.array(walls) / sum(walls), abs=1e-9)


sides = st.floats(1, 80).map(lambda side: round(side, 2))


@given(sides, sides, st.sampled_from(["right", "left"]))
def test_a_rectangle_of_any_size_comes_back_from_its_walls(
    width: float, depth: float, side: str
) -> None:
    rows = "".join(f"Lab,,{side},{length:.2f},,,\n" for length in (width, depth, width, depth))
    (room,) = shapes(draw(HEAD + rows)).values()
    assert room.area == pytest.approx(width * depth, rel=1e-9)
    west, south, east, north = room.bounds
    assert sorted((east - west, north - south)) == pytest.approx(sorted((width, depth)))


def test_an_l_shaped_room_is_taped_by_bearings_and_by_turns_alike() -> None:
    walls = [("east", "", 6), ("N", "left", 2), ("W", "left", 3), ("0", "right", 2),
             ("270", "left", 3), ("S 0 E", "left", 4)]  # fmt: skip
    by_bearing = "room,direction,length\n" + "".join(f"L,{a},{c}\n" for a, _, c in walls)
    by_turn = "room,turn,length\n" + "".join(f"L,{b},{c}\n" for _, b, c in walls)
    first, second = shapes(draw(by_bearing))["L"], shapes(draw(by_turn))["L"]
    assert first.equals_exact(second, 1e-9)
    assert first.area == pytest.approx(6 * 2 + 3 * 2)


def test_a_small_misclosure_is_stated_and_spread() -> None:
    only = draw(HEAD + "Lab,,,4,,,\nLab,,left,3,,,\nLab,,left,4.04,,,\nLab,,left,3,,,\n")
    assert only.notes == (
        "tape.csv, row 2: room 'Lab': its walls miss their beginning by 0.040 m of 14.04 m: spread "
        "over them (compass rule)",
    )
    assert shapes(only)["Lab"].area == pytest.approx(12.06, abs=0.02)


def test_a_large_misclosure_is_refused_with_its_row_and_the_other_room_survives() -> None:
    good = "Lab,,,4,,,\nLab,,left,3,,,\nLab,,left,4,,,\nLab,,left,3,,,\n"
    only = draw(HEAD + good + good.replace("Lab", "Store").replace("left,4", "left,4.5"))
    assert list(shapes(only)) == ["Lab"]
    assert only.notes[0].startswith(
        "tape.csv, row 6: room 'Store' left out: its walls miss their beginning by 0.500 m of "
        "14.50 m, more than 0.145 m; measure its walls again"
    )


@given(st.floats(0.001, 3), st.floats(2, 30))
def test_what_is_missing_is_spread_up_to_the_limit_and_never_beyond(
    missing: float, side: float
) -> None:
    rows = [side, side, side + missing, side]
    limit = max(0.05, 0.01 * sum(rows))
    assume(abs(missing - limit) > 1e-3)
    text = HEAD + "".join(f"Lab,,left,{length:.6f},,,\n" for length in rows)
    if missing < limit:
        assert shapes(draw(text))["Lab"].area > 0
    else:
        with pytest.raises(PlanError, match=r"no row is a room .* miss their beginning"):
            draw(text)


LAB = (
    "Lab,a,,6,,,\nLab,b,left,4,1,0.9,Store\nLab,c,left,6,,,\nLab,d,left,4,,,\n"
    "Lab,c,,,2,1.2,outside\n"
)
STORE = "Store,a,,3,,,\nStore,b,right,4,,,\nStore,c,right,3,,,\nStore,d,right,4,1,0.9,Lab\n"
"""Walked the other way round, and drawn upside down: its door has to be turned to the laboratory's.

Its wall d runs up from its lower left corner; from there to the door it is 1 m as well.
"""


def test_rooms_meet_at_the_door_they_share_a_wall_apart() -> None:
    only = draw(HEAD + LAB + STORE)
    assert only.notes == ()
    lab, store = shapes(only)["Lab"], shapes(only)["Store"]
    assert lab.bounds == pytest.approx((0, 0, 6, 4))
    assert store.bounds == pytest.approx((6.1, 0, 9.1, 4))
    inner, outer = sorted(
        (one.geometry for one in only.of_role("door")), key=lambda one: one.length
    )
    assert inner.bounds == pytest.approx((6.05, 1, 6.05, 1.9))
    assert outer.bounds == pytest.approx((2.8, 4, 4, 4))
    assert max(inner.distance(one) for one in (lab, store)) < OPENING_REACH_M


def test_a_room_by_bearings_is_never_turned_to_fit_a_door() -> None:
    head = "room,direction,length,from corner,door width,to room,wall thickness\n"
    lab = "Lab,E,6,,,,\nLab,N,4,1,0.9,Store,0.2\nLab,W,6,,,,\nLab,S,4,,,,\n"
    store = "Store,E,3,,,,\nStore,N,4,,,,\nStore,W,3,,,,\nStore,S,4,2.1,0.9,Lab,\n"
    only = draw(head + lab + store)
    assert only.notes == ()
    assert shapes(only)["Store"].bounds == pytest.approx((6.2, 0, 9.2, 4))
    wrong = store.replace("Store,S,4,2.1,0.9,Lab,", "Store,S,4,,,,").replace(
        "Store,E,3,,,,", "Store,E,3,1,0.9,Lab,"
    )
    apart = draw(head + lab + wrong)
    assert "90 degrees off facing each other" in apart.notes[0]
    assert LAID_APART in apart.notes


def test_a_door_to_a_room_that_has_none_back_joins_nothing_and_is_still_a_door() -> None:
    only = draw(HEAD + LAB + STORE.replace("1,0.9,Lab", ",,"))
    assert "a door to 'Store', which has none back" in only.notes[0]
    assert LAID_APART in only.notes
    assert len(only.of_role("door")) == 2
    lab, store = shapes(only).values()
    assert lab.distance(store) >= 1 - 1e-9


def test_a_place_in_the_table_is_kept_and_neighbours_follow_it() -> None:
    head = HEAD.replace("room,", "room,x,y,", 1)
    rows = "".join(line.replace(",", ",,,", 1) + "\n" for line in (LAB + STORE).splitlines())
    only = draw(head + rows.replace("Lab,,,a", "Lab,10,20,a", 1))
    assert shapes(only)["Lab"].bounds == pytest.approx((10, 20, 16, 24))
    assert shapes(only)["Store"].bounds == pytest.approx((16.1, 20, 19.1, 24))
    assert only.notes == ()


def test_a_loop_of_rooms_that_does_not_close_is_told() -> None:
    def room(name: str, doors: dict[int, str], width: float = 4.0) -> str:
        walls = [(0, "", width), (1, "left", 4), (2, "left", width), (3, "left", 4)]
        cells = [f"1.5,1,{doors[n]}" if n in doors else ",," for n, _, _ in walls]
        return "".join(
            f"{name},{n},{turn},{length},{cell}\n"
            for (n, turn, length), cell in zip(walls, cells, strict=True)
        )

    four = room("A", {1: "B", 2: "C"}) + room("B", {3: "A", 2: "D"})
    four += room("C", {0: "A", 1: "D"})
    square = draw(HEAD + four + room("D", {0: "B", 3: "C"}))
    assert square.notes == ()
    assert len(square.of_role("door")) == 4
    bent = draw(
        HEAD + four + room("D", {0: "B", 3: "C"}).replace("D,3,left,4,1.5", "D,3,left,4,1.7")
    )
    assert "the door between 'C' and 'D' misses itself by 0.20 m" in bent.notes[0]


def test_the_picture_of_a_tape_is_the_same_wherever_its_rooms_stand_in_the_table() -> None:
    first, second = shapes(draw(HEAD + LAB + STORE)), shapes(draw(HEAD + STORE + LAB))
    gap = first["Lab"].distance(first["Store"])
    assert second["Lab"].distance(second["Store"]) == pytest.approx(gap)
    assert {name: one.area for name, one in first.items()} == pytest.approx(
        {name: one.area for name, one in second.items()}
    )


@pytest.mark.parametrize(
    ("text", "direction"),
    [
        ("90", Direction(90, False)),
        ("90°", Direction(90, False)),
        ("360", Direction(0, False)),
        ("n 45 e", Direction(45, False)),
        ("S10W", Direction(190, False)),
        ("North 30 West", Direction(330, False)),
        ("Right", Direction(90, True)),
        ("L 45°", Direction(-45, True)),
        ("30 left", Direction(-30, True)),
        ("straight", Direction(0, True)),
        ("", None),
    ],
)
def test_directions_are_read_as_people_write_them(text: str, direction: Direction | None) -> None:
    assert read_direction(text) == direction


@pytest.mark.parametrize("text", ["361", "back", "right 200", "nan", "-90", "N 120 E"])
def test_a_direction_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(PlanError, match="neither a bearing nor a turn"):
        read_direction(text)


@pytest.mark.parametrize(
    ("rows", "complaint"),
    [
        ("Lab,,,4,,,\nLab,,left,3,,,\n", "it has 2 walls"),
        (
            "Lab,,,4,,,\nLab,,45,3,,,\nLab,,left,4,,,\n",
            "row 3 .* a turn of '45' says",
        ),
        ("Lab,,,4,,,\nLab,,,3,,,\nLab,,left,4,,,\nLab,,left,3,,,\n", "wall 2 has no direction"),
        ("Lab,,,4,,,\nLab,,left,4e9,,,\n", "a wall of 4e.09 m"),
        ("Lab,,,4,,,\nLab,,left,six,,,\n", "length 'six' is not a number"),
        ("Lab,a,,4,3.5,0.9,\n", "a door from 3.50 to 4.40 m in a wall of 4.00 m"),
        ("Lab,a,,4,,0.9,\n", "a door without its distance from the corner"),
        ("Lab,,,,1,0.9,\n", "a door before the first wall"),
        (",,,4,,,\n", "it names no room"),
    ],
)
def test_a_tape_without_a_room_is_refused_in_one_line(rows: str, complaint: str) -> None:
    with pytest.raises(PlanError, match=complaint) as caught:
        draw(HEAD + rows)
    assert "\n" not in str(caught.value)


words = st.sampled_from(["", "a", "Lab", "Store", "left", "right 45", "90", "N", "nan", "1e9"])
numbers = st.one_of(words, st.floats(-1, 9).map("{:.2f}".format))


@given(st.lists(st.tuples(words, words, words, numbers, numbers, numbers, words), max_size=14))
def test_whatever_the_rows_say_a_tape_is_read_or_refused_in_one_line(
    rows: list[tuple[str, ...]],
) -> None:
    text = HEAD + "".join(",".join(row) + "\n" for row in rows)
    try:
        only = draw(text)
    except PlanError as error:
        complaint = str(error)
    else:
        assert all(one.geometry.is_valid for one in only.of_role("room"))
        return
    assert "\n" not in complaint


def test_the_window_reads_a_tape_as_the_command_line_does_and_keeps_its_doors() -> None:
    made = read_room_schedule((HEAD + LAB + STORE).encode(), where="tape.csv")
    assert [one.name for one in made.draft.rooms] == ["Lab", "Store"]
    kinds = [one.kind for one in made.draft.features]
    assert kinds == ["room", "room", "opening", "opening"]
    plan = plan_of(made.draft)
    assert [round(one.area_m2, 6) for one in plan.rooms] == [24, 12]
    joined = [one.rooms for one in plan.openings]
    assert sorted(map(len, joined)) == [1, 2]


def test_the_window_asks_for_the_rows_of_one_floor() -> None:
    with pytest.raises(PlanError, match=r"lie on 2 floors \(1, 2\); give the rows of one floor"):
        read_room_schedule(b"floor,room,length,width\n1,A,3,3\n2,B,3,3\n", where="r.csv")
