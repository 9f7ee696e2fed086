from __future__ import annotations

import datetime as dt
import difflib
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.editing.copy_floor import copy_floor
from hgmap.editing.floor_settings import (
    add_floor,
    remove_floor,
    rename_floor,
    set_north,
    set_picture,
)
from hgmap.editing.round_settings import (
    add_round,
    edit_round,
    set_opening_in_round,
    set_round_conditions,
)
from hgmap.editing.settings import (
    set_clearance,
    set_level,
    set_map,
    set_readings_defaults,
    set_site_name,
    set_title_block,
    set_use,
)
from hgmap.editing.site_files import SiteFiles, named_files, read_site_files, site_of
from hgmap.errors import HgmapError, LevelError, SiteError
from hgmap.site.model import LevelRequest
from hgmap.site.plan_picture import PlanPicture

MakeSite = Callable[..., Path]
DEMO = read_site_files(Path(__file__).parents[2] / "demo_site")

INLINE = b"""# one line each
name = "Inline"  # the name
use = "commercial"
floors = [ { name = "ground", plan = "plans/0.geojson" } ] # floors
rounds = [ { name = "first", readings = ["readings/first.csv"] } ]
"""

EDITS: dict[str, Callable[[SiteFiles], SiteFiles]] = {
    "name": lambda f: set_site_name(f, "Another \"name\""),
    "use": lambda f: set_use(f, "health care"),
    "no use": lambda f: set_use(f, None),
    "level": lambda f: set_level(f, "atsdr-residential-occupancy"),
    "no level": lambda f: set_level(f, None),
    "map": lambda f: set_map(f, cell_m=0.25, height_band=None, walls=False, clear_at=0.04),
    "title block": lambda f: set_title_block(f, client="C & Co", address=""),
    "readings": lambda f: set_readings_defaults(f, height_m=1.5),
    "clearance": lambda f: set_clearance(f, occupied_temperature_c=None, guidance=None),
    "floor": lambda f: add_floor(f, "attic", title="Attic"),
    "title": lambda f: rename_floor(f, "first", "Upstairs"),
    "no title": lambda f: rename_floor(f, "first", ""),
    "north": lambda f: set_north(f, "first", None),
    "no floor": lambda f: remove_floor(f, "first"),
    "picture": lambda f: set_picture(
        f, "top", PlanPicture("a/B.PNG", 0.02), data=b"\x89PNG"
    ),
    "round": lambda f: add_round(f, "third", title="Third", date=dt.date(2026, 4, 1)),
    "clearance round": lambda f: add_round(f, "fourth", purpose="clearance", readings=["r/x.csv"]),
    "edit": lambda f: edit_round(f, "before", title=None, purpose="clearance"),
    "conditions": lambda f: set_round_conditions(
        f, "before", windows="open", note=None, occupied=True
    ),
    "opening": lambda f: set_opening_in_round(f, "before", "ground", first_opening(f), "sealed"),
}  # fmt: skip


def first_opening(files: SiteFiles) -> str:
    floor = site_of(files).floor("ground")
    assert floor is not None
    return floor.openings[0].id


def values(files: SiteFiles) -> dict[str, Any]:
    return tomllib.loads(files.text("site.toml"))


def comments(files: SiteFiles) -> list[str]:
    return [line for line in files.text("site.toml").splitlines() if line.startswith("#")]


@settings(max_examples=12)
@given(st.lists(st.sampled_from(sorted(EDITS)), min_size=1, max_size=4, unique=True))
def test_any_edits_leave_a_site_that_can_be_read_and_every_comment(names: list[str]) -> None:
    files = DEMO
    for name in sorted(names, key=list(EDITS).index):
        if not (name == "level" and "use" in names):  # that level is not for a hospital
            files = EDITS[name](files)
    assert comments(files) == comments(DEMO)
    assert site_of(files).name
    assert DEMO.contents["site.toml"].startswith(b"# INVENTED")


@pytest.mark.parametrize("name", EDITS)
def test_an_edit_changes_only_the_lines_that_it_is_about(name: str) -> None:
    before = DEMO.text("site.toml").splitlines()
    after = EDITS[name](DEMO).text("site.toml").splitlines()
    changes = [line for line in difflib.ndiff(before, after) if line[0] in "+-" and line[2:]]
    assert changes or name == "clearance"
    assert len(changes) <= 6


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_ends_and_the_byte_order_mark_stay(ending: str, mark: bytes) -> None:
    text = DEMO.text("site.toml").replace("\n", ending)
    files = DEMO.with_file("site.toml", mark + text.encode())
    after = set_map(add_floor(files, "attic"), cell_m=0.5)
    data = after.contents["site.toml"]
    assert data.startswith(mark + b"# INVENTED")
    assert data.count(b"\n") == data.count(ending.encode())
    assert values(after)["map"]["cell_m"] == 0.5


