"""Pieces with ids and reasons, and the zones of several levels inside each other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence, Zone, Zones
from hgmap.decide.shaped import Shaped, shaped_zones
from hgmap.decide.taped import TapeRules
from hgmap.decide.zones import make_zones, rule_floor
from hgmap.site.building import Floor, Room

Make = Callable[..., Any]
BOXES = [(0, 0, 6, 5), (6, 0, 12, 5), (0, 5, 12, 7), (13, 0, 15, 3)]
L_ROOM = Polygon([(0, 8), (10, 8), (10, 12), (5, 12), (5, 16), (0, 16)])


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    rooms = [Room(f"r{k}", f"Room {k}", shapely.box(*one)) for k, one in enumerate(BOXES)]
    made: Floor = make_floor([*rooms, Room("l", "L", L_ROOM)], [("r0", "r1"), ("r0", "r2")])
    return made


@pytest.fixture(scope="module")
def at_level(floor: Floor, survey: Make, make_reading: Make, lay: Make) -> Make:
    """Rule on the floor at a level, with bumps of the logarithm of concentration."""

    def rule(bumps: list[tuple[float, float, float, float]], level: float, sd: float = 0.5) -> Any:
        def mean(x: np.ndarray[Any, Any], y: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
            out = np.full(x.shape, -4.0)
            for a, b, height, wide in bumps:
                out += height * np.exp(-((x - a) ** 2 + (y - b) ** 2) / (2 * wide**2))
            return out

        places = [(1, 1), (8, 2), (3, 6), (2, 10), (4, 15)]
        rooms = ["r0", "r1", "r2", "l", "l"]
        readings = [
            make_reading(f"R{k}", room, xy, float(np.exp(mean(*(np.array([v]) for v in xy))[0])))
            for k, (room, xy) in enumerate(zip(rooms, places, strict=True))
        ]
        evidence: FloorEvidence = survey(floor, readings, above=level)
        surface = lay(floor, mean, sd, cell_m=0.25)
        return rule_floor(evidence, surface), make_zones(evidence, surface)

    return rule


def ground(zones: Zones, name: str) -> BaseGeometry:
    return shapely.union_all([one.geometry for one in zones.zones if one.name == name])


bumps = st.lists(
    st.tuples(st.floats(0, 12), st.floats(0, 16), st.floats(-2, 9), st.floats(0.2, 3)),
    min_size=1,
    max_size=5,
)
levels = st.lists(st.sampled_from([0.05, 0.2, 0.5, 1.0, 3.0, 20.0]), min_size=2, max_size=3,
                  unique=True)  # fmt: skip


@settings(max_examples=20)
@given(bumps, levels)
def test_to_raise_the_level_never_grows_what_is_to_remediate_nor_takes_from_clear(
    at_level: Make, found: Any, asked: list[float]
) -> None:
    low, high = sorted(asked)[:2]
    (_, lower), (_, higher) = at_level(found, low), at_level(found, high)
    assert ground(higher, "remediate").difference(ground(lower, "remediate")).area < 1e-9
    assert ground(lower, "clear").difference(ground(higher, "clear")).area < 1e-6


@settings(max_examples=20)
@given(bumps, levels, st.booleans())
def test_levels_lie_inside_each_other_and_their_areas_add_up(
    at_level: Make, floor: Floor, found: Any, asked: list[float], whole: bool
) -> None:
    nest: list[Shaped] = []
    for level in sorted(asked, reverse=True):
        ruling, raw = at_level(found, level)
        made = shaped_zones(ruling, TapeRules(whole_rooms=whole), higher=nest[-1] if nest else None)
        pieces = made.zones.zones
        for room in floor.rooms:
            shares = [one.area_m2 for one in pieces if one.room == room.id]
            assert sum(shares) == pytest.approx(room.area_m2, rel=2e-9)
        assert ground(raw, "remediate").difference(ground(made.zones, "remediate")).area < 1e-6
        assert ground(made.zones, "clear").difference(ground(raw, "clear")).area < 1e-6
        if nest:
            higher = nest[-1].zones
            assert ground(higher, "remediate").difference(
                ground(made.zones, "remediate")
            ).area < 1e-6  # fmt: skip
            assert ground(made.zones, "clear").difference(ground(higher, "clear")).area < 1e-6
        assert all(one.geometry.geom_type == "Polygon" and one.reasons for one in pieces)
        assert len({one.id for one in pieces}) == len(pieces)
        nest.append(made)


def pieces_of(zones: Zones, room: str, name: str) -> list[Zone]:
    return [one for one in zones.zones if one.room == room and one.name == name]


def test_each_piece_is_a_polygon_with_an_id_and_the_length_of_its_tape(at_level: Make) -> None:
    # two hills in the L room: far apart, so that they are two pieces
    ruling, _ = at_level([(1, 9, 9, 0.7), (9, 9, 9, 1.0)], 1.0)
    zones = shaped_zones(ruling, TapeRules()).zones
    first, second = pieces_of(zones, "l", "remediate")
    assert (first.id, second.id) == ("l-R1", "l-R2")
    assert first.area_m2 > second.area_m2
    for one in (first, second):
        assert one.tape_m is not None
        # the rest of its edge is along the walls
        assert 0 < one.tape_m < one.geometry.length
        assert any(text.startswith("probability above the level") for text in one.reasons)
    assert {one.id[:3] for one in pieces_of(zones, "l", "clear")} == {"l-C"}
    assert second.probability is not None
    assert second.highest_estimate is not None


def test_a_piece_says_what_was_added_to_it_only_to_be_taped_off(at_level: Make) -> None:
    ruling, raw = at_level([(2, 10, 5.0, 0.5)], 1.0)
    (found,) = pieces_of(shaped_zones(ruling, TapeRules()).zones, "l", "remediate")
    (ruled,) = pieces_of(raw, "l", "remediate")
    assert found.added_m2 == pytest.approx(found.area_m2 - ruled.area_m2, abs=1e-6)
    assert found.added_m2 > 0.5
    assert f"{found.added_m2:.1f} m² added so that it can be taped off" in found.reasons


def test_a_whole_room_says_which_part_of_it_decided(at_level: Make) -> None:
    ruling, raw = at_level([(2, 10, 9.0, 0.5)], 1.0)
    zones = shaped_zones(ruling, TapeRules(whole_rooms=True)).zones
    (found,) = [one for one in zones.zones if one.room == "l"]
    (ruled,) = pieces_of(raw, "l", "remediate")
    assert found.name == "remediate"
    assert found.area_m2 == pytest.approx(L_ROOM.area)
    assert found.tape_m == 0.0
    text = f"the whole room goes by the {ruled.area_m2:.1f} m² of it to remediate"
    assert text in found.reasons


def test_what_a_higher_level_takes_is_said(at_level: Make) -> None:
    # the evidence of the two levels disagrees: the higher one has a hill, the lower none
    high, _ = at_level([(2, 10, 9.0, 1.5)], 5.0)
    low, alone = at_level([], 1.0)
    assert not pieces_of(alone, "l", "remediate")
    top = shaped_zones(high, TapeRules())
    (found,) = pieces_of(shaped_zones(low, TapeRules(), higher=top).zones, "l", "remediate")
    assert "to remediate at the higher level 5 µg/m³" in found.reasons
