"""What speaks against a fit: units, mirrors, swaps, points that miss; nothing where all is well."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import SiteError
from hgmap.site.control.doubts import doubts_of_fit, point_that_misses, refuse_fit, unit_of
from hgmap.site.control.fit import fit_points
from hgmap.site.control.points import ControlPoint, places_of
from hgmap.site.map_frame import MapFrame

FRAME = MapFrame("EPSG:25832", 604_000.0, 5_712_000.0, 17.0, 0.9998)
PLAN = np.array([(0.0, 0.0), (40.0, 0.0), (40.0, 22.0), (0.0, 22.0), (15.0, 9.0), (28.0, 14.0)])


def points(
    plan: Any = PLAN, on_map: Any = None, noise: float = 0.003, seed: int = 1
) -> list[ControlPoint]:
    made = FRAME.to_map(plan) if on_map is None else np.asarray(on_map)
    made = made + np.random.default_rng(seed).normal(0, noise, made.shape)
    rows = zip("ABCDEFGH", np.asarray(plan).tolist(), made.tolist(), strict=False)
    return [ControlPoint(name, *place, *there) for name, place, there in rows]


def judged(made: Sequence[ControlPoint], kind: Any = "conformal") -> list[str]:
    fit = fit_points(kind, *places_of(made))
    refuse_fit(made, fit, where="points.csv")
    return [text for text, _ in doubts_of_fit(made, fit, 0.9998)]


def refusal(made: Sequence[ControlPoint], kind: Any = "conformal") -> str:
    with pytest.raises(SiteError) as caught:
        judged(made, kind)
    assert caught.value.todo
    return caught.value.message


@pytest.mark.parametrize("kind", ["conformal", "affine"])
@pytest.mark.parametrize("n", [3, 4, 5, 6])
def test_sound_points_raise_no_doubt(kind: Any, n: int) -> None:
    assert judged(points(PLAN[:n]), kind) == []


@given(st.integers(0, 2**32 - 1))
def test_a_point_is_rarely_called_out_that_is_only_as_bad_as_chance_makes_it(seed: int) -> None:
    runs = [points(noise=0.02, seed=seed + k) for k in range(40)]
    found = [point_that_misses(one, fit_points("conformal", *places_of(one))) for one in runs]
    assert sum(one is not None for one in found) <= 4  # 1 in 100 is meant


@pytest.mark.parametrize("index", range(6))
@pytest.mark.parametrize("kind", ["conformal", "affine"])
def test_a_point_that_misses_is_named_with_how_far(index: int, kind: Any) -> None:
    made = points(noise=0.002)
    made[index] = ControlPoint(
        made[index].name, made[index].x, made[index].y, made[index].east + 0.3,
        made[index].north - 0.4,
    )  # fmt: skip
    told = [text for text in judged(made, kind) if "stands out" in text]
    assert len(told) == 1
    assert told[0].startswith(f"point {made[index].name!r} stands out: the others put it 0.")
    missed = float(told[0].split("put it ")[1].split(" m")[0])
    assert missed == pytest.approx(0.5, abs=0.02)


@pytest.mark.parametrize("index", range(5))
@pytest.mark.parametrize("kind", ["conformal", "affine"])
def test_east_and_north_swapped_in_one_row_are_found(index: int, kind: Any) -> None:
    made = points(PLAN[:5])
    one = made[index]
    made[index] = ControlPoint(one.name, one.x, one.y, one.north, one.east)
    assert refusal(made, kind) == f"point {one.name!r} fits only with east and north swapped"


@pytest.mark.parametrize("index", range(1, 5))
def test_x_and_y_swapped_in_one_row_are_found(index: int) -> None:
    made = points(PLAN[:5] * (1.0, 1.3))
    one = made[index]
    made[index] = ControlPoint(one.name, one.y, one.x, one.east, one.north)
    assert refusal(made) == f"point {one.name!r} fits only with x and y swapped"


def test_of_two_points_a_swap_is_found_and_either_may_be_it() -> None:
    made = points(PLAN[:2])
    one = made[0]
    made[0] = ControlPoint(one.name, one.x, one.y, one.north, one.east)
    assert refusal(made) == "point 'A' or 'B' fits only with east and north swapped"


@pytest.mark.parametrize("kind", ["conformal", "affine"])
def test_a_plan_whose_y_runs_down_is_refused(kind: Any) -> None:
    made = [ControlPoint(p.name, p.x, -p.y, p.east, p.north) for p in points()]
    assert "y runs down" in refusal(made, kind)


@pytest.mark.parametrize("kind", ["conformal", "affine"])
def test_east_and_north_swapped_in_every_row_are_refused(kind: Any) -> None:
    made = [ControlPoint(p.name, p.x, p.y, p.north, p.east) for p in points()]
    assert "east and north are swapped in every row" in refusal(made, kind)


@pytest.mark.parametrize(
    ("factor", "unit"), [(0.3048, "feet"), (1e-3, "millimetres"), (0.01, "centimetres"),
                         (0.0254, "inches")],
)  # fmt: skip
def test_a_plan_in_another_unit_is_refused_by_its_name(factor: float, unit: str) -> None:
    made = [ControlPoint(p.name, p.x / factor, p.y / factor, p.east, p.north) for p in points()]
    text = refusal(made)
    assert f"x and y look like {unit}" in text
    said = float(text.removeprefix("a metre of the plan would be ").split(" m ")[0])
    assert said == pytest.approx(FRAME.scale * factor, rel=1e-3)


def test_a_map_in_feet_is_refused_by_its_name() -> None:
    made = [ControlPoint(p.name, p.x, p.y, p.east / 0.3048, p.north / 0.3048) for p in points()]
    assert "east and north look like feet" in refusal(made)


def test_a_typing_mistake_that_spoils_the_scale_is_named() -> None:
    made = points()
    one = made[2]
    made[2] = ControlPoint(one.name, one.x, one.y, one.east + 1000.0, one.north)
    assert "point 'C' lies 1000 m from where the others put it" in refusal(made)


def test_a_poor_fit_a_strange_scale_and_a_skew_are_said() -> None:
    rough = judged(points(noise=0.6))
    assert any("misses its points by" in text for text in rough)
    grown = FRAME.to_map(PLAN * 1.004)
    assert any("ppm from that of the map here" in text for text in judged(points(on_map=grown)))
    sheared = MapFrame("", 604_000.0, 5_712_000.0, 17.0, 0.9998, 0.9998, 0.4).to_map(PLAN)
    told = judged(points(on_map=sheared), "affine")
    assert any("0.40° from square" in text for text in told)


def test_an_affine_fit_far_from_square_is_refused() -> None:
    sheared = MapFrame("", 604_000.0, 5_712_000.0, 17.0, 1.0, 1.0, 9.0).to_map(PLAN)
    assert "+9.0° from square" in refusal(points(on_map=sheared), "affine")


def test_points_nearly_on_a_line_are_doubted_in_an_affine_fit() -> None:
    thin = PLAN * (1.0, 0.03)
    assert any("nearly on a line" in text for text in judged(points(thin, noise=1e-4), "affine"))
    assert judged(points(thin, noise=1e-4)) == []


def test_a_scale_that_no_unit_explains_names_none() -> None:
    assert unit_of(1.37) == ""
