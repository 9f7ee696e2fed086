"""A floor estimated again while its readings move: the map is the one made from scratch."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.decide.exceedance import exceedance_probability, working_level
from hgmap.decide.model import Zones
from hgmap.floor_map import FloorMap, MapOptions, map_floor
from hgmap.live.floor import Cancelled, Draft, LiveCase, LiveFloor, LiveMap
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.trust import judged_site

OPTIONS = MapOptions(cell_m=0.5)
AT = [(1.0 + 2.2 * column, 0.8 + 1.7 * row) for row in range(3) for column in range(5)]


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory, make_plan: Any, make_room: Any,
         make_feature: Any) -> LiveCase:  # fmt: skip
    """Two rooms with a door between, fifteen readings, four of them non-detects."""
    root: Path = tmp_path_factory.mktemp("live")
    plan = make_plan(
        make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5),
        make_feature("opening", "LineString", [[6, 2], [6, 3]], id="d1"),
    )  # fmt: skip
    (root / "plan.geojson").write_text(json.dumps(plan), "utf-8")
    value = [0.1 + 0.02 * (7 * k % 11) for k in range(len(AT))]
    value[4] = value[9] = 9.0
    rows = [
        f"R{k},ground,{'A' if x < 6 else 'B'},{x:.1f},{y:.1f},1.5,2026-03-02T09:{k:02d},"
        f"{value[k]:.2f},ug/m3,{'<' if k in (0, 3, 6, 12) else ''},"
        for k, (x, y) in enumerate(AT)
    ]
    (root / "r.csv").write_text(
        "\n".join(("id,floor,room,x,y,height,time,value,unit,qualifier,note", *rows, "")), "utf-8"
    )
    (root / "site.toml").write_text(
        'schema_version = 1\nname = "Invented"\ninvented = true\nuse = "commercial"\n'
        '[level]\nname = "atsdr-commercial-occupancy"\n'
        '[[floors]]\nname = "ground"\nplan = "plan.geojson"\n'
        '[[rounds]]\nname = "first"\ndate = 2026-03-02\nreadings = ["r.csv"]\n', "utf-8"
    )  # fmt: skip
    site = read_site(root)
    level, _ = level_in_force(site, None)
    site = judged_site(site, level)
    return LiveCase(site, site.floors[0], site.rounds[0], "adult breathing", level, OPTIONS)


def changed(case: LiveCase, number: int, **how: Any) -> LiveCase:
    """Return the case with one reading changed."""
    readings = list(case.site.readings)
    readings[number] = readings[number]._replace(**how)
    return replace(case, site=replace(case.site, readings=tuple(readings)))


def moved(case: LiveCase, number: int, share: tuple[float, float]) -> LiveCase:
    """Return the case with a reading moved within its room."""
    west = 0.0 if case.site.readings[number].room == "A" else 6.0
    return changed(case, number, x=west + 0.3 + 5.4 * share[0], y=0.3 + 4.4 * share[1])


def from_scratch(case: LiveCase) -> FloorMap:
    return map_floor(
        case.site, case.floor, case.round, case.band, case.level, case.options,
        unfit=case.unfit, purpose=case.purpose, further=case.further,
    )  # fmt: skip


def ground(zones: Zones, name: str) -> shapely.Geometry:
    return shapely.union_all([one.geometry for one in zones.zones if one.name == name])


def is_the_same(live: LiveMap | FloorMap, whole: FloorMap) -> None:
    """Surfaces to 1e-6 on the working scale, pieces by name and to 1e-4 m²."""
    assert live.surface is not None
    assert whole.surface is not None
    for name in ("mean", "sd"):
        one, other = getattr(live.surface, name), getattr(whole.surface, name)
        assert one == pytest.approx(other, abs=1e-6, nan_ok=True)
    assert [one.id for one in live.zones.zones] == [one.id for one in whole.zones.zones]
    for one, other in zip(live.zones.zones, whole.zones.zones, strict=True):
        apart = shapely.symmetric_difference(one.geometry, other.geometry).area
        assert apart < 1e-4, one.id
        assert one.reasons == other.reasons


MOVES = st.lists(
    st.tuples(st.integers(0, len(AT) - 1), st.tuples(st.floats(0, 1), st.floats(0, 1))),
    min_size=1, max_size=3,
)  # fmt: skip


@settings(max_examples=8, deadline=None)
@given(moves=MOVES, error=st.sampled_from([0.0, 0.02]), held=st.booleans())
def test_a_map_after_moves_is_the_map_from_scratch(
    case: LiveCase, moves: list[tuple[int, tuple[float, float]]], error: float, held: bool
) -> None:
    floor = LiveFloor()
    floor.map(case)
    now = changed(case, 2, error=error) if error else case
    now = changed(now, 7, held=("invented",)) if held else now
    for number, share in moves:
        now = moved(now, number, share)
        floor.draft(now)
        made = floor.map(now)
    is_the_same(made, from_scratch(now))


def test_finishing_a_map_makes_the_whole_one(case: LiveCase) -> None:
    floor = LiveFloor()
    floor.map(case)
    now = moved(case, 3, (0.4, 0.7))
    made = floor.map(now)
    floor.map(moved(case, 8, (0.1, 0.1)))  # what was kept has gone on meanwhile
    finished, whole = floor.finish(made), from_scratch(now)
    is_the_same(finished, whole)
    assert [one.x for one in finished.resample.places] == pytest.approx(
        [one.x for one in whole.resample.places]
    )
    assert finished.nothing_clear == whole.nothing_clear


def test_a_draft_is_near_the_map_and_rules_on_nothing(case: LiveCase) -> None:
    floor = LiveFloor()
    made = floor.map(case)
    draft = floor.draft(case)
    assert draft is not None
    assert made.surface is not None
    inside = made.surface.raster.inside
    apart = np.abs(draft.mean - made.surface.mean)[inside]
    assert np.median(apart) < 0.3 * np.median(made.surface.sd[inside])
    assert not {"zones", "ruled", "clear"} & {one.name for one in fields(Draft)}
    assert "draft" in draft.label
    level = working_level(made.surface, case.level.concentration)
    exact = exceedance_probability(
        draft.mean, draft.sd, level, degrees_of_freedom=made.surface.degrees_of_freedom
    )
    assert draft.probability == pytest.approx(exact, abs=1e-4, nan_ok=True)


def test_a_draft_follows_the_reading_that_is_moved(case: LiveCase) -> None:
    floor = LiveFloor()
    floor.map(case)
    before = floor.draft(case)
    after = floor.draft(moved(case, 4, (0.2, 0.9)))
    assert before is not None
    assert after is not None
    assert float(np.nanmax(np.abs(after.mean - before.mean))) > 0.1


def test_a_draft_without_a_map_before_it_is_the_estimate(case: LiveCase) -> None:
    draft, whole = LiveFloor().draft(case), from_scratch(case)
    assert draft is not None
    assert whole.surface is not None
    assert draft.mean == pytest.approx(whole.surface.mean, abs=1e-9, nan_ok=True)


def test_too_few_readings_make_no_draft_and_nothing_clear(case: LiveCase) -> None:
    few = replace(case, site=replace(case.site, readings=case.site.readings[:2]))
    floor = LiveFloor()
    floor.map(case)
    assert floor.draft(few) is None
    made = floor.map(few)
    assert made.surface is None
    assert ground(made.zones, "clear").is_empty


def test_another_floor_drops_what_was_kept(case: LiveCase) -> None:
    shut = replace(
        case.floor, openings=tuple(replace(one, state="closed") for one in case.floor.openings)
    )
    floor = LiveFloor()
    floor.map(case)
    other = replace(case, floor=shut)
    is_the_same(floor.map(other), from_scratch(other))


@pytest.mark.parametrize("after", [0, 1, 3, 10, 40, 150])
def test_work_that_is_not_wanted_stops_and_leaves_a_floor_that_works(
    case: LiveCase, after: int
) -> None:
    floor = LiveFloor()
    asked = 0

    def cancelled() -> bool:
        nonlocal asked
        asked += 1
        return asked > after

    with pytest.raises(Cancelled):
        floor.map(case, cancelled=cancelled)
    assert asked == after + 1
    is_the_same(floor.map(case), from_scratch(case))


def test_progress_is_told(case: LiveCase) -> None:
    told: list[tuple[int, int]] = []
    floor = LiveFloor()
    made = floor.map(case, progress=lambda done, whole: told.append((done, whole)))
    floor.finish(made, progress=lambda done, whole: told.append((done, whole)))
    assert told
    assert all(0 <= done <= whole for done, whole in told)
