"""``hgmap design``: where to read before there is a reading, and how good a survey was."""

from __future__ import annotations

import csv
import io
import math
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hgmap.design import DesignRun, design_site
from hgmap.design_options import DesignOptions
from hgmap.report.drawing import Label
from hgmap.report.field_sheet import field_sheets
from hgmap.site.folder import read_site
from hgmap.site.quality.sampling_plan import read_sampling_plan
from hgmap.survey_design import SurveyOptions, survey_site

MakeSite = Callable[..., Path]
Run = Callable[..., Any]


@pytest.fixture
def no_pages(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing of pages out, where a test is about something else."""
    monkeypatch.setattr("hgmap.design.pdf_bytes", lambda *_: b"")
    monkeypatch.setattr("hgmap.design.png_bytes", lambda *_: b"")
    monkeypatch.setattr("hgmap.survey_design.write", lambda *_, **__: None)


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))


def test_a_design_needs_no_reading_and_writes_tables_and_a_sheet_a_floor(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site(readings={}, level=None)
    got = run("design", site, "--find", "2")
    assert got.code == 0, got.text
    out = site / "results" / "design"
    assert {str(p.relative_to(out)) for p in out.rglob("*") if p.is_file()} >= {
        "sampling-plan.csv", "field-sheet.csv", "ground/field-sheet.pdf", "ground/field-sheet.png",
        "ground/field-sheet-2.png",
    }  # fmt: skip
    assert "59 random samples none is above, of 93 at most one, or of 124 at most two" in got.out
    assert "stop: when the" in got.out
    assert "Local codes and licensed practice decide" in got.out


@pytest.mark.usefixtures("no_pages")
def test_maps_and_the_first_page_of_the_table_get_a_picture(make_site: MakeSite) -> None:
    run = design_site(make_site(readings={}), DesignOptions(find_radius_m=0.5, probability=0.9))
    maps = -(-len(run.floors[0].visits) // 60)  # at least: visits of places, 60 places on a map
    pictures = sorted(path.name for path in (run.out / "ground").glob("*.png"))
    assert 2 < len(pictures) <= maps + 1


@pytest.mark.usefixtures("no_pages")
def test_every_room_finds_the_hot_spot_that_was_asked_for(make_site: MakeSite) -> None:
    run = design_site(make_site(readings={}), DesignOptions(find_radius_m=1.5, probability=0.9))
    (floor,) = run.floors
    assert [row.room for row in floor.chances] == ["A", "B"]
    assert min(row.probability for row in floor.chances) >= 0.9
    assert floor.probability is not None
    assert run.exit_code == 0


@pytest.mark.usefixtures("no_pages")
def test_the_spacing_follows_from_the_hot_spot_by_the_closed_form(make_site: MakeSite) -> None:
    # Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, ch. 10: while the
    # circles do not overlap, the chance is their share of the ground, pi r² / G²
    run = design_site(make_site(readings={}), DesignOptions(find_radius_m=1.0, probability=0.5))
    assert run.spacing_m == pytest.approx(math.sqrt(math.pi / 0.5))


@pytest.mark.usefixtures("no_pages")
def test_the_sampling_plan_is_the_one_that_a_site_reads(make_site: MakeSite) -> None:
    site = make_site(readings={}, top='sampling_plan = "plan.csv"')
    run = design_site(site, DesignOptions(find_radius_m=2.0))
    data = (run.out / "sampling-plan.csv").read_bytes()
    planned, problems = read_sampling_plan(data, where="plan.csv")
    assert problems == []
    assert sum(one.count for one in planned) == len(run.places)
    assert Counter({one.kind: 0 for one in planned}).keys() == {one.kind for one in run.places}
    (site / "plan.csv").write_bytes(data)
    assert read_site(site).sampling_plan == tuple(planned)


@pytest.mark.usefixtures("no_pages")
def test_a_filled_field_sheet_is_taken_back_whole(make_site: MakeSite, run: Run) -> None:
    site = make_site(readings={}, top='sampling_plan = "plan.csv"')
    made = design_site(site, DesignOptions(find_radius_m=2.0, source="B", seed=3))
    (site / "plan.csv").write_bytes((made.out / "sampling-plan.csv").read_bytes())
    rows = table(made.out / "field-sheet.csv")
    assert all(not row["value"] and not row["time"] for row in rows)
    for minute, row in enumerate(rows):
        row |= {"time": f"2026-03-09T{9 + minute // 60:02d}:{minute % 60:02d}", "value": "0.4",
                "unit": "ug/m3", "instrument": "analyser"}  # fmt: skip
        if row["kind"] == "field blank":
            row |= {"qualifier": "<", "value": "0.05"}
    filled = site / "filled.csv"
    with filled.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    got = run("import", "readings", filled, "--into", site, "--round", "first")
    assert got.code == 0, got.text
    assert "will be held" not in got.text
    readings = {one.id: one for one in read_site(site).readings}
    assert set(readings) == {place.id for place in made.places}
    for place in made.places:
        reading = readings[place.id]
        assert reading.held == ()
        assert (reading.kind, reading.room) == (place.kind, place.room)
        assert reading.duplicate_of == place.duplicate_of
        assert reading.height_m == place.height_m
        if place.x is not None:
            assert reading.x == pytest.approx(place.x, abs=0.001)
            assert reading.y == pytest.approx(place.y, abs=0.001)
    checked = run("check", site)
    assert f"{len(rows)} of {len(rows)} planned readings are usable" in checked.out


@pytest.mark.usefixtures("no_pages")
def test_rows_of_a_sheet_that_were_never_filled_in_are_named_and_no_readings(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site(readings={})
    assert run("design", site).code == 0
    sheet = site / "results" / "design" / "field-sheet.csv"
    got = run("import", "readings", sheet, "--into", site, "--round", "first")
    assert got.code == 2
    assert "nothing is filled in" in got.err
    assert read_site(site).readings == ()
    first, locked, *rest = table(sheet)
    first |= {"time": "2026-03-09T09:00", "value": "0.4", "unit": "ug/m3"}
    locked["note"] = "door locked"
    with sheet.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(first))
        writer.writeheader()
        writer.writerows((first, locked, *rest))
    got = run("import", "readings", sheet, "--into", site, "--round", "first")
    assert got.code == 1
    names = ", ".join(row["id"] for row in rest)
    said = f"{len(rest)} rows with nothing filled in are left out: {names}"
    assert said in " ".join(got.out.split())
    readings = {one.id: bool(one.held) for one in read_site(site).readings}
    assert readings == {first["id"]: False, locked["id"]: True}


@pytest.mark.usefixtures("no_pages")
def test_the_rows_stand_in_the_order_of_the_walk_and_the_source_comes_last(
    make_site: MakeSite,
) -> None:
    site = make_site(readings={})
    for room, other in (("A", "B"), ("B", "A")):
        run = design_site(site, DesignOptions(find_radius_m=1.5, source=f"Room {room}"))
        rooms = [row["room"] for row in table(run.out / "field-sheet.csv") if row["room"]]
        assert rooms == [other] * rooms.count(other) + [room] * rooms.count(room)
        assert rooms.count(room) > 1
        numbers = [visit.number for visit in run.floors[0].visits]
        assert numbers == sorted(numbers)
        assert set(numbers) == set(range(1, run.floors[0].places + 1))


@pytest.mark.usefixtures("no_pages")
def test_the_walk_begins_at_the_start(make_site: MakeSite) -> None:
    site = make_site(readings={})
    for x in (0.2, 11.8):
        run = design_site(site, DesignOptions(spacing_m=2.0, start=(x, 2.5)))
        first = run.floors[0].visits[0].place
        assert first.x is not None
        assert abs(first.x - x) < 3.0


@pytest.mark.usefixtures("no_pages")
def test_the_same_seed_gives_the_same_design_and_another_one_another(make_site: MakeSite) -> None:
    def made(seed: int) -> DesignRun:
        return design_site(site, DesignOptions(spacing_m=2.0, seed=seed))

    site = make_site(readings={})
    assert made(1).places == made(1).places
    assert made(1).places != made(2).places


def test_a_room_without_a_door_is_said_and_ends_in_1(
    make_site: MakeSite, run: Run, make_plan: Any, make_room: Any
) -> None:
    plan = make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 8, 0, 12, 5))
    got = run("design", make_site(plans={"ground": plan}, readings={}), "--spacing", "3")
    assert got.code == 1
    assert "no way on foot to Room B" in got.out


@pytest.mark.usefixtures("no_pages")
def test_without_a_use_the_strictest_rule_is_taken_and_said(make_site: MakeSite, run: Run) -> None:
    strict, known = make_site(readings={}, use=None), make_site("known", readings={})
    got = run("design", strict)
    assert got.code == 0, got.text
    assert "does not say the use of the building: the strictest rule is taken" in got.out
    assert len(design_site(strict).places) > len(design_site(known).places)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--find", "0"), "--find: a hot spot of 0 m"),
        (("--find", "-2"), "--find"),
        (("--find", "nan"), "--find"),
        (("--find", "0.1"), "searched for"),
        (("--find", "2", "--probability", "0"), "--probability: a probability of 0"),
        (("--find", "2", "--probability", "1"), "--probability: a probability of 1"),
        (("--probability", "0.9"), "say --find"),
        (("--spacing", "0.01"), "about 600000 places"),
        (("--spacing", "0"), "--spacing"),
        (("--spacing", "1e-200"), "--spacing"),
        (("--floor", "attic"), "no floor 'attic'"),
        (("--source", "Cellar"), "no room 'Cellar'"),
        (("--start", "90,1"), "--start"),
        (("--start", "there"), "--start"),
        (("--height", "adult breathing"), "goes with --survey"),
        (("--survey", "third"), "no round 'third'"),
        (("--survey", "first", "--find", "2"), "--find is for a design"),
        (("--survey", "first", "--grid", "square"), "--grid is for a design"),
        (("--survey", "first", "--seed", "0"), "--seed is for a design"),
        (("--survey", "first", "--shape", "1"), "--shape is for a design"),
        (("--survey", "first", "--tolerance", "0.9/0.9"), "--tolerance is for a design"),
        (("--shape", "0.5"), "--shape: the shape of a hot spot, but of what size?"),
        (("--find", "2", "--shape", "0.1"), "--shape: a hot spot 0.1 times"),
        (("--find", "2", "--shape", "nan"), "--shape"),
        (("--tolerance", "0.95"), "--tolerance: '0.95' is not two numbers"),
        (("--tolerance", "1/0.95"), "--tolerance: a coverage of 1 cannot be stated"),
        (("--tolerance", "nan/0.95"), "--tolerance"),
        (("--test", "t"), "--test: no test is called 't'"),
        (("--test", "sign"), "say --difference and --sd"),
        (("--test", "sign", "--difference", "0", "--sd", "1"), "--test: a shift of 0"),
        (("--test", "mean", "--difference", "1", "--sd", "0"), "--test: a standard deviation of 0"),
        (
            ("--test", "sign", "--difference", "1", "--sd", "1", "--errors", "0.5/0.1"),
            "--test: alpha = 0.5",
        ),
        (("--sd", "1"), "--sd: of which test?"),
        (("--each-room",), "--each-room: a statement in each room, but which?"),
        (("--tolerance", "0.999/0.999", "--each-room"), "--each-room: 6905 places in each of 2"),
        (("--survey", "first", "--height", "ceiling"), "no height band 'ceiling'"),
    ],
)
def test_what_cannot_be_designed_is_said_in_one_line(
    make_site: MakeSite, run: Run, words: tuple[str, ...], says: str
) -> None:
    site = make_site()
    got = run("design", site, *words)
    assert got.code == 2
    assert says in got.err
    assert not (site / "results").exists()


def test_a_wide_grid_does_not_hide_a_hot_spot_that_asks_for_too_many_places(
    make_site: MakeSite, run: Run, make_plan: Any, make_room: Any
) -> None:
    site = make_site(plans={"ground": make_plan(make_room("A", 0, 0, 40, 30))}, readings={})
    got = run("design", site, "--spacing", "50", "--find", "0.3")
    assert got.code == 2
    assert "--find: a spacing of 0.501 m makes about 4785 places" in got.err


@pytest.mark.usefixtures("no_pages")
def test_the_samples_of_a_statement_are_printed_with_what_they_take_for_granted(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site(readings={})
    got = run("design", site, "--tolerance", "0.95/0.95", "--test", "sign", "--difference", "1",
              "--sd", "1", "--errors", "0.05/0.1")  # fmt: skip
    said = " ".join(got.out.split())
    # 59, 93, 124: Wilks 1941; 23: NUREG-1575 rev. 1, table 5.5
    assert "where of 59 samples none is above, of 93 at most one, or of 124 at most two" in said
    assert "23 samples for a sign test of the median" in said
    assert "taken for granted: it holds for samples that are independent and random" in said
    assert "places, a tolerance statement of its air takes 59: ask for a closer grid" in said
    assert got.code == 1
    for name, difference, samples in (("rank-sum", "2", "10"), ("mean", "0.961", "9")):
        words = ("--difference", difference, "--sd", "1", "--errors",
                 "0.05/0.1" if name == "rank-sum" else "0.05/0.2")  # fmt: skip
        got = run("design", site, "--test", name, *words)
        assert f"{samples} samples" in " ".join(got.out.split())  # the manual's, and QA/G-9S's


@pytest.mark.usefixtures("no_pages")
def test_each_room_gets_the_places_of_the_statement_where_asked(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site(readings={})
    got = run("design", site, "--tolerance", "0.9/0.9", "--each-room")
    assert got.code == 0, got.text
    rows = table(site / "results/design/field-sheet.csv")
    places = {(row["room"], row["x"], row["y"]) for row in rows if row["kind"] == "reading"}
    # 0.9^22 = 0.098
    assert Counter(room for room, _, _ in places) == {"A": 22, "B": 22}


@pytest.mark.usefixtures("no_pages")
def test_a_room_that_cannot_take_so_many_places_is_said(
    make_site: MakeSite, run: Run, make_plan: Any, make_room: Any
) -> None:
    plan = make_plan(make_room("A", 0, 0, 6, 5), make_room("S", 6, 0, 6.6, 0.5))
    got = run("design", make_site(plans={"ground": plan}, readings={}), "--tolerance", "0.9/0.9",
              "--each-room")  # fmt: skip
    assert "Room S: " in got.out
    assert "of 22; no more fit between its walls" in " ".join(got.out.split())


@pytest.mark.usefixtures("no_pages")
def test_a_hot_spot_that_is_longer_than_wide_lies_in_any_direction(
    make_site: MakeSite, run: Run
) -> None:
    site = make_site(readings={})
    circle = design_site(site, DesignOptions(find_radius_m=1.5))
    narrow = design_site(site, DesignOptions(find_radius_m=1.5, shape=0.5))
    assert narrow.spacing_m < circle.spacing_m
    assert min(row.probability for row in narrow.floors[0].chances) >= 0.95
    got = run("design", site, "--find", "1.5", "--shape", "0.5")
    assert "finds 3 m by 1.5 m" in " ".join(got.out.split())


def test_of_many_rooms_without_a_door_the_sheet_still_says_what_to_do(
    make_site: MakeSite, make_plan: Any, make_room: Any
) -> None:
    rooms = [make_room(f"r{k}", 3 * k, 0, 3 * k + 3, 3) for k in range(14)]
    for one in rooms:
        one["properties"]["name"] = f"A very long name of room {one['properties']['id']}"
    run = design_site(make_site(plans={"ground": make_plan(*rooms)}, readings={}))
    assert "and 7 more; find out why" in run.warnings[0]
    sheet = field_sheets(run.site, run.floors[0])[0]
    said = " ".join(item.text for item in sheet.page if isinstance(item, Label))
    assert "and 9 more. Their places stand at the end; find out why before they are left" in said


@pytest.mark.usefixtures("no_pages")
def test_a_probability_is_not_rounded_up_to_certainty(make_site: MakeSite, run: Run) -> None:
    got = run("design", make_site(readings={}), "--find", "2", "--probability", "0.9999")
    assert "with 99.99 % where no wall cuts it" in " ".join(got.out.split())


def test_a_site_without_a_floor_is_said(make_site: MakeSite, run: Run) -> None:
    got = run("design", make_site(plans={}, readings={}))
    assert got.code == 2
    assert "the site has no floor" in got.err


def test_a_shorter_run_leaves_no_page_of_a_longer_one(make_site: MakeSite, run: Run) -> None:
    site = make_site(readings={})
    assert run("design", site, "--spacing", "0.6").code == 0
    folder = site / "results" / "design" / "ground"
    many = len(list(folder.glob("*.png")))
    assert run("design", site, "--spacing", "4").code == 0
    assert 1 < len(list(folder.glob("*.png"))) < many


def survey_rows(*rows: str) -> str:
    head = "id,floor,room,x,y,height,time,value,unit,qualifier,note"
    return "\n".join([head, *rows]) + "\n"


ONE = "R1,ground,A,3,2.5,1.5,2026-03-01T09:00,0.5,ug/m3,,"


@pytest.mark.usefixtures("no_pages")
def test_the_radius_is_the_one_that_covers_95_in_a_hundred_of_the_room(
    make_site: MakeSite,
) -> None:
    site = make_site(readings={"first.csv": survey_rows(ONE)})
    run = survey_site(site, SurveyOptions("first"))
    row = {one.room: one for one in run.floors[0].gaps.rows}
    random = np.random.default_rng(4)
    away = np.hypot(random.uniform(-3, 3, 200_000), random.uniform(-2.5, 2.5, 200_000))
    assert row["A"].radius_m == pytest.approx(float(np.quantile(away, 0.95)), abs=0.15)
    assert math.isinf(row["B"].radius_m)
    cells = {one["room"]: one["radius_found_m"] for one in table(run.out / "survey.csv")}
    assert cells["B"] == "none"
    assert float(cells["A"]) >= row["A"].radius_m
    assert run.exit_code == 1


@pytest.mark.usefixtures("no_pages")
@pytest.mark.parametrize(
    "other",
    [
        "R2,ground,B,9,2.5,0.3,2026-03-01T09:01,0.5,ug/m3,,another height",
        "R2,ground,B,9,2.5,1.5,2026-03-01T09:01,5,ug/m3,<,cannot see the level of 3",
        "R2,ground,B,9,2.5,1.5,2026-03-01T09:01,,ug/m3,,no value",
        "R2,ground,A,9,2.5,1.5,2026-03-01T09:01,0.5,ug/m3,,not in the room it names",
    ],
)
def test_a_reading_that_finds_nothing_does_not_count(make_site: MakeSite, other: str) -> None:
    site = make_site(readings={"first.csv": survey_rows(ONE, other)})
    run = survey_site(site, SurveyOptions("first", height_band="adult breathing"))
    assert {row.room: row.readings for row in run.floors[0].gaps.rows} == {"A": 1, "B": 0}


@pytest.mark.usefixtures("no_pages")
def test_a_non_detect_that_can_see_the_level_counts(make_site: MakeSite) -> None:
    other = "R2,ground,B,9,2.5,1.5,2026-03-01T09:01,0.1,ug/m3,<,"
    site = make_site(readings={"first.csv": survey_rows(ONE, other)})
    run = survey_site(site, SurveyOptions("first", height_band="adult breathing"))
    assert [row.readings for row in run.floors[0].gaps.rows] == [1, 1]
    # no log vouches for them, and that is all there is to say
    assert [text for text in run.warnings if "not fit to map" not in text] == []


@pytest.mark.usefixtures("no_pages")
def test_of_a_reading_that_names_only_its_room_the_guess_is_said(make_site: MakeSite) -> None:
    other = "R2,ground,B,,,1.5,2026-03-01T09:01,0.5,ug/m3,,"
    site = make_site(readings={"first.csv": survey_rows(ONE, other)})
    run = survey_site(site, SurveyOptions("first"))
    assert [text for text in run.warnings if "only the room is known" in text]
    assert run.exit_code == 1


@pytest.mark.usefixtures("no_pages")
def test_readings_that_are_not_fit_to_map_are_said(make_site: MakeSite) -> None:
    log = (
        "instrument,principle,check,start,end,values,result\n"
        "analyser,gold film,span,2026-02-01T08:00,,,pass\n"
    )
    rows = survey_rows(ONE).splitlines()
    table_ = f"{rows[0]},instrument\n{rows[1]},analyser\n"
    site = make_site(readings={"first.csv": table_})
    (site / "instruments").mkdir()
    (site / "instruments" / "log.csv").write_text(log, "utf-8")
    run = survey_site(site, SurveyOptions("first"))
    assert [row.readings for row in run.floors[0].gaps.rows] == [0, 0]
    assert any("not fit to map" in text for text in run.warnings)
    assert any("not counted, held" in text for text in run.warnings)


def test_a_survey_is_printed_and_drawn(make_site: MakeSite, run: Run) -> None:
    site = make_site(readings={"first.csv": survey_rows(ONE)})
    got = run("design", site, "--survey", "first")
    assert got.code == 1
    assert "no reading that counts in Room B" in got.out
    out = site / "results" / "design" / "first"
    for name in ("survey.csv", "ground/survey.pdf", "ground/survey.png"):
        assert (out / name).stat().st_size > 100
