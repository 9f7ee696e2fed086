"""The action level of a run: asked for, else the site's own; a record that is whole, or refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.errors import LevelError
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.levels import levels
from hgmap.site.model import ActionLevel

MakeSite = Callable[..., Path]
RECORD = {
    "value": "500",
    "unit": '"ng/m3"',
    "averaging": '"8 h"',
    "height": '"1.5 m"',
    "scenario": '"reopening (invented)"',
    "source": '"Invented authority"',
    "year": "2020",
}


def table(**changes: str | None) -> str:
    record = RECORD | changes
    return "\n".join(f"{key} = {value}" for key, value in record.items() if value is not None)


def complaint(site: Path, asked: str | None = None) -> str:
    with pytest.raises(LevelError) as caught:
        level_in_force(read_site(site), asked)
    return str(caught.value)


def test_a_name_from_the_table_is_the_whole_record(make_site: MakeSite) -> None:
    level, _ = level_in_force(read_site(make_site()), None)
    assert level == next(one for one in levels() if one.name == "atsdr-commercial-occupancy")


def test_a_record_of_the_site_keeps_all_it_says(make_site: MakeSite) -> None:
    level, _ = level_in_force(read_site(make_site(level=table())), None)
    assert isinstance(level, ActionLevel)
    assert (level.value, level.unit, level.concentration) == (500, "ng/m³", 0.5)
    assert (level.averaging, level.height, level.year) == ("8 h", "1.5 m", 2020)
    assert (level.kind, level.source) == ("stated", "Invented authority")


@pytest.mark.parametrize("key", [key for key in RECORD if key != "year"])
def test_a_record_with_a_part_missing_is_a_bare_number(make_site: MakeSite, key: str) -> None:
    for value in (None, '""') if key != "value" else (None,):
        site = make_site(f"{key}{value}", level=table(**{key: value}))
        shown = complaint(site)
        assert f"never a bare number; {key} missing" in shown
        assert "site.toml, [level]" in shown


def test_an_empty_level_table_is_refused(make_site: MakeSite) -> None:
    assert "never a bare number" in complaint(make_site(level=" "))


def test_a_name_beside_a_value_is_refused_and_neither_is_taken(make_site: MakeSite) -> None:
    site = make_site(level='name = "atsdr-commercial-occupancy"\nvalue = 30\nunit = "ug/m3"')
    assert "value" in complaint(site)


@pytest.mark.parametrize(
    ("unit", "text"),
    [('"ppb"', "temperature"), ('"mg/kg"', "is a unit for bulk"), ('"furlong"', "not known")],
)
def test_a_record_in_a_unit_that_does_not_fit_is_refused(
    make_site: MakeSite, unit: str, text: str
) -> None:
    assert text in complaint(make_site(level=table(unit=unit)))


@pytest.mark.parametrize("use", ["dwelling", "school", "child care", "health care"])
def test_a_record_at_a_limit_for_workers_never_clears_a_home_or_a_school(
    make_site: MakeSite, use: str
) -> None:
    site = make_site(use=use, level=table(value="0.1", unit='"mg/m3"'))
    assert "an occupational limit by another name" in complaint(site)


@pytest.mark.parametrize("use", ["dwelling", "school"])
@pytest.mark.parametrize(
    "name", [one.name for one in levels() if one.kind in ("occupational", "emergency")]
)
def test_no_limit_for_workers_or_emergencies_is_taken_from_the_site_for_people_at_home(
    make_site: MakeSite, use: str, name: str
) -> None:
    complaint(make_site(use=use, level=f'name = "{name}"'))


def test_a_site_that_does_not_say_its_use_gets_no_level(make_site: MakeSite) -> None:
    assert "what the building is used for" in complaint(make_site(use=None))
    assert "what the building is used for" in complaint(make_site("b", use=None), "1 ug/m3")


def test_no_level_is_no_level(make_site: MakeSite) -> None:
    assert "there is no default" in complaint(make_site(level=None))


def test_what_is_asked_for_goes_before_the_site(make_site: MakeSite) -> None:
    level, _ = level_in_force(read_site(make_site(level=None)), "250 ng/m3")
    assert (level.concentration, level.kind) == (0.25, "stated")


def test_an_unknown_name_in_the_site_gets_the_nearest_one(make_site: MakeSite) -> None:
    site = make_site(level='name = "atsdr-comercial-occupancy"')
    assert "did you mean 'atsdr-commercial-occupancy'?" in complaint(site)
