"""A table as it arrives becomes a readings file of the site; no row is lost, nothing is guessed."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, ReadingsError, SiteError
from hgmap.site.intake.answers import Answers, load_answers, merged, read_columns, save_answers
from hgmap.site.intake.cells import unguarded
from hgmap.site.intake.import_readings import ImportedReadings, import_readings
from hgmap.site.intake.synonyms import COLUMNS

TABLE = "Sample;Room;Height (ft);Date;Time;Hg (ng/m3);By\n" \
        "1;A;5;13/03/2026;9:05;100-5.000;X\n2;B;5;02/03/2026;9:06;<41,5;Y\n"  # fmt: skip
SITE = '# ours\nname = "Test (invented)"\n[[rounds]]\nname = "first"\nreadings = []\n'


def bring(
    data: str | bytes,
    folder: Path,
    name: str = "a.csv",
    round_: str | None = None,
    dry_run: bool = False,
    replace: bool = False,
    **said: Any,
) -> ImportedReadings:
    raw = data.encode() if isinstance(data, str) else data
    return import_readings(
        raw, folder, Answers(**said), name=name, round_=round_, dry_run=dry_run, replace=replace
    )


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_rows_are_written_in_our_columns_with_our_units(bare_site: Path) -> None:
    done = bring(TABLE, bare_site)
    path = bare_site / "readings" / "a.csv"
    assert path.read_text("utf-8-sig").splitlines()[0] == ",".join(COLUMNS)
    one, two = rows_of(path)
    assert (one["id"], one["room"], one["time"], one["low"], one["value"], one["qualifier"]) == (
        "1", "A", "2026-03-13T09:05", "100", "5000", "to",
    )  # fmt: skip
    assert (two["value"], two["qualifier"], two["unit"], two["round"]) == (
        "41.5", "<", "ng/m³", "first",
    )  # fmt: skip
    assert float(one["height"]) == 1.524  # 5 ft
    assert one["note"] == "By: X"
    assert done.carried == ("By",)
    assert (done.rows, done.left_out, done.doubtful) == (2, (), 0)
    assert "dates have the day first" in done.notes


def test_the_file_is_listed_and_no_comment_of_the_site_is_lost(bare_site: Path) -> None:
    before = (bare_site / "site.toml").read_text("utf-8")
    bring(TABLE, bare_site)
    after = (bare_site / "site.toml").read_text("utf-8")
    assert after == before.replace("readings = []", 'readings = ["readings/a.csv"]')
    done = bring(TABLE, bare_site, name="b.csv", round_="second", date=dt.date(2026, 3, 16))
    assert done.made_round == "second"
    again = (bare_site / "site.toml").read_text("utf-8")
    assert [line for line in after.splitlines() if line not in again.splitlines()] == []
    assert 'name = "second"\ndate = 2026-03-16\nreadings = ["readings/b.csv"]' in again
    assert bring(TABLE, bare_site, name="b.csv", round_="second", replace=True).made_round == ""
    assert (bare_site / "site.toml").read_text("utf-8") == again


@pytest.mark.parametrize(
    "rounds",
    [
        'rounds = [{name = "first", readings = ["readings/x.csv"]}] # inline\n',
        'rounds = []\n[map]\ncell_m = 0.5 # kept\n',
        '[map]\ncell_m = 0.5 # kept\n',
        '[[rounds]]\nname = "first" # kept\n[map]\ncell_m = 0.5\n',
        '[[rounds]]\nname = "first"\nreadings = [\n  "readings/x.csv", # kept\n]\n',
    ],
)  # fmt: skip
def test_every_form_of_the_rounds_is_edited_in_place(tmp_path: Path, rounds: str) -> None:
    text = f'# top\nname = "Test (invented)"\n{rounds}'
    (tmp_path / "site.toml").write_text(text, "utf-8")
    bring(TABLE, tmp_path, round_="first")
    bring(TABLE, tmp_path, name="b.csv", round_="next")
    after = (tmp_path / "site.toml").read_text("utf-8")
    for comment in re.findall("#.*", text):
        assert comment in after
    for file in ("a.csv", "b.csv"):
        assert f'"readings/{file}"' in after


def test_a_round_that_is_not_said_is_asked_where_there_are_several(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(SITE + '[[rounds]]\nname = "second"\n', "utf-8")
    with pytest.raises(ReadingsError, match=r"--round: the site has 2 rounds \('first', 'second'"):
        bring(TABLE, tmp_path)
    with pytest.raises(SiteError, match="would be written like round 'first'"):
        bring(TABLE, tmp_path, round_="First")
    with pytest.raises(SiteError, match="1 to 60 characters"):
        bring(TABLE, tmp_path, round_="x" * 61)


def test_rows_may_name_their_rounds_and_the_file_is_listed_under_each(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(SITE + '[[rounds]]\nname = "second"\n', "utf-8")
    table = "id,room,value,unit,round\n1,A,1,ug/m3,first\n2,A,1,ug/m3,second\n3,A,1,ug/m3,"
    with pytest.raises(ReadingsError, match="row 4: a row names no round"):
        bring(table, tmp_path)
    done = bring(table, tmp_path, round_="first")
    assert done.rounds == ("first", "second")
    assert (tmp_path / "site.toml").read_text("utf-8").count("readings/a.csv") == 2


def test_a_file_is_not_written_over_and_a_dry_run_writes_nothing(bare_site: Path) -> None:
    before = (bare_site / "site.toml").read_bytes()
    done = bring(TABLE, bare_site, dry_run=True)
    assert (done.rows, done.rounds) == (2, ("first",))
    assert [one.name for one in bare_site.iterdir()] == ["site.toml"]
    bring(TABLE, bare_site)
    with pytest.raises(ReadingsError, match="the file is there already"):
        bring(TABLE, bare_site)
    bring(TABLE.replace("41,5", "42,5"), bare_site, replace=True)
    assert rows_of(bare_site / "readings" / "a.csv")[1]["value"] == "42.5"
    assert before != (bare_site / "site.toml").read_bytes()


def test_where_the_site_cannot_be_written_the_readings_are_taken_back(
    bare_site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, text: str) -> None:
        raise HgmapError("cannot be written", where=str(path))

    monkeypatch.setattr("hgmap.site.intake.import_readings.write_site_text", refuse)
    with pytest.raises(HgmapError, match="cannot be written"):
        bring(TABLE, bare_site)
    assert not list((bare_site / "readings").iterdir())


def test_without_a_site_nothing_is_made(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r"has no site\.toml; import a plan first"):
        bring(TABLE, tmp_path / "nowhere")
    assert not (tmp_path / "nowhere").exists()


def test_a_person_answers_the_questions(bare_site: Path) -> None:
    table = 'id,room,Result,when\n1,A,"1,850",02/03/2026\n2,A,"2,100-4,000",02/03/2026\n'
    for said, question in (
        ({}, "--dates"),
        ({"dates": "month-first"}, "--decimal"),
        ({"dates": "month-first", "decimal": "point"}, "--unit"),
    ):
        with pytest.raises(ReadingsError, match=question):
            bring(table, bare_site, **said)
    bring(table, bare_site, dates="month-first", decimal="point", unit="ng/m3")
    one, two = rows_of(bare_site / "readings" / "a.csv")
    assert (one["value"], one["unit"], one["time"]) == ("1850", "ng/m³", "2026-02-03")
    assert (two["low"], two["value"], two["qualifier"]) == ("2100", "4000", "to")
    bring(table, bare_site, "b.csv", dates="day-first", decimal="comma", unit="ug/m3")
    one, two = rows_of(bare_site / "readings" / "b.csv")
    assert (one["value"], one["time"], two["low"]) == ("1.8500", "2026-03-02", "2.1000") or (
        one["value"], one["time"], two["low"]) == ("1.85", "2026-03-02", "2.1")  # fmt: skip


def test_a_decimal_comma_of_other_rows_does_not_decide_a_point(bare_site: Path) -> None:
    table = "id;room;Hg (ng/m3)\n1;A;0,41\n2;A;1.850\n"
    with pytest.raises(ReadingsError, match=r"row 3: column 'Hg \(ng/m3\)': value '1\.850'"):
        bring(table, bare_site)
    bring(table, bare_site, decimal="comma")
    assert [row["value"] for row in rows_of(bare_site / "readings" / "a.csv")] == ["0.41", "1850"]


def test_a_unit_that_contradicts_the_title_is_refused(bare_site: Path) -> None:
    with pytest.raises(ReadingsError, match="says ng/m³, not µg/m³"):
        bring(TABLE, bare_site, unit="ug/m3")
    with pytest.raises(ReadingsError, match="--unit: unit 'bananas' is not known"):
        bring(TABLE, bare_site, unit="bananas")


def test_results_in_words_and_with_remarks_stay_as_they_stand(bare_site: Path) -> None:
    table = ("id;room;Flag;Hg (ng/m3)\n1;A;;ND\n2;A;U;0,41\n3;A;;trace\n4;A;>;999\n5;A;;0,5*\n"
             "6;A;~;150\n7;A;=;12,5\n8;A;U;ND\n9;A;J;0,5\n10;A;R;0,5\n")  # fmt: skip
    bring(table, bare_site)
    found = [(row["qualifier"], row["value"]) for row in rows_of(bare_site / "readings" / "a.csv")]
    assert found == [("", "ND"), ("", "U 0.41"), ("", "trace"), (">", "999"), ("", "0.5*"),
                     ("~", "150"), ("", "12.5"), ("", "ND"), ("~", "0.5"),
                     ("", "R 0,5")]  # fmt: skip


def test_heights_in_words_stay_and_measures_become_metres(bare_site: Path) -> None:
    table = (
        'id,room,height,value,unit\n1,A,waist,1,ug/m3\n2,A,"5\'6""",1,ug/m3\n3,A,18 in,1,ug/m3\n'
    )
    bring(table, bare_site)
    heights = [row["height"] for row in rows_of(bare_site / "readings" / "a.csv")]
    assert heights == ["waist", "1.6764", "0.4572"]


