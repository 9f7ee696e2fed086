from __future__ import annotations

from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.report.cells import row_of
from hgmap.report.shades import Shades
from hgmap.report.title_block import denominator
from hgmap.report.typeset import wrap
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
        (12.34, "ng/m³", "", 0.01234, "12"),
        (123.4, "ng/m³", "", 0.1234, "123"),
        (999.96, "ng/m³", "", 0.99996, "1000"),
        (1000.4, "ng/m³", "", 1.0004, "1000.4"),
        (12.34, "ng/m³", "<", 0.01234, "<13"),
        (1239.0, "ng/m³", ">", 1.239, ">1230"),
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


@settings(max_examples=200, deadline=None)
@given(st.floats(1e-3, 1e5), st.floats(1e-1, 1e4), st.sampled_from(["", "<", ">"]))
def test_rounding_never_takes_a_reading_over_the_level_nor_past_what_is_known(
    value, published, qualifier
):
    level = SimpleNamespace(value=published, unit="ng/m³", concentration=published / 1000.0)
    reading = SimpleNamespace(
        value=value, unit="ng/m³", qualifier=qualifier, concentration=value / 1000.0
    )
    written = float(reading_value(reading, level).lstrip("<>"))
    if abs(value / published - 1.0) > 1e-6:
        assert (written > published) == (value > published)
    assert written == pytest.approx(value, rel=0.1)
    if qualifier == "<":
        assert written >= value * (1.0 - 1e-6)
    if qualifier == ">":
        assert written <= value * (1.0 + 1e-6)


def test_cells_take_their_width_from_their_texts():
    texts = (("client", "A"), ("project", "Barometer broken in the store, before and after"))
    row = row_of(texts, 80.0, 4)
    assert row.lines == 1
    assert sum(cell.width_mm for cell in row.cells) == pytest.approx(80.0)
    assert wrap(texts[1][1], 6.0, row.cells[1].width_mm - 2.4) == (texts[1][1],)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(alphabet="abcdefg ", max_size=60), min_size=2, max_size=5))
def test_no_cell_is_cut_where_the_row_has_lines_to_spare(texts):
    row = row_of([("caption", text) for text in texts], 190.0, 4)
    assert sum(cell.width_mm for cell in row.cells) == pytest.approx(190.0)
    if row.lines < 4:
        for cell in row.cells:
            assert len(wrap(cell.text, 6.0, cell.width_mm - 2.4)) <= row.lines


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
