"""`hgmap import plan`: one way for every format, a storey chosen, repairs listed and refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas
import pyogrio
import pytest
import shapely
from PIL import Image
from shapely.geometry import box, mapping

from hgmap.from_python import import_plan
from hgmap.report.drawing import Label
from hgmap.report.import_sheets import import_sheets
from hgmap.site.folder import read_site
from hgmap.site.importers.import_plan import WantedFloor, import_every_storey
from hgmap.site.importers.readers import layers_of, plan_readers
from hgmap.site.importers.refused import numbers_of

Run = Callable[..., Any]


def collection(*features: tuple[shapely.Geometry, dict[str, Any]]) -> dict[str, Any]:
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": properties, "geometry": mapping(geometry)}
            for geometry, properties in features
        ],
    }


def house(level: str | None = None, leak_m: float = 0.0) -> list[tuple[Any, dict[str, Any]]]:
    """Draw 8.6 x 4.4 m of thick walls with one in the middle, a door in that, and an outline."""
    more = {} if level is None else {"level": level}
    outer = box(0, 0, 8.6, 4.4).difference(box(0.2, 0.2, 8.4, 4.2))
    middle = box(4.2, 0.2, 4.4, 4.2 - leak_m).difference(box(4, 1, 5, 1.9))
    door = box(4.2, 1, 4.4, 1.9)
    walls = [*shapely.get_parts(outer), *shapely.get_parts(middle)]
    return [
        (box(0, 0, 8.6, 4.4), {"type": "outline", **more}),
        *((one, {"type": "wall", **more}) for one in walls),
        (door, {"type": "door", **more}),
    ]


def write(path: Path, *features: tuple[Any, dict[str, Any]]) -> Path:
    path.write_text(json.dumps(collection(*features)), encoding="utf-8")
    return path


def rooms(site: Path) -> dict[str, list[float]]:
    read = read_site(site)
    assert [one for one in read.problems if one.severity == "error"] == []
    return {
        floor.name: sorted(round(room.area_m2, 2) for room in floor.rooms) for floor in read.floors
    }


def test_rooms_come_out_of_walls_doors_and_an_outline(tmp_path: Path, run: Run) -> None:
    file = write(tmp_path / "a.geojson", *house())
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground")
    assert got.code == 0, got.text
    assert "2 rooms" in got.out
    assert "1 opening," in got.out
    assert rooms(tmp_path / "s") == {"ground": [16.0, 16.0]}
    (opening,) = read_site(tmp_path / "s").floors[0].openings
    assert len(opening.rooms) == 2
    plan = pyogrio.read_dataframe(tmp_path / "s/plans/ground.geojson")  # a reader that is not ours
    assert plan.geometry.is_valid.all()


def test_a_leak_is_one_numbered_repair_and_refusing_it_lets_the_air_through(
    tmp_path: Path, run: Run
) -> None:
    file = write(tmp_path / "a.geojson", *house(leak_m=0.03))
    words = ("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground", "--dry-run")
    got = run(*words)
    assert got.code == 1
    lines = [one for one in got.out.splitlines() if one.startswith("repair ")]
    assert lines[0].startswith("repair 1: a gap of 30.0 mm in the walls closed at x 4.40, y 4.20 m")
    assert "2 rooms" in got.out
    refused = run(*words, "--refuse", "1")
    assert "1 room," in refused.out
    assert "repair 1:" not in refused.out  # its number is not given to another
    assert run(*words, "--refuse", "9").code == 2
    several = [run(*words, *more) for more in (["--refuse", "1-2"], ["--refuse", "2, 1"],
                                               ["--refuse", "2", "--refuse", "1"])]  # fmt: skip
    assert len({one.text for one in several}) == 1
    assert "repair 2:" in refused.out
    assert "repair 2:" not in several[0].out
    narrow = run(*words, "--gap", "0.01").out
    assert "look 1: an opening of 0.03 m between two rooms, narrower than a door; look" in narrow
    assert not (tmp_path / "s").exists()


def test_every_storey_becomes_a_floor_and_all_are_read_before_one_is_written(
    tmp_path: Path, run: Run
) -> None:
    file = write(tmp_path / "a.geojson", *house("0"), *house("1", leak_m=0.02))
    asked = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground")
    assert asked.code == 2
    assert '2 storeys (0, 1); choose one for this floor: --storey "1"' in asked.err
    assert run("import", "plan", file, "--into", tmp_path / "s", "--every-storey").code == 1
    assert rooms(tmp_path / "s") == {"0": [16.0, 16.0], "1": [16.0, 16.0]}
    one = run("import", "plan", file, "--into", tmp_path / "t", "--floor", "top", "--storey", "1")
    assert one.code == 1
    assert list(rooms(tmp_path / "t")) == ["top"]
    only_top = {"level": "1"}
    stray = [(box(0, 0, 1, 1), {"type": "door", **only_top}),
             (box(0, 0, 0.1, 0.1), {"type": "wall", **only_top})]  # fmt: skip
    broken = write(tmp_path / "b.geojson", *house("0"), *stray)
    assert run("import", "plan", broken, "--into", tmp_path / "u", "--every-storey").code == 2
    assert not (tmp_path / "u").exists()


def test_rooms_that_no_door_leads_into_are_counted_and_the_exit_status_is_1(
    tmp_path: Path, run: Run
) -> None:
    boxes = [(box(4 * n, 0, 4 * n + 4, 4), {"kind": "room", "id": f"R{n}"}) for n in range(3)]
    door = (shapely.LineString([(4, 1), (4, 1.9)]), {"kind": "opening", "id": "D1"})
    file = write(tmp_path / "a.geojson", *boxes, door)
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "g", "--units", "metres")
    assert got.code == 1
    assert "look: 1 of 3 rooms have no opening" in got.out


@pytest.mark.parametrize(
    ("scale", "door", "said"),
    [
        (100.0, (4, 1, 4, 1.9), "may be centimetres"),
        (1.0, (2, 1, 2, 1.9), "touches only room 'R0'"),
        (1.0, (4, 1, 4, 1.03), "is 0.03 m wide"),
    ],
)
def test_what_the_check_has_against_a_plan_is_said_when_it_comes_in(
    tmp_path: Path, run: Run, scale: float, door: tuple[float, ...], said: str
) -> None:
    boxes = [(box(4 * n, 0, 4 * n + 4, 4), {"kind": "room", "id": f"R{n}"}) for n in range(2)]
    drawn = [*boxes, (shapely.LineString([door[:2], door[2:]]), {"kind": "opening", "id": "D1"})]
    grown = [(shapely.affinity.scale(one, scale, scale, origin=(0, 0)), p) for one, p in drawn]
    file = write(tmp_path / "a.geojson", *grown)
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "g", "--units", "metres")
    assert got.code == 1
    assert any(line.startswith("look: ") and said in line for line in got.out.splitlines())


def test_readings_that_mean_another_room_on_a_new_plan_are_named_by_row(
    tmp_path: Path, run: Run
) -> None:
    def bring(corner: float, *more: str) -> Any:
        boxes = [(box(0, 0, corner, 4), {"kind": "room", "name": "Hall"}),
                 (box(corner, 0, 8, 4), {"kind": "room", "name": "Store"})]  # fmt: skip
        file = write(tmp_path / "a.geojson", *boxes)
        words = ("--into", site, "--floor", "g", "--units", "metres", *more)
        return run("import", "plan", file, *words)

    site = tmp_path / "s"
    bring(4)
    (site / "r.csv").write_text(
        "id,floor,room,x,y,height,value,unit\n1,g,,3,2,1.5,1,ug/m3\n2,g,Hall,1,2,1.5,1,ug/m3\n"
    )
    with (site / "site.toml").open("a", encoding="utf-8") as toml:
        toml.write('[[rounds]]\nname = "before"\nreadings = ["r.csv"]\n')
    plan = (site / "plans" / "g.geojson").read_bytes()
    for more in (["--replace", "--dry-run"], ["--replace"]):
        assert (site / "plans" / "g.geojson").read_bytes() == plan
        got = bring(2.5, *more)
        assert got.code == 1
        assert "look: 1 reading of room 'Hall', now of room 'Store' (r.csv, row 2)" in got.out
        assert "row 3" not in got.out
    assert "now of room" not in bring(2.5, "--replace").out


def test_storeys_of_one_name_are_refused(tmp_path: Path) -> None:
    file = write(tmp_path / "a.geojson", *house("a/b"), *house("a b"))
    with pytest.raises(Exception, match="two of its storeys have one name"):
        import_every_storey(file, WantedFloor(tmp_path / "s", ""), {})
    assert not (tmp_path / "s").exists()


def test_a_picture_shows_what_was_read(tmp_path: Path, run: Run) -> None:
    file = write(tmp_path / "a.geojson", *house(leak_m=0.03))
    picture = tmp_path / "plan.png"
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground", "--dry-run",
              "--picture", picture)  # fmt: skip
    assert f"drawn: {picture}" in got.out
    with Image.open(picture) as image:
        assert min(image.size) > 1000
        assert len(image.convert("L").getcolors(256) or []) > 10


def test_a_gap_wider_than_a_door_is_said_with_the_option_that_parts_the_rooms(
    tmp_path: Path, run: Run
) -> None:
    hole = box(4, 0.5, 5, 3.7)
    features = [(one.difference(hole) if tags["type"] == "wall" else one, tags)
                for one, tags in house() if tags["type"] != "door"]  # fmt: skip
    file = write(tmp_path / "a.geojson", *features)
    words = ("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground", "--dry-run")
    got = run(*words)
    assert got.code == 1
    assert "1 room," in got.out
    assert "look 1: two walls face one another over 3.20 m, wider than a door (2.5 m)" in got.out
    assert "at x 4.20, y 2.10 m" in got.out or "at x 4.40, y 2.10 m" in got.out
    assert "say --door with metres a little wider than the gap" in got.out
    parted = run(*words, "--door", "3.3")
    assert parted.code == 0, parted.text
    assert "2 rooms" in parted.out
    assert "--door" not in parted.out


def test_what_has_to_be_looked_at_has_a_number_that_the_picture_shows_at_its_place(
    tmp_path: Path,
) -> None:
    hole = box(4, 3, 5, 3.3)
    features = [(one.difference(hole), tags) if tags["type"] == "wall" else (one, tags)
                for one, tags in house(leak_m=0.03)]  # fmt: skip
    file = write(tmp_path / "a.geojson", *features)
    report = import_plan(file, tmp_path / "s", "ground", dry_run=True)
    assert [one.number for one in report.numbered] == [1, 2]
    (doubt,) = report.doubts
    assert "an opening of 0.30 m" in doubt.text
    assert doubt.number == 3
    assert doubt.text in report.said
    ((_, sheet),) = import_sheets(file, [report])
    (frame,) = sheet.frames
    signs = [one for one in frame.drawing if isinstance(one, Label) and one.text == "3"]
    assert len(signs) == 1
    assert doubt.place is not None
    assert shapely.Point(signs[0].x, signs[0].y).distance(doubt.place) < 1
    page = [one.text for one in sheet.page if isinstance(one, Label)]
    assert any(one.startswith("look:") for one in page)


def test_walls_beside_rooms_that_are_drawn_are_asked_of_only_where_somebody_says_so(
    tmp_path: Path,
) -> None:
    features = [*house()[1:], (box(0.2, 0.2, 4.2, 4.2), {"type": "room", "name": "Lab"})]
    file = write(tmp_path / "a.geojson", *features)
    drawn = import_plan(file, tmp_path / "s", "ground", dry_run=True)
    assert drawn.rooms == 1
    found = import_plan(file, tmp_path / "s", "ground", rooms="walls", dry_run=True)
    assert found.rooms == 2


def test_a_drawing_far_out_is_moved_near_and_the_next_floor_goes_along(tmp_path: Path) -> None:
    def far(name: str, x: float) -> Path:
        moved = [(shapely.affinity.translate(one, x, -2e9), tags) for one, tags in house()]
        return write(tmp_path / name, *moved)

    report = import_plan(far("a.geojson", 1e9), tmp_path / "s", "ground", units="metres")
    assert report.area_m2 == pytest.approx(32, abs=1e-3)
    assert any("were taken off every place" in one for one in report.repairs)
    import_plan(far("b.geojson", 1e9 + 1), tmp_path / "s", "top", units="metres")
    ground, top = read_site(tmp_path / "s").floors
    assert top.bounds[0] - ground.bounds[0] == pytest.approx(1.0, abs=1e-4)
    with pytest.raises(Exception, match="farther out"):
        import_plan(far("c.geojson", 1e13), tmp_path / "t", "ground", units="metres")


@pytest.mark.parametrize(("unit", "metres"), [("mm", 1e-3), ("cm", 1e-2), ("ft", 0.3048),
                                              ("in", 0.0254)])  # fmt: skip
def test_a_drawing_in_another_unit_comes_in_as_metres(
    tmp_path: Path, unit: Any, metres: float
) -> None:
    grown = [(shapely.affinity.scale(one, 1 / metres, 1 / metres, origin=(0, 0)), tags)
             for one, tags in house()]  # fmt: skip
    report = import_plan(write(tmp_path / "a.geojson", *grown), tmp_path / "s", "g", units=unit)
    assert (report.rooms, report.openings) == (2, 1)
    assert report.area_m2 == pytest.approx(32, abs=1e-2)


def test_a_hall_s_wide_gap_is_a_door_where_somebody_says_so(tmp_path: Path, run: Run) -> None:
    walls = [[(0, 0), (9, 0), (9, 6), (0, 6), (0, 0)], [(4, 0), (4, 1)], [(4, 4), (4, 6)]]
    lines = [(shapely.LineString(one), {"kind": "wall"}) for one in walls]
    file = write(tmp_path / "a.geojson", *lines)
    words = ("import", "plan", file, "--into", tmp_path / "s", "--floor", "g", "--dry-run",
             "--units", "metres")  # fmt: skip
    assert "1 room," in run(*words).out
    assert "2 rooms," in run(*words, "--door", "3.5").out
    for option in ("--door", "--wall", "--gap"):
        got = run(*words, option, "99")
        assert (got.code, option in got.err) == (2, True)


@pytest.mark.parametrize("text", ["", "x", "1;2", "1-", "-3", "1,,2"])
def test_numbers_that_are_none_are_refused_in_one_line(text: str) -> None:
    with pytest.raises(Exception, match="is no number"):
        numbers_of(text)
    with pytest.raises(Exception, match="is no number"):
        numbers_of("1", text)


def test_layers_are_read_by_role() -> None:
    assert layers_of("wall=A-WALL*, COLS;door = D*; wall=X") == {
        "wall": "A-WALL*;COLS;X", "door": "D*",
    }  # fmt: skip
    with pytest.raises(Exception, match="is not role=layers"):
        layers_of("A-WALL")


@pytest.mark.parametrize("reader", plan_readers(), ids=lambda one: one.name)
@pytest.mark.parametrize("data", [b"", b"\x00" * 4096, b"not a plan", b"PK\x03\x04 zip", b"<xml/>"])
def test_no_format_takes_what_is_another_file(reader: Any, data: bytes, tmp_path: Path,
                                             run: Run) -> None:  # fmt: skip
    file = tmp_path / f"a{reader.endings[0]}"
    file.write_bytes(data)
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "ground")
    assert got.code == 2
    assert len(got.err.strip().splitlines()) == 1
    assert file.name in got.err
    assert not (tmp_path / "s").exists()


BUILDINGS = """

