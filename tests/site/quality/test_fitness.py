"""Fit to map, fit with cautions, not fit: each rule, on readings that change in one thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from hgmap.site.instruments.model import Check, Instrument, InstrumentLog
from hgmap.site.model import (
    ActionLevel,
    Conditions,
    MapSettings,
    PlannedReadings,
    Problem,
    Round,
    Site,
)
from hgmap.site.model import TrustSettings as Trust
from hgmap.site.quality.fitness import Fitness, fitness
from hgmap.site.quality.quality import quality_report
from hgmap.site.quality.reasons import reason_counts, short_reason, verdict_counts
from hgmap.site.quality.sections import sections, what_to_do
from hgmap.site.reading import Finding, Reading

Make = Callable[..., Reading]
MakeSite = Callable[..., Site]
NOON = datetime(2026, 3, 2, 12)
LOG = InstrumentLog(
    (Instrument("one", "gold film", "1"),), (Check("one", "zero-air", NOON, NOON, (0.0,)),)
)


@pytest.fixture
def good(reading: Make) -> list[Reading]:
    """Two rooms, four places, one of them read twice; the non-detect far below the level."""
    return [
        reading("a", 1.0), reading("b", 1.1), reading("c", 2.0, x=3.0),
        reading("d", 0.5, room="B", x=8.0), reading("e", 0.1, room="B", x=9.0, qualifier="<"),
    ]  # fmt: skip


@pytest.fixture
def judge(site: MakeSite, level: ActionLevel) -> Callable[..., Fitness]:
    """Return a function from readings and fields of the site to the verdict on its round."""

    def of(readings: list[Reading], **other: Any) -> Fitness:
        return fitness(site(*readings, **({"log": LOG} | other)), level, "first")

    return of


def test_good_readings_are_fit_and_nothing_else_is_said(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    found = judge(good)
    assert (found.verdict, found.reasons, found.todo) == ("fit to map", (), ())
    assert found.sentence.startswith("Fit to map: 5 usable readings")


HELD = {"held": ("no unit",)}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda ones: [], "no reading that a map can be made of"),
        (lambda ones: [ones[0]._replace(kind="background")], "no reading that a map"),
        (lambda ones: [one._replace(**HELD) for one in ones], "all 5 readings held"),
        (lambda ones: [*ones[:2], *(one._replace(**HELD) for one in ones[2:])],
         "3 of 5 readings are held, more than half"),
        (lambda ones: ones[:2], "no floor has 3 usable readings at one height"),
        (lambda ones: [one._replace(band=str(k)) for k, one in enumerate(ones)],
         "no floor has 3 usable readings"),
        (lambda ones: [one._replace(qualifier="<", concentration=3.5) for one in ones],
         "every usable reading is a non-detect whose detection limit is above the level"),
    ],
)  # fmt: skip
def test_what_makes_readings_not_fit(
    good: list[Reading],
    judge: Callable[..., Fitness],
    change: Callable[[list[Reading]], list[Reading]],
    words: str,
) -> None:
    found = judge(change(good))
    assert found.verdict == "not fit"
    assert words in found.reasons[0]
    assert found.sentence.startswith(f"Not fit: {found.reasons[0]}")
    assert found.todo[0] in found.sentence


def test_a_lost_file_is_not_fit_whatever_else_was_read(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    lost = Problem("error", "readings/x.csv", "is empty", round="first")
    found = judge(good, problems=(lost,))
    assert found.verdict == "not fit"
    assert "could not be read" in found.reasons[0]
    assert judge(good, problems=(replace(lost, round="second"),)).verdict == "fit to map"


def test_half_of_the_readings_held_is_a_caution_and_one_more_is_not_fit(
    good: list[Reading], judge: Callable[..., Fitness], reading: Make
) -> None:
    held = [reading(f"h{k}", x=2.0, held=("no unit",)) for k in range(6)]
    assert judge([*good, *held[:5]]).verdict == "fit with cautions"
    assert judge([*good, *held]).verdict == "not fit"


@pytest.mark.parametrize(
    ("change", "other", "words"),
    [
        (lambda r: {"e": r._replace(held=("no unit",))}, {}, "1 reading held"),
        (lambda r: {"e": r._replace(cautions=("height not stated",))}, {},
         "1 reading usable with a caution"),
        (lambda r: {}, {"log": None}, "no instrument log"),
        (lambda r: {}, {"log": replace(LOG, problems=(Problem("held", "l", "x"),))},
         "1 row of the instrument log cannot be read"),
        (lambda r: {"b": r._replace(id="b", x=1.0, room="A", qualifier="", concentration=1.5)}, {},
         "1 of 1 replicate differs"),
        (lambda r: {"b": r._replace(id="b", x=2.0, room="A")}, {}, "no reading was taken twice"),
        (lambda r: {"z": r._replace(id="z", kind="duplicate", x=11.0)}, {},
         "1 duplicate without the reading it repeats"),
        (lambda r: {"k": r._replace(id="k", kind="background", qualifier="", concentration=0.2)},
         {}, "1 blank or background reading above the detection limit (k)"),
        (lambda r: {"e": r._replace(concentration=1.6)}, {},
         "1 non-detect has a detection limit above half the level"),
        (lambda r: {"e": r._replace(concentration=3.1)}, {},
         "above the level and can never support a release"),
        (lambda r: {"z": r._replace(id="z", round="other")}, {}, "1 reading in no known round"),
        (lambda r: {"d": r._replace(id="d", room="A", x=5.0), "e": r._replace(room="A", x=5.5)},
         {}, "1 of 2 rooms have a usable breathing-zone reading"),
        (lambda r: {}, {"rounds": (Round("first", "First", None, (), purpose="clearance"),)},
         "a clearance round without a guidance"),
        (lambda r: {}, {"rounds": (Round("first", "First", None, (), purpose="clearance"),),
                        "trust": Trust("as-occupied")}, "conditions of as-occupied not written"),
        (lambda r: {}, {"rounds": (Round("first", "First", None, (),
                                         conditions=Conditions(temperature_c=10.0)),),
                        "trust": Trust(occupied_temperature_c=20.0)}, "read at 10 °C, colder"),
    ],
)  # fmt: skip
def test_what_is_a_caution(
    good: list[Reading],
    judge: Callable[..., Fitness],
    change: Callable[[Reading], dict[str, Reading]],
    other: dict[str, Any],
    words: str,
) -> None:
    by_id = {one.id: one for one in good}
    found = judge(list((by_id | change(by_id["e"])).values()), **other)
    assert found.verdict == "fit with cautions"
    assert any(words in one for one in found.reasons), found.reasons
    assert len(found.todo) >= 1


def test_a_clearance_round_without_a_log_is_not_fit(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    rounds = (Round("first", "First", None, (), purpose="clearance"),)
    found = judge(good, rounds=rounds, log=None)
    assert found.verdict == "not fit"
    assert found.against == (
        "a clearance round without an instrument log: nothing vouches for the analyser",
    )
    assert judge(good, log=None).verdict == "fit with cautions"


def test_the_band_to_map_needs_its_own_readings(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    assert judge(good, settings=MapSettings(height_band="source search")).verdict == "not fit"
    assert judge(good, settings=MapSettings(height_band="adult breathing")).verdict == "fit to map"


def test_samples_of_a_surface_need_no_log(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    samples = [one._replace(unit="µg/100 cm²", band="") for one in good]
    assert judge(samples, medium="surface", log=None).verdict == "fit to map"
    direct = judge([one._replace(kind="laboratory") for one in good], log=None)
    assert direct.verdict == "fit to map"


def test_without_a_level_detection_limits_are_not_judged(
    good: list[Reading], site: MakeSite
) -> None:
    found = fitness(site(*good, log=LOG), None, "first")
    assert "no action level is in force" in found.reasons[0]


def test_the_whole_site_has_a_record_too_and_its_words_leave_nothing_out(
    good: list[Reading], site: MakeSite, level: ActionLevel, reading: Make
) -> None:
    rounds = (Round("first", "First", None, ()), Round("second", "Second", None, ()))
    report = quality_report(
        site(*good, reading("z", round="second", held=("no unit",)), rounds=rounds), level
    )
    assert report.round == ""
    assert report.measures.readings == 6
    titles = [one.title for one in (*sections(report), *what_to_do(report))]
    assert titles == [
        "Readings", "Completeness", "Replicates", "Blanks and background", "Detection limits",
        "Drift at a fixed point", "Instrument log", "Clearance conditions", "Why", "What to do",
    ]  # fmt: skip


def test_counts_go_by_rule_and_by_reason_and_no_reason_twice(reading: Make) -> None:
    saturated = Finding("hold", "saturation", "the film was saturated", ("log.csv, row 4",))
    lifted = replace(saturated, overruled="AB, film was changed")
    readings = [
        reading("a", findings=(saturated,), held=(saturated.text,)),
        reading("b", findings=(saturated,), held=(saturated.text, "no unit")),
        reading("c", findings=(lifted,), cautions=(lifted.text,)),
        reading("d", held=("no floor 'x'", "no floor 'y'; did you mean 'z'?")),
    ]
    assert verdict_counts(readings) == {"usable": 0, "usable with a caution": 1, "held": 3}
    found = [(one.severity, one.rule, one.count, one.readings) for one in reason_counts(readings)]
    assert found == [
        ("hold", "saturation", 2, ("a", "b")),
        ("hold", "", 1, ("d",)),
        ("hold", "", 1, ("b",)),
        ("overruled", "saturation", 1, ("c",)),
    ]


def test_saturated_readings_are_a_caution(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    found = judge([*good[:2], *(one._replace(qualifier=">") for one in good[2:])])
    assert found.verdict == "fit with cautions"
    assert found.reasons == ("3 readings saturated: the air held more than they say",)


def test_pairs_that_cannot_be_compared_show_nothing_of_how_readings_repeat(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    found = judge([one._replace(qualifier=">") for one in good])
    assert any("no reading was taken twice" in one for one in found.reasons)


def test_a_field_blank_with_mercury_and_no_limit_is_a_caution(
    good: list[Reading], judge: Callable[..., Fitness], reading: Make
) -> None:
    found = judge([*good, reading("k", 50.0, kind="field blank")])
    assert found.reasons == ("1 field blank not empty, and no detection limit is known",)


def test_a_sampling_plan_for_a_round_that_does_not_exist_is_said(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    stray = PlannedReadings("frist", "", "", "", "reading", 50, "plan.csv, row 2")
    found = judge(good, sampling_plan=(stray,))
    assert found.reasons == ("1 row of the sampling plan in no known round",)


def test_what_is_held_is_said_once_where_all_is(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    found = judge([one._replace(held=("no unit",)) for one in good])
    assert sum("held" in one for one in found.reasons) == 1
    assert not any("taken twice" in one for one in found.reasons)


def test_the_log_of_other_days_says_nothing_of_this_round(
    good: list[Reading], site: MakeSite, level: ActionLevel
) -> None:
    months_ago = tuple(
        Check("one", "control point", when, when, (value,))
        for when, value in ((datetime(2026, 1, 5, 8), 1.0), (datetime(2026, 1, 5, 12), 9.0))
    )
    log = replace(LOG, checks=(*LOG.checks, *months_ago))
    found = quality_report(site(*good, log=log), level, "first")
    assert found.fitness.verdict == "fit to map"
    lines = [line.text for one in sections(found) for line in one.lines]
    assert "3 checks, 1 on the days of these readings" in lines
    untimed = [good[0]._replace(time=None), *good[1:]]
    assert quality_report(site(*untimed, log=log), level, "first").measures.drifts


def test_what_could_not_be_judged_is_said(
    good: list[Reading], site: MakeSite, level: ActionLevel
) -> None:
    found = quality_report(site(*good[:4], log=LOG), level, "first")
    lines = [line.text for one in sections(found) for line in one.lines]
    assert any(one.startswith("no usable non-detect") for one in lines)
    assert any(one.startswith("no control point in the log twice") for one in lines)


def test_conditions_of_clearance_come_before_what_matters_less(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    cautioned = [one._replace(cautions=("height not stated",)) for one in good]
    cold = Conditions(temperature_c=15.0)
    round_ = Round("first", "First", None, (), purpose="clearance", conditions=cold)
    trust = Trust(guidance="as-occupied", occupied_temperature_c=22.0)
    found = judge(cautioned, rounds=(round_,), trust=trust)
    assert found.reasons[0] == "conditions of as-occupied not met: temperature"
    assert found.reasons[-2] == "5 readings usable with a caution"


def test_who_overruled_a_reason_and_why_is_printed_with_it(
    good: list[Reading], site: MakeSite, level: ActionLevel
) -> None:
    lifted = Finding("hold", "saturation", "the film was saturated", (), "AB: film was changed")
    read = [good[0]._replace(findings=(lifted,), cautions=(lifted.text,)), *good[1:]]
    report = quality_report(site(*read, log=LOG), level, "first")
    lines = [line.text for one in sections(report) for line in one.lines]
    assert (
        "overruled by a person: 1 × the film was saturated [saturation], by AB: film was changed "
        "(a)"
    ) in lines


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("the background was to be taken off, and its round has none: it stays as read",
         "no background or field blank to take off"),
        ("the background of 0.1 µg/m³ (mean of 1 reading) taken off 1: 0.9 is left",
         "background or field blank taken off"),
    ],
)  # fmt: skip
def test_what_was_not_taken_off_is_not_counted_as_taken_off(text: str, reason: str) -> None:
    assert short_reason(text) == reason


@pytest.mark.parametrize(
    ("qualifier", "words"), [("", "taken off plain numbers"), ("<", "nothing to take off")]
)
def test_what_is_taken_off_is_said_once(
    good: list[Reading], site: MakeSite, level: ActionLevel, reading: Make, qualifier: str,
    words: str,
) -> None:  # fmt: skip
    outdoors = reading("o", 0.05, kind="background", qualifier=qualifier)
    asked = site(*good, outdoors, log=LOG, trust=Trust(subtract="background"))
    lines = [line.text for one in sections(quality_report(asked, level, "first"))
             for line in one.lines]  # fmt: skip
    assert sum(one.startswith(words) for one in lines) == 1


def test_the_sentence_says_what_to_do_first_and_leaves_lists_to_the_list(
    good: list[Reading], judge: Callable[..., Fitness]
) -> None:
    found = judge([one._replace(room="A") for one in good])
    assert found.sentence.endswith("First: take the readings that are missing.")
    assert found.todo[0] == "take the readings that are missing: Ground floor: B Store"


def test_a_value_that_is_no_number_is_counted_by_what_is_the_matter_with_it() -> None:
    text = "value 'ND': a non-detect without its detection limit: write < and the limit"
    assert short_reason(text) == "a non-detect without its detection limit"
    assert "…" not in short_reason("value 'tr.': something was detected: write a number")


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("'ND' read as < 30 ng/m³ as site.toml says",
         "not detected, read as below the limit that is stated"),
        ("0.06 µg/m³ is below the row's detection limit: read as < 90 ng/m³",
         "a result below the detection limit of its row"),
        ("height 'breathing zone': adult breathing zone taken as 1.5 m (5 ft; a source)",
         "a height in words"),
        ("height 1.8288 m taken as in adult breathing (0.9-1.8 m)",
         "a height just beside its band"),
    ],
)  # fmt: skip
def test_a_reason_is_counted_in_whole_words(text: str, reason: str) -> None:
    assert short_reason(text) == reason
