"""``hgmap compare`` from the command line: what it writes, what it says, what it refuses."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.compare import compare_read_site, compare_site
from hgmap.floor_map import MapOptions
from hgmap.report.drawing import Label, Sheet
from hgmap.site.folder import read_site

MakeSite = Callable[..., Path]
Run = Callable[..., Any]
ARGUMENTS = ("--from", "first", "--to", "second", "--cell", "0.5")


def scaled(rows: list[str], factor: float, rooms: str = "AB") -> list[str]:
    """Multiply the values of some rooms' rows."""
    done = []
    for row in rows:
        cells = row.split(",")
        if cells[2] in rooms:
            cells[7] = f"{float(cells[7]) * factor:.5g}"
        done.append(",".join(cells))
    return done


@pytest.fixture
def two_rounds(make_site: MakeSite, make_table: Any, make_rows: Any) -> MakeSite:
    """Return a function that makes a site of two rounds, the second a multiple of the first."""

    def make(factor: float = 0.05, rooms: str = "AB", **changed: Any) -> Path:
        rows = list(make_rows())
        return make_site(
            readings={"first.csv": make_table(rows),
                      "second.csv": make_table(scaled(rows, factor, rooms))},
            **changed,
        )  # fmt: skip

    return make


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text("utf-8-sig").splitlines()))


def test_a_comparison_writes_a_map_a_floor_and_its_tables(two_rounds: MakeSite, run: Run) -> None:
    site = two_rounds()
    got = run("compare", site, *ARGUMENTS)
    out = site / "results/first-to-second"
    assert sorted(str(one.relative_to(out)) for one in out.rglob("*") if one.is_file()) == [
        "compare-places.csv", "compare-rooms.csv", "compare-zones.csv", "compare.json",
        "ground/change.pdf", "ground/change.png",
    ]  # fmt: skip
    rooms = rows_of(out / "compare-rooms.csv")
    assert [one["outcome"] for one in rooms] == ["fell", "fell"]
    for one in rooms:
        ratio = float(one["ratio_after_to_before"])
        assert float(one["ratio_low_95"]) < 0.05 < float(one["ratio_high_95"])
        assert float(one["reduction_percent"]) == pytest.approx(100 * (1 - ratio), abs=0.1)
    zones = rows_of(out / "compare-zones.csv")
    assert sum(float(one["area_m2"]) for one in zones) == pytest.approx(60.0, abs=0.01)
    places = rows_of(out / "compare-places.csv")
    assert len(places) == 15
    assert {one["direction"] for one in places} == {"fell"}
    summary = json.loads((out / "compare.json").read_bytes())
    (floor,) = summary["floors"]
    assert floor["places"]["ratio"] == pytest.approx(0.05, rel=1e-3)
    assert floor["places"]["word"] == "fell"
    total = sum(
        value for key, value in floor.items() if key.startswith("area_") and key != "area_m2"
    )
    assert total == pytest.approx(floor["area_m2"])
    assert "2 rooms fell, 0 rose, 0 cannot tell" in got.out
    assert "Local codes and licensed practice decide" in got.out


