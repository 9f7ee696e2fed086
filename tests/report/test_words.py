from __future__ import annotations

from types import SimpleNamespace

import pytest

from hgmap.report.shades import Shades
from hgmap.report.title_block import denominator
from hgmap.report.words import number, reading_value, square_metres


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.05, "0.05"), (0.0004, "0.0004"), (999.6, "1000"), (123.4, "123"), (1.0, "1"), (0.0, "0")],
)
def test_numbers_have_three_digits_and_no_exponent(value, text):
    assert number(value) == text


def test_a_sliver_is_not_called_nothing():
    assert square_metres(0.03) == "under 0.1 m²"


@pytest.mark.parametrize(
    ("value", "unit", "qualifier", "concentration", "text"),
    [
        (0.05, "µg/m³", "<", 0.05, "<50"),
        (120.0, "ng/m³", "", 0.12, "120"),
        (999.0, "ng/m³", ">", 0.999, ">999"),
        (3.0, "counts", "", None, "3 counts"),
        (None, "", "", None, "no value"),
    ],
)
def test_a_reading_is_written_in_the_unit_of_the_level(value, unit, qualifier, concentration, text):
    level = SimpleNamespace(value=1000.0, unit="ng/m³", concentration=1.0)
    reading = SimpleNamespace(
        value=value, unit=unit, qualifier=qualifier, concentration=concentration
    )
    assert reading_value(reading, level) == text


def test_the_scale_number_is_round_and_the_floor_fits():
    for width in (3.0, 12.5, 61.0, 500.0, 1e6):
        found = denominator(width, width / 2, 180.0, 120.0)
        assert 1000.0 * width / found <= 180.0
        assert found == float(f"{found:.3g}")


def test_ticks_are_few_and_on_the_scale():
    for low, high in ((0.01, 1000.0), (0.4, 3.0), (0.05, 1.5), (1e-3, 100.0), (0.9, 1.1)):
        ticks = Shades(low, high).ticks(6)
        assert 2 <= len(ticks) <= 8
        assert all(low * 0.99 <= tick <= high * 1.01 for tick in ticks)
