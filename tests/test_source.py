"""``hgmap source`` from the command line: files, words, and floors that fail."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pytest

from hgmap.batch import MapOptions
from hgmap.decide.origin_model import HINT
from hgmap.errors import HgmapError
from hgmap.report.drawing import Sheet, texts
from hgmap.source import source_site

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


def test_places_are_printed_and_written(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    got = run("source", site, "--cell", "0.5")
    assert got.code == 0, got.text
    assert "  1. " in got.out
    assert "% of draws" in got.out
    assert "a hint where to look, not a finding" in got.out
    folder = site / "results" / "first" / "source"
    assert {one.name for one in folder.iterdir()} == {
        "ground", "where-from.csv", "where-from.gpkg", "where-from.json"
    }  # fmt: skip
    assert (folder / "ground" / "where-from.pdf").read_bytes().startswith(b"%PDF")
    rows = list(csv.DictReader((folder / "where-from.csv").read_text("utf-8-sig").splitlines()))
    summary = json.loads((folder / "where-from.json").read_text("utf-8"))
    sources = summary["floors"][0]["sources"]
    assert [row["rank"] for row in rows] == [str(one["rank"]) for one in sources]
    assert all(row["hint"] == summary["hint"] for row in rows)
    assert float(rows[0]["share_of_draws"]) == pytest.approx(sources[0]["share_of_draws"], abs=1e-3)
    layer = gpd.read_file(folder / "where-from.gpkg", layer="likely_sources")
    assert list(layer["rank"]) == [one["rank"] for one in sources if one["x_m"] is not None]
    regions = gpd.read_file(folder / "where-from.gpkg", layer="likely_source_regions")
    assert set(regions["rank"]) <= set(layer["rank"])
    assert not (site / "results" / "first" / "map.pdf").exists()


def test_the_key_of_the_sheet_names_every_mark(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheets: list[Sheet] = []
    monkeypatch.setattr("hgmap.source.paper.write", lambda _, sheet: sheets.append(sheet))
    source_site(make_site(), MapOptions(cell_m=0.5))
    for sheet in sheets:
        told = " ".join(texts(sheet))
        for mark in ("Numbers:", "+:", "Small dots:", "Broken line:"):
            assert mark in told
    assert sheets


def test_a_second_run_says_the_same(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    for out in ("one", "two"):
        run("source", site, "--cell", "0.5", "--out", site / out)
    assert (site / "one" / "where-from.csv").read_text("utf-8") == (
        site / "two" / "where-from.csv"
    ).read_text("utf-8")


def test_a_floor_that_fails_does_not_stop_the_others(
    make_site: MakeSite, run: Run, make_plan: Any, monkeypatch: pytest.MonkeyPatch,
    make_table: Any, make_rows: Any,
) -> None:  # fmt: skip
    import hgmap.source

    site = make_site(
        plans={"ground": make_plan(), "upper": make_plan()},
        readings={"first.csv": make_table([*make_rows(), *make_rows(floor="upper", prefix="U")])},
    )
    whole = hgmap.source.estimate_floor

    def fails(site: Any, floor: Any, *rest: Any) -> Any:
        if floor.name == "ground":
            raise MemoryError
        return whole(site, floor, *rest)

    monkeypatch.setattr(hgmap.source, "estimate_floor", fails)
    got = run("source", site, "--cell", "0.5")
    assert got.code == 1
    assert "not made: " in got.out
    assert "not enough memory" in got.out
    folder = site / "results" / "first" / "source"
    assert (folder / "upper" / "where-from.pdf").is_file()
    assert not (folder / "ground").exists()
    failed = json.loads((folder / "where-from.json").read_text("utf-8"))["failed"]
    assert [one["floor"] for one in failed] == ["ground"]


def test_too_few_readings_are_ranked_by_themselves(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    site = make_site(readings={"first.csv": make_table(make_rows(2))})
    got = run("source", site, "--cell", "0.5")
    assert got.code in (0, 1)
    assert "ranked by their readings alone" in got.out
    assert (site / "results" / "first" / "source" / "ground" / "where-from.pdf").is_file()


@pytest.mark.parametrize(
    ("words", "said"),
    [(("--floor", "attic"), "attic"), (("--round", "last"), "last"), (("--cell", "0"), "cell"),
     (("--height", "knee"), "knee"), (("--level", "nothing"), "nothing")],
)  # fmt: skip
def test_what_is_not_there_is_said_in_one_line(
    make_site: MakeSite, run: Run, words: tuple[str, ...], said: str
) -> None:
    got = run("source", make_site(), *words)
    assert got.code == 2
    assert said in got.err


def test_samples_of_another_kind_than_air_are_refused(make_site: MakeSite, run: Run) -> None:
    site = make_site(top='medium = "bulk"\nanalyte = "mercury"')
    got = run("source", site)
    assert got.code == 2
    assert "asked of the air, not of bulk samples" in got.err


def test_text_from_the_user_starts_no_formula(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    site = make_site(readings={"first.csv": make_table(make_rows(prefix="=R"))})
    run("source", site, "--cell", "0.5")
    text = (site / "results" / "first" / "source" / "where-from.csv").read_text("utf-8-sig")
    assert "=R" in text
    for row in csv.reader(text.splitlines()):
        assert not any(cell.startswith(("=", "+", "@")) for cell in row)


def test_a_floor_without_a_place_has_a_row_with_the_hint_and_why(
    make_site: MakeSite, run: Run, make_table: Any, make_rows: Any
) -> None:
    below = [re.sub(r"[0-9.]+,ug/m3,,", "0.2,ug/m3,<,", one) for one in make_rows()]
    site = make_site(readings={"first.csv": make_table(below)})
    got = run("source", site, "--cell", "0.5")
    folder = site / "results" / "first" / "source"
    summary = json.loads((folder / "where-from.json").read_text("utf-8"))
    assert [one["sources"] for one in summary["floors"]] == [[]], got.text
    (row,) = csv.DictReader((folder / "where-from.csv").read_text("utf-8-sig").splitlines())
    assert (row["floor"], row["hint"]) == ("ground", HINT)
    assert row["reasons"] == summary["floors"][0]["nothing_to_say"]
    assert not any(row[name] for name in ("rank", "room", "x_m", "y_m", "share_of_draws"))


def test_a_map_that_finds_no_room_is_named_where_it_would_have_been(
    make_site: MakeSite, run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def full(path: Path, sheet: Sheet) -> None:
        raise HgmapError("cannot be written (No space left on device)", where=str(path))

    monkeypatch.setattr("hgmap.report.paper.write", full)
    out = tmp_path / "out"
    got = run("source", make_site(), "--cell", "0.5", "--out", out)
    assert got.code == 2
    said = "".join(got.text.split())
    assert f"{out}/ground/where-from." in said
    assert ".tmp-" not in said
