"""A map of a clearance round says where the conditions that clearance asks for are not met."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import hgmap

ROUND = """
purpose = "clearance"
[rounds.conditions]
temperature_c = {temperature}
{ventilation}
windows = "closed"
occupied = false
[clearance]
occupied_temperature_c = 22
{guidance}
"""
VENTILATION = 'ventilation = "as occupied"'
GUIDANCE = 'guidance = "as-occupied"'


def warnings(
    make_site: Callable[..., Path],
    temperature: float = 23.0,
    ventilation: str = VENTILATION,
    guidance: str = GUIDANCE,
) -> list[str]:
    extra = ROUND.format(temperature=temperature, ventilation=ventilation, guidance=guidance)
    run = hgmap.map_site(make_site(extra=extra), hgmap.MapOptions(cell_m=1.0))
    return [one for one in run.warnings if "supports no clearance" in one]


def test_conditions_that_are_met_are_no_warning(make_site: Callable[..., Path]) -> None:
    assert warnings(make_site) == []


def test_a_cold_round_and_one_without_its_ventilation_support_no_clearance(
    make_site: Callable[..., Path],
) -> None:
    (found,) = warnings(make_site, 15.0, "")
    assert "not met: temperature, not written down: ventilation" in found
    assert "as-occupied" in found


@pytest.mark.parametrize(
    ("guidance", "why"),
    [("", "no guidance is chosen"), ('guidance = "as-ocupied"', "no guidance is called")],
)
def test_without_a_guidance_a_round_supports_no_clearance(
    make_site: Callable[..., Path], guidance: str, why: str
) -> None:
    (found,) = warnings(make_site, guidance=guidance)
    assert why in found
