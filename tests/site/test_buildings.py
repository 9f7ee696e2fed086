"""Several buildings of one site, each at its own place on the one map."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import SiteError
from hgmap.site.buildings import footprints
from hgmap.site.check import check_site
from hgmap.site.folder import read_site
from hgmap.site.map_frame import MapFrame

MakeSite = Callable[..., Path]
MAP = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 604000\norigin_y_m = 5712000\n'
ANNEX = '[[buildings]]\nname = "Annex"\norigin_x_m = {x}\norigin_y_m = 5712000\nangle_deg = 90\n'


@pytest.fixture
def two_buildings(make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any) -> Any:
    """Return a function that makes a site of two buildings, the second at an easting."""

    def make(x: float = 604030.0, extra: str = "", named: str = "Annex") -> Path:
        rows = [*make_rows(), *make_rows(floor="shed", prefix="S")]
        site = make_site(
            plans={"ground": make_plan(), "shed": make_plan()},
            readings={"first.csv": make_table(rows)},
            extra=MAP + ANNEX.format(x=x) + extra,
        )
        toml = site / "site.toml"
        text = toml.read_text("utf-8")
        toml.write_text(text.replace('name = "shed"\n', f'name = "shed"\nbuilding = "{named}"\n'))
        return site

    return make


def test_each_floor_has_the_frame_of_its_building(two_buildings: Any) -> None:
    ground, shed = read_site(two_buildings()).floors
    assert ground.map_frame == MapFrame("EPSG:25832", 604000, 5712000)
    assert ground.building == ""
    assert shed.map_frame == MapFrame("EPSG:25832", 604030, 5712000, 90)
    assert shed.building == "Annex"


def test_footprints_lie_where_the_buildings_lie(two_buildings: Any) -> None:
    found = footprints(read_site(two_buildings()).floors)
    assert found[""].bounds == pytest.approx((604000, 5712000, 604012, 5712005))
    # 12 m by 5 m, a quarter turn counter-clockwise about its own corner
    assert found["Annex"].bounds == pytest.approx((604025, 5712000, 604030, 5712012))


def overlaps(site: Path) -> list[str]:
    return [one.message for one in check_site(site).problems
            if one.where == "site.toml, [[buildings]]"]  # fmt: skip


def test_check_warns_where_two_buildings_share_ground(two_buildings: Any) -> None:
    site = two_buildings(x=604014.0)
    assert overlaps(site) == [
        "the building without a name and building 'Annex' share 15.0 m² of the map: one of them "
        "lies at a wrong place"
    ]
    assert check_site(site).exit_code == 1


@pytest.mark.parametrize("x", [604017.0, 604030.0])
def test_buildings_that_touch_or_lie_apart_are_no_reason_to_warn(
    two_buildings: Any, x: float
) -> None:
    assert overlaps(two_buildings(x=x)) == []


def test_check_warns_where_buildings_lie_a_day_apart(two_buildings: Any) -> None:
    assert "lie 100 km apart" in overlaps(two_buildings(x=704030.0))[0]


@pytest.mark.parametrize(
    ("extra", "named", "said"),
    [
        ("", "Anex", "lies in building 'Anex', which is not there"),
        ('[[buildings]]\nname = "annex"\n', "Annex", "two buildings are called"),
        ('[[buildings]]\nname = "B"\ncrs = "EPSG:25833"\n', "Annex", "crs"),
    ],
)
def test_a_building_that_is_not_there_or_there_twice_is_refused(
    two_buildings: Any, extra: str, named: str, said: str
) -> None:
    with pytest.raises(SiteError, match=said):
        read_site(two_buildings(extra=extra, named=named))


def test_buildings_without_a_map_are_refused(make_site: MakeSite) -> None:
    with pytest.raises(SiteError, match="no map for them"):
        read_site(make_site(extra=ANNEX.format(x=0)))