def test_heights_that_may_be_feet_are_asked(bare_site: Path) -> None:
    # 1 would be an adult's breathing zone in metres, and a child's in feet
    table = "id,room,height,value,unit\n1,A,1,1,ug/m3\n2,A,5,1,ug/m3\n"
    with pytest.raises(ReadingsError, match=r"row 3: column 'height': '5' would be metres.*\(ft\)"):
        bring(table, bare_site)
    bring(table.replace("height", "height (ft)"), bare_site)
    assert [float(row["height"]) for row in rows_of(bare_site / "readings" / "a.csv")] == [
        0.3048, 1.524,
    ]  # fmt: skip
    bring(table.replace("height", "height (m)"), bare_site, name="b.csv")


def test_the_sites_own_file_is_never_written_over_by_itself(bare_site: Path) -> None:
    raw = bare_site / "readings" / "raw.csv"
    raw.parent.mkdir()
    raw.write_text(TABLE, "utf-8")
    with pytest.raises(ReadingsError, match="is the site's own file"):
        bring(raw.read_bytes(), bare_site, name="raw.csv", replace=True)
    assert raw.read_text("utf-8") == TABLE


def test_a_folder_in_the_way_is_one_line(bare_site: Path) -> None:
    (bare_site / "readings" / "a.csv").mkdir(parents=True)
    with pytest.raises(HgmapError, match=r"a\.csv: cannot be written"):
        bring(TABLE, bare_site, replace=True)
    assert [one.name for one in (bare_site / "readings").iterdir()] == ["a.csv"]


