"""The sheet of the places to measure again, and its way back as readings."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.batch import MapOptions, map_site
from hgmap.report.drawing import texts
from hgmap.report.resample_sheet import bring_back, resample_sheets, resample_walk
from hgmap.site.folder import read_site

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


@pytest.fixture
def site(make_site: MakeSite, make_rows: Any, make_table: Any, make_plan: Any, make_room: Any
         ) -> Path:  # fmt: skip
    """A site with a room that nobody read and none can walk into."""
    rooms = [make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5), make_room("C", 20, 0, 26, 5)]
    made: Path = make_site(
        plans={"ground": make_plan(*rooms)}, readings={"first.csv": make_table(make_rows())}
    )
    return made


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_a_filled_sheet_is_taken_back_whole(site: Path, run: Run) -> None:
    made = map_site(site, MapOptions(cell_m=0.5))
    out = site / "results" / "first"
    assert (out / "ground" / "resample-sheet.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "ground" / "resample-sheet.png").read_bytes().startswith(b"\x89PNG")
    rows = table(out / "resample-sheet.csv")
    assert rows
    assert all(not row["value"] for row in rows)
    asked = sum(one.repeats + len(one.also_m) for one in made.floors[0].resample.places)
    assert len(rows) == asked
    for minute, row in enumerate(rows):
        row |= {"time": f"2026-03-09T09:{minute:02d}", "value": "0.4", "unit": "ug/m3",
                "instrument": "analyser"}  # fmt: skip
    filled = site / "filled.csv"
    with filled.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    got = run("import", "readings", filled, "--into", site, "--round", "first")
    assert got.code == 0, got.text
    readings = {one.id: one for one in read_site(site).readings}
    for row in rows:
        reading = readings[row["id"]]
        assert reading.held == ()
        assert (reading.room, reading.kind) == (row["room"], row["kind"])
        assert reading.height_m == float(row["height"])
        assert (reading.x, reading.y) == (float(row["x"]), float(row["y"]))


def test_a_room_without_a_way_in_is_to_be_opened_first(site: Path) -> None:
    made = map_site(site, MapOptions(cell_m=0.5))
    shut = [one for one in made.floors[0].resample.places if one.room == "C"]
    assert shut
    assert all(one.way_in == "no way in is drawn: open the room first" for one in shut)
    assert "detection limit at most" in shut[0].instrument


def test_the_stop_rule_stands_in_the_summary_and_on_the_terminal(site: Path, run: Run) -> None:
    got = run("map", site, "--cell", "0.5")
    summary = json.loads((site / "results" / "first" / "summary.json").read_text("utf-8"))
    stop = summary["floors"][0]["stop_rule"]
    assert stop["share"] == 0.05
    assert stop["in_words"] in " ".join(got.out.split())


def test_without_a_variance_there_is_no_stop_rule(site: Path) -> None:
    made = map_site(site, MapOptions(cell_m=0.5, method="idw"))
    stop = made.floors[0].resample.stop
    assert stop is not None
    assert stop.places is None
    assert stop.left_m2 is None
    assert all(one.left_m2 is None for one in made.floors[0].resample.places)


def test_each_sheet_says_how_it_comes_back_and_the_ids_of_a_second_list_are_others(
    site: Path, run: Run, tmp_path: Path
) -> None:
    """The printed command is run as it stands, for the first list and for the second."""
    out = site / "results" / "first"
    files = []
    for _ in (1, 2):
        made = map_site(site, MapOptions(cell_m=0.5)).floors[0]
        walk = resample_walk(made.zones.floor, made.resample)
        page, *_ = resample_sheets(read_site(site), walk, made.resample, "first")
        words = " ".join(texts(page))
        command = re.search(r"`hgmap (.*? --round first)`", words)
        assert command is not None, words
        said = command[1].replace("SITE", str(site)).split()
        rows = table(out / "resample-sheet.csv")
        # near the level, so that there is a second list
        told = {"value": "2.9", "unit": "ug/m3", "instrument": "analyser"}
        filled = tmp_path / said[2]
        files.append(filled.name)
        with filled.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(row | told for row in rows)
        said[2] = str(filled)
        before = read_site(site)
        got = run(*said)
        assert got.code == 0, got.text
        after = read_site(site)
        assert len(after.readings) == len(before.readings) + len(rows)
        assert [one.name for one in after.rounds] == [one.name for one in before.rounds]
        assert {one.round for one in after.readings} == {"first"}
    assert files == ["resample-sheet.csv", "again2-resample-sheet.csv"]
    again = [one for one in read_site(site).readings if one.id.startswith("again")]
    assert {one.id.split("-")[0] for one in again} == {"again", "again2"}
    assert not any(one.held for one in again)


def test_a_round_of_two_words_is_quoted_in_the_command() -> None:
    assert bring_back("after clean-up").endswith('--round "after clean-up"`.')
