"""Units: every spelling, every refusal, and the laws of conversion."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, SiteError
from hgmap.site.units import (
    COMPUTING_UNIT,
    UNITS,
    Unit,
    mercury_vapour_pressure_pa,
    parse_quantity,
    parse_unit,
    ppb_to_ug_m3,
    saturated_concentration_ug_m3,
    to_computing,
)

FIXED = [unit for unit in UNITS.values() if unit.factor is not None]
POSITIVE = st.floats(min_value=1e-9, max_value=1e9)


@pytest.mark.parametrize(
    ("spelling", "symbol"),
    [
        ("ng/m3", "ng/m³"),
        ("ug/m3", "µg/m³"),
        ("\u00b5g/m3", "µg/m³"),  # micro sign
        ("\u03bcg/m3", "µg/m³"),  # Greek small mu
        ("mcg/m3", "µg/m³"),
        ("ug/m^3", "µg/m³"),
        ("  uG / M³ ", "µg/m³"),
        ("mg/m3", "mg/m³"),
        ("MG/M3", "mg/m³"),
        ("PPB", "ppb"),
        ("ppbv", "ppb"),
        ("mg/kg", "mg/kg"),
        ("ug/kg", "µg/kg"),
        ("ng/g", "ng/g"),
        ("ug/g", "µg/g"),
        ("ug/100cm2", "µg/100 cm²"),
        ("µg / 100 cm^2", "µg/100 cm²"),
        ("ug/ft2", "µg/ft²"),
        ("ug/m2", "µg/m²"),
        ("mg/m2", "mg/m²"),
        ("ng/cm2", "ng/cm²"),
        ("ug/cm2", "µg/cm²"),
    ],
)
def test_a_spelling_of_the_trade_is_read(spelling: str, symbol: str) -> None:
    assert parse_unit(spelling).symbol == symbol


def test_every_symbol_we_print_can_be_read_back() -> None:
    for unit in UNITS.values():
        assert parse_unit(unit.symbol) is unit
    for medium, symbol in COMPUTING_UNIT.items():
        unit = parse_unit(symbol)
        assert (unit.medium, unit.factor) == (medium, 1.0)


@pytest.mark.parametrize("spelling", ["Mg/m3", "\u039cG/M3"])
def test_a_spelling_whose_case_decides_the_size_is_refused(spelling: str) -> None:
    with pytest.raises(SiteError, match="two ways"):
        parse_unit(spelling)


@pytest.mark.parametrize("spelling", ["ppm", "PPM", "ppt", "", "  ", "g", "furlong", "ug", "m3"])
def test_what_is_no_unit_is_refused(spelling: str) -> None:
    with pytest.raises(SiteError, match="known units"):
        parse_unit(spelling)


def test_a_slip_of_the_pen_gets_the_nearest_unit() -> None:
    with pytest.raises(SiteError, match="did you mean 'ng/m³'"):
        parse_unit("ng/m33")


def test_nano_micro_and_milligram_are_a_thousand_apart() -> None:
    assert to_computing(1000, "ng/m3", "air") == pytest.approx(1)
    assert to_computing(1, "µg/m³", "air") == 1
    assert to_computing(0.001, "mg/m3", "air") == pytest.approx(1)
    for value, unit in ((1, "mg/kg"), (1000, "ug/kg"), (1000, "ng/g"), (1, "ug/g")):
        assert to_computing(value, unit, "bulk") == pytest.approx(1)


def test_one_milligram_on_a_square_metre_in_every_unit_of_a_surface() -> None:
    for value, unit in (
        (1, "mg/m2"),
        (1000, "ug/m2"),
        (10, "ug/100cm2"),
        (100, "ng/cm2"),
        (0.1, "ug/cm2"),
        (92.90304, "ug/ft2"),
    ):
        assert to_computing(value, unit, "surface") == pytest.approx(10)


def test_a_unit_of_another_medium_is_refused() -> None:
    with pytest.raises(SiteError, match="µg/ft² is a unit for surface, not for air"):
        to_computing(1, "ug/ft2", "air")
    with pytest.raises(SiteError, match="write bulk in mg/kg"):
        to_computing(1, "ug/m3", "bulk")


def test_ppb_needs_the_temperature_of_the_air() -> None:
    with pytest.raises(SiteError, match="temperature"):
        to_computing(1, "ppb", "air")
    at_20 = to_computing(1, "ppb", "air", temperature_c=20)
    assert at_20 > to_computing(1, "ppb", "air", temperature_c=30)
    assert at_20 == ppb_to_ug_m3(1, temperature_c=20)


def test_half_the_pressure_holds_half_the_mercury() -> None:
    full = ppb_to_ug_m3(1, temperature_c=20)
    assert ppb_to_ug_m3(1, temperature_c=20, pressure_kpa=101.325 / 2) == pytest.approx(full / 2)


@pytest.mark.parametrize("temperature_c", [-300.0, -40.0, 401.0, math.nan, math.inf])
def test_an_impossible_temperature_is_refused(temperature_c: float) -> None:
    for convert in (mercury_vapour_pressure_pa, saturated_concentration_ug_m3):
        with pytest.raises(SiteError, match="outside"):
            convert(temperature_c)
    with pytest.raises(SiteError, match="outside"):
        ppb_to_ug_m3(1, temperature_c=temperature_c)


@pytest.mark.parametrize("pressure_kpa", [0.0, -1.0, math.nan, math.inf])
def test_an_impossible_pressure_is_refused(pressure_kpa: float) -> None:
    with pytest.raises(SiteError, match="pressure"):
        ppb_to_ug_m3(1, temperature_c=20, pressure_kpa=pressure_kpa)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_not_finite_is_never_converted(value: float) -> None:
    with pytest.raises(SiteError, match="not a number"):
        to_computing(value, "ug/m3", "air")


@pytest.mark.parametrize("text", ["1", "1.5", "  2 ", "1e-3"])
def test_a_bare_number_is_never_a_quantity(text: str) -> None:
    with pytest.raises(SiteError, match="say the unit"):
        parse_quantity(text)


@pytest.mark.parametrize(
    "text", ["0 ug/m3", "-1 ug/m3", "nan ug/m3", "inf ug/m3", "-inf ug/m3", "1e400 ug/m3"]
)
def test_a_quantity_must_be_finite_and_above_zero(text: str) -> None:
    with pytest.raises(SiteError, match="above zero"):
        parse_quantity(text)


@pytest.mark.parametrize("text", ["1,000 ng/m3", "0,5 ug/m3", "1 000 ng/m3", "1'000 ng/m3"])
def test_a_comma_or_gap_in_a_quantity_is_asked_about(text: str) -> None:
    with pytest.raises(SiteError, match="decimal mark or thousands"):
        parse_quantity(text)


@pytest.mark.parametrize("text", ["", "ug/m3", "one ug/m3", ". ug/m3"])
def test_a_unit_without_a_number_is_no_quantity(text: str) -> None:
    with pytest.raises(SiteError, match="write it like"):
        parse_quantity(text)


@given(value=POSITIVE, unit=st.sampled_from(FIXED))
def test_conversion_there_and_back_gives_the_value(value: float, unit: Unit) -> None:
    computed = to_computing(value, unit.symbol, unit.medium)
    back = computed / to_computing(1, unit.symbol, unit.medium)
    assert back == pytest.approx(value, rel=1e-12)


@given(value=POSITIVE, unit=st.sampled_from(list(UNITS.values())))
def test_a_quantity_as_printed_is_read_back(value: float, unit: Unit) -> None:
    assert parse_quantity(f"{value!r} {unit.symbol}") == (value, unit)
    assert parse_quantity(f"{value!r}{unit.symbol}") == (value, unit)


@given(
    unit=st.sampled_from(list(UNITS.values())),
    micro=st.sampled_from(["u", "\u00b5", "\u03bc", "mc"]),
    power=st.sampled_from(["{}", "^{}", "sup"]),
    gap=st.sampled_from(["", " ", "\t"]),
)
def test_how_a_unit_is_typed_does_not_change_it(
    unit: Unit, micro: str, power: str, gap: str
) -> None:
    text = unit.symbol.replace("µ", micro).replace("/", f"{gap}/{gap}")
    if power != "sup":
        text = text.replace("²", power.format(2)).replace("³", power.format(3))
    assert parse_unit(text) is unit


@given(text=st.text(max_size=20))
def test_any_text_is_a_unit_or_a_complaint(text: str) -> None:
    complaints = []
    for read in (parse_unit, parse_quantity):
        try:
            read(text)
        except HgmapError as error:
            complaints.append(str(error))
    assert "\n" not in "".join(complaints)


@given(low=st.floats(-38, 399), rise=st.floats(0.01, 1))
def test_warmer_air_holds_more_mercury(low: float, rise: float) -> None:
    assert saturated_concentration_ug_m3(low + rise) > saturated_concentration_ug_m3(low)


def test_units_load_without_any_other_library() -> None:
    script = (
        "import sys, hgmap.site.units\n"
        "print([n for n in ('numpy', 'shapely', 'pydantic', 'pandas') if n in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, timeout=180
    )
    assert done.stdout.strip() == "[]"
