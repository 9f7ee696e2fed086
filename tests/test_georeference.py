"""``hgmap georeference`` from the command line: what is printed, drawn, written, and left alone."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hgmap.site.folder import read_site
from hgmap.site.map_frame import MapFrame

MakeSite = Callable[..., Path]
Run = Callable[..., Any]
FRAME = MapFrame("EPSG:25832", 604_000.0, 5_712_000.0, 17.0, 0.9998)
PLAN = ((0.0, 0.0), (12.0, 0.0), (12.0, 5.0), (0.0, 5.0))
LOT = "North 40 m\nEast 60 m\nSouth 40 m\nWest 60 m\n"


def table(
    places: Iterable[tuple[float, float]] = PLAN, frame: MapFrame = FRAME, noise: float = 0.004
) -> str:
    plan = np.array(list(places))
    on_map = frame.to_map(plan) + np.random.default_rng(2).normal(0, noise, plan.shape)
    rows = [f"P{k},{x:g},{y:g},{east:.4f},{north:.4f}" for k, ((x, y), (east, north)) in
            enumerate(zip(plan.tolist(), on_map.tolist(), strict=True), start=1)]  # fmt: skip
    return "\n".join(["point,x,y,east,north", *rows]) + "\n"


@pytest.fixture
def points(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a file of control points."""

    def write(text: str | None = None, name: str = "points.csv") -> Path:
        path = tmp_path / name
        path.write_text(table() if text is None else text, "utf-8")
        return path

    return write


