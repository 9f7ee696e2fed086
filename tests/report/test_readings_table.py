"""Every reading of a round is in the table, with its verdict and who decided it."""

from __future__ import annotations

import csv
import io
from datetime import datetime

from hgmap.report.readings_table import readings_csv
from hgmap.site.reading import Finding, Reading

PLAIN = Reading(
    id="R1", round="first", floor="ground", room="A", x=1.25, y=2.0, height_m=1.5,
    time=datetime(2026, 3, 2, 9, 30), value=410.0, unit="ng/m3", qualifier="", note="",
    concentration=0.41, band="adult breathing", placed="given", where="readings/a.csv, row 2",
)  # fmt: skip


def rows(*readings: Reading) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(readings_csv(readings, "air"))))


def test_a_reading_is_there_as_written_and_as_computed_with_its_error() -> None:
    (row,) = rows(PLAIN._replace(error=0.0123))
    assert (row["as_written"], row["concentration"], row["concentration_unit"]) == (
        "410 ng/m3", "0.41", "µg/m³",
    )  # fmt: skip
    assert (row["measured_error"], row["verdict"], row["time"]) == (
        "0.012", "usable", "2026-03-02T09:30:00",
    )  # fmt: skip


def test_a_number_has_its_sign_in_the_cell_beside_it() -> None:
    signs = ("", "<", ">", "~", "to", "up to")
    found = rows(*(PLAIN._replace(qualifier=sign) for sign in signs))
    assert [row["qualifier"] for row in found] == list(signs)
    header = list(found[0])
    assert header.index("concentration") == header.index("qualifier") + 1


def test_what_holds_a_reading_stands_with_its_log_rows_and_the_person_who_lifted_it() -> None:
    log_rows = ("instruments/log.csv, row 7", "instruments/log.csv, row 8")
    held = Finding("hold", "saturation", "the film was saturated", log_rows)
    lifted = Finding("hold", "closing-check", "no closing check", (), "AB: seen to pass")
    (row,) = rows(
        PLAIN._replace(held=(held.text,), cautions=(lifted.text,), findings=(held, lifted))
    )
    assert row["verdict"] == "held"
    assert "saturated" in row["held_because"]
    assert row["log_rows"] == "; ".join(log_rows)
    assert row["overruled_by"] == "AB: seen to pass"
    assert "overruled by AB" in row["cautions"]


def test_what_has_no_place_no_value_or_another_medium_is_there_too() -> None:
    nowhere = PLAIN._replace(
        id="F1", floor="", room="", x=None, y=None, kind="field blank", placed="", height_m=None
    )
    bulk = PLAIN._replace(id="K1", kind="bulk sample", medium="bulk", unit="mg/kg", value=200.0,
                          concentration=200.0)  # fmt: skip
    lost = PLAIN._replace(id="L1", value=None, concentration=None, held=("no value",))
    blank, sample, none = rows(nowhere, bulk, lost)
    assert (blank["kind"], blank["x_m"]) == ("field blank", "")
    assert (sample["concentration_unit"], none["concentration_unit"]) == ("mg/kg", "")


def test_text_of_the_user_never_starts_a_formula() -> None:
    (row,) = rows(PLAIN._replace(id="=1+1", note="@SUM(A1)", instrument="-2"))
    assert (row["id"], row["note"], row["instrument"]) == ("'=1+1", "'@SUM(A1)", "'-2")
