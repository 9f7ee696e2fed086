"""Walls of drawings whose walls are known: found within a pixel, nothing else proposed."""

from __future__ import annotations

import functools
import importlib
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString

from hgmap.errors import PlanError
from hgmap.site.plan_picture import PlanPicture
from hgmap.site.wall_finding.proposals import propose_walls
from hgmap.site.wall_finding.proposed import WallProposals, WallSearch
from tests.site.wall_finding.drawn_floors import (
    TWO_ROOMS,
    DrawnFloor,
    Style,
    draw_floor,
    false_share,
    farthest_end,
    found_share,
    random_walls,
    wall_lines,
)

STYLES: tuple[Style, ...] = ("filled", "double", "line")


@functools.cache
def proposed(style: Style, turn_deg: float) -> tuple[DrawnFloor, WallProposals]:
    """Draw the usual floor and look at it: once for all tests."""
    drawn = draw_floor(style=style, turn_deg=turn_deg)
    return drawn, propose_walls(drawn.grey, drawn.picture)


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("turn_deg", [0.0, 25.0, -40.0])
def test_every_wall_is_found_within_a_pixel_and_no_furniture(style: Style, turn_deg: float) -> None:
    drawn, found = proposed(style, turn_deg)
    assert len(found.walls) == len(drawn.walls)
    assert max(farthest_end(one, found) for one in drawn.walls) < 1.25 * drawn.m_per_px
    assert false_share(drawn.walls, wall_lines(found), 1.5 * drawn.m_per_px) == 0
    assert {one.kind for one in found.walls} == {style}
    assert not found.laser_map


@pytest.mark.parametrize("style", STYLES)
def test_gaps_as_wide_as_a_door_are_proposed_as_doors(style: Style) -> None:
    drawn, found = proposed(style, 25.0)
    assert len(found.doors) == 2
    for truth in drawn.doors:
        nearest = min(found.doors, key=lambda one: one.line.hausdorff_distance(LineString(truth)))
        assert nearest.line.hausdorff_distance(LineString(truth)) < 1.5 * drawn.m_per_px
        assert nearest.width_m == pytest.approx(0.9, abs=2 * drawn.m_per_px)
    sides = {number for one in found.doors for number in one.walls}
    assert sides <= {one.number for one in found.walls}


@pytest.mark.parametrize("style", ["filled", "double"])
@pytest.mark.parametrize("thick_m", [0.12, 0.3])
def test_a_wall_is_as_thick_as_it_was_drawn(style: Style, thick_m: float) -> None:
    drawn = draw_floor(style=style, turn_deg=-15, thick_m=thick_m)
    found = propose_walls(drawn.grey, drawn.picture)
    thick = [one.thickness_m for one in found.walls]
    assert thick == pytest.approx([thick_m] * len(thick), abs=drawn.m_per_px)


def test_the_ways_that_walls_run_are_said_in_the_plan_not_on_the_paper() -> None:
    drawn, found = proposed("double", 25.0)
    ways = sorted(round(one, 1) % 180 for one in found.directions_deg)
    assert ways == pytest.approx([0, 90], abs=0.2)
    on_paper = propose_walls(drawn.grey, PlanPicture("p.png", drawn.m_per_px))
    assert sorted(on_paper.directions_deg) == pytest.approx([25, 115], abs=0.2)


@settings(max_examples=6)
@given(st.floats(-180, 180), st.sampled_from(STYLES))
def test_a_plan_turned_on_its_paper_has_the_same_walls(turn_deg: float, style: Style) -> None:
    drawn = draw_floor(style=style, turn_deg=turn_deg, m_per_px=0.03)
    found = propose_walls(drawn.grey, drawn.picture)
    assert found_share(drawn.walls, wall_lines(found), 1.5 * drawn.m_per_px) > 0.995
    assert false_share(drawn.walls, wall_lines(found), 1.5 * drawn.m_per_px) < 0.005
    assert len(found.doors) == 2


