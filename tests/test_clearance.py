"""``hgmap clearance``: what a room needs before it meets, and everything that takes it back."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest

from hgmap.clearance import ClearanceOptions, ClearanceRun, clear_site
from hgmap.errors import HgmapError

MakeSite = Callable[..., Path]
Run = Callable[..., Any]

CONDITIONS = """
purpose = "clearance"
[rounds.conditions]
temperature_c = {temperature}
ventilation = "{ventilation}"
windows = "{windows}"
{hours}
occupied = false
[clearance]
occupied_temperature_c = 22
{guidance}
"""
USUAL = {
    "temperature": 36,
    "ventilation": "off",
    "windows": "closed",
    "hours": "hours_closed = 20\nhours_heated = 20",
    "guidance": 'guidance = "closed-and-heated"',
}
LOG = """instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result
an,gold film,0417,2025-10-06,regeneration,2026-03-02T06:30,2026-03-02T07:15,,,,done
an,gold film,0417,2025-10-06,warm-up,2026-03-02T07:15,2026-03-02T07:20,,,,done
an,gold film,0417,2025-10-06,zero-air,2026-03-02T07:20,2026-03-02T07:22,0.03 0.01 0 0 0,15,,pass
an,gold film,0417,2025-10-06,span,2026-03-02T07:22,2026-03-02T07:25,2 2 2,,2,pass
an,gold film,0417,2025-10-06,zero-air,2026-03-02T15:45,2026-03-02T15:47,0.02 0.01 0 0 0,15,,pass
an,gold film,0417,2025-10-06,end-of-day,2026-03-02T15:47,2026-03-02T15:50,2 2 2,,2,pass
an,gold film,0417,2025-10-06,regeneration,2026-03-02T15:50,2026-03-02T16:35,,,,done
"""
EVERY, MEAN, MAP = "every-reading-below", "breathing-zone-mean-below", "map-nowhere-above"
LEVEL = "3 ug/m3"


def row(number: int, room: str, value: str, height: str = "1.5", *, x: float | None = None,
        note: str = "") -> str:  # fmt: skip
    """Write a reading at a place of its own; ``<0.05`` is a non-detect."""
    west = 0.0 if room == "A" else 6.0
    at = west + 0.5 + number % 10 * 0.5 if x is None else x
    sign = value[0] if value[0] in "<>" else ""
    return (f"R{number},ground,{room},{at:.2f},2.0,{height},2026-03-02T09:{number:02d},"
            f"{value.removeprefix(sign)},ug/m3,{sign},{note}")  # fmt: skip


def rows(a: Iterable[str], b: Iterable[str] = ("<0.05",) * 4) -> list[str]:
    """Write readings of both rooms."""
    return [row(k, "A", one) for k, one in enumerate(a)] + [
        row(20 + k, "B", one) for k, one in enumerate(b)
    ]


@pytest.fixture
def clearing(make_site: MakeSite, make_table: Any) -> Callable[..., Path]:
    """Return a function that writes a clearance round with everything that it needs."""

    def make(table: Iterable[str], *, log: str | None = LOG, extra: str | None = None,
             use: str = "commercial", folder: str = "site", stray: str = "",
            **conditions: Any) -> Path:  # fmt: skip
        text = CONDITIONS.format(**{**USUAL, **conditions}) if extra is None else extra
        text_of = make_table([*table, stray] if stray else table)
        site = make_site(folder, readings={"first.csv": text_of}, extra=text, use=use)
        if log is not None:
            (site / "instruments").mkdir()
            (site / "instruments/log.csv").write_text(log, "utf-8")
        return site

    return make


def ruled(site: Path, rule: str = EVERY, level: str = LEVEL, **more: Any) -> ClearanceRun:
    return clear_site(site, ClearanceOptions(rule=rule, levels=(level,), **more))


def outcome(run: ClearanceRun, room: str = "A") -> str:
    (found,) = [one for one in run.levels[0].rooms if one.room.id == room]
    return found.outcomes[0].ruling.outcome


def said(run: ClearanceRun, room: str = "A") -> str:
    (found,) = [one for one in run.levels[0].rooms if one.room.id == room]
    ruling = found.outcomes[0].ruling
    return "; ".join((*ruling.reasons, "MISSING", *ruling.missing))


def test_a_round_with_all_that_it_needs_meets_and_exits_clean(
    clearing: Callable[..., Path], run: Run
) -> None:
    site = clearing(rows(["0.2", "0.3", "<0.05", "0.4"]))
    got = run("clearance", site, "--round", "first", "--level", LEVEL, "--rule", EVERY)
    assert got.code == 0, got.text
    assert "meets" in got.out
    assert got.out.splitlines()[-1] == (
        "Local codes and licensed practice decide. The health agency says who may return."
    )
    written = site / "results/first"
    assert {one.name for one in written.iterdir()} == {"clearance.csv", "clearance.json"}
    with (written / "clearance.csv").open(encoding="utf-8-sig", newline="") as file:
        table = list(csv.DictReader(file))
    assert [one["what"] for one in table] == ["room", "room", "floor"]
    assert {one["outcome"] for one in table} == {"meets"}
    (first, *_) = table
    assert float(first["maximum_detect"]) == 0.4
    assert first["mean_method"].startswith("Kaplan-Meier")
    summary = json.loads((written / "clearance.json").read_text("utf-8"))
    assert summary["levels"][0]["holds_for_every_room"] == []


def test_a_reading_above_the_level_does_not_meet_whatever_is_missing(
    clearing: Callable[..., Path],
) -> None:
    got = ruled(clearing(rows(["3.5"]), log=None, temperature=5))
    assert outcome(got) == "does not meet"
    assert outcome(got, "B") == "cannot tell yet"
    assert got.levels[0].floors[0].outcomes[0].ruling.outcome == "does not meet"
    assert got.exit_code == 1


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"temperature": 30}, "temperature"),
        ({"temperature": 20}, "colder than the occupied building"),
        ({"hours": ""}, "how long the building had been closed"),
        ({"hours": "hours_closed = 20"}, "hours heated"),
        ({"hours": "hours_closed = 1"}, "18 % of the level that it comes back to"),
        ({"hours": "hours_closed = 14"}, "15 h closed before the first reading"),
        ({"windows": "open"}, "windows were open"),
        ({"ventilation": "raised"}, "ventilation was raised"),
        ({"guidance": ""}, "no guidance is chosen"),
        ({"guidance": 'guidance = "none-such"'}, "no guidance is called"),
        ({"extra": ""}, "is a survey round"),
        ({"log": None}, "no instrument log"),
        ({"log": "\n".join(LOG.splitlines()[:-2]) + "\n"}, "closing check"),
    ],
)
def test_what_is_missing_takes_a_room_back(
    clearing: Callable[..., Path], change: dict[str, Any], why: str
) -> None:
    got = ruled(clearing(rows(["0.2"] * 4), **change))
    assert outcome(got) == "cannot tell yet"
    assert why in said(got), said(got)


def test_fifteen_hours_closed_are_enough(clearing: Callable[..., Path]) -> None:
    # lambda 0.2 an hour: 15 h show 95 % (well-mixed room, 1 - exp(-3) = 0.950)
    assert (
        outcome(ruled(clearing(rows(["0.2"] * 4), hours="hours_closed = 15\nhours_heated = 15")))
        == "meets"
    )


@pytest.mark.parametrize(
    ("hours", "expected", "why"),
    [
        ("", "cannot tell yet", "nobody wrote down how long"),
        ("hours_closed = 0.2", "cannot tell yet", "about 10 % of the level that it comes back to"),
        ("hours_closed = 5", "cannot tell yet", "6 h closed before the first reading"),
        ("hours_closed = 6", "meets", ""),
    ],
)
def test_a_ventilated_building_that_was_just_aired_is_taken_back(
    clearing: Callable[..., Path], hours: str, expected: str, why: str
) -> None:
    got = ruled(clearing(rows(["0.2"] * 4), guidance='guidance = "as-occupied"',
                         ventilation="as occupied", hours=hours))  # fmt: skip
    assert outcome(got) == expected
    assert why in said(got)


def test_ventilation_as_occupied_asks_for_fewer_hours_only_where_its_guidance_wants_it(
    clearing: Callable[..., Path],
) -> None:
    as_used = {"ventilation": "as occupied", "hours": "hours_closed = 6"}
    asked = clearing(rows(["0.2"] * 4), guidance='guidance = "as-occupied"', **as_used)
    assert outcome(ruled(asked)) == "meets"
    open_ = asked / "site.toml"
    open_.write_text(open_.read_text("utf-8").replace('windows = "closed"', 'windows = "open"'))
    assert outcome(ruled(asked)) == "cannot tell yet"
    open_.write_text(
        open_.read_text("utf-8")
        .replace('windows = "open"', 'windows = "closed"')
        .replace('"as-occupied"', '"warmed-above-occupancy"')
    )
    assert outcome(ruled(asked)) == "cannot tell yet"


@pytest.mark.parametrize("level", ["0 ug/m3", "-1 ug/m3", "nan ug/m3"])
def test_a_level_that_is_none_is_refused_in_one_line(
    clearing: Callable[..., Path], run: Run, level: str
) -> None:
    site = clearing(rows(["0.2"] * 4))
    got = run("clearance", site, f"--level={level}")
    assert got.code == 2
    assert got.err.startswith("hgmap:")
    assert not (site / "results").exists()


@pytest.mark.parametrize("words", [("--rule", "none"), ("--round", "none"), ("--level", "none")])
def test_a_name_that_is_not_known_is_refused_in_one_line(
    clearing: Callable[..., Path], run: Run, words: tuple[str, str]
) -> None:
    got = run("clearance", clearing(rows(["0.2"] * 4)), *words)
    assert got.code == 2
    assert "none" in got.err


def test_below_the_detection_limit_nothing_can_be_told(clearing: Callable[..., Path]) -> None:
    site = clearing(rows(["<0.5"] * 8, ["<0.5"] * 8))
    got = clear_site(site, ClearanceOptions(levels=("0.2 ug/m3",)))
    assert {o.ruling.outcome for r in got.levels[0].rooms for o in r.outcomes} == {
        "cannot tell yet"
    }
    assert "can see 0.2" in said(ruled(site, level="0.2 ug/m3"))


def test_a_detection_limit_above_half_the_level_is_taken_back(
    clearing: Callable[..., Path],
) -> None:
    site = clearing(rows(["<0.5"] * 4))
    assert outcome(ruled(site, level="0.9 ug/m3")) == "cannot tell yet"
    assert "more than half of the level" in said(ruled(site, level="0.9 ug/m3"))
    assert outcome(ruled(site, level="1.5 ug/m3")) == "meets"


@pytest.mark.parametrize("rule", [EVERY, MEAN])
def test_nothing_detected_meets_without_a_mean(clearing: Callable[..., Path], rule: str) -> None:
    got = ruled(clearing(rows(["<0.05"] * 4)), rule)
    assert outcome(got) == "meets"
    assert got.levels[0].rooms[0].bands[0].statistics.mean.value is None


@pytest.mark.parametrize(("level", "expected"), [
    ("0.3 ug/m3", "meets"), ("0.12 ug/m3", "cannot tell yet"),
])  # fmt: skip
def test_nothing_detected_gives_no_confidence_limit_but_a_bound(
    clearing: Callable[..., Path], level: str, expected: str
) -> None:
    got = ruled(clearing(rows(["<0.05"] * 9, ["<0.05"] * 9)), "ucl-below", level)
    assert outcome(got) == expected
    assert "nothing was detected" in said(got)
    assert "as uneven below their limits as they can be" in said(got)
    assert got.levels[0].rooms[0].bands[0].statistics.ucl.value is None


def test_one_reading_a_room_cannot_tell(clearing: Callable[..., Path]) -> None:
    got = clear_site(clearing(rows(["0.2"], ["0.2"])), ClearanceOptions(levels=(LEVEL,)))
    for room in got.levels[0].rooms:
        assert {one.ruling.outcome for one in room.outcomes} == {"cannot tell yet"}
    assert "2 more usable readings" in said(got)


def test_repeats_of_one_place_count_once_at_their_highest(clearing: Callable[..., Path]) -> None:
    same = [row(k, "A", value, x=2.0) for k, value in enumerate(["0.2", "0.9", "0.3", "<0.05"])]
    got = ruled(clearing([*same, *rows([])]))
    figures = got.levels[0].rooms[0].bands[0].statistics
    assert (figures.n, figures.maximum) == (1, 0.9)
    assert outcome(got) == "cannot tell yet"


def test_a_room_read_only_at_the_floor_cannot_tell_however_low(
    clearing: Callable[..., Path],
) -> None:
    low = [row(k, "A", "0.1", "0.05") for k in range(5)]
    got = ruled(clearing([*low, *rows([])]))
    assert outcome(got) == "cannot tell yet"
    assert "none in the breathing zone" in said(got)
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize("rule", [EVERY, MEAN, "ucl-below"])
def test_a_hot_place_on_the_floor_is_not_averaged_away(
    clearing: Callable[..., Path], rule: str
) -> None:
    air = rows([f"0.{k}" for k in range(1, 10)], [f"0.{k}" for k in range(1, 10)])
    got = ruled(clearing([*air, row(40, "A", "34", "0.05")]), rule, level="9 ug/m3")
    assert outcome(got) == "cannot tell yet"
    assert "34 was read at another height" in said(got)
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize("value", ["0.1", "9"])
def test_a_held_reading_takes_its_room_back(clearing: Callable[..., Path], value: str) -> None:
    late = row(41, "A", value).replace("T09:41", "T18:00")  # after the closing check
    got = ruled(clearing([*rows(["0.2"] * 4), late]))
    assert outcome(got) == "cannot tell yet"
    assert "1 held reading, R41" in said(got)
    assert outcome(got, "B") == "meets"


def test_each_breathing_height_is_judged_apart_and_the_worst_counts(
    clearing: Callable[..., Path],
) -> None:
    low = [row(30 + k, "A", "3.5", "0.3") for k in range(3)]
    got = ruled(clearing([*rows(["0.2"] * 4), *low]))
    assert outcome(got) == "does not meet"
    assert got.levels[0].rooms[0].outcomes[0].band == "child breathing"


@pytest.mark.parametrize("hot", ["1.5", "0.3"])
def test_a_single_reading_that_the_rule_allows_counts_at_its_own_height_only(
    clearing: Callable[..., Path], hot: str
) -> None:
    # 4 is under 2 times the level of 3, which the rule of the mean allows, at either height
    air = [row(k, "A", "4" if k == 0 and hot == "1.5" else "0.2") for k in range(5)]
    low = [row(30 + k, "A", "4" if k == 0 and hot == "0.3" else "0.2", "0.3") for k in range(5)]
    table = [*air, *low, *rows([])]
    assert outcome(ruled(clearing(table), MEAN)) == "meets"
    assert outcome(ruled(clearing(table, folder="every"), EVERY)) == "does not meet"


def test_where_children_are_every_breathing_height_is_asked_for(
    clearing: Callable[..., Path],
) -> None:
    got = ruled(clearing(rows(["0.2"] * 4), use="school"), level="0.5 ug/m3")
    assert outcome(got) == "cannot tell yet"
    assert "child breathing: 3 more usable readings" in said(got)


@pytest.mark.parametrize("height", ["1.5", "0.05"])
def test_a_saturated_reading_never_meets(clearing: Callable[..., Path], height: str) -> None:
    got = ruled(clearing([*rows(["0.2"] * 4), row(9, "A", ">1", height)]))
    assert outcome(got) == "cannot tell yet"
    assert "saturated" in said(got)
    assert outcome(got, "B") == "meets"


def test_raising_the_level_never_turns_meets_into_does_not_meet(
    clearing: Callable[..., Path],
) -> None:
    order = {"does not meet": 0, "cannot tell yet": 1, "meets": 2}
    site = clearing(rows([f"0.{k}" for k in range(1, 10)], ["<0.05", "0.3", "0.2", "2.5"]))
    levels = ("0.08 ug/m3", "0.5 ug/m3", "0.95 ug/m3", "2.4 ug/m3", "4 ug/m3", "20 ug/m3")
    got = clear_site(site, ClearanceOptions(levels=levels[::-1]))
    assert [one.level.concentration for one in got.levels] == [0.08, 0.5, 0.95, 2.4, 4, 20]
    seen = set()
    for place in range(2):
        for rule in range(len(got.rules)):
            found = [order[one.rooms[place].outcomes[rule].ruling.outcome] for one in got.levels]
            seen |= set(found)
            assert found == sorted(found)
    assert seen == {0, 1, 2}


def test_the_unit_of_the_level_does_not_change_the_outcome(
    clearing: Callable[..., Path],
) -> None:
    site = clearing(rows(["0.3", "0.3", "0.29", "0.2"]))
    for level in ("0.3 ug/m3", "300 ng/m3"):
        got = ruled(site, level=level)
        assert outcome(got) == "cannot tell yet"
        assert "stands at the level" in said(got)


@pytest.mark.usefixtures("no_sheets")
def test_the_rule_of_the_map_asks_for_the_map(clearing: Callable[..., Path]) -> None:
    table = rows(["<0.05", "0.1", "0.1", "0.08", "0.09"], ["0.06", "0.1", "0.05", "0.08", "0.1"])
    site = clearing(table, temperature=36)
    toml = site / "site.toml"
    toml.write_text(toml.read_text("utf-8") + "\n[map]\ncell_m = 0.5\n", "utf-8")
    without = ruled(site, MAP)
    assert outcome(without) == "cannot tell yet"
    assert "run again with --with-map" in said(without)
    mapped = ruled(site, MAP, level="20 ug/m3", with_map=True)
    assert outcome(mapped) == "meets", said(mapped)
    assert (mapped.levels[0].rooms[0].bands[0].nowhere or 0.0) >= 0.95


def test_an_unread_room_stands_in_the_table(clearing: Callable[..., Path], run: Run) -> None:
    got = run("clearance", clearing(rows([])), "--level", LEVEL, "--rule", EVERY)
    assert got.code == 1
    assert "Room A" in got.out
    assert "3 more usable readings in a room: every room that cannot be told yet" in got.out


def test_formulas_in_names_are_guarded_and_nothing_is_promised(
    make_site: MakeSite, make_plan: Any, make_room: Any, make_table: Any, run: Run
) -> None:
    room = make_room("A", 0, 0, 6, 5)
    room["properties"]["name"] = "=1+1"
    site = make_site(plans={"ground": make_plan(room)},
                     readings={"first.csv": make_table([row(1, "A", "0.2")])})  # fmt: skip
    got = run("clearance", site, "--round", "first")
    assert got.code == 1
    text = (site / "results/first/clearance.csv").read_text("utf-8-sig")
    assert ",=1+1" not in text
    assert "=1+1" in text
    whole = text + got.out + (site / "results/first/clearance.json").read_text("utf-8")
    assert "safe" not in whole.casefold()


def test_a_site_that_is_not_about_air_is_refused(make_site: MakeSite, make_table: Any) -> None:
    site = make_site(readings={"first.csv": make_table([])}, top='medium = "surface"', level=None)
    with pytest.raises(HgmapError, match="this site is about surface"):
        clear_site(site, ClearanceOptions(levels=("1 ug/m3",)))


def test_a_file_that_cannot_be_read_takes_every_room_back(clearing: Callable[..., Path]) -> None:
    site = clearing(rows(["0.2"] * 4))
    toml = site / "site.toml"
    text = toml.read_text("utf-8")
    toml.write_text(text.replace('["readings/first.csv"]', '["readings/first.csv", '
                                 '"readings/lost.csv"]'), "utf-8")  # fmt: skip
    got = ruled(site)
    assert outcome(got) == outcome(got, "B") == "cannot tell yet"
    assert "could not be read" in said(got)


def test_a_reading_within_its_own_error_of_the_level_takes_its_room_back(
    clearing: Callable[..., Path],
) -> None:
    about = row(9, "A", "2.5").replace(",ug/m3,,", ",ug/m3,~,")  # 25 % more error: up to 3.75
    got = ruled(clearing([*rows(["0.2"] * 4), about]))
    assert outcome(got) == "cannot tell yet"
    assert "within the measured error" in said(got)
    assert outcome(ruled(got.site.folder, level="4 ug/m3")) == "meets"


@pytest.mark.parametrize("span", ["2 2 2", "1.82 1.82 1.82"])
def test_an_analyser_that_reads_low_takes_rooms_near_the_level_back(
    clearing: Callable[..., Path], span: str
) -> None:
    site = clearing(rows(["2.6", "2.5", "2.4"]), log=LOG.replace("2 2 2", span))
    got = ruled(site)
    assert outcome(got) == ("meets" if span == "2 2 2" else "cannot tell yet"), said(got)
    assert outcome(got, "B") == "meets"


def test_one_cold_room_of_a_warm_building_is_taken_back(
    clearing: Callable[..., Path], make_table: Any
) -> None:
    site = clearing(rows(["0.2"] * 4))
    file = site / "readings/first.csv"
    lines = make_table(rows(["0.2"] * 4)).splitlines()
    cold = [f"{one},{10 if ',A,' in one else 36}" for one in lines[1:]]
    file.write_text("\n".join([lines[0] + ",temperature", *cold]) + "\n", "utf-8")
    got = ruled(site)
    assert outcome(got) == "cannot tell yet"
    assert "read at 10 °C, colder than when occupied (22 °C)" in said(got)


def test_a_level_for_leaving_brings_nobody_back(clearing: Callable[..., Path]) -> None:
    site = clearing(rows(["0.2"] * 4))
    assert outcome(ruled(site, level="atsdr-commercial-occupancy")) == "meets"
    got = ruled(site, level="atsdr-commercial-isolation")
    assert outcome(got) == "cannot tell yet"
    assert "not one for coming back" in said(got)


def test_a_bag_above_the_level_takes_its_room_back(clearing: Callable[..., Path]) -> None:
    site = clearing(rows(["0.2"] * 4))
    file = site / "readings/first.csv"
    head, *lines = file.read_text("utf-8").splitlines()
    bag = row(9, "A", "16").rstrip(",") + ",,"
    table = [f"{head},kind", *(f"{one}," for one in lines), f"{bag},headspace"]
    file.write_text("\n".join(table) + "\n", "utf-8")
    got = ruled(site)
    assert outcome(got) == "cannot tell yet"
    assert "headspace of a bag is above the level" in said(got)
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize(("child", "adult"), [("3.5", "0.2"), ("0.2", "3.5")])
def test_the_worse_height_counts_whichever_it_is(
    clearing: Callable[..., Path], child: str, adult: str
) -> None:
    low = [row(30 + k, "A", child, "0.3") for k in range(3)]
    got = ruled(clearing([*rows([adult] * 4), *low]))
    assert outcome(got) == "does not meet"
    worse = "child breathing" if child == "3.5" else "adult breathing"
    assert got.levels[0].rooms[0].outcomes[0].band == worse


def test_a_round_that_is_not_fit_to_map_meets_nowhere(clearing: Callable[..., Path]) -> None:
    late = [row(40 + k, "A", "0.2").replace("T09", "T18") for k in range(9)]  # all of them held
    got = ruled(clearing([*rows([]), *late]))
    assert outcome(got, "B") == "cannot tell yet"
    assert "not fit to map" in said(got, "B")


def test_a_high_held_reading_of_an_unknown_floor_takes_every_room_back(
    clearing: Callable[..., Path],
) -> None:
    table = rows(["0.2"] * 4)
    for value, expected in (("0.1", "meets"), ("9", "cannot tell yet")):
        stray = row(41, "A", value).replace(",ground,", ",attic,")
        site = clearing(table, folder=f"site-{value}", stray=stray)
        got = ruled(site)
        assert outcome(got) == outcome(got, "B") == expected, said(got)
    assert "may belong to this floor" in said(got)


def test_a_floor_that_cannot_be_read_is_not_cleared(
    make_site: MakeSite, make_plan: Any, make_table: Any, run: Run
) -> None:
    site = make_site(plans={"ground": make_plan(), "first": None},
                     readings={"first.csv": make_table(rows(["0.2"] * 4))},
                     extra=CONDITIONS.format(**USUAL))  # fmt: skip
    (site / "instruments").mkdir()
    (site / "instruments/log.csv").write_text(LOG, "utf-8")
    got = run("clearance", site, "--level", LEVEL, "--rule", EVERY)
    assert got.code == 1
    assert "not made: " in got.out
    assert ruled(site).levels[0].floors[0].outcomes[0].ruling.outcome == "meets"


def test_no_floor_at_all_is_nothing_done(make_site: MakeSite, run: Run) -> None:
    got = run("clearance", make_site(plans={"first": None}), "--level", LEVEL)
    assert got.code == 2
    assert got.err.startswith("hgmap:")


def test_a_person_who_overrules_the_log_is_named(clearing: Callable[..., Path]) -> None:
    site = clearing([*rows(["0.2"] * 4), row(49, "A", "0.2").replace("T09:49", "T18:00")])
    (site / "instruments/overrules.csv").write_text(
        "reading,round,verdict,initials,reason,date\nR49,first,use,AB,clock was wrong,2026-03-03\n"
    )
    got = ruled(site)
    # the hold is lifted, and no check after that hour shows what the analyser did
    assert outcome(got) == "cannot tell yet"
    assert "held" not in said(got)
    assert "checks of the analyser before and after the readings" in said(got)
    assert any("R49" in note and "AB" in note for note in got.levels[0].notes)


def test_a_map_that_may_clear_nothing_lets_no_room_meet(clearing: Callable[..., Path]) -> None:
    table = rows(["<0.05", "0.1", "0.4", "0.08", "0.9"], ["0.06", "0.1", "0.5", "0.08", "0.7"])
    site = clearing(table)
    toml = site / "site.toml"
    given = "\n[map]\ncell_m = 0.5\nrange_m = 3\nnugget = 0.0001\nsill = 0.0001\n"
    toml.write_text(toml.read_text("utf-8") + given, "utf-8")
    got = ruled(site, MAP, level="20 ug/m3", with_map=True)
    assert outcome(got) == "cannot tell yet"
    assert "a map that is allowed to clear" in said(got)


CONFIRMED = "every-reading-below-confirmed"


def of_kind(site: Path, kinds: dict[str, str], file: str = "first") -> Path:
    """Give readings of a file a kind."""
    path = site / f"readings/{file}.csv"
    head, *lines = path.read_text("utf-8").splitlines()
    table = [f"{line},{kinds.get(line.split(',')[0], '')}" for line in lines]
    path.write_text("\n".join([f"{head},kind", *table]) + "\n", "utf-8")
    return site


def with_round(site: Path, text: str, day: str, purpose: str = "clearance") -> Path:
    """Add a round of the same building on another day, with its log."""
    (site / "readings/other.csv").write_text(text.replace("2026-03-02", day), "utf-8")
    toml, log = site / "site.toml", site / "instruments/log.csv"
    whole = toml.read_text("utf-8")
    rounds, rest = whole.split("[clearance]")
    conditions = rounds[rounds.index("[rounds.conditions]") :] if purpose == "clearance" else ""
    added = (f'[[rounds]]\nname = "other"\ndate = {day}\nreadings = ["readings/other.csv"]\n'
             f'purpose = "{purpose}"\n{conditions}')  # fmt: skip
    toml.write_text(f"{rounds}\n{added}\n[clearance]{rest}", "utf-8")
    rows_of_log = log.read_text("utf-8")
    log.write_text(rows_of_log + rows_of_log.split("\n", 1)[1].replace("2026-03-02", day), "utf-8")
    return site


@pytest.mark.parametrize("rule", [EVERY, MEAN])
@pytest.mark.parametrize(("day", "expected"), [
    ("2026-03-20", "cannot tell yet"), ("2026-02-20", "meets"), ("2026-03-02", "cannot tell yet"),
])  # fmt: skip
def test_a_later_round_that_is_above_takes_a_meets_back_and_an_earlier_one_does_not(
    clearing: Callable[..., Path], make_table: Any, rule: str, day: str, expected: str
) -> None:
    site = with_round(clearing(rows(["0.2"] * 4)), make_table(rows(["8"] * 4)), day, "survey")
    got = ruled(site, rule, round="first")
    assert outcome(got) == expected, said(got)
    assert ("other, which was not before this one: R0 (8 ug/m3)" in said(got)) == (
        expected != "meets"
    )
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize("value", ["8", ">1"])
def test_a_doubtful_reading_of_a_later_round_takes_a_meets_back_too(
    clearing: Callable[..., Path], make_table: Any, value: str
) -> None:
    late = [row(0, "A", value).replace("T09", "T18")]  # after the closing check: held
    text = make_table(late if value == "8" else [row(0, "A", value)])
    got = ruled(with_round(clearing(rows(["0.2"] * 4)), text, "2026-03-20"), round="first")
    assert outcome(got) == "cannot tell yet", said(got)
    assert "other, which was not before this one" in said(got)
    assert outcome(got, "B") == "meets"


@pytest.mark.parametrize(("value", "expected"), [("4", "cannot tell yet"), ("2.5", "meets")])
def test_a_laboratory_sample_that_is_above_is_not_averaged_away(
    clearing: Callable[..., Path], value: str, expected: str
) -> None:
    site = of_kind(clearing(rows([*["0.2"] * 6, value])), {"R6": "laboratory"})
    got = ruled(site, MEAN)
    assert outcome(got) == expected, said(got)
    assert ("a sample is the average of its hours" in said(got)) == (expected != "meets")


def test_a_background_reading_above_the_level_takes_its_room_back(
    clearing: Callable[..., Path],
) -> None:
    site = of_kind(clearing([*rows(["0.2"] * 4), row(9, "A", "75", x=5.5)]), {"R9": "background"})
    got = ruled(site)
    assert outcome(got) == "cannot tell yet"
    assert "1 background reading above the level in this room" in said(got)
    assert outcome(got, "B") == "meets"


def test_readings_that_name_only_their_room_may_be_one_place(
    clearing: Callable[..., Path],
) -> None:
    def anywhere(number: int) -> str:
        cells = row(number, "A", "0.2").split(",")
        return ",".join([*cells[:3], "", "", *cells[5:]])

    somewhere = rows(["0.2"] * 2)
    got = ruled(clearing([*(anywhere(k) for k in range(4)), *rows([])]))
    assert outcome(got) == "cannot tell yet"
    assert "nothing shows that they are 4 places and not repeats of one" in said(got)
    # two places and at least one more are three
    table = [*somewhere, anywhere(7), anywhere(8), *rows([])]
    assert outcome(ruled(clearing(table, folder="three"))) == "meets"
    # a scatter of unknown places shows nothing
    nine = [row(k, "A", "0.2") for k in range(9)] + [anywhere(9), anywhere(10)]
    got = ruled(clearing([*nine, *rows([])], folder="nine"), "ucl-below")
    assert "2 readings name only the room" in said(got)


@pytest.mark.parametrize(
    ("level", "use", "why"),
    [
        ("osha-permissible-exposure", "commercial", "a limit for work with mercury"),
        ("osha-permissible-exposure", "industrial", ""),
        ("atsdr-commercial-occupancy", "dwelling", "above every published occupancy level"),
        ("atsdr-residential-occupancy", "commercial", ""),
    ],
)
def test_a_level_for_another_use_clears_only_where_it_is_no_higher(
    clearing: Callable[..., Path], level: str, use: str, why: str
) -> None:
    low = [row(30 + k, "A", "0.2", "0.3") for k in range(4)]
    got = ruled(clearing([*rows(["0.2"] * 4), *low], use=use), level=level)
    assert outcome(got) == ("cannot tell yet" if why else "meets"), said(got)
    assert why in said(got)


def test_a_rule_that_asks_for_confirmation_says_what_is_missing(
    clearing: Callable[..., Path],
) -> None:
    got = ruled(clearing(rows(["0.2"] * 4)), CONFIRMED)
    assert outcome(got) == "cannot tell yet"
    assert "no laboratory sample in the breathing zone of this room" in said(got)
    assert "there is no other clearance round" in said(got)
    assert "a clearance round 24 h or more apart from this one" in said(got)


@pytest.mark.parametrize(
    ("sample", "place", "why"),
    [
        ("0.3", 5.5, ""),
        ("<0.5", 5.5, ""),
        # beside a reading it is not counted, and still it confirms nothing
        ("<2.5", 0.5, "cannot see half of the level"),
        ("<2.5", 5.5, "more than half of the level"),
    ],
)
def test_a_confirmed_room_meets_where_the_sample_can_see_the_level(
    clearing: Callable[..., Path], make_table: Any, sample: str, place: float, why: str
) -> None:
    table = [*rows(["0.2"] * 4), row(9, "A", sample, x=place)]
    site = of_kind(clearing(table), {"R9": "laboratory"})
    with_round(site, make_table(rows(["0.2"] * 4)), "2026-03-04")
    got = ruled(site, CONFIRMED, round="first")
    assert outcome(got) == ("cannot tell yet" if why else "meets"), said(got)
    assert why in said(got)
    if place == 0.5:
        assert "at least 1.7 times the air by the same method" in said(got)


@pytest.mark.parametrize(
    ("values", "day", "purpose", "why"),
    [
        (["0.2"] * 4, "2026-03-02", "clearance", "other is 0 h apart"),
        (["0.2"] * 4, "2026-03-04", "survey", "there is no other clearance round"),
        (["0.2"] * 2, "2026-03-04", "clearance", "other has fewer than 3 readings"),
        (["0.2", "0.2", "3.5"], "2026-02-20", "clearance", "other was not below the level here"),
        (["<2"] * 4, "2026-02-20", "clearance", "other was not below the level here"),
    ],
)
def test_a_second_round_confirms_only_where_it_would_meet(
    clearing: Callable[..., Path], make_table: Any, values: list[str], day: str, purpose: str,
    why: str,
) -> None:  # fmt: skip
    site = of_kind(clearing([*rows(["0.2"] * 4), row(9, "A", "0.3", x=5.5)]), {"R9": "laboratory"})
    with_round(site, make_table(rows(values)), day, purpose)
    got = ruled(site, CONFIRMED, round="first")
    assert outcome(got) == "cannot tell yet"
    assert why in said(got)


def test_a_second_round_that_clears_nothing_itself_confirms_nothing(
    clearing: Callable[..., Path], make_table: Any
) -> None:
    site = of_kind(clearing([*rows(["0.2"] * 4), row(9, "A", "0.3", x=5.5)]), {"R9": "laboratory"})
    with_round(site, make_table(rows(["0.2"] * 4)), "2026-03-04")
    toml = site / "site.toml"
    first, other = toml.read_text("utf-8").split('name = "other"')
    opened = other.replace('windows = "closed"', 'windows = "open"')
    toml.write_text(f'{first}name = "other"{opened}', "utf-8")
    got = ruled(site, CONFIRMED, round="first")
    assert outcome(got) == "cannot tell yet"
    assert "other clears nothing itself" in said(got)


def test_the_terminal_gathers_how_many_readings_are_wanted(
    clearing: Callable[..., Path], run: Run
) -> None:
    a = ["0.20", "0.45", "0.30", "0.25", "0.40", "0.35", "0.22", "0.38"]
    b = ["0.21", "0.55", "0.30", "0.25", "0.40", "0.35", "0.22", "0.48"]
    site = clearing(rows(a, b))
    got = run("clearance", site, "--level", "0.6 ug/m3", "--rule", "ucl-below")
    lines = [" ".join(one.split()) for one in got.out.split("WHAT IS MISSING")[1].splitlines()]
    assert [one for one in lines if "more readings: about" in one] == [
        "more readings: about 12 to 24 in the room, if their mean and scatter stay as they are: "
        "every room that cannot be told yet"
    ]
    assert "limit has to hold by Chebyshev as well, at 99 % below 59 readings" in got.out


def test_days_of_a_round_are_said(clearing: Callable[..., Path]) -> None:
    later = [one.replace("2026-03-02", "2026-03-05") for one in rows(["0.2"] * 2)]
    got = ruled(clearing([*rows(["0.2"] * 4), *later]))
    assert any("read on 2 days, 2026-03-02 to 2026-03-05" in note for note in got.notes)
    got = ruled(clearing(rows(["0.2"] * 4), folder="one"))
    assert any("dated 2026-03-01 and was read on 2026-03-02" in note for note in got.notes)


def test_a_sample_that_cannot_see_the_level_is_noted_beside_a_reading(
    clearing: Callable[..., Path],
) -> None:
    table = [*rows(["0.2"] * 4), row(9, "A", "<2.5", x=0.5)]
    got = ruled(of_kind(clearing(table), {"R9": "laboratory"}))
    assert outcome(got) == "meets"
    (note,) = [one for one in got.levels[0].notes if "confirm nothing" in one]
    assert "R9 (<2.5 ug/m3)" in note
    assert not any("no laboratory sample" in one for one in got.notes)


def test_many_rooms_that_meet_are_not_all_explained_on_the_terminal(
    clearing: Callable[..., Path], run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hgmap.terminal_clearance.MOST_WHY", 1)
    got = run("clearance", clearing(rows(["0.2"] * 4)), "--level", LEVEL, "--rule", EVERY)
    assert "meets: 1 more; clearance.csv says why of each room" in got.out
