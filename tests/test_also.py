"""``hgmap map --also FORMAT``: which files a run adds, and what becomes of earlier ones."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import geopandas as gpd
import openpyxl
import pytest
import rasterio

from hgmap.batch import MapOptions, map_site
from hgmap.errors import HgmapError
from hgmap.report.exports import FORMATS, check_formats

MakeSite = Callable[..., Path]
Run = Callable[..., Any]
LAYERS = ("contours", "readings", "resample", "rooms", "zones")


def names_in(folder: Path) -> set[str]:
    return {one.name for one in folder.iterdir()}


def test_every_format_lies_beside_the_map_and_opens(run: Run, make_site: MakeSite) -> None:
    site = make_site()
    asked = [word for name in FORMATS for word in ("--also", name)]
    got = run("map", site, "--cell", "0.5", *asked)
    assert got.code == 0, got.text
    out = site / "results" / "first"
    ground = out / "ground"
    layers = {f"{name}-plan-metres.geojson" for name in LAYERS}
    assert {"map.pdf", "map.png", "map.svg", "surface.tif", "plan.dxf", *layers} <= names_in(ground)
    assert (ground / "map.svg").read_bytes().startswith(b"<?xml")
    with rasterio.open(ground / "surface.tif") as file:
        assert file.shape == (10, 24)
    assert not ezdxf.readfile(ground / "plan.dxf").audit().errors
    assert len(gpd.read_file(ground / "rooms-plan-metres.geojson")) == 2
    assert "zones" in openpyxl.load_workbook(out / "site.xlsx").sheetnames
    told = json.loads((out / "summary.json").read_text("utf-8"))["floors"][0]["files"]
    assert {f"ground/{name}" for name in layers} <= set(told)
    assert {"ground/map.svg", "ground/surface.tif", "ground/plan.dxf"} <= set(told)


def test_a_run_that_is_asked_for_nothing_more_writes_nothing_more(
    make_site: MakeSite, no_sheets: None
) -> None:
    run = map_site(make_site(), MapOptions(cell_m=0.5))
    endings = {one.suffix for one in run.out.rglob("*") if one.is_file()}
    assert not endings & {".geojson", ".tif", ".dxf", ".xlsx", ".svg"}


def test_files_of_an_earlier_run_are_put_out_of_date(make_site: MakeSite, no_sheets: None) -> None:
    site = make_site()
    map_site(site, MapOptions(cell_m=0.5, also=("geotiff", "xlsx", "geojson", "dxf")))
    run = map_site(site, MapOptions(cell_m=0.5, also=("dxf",)))
    ground = names_in(run.out / "ground")
    assert "plan.dxf" in ground
    assert "surface.tif" not in ground
    assert "out-of-date-surface.tif" in ground
    assert {f"out-of-date-{name}-plan-metres.geojson" for name in LAYERS} <= ground
    assert "site.xlsx" not in names_in(run.out)
    assert "out-of-date-site.xlsx" in names_in(run.out)


def test_an_unknown_format_is_one_line_and_nothing_is_done(run: Run, make_site: MakeSite) -> None:
    site = make_site()
    got = run("map", site, "--also", "shapefile")
    assert got.code == 2
    assert got.err.startswith("hgmap: --also: 'shapefile' is no further format")
    assert all(name in got.err for name in FORMATS)
    assert not (site / "results").exists()


def test_a_format_is_made_once_however_often_it_is_asked_for() -> None:
    assert check_formats(("xlsx", "dxf", "xlsx")) == ("dxf", "xlsx")
    with pytest.raises(HgmapError, match="no further format"):
        check_formats(("DXF",))


def test_a_format_that_cannot_be_made_is_said_and_the_map_stays(
    make_site: MakeSite, no_sheets: None
) -> None:
    frame = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 1e30\norigin_y_m = 1e30\n'
    run = map_site(make_site(extra=frame), MapOptions(cell_m=0.5, also=("geojson", "geotiff")))
    assert run.exit_code == 1
    assert [one.floor.name for one in run.floors] == ["ground"]
    assert any("ground: no geojson was made: " in text for text in run.warnings)
    assert "surface.tif" in names_in(run.out / "ground")
    assert not list(run.out.rglob("*.geojson"))


def test_floors_have_their_own_files_and_one_workbook(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, no_sheets: None
) -> None:
    table = make_table([*make_rows(), *make_rows(floor="upper", prefix="U")])
    site = make_site(plans={"ground": make_plan(), "upper": make_plan(), "lost": b"{"},
                     readings={"first.csv": table})  # fmt: skip
    run = map_site(site, MapOptions(cell_m=0.5, also=("geotiff", "xlsx")))
    for floor in ("ground", "upper"):
        assert "surface.tif" in names_in(run.out / floor)
    book = openpyxl.load_workbook(run.out / "site.xlsx", read_only=True)
    floors = {row[0] for row in book["zones"].iter_rows(min_row=2, values_only=True)}
    assert floors == {"ground", "upper"}
    about = list(book["about"].iter_rows(min_row=2, values_only=True))
    assert any(row[0] == "floor not made" for row in about)


def test_a_floor_without_an_estimate_has_every_file_but_the_surface(
    make_site: MakeSite, make_rows: Any, make_table: Any, no_sheets: None
) -> None:
    site = make_site(readings={"first.csv": make_table(make_rows(1))})
    run = map_site(site, MapOptions(cell_m=0.5, also=("geojson", "geotiff", "dxf")))
    ground = names_in(run.out / "ground")
    assert {"plan.dxf", "zones-plan-metres.geojson"} <= ground
    assert "surface.tif" not in ground


def test_a_full_disk_is_one_line_and_leaves_what_was_there(
    make_site: MakeSite, no_sheets: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    first = map_site(site, MapOptions(cell_m=0.5, also=("xlsx",)))
    before = (first.out / "site.xlsx").read_bytes()

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("hgmap.site.files._fill", full)
    with pytest.raises(HgmapError, match="No space left on device"):
        map_site(site, MapOptions(cell_m=0.5, also=("xlsx", "dxf")))
    assert (first.out / "site.xlsx").read_bytes() == before
    assert not list(first.out.parent.rglob(".tmp-*"))
