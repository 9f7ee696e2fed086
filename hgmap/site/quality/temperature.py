"""What a cold building hides: the expected ratio between two temperatures. Never a correction."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.site.model import Round, Site
from hgmap.site.quality.figures import figure
from hgmap.site.reading import Reading
from hgmap.site.units import HIGHEST_C, LOWEST_C, saturated_concentration_ug_m3

LEAST_STEP_C: Final = 1.0
"""A smaller difference between two temperatures is not worth a word: a limit of ours, no source."""

LEAST_SPREAD_C: Final = 3.0
"""Rooms of one building differ by less than this: a limit of ours, no source."""

EQUATION: Final = (
    "ratio of saturated concentrations, Huber, Laesecke and Friend, NISTIR 6643 (2006), "
    "equation 4; older tables run 5 to 9 % below it"
)
INDICATIVE: Final = (
    "indicative, for liquid mercury and unchanged ventilation only; no reading was changed"
)


@dataclass(frozen=True, slots=True)
class TemperatureAdvice:
    """How much more, or less, mercury vapour another temperature would have shown.

    Attributes
    ----------
    subject : str
        What is compared: ``"occupied"``, a round with the occupied building; ``"rounds"``, two of
        them; ``"within"``, the coldest and the warmest reading of one.
    from_c, to_c : float
    ratio : float
        Expected concentration at ``to_c`` over that at ``from_c``.
    cold : bool
        Whether a round was colder than the building is when it is occupied.
    text : str
    """

    subject: str
    from_c: float
    to_c: float
    ratio: float
    cold: bool
    text: str


def expected_ratio(from_c: float, to_c: float) -> float:
    """Return the saturated concentration at one temperature (°C) over that at another.

    NISTIR 6643 equation 4 and the ideal gas: see :mod:`hgmap.site.units`.

    Raises
    ------
    SiteError
        Outside the range of the equation.

    Examples
    --------
    >>> round(expected_ratio(20.0, 30.0), 2)
    2.22
    """
    return saturated_concentration_ug_m3(to_c) / saturated_concentration_ug_m3(from_c)


def round_temperature(round_: Round, readings: Sequence[Reading]) -> float | None:
    """Return the temperature (°C) of a round: as stated, else the median of its readings'."""
    stated = round_.conditions.temperature_c
    if stated is not None:
        return stated
    found = own_temperatures(round_, readings)
    return statistics.median(found) if found else None


def own_temperatures(round_: Round, readings: Sequence[Reading]) -> list[float]:
    """Return the temperatures (°C) that the readings of a round carry themselves."""
    return [
        one.temperature_c
        for one in readings
        if one.round == round_.name and one.usable and one.on_map and one.temperature_c is not None
        and LOWEST_C <= one.temperature_c <= 60.0
    ]  # fmt: skip


def temperature_advice(site: Site, round_name: str) -> tuple[TemperatureAdvice, ...]:
    """Compare a round with the occupied building, with the round before it, and within itself.

    Empty where the site is not about mercury in air, or a temperature is not known.
    """
    if site.medium != "air" or "mercury" not in site.analyte.casefold():
        return ()
    known = [
        (one, temperature)
        for one in site.rounds
        if (temperature := round_temperature(one, site.readings)) is not None
        and LOWEST_C <= temperature <= HIGHEST_C
    ]
    found: list[TemperatureAdvice | None] = []
    occupied = site.trust.occupied_temperature_c
    for one, temperature in known:
        if one.name == round_name and occupied is not None and occupied > temperature:
            ratio = expected_ratio(temperature, occupied)
            text = (
                f"{one.title or one.name} was read at {figure(temperature)} °C; at the occupied "
                f"{figure(occupied)} °C expect {figure(ratio)} times as much ({EQUATION}; "
                f"{INDICATIVE}): read again with the building warm before a release"
            )
            found.append(TemperatureAdvice("occupied", temperature, occupied, ratio, True, text))
    for (before, cold), (after, warm) in itertools.pairwise(known):
        if after.name == round_name and abs(warm - cold) >= LEAST_STEP_C:
            ratio = expected_ratio(cold, warm)
            text = (
                f"{before.title or before.name} was read at {figure(cold)} °C, "
                f"{after.title or after.name} at {figure(warm)} °C: the temperature alone would "
                f"change the readings {figure(ratio)} times ({EQUATION}; {INDICATIVE})"
            )
            found.append(TemperatureAdvice("rounds", cold, warm, ratio, False, text))
    found += [_within(one, site.readings) for one in site.rounds if one.name == round_name]
    return tuple(one for one in found if one is not None)


def _within(round_: Round, readings: Sequence[Reading]) -> TemperatureAdvice | None:
    """Compare the coldest and the warmest reading of a round."""
    own = own_temperatures(round_, readings)
    if not own or max(own) - min(own) < LEAST_SPREAD_C or max(own) > HIGHEST_C:
        return None
    low, high = min(own), max(own)
    ratio = expected_ratio(low, high)
    text = (
        f"within {round_.title or round_.name} the readings were taken at {figure(low)} to "
        f"{figure(high)} °C: the temperature alone would set them apart {figure(ratio)} times "
        f"({EQUATION}; {INDICATIVE})"
    )
    return TemperatureAdvice("within", low, high, ratio, False, text)