@pytest.mark.usefixtures("no_change_sheets")
def test_a_round_that_fell_everywhere_ends_clean(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    rows = list(make_rows())
    site = make_site(readings={"first.csv": make_table(rows),
                               "second.csv": make_table(scaled(rows, 0.05))})  # fmt: skip
    state_temperatures(site, 20.0, 20.4)
    got = run("compare", site, *ARGUMENTS)
    assert "warning" not in got.out, got.out
    assert got.code == 0, got.text


@pytest.mark.usefixtures("no_change_sheets")
def test_a_room_that_came_back_is_something_to_read(two_rounds: MakeSite, run: Run) -> None:
    site = two_rounds(8.0, "B")
    state_temperatures(site, 20.0, 20.4)
    got = run("compare", site, *ARGUMENTS)
    assert got.code == 1
    assert "1 rebounded" in got.out
    first, second = rows_of(site / "results/first-to-second/compare-rooms.csv")
    assert (first["outcome"], first["rebounded"]) == ("cannot tell", "no")
    assert (second["outcome"], second["rebounded"]) == ("rose", "yes")


@pytest.mark.usefixtures("no_change_sheets")
def test_a_fall_in_a_colder_round_is_said_to_be_no_evidence(two_rounds: MakeSite, run: Run) -> None:
    site = two_rounds()
    state_temperatures(site, 26.0, 12.0)
    got = run("compare", site, *ARGUMENTS)
    assert got.code == 1
    assert "a fall in the colder round is no evidence of cleaning" in got.out


@pytest.mark.usefixtures("no_change_sheets")
def test_a_temperature_that_nobody_stated_is_said(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    rows = list(make_rows())
    site = make_site(readings={"first.csv": make_table(rows),
                               "second.csv": make_table(scaled(rows, 0.05))})  # fmt: skip
    got = run("compare", site, *ARGUMENTS)
    assert got.code == 1
    assert "temperature not stated" in got.out


@pytest.mark.usefixtures("no_change_sheets")
def test_by_a_method_without_an_error_model_no_room_can_be_told(
    two_rounds: MakeSite, run: Run
) -> None:
    site = two_rounds()
    got = run("compare", site, *ARGUMENTS, "--method", "idw")
    assert got.code == 1
    rooms = rows_of(site / "results/first-to-second/compare-rooms.csv")
    assert {one["outcome"] for one in rooms} == {"cannot tell"}
    assert all("no average with an error" in one["reasons"] for one in rooms)
    (floor,) = json.loads((site / "results/first-to-second/compare.json").read_bytes())["floors"]
    assert (floor["area_fell_m2"], floor["area_rose_m2"]) == (0.0, 0.0)
    assert floor["area_cannot_tell_m2"] == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "first", "--to", "first"), "cannot be compared with itself"),
        (("--from", "last", "--to", "first"), "no round 'last'"),
        (("--from", "first", "--to", "third"), "no round 'third'"),
        (("--from", "first", "--to", "second", "--floor", "attic"), "no floor 'attic'"),
        (("--from", "first", "--to", "second", "--height", "roof"), "no height band 'roof'"),
        (("--from", "first", "--to", "second", "--cell", "0"), "--cell"),
        (("--from", "first", "--to", "second", "--level", "0 ug/m3"), "level"),
    ],
)
def test_what_cannot_be_compared_is_one_line_and_nothing_is_written(
    two_rounds: MakeSite, run: Run, words: tuple[str, ...], said: str
) -> None:
    site = two_rounds()
    got = run("compare", site, *words)
    assert got.code == 2
    assert said in got.err
    assert not list(site.glob("results/**/*.csv"))


