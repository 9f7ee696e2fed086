"""A run from folder to files: what is made, what is left out and why, and nothing half-written."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely.errors import GEOSException

from hgmap.batch import SHEETS, MapOptions, MapRun, map_site
from hgmap.errors import EstimateError, HgmapError, SiteError

MakeSite = Callable[..., Path]
CELL = 0.5
ZONES = ("remediate", "resample", "clear", "no data")

pytestmark = pytest.mark.usefixtures("no_sheets")


def mapped(site: Path, **options: Any) -> MapRun:
    return map_site(site, MapOptions(cell_m=CELL, **options))


def summary_of(run: MapRun) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((run.out / "summary.json").read_text("utf-8"))
    return found


def some_readings(make_rows: Any, make_table: Any, n: int) -> dict[str, str]:
    return {"first.csv": make_table(make_rows(15)[:: 15 // n][:n])}


# --- too few readings


@pytest.mark.parametrize("n", [1, 2])
def test_fewer_than_three_readings_make_no_surface_and_say_why(
    make_site: MakeSite, make_rows: Any, make_table: Any, n: int
) -> None:
    run = mapped(make_site(readings=some_readings(make_rows, make_table, n)))
    floor = summary_of(run)["floors"][0]
    assert run.exit_code == 1
    assert floor["method"] is None
    assert f"{n} usable reading" in floor["no_surface"]
    assert "a surface needs 3" in floor["no_surface"]
    assert floor["zones_m2"]["clear"] == 0
    assert any("no surface" in text for text in run.floors[0].warnings)


@pytest.mark.parametrize("n", [3, 5, 7])
def test_fewer_than_eight_readings_take_stated_parameters_and_say_so(
    make_site: MakeSite, make_rows: Any, make_table: Any, n: int
) -> None:
    run = mapped(make_site(readings=some_readings(make_rows, make_table, n)))
    summary = summary_of(run)
    floor = summary["floors"][0]
    assert floor["variogram"]["origin"] == "default"
    assert any("default variogram parameters" in text for text in floor["notes"])
    assert any("default variogram parameters" in text for text in summary["warnings"])
    assert run.exit_code == 1


def test_eight_readings_are_fitted(make_site: MakeSite, make_rows: Any, make_table: Any) -> None:
    run = mapped(make_site(readings={"first.csv": make_table(make_rows(15))}))
    assert summary_of(run)["floors"][0]["variogram"]["origin"] != "default"
    assert run.exit_code == 0


@pytest.mark.parametrize("where", ["another floor", "nowhere"])
def test_a_floor_without_a_reading_is_no_data_with_the_reason(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, where: str
) -> None:
    plans = {"upper": make_plan()}
    rows = ["R1,upper,A,1,1,1.5,,,ug/m3,,"]
    if where == "another floor":
        plans["ground"] = make_plan()
        rows = make_rows()
    run = mapped(make_site(plans=plans, readings={"first.csv": make_table(rows)}))
    floor = next(one for one in summary_of(run)["floors"] if one["floor"] == "upper")
    assert floor["zones_m2"]["clear"] == floor["zones_m2"]["remediate"] == 0
    assert "0 usable readings" in floor["no_surface"]
    assert run.exit_code == 1
    if where == "another floor":
        assert floor["zones_m2"]["no data"] == pytest.approx(60)
    zones = next(one for one in run.floors if one.floor.name == "upper").zones
    assert all(any("no surface" in text for text in zone.reasons) for zone in zones.zones)


def test_readings_at_another_height_make_no_map_of_this_one(make_site: MakeSite) -> None:
    run = mapped(make_site(), height_band="source search")
    floor = summary_of(run)["floors"][0]
    assert floor["readings"]["used"] == []
    assert floor["zones_m2"]["clear"] == 0
    assert {one["role"] for one in floor["readings"]["set_aside"]} == {"other height"}


def test_readings_of_another_round_stay_out(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    site = make_site(
        readings={
            "before.csv": make_table(make_rows(15)),
            "after.csv": make_table(make_rows(10, prefix="A")),
        }
    )
    for name, prefix, n in (("before", "R", 15), ("after", "A", 10)):
        run = mapped(site, round=name)
        used = summary_of(run)["floors"][0]["readings"]["used"]
        assert {one["id"][0] for one in used} == {prefix}
        assert len(used) == n


# --- what the rulings keep


@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_zones_tile_every_room(make_site: MakeSite, method: Any) -> None:
    run = mapped(make_site(), method=method)
    floor = summary_of(run)["floors"][0]
    assert floor["method"] == method
    assert sum(floor["zones_m2"].values()) == pytest.approx(60, rel=1e-3)
    for room in ("A", "B"):
        assert sum(floor["zones_by_room_m2"][room].values()) == pytest.approx(30, rel=1e-3)
    for name in ZONES:
        assert sum(one[name] for one in floor["zones_by_room_m2"].values()) == pytest.approx(
            floor["zones_m2"][name]
        )


def test_the_hot_corner_is_never_clear_and_readings_above_keep_their_surroundings(
    make_site: MakeSite,
) -> None:
    from shapely import Point

    run = mapped(make_site())
    zones = run.floors[0].zones.zones
    above = [item.reading for item in run.floors[0].evidence.used if item.above]
    assert above
    for zone in zones:
        if zone.name == "clear":
            for one in above:
                assert zone.geometry.distance(Point(one.x, one.y)) > 0.5


def test_a_linear_scale_is_done_when_the_site_asks(make_site: MakeSite) -> None:
    run = mapped(make_site(extra='[map]\nscale = "linear"\n'))
    assert summary_of(run)["floors"][0]["settings"]["scale"] == "linear"


# --- what fails midway


def test_a_floor_that_cannot_be_estimated_is_reported_and_the_next_is_made(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    import hgmap.floor_ruling as floor_ruling

    real = floor_ruling.estimate_surface

    def fail_below(floor: Any, *rest: Any, **more: Any) -> Any:
        if floor.name == "cellar":
            raise EstimateError("will not do", where="floor 'cellar'", todo="mend it")
        return real(floor, *rest, **more)

    monkeypatch.setattr(floor_ruling, "estimate_surface", fail_below)
    table = make_table([*make_rows(), *make_rows(floor="cellar", prefix="C")])
    run = mapped(
        make_site(plans={"cellar": make_plan(), "ground": make_plan()},
                  readings={"first.csv": table})
    )  # fmt: skip
    assert [one.floor.name for one in run.floors] == ["ground"]
    assert [(one.floor, one.message) for one in run.failed] == [("cellar", "will not do")]
    assert run.exit_code == 1


@pytest.mark.parametrize("name", ["site.gpkg", "zones.csv", "resample.csv", "summary.json"])
def test_a_file_that_cannot_be_written_leaves_the_earlier_one_whole(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    site = make_site()
    out = mapped(site).out
    before = {one.name: one.read_bytes() for one in out.iterdir()}
    real = Path.replace

    def fail(self: Path, target: Path) -> Path:
        if Path(target).name == name:
            raise OSError(28, "No space left on device")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(HgmapError, match="No space left on device"):
        mapped(site, level="1 ug/m3")
    assert (out / name).read_bytes() == before[name]
    assert sorted(one.name for one in out.iterdir()) == sorted(before)


def test_a_layer_that_cannot_be_written_is_one_line_and_the_old_file_stays(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    import geopandas as gpd
    from pyogrio.errors import DataSourceError

    site = make_site()
    out = mapped(site).out
    before = (out / "site.gpkg").read_bytes()
    real = gpd.GeoDataFrame.to_file

    def fail(self: Any, path: Path, *, layer: str, **rest: Any) -> None:
        if layer == "zones":
            raise DataSourceError("database or disk is full")
        real(self, path, layer=layer, **rest)

    monkeypatch.setattr(gpd.GeoDataFrame, "to_file", fail)
    with pytest.raises(HgmapError, match="disk is full"):
        mapped(site, level="1 ug/m3")
    assert (out / "site.gpkg").read_bytes() == before
    assert not [one.name for one in out.iterdir() if one.name.startswith(".tmp-")]


def test_progress_rises_from_0_to_1_and_raising_in_it_cancels(make_site: MakeSite) -> None:
    shares: list[float] = []
    map_site(make_site(), MapOptions(cell_m=CELL), lambda _, share: shares.append(share))
    assert shares == sorted(shares)
    assert (shares[0], shares[-1]) == (0.0, 1.0)

    def cancel(what: str, share: float) -> None:
        if share > 0.3:
            raise KeyboardInterrupt

    site = make_site("other")
    with pytest.raises(KeyboardInterrupt):
        map_site(site, MapOptions(cell_m=CELL), cancel)
    assert not (site / "results").exists()


# --- what is chosen for the user is said


def test_the_latest_round_is_by_date_not_by_place_in_the_file(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    table = make_table(make_rows())
    site = make_site(readings={"a.csv": table, "b.csv": table})
    text = (site / "site.toml").read_text().replace("2026-03-01", "2026-04-01")
    (site / "site.toml").write_text(text)
    run = mapped(site)
    assert run.round.name == "a"
    assert any("'a' is the latest" in text for text in run.notes)


def test_a_height_band_that_nobody_chose_is_said(make_site: MakeSite) -> None:
    assert any("height band not stated: 'adult breathing'" in text
               for text in mapped(make_site()).notes)  # fmt: skip


def test_a_floor_is_found_by_its_title(make_site: MakeSite) -> None:
    site = make_site()
    text = (site / "site.toml").read_text()
    text = text.replace('name = "ground"', 'name = "ground"\ntitle = "Hall"')
    (site / "site.toml").write_text(text)
    assert [one.floor.name for one in mapped(site, floors=("Hall", "ground")).floors] == ["ground"]


def test_an_unknown_floor_is_refused_even_beside_a_known_one(make_site: MakeSite) -> None:
    with pytest.raises(SiteError, match="no floor 'attic'"):
        mapped(make_site(), floors=("ground", "attic"))


def test_a_lost_floor_that_was_not_asked_for_is_not_the_fault_of_this_run(
    make_site: MakeSite, make_plan: Any
) -> None:
    site = make_site(plans={"ground": make_plan(), "attic": b"{"})
    run = mapped(site, floors=("ground",))
    assert run.failed == ()
    lost = mapped(site, floors=("attic",))
    assert (lost.floors, lost.exit_code) == ((), 2)


# --- a floor that breaks a library is lost alone


@pytest.mark.parametrize(
    ("error", "text"),
    [
        (GEOSException("TopologyException: side location conflict"), "its geometry cannot be"),
        (np.linalg.LinAlgError("SVD did not converge"), "SVD did not converge"),
        (MemoryError(), "not enough memory"),
    ],
)
def test_a_floor_that_breaks_a_library_is_lost_with_its_reason_and_the_next_is_made(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any,
    monkeypatch: pytest.MonkeyPatch, error: Exception, text: str,
) -> None:  # fmt: skip
    import hgmap.batch as batch

    real = batch.map_floor

    def fail_below(site: Any, floor: Any, *rest: Any, **more: Any) -> Any:
        if floor.name == "cellar":
            raise error
        return real(site, floor, *rest, **more)

    monkeypatch.setattr(batch, "map_floor", fail_below)
    table = make_table([*make_rows(), *make_rows(floor="cellar", prefix="C")])
    run = mapped(
        make_site(plans={"cellar": make_plan(), "ground": make_plan()},
                  readings={"first.csv": table})
    )  # fmt: skip
    assert [one.floor.name for one in run.floors] == ["ground"]
    assert [one.floor for one in run.failed] == ["cellar"]
    assert text in run.failed[0].message
    assert "\n" not in str(run.failed[0].message)
    assert run.failed[0].todo
    assert run.exit_code == 1


def test_a_plan_far_out_of_this_world_loses_its_floor_only(
    make_site: MakeSite, make_plan: Any, make_room: Any
) -> None:
    far = make_plan(make_room("A", 1e300, 1e300, 1.1e300, 1.1e300))
    run = mapped(make_site(plans={"far": far, "ground": make_plan()}))
    assert [one.floor.name for one in run.floors] == ["ground"]
    assert "farther out" in run.failed[0].message


# --- a file of the round that cannot be read


def spoil(site: Path, file: str = "gone.csv", round_: str = "first") -> Path:
    """Add to a round a readings file that is not there."""
    text = (site / "site.toml").read_text()
    old = f'readings = ["readings/{round_}.csv"]'
    assert old in text
    text = text.replace(old, f'readings = ["readings/{round_}.csv", "readings/{file}"]')
    (site / "site.toml").write_text(text)
    return site


def test_a_lost_readings_file_clears_nothing_and_every_output_says_so(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = summary_of(mapped(make_site("whole")))
    assert whole["floors"][0]["zones_m2"]["clear"] > 0, "else this test shows nothing"
    assert whole["warnings"] == []
    told: list[tuple[str, ...]] = []
    monkeypatch.setattr(
        "hgmap.batch._write_sheets", lambda *given: told.append(given[0].warnings) or []
    )
    run = mapped(spoil(make_site()))
    warning = (
        "a readings file of this round could not be read (readings/gone.csv: no such file): "
        "nothing is clear until it can be"
    )
    summary = summary_of(run)
    zones = summary["floors"][0]["zones_m2"]
    assert zones["clear"] == 0
    assert zones["remediate"] == pytest.approx(whole["floors"][0]["zones_m2"]["remediate"])
    assert zones["resample"] + zones["remediate"] == pytest.approx(60, rel=1e-3)
    assert any(warning in reason for zone in run.floors[0].zones.zones for reason in zone.reasons)
    assert warning in run.floors[0].warnings
    assert run.warnings == (warning,)
    assert summary["warnings"] == [warning]
    assert told == [(warning,)]
    assert run.exit_code == 1


def test_a_lost_readings_file_of_another_round_takes_nothing_from_this_one(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    table = make_table(make_rows())
    site = spoil(make_site(readings={"first.csv": table, "second.csv": table}))
    run = mapped(site, round="second")
    assert summary_of(run)["floors"][0]["zones_m2"]["clear"] > 0
    assert run.warnings == ()
    assert run.exit_code == 1  # the folder as a whole is not sound


def test_a_lost_readings_file_of_two_rounds_takes_from_both(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    table = make_table(make_rows())
    site = make_site(readings={"first.csv": table, "second.csv": table})
    for round_ in ("first", "second"):
        spoil(site, round_=round_)
    for round_ in ("first", "second"):
        run = mapped(site, round=round_)
        assert summary_of(run)["floors"][0]["zones_m2"]["clear"] == 0
        assert len(run.warnings) == 1


# --- rules laxer than the built-in ones


@pytest.mark.parametrize(
    "rule", ["clear_at = 0.06", "clear_at = 0.2", "remediate_at = 0.8", "guard_m = 0.5"]
)
def test_a_rule_laxer_than_the_built_in_one_is_done_and_said_everywhere(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch, rule: str
) -> None:
    told: list[tuple[str, ...]] = []
    monkeypatch.setattr(
        "hgmap.batch._write_sheets", lambda *given: told.append(given[0].warnings) or []
    )
    run = mapped(make_site(extra=f"[map]\n{rule}\n"))
    start = f"site.toml, [map]: {rule.replace(' =', '')} is laxer than the built-in "
    assert len(run.warnings) == 1
    assert run.warnings[0].startswith(start)
    assert summary_of(run)["warnings"] == list(run.warnings)
    assert told == [run.warnings]
    assert run.exit_code == 1


@pytest.mark.parametrize("rule", ["clear_at = 0.05", "clear_at = 0.01", "remediate_at = 0.3",
                                  "guard_m = 1.5", "guard_m = 3"])  # fmt: skip
def test_a_rule_as_strict_as_the_built_in_one_needs_no_warning(
    make_site: MakeSite, rule: str
) -> None:
    run = mapped(make_site(extra=f"[map]\n{rule}\n"))
    assert run.warnings == ()
    assert run.exit_code == 0


# --- old sheets, and held readings of no known round


def test_the_sheets_of_a_floor_that_is_now_lost_are_put_out_of_date(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any
) -> None:
    table = make_table([*make_rows(), *make_rows(floor="upper", prefix="U")])
    site = make_site(
        plans={"ground": make_plan(), "upper": make_plan()}, readings={"first.csv": table}
    )
    out = mapped(site).out
    for floor in ("ground", "upper"):
        (out / floor).mkdir()
        for name in SHEETS:
            (out / floor / name).write_text(f"the old {name} of {floor}")
    (site / "plans" / "1.geojson").write_text("{")
    mapped(site)
    assert sorted(one.name for one in (out / "ground").iterdir()) == sorted(SHEETS)
    old = sorted(one.name for one in (out / "upper").iterdir())
    assert old == sorted(f"out-of-date-{name}" for name in SHEETS)
    for name in SHEETS:
        text = (out / "upper" / f"out-of-date-{name}").read_text()
        assert text == f"the old {name} of upper"


def test_held_readings_of_this_round_and_of_no_known_round_count_and_others_do_not(
    make_site: MakeSite, make_rows: Any
) -> None:
    header = "id,floor,room,x,y,height,time,value,unit,qualifier,note,round"
    bad = "ground,A,1,1,1.5,,NaN,ug/m3,,"
    rows = [f"{row},first" for row in make_rows()]
    rows += [f"mine,{bad},first", f"other,{bad},second", f"stray,{bad},later", f"none,{bad},"]
    site = make_site(readings={"first.csv": "\n".join([header, *rows]) + "\n"})
    with (site / "site.toml").open("a") as file:
        file.write('[[rounds]]\nname = "second"\nreadings = ["readings/first.csv"]\n')
    run = mapped(site, round="first")
    assert [one.where.split("(")[1] for one in run.held] == ["mine)", "stray)", "none)"]
    assert len(summary_of(run)["held"]) == 3


def test_the_folder_for_the_results_can_be_text(make_site: MakeSite, tmp_path: Path) -> None:
    run = mapped(make_site(), floors=("ground",), out=str(tmp_path / "elsewhere"))
    assert run.out == tmp_path / "elsewhere"
    assert (tmp_path / "elsewhere" / "summary.json").is_file()
