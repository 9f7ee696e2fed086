"""A plan opened from Python: edits say what they did and what readings mean then, and are saved."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import hgmap
from hgmap.editing.open_plan import OpenPlan, open_plan
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_openings import add_opening, move_opening
from hgmap.editing.save import ChangedOnDisk
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import HgmapError
from hgmap.site.folder import read_site
from tests.editing.drawn_plans import area, door, draft_of, feature, plan_of, plans, room
from tests.editing.test_repair_site import SITE

MakeSite = Callable[..., Path]
HEAD = "id,floor,room,x,y,height,time,value,unit,qualifier,note\n"
TIMES = "1.5,2026-03-02T09:00,1,ug/m3,,"


def opened(draft: PlanDraft) -> OpenPlan:
    files = SiteFiles(Path("x"), {"site.toml": SITE.encode(), "g.geojson": draft.to_bytes()})
    return OpenPlan(files, files, "g")


@pytest.fixture
def site(make_site: MakeSite) -> Path:
    rows = f"r1,ground,A,1,1,{TIMES}\nr2,ground,Room A,5,1,{TIMES}\nr3,ground,Room A,,,{TIMES}\n"
    return make_site(readings={"first.csv": HEAD + rows})


def test_a_split_says_areas_and_which_rows_mean_another_room(site: Path) -> None:
    plan = open_plan(site, "ground").split("Room A", [(4, 0), (4, 5)], ("", "East end"))
    (said,) = plan.said
    assert said == (
        "split room 'Room A' (30.00 m²): room 'Room A' (20.00 m²) and room 'East end' (10.00 m²)"
    )
    assert plan.readings == (
        "1 reading of room 'Room A' will be held: (5, 1) lies 1.00 m outside room 'Room A'"
        " (readings/first.csv, row 3)",
        "1 reading with no place but room 'Room A', now at another point of it"
        " (readings/first.csv, row 4)",
    )
    assert plan.held_anew == 1


def test_nothing_is_written_until_it_is_saved_and_then_all_of_it(site: Path) -> None:
    before = (site / "plans/0.geojson").read_bytes()
    plan = open_plan(site, "ground").close_opening("d1", "sealed").merge(["A", "Room B"], "Hall")
    assert (site / "plans/0.geojson").read_bytes() == before
    assert plan.said[0] == "opening 'd1': open before, sealed now"
    assert "merged room 'Room A' (30.00 m²) and room 'Room B' (30.00 m²) into" in plan.said[1]
    saved = plan.save()
    assert [one.name for one in read_site(site).floors[0].rooms] == ["Hall"]
    assert (saved.said, saved.base) == ((), plan.files)


def test_a_file_that_somebody_else_changed_is_not_written_over(site: Path) -> None:
    plan = open_plan(site, "ground").rename("A", "Office")
    (site / "plans/0.geojson").write_text('{"type": "FeatureCollection", "features": []}', "utf-8")
    with pytest.raises(ChangedOnDisk):
        plan.save()


def test_a_rename_holds_rows_that_say_the_old_name_unless_they_are_written_too(site: Path) -> None:
    plan = open_plan(site, "ground").rename("Room A", "Office")
    assert plan.held_anew == 2
    assert "2 readings of room 'Room A' will be held: no room 'Room A'" in plan.readings[0]
    followed = open_plan(site, "ground").rename("Room A", "Office", readings=True)
    assert followed.readings == ()
    assert followed.said[0].endswith("written into 2 rows of the readings")
    followed.save()
    text = (site / "readings/first.csv").read_text("utf-8")
    assert text == HEAD + (
        f"r1,ground,A,1,1,{TIMES}\nr2,ground,Office,5,1,{TIMES}\nr3,ground,Office,,,{TIMES}\n"
    )


def test_a_name_that_a_spreadsheet_would_run_is_guarded_in_the_readings(site: Path) -> None:
    open_plan(site, "ground").rename("Room A", "=1+1", readings=True).save()
    assert ",=1+1" not in (site / "readings/first.csv").read_text("utf-8")
    assert {one.room for one in read_site(site).readings} == {"A"}


def test_openings_are_added_moved_and_removed_with_what_rounds_say(make_site: MakeSite) -> None:
    site = make_site(extra='[rounds.openings.ground]\nd1 = "sealed"\n')
    plan = open_plan(site, "ground").add_opening((6.1, 3.5), (6.1, 4.4), "closed", "d2")
    assert plan.said == ("added opening 'd2', 0.90 m wide, closed, between 'A' and 'B'",)
    plan = plan.move_opening("d2", (0, 1), (0, 2))
    assert plan.said[1] == (
        "moved opening 'd2', 0.90 m wide, closed, between 'A' and 'B'; now 1.00 m wide, closed, "
        "at the edge of 'A'"
    )
    plan = plan.remove_opening("d1")
    assert plan.readings == (
        "round 'first' no longer says that opening 'd1' on floor 'ground' was sealed",
    )
    plan.save()
    assert read_site(site).rounds[0].openings == ()


def test_a_floor_is_copied_upwards_with_names_openings_and_north(make_site: MakeSite) -> None:
    toml = (
        'schema_version = 1\nname = "T (invented)"\n# kept\n[[floors]]\nname = "ground"\n'
        'plan = "plans/0.geojson"\nnorth_deg = 12.5\n'
    )
    site = make_site(toml=toml)
    plan = open_plan(site, "ground").copy_floor("first", "First floor")
    assert plan.said == ("copied floor 'ground' to 'first': 2 rooms of 60.00 m², 1 opening, "
                         "0 walls",)  # fmt: skip
    plan.save()
    ground, first = read_site(site).floors
    assert (first.name, first.title, first.north_deg) == ("first", "First floor", 12.5)
    assert (first.rooms, first.openings, first.walls) == (
        ground.rooms, ground.openings, ground.walls
    )  # fmt: skip
    assert (site / "plans/first.geojson").read_bytes() == (site / "plans/0.geojson").read_bytes()
    assert "# kept" in (site / "site.toml").read_text("utf-8")
    for name in ("first", "GROUND", "First floor", " "):
        with pytest.raises(HgmapError):
            open_plan(site, "ground").copy_floor(name)


@pytest.mark.parametrize(
    ("edit", "text"),
    [
        (lambda one: one.split("Z", [(1, 0), (1, 5)]), "no room on floor 'ground' is called 'Z'"),
        (lambda one: one.split("A", [(1, 6), (2, 7)]), "the line does not cross the room"),
        (lambda one: one.merge(["A"]), "merging takes two rooms or more"),
        (lambda one: one.close_opening("d9"), "no opening on floor 'ground' is called 'd9'"),
        (lambda one: one.add_opening((3, 2), (3, 3)), "no wall of a room is within 0.35 m"),
        (lambda one: one.rename("A", "room b"), "another room has the name"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    site: Path, edit: Callable[[OpenPlan], OpenPlan], text: str
) -> None:
    with pytest.raises(HgmapError, match=text):
        edit(open_plan(site, "ground"))


def test_an_unsound_plan_can_be_opened_and_a_word_for_two_rooms_is_asked_again() -> None:
    ring = [[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]
    same = [feature("room", "Polygon", [ring], id=one, name="Lab") for one in ("A", "B")]
    plan = opened(draft_of(*same))
    with pytest.raises(HgmapError, match="2 features answer to 'lab'"):
        plan.rename("lab", "Store")
    assert {one.rule for one in plan.findings} >= {"name", "overlap"}
    assert plan.rename("B", "Store").draft.rooms[1].name == "Store"


@given(plans(least=2), st.floats(0.25, 0.75), st.data())
def test_split_and_merged_again_a_room_is_what_it_was(
    draft: PlanDraft, share: float, data: Any
) -> None:
    plan = opened(draft)
    key = data.draw(st.sampled_from(sorted(draft.sound_rooms)))
    room = draft.sound_rooms[key]
    west, south, east, north = room.polygon.bounds
    x = round(west + share * (east - west), 3)
    cut = plan.split(room.name, [(x, south), (x, north)])
    new = cut.draft.rooms[-1]
    halves = [one.area_m2 for one in plan_of(cut.draft).rooms if one.id in (room.id, new.id)]
    assert sum(halves) == pytest.approx(room.area_m2, abs=1e-9)
    whole = cut.merge([room.id, new.id], room.name)
    back = next(one for one in plan_of(whole.draft).rooms if one.name == room.name)
    assert back.polygon.symmetric_difference(room.polygon).area < 1e-6
    assert area(whole.draft) == pytest.approx(area(draft), abs=1e-6)
    assert len(whole.draft.openings) == len(draft.openings)


@pytest.mark.parametrize(
    ("rings", "area_m2"),
    [
        # the example of the shoelace formula in an encyclopedia, from memory; by hand as well
        ([[(1, 6), (3, 1), (7, 2), (4, 4), (8, 5)]], 16.5),
        # by hand: 10 by 6 less a court of 2 by 3, and an L of 6 by 2 and 2 by 3
        ([[(0, 0), (10, 0), (10, 6), (0, 6)], [(2, 1), (4, 1), (4, 4), (2, 4)]], 54.0),
        ([[(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)]], 18.0),
    ],
)
def test_areas_are_those_of_hand_and_a_split_shares_them_out(
    rings: list[list[tuple[float, float]]], area_m2: float
) -> None:
    closed = [[list(at) for at in (*ring, ring[0])] for ring in rings]
    plan = opened(draft_of(feature("room", "Polygon", closed, id="A", name="A")))
    assert area(plan.draft) == pytest.approx(area_m2)
    cut = plan.split("A", [(0, 1.5), (10, 1.5)]) if area_m2 == 18 else plan
    assert area(cut.draft) == pytest.approx(area_m2)
    assert f"({area_m2:.2f} m²)" in plan.rename("A", "B").said[0]


def test_the_public_names_are_these_functions() -> None:
    assert hgmap.open_plan is open_plan
    assert hgmap.OpenPlan is OpenPlan


def test_no_opening_is_put_where_one_lies_already() -> None:
    draft = draft_of(room("A", 0, 0, 6, 5), room("B", 6.15, 0, 12, 5), door("d1", 6.08, 2, 6.08, 3))
    with pytest.raises(HgmapError, match="'d1' lies there already"):
        add_opening(draft, (6.08, 2.02), (6.08, 2.98))
    after = add_opening(draft, (6.08, 4), (6.08, 4.8))
    assert len(after.openings) == 2
    assert len(move_opening(after, after.openings[0].key, (6.08, 1.9), (6.08, 2.9)).openings) == 2
