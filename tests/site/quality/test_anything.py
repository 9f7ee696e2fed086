"""Whatever readings there are, the record can be made, its counts add up, and order is nothing."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any, get_args

from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.model import ActionLevel, Conditions, Round, Site, TrustSettings
from hgmap.site.quality.quality import QualityReport, quality_report
from hgmap.site.quality.sections import sections, what_to_do
from hgmap.site.quality.subtraction import subtract
from hgmap.site.reading import OFF_MAP, Qualifier, Reading, ReadingKind

MakeSite = Callable[..., Site]
START = datetime(2026, 3, 2, 8)
TIMES = st.one_of(
    st.none(),
    st.integers(0, 72).map(lambda hours: START + timedelta(hours=hours)),
    st.integers(0, 72).map(lambda hours: START.replace(tzinfo=UTC) + timedelta(hours=hours)),
)
FIELDS = st.fixed_dictionaries(
    {
        "value": st.one_of(st.none(), st.sampled_from([0.0, 1e-300, 1e300]), st.floats(1e-3, 1e3)),
        "qualifier": st.sampled_from(get_args(Qualifier)),
        "kind": st.sampled_from(get_args(ReadingKind)),
        "round": st.sampled_from(["first", "second", "", "nowhere"]),
        "floor": st.sampled_from(["ground", "", "attic"]),
        "room": st.sampled_from(["A", "B", ""]),
        "band": st.sampled_from(["adult breathing", "source search", ""]),
        "x": st.one_of(st.none(), st.sampled_from([1.0, 1.02, -1e11, float("inf")])),
        "placed": st.sampled_from(["", "given", "room"]),
        "time": TIMES,
        "temperature_c": st.one_of(st.none(), st.sampled_from([-1e9, 20.0, 21.0, 1e9])),
        "held": st.sampled_from([(), (), ("no unit",), ("odd 'words' of 3",)]),
        "cautions": st.sampled_from([(), ("height not stated; taken as 1.5 m",)]),
        "instrument": st.sampled_from(["", "one", "two"]),
        "duplicate_of": st.sampled_from(["", "r0", "r1", "no such"]),
        "error": st.sampled_from([0.0, 0.1]),
    }
)


def readings_of(reading: Callable[..., Reading], fields: list[dict[str, Any]]) -> list[Reading]:
    # as the reader does: a reading without a number, or of zero, is held
    return [
        reading(f"r{k}", **one)
        if one["value"]
        else reading(f"r{k}", **(one | {"held": (*one["held"], "no value")}))
        for k, one in enumerate(fields)
    ]


def record(site: MakeSite, readings: list[Reading], level: ActionLevel) -> list[QualityReport]:
    rounds = (
        Round("first", "First", None, (), purpose="clearance",
              conditions=Conditions(temperature_c=12.0)),
        Round("second", "Second", None, ()),
    )  # fmt: skip
    made = site(*readings, rounds=rounds, trust=TrustSettings("as-occupied", 21.0))
    return [quality_report(made, level, name) for name in ("first", "second", None)]


@given(st.lists(FIELDS, max_size=14), st.randoms(use_true_random=False))
def test_any_readings_have_a_record_whose_counts_add_up(
    reading: Callable[..., Reading],
    site: MakeSite,
    level: ActionLevel,
    fields: list[dict[str, Any]],
    shuffle: random.Random,
) -> None:
    readings = readings_of(reading, fields)
    reports = record(site, readings, level)
    for one in reports:
        found = one.measures
        assert sum(n for _, n in found.verdicts) == sum(n for _, n in found.kinds)
        assert sum(n for _, n in found.verdicts) == found.readings
        assert found.on_map <= found.readings
        assert (one.fitness.verdict == "fit to map") == (not one.fitness.reasons)
        assert one.fitness.sentence
        lines = [line.text for part in (*sections(one), *what_to_do(one)) for line in part.lines]
        assert all(text and "\n" not in text for text in lines)
        assert " safe" not in " ".join(lines).casefold()
    mixed = list(readings)
    shuffle.shuffle(mixed)
    again = record(site, mixed, level)
    for before, after in zip(reports, again, strict=True):
        assert after.fitness == before.fitness
        assert [one.text for one in after.measures.replicates.groups] == [
            one.text for one in before.measures.replicates.groups
        ]
        assert after.measures.drifts == before.measures.drifts


@given(st.lists(FIELDS, max_size=14), st.sampled_from(["background", "field blank"]))
def test_a_blank_taken_off_touches_no_held_reading_and_leaves_nothing_at_zero(
    reading: Callable[..., Reading], fields: list[dict[str, Any]], how: Any
) -> None:
    readings = readings_of(reading, fields)
    for before, after in zip(readings, subtract(readings, how), strict=True):
        assert after.value == before.value
        if before.held or before.kind in OFF_MAP:
            assert after == before
        elif before.concentration is not None:
            assert after.concentration is not None
            assert 0.0 < after.concentration <= before.concentration
