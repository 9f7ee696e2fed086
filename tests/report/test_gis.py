"""The GeoPackage: five layers with the right counts, the same areas, and the place on the map."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import pytest
import shapely
from shapely import LineString

from hgmap.batch import MapOptions, MapRun, map_site

MakeSite = Callable[..., Path]
LAYERS = ["rooms", "readings", "contours", "zones", "resample"]
NUMBERS = {
    "rooms": ["area_m2"],
    "readings": ["height_m", "value", "concentration", "low", "error"],
    "contours": ["value"],
    "zones": ["area_m2", "highest_estimate", "highest_reading_number", "probability"],
    "resample": ["height_m", "expected_m2"],
}

pytestmark = pytest.mark.usefixtures("no_sheets")


def mapped(site: Path, **options: Any) -> MapRun:
    return map_site(site, MapOptions(cell_m=0.5, **options))


def layer(run: MapRun, name: str) -> gpd.GeoDataFrame:
    return gpd.read_file(run.out / "site.gpkg", layer=name)


def test_pyogrio_and_geopandas_read_every_layer_with_its_counts(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    held = ["H1,ground,A,,,1.5,,NaN,ug/m3,,", "H2,ground,,,,1.5,,1,ug/m3,,"]
    run = mapped(make_site(readings={"first.csv": make_table([*make_rows(), *held])}))
    path = run.out / "site.gpkg"
    assert [name for name, _ in pyogrio.list_layers(path)] == [*LAYERS, "about"]
    one = run.floors[0]
    counts = {
        "rooms": 2,
        "readings": 17,
        "contours": len(one.zones.contours),
        "zones": len(one.zones.zones),
        "resample": len(one.resample.places),
    }
    assert counts["contours"] > 0
    for name, count in counts.items():
        assert pyogrio.read_info(path, layer=name)["features"] == count
        assert len(layer(run, name)) == count
    readings = layer(run, "readings").set_index("id")
    assert readings.loc["H1", "role"] == "held"
    assert "not measured" in readings.loc["H1", "reasons"]
    assert readings.loc["H2"].geometry is None
    assert (readings["role"] == "used").sum() == 15


def test_zone_areas_are_those_of_the_csv_and_tile_the_rooms(make_site: MakeSite) -> None:
    run = mapped(make_site())
    zones = layer(run, "zones")
    with (run.out / "zones.csv").open(encoding="utf-8-sig", newline="") as file:
        written = {
            (row["room"], row["zone"]): float(row["area_m2"]) for row in csv.DictReader(file)
        }
    drawn: dict[tuple[str, str], float] = defaultdict(float)
    for row in zones.itertuples():
        drawn[row.room, row.zone] += row.geometry.area
        assert row.geometry.is_valid
        assert row.geometry.area == pytest.approx(row.area_m2)
    assert dict(drawn) == pytest.approx(written, abs=6e-4)
    rooms = layer(run, "rooms").set_index("room").geometry
    for room, parts in zones.groupby("room"):
        assert parts.geometry.area.sum() == pytest.approx(rooms[room].area, rel=1e-3)
        assert parts.union_all().symmetric_difference(rooms[room]).area < 1e-3


def test_a_site_with_a_map_frame_keeps_its_system_and_its_place(make_site: MakeSite) -> None:
    frame = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 600000\norigin_y_m = 5700000\n'
    plain, placed = mapped(make_site("a")), mapped(make_site("b", extra=frame))
    for name in LAYERS:
        table = layer(placed, name)
        assert table.crs.to_epsg() == 25832
        own = layer(plain, name).geometry.translate(600_000, 5_700_000)
        assert len(own) == len(table)
        assert all(shapely.equals_exact(table.geometry.values, own.values, 1e-6))


def test_a_plan_without_a_place_is_never_taken_for_degrees(make_site: MakeSite) -> None:
    table = layer(mapped(make_site()), "rooms")
    assert table.crs is None or not table.crs.is_geographic
    assert tuple(table.total_bounds) == (0, 0, 12, 5)


@pytest.mark.parametrize("n", [0, 2, 15])
def test_columns_keep_their_names_and_kinds_however_little_there_is(
    make_site: MakeSite, make_rows: Any, make_table: Any, n: int
) -> None:
    rows = make_rows()[:n] or ["R1,ground,,,,,,,,,"]
    run = mapped(make_site(readings={"first.csv": make_table(rows)}))
    for name in LAYERS:
        info = pyogrio.read_info(run.out / "site.gpkg", layer=name)
        kinds = dict(zip(info["fields"], info["dtypes"], strict=True))
        assert {column: kinds[column] for column in NUMBERS[name]} == dict.fromkeys(
            NUMBERS[name], "float64"
        ), name
        assert {kinds[c] for c in kinds if c in ("floor", "room", "reasons", "unit", "time")} <= {
            "object"
        }


def test_floors_share_the_layers(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any
) -> None:
    table = make_table([*make_rows(), *make_rows(floor="upper", prefix="U")])
    run = mapped(
        make_site(plans={"ground": make_plan(), "upper": make_plan()},
                  readings={"first.csv": table})
    )  # fmt: skip
    for name in ("rooms", "readings", "zones"):
        assert set(layer(run, name)["floor"]) == {"ground", "upper"}


def test_contours_run_at_the_level_inside_the_floor(make_site: MakeSite) -> None:
    run = mapped(make_site())
    contours = layer(run, "contours")
    rooms = layer(run, "rooms").union_all().buffer(1e-6)
    assert len(contours) > 0
    for line in contours.geometry:
        assert isinstance(line, LineString)
        assert rooms.covers(line)
    assert set(contours["value"]) == {3.0}
    assert set(contours["unit"]) == {"µg/m³"}