def test_values_are_what_was_said() -> None:
    files = set_level(DEMO, LevelRequest(value=0.3, unit="ug/m3", averaging="8 h", height="1.5 m",
                                         scenario="occupancy", source="own"))  # fmt: skip
    assert values(files)["level"] == {"value": 0.3, "unit": "ug/m3", "averaging": "8 h",
                                      "height": "1.5 m", "scenario": "occupancy",
                                      "source": "own"}  # fmt: skip
    assert "level" not in values(set_level(DEMO, None))
    files = set_map(DEMO, cell_m=0.25, height_band=None)
    assert values(files)["map"] == {"cell_m": 0.25}
    assert "map" not in values(set_map(DEMO, height_band=None))
    assert "client" not in values(set_title_block(DEMO, client=""))["title_block"]
    files = EDITS["clearance round"](DEMO)
    assert values(files)["rounds"][2] == {
        "name": "fourth", "purpose": "clearance", "readings": ["r/x.csv"]
    }  # fmt: skip
    files = EDITS["conditions"](DEMO)
    assert site_of(files).rounds[0].conditions.windows == "open"
    assert site_of(files).rounds[0].conditions.note == ""


def test_a_state_of_an_opening_is_set_changed_and_taken_back() -> None:
    door = first_opening(DEMO)
    sealed = set_opening_in_round(DEMO, "after", "ground", door, "sealed")
    assert site_of(sealed).rounds[1].openings == (("ground", door, "sealed"),)
    open_ = set_opening_in_round(sealed, "after", "ground", door, "open")
    assert site_of(open_).rounds[1].openings == (("ground", door, "open"),)
    back = set_opening_in_round(open_, "after", "ground", door, None)
    assert values(back) == values(DEMO)
    assert set_opening_in_round(DEMO, "after", "ground", door, None) == DEMO
    for round_, floor, opening in (("x", "ground", door), ("after", "x", door),
                                   ("after", "ground", "x")):  # fmt: skip
        with pytest.raises(SiteError):
            set_opening_in_round(DEMO, round_, floor, opening, "open")


@pytest.mark.parametrize(
    "edit",
    [
        lambda: add_floor(DEMO, "attic", title="t" * 81),
        lambda: rename_floor(DEMO, "first", "t" * 81),
        lambda: copy_floor(DEMO, "first", "second", title="t" * 81),
    ],
)
def test_a_title_is_refused_before_it_is_cut(edit: Any) -> None:
    with pytest.raises(SiteError, match="of a floor has at most 80 characters, found 81"):
        edit()


def test_a_new_floor_has_an_empty_plan_or_the_one_given() -> None:
    files = add_floor(DEMO, "attic / east", title="Attic")
    name = "plans/attic-east.geojson"
    assert name in named_files(files)
    assert b'"features": []' in files.contents[name]
    given_plan = DEMO.contents["plans/top.geojson"]
    files = add_floor(DEMO, "copy", plan=given_plan)
    assert [one.name for one in site_of(files).floors][-1] == "copy"
    for taken in ("ground", "Ground", "Ground floor", "", "x" * 61):
        with pytest.raises(SiteError) as caught:
            add_floor(DEMO, taken)
        assert "\n" not in str(caught.value)


def test_a_floor_goes_with_its_plan_its_picture_and_its_openings() -> None:
    files = set_opening_in_round(DEMO, "after", "ground", first_opening(DEMO), "sealed")
    files = set_picture(files, "ground", PlanPicture("scan.jpg", 0.01), data=b"jpg")
    assert "plans/ground.jpg" in files.contents
    gone = remove_floor(files, "ground")
    assert not {"plans/ground.geojson", "plans/ground.jpg"} & set(gone.contents)
    assert "openings" not in values(gone)["rounds"][1]
    assert [one.name for one in site_of(gone).floors] == ["first", "top"]
    assert len(site_of(gone).readings) == len(site_of(DEMO).readings)
    for floor in ("first", "top"):
        gone = remove_floor(gone, floor)
    assert "floors" not in values(gone)


