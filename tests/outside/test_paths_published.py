"""Shortest walks whose lengths follow from Pythagoras alone."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from hgmap.field.paths import Walks
from hgmap.site.building import Floor, Opening, Room

Place = tuple[float, float]


def floor(*rooms: Polygon, doors: tuple[tuple[str, str, list[Place]], ...] = ()) -> Floor:
    return Floor(
        "g",
        "Ground",
        tuple(Room(name, name, polygon) for name, polygon in zip("abc", rooms, strict=False)),
        openings=tuple(
            Opening(f"D{k}", LineString(line), "open", (one, other))
            for k, (one, other, line) in enumerate(doors)
        ),
    )


THIN = floor(box(0, 0, 5, 10), box(5, 0, 10, 10), doors=(("a", "b", [(5, 4), (5, 5)]),))
THICK = floor(box(0, 0, 5, 10), box(5.3, 0, 10, 10), doors=(("a", "b", [(5.15, 4), (5.15, 5)]),))
L_SHAPE = floor(Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 5), (0, 5)]))
THREE = floor(
    box(0, 0, 4, 8),
    box(4, 0, 8, 8),
    box(8, 0, 12, 8),
    doors=(("a", "b", [(4, 1), (4, 2)]), ("b", "c", [(8, 5), (8, 6)])),
)

# Source of every value: plane geometry, computed separately for the project's notes, as the sum of
# the straight legs over the corners named here (one wall with a door from y = 4 to 5, and so on).
# A shortest walk is straight but for corners that it goes round: de Berg, Cheong, van Kreveld and
# Overmars (2008), Computational Geometry, 3rd ed., lemma 15.1 (number from memory).
WALKS = [
    (THIN, (2, 1), [(5, 4)], (8, 2), 7.848192),
    (THIN, (1, 8), [(5, 5)], (9, 8), 10.0),
    (THIN, (2, 1), [], (8, 9), 10.0),  # straight, grazing (5, 5)
    (THIN, (2, 2), [], (8, 7), 7.810250),  # straight through the door at y = 4.5
    (THIN, (4.5, 4.5), [], (5.5, 4.5), 1.0),
    (THICK, (2, 1), [(5, 4), (5.3, 4)], (8, 2), 7.902700),
    (L_SHAPE, (1, 4.5), [(2, 2)], (5, 0.5), 6.046684),
    (L_SHAPE, (1, 5), [(2, 2)], (6, 1), 7.285383),
    (L_SHAPE, (1.5, 5), [(2, 2)], (6, 1.5), 7.072510),
    (THREE, (1, 1.5), [(4, 2), (8, 5)], (11, 5.5), 11.082763),
]


@pytest.mark.parametrize(("plan", "start", "corners", "end", "length"), WALKS)
def test_the_walk_has_the_length_and_the_corners_of_the_notes(
    plan: Floor, start: Place, corners: list[Place], end: Place, length: float
) -> None:
    route = Walks.over(plan).route(start, None, end, None)
    assert route is not None
    assert route.length_m == pytest.approx(length, abs=1e-6)
    assert route.length_m == pytest.approx(
        sum(math.dist(u, v) for u, v in zip([start, *corners], [*corners, end], strict=True)),
        abs=1e-9,
    )
    assert route.vertices == pytest.approx(np.array([start, *corners, end]), abs=1e-9)


@pytest.mark.parametrize(("plan", "start", "corners", "end", "length"), WALKS)
def test_many_distances_at_once_are_as_exact(
    plan: Floor, start: Place, corners: list[Place], end: Place, length: float
) -> None:
    walks = Walks.over(plan)
    others = np.array([start, end, *([start] * 3)])
    for a, b in ((start, end), (end, start)):
        found = walks.distances(np.array([a]), None, np.vstack([[b], others]), None)
        assert found[0, 0] == pytest.approx(length, abs=1e-6)