def test_a_fit_is_printed_and_written_and_the_site_can_be_mapped(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    before = (site / "site.toml").read_text("utf-8")
    got = run("georeference", site, "--points", points(), "--crs", "EPSG:25832")
    assert got.code == 0, got.text
    assert "conformal fit to EPSG:25832" in got.out
    assert "RMSE 0.00" in got.out
    assert "root of the mean squared miss of a point" in got.out
    assert "4 degrees of freedom" in got.out
    assert "turned 16°5" in got.out or "turned 17°0" in got.out
    assert " ppm)" in got.out
    assert "floors that lie so: ground" in got.out
    text = (site / "site.toml").read_text("utf-8")
    assert text.startswith(before.rstrip("\n"))
    floor = read_site(site).floors[0]
    assert floor.map_frame is not None
    assert floor.map_frame.fitted.startswith("conformal fit of 4 control points, RMSE 0.00")
    assert floor.map_frame.to_map(PLAN) == pytest.approx(FRAME.to_map(PLAN), abs=0.01)
    assert run("map", site, "--cell", "0.5", "--also", "geojson").code == 0
    told = json.loads((site / "results" / "first" / "ground" / "rooms.geojson").read_text("utf-8"))
    (lon, lat), *_ = told["features"][0]["geometry"]["coordinates"][0]
    assert (lon, lat) == pytest.approx((10.5, 51.55), abs=0.01)


def test_residuals_stand_in_the_table_as_computed_less_given(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    # four corners worked by hand: residuals alternate (-0.010, 0.005) and (0.010, -0.005), and
    # 0.0112 m is their length; the scale of 1.0048 is not a building's and is warned of
    corners = "point,x,y,east,north\nA,0,0,600010.02,5700020.00\nB,100,0,600109.98,5700030.01\n"
    corners += "C,100,50,600105.00,5700079.99\nD,0,50,600005.00,5700070.00\n"
    got = run("georeference", make_site(), "--points", points(corners), "--crs", "EPSG:25832")
    assert got.code == 1
    rows = {line.split()[0]: line.split()[-3:] for line in got.out.splitlines()
            if line[:2] in ("A ", "B ", "C ", "D ")}  # fmt: skip
    assert rows["A"] == rows["C"] == ["-0.010", "0.005", "0.011"]
    assert rows["B"] == rows["D"] == ["0.010", "-0.005", "0.011"]
    assert "RMSE 0.0112 m" in got.out
    assert "scale 1.004789 (+4788.6 ppm)" in got.out
    assert "turned 5°42'42.2\" counter-clockwise" in got.out
    assert "ppm from that of the map here" in got.out


def test_a_dry_run_leaves_every_file_as_it_was(make_site: MakeSite, run: Run, points: Any) -> None:
    site = make_site()
    before = {one: one.read_bytes() for one in site.rglob("*") if one.is_file()}
    got = run("georeference", site, "--points", points(), "--crs", "EPSG:25832", "--dry-run")
    assert got.code == 0
    assert "site.toml is as it was" in got.out
    assert {one: one.read_bytes() for one in site.rglob("*") if one.is_file()} == before


def test_a_row_that_cannot_be_used_is_named_and_the_rest_is_fitted(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    got = run("georeference", site, "--points", points(table() + "P9,1,2,,4\n"), "--crs",
              "EPSG:25832")  # fmt: skip
    assert got.code == 1
    assert "points.csv, row 6: east is empty: left out; mend the row" in got.out
    assert read_site(site).floors[0].map_frame is not None


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--points: nothing to fit"),
        (("--points", "POINTS"), "--crs: the site has no map yet"),
        (("--points", "POINTS", "--crs", "EPSG:4326"), "not a projected system in metres"),
        (("--points", "POINTS", "--crs", "EPSG:3857"), "makes 1 m here"),
        (("--points", "none.csv", "--crs", "EPSG:25832"), "none.csv: no such file"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--building", "Annex"),
         "would come to lie at the map's origin: ground"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--floor", "ground"), "needs --building"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--building", "A", "--floor", "attic"),
         "there is no floor 'attic'"),
        (("--picture", "a.png", "--deed", "DEED"), "--picture: it needs --points"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--deed", "DEED"), "give --start"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--picture", "a.bmp"), "no sheet format"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--start", "1"), "is not a place"),
        (("--points", "POINTS", "--points", "POINTS"), "given 2 times"),
        (("--deed", "DEED", "--without", "P1"), "--without: it needs --points"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--without", "P9"),
         "has no point 'P9' that can be used; known: P1, P2, P3, P4"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--keep", "P1", "--without", "P1"),
         "point 'P1' is to be left out and kept"),
        (("--points", "POINTS", "--crs", "EPSG:25832", "--without", "P1", "--without", "P2",
          "--without", "P3"), "1 control point; a fit that is conformal needs 2"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_said_in_one_line_and_nothing_is_written(
    make_site: MakeSite, run: Run, points: Any, words: tuple[str, ...], said: str
) -> None:
    site = make_site()
    before = (site / "site.toml").read_bytes()
    files = {"POINTS": points(), "DEED": points(LOT, "deed.txt")}
    got = run("georeference", site, *(files.get(word, word) for word in words))
    assert got.code == 2
    assert said in got.err
    assert got.err.count("\n") == 1
    assert "Traceback" not in got.text
    assert (site / "site.toml").read_bytes() == before


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda x, y, e, n: (x / 0.3048, y / 0.3048, e, n), "x and y look like feet"),
        (lambda x, y, e, n: (x, -y, e, n), "y runs down"),
        (lambda x, y, e, n: (x, y, n, e), "east and north are swapped in every row"),
        (lambda x, y, e, n: (x, y, n, e) if x == 12 and y == 5 else (x, y, e, n),
         "point 'P3' fits only with east and north swapped"),
    ],
)  # fmt: skip
def test_points_that_cannot_be_what_they_say_write_nothing(
    make_site: MakeSite, run: Run, points: Any, change: Any, said: str
) -> None:
    lines = table().splitlines()
    rows = []
    for line in lines[1:]:
        name, *numbers = line.split(",")
        rows.append(",".join([name, *map(str, change(*map(float, numbers)))]))
    site = make_site()
    before = (site / "site.toml").read_bytes()
    got = run("georeference", site, "--points", points("\n".join([lines[0], *rows])), "--crs",
              "EPSG:25832")  # fmt: skip
    assert got.code == 2
    assert said in got.err
    assert (site / "site.toml").read_bytes() == before


SIX = ((0.0, 0.0), (80.0, 0.0), (80.0, 50.0), (0.0, 50.0), (30.0, 20.0), (60.0, 35.0))


def spoiled(name: str = "P3", by_m: float = 1.0) -> str:
    """Return six points of which one was read a metre too far east."""
    rows = [line.split(",") for line in table(SIX).splitlines()]
    return "\n".join(
        ",".join([*row[:3], str(float(row[3]) + by_m), row[4]] if row[0] == name else row)
        for row in rows
    )


@pytest.mark.parametrize("name", ["P1", "P3", "P6"])
def test_no_frame_is_written_from_a_point_that_stands_out(
    make_site: MakeSite, run: Run, points: Any, tmp_path: Path, name: str
) -> None:
    site = make_site()
    before = (site / "site.toml").read_bytes()
    asked = ("georeference", site, "--points", points(spoiled(name)), "--crs", "EPSG:25832")
    got = run(*asked, "--picture", tmp_path / "fit.png")
    assert got.code == 2
    assert f"point {name!r} stands out: the others put it " in got.err
    assert f"leave it out: --without {name};" in got.err
    assert got.err.count("\n") == 1
    assert (site / "site.toml").read_bytes() == before
    assert not (tmp_path / "fit.png").exists()
    dry = run(*asked, "--dry-run")
    assert dry.code == 1
    assert f"warning: {asked[3]}: point {name!r} stands out" in " ".join(dry.out.split())
    assert (site / "site.toml").read_bytes() == before


