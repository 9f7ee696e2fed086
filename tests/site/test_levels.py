"""Action levels: nothing is picked for the user, and a wrong kind of level is refused."""

from __future__ import annotations

import inspect
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

import hgmap.site.levels as module
from hgmap.errors import LevelError
from hgmap.site.level_table import parse_level_table
from hgmap.site.levels import (
    BUILDING,
    KINDS,
    check_level_fits_use,
    choose_level,
    disagreements,
    levels,
    levels_table,
)
from hgmap.site.model import ActionLevel, Use
from hgmap.site.units import to_computing

MERCURY = "elemental mercury vapour"
BY_NAME = {level.name: level for level in levels()}
PROTECTED: tuple[Use, ...] = ("dwelling", "school", "child care", "health care")
USES: tuple[Use, ...] = get_args(Use)


def choose(text: str | None, use: Use | None = "dwelling", analyte: str = MERCURY) -> ActionLevel:
    return choose_level(text, medium="air", use=use, analyte=analyte)


def lowest_occupational() -> ActionLevel:
    limits = [one for one in levels() if one.kind == "occupational" and one.analyte == MERCURY]
    return min(limits, key=lambda one: one.concentration)


# --- the table


def test_every_level_converts_and_says_who_for_whom_and_how() -> None:
    for level in levels():
        assert level.concentration == to_computing(level.value, level.unit, level.medium)
        assert level.concentration > 0
        for text in (level.source, level.scenario, level.averaging, level.height, level.analyte):
            assert text.strip() == text != ""
        assert level.kind in KINDS
        assert level.uses
        assert set(level.uses) <= set(USES)


def test_names_are_unique() -> None:
    assert len(BY_NAME) == len(levels())


def test_no_limit_for_workers_or_emergencies_is_listed_for_people_who_live_there() -> None:
    for level in levels():
        if level.kind in ("occupational", "emergency"):
            assert not set(level.uses) & set(PROTECTED), level.name


def test_no_level_uses_a_word_that_promises_safety() -> None:
    for level in levels():
        text = " ".join([level.name, level.scenario, level.averaging, level.height]).casefold()
        assert "safe" not in text.replace("safety and health", "")


def test_every_dwelling_and_school_occupancy_level_is_in_its_disagreement() -> None:
    groups = {one.title: set(one.levels) for one in disagreements()}
    for title, use in (("dwelling occupancy", "dwelling"), ("school occupancy", "school")):
        written_for_it = {
            one.name
            for one in levels()
            if one.kind == "occupancy" and use in one.uses and one.analyte == MERCURY
        }
        assert written_for_it
        assert written_for_it <= groups[title]


def test_a_disagreement_says_which_of_its_numbers_are_from_memory() -> None:
    long_term = next(one for one in disagreements() if one.title == "long-term reference")
    assert "who-air-guideline" in long_term.from_memory
    assert "epa-reference-concentration" not in long_term.from_memory
    assert long_term.lowest_by == ("california-reference-chronic",)
    assert long_term.highest_by == ("who-air-guideline",)


def test_the_list_is_grouped_by_kind_rising_and_flags_what_is_from_memory() -> None:
    rows = levels_table()
    kinds = [KINDS.index(row.kind) for row in rows]
    assert kinds == sorted(kinds)
    assert len(rows) == len(levels())
    for row in rows:
        assert (row.remark == "from memory") == BY_NAME[row.name].from_memory
    mercury = [row for row in levels_table(analyte="mercury") if row.kind == "occupancy"]
    values = [BY_NAME[row.name].concentration for row in mercury]
    assert values == sorted(values)
    assert {row.uses for row in levels_table(medium="air", use="school", analyte=MERCURY)}
    assert all("school" in row.uses for row in levels_table(use="school"))
    assert not [row for row in levels_table(medium="surface") if row.analyte == MERCURY]


