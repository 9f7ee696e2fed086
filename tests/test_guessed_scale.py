"""A plan that was drawn after an image whose scale nobody set clears nothing."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.batch import map_site
from hgmap.clearance import ClearanceOptions, rule_on_rooms
from hgmap.editing.plan_of_floor import scale_floor
from hgmap.editing.site_files import read_site_files, site_of
from hgmap.floor_map import MapOptions
from hgmap.questions.gather import Known, questions
from hgmap.site.check import judge_site
from hgmap.site.folder import read_site
from hgmap.site.plan_picture import GUESSED

MakeSite = Callable[..., Path]
ROWS = [
    f"L{n},ground,A,{x},{y},1.5,2026-03-02T09:{n:02d},0.05,ug/m3,<"
    for n, (x, y) in enumerate([(1, 1), (3, 1), (1, 3), (3, 3), (2, 2), (2, 1), (1, 2), (3, 2)])
]
TITLES = "id,floor,room,x,y,height,time,value,unit,qualifier"


def low_site(make_site: MakeSite, *, guessed: bool | None, folder: str = "site") -> Path:
    picture = (
        '[floors.picture]\nfile = "plans/0.png"\nm_per_px = 0.05\n'
        + ("guessed = true\n" if guessed else "")
        if guessed is not None
        else ""
    )
    table = "\n".join([TITLES, *ROWS]) + "\n"
    made = make_site(folder, readings={"first.csv": table})
    text = (made / "site.toml").read_text()
    at = text.index("[[rounds]]")
    (made / "site.toml").write_text(text[:at] + picture + text[at:])
    return made


def clear_m2(folder: Path) -> float:
    run = map_site(folder, MapOptions(cell_m=0.5))
    return sum(one.zones.area_m2("clear") for one in run.floors)


def test_a_guessed_scale_clears_nothing_and_says_why(make_site: MakeSite) -> None:
    measured = low_site(make_site, guessed=False, folder="measured")
    guessed = low_site(make_site, guessed=True, folder="guessed")
    assert clear_m2(measured) > 0.0
    run = map_site(guessed, MapOptions(cell_m=0.5))
    assert clear_m2(guessed) == 0.0
    assert GUESSED in run.floors[0].nothing_clear
    assert any(GUESSED in text for text in run.warnings)


def test_no_room_of_a_guessed_scale_meets(make_site: MakeSite) -> None:
    run = rule_on_rooms(read_site(low_site(make_site, guessed=True)), ClearanceOptions())
    rooms = [room for level in run.levels for floor in level.floors for room in floor.rooms]
    found = [one.ruling for room in rooms for one in room.outcomes]
    assert found
    assert all(one.outcome != "meets" for one in found)
    assert any("the scale of the plan" in text for one in found for text in one.missing)


def test_it_is_an_open_point_of_the_first_question(make_site: MakeSite) -> None:
    check = judge_site(read_site(low_site(make_site, guessed=True)))
    plan = questions(Known(check=check))[0]
    point = next(one for one in plan.points if GUESSED in one.message)
    assert point.severity == "look"
    assert "two points" in point.todo
    assert plan.state == "open"


@pytest.mark.parametrize("guessed", [False, None])
def test_a_scale_that_was_set_is_not_doubted(make_site: MakeSite, guessed: bool | None) -> None:
    site = read_site(low_site(make_site, guessed=guessed))
    assert not any(GUESSED in one.message for one in site.problems)


def test_scaling_the_plan_ends_the_guess(make_site: MakeSite) -> None:
    files = read_site_files(low_site(make_site, guessed=True))
    scaled = scale_floor(files, "ground", 2.0)
    assert "guessed" not in scaled.text("site.toml")
    assert not any(GUESSED in one.message for one in site_of(scaled).problems)


def test_a_picture_that_is_gone_leaves_the_guess(make_site: MakeSite) -> None:
    made = low_site(make_site, guessed=True)
    assert not (made / "plans" / "0.png").exists()
    assert any(GUESSED in one.message for one in read_site(made).problems)
