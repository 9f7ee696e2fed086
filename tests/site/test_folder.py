"""A site folder is read as far as it can be; what is lost is said with its file."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import SiteError
from hgmap.site.folder import DEFAULT_HEIGHT_BANDS, read_site

MakeSite = Callable[..., Path]
NAMES = {"plans": {}, "readings": {}, "level": None}


def complaint(site: Path) -> str:
    with pytest.raises(SiteError) as caught:
        read_site(site)
    assert "\n" not in str(caught.value)
    return str(caught.value)


def floors(*pairs: tuple[str, str]) -> str:
    """Return [[floors]] tables; a second part that is not empty is a title."""
    return "".join(
        f"[[floors]]\nname = {json.dumps(name)}\nplan = 'plans/0.geojson'\n"
        + (f"title = {json.dumps(title)}\n" if title else "")
        for name, title in pairs
    )


def test_a_whole_site_is_read(make_site: MakeSite) -> None:
    site = read_site(make_site())
    assert [one.name for one in site.floors] == ["ground"]
    assert [one.name for one in site.rounds] == ["first"]
    assert len(site.readings) == 15
    assert all(one.usable for one in site.readings)
    assert site.problems == ()
    assert set(site.digests) == {"site.toml", "plans/0.geojson", "readings/first.csv"}
    assert all(len(one) == 64 for one in site.digests.values())


def test_a_duplicate_of_a_field_blank_clears_no_ground(make_site: MakeSite) -> None:
    rows = [
        "R1,A,1,1,0.4,reading,",
        "R2,A,1,1,0.4,duplicate,R1",
        "FB,A,2,2,0.01,field blank,",
        "D1,A,2,2,0.01,duplicate,FB",
        "D2,A,2,2,0.01,field blank,FB",
    ]
    table = "\n".join(("id,room,x,y,value,kind,duplicate_of,floor,height,time,unit", *(
        f"{row},ground,1.5,2026-03-01T09:05,ug/m3" for row in rows))) + "\n"  # fmt: skip
    held = {one.id: one.held for one in read_site(make_site(readings={"a.csv": table})).readings}
    assert held.pop("D1") == ("repeats FB, of the kind 'field blank': write that as its kind too",)
    assert not any(held.values())


# Heights of the bands: the architecture of this program; the bands around published heights are
# common practice, no source.
def test_the_built_in_height_bands_are_the_stated_ones(make_site: MakeSite) -> None:
    assert [(one.name, one.from_m, one.to_m) for one in read_site(make_site()).height_bands] == [
        ("source search", 0.0, 0.1),
        ("child breathing", 0.2, 0.8),
        ("adult breathing", 0.9, 1.8),
    ]
    assert [one.breathing for one in DEFAULT_HEIGHT_BANDS] == [False, True, True]


def test_a_site_may_have_bands_of_its_own(make_site: MakeSite) -> None:
    extra = '[[height_bands]]\nname = "any"\nfrom_m = 0\nto_m = 3\n'
    site = read_site(make_site(extra=extra))
    assert [one.name for one in site.height_bands] == ["any"]
    assert {one.band for one in site.readings} == {"any"}


@pytest.mark.parametrize(
    ("bands", "text"),
    [
        ([("a", 0, 1), ("b", 1, 2)], "share a height"),
        ([("b", 0.5, 2), ("a", 0, 1)], "share a height"),
        ([("a", 1, 0)], "ends below its start"),
        ([("a", 0, 1), ("A", 2, 3)], "or alike"),
    ],
)
def test_bands_that_overlap_or_end_below_their_start_are_refused(
    make_site: MakeSite, bands: list[tuple[str, float, float]], text: str
) -> None:
    extra = "".join(
        f'[[height_bands]]\nname = "{name}"\nfrom_m = {low}\nto_m = {high}\n'
        for name, low, high in bands
    )
    assert text in complaint(make_site(extra=extra))


def test_a_band_to_map_that_is_not_there_is_refused_with_those_that_are(
    make_site: MakeSite,
) -> None:
    shown = complaint(make_site(extra='[map]\nheight_band = "adult"\n'))
    assert "no height band 'adult'" in shown
    assert "adult breathing" in shown


# --- files


@pytest.mark.parametrize("plan", ["../x.geojson", "/etc/hostname", "plans/../../x", "a\\u0000b"])
def test_a_plan_outside_the_folder_loses_its_floor_only(
    make_site: MakeSite, tmp_path: Path, plan: str
) -> None:
    (tmp_path / "x.geojson").write_text("{}")
    site = make_site(extra=f'[[floors]]\nname = "cellar"\nplan = "{plan}"\n')
    if "u0000" in plan:
        assert "control character" in complaint(site)
        return
    read = read_site(site)
    assert [one.name for one in read.floors] == ["ground"]
    assert "outside the site folder" in read.problems[0].message
    assert read.problems[0].floor == "cellar"
    assert set(read.digests) == {"site.toml", "plans/0.geojson", "readings/first.csv"}


def test_a_plan_behind_a_link_out_of_the_folder_is_not_read(
    make_site: MakeSite, make_plan: Any, tmp_path: Path
) -> None:
    site = make_site(plans={"ground": make_plan(), "cellar": None})
    (tmp_path / "outside.geojson").write_text(json.dumps(make_plan()))
    (site / "plans" / "1.geojson").symlink_to(tmp_path / "outside.geojson")
    assert [one.name for one in read_site(site).floors] == ["ground"]


def test_a_readings_file_outside_the_folder_is_an_error_and_the_rest_goes_on(
    make_site: MakeSite,
) -> None:
    site = make_site(extra='[[rounds]]\nname = "x"\nreadings = ["../../etc/passwd", "a"]\n')
    read = read_site(site)
    assert len(read.readings) == 15
    assert [one.where for one in read.problems] == ["round 'x'", "a"]
    assert {one.severity for one in read.problems} == {"error"}


def test_a_missing_plan_or_readings_file_is_named(make_site: MakeSite) -> None:
    read = read_site(make_site(plans={"ground": None}, readings={"first.csv": None}))
    assert [(one.severity, one.where, one.message) for one in read.problems] == [
        ("error", "plans/0.geojson", "no such file"),
        ("error", "readings/first.csv", "no such file"),
    ]


def test_readings_on_a_floor_whose_plan_was_lost_are_held_for_that(make_site: MakeSite) -> None:
    read = read_site(make_site(plans={"ground": b"{"}))
    assert {one.held for one in read.readings} == {
        ("the plan of floor 'ground' could not be read",)
    }


def test_one_file_named_twice_in_a_round_is_read_once(make_site: MakeSite) -> None:
    site = make_site()
    text = (site / "site.toml").read_text()
    text = text.replace('["readings/first.csv"]', '["readings/first.csv", "readings/first.csv"]')
    (site / "site.toml").write_text(text)
    read = read_site(site)
    assert len(read.readings) == 15
    assert all(one.usable for one in read.readings)


def test_one_file_may_hold_two_rounds_if_each_row_says_which(
    make_site: MakeSite, make_rows: Any
) -> None:
    header = "id,floor,room,x,y,height,time,value,unit,qualifier,note,round"
    rows = [row + ("," + ("first" if k % 2 else "second")) for k, row in enumerate(make_rows(6))]
    site = make_site(readings={"first.csv": "\n".join([header, *rows])})
    with (site / "site.toml").open("a") as file:
        file.write('[[rounds]]\nname = "second"\nreadings = ["readings/first.csv"]\n')
    read = read_site(site)
    assert [one.round for one in read.readings] == ["second", "first"] * 3
    assert all(one.usable for one in read.readings)


# --- names


@pytest.mark.parametrize(
    "pairs",
    [
        [("a", ""), ("a", "")],
        [("a", ""), ("A", "")],
        [("a b", ""), ("a-b", "")],
        [("a/b", ""), ("a b", "")],
        [("é", ""), ("e\u0301", "")],
        [("?", ""), ("!", "")],
        [("a", "b"), ("b", "c")],
        [("a", "Hall"), ("b", "hall")],
    ],
)
def test_floors_that_one_word_or_one_file_could_mean_are_refused(
    make_site: MakeSite, make_plan: Any, pairs: list[tuple[str, str]]
) -> None:
    site = make_site(plans={}, readings={}, extra=floors(*pairs))
    shown = complaint(site)
    assert "two floors are called" in shown


def test_a_floor_may_carry_its_name_as_its_title(make_site: MakeSite, make_plan: Any) -> None:
    site = make_site(plans={}, readings={}, extra=floors(("a", "a"), ("b", "B")))
    (site / "plans/0.geojson").write_text(json.dumps(make_plan()))
    assert len(read_site(site).floors) == 2


def test_rounds_called_alike_are_refused(make_site: MakeSite) -> None:
    extra = '[[rounds]]\nname = "FIRST"\n'
    assert "two rounds are called" in complaint(make_site(extra=extra))


@pytest.mark.parametrize(
    "extra", ["clear_at = 0.2\nremediate_at = 0.2", "clear_at = 0.2\nremediate_at = 0.1",
              "remediate_at = 0.05"]
)  # fmt: skip
def test_a_rule_that_clears_what_it_remediates_is_refused(make_site: MakeSite, extra: str) -> None:
    assert "is not below remediate_at" in complaint(make_site(extra=f"[map]\n{extra}\n"))


# --- site.toml itself


def test_a_site_file_that_is_not_utf_8_is_one_line(make_site: MakeSite) -> None:
    site = make_site()
    (site / "site.toml").write_bytes('name = "Büro"'.encode("latin-1"))
    assert "is not UTF-8" in complaint(site)


def test_a_site_file_with_a_byte_order_mark_is_read(make_site: MakeSite) -> None:
    site = make_site()
    (site / "site.toml").write_bytes(b"\xef\xbb\xbf" + (site / "site.toml").read_bytes())
    assert read_site(site).name == "Test building (invented)"


@pytest.mark.parametrize(
    ("limit", "text"),
    [("0.05", "no unit"), ("x", "not a number"), ("0 ug/m3", "above zero"), ("1 mg/kg", "not a")],
)
def test_a_detection_limit_that_is_none_is_refused_by_its_key(
    make_site: MakeSite, limit: str, text: str
) -> None:
    shown = complaint(make_site(extra=f'[readings]\ndetection_limit = "{limit}"\n'))
    assert "[readings] detection_limit" in shown
    assert text in shown


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:2263", "EPSG:0", "nonsense", ""])
def test_a_map_frame_that_is_not_in_metres_is_refused(make_site: MakeSite, crs: str) -> None:
    assert "[map_frame] crs" in complaint(make_site(extra=f'[map_frame]\ncrs = "{crs}"\n'))


def test_a_site_of_names_only_is_read_with_nothing_in_it(make_site: MakeSite) -> None:
    site = read_site(make_site(toml='name = "x"'))
    assert (site.floors, site.rounds, site.readings, site.level) == ((), (), (), None)


def test_a_region_is_a_floor_for_bulk_samples_and_not_for_air(
    make_site: Any, make_plan: Any, make_room: Any
) -> None:
    plans = {"ground": make_plan(make_room("A", 400_000, 7_400_000, 900_000, 7_800_000))}
    lost = read_site(make_site(plans=plans))
    assert lost.floors == ()
    assert any("span 500000 m" in one.message for one in lost.problems)
    site = make_site("bulk", plans=plans, top='medium = "bulk"\nanalyte = "mercury"\n')
    assert [floor.name for floor in read_site(site).floors] == ["ground"]