GOOD_RECORD = """[[level]]
name = "a-level"
analyte = "x"
value = 1
unit = "ug/m3"
averaging = "8 h"
height = "1.5 m"
scenario = "s"
kind = "occupancy"
uses = ["dwelling"]
source = "who"
"""


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (GOOD_RECORD.replace('source = "who"\n', ""), "source"),
        (GOOD_RECORD.replace('scenario = "s"', 'scenario = ""'), "scenario"),
        (GOOD_RECORD.replace("value = 1", "value = 0"), "value"),
        (GOOD_RECORD.replace("value = 1", "value = inf"), "value"),
        (GOOD_RECORD.replace("ug/m3", "ppm"), "a-level"),
        (GOOD_RECORD.replace("ug/m3", "ppb"), "temperature"),
        (GOOD_RECORD.replace("dwelling", "castle"), "uses"),
        (GOOD_RECORD + 'colour = "red"\n', "colour"),
        (GOOD_RECORD + GOOD_RECORD, "twice"),
        (GOOD_RECORD + "[[[", "TOML"),
        (
            GOOD_RECORD + '[[disagreement]]\ntitle="t"\nlevels=["a-level", "b"]\nnote="n"\n',
            "not in the table",
        ),
        (
            GOOD_RECORD
            + GOOD_RECORD.replace("a-level", "b").replace("ug/m3", "ug/ft2")
            + '[[disagreement]]\ntitle="t"\nlevels=["a-level", "b"]\nnote="n"\n',
            "mixes",
        ),
    ],
)
def test_a_record_that_is_not_whole_is_refused(text: str, complaint: str) -> None:
    parsed, _ = parse_level_table(GOOD_RECORD, where="t.toml")
    assert parsed[0].concentration == 1
    with pytest.raises(LevelError, match=complaint):
        parse_level_table(text, where="t.toml")


# --- choosing


def test_a_level_is_chosen_by_its_name() -> None:
    level = choose("atsdr-residential-occupancy")
    assert (level.concentration, level.kind) == (1.0, "occupancy")
    assert choose(" ATSDR-Residential-Occupancy ") is level


def test_a_level_can_be_stated_with_its_unit() -> None:
    level = choose("500 ng/m3")
    assert level.concentration == pytest.approx(0.5)
    assert (level.kind, level.scenario, level.from_memory) == ("stated", "not stated", False)
    assert level.source == "stated by the user on the command line or in site.toml"
    assert (level.value, level.unit, level.analyte) == (500, "ng/m³", MERCURY)


@pytest.mark.parametrize("text", [None, "", "  "])
def test_without_a_level_there_is_no_default(text: str | None) -> None:
    with pytest.raises(LevelError, match=r"no action level; there is no default.*hgmap levels"):
        choose(text)


@pytest.mark.parametrize("text", ["1", "0.5", "1e3"])
def test_a_bare_number_is_never_a_level(text: str) -> None:
    with pytest.raises(LevelError, match="no unit"):
        choose(text)


@pytest.mark.parametrize("text", ["-1 ug/m3", "0 ug/m3", "nan ug/m3", "inf ug/m3", "1,0 ug/m3"])
def test_a_quantity_that_is_no_concentration_is_never_a_level(text: str) -> None:
    with pytest.raises(LevelError):
        choose(text)


def test_a_level_in_ppb_is_refused_because_it_moves_with_the_temperature() -> None:
    with pytest.raises(LevelError, match="temperature"):
        choose("0.1 ppb")


def test_an_unknown_name_gets_the_nearest_one() -> None:
    with pytest.raises(LevelError, match="did you mean 'atsdr-residential-occupancy'"):
        choose("atsdr-residental-ocupancy")


def test_a_building_whose_use_is_not_stated_gets_no_level() -> None:
    with pytest.raises(LevelError, match=r"site\.toml"):
        choose("atsdr-residential-occupancy", use=None)
    with pytest.raises(LevelError, match=r"site\.toml"):
        check_level_fits_use(BY_NAME["atsdr-residential-occupancy"], None)


@pytest.mark.parametrize("text", ["lead-dust-floor", "5 ug/ft2", "1 mg/kg"])
def test_a_level_for_another_medium_is_refused(text: str) -> None:
    with pytest.raises(LevelError, match="not for air"):
        choose(text)


def test_a_level_for_another_substance_is_refused() -> None:
    with pytest.raises(LevelError, match="is for hydrogen sulfide"):
        choose("hydrogen-sulfide-epa-reference-concentration")
    with pytest.raises(LevelError, match="is for lead"):
        choose_level("lead-dust-floor", medium="surface", use="dwelling", analyte="beryllium")
    assert choose("atsdr-residential-occupancy", analyte="Mercury  vapor").concentration == 1