def test_a_round_without_a_surface_is_named(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    rows = list(make_rows())
    site = make_site(readings={"first.csv": make_table(rows),
                               "second.csv": make_table(rows[:1])})  # fmt: skip
    got = run("compare", site, *ARGUMENTS)
    assert got.code == 2
    assert "no surface in round 'second'" in got.err


@pytest.mark.usefixtures("no_change_sheets")
def test_one_floor_of_a_site_has_a_folder_of_its_own(two_rounds: MakeSite, run: Run) -> None:
    site = two_rounds()
    run("compare", site, *ARGUMENTS, "--floor", "ground")
    assert (site / "results/first-to-second-ground/compare.json").is_file()
    run("compare", site, *ARGUMENTS, "--out", site / "elsewhere")
    assert (site / "elsewhere/compare.json").is_file()


def test_the_sheet_names_both_rounds_and_every_text_is_on_the_page(
    two_rounds: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hgmap.batch import MapOptions
    from hgmap.compare import compare_site

    sheets: list[Sheet] = []
    monkeypatch.setattr("hgmap.compare.paper.write", lambda _, sheet, **__: sheets.append(sheet))
    compare_site(two_rounds(), "first", "second", MapOptions(cell_m=0.5))
    sheet = sheets[0]
    labels = [one for one in sheet.page if isinstance(one, Label)]
    texts = " ".join(one.text for one in labels)
    assert "change from first, 1 March 2026, to second, 2 March 2026" in texts
    for words in ("What became of the air", "cannot tell", "no change", "1 Room A", "2 Room B",
                  "15 fell", "INVENTED DATA", "Action level"):  # fmt: skip
        assert words in texts, words
    for one in labels:
        assert 0.0 <= one.x <= sheet.width_mm
        assert 0.0 <= one.y <= sheet.height_mm, one.text
    on_plan = [one.text for one in sheet.frames[0].drawing if isinstance(one, Label)]
    assert any(text.startswith("1") for text in on_plan)
    assert any(text.startswith("× 0.05") for text in on_plan)
    assert math.isfinite(sheet.frames[0].mm_per_m)


def state_temperatures(site: Path, first: float, second: float) -> None:
    """Write the temperature of each of two rounds into site.toml."""
    text = (site / "site.toml").read_text("utf-8")
    for name, value in (("first", first), ("second", second)):
        line = f'readings = ["readings/{name}.csv"]\n'
        assert line in text
        text = text.replace(line, f"{line}conditions = {{ temperature_c = {value} }}\n")
    (site / "site.toml").write_text(text, "utf-8")


@pytest.fixture
def no_change_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing out, where a test is about something else and has to be quick."""
    monkeypatch.setattr("hgmap.compare.paper.write", lambda *_, **__: None)


@pytest.mark.usefixtures("no_change_sheets")
@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda row: row.replace(",1.5,", ",0.3,"), "second has 15 at 'child breathing'"),
        (lambda row: row.replace("ug/m3", "furlong"), "second has none"),
        (lambda _: None, "second has none"),
    ],
)
def test_rounds_that_share_no_height_are_told_apart(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any, spoil: Any, says: str
) -> None:
    rows = list(make_rows())
    other = [one for one in map(spoil, rows) if one]
    site = make_site(readings={"first.csv": make_table(rows), "second.csv": make_table(other)})
    got = run("compare", site, *ARGUMENTS)
    assert got.code == 2
    assert "no height band has usable readings of both rounds: first has 15 at" in got.err
    assert says in got.err


@pytest.mark.usefixtures("no_change_sheets")
def test_rounds_given_the_other_way_round_are_said(two_rounds: MakeSite, run: Run) -> None:
    got = run("compare", two_rounds(), "--from", "second", "--to", "first", "--cell", "0.5")
    assert got.code == 1
    assert "--from second (2026-03-02) is later than --to first (2026-03-01)" in got.out.replace(
        "\n", " "
    )


@pytest.mark.usefixtures("no_change_sheets")
def test_a_building_that_stood_otherwise_is_said(two_rounds: MakeSite, run: Run) -> None:
    site = two_rounds()
    path = site / "site.toml"
    text = path.read_text("utf-8").replace(
        'readings = ["readings/first.csv"]\n',
        'readings = ["readings/first.csv"]\n[rounds.conditions]\nwindows = "closed"\n'
        'hours_closed = 60\n[rounds.openings.ground]\nd1 = "sealed"\n',
    )
    text += '[rounds.conditions]\nwindows = "open"\nventilation = "raised"\n'
    path.write_text(text, "utf-8")
    got = run("compare", site, *ARGUMENTS)
    said = " ".join(got.out.split())
    assert got.code == 1, got.text
    assert "windows closed, then open" in said
    assert "ventilation not stated, then raised" in said
    assert "hours shut up before 60, then not stated" in said
    assert "d1 sealed, then open" in said


@pytest.mark.usefixtures("no_change_sheets")
def test_a_round_read_with_another_instrument_is_said(
    make_site: MakeSite, run: Run, make_rows: Any
) -> None:
    header = "id,floor,room,x,y,height,time,value,unit,qualifier,note,instrument\n"
    tables = {
        f"{name}.csv": header + "".join(f"{row},{tool}\n" for row in make_rows())
        for name, tool in (("first", "gold film 1"), ("second", "Zeeman 2"))
    }
    got = run("compare", make_site(readings=tables), *ARGUMENTS)
    assert "read with gold film 1, then with Zeeman 2" in " ".join(got.out.split()), got.text


def test_what_stands_against_the_readings_of_each_round_is_on_the_change_sheet(
    two_rounds: MakeSite,
) -> None:
    site = read_site(two_rounds())  # without an instrument log
    found = compare_read_site(site, "first", "second", MapOptions(cell_m=0.5))
    (sheet,) = found.sheets
    printed = [one.text for one in sheet.page if isinstance(one, Label)]
    together = " ".join(" ".join(printed).split())
    for name in ("first", "second"):
        reason = f"{name}: readings fit with cautions: no instrument log: nothing vouches for"
        assert reason.casefold() in together.casefold()
        assert any(one.casefold().startswith(reason) for one in found.notes)


def test_every_note_on_a_visit_is_in_the_results_where_the_sheet_says_they_are(
    two_rounds: MakeSite, tmp_path: Path
) -> None:
    options = MapOptions(cell_m=0.5, out=tmp_path / "out")
    site = two_rounds()
    table = site / "readings/second.csv"
    *rows, last = table.read_text("utf-8").splitlines()
    cells = last.split(",")
    cells[7] = "<0.01"
    table.write_text("\n".join((*rows, ",".join(cells), "")), "utf-8")
    found = compare_site(site, "first", "second", options)
    summary = json.loads((tmp_path / "out/compare.json").read_bytes())
    told = summary["floors"][0]["notes"]
    change = found.floors[0]
    for visit in (change.before, change.after):
        assert visit.surface is not None
        for text in (*visit.surface.notes, *visit.evidence.notes):
            assert any(one.endswith(f": {text}") for one in told), text
    assert told