def test_a_day_of_a_workbook_is_no_midnight(bare_site: Path) -> None:
    bring("id,room,date,value,unit\n1,A,2026-03-02 00:00:00,1,ug/m3\n", bare_site)
    assert rows_of(bare_site / "readings" / "a.csv")[0]["time"] == "2026-03-02"


def test_dates_that_a_spreadsheet_may_have_turned_round_are_asked(bare_site: Path) -> None:
    # 13/03 stayed text, so 02/03 was read with the month first: 3 February for 2 March
    table = "id,room,when,Hg (ng/m3)\n1,A,2026-02-03 00:00:00,1\n2,A,13/03/2026,1\n"
    with pytest.raises(ReadingsError, match=r"row 3: column 'when' holds '13/03/2026' as text"):
        bring(table, bare_site)
    assert bring(table, bare_site, dates="day-first").rows == 2
    assert bring(table.replace("02-03", "03-14"), bare_site, name="b.csv").rows == 2


def test_the_mapping_says_where_the_unit_comes_from(bare_site: Path) -> None:
    for table, said, why in (
        (TABLE, {}, "from the title 'Hg (ng/m3)'"),
        ("in ng/m3\nroom,result\nA,1\n", {}, "from row 1"),
        ("room,result\nA,1\n", {"unit": "ng/m3"}, "as said"),
    ):
        done = bring(table, bare_site, dry_run=True, **said)
        (unit,) = (one for one in done.matches if one.ours == "unit")
        assert (unit.example, unit.why) == ("ng/m³", why)


