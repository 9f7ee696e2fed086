"""How buildings lie on the map, written into site.toml and nothing else with it."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.editing.frame_edits import set_frame
from hgmap.editing.site_files import SiteFiles, read_site_files, site_of
from hgmap.site.map_frame import MapFrame

MakeSite = Callable[..., Path]
FRAME = MapFrame("EPSG:25832", 604000.123, 5712000.5, 12.5, 0.99987, fitted="conformal fit")
SHEARED = MapFrame("EPSG:25832", 1.0, 2.0, -3.0, 1.001, 0.999, 0.25, "affine fit")
DEMO = read_site_files(Path(__file__).parents[2] / "demo_site")
INLINE = b"""# one line each
name = "Inline"  # the name
floors = [ { name = "ground", plan = "plans/0.geojson" } ] # floors
map_frame = { crs = "EPSG:25832", origin_x_m = 5 }  # the map
buildings = [ { name = "Annex" } ]
"""


def lines_changed(before: SiteFiles, after: SiteFiles) -> tuple[list[str], list[str]]:
    told = list(difflib.ndiff(before.text("site.toml").splitlines(),
                              after.text("site.toml").splitlines()))  # fmt: skip
    return ([one[2:] for one in told if one.startswith("- ")],
            [one[2:] for one in told if one.startswith("+ ") and one[2:]])  # fmt: skip


def test_a_frame_is_added_at_the_end_and_no_other_line_changes() -> None:
    after = set_frame(DEMO, FRAME)
    gone, new = lines_changed(DEMO, after)
    assert gone == []
    assert new == [
        "[map_frame]", 'crs = "EPSG:25832"', "origin_x_m = 604000.123", "origin_y_m = 5712000.5",
        "angle_deg = 12.5", "scale = 0.99987", 'fitted = "conformal fit"',
    ]  # fmt: skip
    assert site_of(after).floors[0].map_frame == FRAME


def test_another_frame_takes_its_place_and_leaves_no_key_of_the_first_behind() -> None:
    once = set_frame(DEMO, SHEARED)
    assert site_of(once).floors[0].map_frame == SHEARED
    again = set_frame(once, FRAME)
    assert site_of(again).floors[0].map_frame == FRAME
    assert "skew_deg" not in again.text("site.toml")
    assert set_frame(again, FRAME) is again


def test_buildings_are_added_one_after_another_and_changed_by_name() -> None:
    files = set_frame(DEMO, FRAME)
    files = set_frame(files, SHEARED, building="Annex", floors=("top",))
    files = set_frame(files, FRAME, building="Boiler house", floors=("first",))
    floors = {one.name: one for one in site_of(files).floors}
    assert floors["ground"].map_frame == FRAME
    assert floors["top"].map_frame == SHEARED
    assert floors["first"].building == "Boiler house"
    files = set_frame(files, FRAME, building="Annex")
    table = tomllib.loads(files.text("site.toml"))
    assert [one["name"] for one in table["buildings"]] == ["Annex", "Boiler house"]
    assert site_of(files).floors[2].map_frame == FRAME


def test_a_map_without_a_frame_of_its_own_is_made_for_buildings() -> None:
    every = tuple(one.name for one in site_of(DEMO).floors)
    files = set_frame(DEMO, FRAME, building="Annex", floors=every)
    assert tomllib.loads(files.text("site.toml"))["map_frame"] == {"crs": "EPSG:25832"}


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("building", ["", "Annex", "New"])
def test_inline_tables_comments_and_line_ends_stay(
    make_site: MakeSite, building: str, ending: str
) -> None:
    site = make_site()
    data = INLINE.replace(b"\n", ending.encode())
    (site / "site.toml").write_bytes(data)
    before = read_site_files(site)
    after = set_frame(before, FRAME, building=building, floors=("ground",) if building else ())
    text = after.data("site.toml").decode()
    for kept in ("# one line each", "# the name", "# floors", "# the map"):
        assert kept in text
    assert text.count("\n") == text.count(ending)
    assert site_of(after).floors[0].map_frame == FRAME
