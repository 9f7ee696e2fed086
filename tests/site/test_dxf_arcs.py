"""Arcs become curves all at once: the same as ezdxf makes of them, and true to the circle."""

from __future__ import annotations

import ezdxf
import numpy as np
import pytest
from ezdxf.path import make_path
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.importers.dxf_arcs import are_usual, cubics_of
from hgmap.site.importers.dxf_curves import Cubics, corners, cubic_runs, flat

ANGLE = st.sampled_from([0.0, 90.0, 180.0, 270.0, 360.0, -90.0]) | st.floats(-800, 800)
ARC = st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.floats(0.1, 5), ANGLE, ANGLE)


def curves(arcs: list[tuple[float, ...]]) -> list[tuple[tuple[float, ...], Cubics]]:
    """Return the arcs that are usual, each with its curves."""
    rows = np.array(arcs)
    centres = np.column_stack([rows[:, :2], np.zeros(len(rows))])
    usual = are_usual(centres, *rows[:, 2:].T)
    made = cubics_of(centres[usual], *rows[usual, 2:].T)
    kept = [arc for arc, is_usual in zip(arcs, usual.tolist(), strict=True) if is_usual]
    return list(zip(kept, made, strict=True))


@given(st.lists(ARC, min_size=1, max_size=8))
def test_the_curves_are_those_of_the_library(arcs: list[tuple[float, ...]]) -> None:
    space = ezdxf.new().modelspace()
    for (x, y, radius, first, last), curve in curves(arcs):
        drawn = space.add_arc((x, y), radius, first, last)
        path = make_path(drawn, segments=len(curve))
        assert len(path) == len(curve)
        assert corners(curve) == pytest.approx(corners(path), abs=1e-9)
        assert flat(curve, 0.005) == pytest.approx(flat(path, 0.005), abs=1e-9)
        (run,) = cubic_runs(path)
        assert run == pytest.approx(curve.points, abs=1e-9)


@given(ARC)
def test_they_stay_on_the_circle(arc: tuple[float, ...]) -> None:
    for (x, y, radius, *_), curve in curves([arc]):
        off = np.hypot(*(flat(curve, 1e-4)[:, :2] - (x, y)).T) - radius
        assert np.abs(off).max() <= 4.5e-6 * radius + 1e-9


@pytest.mark.parametrize(
    "arc",
    [
        (0, 0, 0.9, 30, 30),
        (0, 0, 0.9, 0, 360),
        (0, 0, 0.9, 0, 0.5),
        (0, 0, 0.0, 0, 90),
        (1e9, 0, 0.9, 0, 90),
        (0, 0, 0.9, 0, 1e9),
    ],
)
def test_points_circles_and_what_is_lost_in_the_last_digits_are_left_to_the_library(
    arc: tuple[float, ...],
) -> None:
    assert not curves([arc])
