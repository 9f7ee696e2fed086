"""Bad input, from the door: one line with file and row, exit 1 or 2, and good floors made whole.

The fixture ``run`` asserts for every run that there is no traceback.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.cli.app import app
from hgmap.cli.arguments import OnceEach
from hgmap.cli.imports import import_app

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


def floors_of(out: Path) -> list[str]:
    summary = json.loads((out / "summary.json").read_text("utf-8"))
    return [one["floor"] for one in summary["floors"]]


# --- nothing can be done: exit 2, one line


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("clearance", "--rule", "a", "--rule", "b"), "--rule"),
        (("clearance", "--round=first", "--round", "first"), "--round"),
        (("map", "--round", "first", "--round", "second"), "--round"),
        (("map", "--walls", "--straight"), "--walls/--straight"),
        (("check", "--level", "1 ug/m3", "--level", "2 ug/m3"), "--level"),
        (("import", "readings", "--into", "x", "--unit", "ug/m3", "--unit", "ng/m3"), "--unit"),
    ],
)
def test_an_option_of_one_value_that_is_given_twice_is_refused(
    make_site: MakeSite, run: Run, words: tuple[str, ...], name: str
) -> None:
    site = make_site()
    got = run(*words, site)
    assert got.code == 2
    assert got.err.startswith(f"hgmap: {name}: given 2 times, and takes one value")
    assert not (site / "results").exists()


def test_every_command_looks_for_options_given_twice() -> None:
    for one in (app, import_app):
        assert one.registered_commands
        assert all(command.cls is OnceEach for command in one.registered_commands)


def test_an_option_of_many_values_may_be_given_again(make_site: MakeSite, run: Run) -> None:
    site = make_site()
    got = run("clearance", site, "--level", "1 ug/m3", "--level", "2 ug/m3")
    assert got.code == 1, got.text
    assert "ROOMS BY LEVEL AND RULE" in got.out


@pytest.mark.parametrize(
    ("toml", "text"),
    [
        (None, "site.toml: no such file"),
        ('name = "x"\nuse = \n', "TOML syntax"),
        ('name = "x"\nuse "y"\n', "line 2"),
        ('name = "x"\nroundes = 3\n', "did you mean 'rounds'?"),
        ("", "'name' is missing"),
        ('name = "x"', "no action level"),
    ],
)
@pytest.mark.parametrize("command", ["map", "check"])
def test_a_site_file_that_cannot_be_used_is_2(
    make_site: MakeSite, run: Run, command: str, toml: str | None, text: str
) -> None:
    site = make_site(toml=toml or "")
    if toml is None:
        (site / "site.toml").unlink()
    if toml == 'name = "x"':
        (site / "site.toml").write_text('name = "x"\nuse = "dwelling"')
    got = run(command, site)
    assert got.code == 2
    assert text in got.text
    line = next(one for one in got.text.splitlines() if text in one)
    assert "site.toml" in line or "level" in line
    assert not (site / "results").exists()


@pytest.mark.parametrize(
    ("plans", "readings", "text"),
    [({}, None, "the site has no floor"), (None, {}, "the site has no round")],
)
def test_a_site_without_floors_or_rounds_is_2(
    make_site: MakeSite, run: Run, plans: Any, readings: Any, text: str
) -> None:
    got = run("map", make_site(plans=plans, readings=readings))
    assert got.code == 2
    assert text in got.err


# --- a plan that cannot be trusted loses its floor, and no other


def ring(*corners: tuple[float, float]) -> bytes:
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": {"kind": "room", "name": "Lab"},
                    "geometry": {"type": "Polygon", "coordinates": [corners]},
                }
            ],
        }
    ).encode()


UNCLOSED = ring((0, 0), (6, 0), (6, 5), (0, 5))
CROSSED = ring((0, 0), (6, 5), (6, 0), (0, 5), (0, 0))
BAD_PLANS: list[tuple[bytes | None, str]] = [
    (None, "no such file"),
    (b"", "is not GeoJSON"),
    (b'{"features": [1,}', "line 1"),
    (UNCLOSED, "not closed"),
    (CROSSED, "Self-intersection"),
]


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize(("plan", "text"), BAD_PLANS)
def test_a_bad_plan_loses_its_floor_and_the_others_are_made(
    make_site: MakeSite, make_plan: Any, run: Run, plan: bytes | None, text: str
) -> None:
    site = make_site(plans={"cellar": plan, "ground": make_plan()})
    got = run("map", site, "--cell", "0.5")
    assert got.code == 1
    lines = [one for one in got.out.splitlines() if text in one]
    assert len(lines) == 1
    assert "plans/0.geojson" in lines[0]
    out = site / "results" / "first"
    assert floors_of(out) == ["ground"]
    summary = json.loads((out / "summary.json").read_text("utf-8"))
    assert [one["floor"] for one in summary["floors_not_made"]] == ["cellar"]
    assert run("check", site).code == 1


@pytest.mark.parametrize(("plan", "text"), BAD_PLANS[2:4])
def test_all_floors_lost_is_2_and_writes_nothing(
    make_site: MakeSite, run: Run, plan: bytes, text: str
) -> None:
    site = make_site(plans={"ground": plan})
    got = run("map", site)
    assert got.code == 2
    assert text in got.out
    assert not (site / "results").exists()
    assert run("check", site).code == 2


def test_overlapping_rooms_and_rooms_of_one_name_are_named(
    make_site: MakeSite, make_plan: Any, make_room: Any, run: Run
) -> None:
    overlap = make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 5, 0, 12, 5))
    twins = make_plan(make_room("A", 0, 0, 6, 5), make_room("A", 6, 0, 12, 5))
    got = run("map", make_site(plans={"one": overlap, "two": twins}))
    assert got.code == 2
    assert "plans/0.geojson: rooms 'Room A' and 'Room B' overlap by 5.00 m²" in got.out
    assert "plans/1.geojson: 2 rooms have the name 'room a'" in got.out


@pytest.mark.usefixtures("no_sheets")
def test_a_floor_that_is_lost_leaves_the_earlier_outputs_of_the_others(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, run: Run
) -> None:
    table = make_table([*make_rows(), *make_rows(floor="upper", prefix="U")])
    site = make_site(
        plans={"ground": make_plan(), "upper": make_plan()}, readings={"first.csv": table}
    )
    assert run("map", site, "--cell", "0.5").code == 0
    out = site / "results" / "first"
    before = [row for row in (out / "zones.csv").read_text().splitlines() if "ground," in row]
    (site / "plans" / "1.geojson").write_bytes(UNCLOSED)
    assert run("map", site, "--cell", "0.5").code == 1
    after = [row for row in (out / "zones.csv").read_text().splitlines() if "ground," in row]
    assert after == before
    assert floors_of(out) == ["ground"]


# --- readings files


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", "the file is empty"),
        (b"id,floor,value,unit\n", "has a header but no row"),
        (b"\x00\x01\x02", "is not a text table"),
        (None, "no such file"),
        (b"a,b\n1,2\n", "no column 'value'"),
    ],
)
def test_a_readings_file_that_cannot_be_read_is_named_and_no_floor_is_cleared(
    make_site: MakeSite, run: Run, data: bytes | None, text: str
) -> None:
    site = make_site(readings={"first.csv": data})
    got = run("map", site, "--cell", "0.5")
    assert got.code == 1
    lines = [one for one in got.out.splitlines() if text in one and one.startswith("error: ")]
    assert len(lines) == 1
    assert "readings/first.csv" in lines[0]
    summary = json.loads((site / "results/first/summary.json").read_text("utf-8"))
    assert summary["floors"][0]["zones_m2"]["clear"] == 0
    assert summary["floors"][0]["zones_m2"]["no data"] == pytest.approx(60)


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_a_spreadsheet_of_another_country_gives_the_same_map(
    make_site: MakeSite, make_rows: Any, make_table: Any, run: Run, encoding: str
) -> None:
    plain = make_site("plain")
    run("map", plain, "--cell", "0.5")
    rows = [row.replace(",", ";").replace(".", ",") + "Büro" for row in make_rows()]
    text = make_table(()).replace(",", ";") + "\r\n".join(rows) + "\r\n"
    other = make_site("other", readings={"first.csv": text.encode(encoding)})
    got = run("map", other, "--cell", "0.5")
    assert got.code == 0, got.text
    zones = [site / "results/first/zones.csv" for site in (plain, other)]
    assert zones[0].read_bytes() == zones[1].read_bytes()


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize(
    ("row", "text"),
    [
        ("R99,ground,A,1,1,1.5,,1e7,ug/m3,,", "saturated concentration"),
        ("R99,ground,A,1,1,1.5,,NaN,ug/m3,,", "'NaN': not measured"),
        ("R99,ground,A,1,1,1.5,,,ug/m3,,", "no value"),
        ("R99,ground,A,1,1,1.5,31/31/2026,1,ug/m3,,", "no day 31"),
        ("R99,ground,A,1,1,1.5,,1,furlong,,", "not known"),
        ("R99,ground,A,1e15,1,1.5,,1,ug/m3,,", "beyond any measurement"),
        ("R99,ground,A,1e9,-1e9,1.5,,1,ug/m3,,", "outside room"),
        ("R99,attic,A,1,1,1.5,,1,ug/m3,,", "no floor 'attic'"),
        ("R99,ground,A,1,1,1.5,,1,ug/m3,,,surplus", "more cells"),
    ],
)
def test_a_bad_row_is_held_with_file_and_row_and_the_rest_is_mapped(
    make_site: MakeSite, make_rows: Any, make_table: Any, run: Run, row: str, text: str
) -> None:
    site = make_site(readings={"first.csv": make_table([*make_rows(), row])})
    got = run("map", site, "--cell", "0.5")
    assert got.code == 1
    lines = [one for one in got.out.splitlines() if text in one]
    assert len(lines) == 1
    assert lines[0].startswith("held: readings/first.csv, row 17 (R99): ")
    summary = json.loads((site / "results/first/summary.json").read_text("utf-8"))
    assert len(summary["floors"][0]["readings"]["used"]) == 15
    assert [one["where"] for one in summary["held"]] == ["readings/first.csv, row 17 (R99)"]


@pytest.mark.usefixtures("no_sheets")
def test_the_same_id_twice_with_two_values_holds_both(
    make_site: MakeSite, make_rows: Any, make_table: Any, run: Run
) -> None:
    rows = make_rows()
    twin = rows[0].replace("9.0", "0.1", 1) if "9.0" in rows[0] else rows[0].replace("ug", "ng")
    site = make_site(readings={"first.csv": make_table([*rows, twin])})
    got = run("map", site, "--cell", "0.5")
    assert got.code == 1
    assert got.out.count("id 'R1' stands for different readings") == 2


# --- drawn as well: what a plan or a row can put on a sheet


def test_held_readings_far_off_and_odd_words_are_drawn_and_written(
    make_site: MakeSite, make_plan: Any, make_room: Any, make_rows: Any, make_table: Any, run: Run
) -> None:
    rooms = [make_room("=A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5)]
    rooms[0]["properties"]["name"] = "$x_1$ \\alpha {%} <b> 漢字 \U0001f9ea \u202e"
    rooms[1]["properties"]["name"] = "n" * 300
    rows = [row.replace(",A,", ",=A,") for row in make_rows()]
    rows += [
        "far,ground,B,1e9,-1e9,1.5,,1,ug/m3,,",
        "=1+1,ground,=A,3,3,1.5,,1,ug/m3,,@SUM(1)",
        "$^{$,ground,B,8,3,1.5,,>2,ug/m3,,\x1b[2J",
        ",ground,B,8,4,1.5,,<0.1,ug/m3,,",
    ]
    site = make_site(
        plans={"ground/..": make_plan(*rooms)},
        readings={"first.csv": make_table(row.replace("ground", "ground/..") for row in rows)},
        top='[title_block]\nclient = "$\\\\frac{1}$ & <Co> %s {0} 漢字"\naddress = """a\nb"""\n',
    )
    got = run("map", site, "--cell", "0.5")
    assert got.code == 1, got.text
    assert got.err == ""
    assert "\x1b" not in got.out
    out = site / "results" / "first"
    assert (out / "ground" / "map.pdf").stat().st_size < 3_000_000
    with (out / "zones.csv").open(encoding="utf-8-sig", newline="") as file:
        for row in csv.DictReader(file):
            assert not [cell for cell in row.values() if cell.startswith(tuple("=+@"))]


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("name", ["zones.csv", "site.gpkg", "..", "a/b\\c:d", "CON", "é" * 60])
def test_a_floor_may_be_called_what_it_likes(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, run: Run, name: str
) -> None:
    site = make_site(
        plans={name: make_plan()}, readings={"first.csv": make_table(make_rows(floor=name))}
    )
    got = run("map", site, "--cell", "0.5")
    assert got.code == 0, got.text
    assert floors_of(site / "results/first") == [name]
    assert {one.parent for one in site.parent.rglob("summary.json")} == {site / "results/first"}


def test_a_floor_called_like_a_file_gets_a_folder_beside_it(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, run: Run
) -> None:
    site = make_site(
        plans={"zones.csv": make_plan()},
        readings={"first.csv": make_table(make_rows(floor="zones.csv"))},
    )
    assert run("map", site, "--cell", "0.5").code == 0
    assert (site / "results/first/zones.csv").is_file()
    assert (site / "results/first/zones-csv/map.png").is_file()
