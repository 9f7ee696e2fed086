"""A drawing becomes a floor of a site in memory; the folder on the disk is not touched."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.editing.bring_in import WantedPlan, bring_in
from hgmap.editing.floor_settings import set_picture
from hgmap.editing.round_settings import set_opening_in_round
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.editing.toml_edit import table_of
from hgmap.errors import HgmapError, PlanError, SiteError
from hgmap.site.importers.storeys import SeveralStoreys
from hgmap.site.plan_picture import PlanPicture

PNG = b"\x89PNG\r\n\x1a\n" + b"\0\0\0\rIHDR" + (4).to_bytes(4, "big") + (4).to_bytes(4, "big")

SITE = b"""\
schema_version = 1
name = "A shed (invented)"  # a remark that stays
analyte = "elemental mercury vapour"
medium = "air"

[[floors]]
name = "ground"
plan = "plans/ground.geojson"

[[rounds]]
name = "before"
date = 2026-03-02
readings = []
"""


def feature(kind: str, geometry: dict[str, Any], **properties: str) -> dict[str, Any]:
    return {"type": "Feature", "properties": {"kind": kind, **properties}, "geometry": geometry}


def square(west: float, east: float, name: str, **properties: str) -> dict[str, Any]:
    ring = [[west, 0], [east, 0], [east, 3], [west, 3], [west, 0]]
    return feature("room", {"type": "Polygon", "coordinates": [ring]}, name=name, **properties)


def door(at: float, identifier: str) -> dict[str, Any]:
    line = {"type": "LineString", "coordinates": [[at, 1], [at, 2]]}
    return feature("opening", line, id=identifier)


def plan_of(*features: dict[str, Any]) -> bytes:
    return json.dumps({"type": "FeatureCollection", "features": list(features)}).encode()


GROUND = plan_of(square(0, 4, "Hall"), square(4, 8, "Store"), door(4, "D1"))
HOUSE = plan_of(
    square(0, 4, "Lobby", level="0"), square(4, 8, "Loft", level="1"),
    square(8, 9, "Box", level="1"),
)  # fmt: skip


@pytest.fixture
def shed(tmp_path: Path) -> SiteFiles:
    folder = tmp_path / "shed"
    (folder / "plans").mkdir(parents=True)
    (folder / "site.toml").write_bytes(SITE.replace(b"\n", b"\r\n"))
    (folder / "plans" / "ground.geojson").write_bytes(GROUND)
    return read_site_files(folder)


@pytest.fixture
def drawing(tmp_path: Path) -> Callable[[bytes], Path]:
    def write(data: bytes) -> Path:
        path = tmp_path / "house.geojson"
        path.write_bytes(data)
        return path

    return write


def on_disk(folder: Path) -> dict[Path, bytes]:
    return {one: one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def test_a_drawing_is_a_new_floor_in_memory_and_nothing_on_the_disk(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    before = on_disk(shed.folder)
    found = bring_in(shed, WantedPlan(drawing(GROUND), "upper"))
    after = found.taken_into(shed)
    assert on_disk(shed.folder) == before
    assert changed(shed, after) == ("plans/upper.geojson", "site.toml")
    assert [one.name for one in site_of(after).floors] == ["ground", "upper"]
    assert [room.name for room in site_of(after).floors[1].rooms] == ["Hall", "Store"]


def test_remarks_and_line_ends_of_site_toml_stay(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    after = bring_in(shed, WantedPlan(drawing(GROUND), "upper")).after
    text = after.contents["site.toml"]
    assert b"# a remark that stays\r\n" in text
    assert b"\n" not in text.replace(b"\r\n", b"")


def test_a_drawing_on_the_map_brings_its_frame(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    metres = 1 / 111_000
    ring = [[10 + x * metres, 50 + y * metres] for x, y in ((0, 0), (8, 0), (8, 5), (0, 5), (0, 0))]
    room = feature("room", {"type": "Polygon", "coordinates": [ring]}, name="Hall")
    wanted = WantedPlan(drawing(plan_of(room)), "ground", {"units": "lonlat"}, replace=True)
    after = bring_in(shed, wanted).after
    frame = table_of(after).map_frame
    assert frame is not None
    assert site_of(after).floors[0].rooms[0].name == "Hall"


def test_what_a_round_said_of_an_opening_that_is_gone_goes_with_it_and_is_said(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    files = set_opening_in_round(shed, "before", "ground", "D1", "sealed")
    rooms = plan_of(square(0, 4, "Hall"), square(4, 8, "Store"))
    found = bring_in(files, WantedPlan(drawing(rooms), "ground", replace=True))
    assert any("'D1'" in line for line in found.floors[0].also)
    assert table_of(found.after).rounds[0].openings == {}
    kept = bring_in(files, WantedPlan(drawing(GROUND), "ground", replace=True))
    assert kept.floors[0].also == ()
    assert table_of(kept.after).rounds[0].openings == {"ground": {"D1": "sealed"}}


ROWS = b"""\
id,floor,room,x,y,height_m,value,unit
1,ground,Hall,1,1,1.0,0.1,ug/m3
2,ground,Store,6,1,1.0,0.2,ug/m3
3,ground,Store,7,1,1.0,0.3,ug/m3
4,ground,Attic,1,1,1.0,0.3,ug/m3
"""
"""The last is held whatever is brought in: no plan has that room."""


def test_the_readings_that_a_new_plan_holds_are_counted_and_told_with_their_rows(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    toml = shed.contents["site.toml"].replace(b"[]", b'["readings/one.csv"]')
    files = shed.with_file("site.toml", toml).with_file("readings/one.csv", ROWS)
    hall = drawing(plan_of(square(0, 4, "Hall")))
    found = bring_in(files, WantedPlan(hall, "ground", replace=True))
    was, now = (
        {one.id for one in site_of(each).readings if one.held} for each in (files, found.after)
    )
    assert (was, now) == ({"4"}, {"2", "3", "4"})
    assert found.held == 2
    (said,) = found.readings
    assert "2 readings of room 'Store' will be held" in said
    assert "readings/one.csv, rows 3, 4" in said
    beside = bring_in(files, WantedPlan(hall, "upper"))
    assert (beside.held, beside.readings) == (0, ())


def test_a_plan_that_was_traced_at_a_guessed_scale_is_replaced_by_one_with_its_own(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    """Else setting the picture's scale later would scale the drawing, which has its metres."""
    files = set_picture(shed, "ground", PlanPicture("scan.png", 0.1, guessed=True), data=PNG)
    found = bring_in(files, WantedPlan(drawing(GROUND), "ground", replace=True))
    picture = table_of(found.after).floors[0].picture
    assert picture is not None
    assert not picture.guessed
    assert len(found.floors[0].also) == 1


