"""Holes stay holes, also where rounding has left a spike on an outline."""

from __future__ import annotations

import itertools

import shapely

from hgmap.report.rings import rings_of


def test_a_hole_runs_against_an_outline_that_has_a_spike_at_its_top() -> None:
    spiked = [(0, 0), (10, 0), (10, 10), (6, 10), (5, 12), (6, 12), (5, 10), (0, 10)]
    hole = [(1, 1), (9, 1), (9, 9), (1, 9)]
    for outline in (spiked, spiked[::-1]):
        for inner in (hole, hole[::-1]):
            areas = [
                sum(x * w - z * y for (x, y), (z, w) in itertools.pairwise(ring)) / 2
                for ring in (one.tolist() for one in rings_of(shapely.Polygon(outline, [inner])))
            ]
            assert [round(one) for one in areas] == [100, -64]
