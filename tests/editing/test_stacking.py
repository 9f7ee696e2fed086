"""Floors that do not lie on one another are told, with what would make them."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity, box

from hgmap.editing.plan_check import check_plans
from hgmap.editing.plan_draft import PlanDraft, raw_feature
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.stacking import (
    best_laying,
    common_share,
    share_over,
    stacking_findings,
)
from hgmap.site.plan_findings import PlanFinding
from tests.editing.drawn_plans import plans

ELL = shapely.union_all([box(0, 0, 20, 6), box(0, 6, 7, 15)])
"""An L, which no turn and no mirror brings onto itself."""


def draft(*shapes: shapely.Geometry) -> PlanDraft:
    raw = [raw_feature("room", one, id=f"A{n}") for n, one in enumerate(shapes)]
    return PlanDraft().edited(added=raw)


def finding(upper: shapely.Geometry) -> PlanFinding[PlanDraft] | None:
    drafts = [("g", "Ground", draft(ELL)), ("f", "First", draft(upper))]
    found = list(stacking_findings(drafts))
    assert all(name == "f" for name, _ in found)
    return found[0][1] if found else None


def test_floors_of_one_outline_and_a_smaller_one_above_are_no_finding() -> None:
    assert finding(ELL) is None
    assert finding(affinity.translate(ELL, 0.2, -0.1)) is None
    assert finding(box(0, 0, 12, 6)) is None


def test_a_shift_is_a_note_that_says_how_far() -> None:
    found = finding(affinity.translate(ELL, 30, -4))
    assert found is not None
    assert found.severity == "note"
    assert found.message == "it does not lie on 'Ground': they share 0 % of their ground"
    assert "moved by x -30.00, y +4.00 m, it would share 100 %" in found.todo
    assert found.repair is None


@pytest.mark.parametrize(
    ("upper", "text"),
    [
        (affinity.rotate(ELL, 90, origin=(0, 0)), "turned by 270° counter-clockwise"),
        (affinity.scale(ELL, -1, 1, origin=(10, 0)), "mirrored about its middle"),
        (affinity.scale(ELL, 1 / 0.0254, 1 / 0.0254, origin=(0, 0)), "multiplied by 0.0254"),
    ],
)
def test_turned_mirrored_and_multiplied_floors_are_warnings(
    upper: shapely.Geometry, text: str
) -> None:
    found = finding(upper)
    assert found is not None
    assert found.severity == "warning"
    assert text in found.todo
    assert "it would share 100 %" in found.todo


def test_shares_of_squares_are_those_of_hand() -> None:
    # 4 m² and 4 m² that share 1 m²: 1/7 of both, 1/4 of either
    one, two = box(0, 0, 2, 2), box(1, 1, 3, 3)
    assert common_share(one, two) == pytest.approx(1 / 7)
    assert share_over(one, two) == pytest.approx(1 / 4)
    assert common_share(one, shapely.Polygon()) == 0


@given(
    plans(least=2),
    st.floats(-50, 50),
    st.floats(-50, 50),
    st.sampled_from([0, 90, 180, 270]),
    st.booleans(),
)
def test_the_best_laying_finds_a_floor_again_however_it_was_laid(
    made: PlanDraft, dx: float, dy: float, turn: int, mirrored: bool
) -> None:
    lower = made.ground
    upper = affinity.rotate(affinity.translate(lower, dx, dy), turn, origin=(0, 0))
    upper = affinity.scale(upper, -1 if mirrored else 1, 1, origin=(0, 0))
    best = best_laying(upper, lower)
    # what is as good within two hundredths is taken for the same
    assert best.common > 0.75
    assert best.common >= common_share(upper, lower) - 0.02


@given(plans())
def test_a_floor_lies_on_itself(made: PlanDraft) -> None:
    assert list(stacking_findings([("a", "a", made), ("b", "b", made)])) == []


def test_a_shift_is_a_warning_where_the_building_lies_on_a_map() -> None:
    drafts = [("g", "Ground", draft(ELL)), ("f", "First", draft(affinity.translate(ELL, 9, 0)))]
    assert [one.severity for _, one in stacking_findings(drafts)] == ["note"]
    assert [one.severity for _, one in stacking_findings(drafts, on_map=True)] == ["warning"]


def test_floors_of_two_buildings_are_not_laid_on_one_another() -> None:
    site = """schema_version = 1
name = "Two sheds (invented)"
[map_frame]
crs = "EPSG:25832"
origin_x_m = 600000
origin_y_m = 5700000
[[buildings]]
name = "Annex"
origin_x_m = 600100
origin_y_m = 5700000
[[floors]]
name = "g"
plan = "g.geojson"
[[floors]]
name = "annex"
plan = "a.geojson"
"""
    files = {
        "g.geojson": draft(ELL).to_bytes(),
        "a.geojson": draft(affinity.translate(ELL, 40, 0)).to_bytes(),
    }

    def rules(text: str) -> list[str]:
        found = check_plans(SiteFiles(Path("nowhere"), {"site.toml": text.encode(), **files}))
        return [one.finding.rule for one in found.findings if one.finding.severity == "warning"]

    assert rules(site) == ["stack"]
    assert rules(f'{site}building = "Annex"\n') == []