@pytest.mark.parametrize(
    "level", [one for one in levels() if one.from_memory], ids=lambda o: o.name
)
def test_a_level_from_memory_is_got_only_by_its_whole_name(level: ActionLevel) -> None:
    quantity = f"{level.value:g} {level.unit}"
    for text in (level.name[:-1], level.name.split("-")[0], level.source, quantity):
        for use in USES:
            try:
                got = choose_level(text, medium=level.medium, use=use, analyte=level.analyte)
            except LevelError:
                continue
            assert got.kind == "stated"
            assert not got.from_memory


def test_no_function_here_has_a_level_or_a_use_by_default() -> None:
    for function in (choose_level, check_level_fits_use):
        for parameter in inspect.signature(function).parameters.values():
            assert parameter.default is inspect.Parameter.empty, (function, parameter)
    for value in vars(module).values():
        assert not isinstance(value, ActionLevel)


@given(text=st.text(max_size=25))
def test_any_text_is_a_level_or_a_complaint(text: str) -> None:
    complaint, level = "", None
    try:
        level = choose(text)
    except LevelError as error:
        complaint = str(error)
    assert "\n" not in complaint
    assert (level is None) == bool(complaint)
    if level is not None:
        assert level.kind == "stated" or level.name == text.strip().casefold()


# --- does it fit the building


@pytest.mark.parametrize("use", PROTECTED)
@pytest.mark.parametrize(
    "level",
    [one for one in levels() if one.kind in ("occupational", "emergency")],
    ids=lambda one: one.name,
)
def test_a_limit_for_workers_never_clears_a_home_a_school_or_a_clinic(
    level: ActionLevel, use: Use
) -> None:
    with pytest.raises(LevelError, match="never cleared by it"):
        choose_level(level.name, medium=level.medium, use=use, analyte=level.analyte)


@pytest.mark.parametrize("use", PROTECTED)
def test_a_limit_for_workers_by_another_name_is_refused(use: Use) -> None:
    lowest = lowest_occupational().concentration
    for text in (f"{lowest:g} ug/m3", f"{lowest / 1000:g} mg/m3", "25 ug/m3", "0.1 mg/m3"):
        with pytest.raises(LevelError, match="occupational limit by another name") as refused:
            choose(text, use=use)
        # Of two equal limits, the one that was read is named, not the one from memory.
        assert "netherlands-workplace-limit" in str(refused.value)
    assert choose(f"{lowest * 0.99:g} ug/m3", use=use).kind == "stated"


def test_a_level_for_leaving_a_shop_is_refused_for_a_home_when_it_equals_a_workers_limit() -> None:
    with pytest.raises(LevelError, match="by another name"):
        choose("atsdr-commercial-isolation", use="dwelling")


@given(value=st.floats(min_value=1e-6, max_value=1e6), use=st.sampled_from(PROTECTED))
def test_no_stated_level_at_or_above_a_workers_limit_passes(value: float, use: Use) -> None:
    passes = True
    try:
        choose(f"{value!r} ug/m3", use=use)
    except LevelError:
        passes = False
    assert passes == (value < lowest_occupational().concentration * (1 - 1e-9))


def test_a_limit_for_workers_may_be_used_where_the_work_is_with_mercury() -> None:
    level = choose("osha-permissible-exposure", use="industrial")
    assert level.concentration == pytest.approx(100)
    shop = check_level_fits_use(level, "commercial")
    assert any("not written for a commercial building" in one for one in shop)
    assert any("above the highest published occupancy level" in one for one in shop)


@pytest.mark.parametrize("use", USES)
def test_a_level_for_belongings_is_never_used_for_room_air(use: Use) -> None:
    for level in levels():
        if level.kind == "belongings":
            with pytest.raises(LevelError, match="headspace"):
                choose(level.name, use=use)


def test_the_disagreement_of_agencies_is_said() -> None:
    cautions = check_level_fits_use(choose("atsdr-residential-occupancy"), "dwelling")
    assert len(cautions) == 1
    assert cautions[0].startswith(
        "published occupancy levels for a dwelling run from 0.05 to 1 µg/m³"
    )