[map_frame]
crs = "EPSG:25832"

[[buildings]]
name = "Annex"
origin_x_m = 604000
origin_y_m = 5712000
angle_deg = 30

[[buildings]]
name = "Mill"
origin_x_m = 604100
origin_y_m = 5712000
"""


def with_buildings(site: Path, file: Path) -> bytes:
    import_plan(file, site, "ground", units="metres")
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8") + BUILDINGS, "utf-8")
    return toml.read_bytes()


def test_a_floor_comes_into_one_of_several_buildings(tmp_path: Path, run: Run) -> None:
    site, file = tmp_path / "s", write(tmp_path / "a.geojson", *house("0"), *house("1"))
    with_buildings(site, write(tmp_path / "b.geojson", *house()))
    words = ("import", "plan", file, "--into", site, "--building", "Annex", "--units", "metres")
    got = run(*words, "--every-storey", "--floor", "annex")
    assert got.code == 1, got.text  # each says what it left to the other storey
    ground, *annex = read_site(site).floors
    assert ground.building == ""
    assert [one.name for one in annex] == ["annex 0", "annex 1"]
    assert {one.building for one in annex} == {"Annex"}
    assert annex[0].map_frame is not None
    assert annex[0].map_frame.angle_deg == 30
    again = run(*words, "--storey", "1", "--floor", "annex 1", "--replace")
    assert again.code == 1, again.text
    assert [one.building for one in read_site(site).floors] == ["", "Annex", "Annex"]


def test_a_drawing_on_the_map_is_laid_by_the_frame_of_its_building(tmp_path: Path) -> None:
    site, file = tmp_path / "s", tmp_path / "m.gpkg"
    with_buildings(site, write(tmp_path / "b.geojson", *house()))
    room = shapely.affinity.translate(
        shapely.affinity.rotate(box(2, 1, 8, 5), 30, origin=(0, 0)), 604000, 5712000
    )
    frame = geopandas.GeoDataFrame({"kind": ["room"]}, geometry=[room], crs="EPSG:25832")
    frame.to_file(file, engine="pyogrio")
    import_plan(file, site, "annex", building="Annex")
    (drawn,) = read_site(site).floors[1].rooms
    assert drawn.polygon.symmetric_difference(box(2, 1, 8, 5)).area < 0.01


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--floor", "top", "--building", "annex"),
         "--building: the site has no building 'annex'; known: Annex, Mill"),
        (("--floor", "ground", "--building", "Mill", "--replace"),
         "floor 'ground' lies in no building that has a name; floors of all buildings differ"),
        (("--floor", "east", "--building", "Mill", "--replace"),
         "floor 'east' lies in building 'Annex'"),
    ],
)  # fmt: skip
def test_a_building_that_is_not_there_and_a_floor_of_another_are_refused(
    tmp_path: Path, run: Run, words: tuple[str, ...], said: str
) -> None:
    site, file = tmp_path / "s", write(tmp_path / "a.geojson", *house())
    with_buildings(site, file)
    import_plan(file, site, "east", building="Annex", units="metres")
    before = {one: one.read_bytes() for one in site.rglob("*") if one.is_file()}
    got = run("import", "plan", file, "--into", site, "--units", "metres", *words)
    assert got.code == 2
    assert said in got.err
    assert {one: one.read_bytes() for one in site.rglob("*") if one.is_file()} == before


def test_a_new_site_has_no_building_to_choose(tmp_path: Path, run: Run) -> None:
    file = write(tmp_path / "a.geojson", *house())
    got = run("import", "plan", file, "--into", tmp_path / "s", "--floor", "g", "--building", "A")
    assert got.code == 2
    assert "no building 'A'; lay it on the map first, by `hgmap georeference --building`" in got.err
    assert not (tmp_path / "s").exists()