def test_kinds_places_and_air_are_carried_over(bare_site: Path) -> None:
    table = ("id;room;kind;grid;offsets;Temp (F);Pressure (mbar);LOD;Hg (ng/m3);parent\n"
             "1;A;dup of 7;C4;left 1,2, bottom 0,8;68;1013,25;0,5;12,5;\n"
             "2;Field blank;;;;;;;ND;\n3;A;room air;;;;;;12,5;9\n")  # fmt: skip
    done = bring(table, bare_site)
    one, two, three = rows_of(bare_site / "readings" / "a.csv")
    assert (one["kind"], one["duplicate_of"], one["grid"]) == ("duplicate", "7", "C4")
    assert one["offsets"] == "left 1.2, bottom 0.8"
    assert (one["temperature"], float(one["pressure"])) == ("20", 101.325)
    assert one["detection_limit"] == "0.5"
    assert (two["kind"], two["room"], two["note"]) == ("field blank", "", "Field blank")
    assert (three["kind"], three["duplicate_of"]) == ("duplicate", "9")
    assert any("1 row names a blank" in note for note in done.notes)


def test_a_floor_can_be_said_for_readings_that_name_none(bare_site: Path) -> None:
    table = (
        "Location,Floor,Hg (ng/m3),Height (m)\nRoom A,,100,1.5\nRoom B,attic,100,1.5\n"
        "Outdoors,,5,1.5\n"
    )
    bring(table, bare_site, floor="=ground")
    a, b, outside = rows_of(bare_site / "readings" / "a.csv")
    assert (a["floor"], b["floor"]) == ("'=ground", "attic")
    assert (outside["kind"], outside["floor"]) == ("background", "")


def test_saved_answers_answer_the_next_time(bare_site: Path, tmp_path: Path) -> None:
    answers = Answers(
        columns={"value": "x1", "note": ""}, unit="ng/m3", dates="day-first", decimal="comma",
        sheet="S", date=dt.date(2026, 3, 2), floor="east",
    )  # fmt: skip
    save_answers(tmp_path / "m.toml", answers)
    assert load_answers(tmp_path / "m.toml") == answers
    over = merged(answers, Answers(columns={"value": "x2"}, unit="ug/m3"))
    assert (over.columns, over.unit, over.decimal) == ({"value": "x2", "note": ""}, "ug/m3",
                                                       "comma")  # fmt: skip
    for text, why in (("unti = 'x'", "did you mean 'unit'"), ("dates = 'x'", "key 'dates'"),
                      ("=", "TOML syntax"), ("unit = 'bananas'", "not known")):  # fmt: skip
        (tmp_path / "m.toml").write_text(text, "utf-8")
        with pytest.raises(ReadingsError, match=why):
            load_answers(tmp_path / "m.toml")
    for text in ("value", "=x"):
        with pytest.raises(ReadingsError, match="is not a column"):
            read_columns([text])
    with pytest.raises(ReadingsError, match="said twice"):
        read_columns(["value=a", "VALUE=b"])


def test_the_command_saves_the_mapping_and_takes_it_again(
    bare_site: Path, tmp_path: Path, run: Callable[..., Any]
) -> None:
    (tmp_path / "a.csv").write_text(TABLE, "utf-8")
    (tmp_path / "b.csv").write_text(TABLE, "utf-8")
    mapping = tmp_path / "m.toml"
    done = run("import", "readings", tmp_path / "a.csv", "--into", bare_site, "--save-mapping",
               mapping, "--column", "note=By")  # fmt: skip
    assert done.code == 0, done.text
    assert re.search(r"^value +Hg \(ng/m3\) +100-5\.000 +by its title *$", done.out, re.MULTILINE)
    saved = load_answers(mapping)
    assert saved.columns["note"] == "By"
    assert saved.columns["value"] == "Hg (ng/m3)"
    done = run("import", "readings", tmp_path / "b.csv", "--into", bare_site, "--mapping", mapping)
    assert done.code == 0, done.text
    assert rows_of(bare_site / "readings" / "b.csv")[0]["note"] == "X"


