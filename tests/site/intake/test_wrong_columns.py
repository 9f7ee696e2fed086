"""The wrong column, unit, date or place is never taken for the right one without a word."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import HgmapError
from hgmap.site.intake.answers import Answers, load_answers
from hgmap.site.intake.import_readings import ImportedReadings, import_readings

START = "ID,Floor,Room,Height (m)"
ROW = "ground,A,1.5"


def bring(text: str, folder: Path, name: str = "a.csv", **said: Any) -> ImportedReadings:
    return import_readings(text.encode(), folder, Answers(**said), name=name)


def rows_of(folder: Path, name: str = "a.csv") -> list[dict[str, str]]:
    text = (folder / "readings" / name).read_text("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize(
    "title",
    ["Action level (ug/m3)", "Guideline ug/m3", "Uncertainty (ng/m3)", "Dust (mg/m3)",
     "Background (ng/m3)", "Std dev (ng/m3)"],
)  # fmt: skip
def test_a_level_or_another_substance_with_a_unit_is_not_the_result(
    title: str, bare_site: Path
) -> None:
    with pytest.raises(HgmapError, match=r"no column of results was found.*--column value="):
        bring(f"{START},Meter,{title}\n1,{ROW},850,3\n", bare_site)


@pytest.mark.parametrize("title", ["RH", "Volume (L)", "Battery (V)", "Wind speed", "Mass (ug)"])
def test_a_lone_column_of_numbers_that_measures_something_else_is_not_the_result(
    title: str, bare_site: Path
) -> None:
    with pytest.raises(HgmapError, match="no column of results was found"):
        bring(f"ID,Room,Height (m),{title}\n1,A,1.5,45\n", bare_site, unit="ug/m3")


def test_a_reporting_limit_is_the_limit_of_a_non_detect(bare_site: Path) -> None:
    bring(f"{START},Result (ug/m3),RL (ug/m3)\n1,{ROW},ND,0.4\n", bare_site)
    assert rows_of(bare_site)[0]["detection_limit"] == "0.4"


def test_two_limits_are_asked(bare_site: Path) -> None:
    with pytest.raises(HgmapError, match="could both be the detection_limit"):
        bring(f"{START},Result (ug/m3),MDL,RL\n1,{ROW},ND,0.1,0.4\n", bare_site)


@pytest.mark.parametrize(
    "line", ["Action level: 1 ug/m3", "Detection limit 50 ng/m3", "it was 3 ug/m3 at the door"]
)
def test_a_level_above_the_table_is_not_the_unit_of_its_results(line: str, bare_site: Path) -> None:
    with pytest.raises(HgmapError, match="no unit, nor has the column; say the unit"):
        bring(f"{line}\n{START},Result\n1,{ROW},850\n", bare_site)


@pytest.mark.parametrize("title", ["Mercury (µg)", "Mercury (ppm)", "Hg (x1000 ng/m3)", "Hg (mV)"])
def test_a_title_with_another_unit_takes_none_from_the_lines_above(
    title: str, bare_site: Path
) -> None:
    with pytest.raises(HgmapError, match="has no unit"):
        bring(f"Results in ug/m3\n{START},{title}\n1,{ROW},0.85\n", bare_site)


@pytest.mark.parametrize("title", ["Hg x1000 ng/m3", "Hg 10^3 ng/m3", "Hg thousands ng/m3"])
def test_a_multiple_of_a_unit_is_not_the_unit(title: str, bare_site: Path) -> None:
    with pytest.raises(HgmapError, match=r"no unit|no column of results"):
        bring(f"{START},{title}\n1,{ROW},0.85\n", bare_site)


def test_units_with_a_colon_before_them_are_no_header(bare_site: Path) -> None:
    done = bring(f"Units:,ng/m3\nMethod:,survey\n{START},Hg\n1,{ROW},850\n", bare_site)
    assert done.header == (3,)
    assert rows_of(bare_site)[0]["unit"] == "ng/m³"


def test_a_unit_column_that_contradicts_the_title_is_held(bare_site: Path) -> None:
    done = bring(f"{START},Hg (ng/m3),Units\n1,{ROW},850,ug/m3\n2,{ROW},850,ng/m3\n", bare_site)
    assert done.doubts == ("row 2: value '850': its row says µg/m³, its title ng/m³",)
    one, two = rows_of(bare_site)
    assert one["value"] == "850 (title: ng/m³)"
    assert two["value"] == "850"


@pytest.mark.parametrize(
    ("below", "answer"),
    [
        (f"{START},Hg (ug/m3)\n2,{ROW},0.9\n", "row 4: another header"),
        ("ID,Floor,Room,Hg (ng/m3),Height (m)\n2,ground,A,880,1.5\n", "row 4: another header"),
        (f"All results from here in ug/m3,,,,\n2,{ROW},0.9\n", "row 5: row 4 says µg/m³"),
    ],
)
def test_another_table_below_is_asked(below: str, answer: str, bare_site: Path) -> None:
    with pytest.raises(HgmapError, match=f"{answer}.*bring the tables in apart"):
        bring(f"{START},Hg (ng/m3)\n1,{ROW},900\n\n{below}", bare_site)
    assert not list(bare_site.glob("readings/*"))


def test_a_header_again_with_columns_changed_over_is_asked(bare_site: Path) -> None:
    with pytest.raises(HgmapError, match="the header again, with its columns in other places"):
        bring(
            "ID,Floor,Room,x,y,Height (m),Hg (ng/m3)\n1,ground,A,1,2,1.5,900\n"
            "ID,Floor,Room,y,x,Height (m),Hg (ng/m3)\n2,ground,A,1,2,1.5,900\n",
            bare_site,
        )


def test_a_footnote_with_a_level_breaks_no_table(bare_site: Path) -> None:
    done = bring(f"{START},Hg (ng/m3)\n1,{ROW},900\naction level 0.8 ug/m3,,,,\n", bare_site)
    assert (done.rows, len(done.left_out)) == (1, 1)


@pytest.mark.parametrize("word", ["Average of room A", "std", "Max reading", "Mean of results:"])
def test_a_line_of_statistics_is_no_reading(word: str, bare_site: Path) -> None:
    done = bring(f"{START},Hg (ng/m3)\n1,{ROW},900\n{word},{ROW},900\n", bare_site)
    assert done.rows == 1
    assert done.left_out[0].text.startswith("row 3: a line of totals")


@pytest.mark.parametrize(
    "title", ["Height (ft AFF)", "Height (feet above floor)", "Height (US ft)"]
)
def test_feet_with_words_beside_them_are_feet(title: str, bare_site: Path) -> None:
    bring(f"ID,Floor,Room,{title},Hg (ug/m3)\n1,ground,A,1,0.9\n", bare_site)
    assert float(rows_of(bare_site)[0]["height"]) == 0.3048


@pytest.mark.parametrize("cell", ["~4", "about 4", "4 above floor", "4"])
def test_a_height_with_words_is_in_the_unit_of_its_column(cell: str, bare_site: Path) -> None:
    bring(f"ID,Floor,Room,Height (ft),Hg (ug/m3)\n1,ground,A,{cell},0.9\n", bare_site)
    assert float(rows_of(bare_site)[0]["height"].lstrip("~")) == 1.2192


@pytest.mark.parametrize(
    ("title", "cell"),
    [("X (tiles)", "3 tiles"), ("X (yd)", "3 yd"), ("X (ft from door)", "0.9144")],
)
def test_a_distance_in_what_is_no_length_is_held(title: str, cell: str, bare_site: Path) -> None:
    bring(f"{START},{title},Y,Hg (ug/m3)\n1,{ROW},3,1,0.9\n", bare_site)
    assert rows_of(bare_site)[0]["x"] == cell


def test_offsets_in_feet_are_never_read_as_metres(bare_site: Path) -> None:
    bring(f"{START},From walls (ft),Hg (ug/m3)\n1,{ROW},W 3; S 4,0.9\n", bare_site)
    assert rows_of(bare_site)[0]["offsets"] == "W 3; S 4 (ft, as the title says)"


def test_the_day_of_an_analysis_is_not_the_day_of_the_reading(bare_site: Path) -> None:
    bring(f"{START},Hg (ug/m3),Date analysed\n1,{ROW},0.9,2026-03-09\n", bare_site)
    row = rows_of(bare_site)[0]
    assert (row["time"], row["note"]) == ("", "Date analysed: 2026-03-09")


def test_dates_that_cannot_be_as_a_person_said_are_asked_again(bare_site: Path) -> None:
    text = f"{START},Hg (ug/m3),Date\n1,{ROW},0.9,3/2/2026\n2,{ROW},0.9,3/13/2026\n"
    with pytest.raises(HgmapError, match=r"row 3: .*cannot be day-first; say --dates month-first"):
        bring(text, bare_site, dates="day-first")


def test_the_same_rows_under_another_name_are_not_taken_twice(bare_site: Path) -> None:
    text = "Floor,Room,Height (m),Hg (ug/m3)\n" + "ground,A,1.5,0.9\nground,B,1.5,0.7\n"
    bring(text, bare_site)
    with pytest.raises(HgmapError, match=r"its rows are in readings/a.csv already"):
        bring(text + "ground,C,1.5,0.6\n", bare_site, name="b.csv")
    assert [one.name for one in bare_site.glob("readings/*")] == ["a.csv"]
    bring(
        "Floor,Room,Height (m),Hg (ug/m3)\nground,A,1.5,0.9\nground,B,1.5,0.8\n", bare_site, "b.csv"
    )


def test_a_mapping_that_is_not_there_is_no_syntax_error(tmp_path: Path) -> None:
    with pytest.raises(HgmapError, match="no such file") as caught:
        load_answers(tmp_path / "none.toml")
    assert "syntax" not in str(caught.value)


def test_a_mean_over_minutes_is_a_result(bare_site: Path) -> None:
    bring(f"{START},1 min mean (ng/m3)\n1,{ROW},500\n", bare_site)
    assert rows_of(bare_site)[0]["value"] == "500"


@pytest.mark.parametrize(
    "days", ["26/03/02\n;26/03/03", "26/03/02\n;26/03/02", "26.03.02\n;26.03.09"]
)
def test_dates_that_may_begin_with_the_year_are_asked(days: str, bare_site: Path) -> None:
    one, two = days.split("\n;")
    text = f"{START},Hg (ug/m3),Date\n1,{ROW},0.9,{one}\n2,{ROW},0.9,{two}\n"
    with pytest.raises(HgmapError, match="begin with the day or with the year"):
        bring(text, bare_site)
    assert bring(text, bare_site, dates="day-first").doubtful == 0


def test_days_of_a_year_with_two_digits_are_not_asked(bare_site: Path) -> None:
    bring(f"{START},Hg (ug/m3),Date\n1,{ROW},0.9,26/03/26\n2,{ROW},0.9,2/4/26\n", bare_site)
    assert [row["time"] for row in rows_of(bare_site)] == ["2026-03-26", "2026-04-02"]


def test_points_that_may_set_thousands_apart_are_asked_and_both_answers_work(
    bare_site: Path,
) -> None:
    text = f"{START},Hg (ng/m3)\n1,ground,A,150 cm,1.850\n2,ground,A,150 cm,950\n"
    text = text.replace(",", ";")
    with pytest.raises(HgmapError, match=r"row 2: '1\.850': is the point a decimal mark"):
        bring(text, bare_site)
    bring(text, bare_site, decimal="comma")
    bring(text, bare_site, "b.csv", decimal="point")
    assert rows_of(bare_site)[0]["value"] == "1850"
    assert float(rows_of(bare_site, "b.csv")[0]["value"]) == 1.85


def test_readings_of_another_day_than_their_round_are_said(bare_site: Path) -> None:
    text = f"{START},Hg (ug/m3),Date\n1,{ROW},0.9,2026-03-16\n2,{ROW},0.9,2025-03-02\n"
    note = "readings of 2025-03-02 to 2026-03-16 go into a round of 2026-03-01: another visit is "
    assert bring(text, bare_site).notes[0].startswith(note)
    near = f"{START},Hg (ug/m3),Date\n3,{ROW},0.9,2026-03-02\n"
    assert bring(near, bare_site, "b.csv").notes == ()


def test_a_corrected_result_beside_the_raw_one_is_asked(bare_site: Path) -> None:
    with pytest.raises(HgmapError, match="could both be the value"):
        bring(f"{START},Raw (ug/m3),Zero corrected (ug/m3)\n1,{ROW},1,0.9\n", bare_site)
