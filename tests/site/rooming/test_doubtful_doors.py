"""A gap after a short wall may be a door between two rooms: nobody is left unaware of it."""

import pytest
from shapely import LineString, box

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming import Rooming, rooms_from_walls


def doubts(walls: list[Part]) -> tuple[int, list[str]]:
    plan = rooms_from_walls(walls, Rooming())
    return len(plan.rooms), [one.text for one in plan.doubts if one.rule == "gap beside a wall"]


def hall_with_a_stub(stub_m: float, width_m: float, at_m: float = 4.0) -> list[Part]:
    """Draw a hall with a stub of a thick wall across it, which leaves a gap at its end."""
    shell = box(-0.2, -0.2, 10.2, width_m + 0.2).difference(box(0, 0, 10, width_m))
    stub = box(at_m - 0.1, -0.1, at_m + 0.1, stub_m)
    return [Part("wall", shell.union(stub), "wall 1")]


@pytest.mark.parametrize("gap", [0.7, 0.9, 1.2, 2.4])
def test_a_gap_beside_a_short_wall_is_one_doubt_with_its_width_and_place(gap: float) -> None:
    rooms, said = doubts(hall_with_a_stub(1.2, 1.2 + gap))
    assert rooms == 1
    (line,) = said
    assert line.startswith(f"a gap of {gap:.2f} m at the end of a wall")
    assert "at x 4" in line or "at x 3.9" in line


def test_a_door_beside_a_long_wall_is_an_opening_and_no_doubt() -> None:
    assert doubts(hall_with_a_stub(3.0, 3.9)) == (2, [])


def test_a_screen_before_a_niche_is_no_doubt() -> None:
    assert doubts(hall_with_a_stub(1.2, 2.1, at_m=0.5)) == (1, [])


def test_a_screen_far_from_the_next_wall_is_no_doubt() -> None:
    assert doubts(hall_with_a_stub(1.2, 4.0)) == (1, [])


def test_walls_of_single_lines_are_told_of_too() -> None:
    lines = [box(0, 0, 10, 2).exterior, LineString([(4, 0), (4, 1.1)])]
    parts = [Part("wall", one, f"LINE {n}") for n, one in enumerate(lines)]
    rooms, said = doubts(parts)
    assert (rooms, len(said)) == (1, 1)
