"""The five questions: what is open is counted, and every point that has a place says which."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hgmap.clearance import ClearanceOptions, rule_on_rooms
from hgmap.decide.model import ResampleList
from hgmap.editing.plan_draft import read_plan_draft
from hgmap.editing.soundness import keep_as_drawn, soundness
from hgmap.floor_map import MapOptions, map_floor
from hgmap.map_case import map_case
from hgmap.questions.gather import QUESTIONS, Known, Question, questions
from hgmap.questions.places import place_of
from hgmap.site.check import judge_site
from hgmap.site.folder import read_site

MakeSite = Callable[..., Path]


def asked(known: Known) -> dict[str, Question]:
    return {one.key: one for one in questions(known)}


def known_of(folder: Path, *, mapped: bool = False) -> Known:
    site = read_site(folder)
    check = judge_site(site)
    maps = {}
    if mapped:
        case = map_case(site, MapOptions(cell_m=0.5))
        one = map_floor(case.site, case.site.floors[0], case.round, case.band, case.level,
                        MapOptions(cell_m=0.5), unfit=case.unfit)  # fmt: skip
        maps = {one.floor.name: one}
    return Known(check, maps=maps, round=site.rounds[0].name if site.rounds else "")


def test_there_are_five_in_the_order_of_the_work(make_site: MakeSite) -> None:
    found = questions(known_of(make_site()))
    assert [one.key for one in found] == list(QUESTIONS)
    assert [one.text for one in found] == list(QUESTIONS.values())


def test_without_a_site_the_first_says_why_and_the_others_wait() -> None:
    found = questions(Known(trouble="site.toml: line 3"))
    assert found[0].state == "open"
    assert found[0].points[0].message == "site.toml: line 3"
    assert {one.state for one in found[1:]} == {"not yet"}
    assert questions(Known())[0].points == ()


def test_a_held_reading_is_a_point_of_the_second_question_with_its_place(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    rows = make_rows()
    rows[3] = rows[3].replace("ug/m3", "furlongs")
    found = asked(known_of(make_site(readings={"first.csv": make_table(rows)})))["readings"]
    (point,) = (one for one in found.points if one.reading)
    assert "R4" in point.message
    assert point.place is not None
    assert point.floor == "ground"
    assert point.reading == "readings/first.csv, row 5"


def test_a_reading_that_a_person_held_is_open_no_more(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    folder = make_site()
    (folder / "instruments").mkdir()
    (folder / "instruments/overrules.csv").write_text(
        "reading,round,verdict,initials,reason,date\nR4,first,hold,AB,lid was open,2026-03-02\n"
    )
    found = asked(known_of(folder))["readings"]
    assert not [one for one in found.points if one.reading]


def test_without_readings_the_second_question_says_how_to_begin(make_site: MakeSite) -> None:
    found = asked(known_of(make_site(readings={})))["readings"]
    assert (found.state, found.points[0].severity) == ("open", "stop")


def test_without_a_level_the_third_question_is_where_the_work_stops(make_site: MakeSite) -> None:
    found = asked(known_of(make_site(level=None)))["map"]
    assert found.state == "open"
    assert found.points[0].severity == "stop"


def test_ground_that_is_not_clear_and_places_to_measure_again_are_points(
    make_site: MakeSite,
) -> None:
    known = known_of(make_site(), mapped=True)
    (one,) = known.maps.values()
    found = asked(known)
    wanted = [zone for zone in one.zones.zones if zone.name != "clear"]
    assert {zone.name for zone in wanted} == {"remediate", "resample"}
    shapes = [point.place for point in found["map"].points if point.place is not None]
    assert len(shapes) == len(wanted)
    assert {shape.wkt for shape in shapes} == {zone.geometry.wkt for zone in wanted}
    assert found["next"].open_points == len(one.resample.places)
    for point, place in zip(found["next"].points, one.resample.places, strict=True):
        assert point.place is not None
        assert (point.place.x, point.place.y) == (place.x, place.y)


def every_value(rows: list[str], value: str, qualifier: str = "") -> list[str]:
    found = []
    for row in rows:
        cells = row.split(",")
        cells[7], cells[9] = value, qualifier
        found.append(",".join(cells))
    return found


@pytest.mark.parametrize("limit", ["2", "5"])
def test_where_nothing_is_clear_the_third_question_is_not_settled(
    make_site: MakeSite, make_table: Any, make_rows: Any, limit: str
) -> None:
    table = make_table(every_value(make_rows(), limit, "<"))  # the level is 3
    known = known_of(make_site(readings={"first.csv": table}), mapped=True)
    (one,) = known.maps.values()
    assert {zone.name for zone in one.zones.zones} == {"resample"}
    found = asked(known)["map"]
    assert found.state == "open"
    assert "60.0 m² are not known to be clear" in found.answer
    assert {point.room for point in found.points if point.place is not None} == {"A", "B"}


def test_where_everything_is_clear_the_third_question_is_settled(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    table = make_table(every_value(make_rows(), "0.05", "<"))
    found = asked(known_of(make_site(readings={"first.csv": table}), mapped=True))
    assert (found["map"].state, found["next"].state) == ("settled", "settled")
    assert "no ground is in doubt" in found["map"].answer


def test_ground_in_doubt_for_which_no_place_is_proposed_stays_open(make_site: MakeSite) -> None:
    known = known_of(make_site(), mapped=True)
    (one,) = known.maps.values()
    bare = replace(one, resample=ResampleList(()))
    found = asked(replace(known, maps={"ground": bare}))["next"]
    assert found.state == "open"
    assert "no place to measure is proposed" in found.points[0].message


def test_a_note_is_not_counted(make_site: MakeSite) -> None:
    known = known_of(make_site(), mapped=True)
    for one in questions(known):
        assert one.open_points == sum(point.severity != "note" for point in one.points)
        assert (one.state == "settled") <= (one.open_points == 0)


def test_every_room_that_does_not_meet_every_rule_is_a_point_of_the_last(
    make_site: MakeSite,
) -> None:
    folder = make_site()
    known = known_of(folder)
    run = rule_on_rooms(read_site(folder), ClearanceOptions())
    assert asked(known)["release"].state == "not yet"
    found = asked(replace(known, clearance=run))["release"]
    named = {point.room for point in found.points if point.room}
    assert named == {"A", "B"}  # a survey of one hour without a log clears nothing
    assert found.state == "open"
    assert "2 of 2" in found.answer


def test_a_finding_kept_as_drawn_is_a_note(make_site: MakeSite, make_plan: Any) -> None:
    plan = make_plan()
    plan["features"] = plan["features"][:2]  # no door
    draft = read_plan_draft(json.dumps(plan).encode())
    known = known_of(make_site(plans={"ground": plan}))
    found = soundness(draft)
    open_ones = [one for one in found if one.severity != "error"]
    assert open_ones
    before = asked(replace(known, findings={"ground": found}))["plan"]
    for one in open_ones:
        draft = keep_as_drawn(draft, one)
    after = asked(replace(known, findings={"ground": soundness(draft)}))["plan"]
    assert after.open_points <= before.open_points
    assert all(one.severity == "note" for one in after.points)


def test_a_reading_without_a_place_points_at_its_room(make_site: MakeSite, make_table: Any) -> None:
    table = make_table(["R1,ground,A,,,1.5,2026-03-02T09:00,1,furlongs,,"])
    site = read_site(make_site(readings={"first.csv": table}))
    (reading,) = site.readings
    place = place_of(reading._replace(x=None, y=None), site)
    assert place is not None
    assert place.equals(site.floors[0].rooms[0].polygon)


@pytest.mark.parametrize("key", list(QUESTIONS))
def test_an_open_question_has_an_answer_or_a_point(key: str, make_site: MakeSite) -> None:
    found = asked(known_of(make_site(), mapped=True))[key]
    assert found.state == "not yet" or found.answer or found.points


def two_floors(make_site: MakeSite, make_plan: Any, *, lost: bool = False) -> Path:
    folder = make_site(plans={"ground": make_plan(), "upper": make_plan()})
    if lost:
        (folder / "plans/1.geojson").write_text("{")
    return folder


@pytest.mark.parametrize("lost", [False, True])
def test_a_map_of_one_floor_says_that_it_is_of_that_floor(
    lost: bool, make_site: MakeSite, make_plan: Any
) -> None:
    known = known_of(two_floors(make_site, make_plan, lost=lost), mapped=True)
    (one,) = known.maps.values()
    calm = replace(
        one, zones=replace(one.zones, zones=()), nothing_clear="",
        resample=replace(one.resample, places=(), stop=None),
    )  # fmt: skip
    found = asked(replace(known, maps={one.floor.name: calm}))
    for key in ("map", "next"):
        assert found[key].state == "open"
        assert "not of every floor: upper not looked at" in found[key].answer


def test_a_map_of_every_floor_says_nothing_of_floors(make_site: MakeSite) -> None:
    found = asked(known_of(make_site(), mapped=True))
    assert "every floor" not in found["map"].answer + found["next"].answer


def test_a_round_without_a_reading_is_not_settled(make_site: MakeSite) -> None:
    known = known_of(make_site())
    found = asked(replace(known, round="another"))["readings"]
    assert (found.state, found.points[0].severity) == ("open", "stop")
    assert "'another' has no reading" in found.points[0].message


def met(run: Any) -> Any:
    """Let every room meet every rule that was asked."""
    levels = []
    for level in run.levels:
        floors = []
        for floor in level.floors:
            rooms = tuple(
                replace(
                    room, held_back=(),
                    outcomes=tuple(
                        replace(one, ruling=replace(one.ruling, outcome="meets", missing=()))
                        for one in room.outcomes
                    ),
                )
                for room in floor.rooms
            )  # fmt: skip
            floors.append(replace(floor, rooms=rooms))
        levels.append(replace(level, floors=tuple(floors), held_back=()))
    return replace(run, levels=tuple(levels))


def test_rooms_of_a_floor_that_is_lost_are_not_released_with_the_others(
    make_site: MakeSite, make_plan: Any
) -> None:
    folder = two_floors(make_site, make_plan, lost=True)
    run = met(rule_on_rooms(read_site(folder), ClearanceOptions()))
    assert run.exit_code == 1
    found = asked(replace(known_of(folder), clearance=run))["release"]
    assert found.state == "open"
    assert not found.answer.startswith("All")
    assert "Not ruled on: upper" in found.answer


def test_one_rule_that_was_chosen_is_not_called_every_rule(make_site: MakeSite) -> None:
    folder = make_site()
    every = rule_on_rooms(read_site(folder), ClearanceOptions())
    name = every.rules[0].name
    one = met(rule_on_rooms(read_site(folder), ClearanceOptions(rule=name)))
    known = known_of(folder)
    assert "meet every rule" in asked(replace(known, clearance=met(every)))["release"].answer
    answer = asked(replace(known, clearance=one))["release"].answer
    assert name in answer
    assert "every rule" not in answer


def test_nothing_is_said_of_floors_that_were_not_looked_at() -> None:
    site = read_site(Path(__file__).parents[1] / "demo_site")
    options = MapOptions(cell_m=0.5)
    case = map_case(site, options)
    maps = {}
    for floor in case.site.floors[1:]:
        one = map_floor(case.site, floor, case.round, case.band, case.level, options,
                        unfit=case.unfit)  # fmt: skip
        maps[floor.name] = one
    titles = {one.name: one.title for one in site.floors}
    names = [one.name for one in site.floors]
    partly = asked(Known(judge_site(site), maps={names[1]: maps[names[1]]}, floor=names[1]))
    for key in ("map", "next"):
        unseen = [one for one in partly[key].points if "no map of it yet" in one.message]
        assert [one.floor for one in unseen] == [names[0], *names[2:]]
        assert all(one.place is not None and one.todo for one in unseen)
        assert partly[key].state == "open"
    assert partly["map"].answer.startswith(f"{titles[names[1]]}: ")
    assert titles[names[0]] in partly["map"].answer
    more = asked(Known(judge_site(site), maps=maps, floor=names[1]))
    assert (
        more["next"].open_points
        == sum(
            len(one.resample.places) if name == names[1] else bool(one.resample.places)
            for name, one in maps.items()
        )
        + 1
    )


def with_caution(row: str) -> str:
    """Write the value of a row as approximate: it is used, with a caution."""
    cells = row.split(",")
    at = next(k for k, text in enumerate(cells) if text == "ug/m3") - 1
    return ",".join([*cells[:at], f"~{cells[at]}", *cells[at + 1 :]])


def test_a_caution_of_a_reading_is_told_with_its_place_and_is_nothing_to_settle(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    rows = make_rows()
    rows[3] = with_caution(rows[3])
    found = asked(known_of(make_site(readings={"first.csv": make_table(rows)})))["readings"]
    (point,) = (one for one in found.points if one.reading == "readings/first.csv, row 5")
    assert point.severity == "note"
    assert "R4" in point.message
    assert "approximate" in point.message
    assert point.place is not None


def test_cautions_of_many_readings_are_told_together(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    rows = [with_caution(one) for one in make_rows(45)]
    found = asked(known_of(make_site(readings={"first.csv": make_table(rows)})))["readings"]
    notes = [one for one in found.points if one.severity == "note"]
    assert len(notes) < 50
    assert found.open_points == sum(one.severity != "note" for one in found.points)
    together = [one for one in notes if one.message.startswith("R1, R2, R3 and 42 more: ")]
    assert together
    assert len({one.message for one in notes}) == len(notes)
