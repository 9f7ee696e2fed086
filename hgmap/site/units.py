"""Concentration units, and what mercury vapour can physically reach.

A number without its unit is never accepted. Each medium has one computing unit; ppb of mercury
vapour needs the temperature of the air. Standard library only: this module loads in milliseconds.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from hgmap.errors import SiteError

if TYPE_CHECKING:
    from hgmap.site.model import Medium

COMPUTING_UNIT: Final[dict[Medium, str]] = {
    "air": "µg/m³",
    "surface": "µg/100 cm²",
    "bulk": "mg/kg",
}

MOLAR_MASS_G_MOL: Final = 200.592
"""Mercury (IUPAC)."""

GAS_CONSTANT: Final = 8.314462618
"""J/(mol K), exact in the SI of 2019."""

STANDARD_PRESSURE_KPA: Final = 101.325
ZERO_CELSIUS_K: Final = 273.15

LOWEST_C: Final = -38.8
HIGHEST_C: Final = 400.0
"""Between these (°C) the vapour-pressure correlation is used here: liquid mercury (its triple
point is a value from memory), at pressures where the ideal gas still holds."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of concentration.

    Attributes
    ----------
    symbol : str
        As we print it.
    medium : {"air", "surface", "bulk"}
        What it can measure.
    factor : float or None
        Computing units of ``medium`` in one of this; None where that depends on the temperature.
    needs_temperature : bool
        True for ppb.
    """

    symbol: str
    medium: Medium
    factor: float | None
    needs_temperature: bool = False


# 1 ft = 30.48 cm exactly, so 1 ft² = 929.0304 cm².
_PER_SQUARE_FOOT: Final = 100 / 929.0304

_UNITS: Final = (
    Unit("ng/m³", "air", 1e-3),
    Unit("µg/m³", "air", 1.0),
    Unit("mg/m³", "air", 1e3),
    Unit("ppb", "air", None, needs_temperature=True),
    Unit("mg/kg", "bulk", 1.0),
    Unit("µg/kg", "bulk", 1e-3),
    Unit("ng/g", "bulk", 1e-3),
    Unit("µg/g", "bulk", 1.0),
    Unit("µg/100 cm²", "surface", 1.0),
    Unit("µg/ft²", "surface", _PER_SQUARE_FOOT),
    Unit("µg/m²", "surface", 1e-2),
    Unit("mg/m²", "surface", 10.0),
    Unit("ng/cm²", "surface", 1e-1),
    Unit("µg/cm²", "surface", 100.0),
)

_PLAIN: Final = str.maketrans({"µ": "u", "\u03bc": "u", "²": "2", "³": "3"})


def _plain(text: str) -> str:
    """Reduce a spelling to letters, digits and one slash: ``"µg / m³"`` to ``"ug/m3"``."""
    plain = "".join(text.split()).translate(_PLAIN).casefold()
    # parts of volume, said in so many words, is what ppb of a vapour is
    plain = "ppb" if plain in ("ppbv", "ppb(v)") else plain
    return re.sub(r"^mcg/", "ug/", re.sub(r"\^(?=[23]$)", "", plain))


UNITS: Final = MappingProxyType({_plain(unit.symbol): unit for unit in _UNITS})
"""Plain spelling to unit."""

_REFUSED: Final = {
    "ppm": "ppm is parts of volume to one reader and of mass to another",
    "ppt": "ppt is a thousandth to one reader and a trillionth to another",
    "": "no unit",
}

_QUANTITY: Final = re.compile(
    r"(?P<number>[+-]?(?:\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+(?:[eE][+-]?\d+)?"
    r"|inf(?:inity)?\b|nan\b))\s*(?P<unit>.*)",
    re.IGNORECASE | re.DOTALL,
)


def parse_unit(text: str) -> Unit:
    """Return the unit that a spelling means.

    Both micro signs, ``u`` and ``mc`` for micro, ``3``, ``^3`` and ``³``, any spaces and any case
    are read, except where the case could decide a factor of a thousand or more.

    Raises
    ------
    SiteError
        If there is no such unit, or the spelling is ambiguous.

    Examples
    --------
    >>> parse_unit("UG / M^3").symbol
    'µg/m³'
    """
    shown = text.strip()
    plain = _plain(text)
    todo = f"known units: {', '.join(unit.symbol for unit in _UNITS)}"
    # A capital Greek mu looks like M: it is a micro sign in capitals, or milli. Mg is a tonne.
    if "\u039c" in text or re.match(r"Mg", shown):
        raise SiteError(
            f"unit {shown!r} can be read in two ways", todo="write ug for micrograms, mg for milli"
        )
    if plain in _REFUSED:
        raise SiteError(f"unit {shown!r} is not read: {_REFUSED[plain]}", todo=todo)
    if plain in UNITS:
        return UNITS[plain]
    near = difflib.get_close_matches(plain, UNITS, n=1, cutoff=0.5)
    if near:
        todo = f"did you mean {UNITS[near[0]].symbol!r}? {todo}"
    raise SiteError(f"unit {shown!r} is not known", todo=todo)


def to_computing(
    value: float,
    unit_text: str,
    medium: Medium,
    *,
    temperature_c: float | None = None,
    pressure_kpa: float = STANDARD_PRESSURE_KPA,
) -> float:
    """Convert a value to the computing unit of a medium.

    The sign is not judged here. ppb is read as mercury vapour.

    Parameters
    ----------
    value : float
        In the unit ``unit_text``.
    unit_text : str
        As written.
    medium : {"air", "surface", "bulk"}
        What was measured.
    temperature_c : float, optional
        Temperature of the air (°C); needed for ppb.
    pressure_kpa : float, optional
        Pressure of the air (kPa), for ppb; 101.325 unless stated.

    Raises
    ------
    SiteError
        If the value is not finite, the unit is unknown or not one for the medium, or ppb comes
        without a temperature.

    Examples
    --------
    >>> to_computing(250, "ng/m3", "air")
    0.25
    """
    if not math.isfinite(value):
        raise SiteError(f"{value} is not a number", todo="write the value as it was read")
    unit = parse_unit(unit_text)
    if unit.medium != medium:
        raise SiteError(
            f"{unit.symbol} is a unit for {unit.medium}, not for {medium}",
            todo=f"write {medium} in {_units_of(medium)}",
        )
    if unit.factor is not None:
        return value * unit.factor
    if temperature_c is None:
        raise SiteError(
            f"{value:g} {unit.symbol} cannot be converted without the temperature of the air",
            todo="state the temperature, or write µg/m³",
        )
    return ppb_to_ug_m3(value, temperature_c=temperature_c, pressure_kpa=pressure_kpa)


def _units_of(medium: Medium) -> str:
    return " or ".join(unit.symbol for unit in _UNITS if unit.medium == medium)


def parse_quantity(text: str) -> tuple[float, Unit]:
    """Read a concentration above zero with its unit.

    Raises
    ------
    SiteError
        If there is no number or no unit, or the number is zero, negative or not finite.

    Examples
    --------
    >>> value, unit = parse_quantity("1 ug/m3")
    >>> value, unit.symbol
    (1.0, 'µg/m³')
    """
    shown = text.strip()
    match = _QUANTITY.fullmatch(shown)
    if match is None:
        raise SiteError(f"{shown!r} is not a number with a unit", todo="write it like 1 ug/m3")
    value, rest = float(match["number"]), match["unit"]
    if rest.startswith((",", "'", "_")) or re.match(r"[.\d]", rest):
        raise SiteError(
            f"{shown!r}: is that a decimal mark or thousands?",
            todo="write the number with a decimal point and nothing between the thousands",
        )
    if not rest:
        raise SiteError(
            f"{shown!r} has no unit",
            todo=f"say the unit: {shown} ug/m3 and {shown} mg/m3 are a thousand-fold apart",
        )
    unit = parse_unit(rest)
    if not math.isfinite(value) or value <= 0:
        raise SiteError(f"{shown!r} is not a concentration above zero", todo="write a finite value")
    return value, unit


def ppb_to_ug_m3(
    ppb: float, *, temperature_c: float, pressure_kpa: float = STANDARD_PRESSURE_KPA
) -> float:
    """Convert parts per billion by volume of mercury vapour to µg/m³, as an ideal gas.

    ``c = ppb · 10⁻⁹ · p M / (R T)``.

    Parameters
    ----------
    ppb : float
        Parts per billion by volume.
    temperature_c : float
        Of the air (°C).
    pressure_kpa : float, optional
        Of the air (kPa); 101.325 (one standard atmosphere) unless stated.

    Raises
    ------
    SiteError
        If the temperature or the pressure cannot be.

    Examples
    --------
    >>> round(ppb_to_ug_m3(1, temperature_c=25), 3)
    8.199
    """
    kelvin = _kelvin(temperature_c)
    if not (math.isfinite(pressure_kpa) and pressure_kpa > 0):
        raise SiteError(f"an air pressure of {pressure_kpa:g} kPa cannot be", todo="write kPa")
    mol_m3 = pressure_kpa * 1e3 / (GAS_CONSTANT * kelvin)
    return ppb * 1e-9 * mol_m3 * MOLAR_MASS_G_MOL * 1e6


def mercury_vapour_pressure_pa(temperature_c: float) -> float:
    """Vapour pressure (Pa) of liquid mercury.

    Huber, Laesecke and Friend, NISTIR 6643 (2006), equation 4; stated uncertainty ±1 % (k = 2)
    from 0 to 60 °C. The older tables behind many span checks run 5 to 9 % lower.

    Raises
    ------
    SiteError
        Outside -38.8 to 400 °C.
    """
    kelvin = _kelvin(temperature_c)
    critical_k, critical_pa = 1764.0, 167e6
    tau = 1 - kelvin / critical_k
    series = (
        -4.57618368 * tau
        - 1.40726277 * tau**1.89
        + 2.36263541 * tau**2
        - 31.0889985 * tau**8
        + 58.0183959 * tau**8.5
        - 27.6304546 * tau**9
    )
    return critical_pa * math.exp(critical_k / kelvin * series)


def saturated_concentration_ug_m3(temperature_c: float) -> float:
    """Concentration (µg/m³) of air that is in balance with liquid mercury: no reading is higher.

    ``c = p M / (R T)`` with the pressure of :func:`mercury_vapour_pressure_pa`.

    Raises
    ------
    SiteError
        Outside -38.8 to 400 °C.

    Examples
    --------
    >>> round(saturated_concentration_ug_m3(20))
    14095
    """
    pressure = mercury_vapour_pressure_pa(temperature_c)
    return pressure * MOLAR_MASS_G_MOL / (GAS_CONSTANT * _kelvin(temperature_c)) * 1e6


def _kelvin(temperature_c: float) -> float:
    if not LOWEST_C <= temperature_c <= HIGHEST_C:
        raise SiteError(
            f"{temperature_c:g} °C is outside {LOWEST_C:g} to {HIGHEST_C:g} °C",
            todo="write the temperature in degrees Celsius",
        )
    return temperature_c + ZERO_CELSIUS_K
