"""Levels, thresholds and whole rooms as a user asks for them, and what is refused."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest
from shapely import Point

from hgmap.batch import NESTED_TABLE, MapOptions, map_site
from hgmap.compare import compare_site
from hgmap.errors import HgmapError
from hgmap.explain import explain_site

MakeSite = Callable[..., Path]
NESTED = '[[nested_levels]]\nname = "{0}"\nlevel = "{1}"\n'

pytestmark = pytest.mark.usefixtures("no_sheets")


def refused(site: Path, **options: Any) -> str:
    with pytest.raises(HgmapError) as found:
        map_site(site, MapOptions(cell_m=0.5, **options))
    return str(found.value)


def test_nested_levels_of_the_site_make_a_table_a_layer_and_sheets(make_site: MakeSite) -> None:
    site = make_site(
        extra=NESTED.format("isolate", "10 ug/m3") + NESTED.format("stay out", "20 ug/m3")
    )
    run = map_site(site, MapOptions(cell_m=0.5))
    with (run.out / NESTED_TABLE).open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    order = list(dict.fromkeys((row["level_is_for"], row["level_value"]) for row in rows))
    assert order == [("stay out", "20"), ("isolate", "10"), ("", "3")]
    own = [row for row in rows if row["level_value"] == "3"]
    with (run.out / "zones.csv").open(encoding="utf-8-sig", newline="") as file:
        assert [row["id"] for row in csv.DictReader(file)] == [row["id"] for row in own]
    layer = gpd.read_file(run.out / "site.gpkg", layer="nested_zones")
    assert len(layer) == len(rows)
    assert set(layer["level_is_for"].fillna("")) == {"stay out", "isolate", ""}
    floor = json.loads((run.out / "summary.json").read_text("utf-8"))["floors"][0]
    assert [one["is_for"] for one in floor["nested_levels"]] == ["stay out", "isolate", ""]
    (one,) = run.floors
    areas = [zones.area_m2("remediate") for zones in one.nested]
    assert areas == sorted(areas)


def test_one_level_makes_none_of_them_and_puts_old_ones_out_of_date(make_site: MakeSite) -> None:
    site = make_site()
    options = MapOptions(cell_m=0.5, level="3 ug/m3", further_levels=("isolate=10 ug/m3",))
    run = map_site(site, options)
    assert (run.out / NESTED_TABLE).exists()
    again = map_site(site, MapOptions(cell_m=0.5))
    assert again.out == run.out
    assert not (run.out / NESTED_TABLE).exists()
    assert again.floors[0].nested == ()


@pytest.mark.parametrize(
    ("level", "says"),
    [
        ("0 ug/m3", "0"),
        ("-1 ug/m3", "-1"),
        ("3 ug/m3", "equals the level of the run"),
        ("3000 ng/m3", "equals the level of the run"),
        ("no-such-level", "no level named"),
        ("7", "unit"),
    ],
)
def test_a_further_level_that_cannot_be_is_refused(
    make_site: MakeSite, level: str, says: str
) -> None:
    site = make_site(extra=NESTED.format("isolate", level))
    text = refused(site)
    assert says in text
    assert "[[nested_levels]] 'isolate'" in text
    assert says in refused(make_site("other"), level="3 ug/m3", further_levels=(level,))


def test_two_further_levels_may_not_be_equal_nor_too_many(make_site: MakeSite) -> None:
    site = make_site()
    twice = ("a=10 ug/m3", "b=10 ug/m3")
    assert "equals" in refused(site, level="3 ug/m3", further_levels=twice)
    many = tuple(f"{value} ug/m3" for value in (5, 6, 7, 8))
    assert "at most 4" in refused(site, level="3 ug/m3", further_levels=many)


def test_two_levels_may_not_be_for_the_same(make_site: MakeSite) -> None:
    text = refused(make_site(), level="isolate=3 ug/m3", further_levels=("isolate=10 ug/m3",))
    assert "two levels are for 'isolate'" in text
    assert "--level" in text


def test_levels_below_the_detection_limit_clear_nothing(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    rows = [f"N{k},ground,A,{0.5 + k % 3},{0.5 + k // 3},1.5,,0.05,ug/m3,<," for k in range(9)]
    site = make_site(readings={"first.csv": make_table(rows)})
    options = MapOptions(cell_m=0.5, level="0.02 ug/m3", further_levels=("0.01 ug/m3",))
    (one,) = map_site(site, options).floors
    assert [zones.area_m2("clear") for zones in one.nested] == [0.0, 0.0]
    # the same readings, all non-detects, do clear ground at a level far above them
    options = MapOptions(cell_m=0.5, level="0.02 ug/m3", further_levels=("10 ug/m3",))
    (one,) = map_site(site, options).floors
    assert one.nested[0].area_m2("remediate") == 0.0
    assert one.nested[1].area_m2("clear") == 0.0


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"remediate_at": 0.0}, "--remediate-at"),
        ({"remediate_at": 1.0}, "at most 0.8"),
        ({"remediate_at": float("nan")}, "--remediate-at"),
        ({"clear_at": -0.1}, "--clear-at"),
        ({"clear_at": 0.5}, "at most 0.2"),
        ({"clear_at": 0.1, "remediate_at": 0.1}, "not below remediate_at"),
        ({"remediate_at": 0.04}, "not below remediate_at"),
    ],
)
def test_thresholds_that_cannot_be_are_refused(
    make_site: MakeSite, options: dict[str, float], says: str
) -> None:
    assert says in refused(make_site(), **options)


@pytest.mark.parametrize(
    "line",
    ["tape_width_m = 0", "tape_width_m = -1", "tape_area_m2 = -1", 'zones = "round"',
     "tape_width_m = inf", "tape_width_m = 50"],
)  # fmt: skip
def test_tape_settings_that_cannot_be_are_refused_with_their_key(
    make_site: MakeSite, line: str
) -> None:
    key = line.split(" ")[0]
    assert f"map.{key}" in refused(make_site(extra=f"[map]\n{line}\n"))


def test_thresholds_asked_for_are_used_and_said(make_site: MakeSite) -> None:
    site = make_site()
    usual = map_site(site, MapOptions(cell_m=0.5))
    run = map_site(site, MapOptions(cell_m=0.5, remediate_at=0.3, clear_at=0.01))
    rules = json.loads((run.out / "summary.json").read_text("utf-8"))["rules"]
    assert (rules["remediate_at"], rules["clear_at"]) == (0.3, 0.01)
    assert any("not the usual 0.5" in text for text in run.notes)
    assert any("not the usual 0.05" in text for text in run.notes)
    assert not any("not the usual" in text for text in (*usual.notes, *usual.warnings))
    (new,), (old,) = run.floors, usual.floors
    assert new.ruled is not None
    assert old.ruled is not None
    assert new.ruled.area_m2("remediate") >= old.ruled.area_m2("remediate")
    assert new.ruled.area_m2("clear") <= old.ruled.area_m2("clear")


def test_a_laxer_threshold_is_a_warning(make_site: MakeSite) -> None:
    run = map_site(make_site(), MapOptions(cell_m=0.5, clear_at=0.2))
    assert any("laxer than the built-in" in text for text in run.warnings)
    assert run.exit_code == 1


def test_whole_rooms_give_each_room_one_zone(make_site: MakeSite) -> None:
    by_option = map_site(make_site(), MapOptions(cell_m=0.5, whole_rooms=True))
    by_file = map_site(
        make_site("other", extra='[map]\nzones = "whole rooms"\n'), MapOptions(cell_m=0.5)
    )
    for run in (by_option, by_file):
        (one,) = run.floors
        assert len(one.zones.zones) == len(one.floor.rooms)
        assert sum(zone.area_m2 for zone in one.zones.zones) == pytest.approx(one.floor.area_m2)


def test_a_place_is_explained_by_the_zones_that_the_map_prints(make_site: MakeSite) -> None:
    extra = NESTED.format("isolate", "10 ug/m3")
    site = make_site(extra=extra)
    for whole in (False, True):
        options = MapOptions(cell_m=0.5, whole_rooms=whole)
        (printed,) = map_site(site, options).floors
        found = explain_site(site, "ground", 1.5, 1.5, options)
        own = found.floor_map
        assert [one.level.value for one in own.nested] == [10.0, 3.0]
        assert [(one.id, one.reasons) for one in own.zones.zones] == [
            (one.id, one.reasons) for one in printed.zones.zones
        ]
        assert (len(own.zones.zones) == len(own.floor.rooms)) is whole


def test_explain_and_compare_take_a_level_with_what_it_is_for(make_site: MakeSite) -> None:
    options = MapOptions(cell_m=0.5, level="isolate=10 ug/m3")
    assert explain_site(make_site(), "ground", 1.5, 1.5, options).level.value == 10.0


def test_a_comparison_refuses_the_levels_that_the_map_refuses(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    table = make_table(make_rows())
    site = make_site(
        readings={"first.csv": table, "second.csv": table},
        extra=NESTED.format("isolate", "0 ug/m3"),
    )
    with pytest.raises(HgmapError) as found:
        compare_site(site, "first", "second", MapOptions(cell_m=0.5))
    assert "[[nested_levels]] 'isolate'" in str(found.value)


def test_a_zone_has_a_place_inside_it(make_site: MakeSite) -> None:
    run = map_site(make_site(), MapOptions(cell_m=0.5))
    (one,) = run.floors
    with (run.out / "zones.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    assert len(rows) == len(one.zones.zones) > 1
    for zone in one.zones.zones:
        row = rows[zone.id]
        assert zone.geometry.contains(Point(float(row["x_m"]), float(row["y_m"])))
