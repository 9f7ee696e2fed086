"""A place is in its room, or as near as a tape is read; else the reading is held."""

from __future__ import annotations

import json
from typing import Any

import pytest

from hgmap.site.building import Floor
from hgmap.site.folder import DEFAULT_HEIGHT_BANDS
from hgmap.site.model import HeightBand
from hgmap.site.plan import read_plan
from hgmap.site.whereabouts import Clues, find_band, find_place


@pytest.fixture(scope="module")
def floor(make_plan: Any) -> Floor:
    plan = read_plan(json.dumps(make_plan()).encode(), where="p", floor="ground")
    return Floor("ground", "Ground floor", plan.rooms, plan.walls, plan.openings)


def place(floor: Floor, name: str, x: float, y: float) -> tuple[str, list[str], list[str]]:
    held: list[str] = []
    cautions: list[str] = []
    found = find_place(Clues(name, x, y), floor, held, cautions)
    return found.room, held, cautions


# The tolerance of 1 cm is the rounding of a tape: common practice, no source.
@pytest.mark.parametrize(("x", "y"), [(3, -0.009), (3, 5.009), (-0.009, 3)])
@pytest.mark.parametrize("name", ["A", ""])
def test_a_place_a_centimetre_outside_its_room_is_a_rounding_of_the_tape(
    floor: Floor, name: str, x: float, y: float
) -> None:
    room, held, _ = place(floor, name, x, y)
    assert (room, held) == ("A", [])


@pytest.mark.parametrize(("x", "y"), [(3, -0.011), (3, 5.02), (-0.3, 3)])
def test_a_place_farther_outside_its_room_is_held(floor: Floor, x: float, y: float) -> None:
    _, held, _ = place(floor, "A", x, y)
    assert len(held) == 1
    assert "outside room 'Room A'" in held[0]
    room, held, _ = place(floor, "", x, y)
    assert room == ""
    assert len(held) == 1
    assert "lies in no room" in held[0]


@pytest.mark.parametrize("x", [6.011, 6.05, 6.4])
def test_a_place_in_the_next_room_is_not_taken_for_this_one(floor: Floor, x: float) -> None:
    _, held, _ = place(floor, "A", x, 3)
    assert len(held) == 1
    assert "outside room 'Room A'" in held[0]


def test_only_a_place_at_the_line_between_two_rooms_could_be_in_either(floor: Floor) -> None:
    assert "on the line between" in place(floor, "", 6.005, 3)[2][0]
    for x, expected in ((5.98, "A"), (6.02, "B")):
        assert place(floor, "", x, 3) == (expected, [], [])


@pytest.mark.parametrize(
    ("height_m", "band"), [(1.8288, "adult breathing"), (0.1016, "source search")]
)  # 6 ft, 4 in
def test_a_height_in_feet_just_beside_one_band_is_in_it_with_a_caution(
    height_m: float, band: str
) -> None:
    held: list[str] = []
    cautions: list[str] = []
    assert find_band(height_m, DEFAULT_HEIGHT_BANDS, held, cautions) == band
    assert (held, len(cautions)) == ([], 1)


@pytest.mark.parametrize("height_m", [0.15, 0.85, 1.84, 2.4])
def test_a_height_between_bands_is_held(height_m: float) -> None:
    held: list[str] = []
    assert find_band(height_m, DEFAULT_HEIGHT_BANDS, held, []) == ""
    assert "in no height band" in held[0]


def test_a_height_beside_two_bands_is_held() -> None:
    bands = (HeightBand("low", 0.0, 1.0), HeightBand("high", 1.04, 2.0))
    held: list[str] = []
    assert find_band(1.02, bands, held, []) == ""
    assert held
