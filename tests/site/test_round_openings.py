"""Openings as they stood in one round."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.batch import MapOptions, map_site
from hgmap.errors import SiteError
from hgmap.site.folder import read_site
from hgmap.site.round_openings import floor_in_round

MakeSite = Callable[..., Path]


@pytest.fixture
def door(make_plan: Any) -> str:
    features = make_plan()["features"]
    openings = [one["properties"] for one in features if one["properties"]["kind"] == "opening"]
    return str(openings[0]["id"])


def site_with(make_site: MakeSite, text: str) -> Path:
    site = make_site()
    file = site / "site.toml"
    lines = file.read_text("utf-8").splitlines()
    at = max(k for k, line in enumerate(lines) if line.startswith("readings ="))
    lines.insert(at + 1, text)
    file.write_text("\n".join(lines), "utf-8")
    return site


def test_a_door_sealed_in_a_round_is_sealed_in_its_map_and_not_in_the_plan(
    make_site: MakeSite, door: str
) -> None:
    site = read_site(site_with(make_site, f'[rounds.openings.ground]\n"{door}" = "sealed"'))
    (floor,), (round_,) = site.floors, site.rounds
    then = floor_in_round(floor, round_)
    assert [one.state for one in then.openings if one.id == door] == ["sealed"]
    assert [one.state for one in floor.openings if one.id == door] == ["open"]
    assert then.rooms == floor.rooms


@pytest.mark.usefixtures("no_sheets")
def test_the_map_follows_the_door_of_its_round(make_site: MakeSite, door: str) -> None:
    site = site_with(make_site, f'[rounds.openings.ground]\n"{door}" = "sealed"')
    (one,) = map_site(site, MapOptions(cell_m=0.5)).floors
    assert [opening.state for opening in one.floor.openings if opening.id == door] == ["sealed"]
    assert one.surface is not None
    (open_door,) = map_site(make_site("other"), MapOptions(cell_m=0.5)).floors
    assert open_door.surface is not None
    inside = one.surface.raster.inside
    difference = one.surface.mean[inside] - open_door.surface.mean[inside]
    assert abs(difference).max() > 1e-3


def test_a_round_that_says_nothing_keeps_the_plan(make_site: MakeSite) -> None:
    site = read_site(make_site())
    assert floor_in_round(site.floors[0], site.rounds[0]) is site.floors[0]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[rounds.openings.ground]\n"no such door" = "sealed"', "has no opening 'no such door'"),
        ('[rounds.openings.gruond]\nD1 = "sealed"', "did you mean 'ground'"),
        ('[rounds.openings.ground]\nD1 = "ajar"', "ajar"),
    ],
)
def test_a_floor_opening_or_state_that_is_not_known_is_an_error(
    make_site: MakeSite, text: str, says: str
) -> None:
    with pytest.raises(SiteError) as caught:
        read_site(site_with(make_site, text))
    assert says in f"{caught.value} {caught.value.todo}"
    assert "\n" not in str(caught.value)
