"""The command line: what each word does, which exit status it gives, and what it leaves on disk."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

DEMO = Path(__file__).parents[1] / "demo_site"
FILES = (
    "site.gpkg", "zones.csv", "rooms.csv", "resample.csv", "summary.json", "quality.pdf",
    "quality.png", "quality-2.png", "readings.csv", "resample-sheet.csv", "map-made-from.json",
)  # fmt: skip

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


def summary_of(out: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((out / "summary.json").read_text("utf-8"))
    return found


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


# --- the whole way


@pytest.mark.parametrize(("round_", "used"), [("before", 51 + 34 + 22), ("after", None)])
def test_the_demo_is_mapped_end_to_end(
    run: Run, tmp_path: Path, round_: str, used: int | None
) -> None:
    got = run("map", DEMO, "--cell", "0.5", "--round", round_, "--out", tmp_path / "out")
    assert got.code == 1, got.text  # it has held readings on purpose
    assert got.err == ""
    for name in FILES:
        assert (tmp_path / "out" / name).stat().st_size > 0
    for floor in ("ground", "first", "top"):
        assert (tmp_path / "out" / floor / "map.pdf").read_bytes().startswith(b"%PDF")
        assert (tmp_path / "out" / floor / "map.png").read_bytes().startswith(b"\x89PNG")
    summary = summary_of(tmp_path / "out")
    assert [one["floor"] for one in summary["floors"]] == ["ground", "first", "top"]
    for floor in summary["floors"]:
        assert sum(floor["zones_m2"].values()) == pytest.approx(floor["area_m2"], rel=1e-3)
    if used is not None:
        assert sum(len(one["readings"]["used"]) for one in summary["floors"]) == used
    assert not list((tmp_path / "out").rglob(".tmp-*"))


def test_a_clean_site_exits_0_and_writes_into_its_results_folder(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site()
    got = run("map", site, "--cell", "0.5")
    assert got.code == 0, got.text
    out = site / "results" / "first"
    # few lines and one day: the quality record fits on a page
    assert {one.name for one in out.iterdir()} == {*FILES, "ground"} - {"quality-2.png"}
    assert sorted(one.name for one in (out / "ground").iterdir()) == [
        "map.pdf", "map.png", "resample-sheet.pdf", "resample-sheet.png",
    ]  # fmt: skip
    assert "Local codes and licensed practice decide" in got.out


@pytest.mark.usefixtures("no_sheets")
def test_the_same_input_twice_gives_the_same_bytes_wherever_the_folder_lies(
    make_site: MakeSite, run: Run
) -> None:
    outs = []
    for folder in ("one", "elsewhere/two"):
        site = make_site(folder)
        run("map", site, "--cell", "0.5")
        outs.append(site / "results" / "first")
    for name in ("zones.csv", "rooms.csv", "resample.csv", "summary.json"):
        assert (outs[0] / name).read_bytes() == (outs[1] / name).read_bytes()


@pytest.mark.usefixtures("no_sheets")
def test_results_are_never_read_back_as_input(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    run("map", site, "--cell", "0.5")
    first = (site / "results/first/summary.json").read_bytes()
    run("map", site, "--cell", "0.5")
    assert (site / "results/first/summary.json").read_bytes() == first


@pytest.mark.usefixtures("no_sheets")
def test_check_writes_nothing_and_computes_nothing(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    before = sorted(site.rglob("*"))
    assert run("check", site).code == 1
    assert sorted(site.rglob("*")) == before


def test_check_ends_in_a_plain_sentence_on_each_round(make_site: MakeSite, run: Run) -> None:
    got = run("check", make_site())
    assert got.code == 1
    lines = got.out.splitlines()
    assert "CAN THE READINGS BE TRUSTED? first" in lines
    assert "  ! none: nothing vouches for the analyser" in lines
    assert lines[-1] == (
        "Fit with cautions: no instrument log: nothing vouches for the analyser; no reading was "
        "taken twice within two hours: nothing shows how well readings repeat; and 1 more reason. "
        "First: write the checks of the analyser into instruments/log.csv."
    )


@pytest.mark.usefixtures("no_sheets")
def test_a_lost_file_of_two_rounds_is_one_error_and_one_warning(
    make_site: MakeSite, run: Run
) -> None:
    extra = '[[rounds]]\nname = "second"\nreadings = ["readings/first.csv"]\n'
    site = make_site(readings={"first.csv": None}, extra=extra)
    lines = run("map", site, "--cell", "0.5").out.splitlines()
    assert sum(one.startswith("error: readings/first.csv") for one in lines) == 1
    assert sum(one.startswith("warning: a readings file of this round") for one in lines) == 1
    checked = run("check", site).out.splitlines()
    assert sum(one.startswith("error: readings/first.csv") for one in checked) == 1


@pytest.mark.usefixtures("no_sheets")
def test_a_rule_laxer_than_ours_is_printed_and_one_that_is_off_is_refused(
    make_site: MakeSite, run: Run
) -> None:
    lax = make_site(extra="[map]\nclear_at = 0.1\n")
    for command in (("map", lax, "--cell", "0.5"), ("check", lax)):
        got = run(*command)
        assert got.code == 1
        assert "warning: site.toml, [map]: clear_at 0.1 is laxer than the built-in 0.05" in got.out
    off = make_site("off", extra="[map]\nclear_at = 0.9\nremediate_at = 0.95\nguard_m = 0\n")
    got = run("map", off)
    assert got.code == 2
    for key in ("clear_at", "remediate_at", "guard_m"):
        assert f"map.{key}" in got.err
    assert not (off / "results").exists()


@pytest.mark.usefixtures("no_sheets")
def test_areas_of_a_giant_floor_are_printed_short(
    make_site: MakeSite, make_plan: Any, make_room: Any, run: Run
) -> None:
    giant = make_plan(make_room("A", 0, 0, 6, 5), make_room("C", 10, 0, 4900, 4900))
    got = run("map", make_site(plans={"ground": giant}), "--cell", "50")
    assert "km²" in got.out
    assert not re.search(r"\d{7}", got.out)


# --- options


@pytest.mark.usefixtures("no_sheets")
def test_idw_is_done_when_asked_and_said(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    got = run("map", site, "--cell", "0.5", "--method", "idw")
    assert got.code in (0, 1)
    floor = summary_of(site / "results/first")["floors"][0]
    assert floor["method"] == "idw"
    assert floor["settings"]["method"] == "idw"


def test_an_unknown_method_is_refused(make_site: MakeSite, run: Run) -> None:
    got = run("map", make_site(), "--method", "guessing")
    assert got.code == 2
    assert "guessing" in got.err


@pytest.mark.usefixtures("no_sheets")
def test_only_the_floor_asked_for_is_made_and_only_once(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, run: Run
) -> None:
    rows = [*make_rows(), *make_rows(floor="upper", prefix="U")]
    site = make_site(
        plans={"ground": make_plan(), "upper": make_plan()},
        readings={"first.csv": make_table(rows)},
    )
    got = run("map", site, "--cell", "0.5", "--floor", "upper", "--floor", "upper")
    assert got.code == 0, got.text
    summary = summary_of(site / "results/first-upper")
    assert [one["floor"] for one in summary["floors"]] == ["upper"]
    assert {row["floor"] for row in rows_of(site / "results/first-upper/zones.csv")} == {"upper"}
    assert len(
        {(r["room"], r["zone"]) for r in rows_of(site / "results/first-upper/zones.csv")}
    ) == len(rows_of(site / "results/first-upper/zones.csv"))


@pytest.mark.parametrize(
    ("option", "word", "known"),
    [("--floor", "attic", "ground"), ("--round", "later", "first"), ("--height", "knee", "adult")],
)
def test_a_name_that_is_not_there_is_refused_with_those_that_are(
    make_site: MakeSite, run: Run, option: str, word: str, known: str
) -> None:
    site = make_site()
    got = run("map", site, option, word)
    assert got.code == 2
    assert word in got.err
    assert known in got.err
    assert not (site / "results").exists()


def test_without_a_round_the_latest_is_taken_and_said(
    make_site: MakeSite, make_rows: Any, make_table: Any, run: Run, no_sheets: None
) -> None:
    table = make_table(make_rows())
    site = make_site(readings={"first.csv": table, "second.csv": table})
    got = run("map", site, "--cell", "0.5")
    assert "'second' is the latest" in got.out
    assert (site / "results" / "second" / "summary.json").exists()


@pytest.mark.parametrize("cell", ["0", "-1", "nan", "inf", "1e-6", "1e-300"])
def test_a_cell_that_cannot_be_is_refused_and_nothing_is_written(
    make_site: MakeSite, run: Run, cell: str
) -> None:
    site = make_site()
    got = run("map", site, "--cell", cell)
    assert got.code == 2
    assert "cell" in got.text
    assert not (site / "results").exists()


def test_a_cell_larger_than_the_floor_clears_nothing(
    make_site: MakeSite, run: Run, no_sheets: None
) -> None:
    site = make_site()
    got = run("map", site, "--cell", "50")
    assert got.code in (0, 1, 2)
    if got.code != 2:
        floor = summary_of(site / "results/first")["floors"][0]
        assert floor["zones_m2"]["clear"] == 0


# --- the action level


@pytest.mark.parametrize(
    ("use", "level", "complaint"),
    [
        ("commercial", "1", "no unit"),
        ("commercial", "0.5", "no unit"),
        ("commercial", "", "no action level"),
        ("commercial", "no-such-level", "no level named"),
        ("commercial", "1 furlong", "not known"),
        ("commercial", "nan ug/m3", "above zero"),
        ("commercial", "-1 ug/m3", "above zero"),
        ("commercial", "1 mg/kg", "is for bulk"),
        ("dwelling", "osha-permissible-exposure", "limit for workers"),
        ("school", "osha-permissible-exposure", "limit for workers"),
        ("dwelling", "0.1 mg/m3", "occupational limit by another name"),
        (None, "1 ug/m3", "what the building is used for is not stated"),
    ],
)
@pytest.mark.parametrize("command", ["map", "check"])
def test_a_level_that_does_not_fit_is_refused_with_the_reason(
    make_site: MakeSite, run: Run, command: str, use: str | None, level: str, complaint: str
) -> None:
    site = make_site(use=use)
    got = run(command, site, "--level", level)
    assert got.code == 2
    assert complaint in got.text
    assert not (site / "results").exists()


def test_no_level_anywhere_is_no_map(make_site: MakeSite, run: Run) -> None:
    site = make_site(level=None)
    got = run("map", site)
    assert got.code == 2
    assert "no action level; there is no default" in got.err
    assert run("check", site).code == 2


@pytest.mark.usefixtures("no_sheets")
def test_a_stated_level_goes_before_that_of_the_site(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    run("map", site, "--cell", "0.5", "--level", "1 ug/m3")
    level = summary_of(site / "results/first")["action_level"]
    assert (level["value"], level["unit"], level["kind"]) == (1.0, "µg/m³", "stated")
    assert level["source"]


def test_levels_are_listed_with_source_and_what_is_from_memory_is_said(run: Run) -> None:
    got = run("levels")
    assert got.code == 0
    for text in ("averaging", "source", "from memory", "WHERE AGENCIES DISAGREE", "no default"):
        assert text in got.out


@pytest.mark.parametrize("words", [("--use", "castle"), ("--analyte", "unobtainium")])
def test_levels_for_what_is_not_there_are_refused(run: Run, words: tuple[str, str]) -> None:
    got = run("levels", *words)
    assert got.code == 2
    assert got.err.count("\n") == 1


# --- folders that cannot be written or read


def test_out_onto_a_file_is_refused_and_the_file_is_left(
    make_site: MakeSite, run: Run, tmp_path: Path
) -> None:
    file = tmp_path / "taken"
    file.write_text("mine")
    got = run("map", make_site(), "--cell", "0.5", "--out", file)
    assert got.code == 2
    assert "cannot be written" in got.text
    assert file.read_text() == "mine"


def test_a_results_file_where_the_folder_should_be_is_refused(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site()
    (site / "results").write_text("in the way")
    got = run("map", site, "--cell", "0.5")
    assert got.code == 2
    assert "cannot be written" in got.text


@pytest.mark.parametrize("command", ["map", "check"])
def test_a_folder_that_is_no_site_is_refused(run: Run, tmp_path: Path, command: str) -> None:
    (tmp_path / "file").write_text("")
    assert "no such folder" in run(command, tmp_path / "nowhere").err
    assert "no such folder" in run(command, tmp_path / "file").err
    got = run(command, tmp_path)
    assert got.code == 2
    assert "site.toml: no such file" in got.err


def test_no_command_and_an_unknown_one_exit_2(run: Run) -> None:
    assert run().code == 2
    assert run("mapp", "x").code == 2
    assert run("map").code == 2


def test_the_version_is_said(run: Run) -> None:
    from hgmap import __version__

    got = run("--version")
    assert (got.code, got.out) == (0, f"hgmap {__version__}\n")


def test_an_interrupted_run_says_so_and_leaves_no_half_file(
    make_site: MakeSite, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    site = make_site()
    monkeypatch.setattr("hgmap.batch.write_geopackage", stop)
    got = run("map", site, "--cell", "0.5")
    assert got.code == 2
    assert "stopped" in got.err
    assert not list(site.rglob(".tmp-*"))


# --- as a program of its own


def _program(*words: object, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "hgmap", *(str(word) for word in words)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        errors="replace",
        timeout=180,
        check=False,
        env={**os.environ, **environment},
    )


def test_a_terminal_that_knows_only_ascii_gets_its_words_and_no_traceback(
    make_site: MakeSite,
) -> None:
    site = make_site()
    done = _program("check", site, "--level", "osha-permissible-exposure", PYTHONIOENCODING="ascii")
    assert "Traceback" not in done.stderr
    listed = _program("levels", PYTHONIOENCODING="ascii")
    assert listed.returncode == 0, listed.stderr
    assert "atsdr-commercial-occupancy" in listed.stdout


def test_a_piped_message_is_one_line_however_long(make_site: MakeSite) -> None:
    name = "long " * 60
    site = make_site(toml=f'name = "x"\nnmae = "{name}"\n')
    done = _program("map", site)
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""
