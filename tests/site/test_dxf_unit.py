"""The unit of a DXF: its header held against its doors."""

from __future__ import annotations

import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_unit import METRES, judge_unit, unit_of_doors
from tests.site.dxf_cases import drawn, house, noted, of_role

CODES = {"mm": 4, "cm": 5, "m": 6, "in": 1, "ft": 2}
NAMES = {"mm": "millimetres", "cm": "centimetres", "m": "metres", "in": "inches", "ft": "feet"}

widths = st.lists(st.floats(0.62, 1.28), min_size=3, max_size=30)
units = st.sampled_from(sorted(CODES))


def judged(**given_: object) -> tuple[float, tuple[str, ...]]:
    usual: dict[str, object] = {
        "insunits": 0, "measurement": None, "doors": [], "span": 20.0, "said": None, "file": "a.dxf"
    }  # fmt: skip
    found = judge_unit(**{**usual, **given_})  # type: ignore[arg-type]
    return found.metres, (*found.doubts, *found.notes)


@given(units, widths, st.floats(5, 200))
def test_a_right_header_is_taken_without_a_word(
    unit: str, doors_m: list[float], span_m: float
) -> None:
    k = METRES[unit]
    metres, notes = judged(
        insunits=CODES[unit], doors=[one / k for one in doors_m], span=span_m / k,
        measurement=int(unit not in ("in", "ft")),
    )  # fmt: skip
    assert (metres, notes) == (k, ())


@given(units, units, widths, st.floats(5, 200))
def test_a_wrong_header_is_outweighed_by_three_doors_with_a_warning(
    true: str, said: str, doors_m: list[float], span_m: float
) -> None:
    k = METRES[true]
    metres, notes = judged(
        insunits=CODES[said], doors=[one / k for one in doors_m], span=span_m / k
    )
    assert metres == k
    if true != said:
        (note,) = notes
        assert f"the header says {NAMES[said]}" in note
        assert f"are right in {true}, which was taken" in note


@given(units, st.lists(st.floats(0.62, 1.28), min_size=1, max_size=30), st.floats(0.01, 10))
def test_doors_have_one_unit_at_most_and_it_is_theirs(
    unit: str, doors_m: list[float], shrink: float
) -> None:
    k = METRES[unit]
    assert unit_of_doors([one / k for one in doors_m]) == unit
    found = unit_of_doors([one / k * shrink for one in doors_m])
    if found is not None:
        assert 0.6 <= statistics.median(doors_m) / k * shrink * METRES[found] <= 1.3


def test_doors_that_do_not_agree_tell_nothing() -> None:
    assert unit_of_doors([900, 900, 900, 5, 5, 9000, 9000]) is None
    assert unit_of_doors([]) is None


def test_fewer_than_three_doors_do_not_outweigh_the_header_but_are_named() -> None:
    metres, (note,) = judged(insunits=6, doors=[90.0, 90.0])
    assert metres == 1.0
    assert note.startswith("the header says metres, 2 doors of 90 units would be right in cm")


def test_gates_raise_no_question_of_units_and_ways_that_are_none_do() -> None:
    assert judged(insunits=6, doors=[6.0, 6.0], span=180.0) == (1.0, ())
    (told,) = judged(insunits=6, doors=[16.0, 16.0], span=180.0)[1]
    assert "the doors would be 16.00 m to 16.00 m wide" in told
    (told,) = judged(insunits=4, doors=[6.0, 6.0], span=18000.0)[1]
    assert "6 mm" in told


def test_a_header_against_its_own_measurement_is_named() -> None:
    assert judged(insunits=6, measurement=0)[1] == (
        "the header says metres, and imperial in $MEASUREMENT: metres were taken",
    )
    assert judged(insunits=1, measurement=1, span=900)[1] != ()
    assert judged(insunits=4, measurement=1, span=9000)[1] == ()


def test_without_header_and_doors_the_unit_is_asked_for_with_what_each_would_give() -> None:
    with pytest.raises(PlanError) as caught:
        judged(span=12_000.0, doors=[900.0])
    text = str(caught.value)
    assert "does not say its unit" in text
    assert "--units mm: 12.00 m long, doors 0.90 m" in text
    assert "--units metres:" not in text  # twelve kilometres are no floor
    with pytest.raises(PlanError, match=r"--units in: 10\.16 m long; --units ft: .*--units cm"):
        judged(span=400.0, measurement=0)


@pytest.mark.parametrize(("insunits", "span"), [(6, 12_000.0), (4, 12.0), (3, 20.0)])
def test_a_header_that_no_building_fits_is_not_believed(insunits: int, span: float) -> None:
    with pytest.raises(PlanError, match="would make the floor"):
        judged(insunits=insunits, span=span)


def test_a_unit_that_is_no_length_of_buildings_is_asked_for() -> None:
    with pytest.raises(PlanError, match=r"no building is drawn in \(\$INSUNITS 18\)"):
        judged(insunits=18)


def test_what_a_person_says_wins_and_odd_doors_are_named() -> None:
    assert judged(said="cm", insunits=6, doors=[90.0] * 3, span=2000.0) == (0.01, ())
    metres, (note,) = judged(said="in", insunits=4, doors=[900.0] * 3, span=2000.0)
    assert metres == 0.0254
    assert note == "in in, as said, the doors are 22.86 m wide; they would be right in mm"
    assert "0.9 mm wide" in judged(said="mm", doors=[0.9], span=5000.0)[1][0]
    with pytest.raises(PlanError, match=r"--units: 'furlong' is no unit; say one of mm, cm"):
        judged(said="furlong")


def test_survey_feet_are_feet() -> None:
    metres, notes = judged(insunits=21, doors=[3.0] * 3, span=60.0)
    assert metres == pytest.approx(1200 / 3937)
    assert notes == ()


@pytest.mark.parametrize("unit", sorted(CODES))
def test_a_drawing_in_inches_with_millimetres_in_its_header_is_read_in_inches(unit: str) -> None:
    drawing = drawn(house(per_metre=1 / METRES[unit], insunits=4))
    assert drawing.metres_per_unit == pytest.approx(METRES[unit])
    lengths = [p.geometry.length * drawing.metres_per_unit for p in of_role(drawing, "door")]
    assert lengths == pytest.approx([0.9] * 3)
    assert noted(drawing, "the header says millimetres", "which was taken") == (unit != "mm")