def test_a_file_of_several_storeys_names_them_and_each_can_be_a_floor(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    file = drawing(HOUSE)
    with pytest.raises(SeveralStoreys) as asked:
        bring_in(shed, WantedPlan(file, "upper"))
    assert asked.value.names == ("0", "1")
    one = bring_in(shed, WantedPlan(file, "upper", {"storey": "1"}))
    assert [one.report.rooms for one in one.floors] == [2]
    every = bring_in(shed, WantedPlan(file, "wing", every_storey=True))
    assert [floor.name for floor in every.floors] == ["wing 0", "wing 1"]
    assert [len(floor.rooms) for floor in site_of(every.after).floors] == [2, 1, 2]


def test_a_name_that_is_taken_is_refused_and_no_folder_of_the_meantime_is_named(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    with pytest.raises(PlanError, match="has a floor 'ground'"):
        bring_in(shed, WantedPlan(drawing(GROUND), "ground"))
    (shed.folder / "plans" / "old.geojson").write_bytes(b"mine")
    with pytest.raises(PlanError, match="is there already"):
        bring_in(shed, WantedPlan(drawing(GROUND), "old"))
    broken = shed.with_file("site.toml", b"name = ")
    with pytest.raises(HgmapError) as refused:
        bring_in(broken, WantedPlan(drawing(GROUND), "upper"))
    assert str(shed.folder) in str(refused.value)
    assert tempfile.gettempdir() not in str(refused.value).replace(str(shed.folder), "")


def test_files_that_changed_since_are_not_written_over(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    found = bring_in(shed, WantedPlan(drawing(GROUND), "upper"))
    with pytest.raises(SiteError, match="changed since"):
        found.taken_into(shed.with_file("plans/ground.geojson", HOUSE))


def walls_with_a_leak(width: float) -> bytes:
    """Return two rooms between walls of 0.2 m; the wall between them ends ``width`` too early."""

    def wall(west: float, south: float, east: float, north: float) -> dict[str, Any]:
        ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
        return feature("wall", {"type": "Polygon", "coordinates": [ring]})

    return plan_of(
        wall(0, 0, 8, 0.2), wall(0, 3, 8, 3.2), wall(0, 0.2, 0.2, 3), wall(7.8, 0.2, 8, 3),
        wall(4, 0.2, 4.2, 3 - width),
    )  # fmt: skip


def test_a_repair_that_is_refused_by_its_key_is_not_made(
    shed: SiteFiles, drawing: Callable[[bytes], Path]
) -> None:
    file = drawing(walls_with_a_leak(0.02))
    found = bring_in(shed, WantedPlan(file, "upper"))
    (gap,) = [one for one in found.floors[0].report.numbered if one.rule == "gap"]
    assert found.floors[0].report.rooms == 2
    refused = bring_in(shed, WantedPlan(file, "upper", refused={"upper": frozenset({gap.key})}))
    assert refused.floors[0].report.rooms == 1
    assert gap.key not in {one.key for one in refused.floors[0].report.numbered}
