"""Which readings bear on a map, and in which part."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.evidence import choose_band, describe, gather_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.errors import SiteError
from hgmap.site.building import Floor
from hgmap.site.reading import Reading

Make = Callable[..., Any]


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 6, 5), (6, 0, 12, 5)])
    return made


def judged(survey: Make, floor: Floor, reading: Reading, **asked: Any) -> Any:
    (item,) = survey(floor, [reading], **asked).items
    return item


@pytest.mark.parametrize(
    ("value", "qualifier", "role", "above", "caution"),
    [
        (0.5, "", "used", False, ""),
        (1.0, "", "used", False, ""),  # at the level is not above it
        (1.0001, "", "used", True, ""),
        (0.4, "<", "used", False, ""),
        (0.5, "<", "used", False, ""),
        (0.51, "<", "used", False, "detection limit 0.51 µg/m³ is above half the level"),
        (1.0, "<", "used", False, "detection limit 1 µg/m³ is above half the level"),
        (1.1, "<", "cannot see the level", False, "limit 1.1 µg/m³ is above the level"),
        (50, ">", "used", True, "saturated: only known to be above 50 µg/m³"),
        (1.0, ">", "cannot see the level", True, "saturated below the level"),
        (0.2, ">", "cannot see the level", True, "saturated below the level"),
    ],
)
def test_the_part_a_reading_plays(
    survey: Make, make_reading: Make, floor: Floor,
    value: float, qualifier: str, role: str, above: bool, caution: str,
) -> None:  # fmt: skip
    item = judged(survey, floor, make_reading("R1", "r0", (1, 1), value, qualifier))
    assert (item.role, item.above) == (role, above)
    assert caution in "; ".join(item.reasons)
    assert bool(item.reasons) == bool(caution)


def test_a_held_reading_is_held_and_still_known_to_be_above(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    item = judged(survey, floor, make_reading("R1", "r0", (1, 1), 9.0, held=("no zero check",)))
    assert (item.role, item.above, item.reasons) == ("held", True, ("no zero check",))


def test_a_reading_without_a_concentration_is_held_with_a_reason(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    item = judged(survey, floor, make_reading("R1", "r0", (1, 1), None))
    assert (item.role, item.above) == ("held", False)
    assert item.reasons


def test_a_reading_at_another_height_is_set_aside_but_still_above(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    item = judged(survey, floor, make_reading("R1", "r0", (1, 1), 9.0, height_m=0.1))
    assert (item.role, item.above) == ("other height", True)
    assert "taken at floor" in item.reasons


def test_cautions_of_the_reader_stay(survey: Make, make_reading: Make, floor: Floor) -> None:
    reading = make_reading("R1", "r0", (1, 1), 0.2)._replace(cautions=("height not stated",))
    assert judged(survey, floor, reading).reasons == ("height not stated",)


def test_only_the_floor_and_the_round_count(survey: Make, make_reading: Make, floor: Floor) -> None:
    here = make_reading("R1", "r0", (1, 1), 0.2)
    evidence = survey(
        floor,
        [
            here,
            make_reading("R2", "r0", (2, 1), 0.2, round_name="second"),
            make_reading("R3", "r0", (2, 1), 0.2, floor="attic"),
        ],
    )
    assert [item.reading for item in evidence.items] == [here]


@given(
    st.lists(
        st.tuples(
            st.floats(0.01, 9), st.sampled_from(["", "<", ">"]), st.booleans(),
            st.sampled_from([0.1, 0.7, 1.5]),
        ),
        max_size=9,
    )
)  # fmt: skip
def test_every_reading_is_used_or_set_aside_with_a_reason(
    survey: Make, make_reading: Make, floor: Floor, raw: list[tuple[float, Any, bool, float]]
) -> None:
    readings = [
        make_reading(f"R{k}", "r0", (0.5 + k / 2, 1), value, qualifier, height_m=height,
                     held=("why",) if held else ())
        for k, (value, qualifier, held, height) in enumerate(raw)
    ]  # fmt: skip
    evidence: FloorEvidence = survey(floor, readings)
    assert len(evidence.used) + len(evidence.set_aside) == len(evidence.items) == len(raw)
    assert all(item.reasons for item in evidence.set_aside)
    assert evidence.xy.shape == (len(evidence.used), 2)
    assert evidence.concentration.tolist() == [i.reading.value for i in evidence.used]
    assert all(item.reading.usable for item in evidence.used)


def test_a_reading_that_is_no_number_bounds_the_concentration(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    rows = [(0.1, "<"), (0.2, "<"), (30.0, ">"), (0.5, ""), (5.0, "<")]
    evidence = survey(
        floor,
        [make_reading(f"R{k}", "r0", (k + 0.5, 1), v, q) for k, (v, q) in enumerate(rows)],
    )
    lower, upper = evidence.bounds
    assert lower.tolist() == pytest.approx([0.001, 0.002, 30.0, 0.5])
    assert upper.tolist() == pytest.approx([0.1, 0.2, 3000.0, 0.5])


def test_the_band_with_the_most_usable_readings_is_chosen_and_said(
    make_survey_site: Make, make_reading: Make, floor: Floor
) -> None:
    readings = [make_reading(f"A{k}", "r0", (1, 1), 0.2, height_m=0.1) for k in range(9)]
    readings += [make_reading(f"B{k}", "r0", (1, 1), 0.2, height_m=0.7) for k in range(3)]
    readings += [
        make_reading(f"C{k}", "r0", (1, 1), 0.2, held=("why",) if k > 1 else ()) for k in range(5)
    ]
    band, notes = choose_band(make_survey_site(floor, readings), "first", None)
    assert band == "child"  # nine stand at the floor, which nobody breathes; three adults are held
    assert notes == ("height band not stated: 'child' has the most usable readings (3)",)


def test_a_band_that_is_stated_is_used(make_survey_site: Make, floor: Floor) -> None:
    site = make_survey_site(floor, [], height_band="child")
    assert choose_band(site, "first", None) == ("child", ())
    assert choose_band(site, "first", "floor") == ("floor", ())
    with pytest.raises(SiteError, match="no height band 'attic'; known: floor, child, adult"):
        choose_band(site, "first", "attic")


def test_a_medium_without_heights_has_one_band(
    make_survey_site: Make, make_reading: Make, make_level: Make, floor: Floor
) -> None:
    reading = make_reading("R1", "r0", (1, 1), 0.2, height_m=None)
    site = make_survey_site(floor, [reading], medium="surface")
    band, notes = choose_band(site, "first", None)
    assert (band, notes) == ("", ())
    (item,) = gather_evidence(site, floor, "first", band, make_level()).items
    assert item.role == "used"


@pytest.mark.parametrize(
    ("value", "qualifier", "text"),
    [
        (0.41, "", "0.41 µg/m³"),
        (12.0, "<", "<12 µg/m³"),
        (1200.0, ">", ">1200 µg/m³"),
        (None, "", "no value"),
    ],
)
def test_a_reading_is_described_as_written(
    make_reading: Make, value: float | None, qualifier: str, text: str
) -> None:
    assert describe(make_reading("R1", "r0", (1, 1), value, qualifier)) == text
