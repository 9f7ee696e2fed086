"""A new site appears whole, or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from PIL import Image

from hgmap.editing.begin import Beginning, DrawnPlan, PicturedPlan, begin_site
from hgmap.editing.begin_readings import FirstReadings, look_at_readings, titles_of
from hgmap.editing.new_folder import free_name, look_at
from hgmap.errors import HgmapError
from hgmap.floor_map import MapOptions
from hgmap.map_case import MapCase, map_case
from hgmap.site.folder import read_site
from hgmap.site.importers.readers import plan_readers, reader_of
from hgmap.site.intake.answers import Answers
from hgmap.site.model import LevelRequest

PLAN = b"""{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Hall"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]}}]}"""
READINGS = b"id,room,x,y,height,value,unit\nA1,Hall,1,1,1.2,0.4,ug/m3\nA2,Hall,5,3,1.2,2.1,ug/m3\n"
LEVEL = LevelRequest(name="atsdr-residential-occupancy")


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "in" / "plan.geojson"
    path.parent.mkdir()
    path.write_bytes(PLAN)
    return path


def whole(drawing: Path, folder: Path) -> Beginning:
    return Beginning(
        folder, "A house", "dwelling", "ground", DrawnPlan(drawing),
        FirstReadings("day.csv", READINGS), LEVEL,
    )  # fmt: skip


def names_below(folder: Path) -> set[str]:
    return {str(one.relative_to(folder)) for one in folder.rglob("*")}


def test_a_plan_and_readings_and_a_level_are_enough_for_a_map(
    drawing: Path, tmp_path: Path
) -> None:
    begun = begin_site(whole(drawing, tmp_path / "sites" / "house"))
    site = read_site(begun.folder)
    assert [one.name for one in site.floors[0].rooms] == ["Hall"]
    assert [one.value for one in site.readings] == [0.4, 2.1]
    assert all(one.floor == "ground" for one in site.readings)
    case: MapCase = map_case(site, MapOptions())
    assert case.level.name == "atsdr-residential-occupancy"
    assert not [one for one in os.listdir(tmp_path / "sites") if one.startswith(".tmp")]


def test_a_name_alone_is_enough_to_begin(tmp_path: Path) -> None:
    begun = begin_site(Beginning(tmp_path / "house", "A house"))
    site = read_site(begun.folder)
    assert (site.name, site.use, site.level) == ("A house", None, None)
    assert (begun.folder / "plans" / "ground.geojson").is_file()


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    (tmp_path / "house").mkdir()
    assert (begin_site(Beginning(tmp_path / "house", "A")).folder / "site.toml").is_file()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"plan": DrawnPlan(Path("none.geojson"))}, "no such file"),
        ({"plan": DrawnPlan(Path("plan.odd"))}, "is no drawing that is read"),
        ({"readings": FirstReadings("day.csv", b"a,b\n1,2\n")}, "no header was found"),
        ({"level": LevelRequest(name="osha-permissible-exposure")}, "limit for workers"),
        ({"level": LevelRequest(value=1.0, unit="ug/m3")}, "never a bare number"),
        ({"use": "castle"}, "is not known"),
        ({"name": "  "}, "a site has a name"),
        ({"floor": ""}, "name"),
    ],
)
def test_what_is_refused_leaves_nothing_on_the_disk(
    drawing: Path, tmp_path: Path, change: dict[str, object], says: str
) -> None:
    before = names_below(tmp_path)
    given = {**whole(drawing, tmp_path / "deep" / "er" / "house").__dict__, **change}
    with pytest.raises(HgmapError, match=says) as caught:
        begin_site(Beginning(**given))  # type: ignore[arg-type]
    assert ".tmp-" not in str(caught.value)
    assert names_below(tmp_path) == before


def test_a_full_disk_leaves_nothing_behind(
    drawing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    before = names_below(tmp_path)
    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(HgmapError, match="No space left"):
        begin_site(whole(drawing, tmp_path / "house"))
    assert names_below(tmp_path) == before


def test_a_folder_that_cannot_be_used_says_why(tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "a.txt").touch()
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "site.toml").touch()
    found = {name: look_at(tmp_path / name).standing for name in ("full", "site", "new")}
    assert found == {"full": "not empty", "site": "a site", "new": "free"}
    assert look_at(tmp_path / "full" / "a.txt").standing == "a file"
    assert look_at(tmp_path / "full" / "a.txt" / "b").standing == "not writable"
    assert look_at(tmp_path / ("x" * 400)).standing == "not writable"
    assert look_at(None).why
    assert free_name(tmp_path, "site") == tmp_path / "site 2"
    with pytest.raises(HgmapError, match="not empty"):
        begin_site(Beginning(tmp_path / "full", "A"))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root writes anywhere")
def test_a_read_only_folder_is_told_before_anything_is_tried(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    assert look_at(tmp_path / "house").standing == "not writable"


def test_an_image_lies_under_an_empty_plan(tmp_path: Path) -> None:
    image = tmp_path / "scan.png"
    Image.new("L", (400, 300), 255).save(image)
    begun = begin_site(Beginning(tmp_path / "house", "A", plan=PicturedPlan(image)))
    text = (begun.folder / "site.toml").read_text()
    assert "origin_y_m = 15.0" in text, "it lies above and right of (0, 0), as a plan does"
    assert "m_per_px = 0.05" in text
    assert (begun.folder / "plans" / "ground.png").is_file()


def test_a_damaged_image_begins_nothing(tmp_path: Path) -> None:
    image = tmp_path / "scan.png"
    image.write_bytes(b"\x89PNG\r\n\x1a\n")
    with pytest.raises(HgmapError, match="damaged"):
        begin_site(Beginning(tmp_path / "house", "A", plan=PicturedPlan(image)))
    assert not (tmp_path / "house").exists()


def test_readings_are_looked_at_before_there_is_a_site() -> None:
    found = look_at_readings(FirstReadings("day.csv", READINGS), "ground")
    assert (found.rows, found.dry_run) == (2, True)
    assert {one.ours for one in found.matches} >= {"value", "room", "unit", "x", "y"}
    bare = FirstReadings("day.csv", b"room,Hg\nHall,0.4\n")
    with pytest.raises(HgmapError, match="--unit"):
        look_at_readings(bare, "ground")
    said = FirstReadings("day.csv", bare.data, Answers(unit="ug/m3"))
    assert look_at_readings(said, "ground").rows == 1
    assert titles_of(bare) == ("room", "Hg")
    assert titles_of(FirstReadings("day.csv", b"a,a\n1,2\n")) == ("#1", "#2")


def test_every_format_is_asked_for_in_one_place() -> None:
    for one in plan_readers():
        for ending in one.endings:
            assert reader_of(Path(f"x{ending.upper()}")) == one
