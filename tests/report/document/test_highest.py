"""The highest reading of a round stands in the summary, at whatever height it was taken."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hgmap.report.document.highest import highest_line
from hgmap.report.document.survey import Survey
from tests.report.document.conftest import Written


@pytest.fixture
def with_values(written: Written) -> Callable[..., Survey]:
    """Return the survey with other usable readings, each a change of the first."""
    survey = written.run.survey
    first = next(one for one in survey.site.readings if one.usable)

    def made(*changes: dict[str, Any]) -> Survey:
        readings = tuple(first._replace(id=f"X{n}", **one) for n, one in enumerate(changes))
        return replace(survey, site=replace(survey.site, readings=readings))

    return made


def read(value: float, qualifier: str = "", **more: Any) -> dict[str, Any]:
    return {"value": value, "concentration": value, "qualifier": qualifier, "unit": "ug/m3", **more}


def test_it_is_said_at_a_height_that_no_map_shows(with_values: Callable[..., Survey]) -> None:
    told = highest_line(with_values(read(0.2), read(3.4, height_m=0.05, band="source search")))
    assert told.startswith("Highest usable reading: 3.4 ")
    assert "0.05 m above the floor, a height that the maps do not show" in told


def test_a_coarse_non_detect_may_hide_more(with_values: Callable[..., Survey]) -> None:
    told = highest_line(with_values(read(0.2), read(10.0, "<")))
    assert told.startswith("Highest usable reading: 0.2 ")
    assert "(<10 at most) may hide more" in told


def test_non_detects_alone_have_no_number(with_values: Callable[..., Survey]) -> None:
    told = highest_line(with_values(read(0.05, "<"), read(0.1, "<")))
    assert "<0.1 " in told
    assert "every usable reading is below its detection limit" in told


def test_a_saturated_reading_keeps_its_sign(with_values: Callable[..., Survey]) -> None:
    told = highest_line(with_values(read(100.0), read(100.0, ">"), read(50.0, ">")))
    assert "reading: >100 " in told
    assert "1 more reading saturated, and may be higher still" in told


def test_held_readings_are_none(with_values: Callable[..., Survey]) -> None:
    assert highest_line(with_values(read(9.0, held=("unit",)))) == "No usable reading was taken."


def test_it_stands_in_every_format(written: Written, tmp_path: Path) -> None:
    for ending, text in written.text.items():
        assert "Highest usable reading:" in text, ending