def test_a_picture_is_laid_moved_replaced_and_taken_away() -> None:
    laid = set_picture(DEMO, "top", PlanPicture("scan.jpg", 0.01, 3, 1, 2), data=b"jpg")
    assert values(laid)["floors"][2]["picture"] == {
        "file": "plans/top.jpg", "m_per_px": 0.01, "origin_x_m": 1, "origin_y_m": 2,
        "angle_deg": 3,
    }  # fmt: skip
    moved = set_picture(laid, "top", PlanPicture("", 0.02))
    assert moved.contents["plans/top.jpg"] == b"jpg"
    other = set_picture(moved, "top", PlanPicture("scan.png", 0.02), data=b"png")
    assert other.contents["plans/top.png"] == b"png"
    assert "plans/top.jpg" not in other.contents
    gone = set_picture(other, "top", None)
    assert values(gone) == values(DEMO)
    assert "plans/top.png" not in gone.contents
    with pytest.raises(SiteError, match="no picture"):
        set_picture(DEMO, "top", PlanPicture("", 0.01))
    for file, scale in (("a.png", -1.0), ("a.gif", 0.01)):
        with pytest.raises(SiteError):
            set_picture(DEMO, "top", PlanPicture(file, scale), data=b"")


REFUSED: dict[str, Callable[[SiteFiles], SiteFiles]] = {
    "no name": lambda f: set_site_name(f, "  "),
    "strange use": lambda f: set_use(f, "skool"),
    "strange key": lambda f: set_map(f, cel_m=1),
    "cell of nothing": lambda f: set_map(f, cell_m=0.0),
    "yes for a number": lambda f: set_map(f, cell_m=True),
    "clear above remediate": lambda f: set_map(f, clear_at=0.05, remediate_at=0.01),
    "no such band": lambda f: set_map(f, height_band="knee"),
    "strange limit": lambda f: set_readings_defaults(f, detection_limit="5 apples"),
    "round twice": lambda f: add_round(f, "before"),
    "round alike": lambda f: add_round(f, "Before"),
    "no such round": lambda f: edit_round(f, "x", title="y"),
    "strange purpose": lambda f: edit_round(f, "before", purpose="fun"),
    "name of a round": lambda f: edit_round(f, "before", name="fun"),
    "hot": lambda f: set_round_conditions(f, "before", temperature_c=600),
    "strange condition": lambda f: set_round_conditions(f, "before", moon="full"),
    "no such floor": lambda f: rename_floor(f, "x", "y"),
    "title of another": lambda f: rename_floor(f, "first", "ground"),
    "control": lambda f: set_title_block(f, client="a\x1b[31m"),
}


@pytest.mark.parametrize("how", REFUSED)
def test_what_would_break_the_site_is_refused_in_one_line(how: str) -> None:
    with pytest.raises(HgmapError) as caught:
        REFUSED[how](DEMO)
    assert "\n" not in str(caught.value)
    assert "harm" not in str(caught.value)


def test_a_level_that_is_not_for_this_building_is_refused() -> None:
    for level in ("osha-ceiling", "no-such-level", LevelRequest(value=3.0),
                  LevelRequest(name="new-jersey-school-floor", value=3.0)):  # fmt: skip
        with pytest.raises(LevelError):
            set_level(DEMO, level)


def test_lists_on_one_line_are_edited_too(make_site: MakeSite) -> None:
    files = read_site_files(make_site()).with_file("site.toml", INLINE)
    files = add_floor(files, "first")
    files = add_round(files, "second", date=dt.date(2026, 3, 9))
    files = set_round_conditions(files, "second", windows="open")
    files = set_opening_in_round(files, "first", "ground", "d1", "closed")
    files = rename_floor(files, "ground", "Ground floor")
    files = set_level(files, "atsdr-commercial-occupancy")
    text = files.text("site.toml")
    assert text.startswith('# one line each\nname = "Inline"  # the name\n')
    site = site_of(remove_floor(files, "first"))
    assert site.rounds[0].openings == (("ground", "d1", "closed"),)
    assert site.rounds[1].conditions.windows == "open"
    assert site.floors[0].title == "Ground floor"


def test_a_broken_site_file_is_not_edited() -> None:
    files = DEMO.with_file("site.toml", b"name = \n")
    with pytest.raises(SiteError, match="TOML syntax"):
        set_site_name(files, "x")
    with pytest.raises(SiteError, match="TOML syntax"):
        add_floor(files, "x")