def test_a_stated_level_above_every_published_one_is_named_so() -> None:
    cautions = check_level_fits_use(choose("2 ug/m3"), "dwelling")
    assert any(
        "2 µg/m³ is above the highest published occupancy level for a dwelling "
        "(atsdr-residential-occupancy, 1 µg/m³)" in one
        for one in cautions
    )
    assert any("without its averaging and height and scenario" in one for one in cautions)
    same = check_level_fits_use(choose("1000 ng/m3"), "dwelling")
    assert not any("above the highest" in one for one in same)


def test_a_stated_level_that_says_how_it_was_meant_is_not_asked_again() -> None:
    whole = replace(choose("1 ug/m3"), averaging="8 h", height="1.5 m", scenario="home")
    assert not any("without its" in one for one in check_level_fits_use(whole, "dwelling"))


def test_a_level_from_memory_is_said_to_be_so() -> None:
    cautions = check_level_fits_use(choose("minnesota-gym-floor", use="school"), "school")
    assert any("from memory" in one for one in cautions)


def test_a_level_for_another_use_is_said_to_be_so() -> None:
    cautions = check_level_fits_use(choose("atsdr-commercial-occupancy"), "dwelling")
    assert any("not written for a dwelling but for: commercial" in one for one in cautions)
    assert any("above the highest published occupancy level" in one for one in cautions)


def test_a_level_for_leaving_is_no_level_for_coming_back() -> None:
    cautions = check_level_fits_use(choose("atsdr-residential-isolation"), "dwelling")
    assert any("nobody has cleared" in one for one in cautions)


@pytest.mark.parametrize("use", ["child care", "health care"])
def test_a_use_without_a_published_level_is_compared_with_a_dwelling(use: Use) -> None:
    cautions = check_level_fits_use(choose("2 ug/m3", use=use), use)
    assert any("no published occupancy level for" in one for one in cautions)
    assert any("for a dwelling (atsdr-residential-occupancy" in one for one in cautions)


def test_an_analyte_that_is_not_in_the_table_is_said_to_have_nothing_to_compare_with() -> None:
    level = choose("5 ug/m3", analyte="toluene")
    cautions = check_level_fits_use(level, "dwelling")
    assert any("no published occupancy level for a dwelling" in one for one in cautions)


def test_lead_on_a_floor_is_not_compared_with_lead_in_a_window_trough() -> None:
    floor = choose_level("lead-dust-floor", medium="surface", use="dwelling", analyte="Lead")
    assert check_level_fits_use(floor, "dwelling") == ()
    stated = choose_level("50 ug/ft2", medium="surface", use="dwelling", analyte="lead")
    assert any("run from" in one for one in check_level_fits_use(stated, "dwelling"))


def test_a_stated_record_for_a_surface_of_its_own_is_still_held_to_the_limit_for_workers() -> None:
    level = choose_level("1 ug/100cm2", medium="surface", use="school", analyte="beryllium")
    bench = replace(level, value=3.0, concentration=3.0, height="bench")
    with pytest.raises(LevelError, match="beryllium-housekeeping"):
        check_level_fits_use(bench, "school")


@pytest.mark.parametrize(
    "analyte", ["mercury", "Hg", "Hg vapor", "MERCURY (Hg)", "mercury vapour, elemental", "Hg0"]
)
def test_mercury_written_in_its_own_way_is_still_held_to_its_levels(analyte: str) -> None:
    with pytest.raises(LevelError, match="by another name"):
        choose("100 ug/m3", analyte=analyte)
    assert choose("atsdr-residential-occupancy", analyte=analyte).concentration == 1


def test_mercury_compounds_are_not_mercury_vapour() -> None:
    with pytest.raises(LevelError, match="is for mercury compounds"):
        choose("niosh-other-mercury-ceiling", use="industrial")
    level = choose("niosh-other-mercury-ceiling", use="industrial", analyte="Mercury compounds")
    assert level.analyte == "mercury compounds"


def test_every_use_has_its_words() -> None:
    assert set(BUILDING) == set(USES)