def test_pasted_text_is_read_from_standard_input(
    bare_site: Path, run: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TABLE.encode())))
    done = run("import", "readings", "-", "--into", bare_site)
    assert "2 readings written to readings/pasted.csv" in done.out


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (("nowhere.csv",), "nowhere.csv: no such file"),
        (("x.csv", "--date", "yesterday"), "--date: 'yesterday' is not a day"),
        (("x.csv", "--column", "value"), "--column: 'value' is not a column"),
        (("x.csv", "--sheet", "S"), "is no workbook and has no sheets"),
        (("x.csv", "--mapping", "nowhere.toml"), "nowhere.toml: no such file"),
    ],
)
def test_a_wrong_word_is_one_line(
    words: tuple[str, ...],
    answer: str,
    bare_site: Path,
    run: Callable[..., Any],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(bare_site.parent)
    Path("x.csv").write_text(TABLE, "utf-8")
    done = run("import", "readings", *words, "--into", bare_site)
    assert done.code == 2
    assert answer in done.err


CELLS = st.text(
    st.characters(codec="utf-8", exclude_characters="\r"), max_size=12
) | st.sampled_from(
    [
        "",
        "0.5",
        "<0.41",
        "ND",
        "1,5",
        "Total",
        "id",
        "A",
        "=1+1",
        "2026-03-02",
        "waist",
        '"',
        "ug/m3",
    ]
)
TABLES = st.lists(st.lists(CELLS, min_size=1, max_size=9), max_size=8)


def _accounted(done: ImportedReadings, lines: int) -> None:
    """Every row below the header is written, or in the list of those left out."""
    left_out = sum(one.last - one.first + 1 for one in done.left_out)
    assert done.rows + left_out + len(done.header) == lines


@given(TABLES, st.sampled_from([",", ";", "\t", "|"]))
def test_no_row_is_lost_whatever_the_cells(table: list[list[str]], delimiter: str) -> None:
    """Rows of the input are rows written and rows listed; the count is the csv module's."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    writer.writerows([["id", "floor", "room", "x", "y", "height", "value", "unit", "note"], *table])
    written = out.getvalue()
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "site.toml").write_text(SITE, "utf-8")
        try:
            done = bring(written, Path(folder))
        except ReadingsError:
            assert not (Path(folder) / "readings").exists() or not list(
                (Path(folder) / "readings").iterdir()
            )
            return
        rows = rows_of(Path(folder) / "readings" / "a.csv")
    assert len(rows) == done.rows
    # an empty line inside a quoted cell is no row; the header is one
    _accounted(done, len(list(csv.reader(io.StringIO(written), delimiter=delimiter))))


@given(st.text(max_size=300) | st.binary(max_size=300))
def test_arbitrary_text_is_one_line_or_is_accounted_for(data: str | bytes) -> None:
    raw = data.encode("utf-8", "replace") if isinstance(data, str) else data
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "site.toml").write_text(SITE, "utf-8")
        try:
            done = bring(b"id,room,value,unit\n" + raw, Path(folder))
        except ReadingsError:
            assert not (Path(folder) / "readings" / "a.csv").exists()
        else:
            assert done.rows == len(rows_of(Path(folder) / "readings" / "a.csv"))
            assert done.rows >= 1


PLAIN = st.text(
    st.characters(codec="ascii", categories=["L", "N", "P", "S"]), min_size=1, max_size=9
)
PLAIN_ROWS = st.lists(
    st.tuples(
        PLAIN.filter(lambda text: not text.startswith("'")),
        st.floats(0.001, 1e6),
        st.sampled_from(["", "<", ">", "~", "up to"]),
        st.sampled_from(["µg/m³", "ng/m³", "mg/m³"]),
        st.floats(-50, 50),
        st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2060, 1, 1)),
    ),
    min_size=1,
    max_size=6,
)


@given(PLAIN_ROWS)
def test_any_table_that_was_written_comes_back_the_same(rows: list[Any]) -> None:
    """What an import wrote is imported again: the same file, cell by cell."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["id", "room", "note", "value", "qualifier", "unit", "x", "time"])
    for text, value, sign, unit, x, moment in rows:
        writer.writerow(["R1", "A", text, repr(value), sign, unit, repr(x), moment.isoformat(" ")])
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "site.toml").write_text(SITE, "utf-8")
        bring(out.getvalue(), Path(folder))
        path = Path(folder) / "readings" / "a.csv"
        first = rows_of(path)
        bring(path.read_bytes(), Path(folder), name="b.csv")
        assert rows_of(Path(folder) / "readings" / "b.csv") == first
    for found, (text, value, sign, unit, x, moment) in zip(first, rows, strict=True):
        assert unguarded(found["note"]) == text
        assert (float(found["value"]), found["qualifier"], found["unit"]) == (value, sign, unit)
        assert float(found["x"]) == pytest.approx(x, abs=1e-6)
        assert dt.datetime.fromisoformat(found["time"]) == moment.replace(microsecond=0)
