"""Published indoor readings, from their printed form to number, unit, interval and kind.

The table is not part of this project: it was transcribed from public reports, each named in the
SOURCES.md beside it. The tests are skipped where the folder is not there.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.site.intake.height import parse_height
from hgmap.site.intake.kinds import parse_kind
from hgmap.site.intake.numerals import decided_numbers
from hgmap.site.intake.result import parse_result
from hgmap.site.textfile import DecimalMarks
from hgmap.site.units import to_computing

TABLE = Path(__file__).parents[3] / "shared/data/tables/mercury_readings_public_reports.csv"
NOTHING = DecimalMarks()

pytestmark = pytest.mark.skipif(
    not TABLE.is_file(), reason="the public tables (../shared/data/tables) are not here"
)


def public_rows() -> list[dict[str, str]]:
    if not TABLE.is_file():
        return []
    return list(csv.DictReader(io.StringIO(TABLE.read_text("utf-8-sig"))))


ROWS = public_rows()
IDS = [f"{n}-{row['report']}" for n, row in enumerate(ROWS, start=2)]


def printed_number(text: str) -> str:
    """Print a number as the reports do: thousands set apart with a comma."""
    whole, point, rest = text.partition(".")
    return f"{int(whole):,}{point}{rest}"


def printed(row: dict[str, str]) -> str:
    """Print a row as its report does."""
    low, high = (
        printed_number(row[key]) if row[key] else "" for key in ("value_low", "value_high")
    )
    unit = row["unit_as_reported"]
    text = {
        "=": f"{high} {unit}",
        "<": f"<{high} {unit}",
        "~": f"~{high} {unit}",
        "range": f"{low}-{high} {unit}",
        "up to": f"up to {high} {unit}",
    }[row["qualifier"]]
    if "below detection" in row["height_or_note"]:
        return f"BDL ({high}) {unit}"  # ATSDR prints the word, and the limit in brackets
    if "none detected" in row["height_or_note"]:
        return f"{high} {unit} (none detected)"
    return text


def test_the_table_is_the_one_that_was_transcribed() -> None:
    assert len(ROWS) == 38
    assert {row["qualifier"] for row in ROWS} == {"=", "<", "~", "range", "up to"}


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_a_printed_result_becomes_its_number_its_unit_and_its_interval(row: dict[str, str]) -> None:
    # the reports are American: a comma sets thousands apart, as a person says with --decimal point
    text = decided_numbers(printed(row), "point")
    if text.startswith("BDL"):  # the unit behind the bracket is the column's
        text = text.removesuffix(f" {row['unit_as_reported']}")
    result = parse_result(text, NOTHING)
    assert result.held == ""
    assert result.value == float(row["value_high"])
    assert result.low == (float(row["value_low"]) if row["qualifier"] == "range" else None)
    expected = {"=": "", "<": "<", "~": "~", "range": "to", "up to": "up to"}[row["qualifier"]]
    assert result.qualifier == expected
    symbol = {"ug/m3": "µg/m³", "ng/m3": "ng/m³", "mg/kg": "mg/kg"}[row["unit_as_reported"]]
    assert result.unit == ("" if text.startswith("BDL") else symbol)
    per_unit = {"ug/m3": 1.0, "ng/m3": 1e-3, "mg/kg": 1.0}[row["unit_as_reported"]]
    medium = "bulk" if symbol == "mg/kg" else "air"
    assert result.value is not None
    assert to_computing(result.value, symbol, medium) == pytest.approx(
        float(row["value_high"]) * per_unit, rel=1e-12
    )


@pytest.mark.parametrize("row", ROWS, ids=IDS)
def test_without_a_word_about_commas_a_number_is_right_or_asked(row: dict[str, str]) -> None:
    text = printed(row)
    result = parse_result(text, NOTHING)
    if result.value is None:
        assert "," in text
        assert "decimal mark or for thousands" in result.held
    elif not text.startswith("BDL"):
        assert result.value == float(row["value_high"])


def test_a_range_proves_its_own_thousands() -> None:
    # US EPA POLREP, Detroit 2010 (counter 14842): furnace area, "100-5,000 ng/m3"
    result = parse_result("100-5,000 ng/m3", NOTHING)
    assert (result.low, result.value, result.unit) == (100, 5000, "ng/m³")


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("Field blank", "field blank"),  # ATSDR health consultation, Bartlesville (docid 694)
        ("Outside", "background"),  # New Jersey school district, "Outside by APR exit"
        ("headspace", "headspace"),  # US EPA, Boise 2008: clothing bags
        ("ambient", None),  # US EPA, Boise 2008: the air of the classroom, not outdoors
    ],
)
def test_a_printed_kind_is_known_or_asked(words: str, kind: str | None) -> None:
    assert parse_kind(words) == kind


@pytest.mark.parametrize(
    ("words", "metres"),
    [
        ("floor", 0.0),  # ATSDR, Bartlesville: 185 µg/m³ at the floor, 56 at 1 m
        ("1 m", 1.0),
        ("breathing zone", 1.5),  # US EPA, Detroit; 5 ft by Maine DEP 2008
        ("about 1 ft above", 0.3048),  # US EPA, Chesterfield 2007
        ("just above carpet", 0.025),  # US EPA, Meridian 2003; an inch is a value from memory
        ("directly above", None),  # US EPA, Boise 2008: above the spill, nobody says how far
        ("ambient", None),
        ("surface; no heat; visible beads", None),  # US EPA, Detroit
    ],
)
def test_a_printed_height_is_known_or_held(words: str, metres: float | None) -> None:
    height = parse_height(words, NOTHING)
    assert height.metres == metres
    assert bool(height.held) == (metres is None)


SITE = 'name = "Test (invented)"\n[[rounds]]\nname = "published"\nreadings = []\n'


def test_the_whole_table_goes_through_the_import(tmp_path: Path, run: Callable[..., Any]) -> None:
    (tmp_path / "site.toml").write_text(SITE, "utf-8")
    done = run(
        "import", "readings", TABLE, "--into", tmp_path, "--column", "height=height_or_note",
        "--column", "floor=", "--column", "round=",
    )  # fmt: skip
    assert done.err == ""
    (file,) = (tmp_path / "readings").iterdir()
    found = list(csv.DictReader(io.StringIO(file.read_text("utf-8-sig"))))
    assert len(found) == len(ROWS)
    for ours, theirs in zip(found, ROWS, strict=True):
        # what is written, as the site's reader puts it together again
        sign = ours["qualifier"] if ours["qualifier"] != "to" else f"{ours['low']} -"
        result = parse_result(f"{sign} {ours['value']}".strip(), NOTHING)
        assert result.value == float(theirs["value_high"]), theirs
        assert result.low == (
            float(theirs["value_low"]) if theirs["qualifier"] == "range" else None
        )
        symbol = {"ug/m3": "µg/m³", "ng/m3": "ng/m³", "mg/kg": "mg/kg"}[theirs["unit_as_reported"]]
        assert ours["unit"] == symbol
        expected = {"=": "", "<": "<", "~": "~", "range": "to", "up to": "up to"}
        assert ours["qualifier"] == expected[theirs["qualifier"]]
        assert theirs["report"] in ours["note"]
        if theirs["location"] != "Field blank":
            assert ours["room"] == theirs["location"]
        assert ours["time"] == theirs["date"]
    blanks = [row for row in found if row["kind"] == "field blank"]
    assert [row["value"] for row in blanks] == ["0.0494"]  # ATSDR, Bartlesville
