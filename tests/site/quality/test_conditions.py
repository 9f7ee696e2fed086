"""Conditions of a clearance round, and what a cold building hides."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from hgmap.site.model import Conditions, Round, Site, TrustSettings
from hgmap.site.quality.conditions import missing_conditions
from hgmap.site.quality.guidance import Condition, disagreements, guidances
from hgmap.site.quality.temperature import round_temperature, temperature_advice
from hgmap.site.reading import Reading

Make = Callable[..., Reading]
MakeSite = Callable[..., Site]


def clearance(**conditions: object) -> Round:
    return Round("first", "First", None, (), purpose="clearance",
                 conditions=Conditions(**conditions))  # type: ignore[arg-type] # fmt: skip


def statuses(site: Site, round_: Round) -> dict[str, str]:
    return {one.name: one.status for one in missing_conditions(site, round_).findings}


def test_a_survey_round_is_asked_nothing(site: MakeSite) -> None:
    found = missing_conditions(site(), Round("first", "First", None, ()))
    assert not found.asked
    assert found.met


def test_a_clearance_round_without_a_guidance_is_told_which_there_are(site: MakeSite) -> None:
    found = missing_conditions(site(), clearance())
    assert not found.met
    assert all(one.name in found.problem for one in guidances())
    near = missing_conditions(site(trust=TrustSettings("as-ocupied")), clearance())
    assert "did you mean 'as-occupied'?" in near.problem
    assert not near.met


def test_conditions_are_met_unmet_or_missing(site: MakeSite) -> None:
    house = site(trust=TrustSettings("closed-and-heated"))
    assert statuses(house, clearance()) == dict.fromkeys(
        ["temperature", "hours closed", "hours heated", "ventilation", "windows", "occupied"],
        "missing",
    )
    met = clearance(temperature_c=35.0, hours_closed=4.0, hours_heated=4.0, ventilation="off",
                    windows="closed", occupied=False)  # fmt: skip
    assert missing_conditions(house, met).met
    unmet = clearance(temperature_c=34.9, hours_closed=3.9, ventilation="as occupied",
                      windows="open", occupied=True)  # fmt: skip
    found = statuses(house, unmet)
    assert found.pop("hours heated") == "missing"
    assert set(found.values()) == {"unmet"}


def test_the_occupied_temperature_has_to_be_stated_and_reached(site: MakeSite) -> None:
    nobody = site(trust=TrustSettings("as-occupied"))
    warm = clearance(temperature_c=30.0)
    assert statuses(nobody, warm)["temperature"] == "missing"
    stated = site(trust=TrustSettings("as-occupied", 21.0))
    assert statuses(stated, warm)["temperature"] == "met"
    assert statuses(stated, clearance(temperature_c=20.9))["temperature"] == "unmet"


def test_a_temperature_that_only_readings_carry_counts_and_says_so(
    reading: Make, site: MakeSite
) -> None:
    readings = [reading(f"r{k}", temperature_c=t) for k, t in enumerate((20.0, 36.0, 38.0, 1e6))]
    house = site(*readings, trust=TrustSettings("closed-and-heated"))
    found = missing_conditions(house, clearance()).findings[0]
    assert found.status == "met"
    assert "was 36 °C (median of the readings' own)" in found.text


def test_every_condition_names_its_source_and_contradictions_are_shown(site: MakeSite) -> None:
    assert all(condition.source for one in guidances() for condition in one.condition)
    ventilation = next(one for one in disagreements() if one.startswith("ventilation"))
    assert "off (closed-and-heated)" in ventilation
    assert "as occupied (as-occupied)" in ventilation
    chosen = site(trust=TrustSettings("as-occupied"))
    notes = missing_conditions(chosen, clearance()).notes
    assert any(ventilation in one for one in notes)


@pytest.mark.parametrize("ways", [{}, {"at_least": 1, "stated": True}])
def test_a_condition_asks_in_exactly_one_way(ways: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="one of at_least"):
        Condition(key="windows", source="x", **ways)  # type: ignore[arg-type]


def test_a_cold_round_is_told_what_the_warm_building_may_hold(site: MakeSite) -> None:
    cold = Round("first", "First", None, (), conditions=Conditions(temperature_c=20.0))
    (found,) = temperature_advice(
        site(rounds=(cold,), trust=TrustSettings(occupied_temperature_c=25.0)), "first"
    )
    assert found.ratio == pytest.approx(1.500, abs=5e-4)
    assert "NISTIR 6643" in found.text
    assert "no reading was changed" in found.text
    warm = site(rounds=(cold,), trust=TrustSettings(occupied_temperature_c=20.0))
    assert temperature_advice(warm, "first") == ()


def test_two_rounds_at_two_temperatures_are_compared(site: MakeSite) -> None:
    rounds = tuple(
        Round(name, name, None, (), conditions=Conditions(temperature_c=t))
        for name, t in (("first", 30.0), ("second", 20.0), ("third", 20.5))
    )
    assert temperature_advice(site(rounds=rounds), "first") == ()
    (found,) = temperature_advice(site(rounds=rounds), "second")
    assert found.ratio == pytest.approx(1 / 2.220, rel=1e-3)
    assert not found.cold
    assert temperature_advice(site(rounds=rounds), "third") == ()


def test_other_media_and_unknown_temperatures_have_no_advice(reading: Make, site: MakeSite) -> None:
    cold = (Round("first", "First", None, (), conditions=Conditions(temperature_c=5.0)),)
    trust = TrustSettings(occupied_temperature_c=21.0)
    assert temperature_advice(site(rounds=cold, trust=trust, medium="bulk"), "first") == ()
    assert temperature_advice(site(rounds=cold, trust=trust, analyte="lead"), "first") == ()
    assert temperature_advice(site(trust=trust), "first") == ()
    off = reading("o", kind="background", temperature_c=3.0)
    assert round_temperature(site().rounds[0], [off]) is None


def test_a_stated_temperature_that_the_readings_do_not_bear_out_is_not_met(
    reading: Make, site: MakeSite
) -> None:
    cold = [reading(f"r{k}", temperature_c=t) for k, t in enumerate((14.0, 15.0, 16.0))]
    chosen = site(*cold, trust=TrustSettings("closed-and-heated"))
    found = missing_conditions(chosen, clearance(temperature_c=36.0)).findings[0]
    assert found.status == "unmet"
    assert "15 °C (median of the readings' own; 36 °C was stated)" in found.text
    warm = site(*(one._replace(temperature_c=35.5) for one in cold),
                trust=TrustSettings("closed-and-heated"))  # fmt: skip
    assert statuses(warm, clearance(temperature_c=36.0))["temperature"] == "met"


def test_readings_of_one_round_at_two_temperatures_are_advised_on(
    reading: Make, site: MakeSite
) -> None:
    two = [reading("a", temperature_c=20.0), reading("b", temperature_c=30.0)]
    (found,) = temperature_advice(site(*two), "first")
    assert (found.subject, found.cold) == ("within", False)
    assert found.ratio == pytest.approx(2.2198, abs=1e-4)  # equation 4 of NISTIR 6643, computed
    assert "NISTIR 6643" in found.text
    assert "5 to 9 % below" in found.text
    near = [two[0], two[1]._replace(temperature_c=22.9)]
    assert temperature_advice(site(*near), "first") == ()
