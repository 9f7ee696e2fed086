from __future__ import annotations

import numpy as np
import pytest
import shapely

from hgmap.report.drawing import Hatch
from hgmap.report.hatching import hatch_dots, hatch_lines

SQUARE = shapely.box(0.0, 0.0, 200.0, 100.0)


@pytest.mark.parametrize(("name", "families"), [("diagonal", 1), ("cross", 2)])
def test_lines_lie_inside_at_the_stated_spacing(name, families):
    lines = hatch_lines(SQUARE, Hatch(name, "#000000", 4.0, 0.5))
    assert SQUARE.buffer(1e-6).covers(lines)
    # lines a distance apart fill an area with area / distance of line
    assert lines.length == pytest.approx(families * SQUARE.area / 4.0, rel=0.02)


def test_an_area_that_lost_its_validity_still_cuts_its_hatch():
    bow = shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])
    assert not bow.is_valid
    lines = hatch_lines(bow, Hatch("cross", "#000000", 4.0, 0.5))
    assert not lines.is_empty
    assert shapely.make_valid(bow).buffer(1e-6).covers(lines)


def test_neighbours_share_their_lines():
    hatch = Hatch("diagonal", "#000000", 4.0, 0.5)
    left, right = shapely.box(0, 0, 90, 100), shapely.box(90, 0, 200, 100)
    apart = hatch_lines(left, hatch).length + hatch_lines(right, hatch).length
    assert apart == pytest.approx(hatch_lines(SQUARE, hatch).length)


def test_dots_are_whole_and_keep_their_distance():
    dots = hatch_dots(SQUARE, Hatch("dots", "#000000", 5.0, 2.0))
    assert shapely.intersects_xy(SQUARE.buffer(-0.99), *dots.T).all()
    gaps = np.hypot(*(dots[:, None, :] - dots[None, :, :]).transpose(2, 0, 1))
    assert gaps[gaps > 0].min() == pytest.approx(5.0)


def test_nothing_has_no_hatch():
    assert hatch_lines(shapely.Polygon(), Hatch("cross", "#000000", 4.0, 0.5)).is_empty
    assert hatch_dots(shapely.Polygon(), Hatch("dots", "#000000", 4.0, 0.5)).shape == (0, 2)