@pytest.mark.parametrize("seed", range(6))
def test_of_invented_floors_nearly_all_is_found_and_next_to_nothing_else(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walls, doors = random_walls(rng)
    drawn = draw_floor(
        walls, STYLES[seed % 3], turn_deg=float(rng.uniform(-90, 90)), doors=doors,
        m_per_px=0.03, thick_m=float(rng.choice([0.15, 0.2, 0.3])), furniture=False,
    )  # fmt: skip
    found = propose_walls(drawn.grey, drawn.picture)
    assert found_share(walls, wall_lines(found), 1.5 * drawn.m_per_px) > 0.98
    assert false_share(walls, wall_lines(found), 1.5 * drawn.m_per_px) < 0.02
    middles = [one.line.centroid for one in found.doors]
    assert len(middles) == len(doors)
    for one in doors:
        assert min(LineString(one).centroid.distance(middle) for middle in middles) < 0.1


def test_the_same_picture_proposes_the_same_walls_again() -> None:
    drawn, found = proposed("double", 25.0)
    assert propose_walls(drawn.grey, drawn.picture) == found


def test_a_wall_that_runs_aslant_is_found_too() -> None:
    walls = (*TWO_ROOMS, ((1.0, 1.0), (4.0, 3.0)))
    drawn = draw_floor(walls, "filled", furniture=False)
    found = propose_walls(drawn.grey, drawn.picture)
    assert farthest_end(walls[-1], found) < 1.5 * drawn.m_per_px


def test_bright_lines_on_dark_ground_are_the_same_drawing() -> None:
    drawn, found = proposed("double", 0.0)
    negative = propose_walls(255 - drawn.grey, drawn.picture)
    assert [one.line.wkt for one in negative.walls] == [one.line.wkt for one in found.walls]
    assert "bright lines" in negative.notes[0]


def test_grey_rooms_are_ground_not_ink() -> None:
    drawn = draw_floor(style="filled")
    grey = drawn.grey.copy()
    grey[100:200, 60:280] = np.minimum(grey[100:200, 60:280], 190)
    found = propose_walls(grey, drawn.picture, WallSearch(laser_map=False))
    assert found_share(drawn.walls, wall_lines(found), drawn.m_per_px) > 0.99
    assert false_share(drawn.walls, wall_lines(found), drawn.m_per_px) < 0.01


def with_lines(drawn: DrawnFloor, *lines: LineString) -> np.ndarray[Any, Any]:
    """Draw more lines of one pixel onto a drawing."""
    grey = drawn.grey.copy()
    for line in lines:
        for at in np.arange(0, line.length, drawn.m_per_px / 3):
            place = line.interpolate(at)
            column, row = np.floor(drawn.picture.to_pixels([(place.x, place.y)])[0]).astype(int)
            grey[row : row + 2, column : column + 2] = 0
    return grey


def test_the_steps_of_a_stair_are_no_walls() -> None:
    drawn = draw_floor(furniture=False)
    steps = [LineString([(0.5 + 0.28 * k, 5), (0.5 + 0.28 * k, 6.2)]) for k in range(9)]
    sides = [LineString([(0.5, y), (2.74, y)]) for y in (5.0, 6.2)]
    found = propose_walls(with_lines(drawn, *steps, *sides), drawn.picture)
    assert any("stairs" in one for one in found.notes)
    inside = [one for one in found.walls if min(one.start[0], one.end[0]) > 0.3
              and max(one.start[0], one.end[0]) < 3]  # fmt: skip
    assert len(inside) <= 2  # the two sides stay


def test_glass_in_a_window_is_part_of_its_wall() -> None:
    drawn = draw_floor(furniture=False)
    found = propose_walls(with_lines(drawn, LineString([(7, 8), (9, 8)])), drawn.picture)
    assert len(found.walls) == len(drawn.walls)


def test_a_door_that_is_drawn_shut_by_a_line_is_no_gap() -> None:
    drawn = draw_floor(style="filled", furniture=False)
    grey = with_lines(drawn, LineString(drawn.doors[0]))
    found = propose_walls(grey, drawn.picture)
    middles = [one.line.centroid for one in found.doors]
    assert all(middle.distance(LineString(drawn.doors[0])) > 1 for middle in middles)


def test_the_scale_of_the_picture_is_all_that_makes_metres() -> None:
    drawn = draw_floor(furniture=False)
    usual = propose_walls(drawn.grey, PlanPicture("p.png", 0.02, 0, 3, 4))
    moved = propose_walls(drawn.grey, PlanPicture("p.png", 0.02, 90, -1, 2))
    for one, other in zip(usual.walls, moved.walls, strict=True):
        assert one.length_m == pytest.approx(other.length_m)
        x, y = one.start
        assert other.start == pytest.approx((-1 - (y - 4), 2 + (x - 3)))


@pytest.mark.parametrize(
    ("search", "text"),
    [
        (WallSearch(threshold=255), "threshold of 255"),
        (WallSearch(threshold=-1), "threshold of -1"),
        (WallSearch(shortest_m=0), "--shortest"),
        (WallSearch(shortest_m=math.nan), "--shortest"),
        (WallSearch(thickest_m=9), "--thickest"),
        (WallSearch(widest_door_m=0.5), "no wider than the narrowest door"),
    ],
)
def test_a_setting_that_makes_no_sense_is_refused(search: WallSearch, text: str) -> None:
    drawn = draw_floor()
    with pytest.raises(PlanError, match=text):
        propose_walls(drawn.grey, drawn.picture, search)


def test_a_picture_in_which_nothing_can_be_told_is_refused() -> None:
    drawn = draw_floor()
    with pytest.raises(PlanError, match="scale"):
        propose_walls(drawn.grey, PlanPicture("p.png", 0.02, guessed=True))
    with pytest.raises(PlanError, match="one shade"):
        propose_walls(np.full((50, 50), 200, np.uint8), drawn.picture)
    with pytest.raises(PlanError, match="too coarse"):
        propose_walls(drawn.grey, PlanPicture("p.png", 0.5))
    noise = np.random.default_rng(1).integers(0, 2, (300, 300)).astype(np.uint8) * 255
    with pytest.raises(PlanError, match="would be ink"):
        propose_walls(noise, drawn.picture, WallSearch(threshold=254))


def test_where_scikit_image_is_missing_it_is_said_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = importlib.import_module

    def missing(name: str, *more: Any) -> Any:
        if name.startswith("skimage"):
            raise ImportError(name)
        return usual(name, *more)

    monkeypatch.setattr(importlib, "import_module", missing)
    drawn = draw_floor()
    with pytest.raises(PlanError, match=r"pip install 'hgmap\[drawings\]'"):
        propose_walls(drawn.grey, drawn.picture)