def test_a_point_that_is_left_out_does_not_move_the_frame_and_the_site_says_so(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    got = run("georeference", site, "--points", points(spoiled()), "--crs", "EPSG:25832",
              "--without", "P3")  # fmt: skip
    assert got.code == 0, got.text
    assert "note: --without: point 'P3' is left out of the fit" in got.out
    frame = read_site(site).floors[0].map_frame
    assert frame is not None
    assert frame.to_map(PLAN) == pytest.approx(FRAME.to_map(PLAN), abs=0.02)
    assert frame.fitted.startswith("conformal fit of 5 control points, RMSE 0.00")
    assert frame.fitted.endswith("; without P3")


def test_a_point_that_stands_out_is_taken_by_its_name_and_the_site_says_so(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    asked = ("georeference", site, "--points", points(spoiled()), "--crs", "EPSG:25832", "--keep")
    assert run(*asked, "P1").code == 2, "another point's name is no leave"
    got = run(*asked, "P3", "--keep", "P1")
    assert got.code == 1
    assert "point 'P3' stands out" in got.out
    assert "point 'P1' does not stand out: it says nothing" in got.out
    frame = read_site(site).floors[0].map_frame
    assert frame is not None
    assert frame.fitted.endswith("; kept though it stands out: P3")


def test_a_point_whose_name_has_wide_spaces_or_two_lines_is_left_out_as_the_message_says_it(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    named = spoiled().replace("P3", '"north  west\ngate"')
    asked = ("georeference", site, "--points", points(named), "--crs", "EPSG:25832")
    got = run(*asked)
    assert "--without 'north west gate'" in got.err
    assert run(*asked, "--without", "north west gate").code == 0
    assert run(*asked, "--without", "north  west\ngate").code == 0
    assert run(*asked, "--keep", "north west  gate").code == 1


def test_what_site_toml_says_of_a_frame_stays_a_short_line_whatever_its_points_are_called(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    long, other = "\"bolt\" = 'north' gate " * 2 + "x" * 12, "y" * 60
    text = spoiled().replace("P3", '"' + long.replace('"', '""') + '"').replace("P4", other)
    got = run("georeference", site, "--points", points(text), "--crs", "EPSG:25832",
              "--keep", long, "--without", other)  # fmt: skip
    assert got.code == 1, got.text
    frame = read_site(site).floors[0].map_frame
    assert frame is not None
    assert "; without 1 of the points given; kept though it stands out: 1 of" in frame.fitted


def test_points_outside_the_part_of_the_world_that_a_map_is_for_are_doubted(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    far = MapFrame("EPSG:25832", 500_000.0, 100_000.0, 17.0, 0.9998)
    got = run("georeference", make_site(), "--points", points(table(frame=far)), "--crs",
              "EPSG:25832")  # fmt: skip
    assert got.code == 1
    assert "outside the area that ETRS89 / UTM zone 32N is for" in got.out


def test_two_points_are_enough_and_it_is_said_that_nothing_checks_them(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    got = run("georeference", site, "--points", points(table(PLAN[:2], noise=0.0)), "--crs",
              "EPSG:25832")  # fmt: skip
    assert got.code == 0
    assert "nothing checks it but the scale" in got.out
    fitted = tomllib.loads((site / "site.toml").read_text("utf-8"))["map_frame"]["fitted"]
    assert fitted == "conformal fit of 2 control points, exact, nothing checks it"


def test_control_in_one_corner_of_a_plan_is_said_to_hold_it_badly(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    near = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]
    got = run("georeference", make_site(), "--points", points(table(near, noise=2e-4)), "--crs",
              "EPSG:25832")  # fmt: skip
    assert "measure points at its far ends" in got.out


def test_a_stated_north_that_the_points_contradict_is_warned_of(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8").replace("[[floors]]\n", "[[floors]]\nnorth_deg = 80\n"))
    got = run("georeference", site, "--points", points(), "--crs", "EPSG:25832")
    assert got.code == 1
    assert "its north_deg is 80, and by the points the map's north is 1" in got.out


def test_a_second_building_goes_beside_the_first_on_the_same_map(
    make_site: MakeSite, run: Run, points: Any, make_plan: Any
) -> None:
    site = make_site(plans={"ground": make_plan(), "shed": make_plan()})
    assert run("georeference", site, "--points", points(), "--crs", "EPSG:25832").code == 0
    there = MapFrame("EPSG:25832", 604_040.0, 5_712_000.0, -60.0, 0.9998)
    second = points(table(frame=there), "second.csv")
    got = run("georeference", site, "--points", second, "--building", "Shed", "--floor", "shed",
              "--fit", "affine")  # fmt: skip
    assert got.code == 0, got.text
    ground, shed = read_site(site).floors
    assert ground.building == ""
    assert shed.building == "Shed"
    assert shed.map_frame is not None
    assert shed.map_frame.to_map(PLAN) == pytest.approx(there.to_map(PLAN), abs=0.02)
    other = run("georeference", site, "--points", points(), "--crs", "EPSG:25833")
    assert other.code == 2
    assert "the site's map is EPSG:25832, and other floors lie on it" in other.err
    results = site / "results" / "first"
    assert run("map", site, "--cell", "0.5").code in (0, 1)
    assert (results / "site-map.pdf").read_bytes().startswith(b"%PDF")
    toml = site / "site.toml"
    text = toml.read_text("utf-8")
    toml.write_text(text.replace('building = "Shed"\n', ""))
    assert run("map", site, "--cell", "0.5").code in (0, 1)
    assert not (results / "site-map.png").exists()
    assert (results / "out-of-date-site-map.png").exists()
    toml.write_text(text)
    before = (site / "site.toml").read_bytes()
    other = run("georeference", site, "--points", points(), "--building", "shed")
    assert (other.code, (site / "site.toml").read_bytes()) == (2, before)
    assert "--building: the site has a building 'Shed', and none 'shed'" in other.err
    over = run("georeference", site, "--points", points(), "--building", "Shed")
    assert over.code == 1
    assert "m² of the map: one of them lies at a wrong place" in over.out


def test_a_deed_is_walked_and_its_corners_become_control_points(
    make_site: MakeSite, run: Run, points: Any, tmp_path: Path
) -> None:
    site = make_site()
    deed, corners = points(LOT, "deed.txt"), tmp_path / "corners.csv"
    got = run("georeference", site, "--deed", deed, "--start", "604000,5712000", "--corners",
              corners)  # fmt: skip
    assert got.code == 0, got.text
    assert "length 200.000 m; misclosure 0.000 m" in got.out
    assert "area 2400.00 m²" in got.out
    assert "taken from grid north" in got.out
    rows = corners.read_text("utf-8").splitlines()
    assert rows[3] == "3,,,604060.0000,5712040.0000"
    filled = {"1": "0,0", "2": "0,40", "3": "60,40", "4": "60,0"}
    named = "\n".join(["point,x,y", *(f"{name},{place}" for name, place in filled.items())])
    got = run("georeference", site, "--deed", deed, "--start", "604000,5712000", "--points",
              points(named), "--crs", "EPSG:25832")  # fmt: skip
    assert got.code == 0, got.text
    frame = read_site(site).floors[0].map_frame
    assert frame is not None
    assert frame.to_map([(60.0, 40.0)])[0] == pytest.approx([604060, 5712040], abs=1e-6)


def test_a_deed_that_does_not_close_is_said_and_one_that_cannot_be_read_is_refused(
    make_site: MakeSite, run: Run, points: Any
) -> None:
    site = make_site()
    got = run("georeference", site, "--deed", points(LOT.replace("West 60", "West 58"), "d.txt"))
    assert got.code == 1
    assert "the figure closes only to 1 in 99" in got.out
    assert "corners count from the first one" in got.out
    got = run("georeference", site, "--deed", points(f"{LOT}along the brook\n", "d.txt"))
    assert got.code == 2
    assert "d.txt, row 5, course 5: 'along the brook' is no bearing and distance" in got.err


def test_the_picture_is_written_before_the_site_and_not_without_its_folder(
    make_site: MakeSite, run: Run, points: Any, tmp_path: Path
) -> None:
    site = make_site()
    for name in ("fit.png", "fit.pdf", "fit.svg"):
        got = run("georeference", site, "--points", points(), "--crs", "EPSG:25832", "--picture",
                  tmp_path / name)  # fmt: skip
        assert got.code == 0, got.text
        assert (tmp_path / name).stat().st_size > 5_000
    (tmp_path / "file").write_text("no folder")
    fresh = make_site("fresh")
    before = (fresh / "site.toml").read_bytes()
    got = run("georeference", fresh, "--points", points(), "--crs", "EPSG:25832", "--picture",
              tmp_path / "file" / "fit.png")  # fmt: skip
    assert got.code == 2
    assert (fresh / "site.toml").read_bytes() == before
