from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.editing.new_reading import add_reading
from hgmap.editing.reading_edits import Location, delete_rows, locate, move_reading, set_cells
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.errors import HgmapError, ReadingsError
from hgmap.site.reading import Reading

MakeSite = Callable[..., Path]
FIRST = "readings/first.csv"


def reading(files: SiteFiles, identifier: str) -> Reading:
    (found,) = [one for one in site_of(files).readings if one.id == identifier]
    return found


def with_table(make_site: MakeSite, table: str | bytes, **more: object) -> SiteFiles:
    return read_site_files(make_site(readings={"first.csv": table}, **more))


@pytest.fixture
def files(make_site: MakeSite) -> SiteFiles:
    return read_site_files(make_site())


def test_a_reading_is_found_where_it_was_written_down(files: SiteFiles) -> None:
    for one in site_of(files).readings:
        name, row = locate(files, one.where)
        assert files.text(name).splitlines()[row - 1].startswith(f"{one.id},")
    for where in ("readings/first.csv", "readings/other.csv, row 2", "../x.csv, row 2"):
        with pytest.raises(HgmapError):
            locate(files, where)


def test_cells_are_set_and_nothing_else_changes(files: SiteFiles) -> None:
    after = set_cells(files, FIRST, {(2, "value"): "7.5", (2, "note"): "=1+1", (3, "id"): "Q"})
    assert changed(files, after) == (FIRST,)
    one = reading(after, "R1")
    assert (one.value, one.note) == (7.5, "=1+1")
    assert b",'=1+1" in after.contents[FIRST]
    assert [one.id for one in site_of(after).readings][:3] == ["R1", "Q", "R3"]
    before, now = (one.contents[FIRST].splitlines() for one in (files, after))
    assert [k for k, line in enumerate(before) if line != now[k]] == [1, 2]


def test_a_column_of_ours_that_is_not_there_is_added_and_a_strange_one_refused(
    files: SiteFiles,
) -> None:
    after = set_cells(files, FIRST, {(2, "kind"): "duplicate", (2, "duplicate_of"): "R2"})
    assert (reading(after, "R1").kind, reading(after, "R1").duplicate_of) == ("duplicate", "R2")
    assert set_cells(files, FIRST, {(2, "kind"): ""}) == files
    with pytest.raises(ReadingsError, match="no column 'colour'"):
        set_cells(files, FIRST, {(2, "colour"): "red"})


COMMAS = (
    "id;floor;x;y;height;value;unit\nA;ground;1,5;1,25;1,5;0,41;ug/m3\n"
    "B;ground;2;2;1,5;1,850;ug/m3\n"
)
POINTS = (
    "id,floor,x,y,height,value,unit\nA,ground,1.5,1.25,1.5,0.41,ug/m3\n"
    "B,ground,2,2,1.5,1.850,ug/m3\n"
)


@pytest.mark.parametrize("table", [COMMAS, POINTS])
@pytest.mark.parametrize("typed", ["0,75", "0.75", "+0.75", " 0,75 "])
def test_a_number_is_written_with_the_decimal_mark_of_its_file(
    make_site: MakeSite, table: str, typed: str
) -> None:
    files = with_table(make_site, table)
    after = set_cells(files, FIRST, {(2, "value"): typed})
    assert reading(after, "A").value == 0.75
    assert reading(after, "B") == reading(files, "B")
    assert reading(after, "B").value == 1.85


def test_a_limit_stays_a_limit_and_a_word_a_word(make_site: MakeSite) -> None:
    files = with_table(make_site, COMMAS)
    one = reading(set_cells(files, FIRST, {(2, "value"): "<0.05"}), "A")
    assert (one.value, one.qualifier) == (0.05, "<")
    held = set_cells(files, FIRST, {(2, "value"): "=HYPERLINK(1)"})
    assert b";'=HYPERLINK" in held.contents[FIRST]
    assert reading(held, "A").held


def test_a_number_that_may_mean_two_is_asked_about(make_site: MakeSite) -> None:
    for table, typed in ((COMMAS, "1.850"), (POINTS, "1,850")):
        files = with_table(make_site, table, folder=f"s{len(typed)}{table[2]}")
        with pytest.raises(ReadingsError, match=r"row 2, value: .*decimal mark or for thousands"):
            set_cells(files, FIRST, {(2, "value"): typed})


def test_the_only_proof_of_a_decimal_comma_is_not_taken_from_the_others(
    make_site: MakeSite,
) -> None:
    table = "id;floor;room;height;value;unit\nA;ground;A;1;0,41;ug/m3\nB;ground;A;1;1,850;ug/m3\n"
    files = with_table(make_site, table)
    for edit in (lambda: set_cells(files, FIRST, {(2, "value"): "4"}),
                 lambda: delete_rows(files, [Location(FIRST, 2)])):  # fmt: skip
        with pytest.raises(ReadingsError, match="row 3: '1,850' would be read otherwise"):
            edit()


WITHOUT_XY = (
    "id,floor,room,height,value,unit\nA,ground,A,1.5,0.4,ug/m3\nB,ground,Room B,1.5,0.5,ug/m3\n"
)
GRID = (
    '[[floors.grids]]\nname = "g"\norigin_x_m = 0\norigin_y_m = 0\npitch_x_m = 1\npitch_y_m = 1\n'
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=20)
@given(x=st.floats(0.1, 11.9), y=st.floats(0.1, 4.9), at=st.sampled_from(["A", "B"]),
       table=st.sampled_from([WITHOUT_XY, COMMAS, POINTS]))  # fmt: skip
def test_a_moved_reading_stands_where_it_was_put_to_the_millimetre(
    make_site: MakeSite, tmp_path: Path, x: float, y: float, at: str, table: str
) -> None:
    files = with_table(make_site, table, folder=f"s{len(list(tmp_path.iterdir()))}")
    one = reading(files, at)
    after = move_reading(files, one, x, y)
    moved = reading(after, at)
    assert (moved.x, moved.y, moved.placed) == (round(x, 3), round(y, 3), "given")
    assert moved.held == ()
    assert moved.room == ("A" if round(x, 3) <= 6 else "B") or abs(x - 6) < 0.02
    others = [one for one in site_of(files).readings if one.id != at]
    assert [one for one in site_of(after).readings if one.id != at] == others
    assert move_reading(after, moved, x, y) == after


def test_the_room_is_written_in_the_way_that_it_was(make_site: MakeSite) -> None:
    files = with_table(make_site, WITHOUT_XY)
    after = move_reading(files, reading(files, "A"), 9, 1)
    assert b"A,ground,B,1.5" in after.contents[FIRST]
    after = move_reading(files, reading(files, "B"), 2, 1)
    assert b"B,ground,Room A,1.5" in after.contents[FIRST]
    outside = move_reading(files, reading(files, "B"), 50, 50)
    assert reading(outside, "B").held == ("(50, 50) lies in no room of floor 'ground'",)


@pytest.mark.parametrize(
    ("column", "place", "placed"),
    [("offsets", "left 1; bottom 1", "walls"), ("grid", "B2", "grid")],
)
def test_a_place_by_walls_or_grid_gives_way_to_the_new_one(
    make_site: MakeSite, column: str, place: str, placed: str
) -> None:
    table = f"id,floor,room,{column},height,value,unit\nA,ground,A,{place},1.5,0.4,ug/m3\n"
    files = with_table(make_site, table, extra=GRID)
    assert reading(files, "A").placed == placed
    moved = reading(move_reading(files, reading(files, "A"), 9, 4), "A")
    assert (moved.x, moved.y, moved.placed, moved.room, moved.held) == (9, 4, "given", "B", ())


def test_a_new_reading_is_what_was_written_and_has_an_id_of_its_own(make_site: MakeSite) -> None:
    files = read_site_files(make_site(readings={
        "first.csv": POINTS.replace("A,", "P007,").replace("B,", "P008,"),
        "second.csv": COMMAS.replace("A;", "p009;"),
    }))  # fmt: skip
    for round_ in ("first", "second"):
        after, identifier = add_reading(
            files, round_, floor="ground", x=1.12345, y=2.0, value="<0.05", unit="ug/m3",
            height="1.5", time=datetime(2026, 3, 2, 9, 5), others={"note": "=late", "room": "A"},
        )  # fmt: skip
        one = reading(after, identifier)
        assert identifier == ("P010" if round_ == "first" else "p010")
        assert (one.x, one.y, one.value, one.qualifier) == (1.123, 2.0, 0.05, "<")
        assert (one.round, one.floor, one.room, one.note) == (round_, "ground", "A", "=late")
        assert (one.time, one.height_m, one.held) == (datetime(2026, 3, 2, 9, 5), 1.5, ())
        others = [other for other in site_of(after).readings if other != one]
        assert others == list(site_of(files).readings)


def test_a_round_without_a_file_gets_one_and_a_shared_file_the_rounds_name(
    make_site: MakeSite,
) -> None:
    extra = '[[rounds]]\nname = "late / 2"\n[[rounds]]\nname = "shared"\n'
    extra += 'readings = ["readings/first.csv"]\n'
    files = read_site_files(make_site(extra=extra))
    after, identifier = add_reading(files, "late / 2", floor="ground", x=1, y=1, value="2",
                                    unit="ug/m3", height="1.5")  # fmt: skip
    assert changed(files, after) == ("readings/late-2.csv", "site.toml")
    one = reading(after, identifier)
    assert (one.round, one.held) == ("late / 2", ())
    assert after.contents["readings/late-2.csv"].startswith(b"\xef\xbb\xbfid,")
    after, identifier = add_reading(files, "shared", floor="ground", x=1, y=1, value="2",
                                    unit="ug/m3", height="1.5")  # fmt: skip
    assert reading(after, identifier).round == "shared"


def test_rows_are_deleted_and_undo_is_the_files_before(files: SiteFiles) -> None:
    rows = [Location(FIRST, row) for row in (2, 5)]
    after = delete_rows(files, rows)
    assert [one.id for one in site_of(after).readings][:3] == ["R2", "R3", "R5"]
    assert files.contents[FIRST].count(b"\n") == after.contents[FIRST].count(b"\n") + 2
    with pytest.raises(ReadingsError, match="no such row"):
        delete_rows(files, [Location(FIRST, 99)])


def test_a_reading_without_an_id_keeps_the_name_that_its_row_gives(make_site: MakeSite) -> None:
    table = "id,floor,room,height,value,unit\nA,ground,A,1,1,ug/m3\n,ground,A,1,2,ug/m3\n"
    files = with_table(make_site, table)
    assert [one.id for one in site_of(files).readings] == ["A", "first-row-3"]
    after = delete_rows(files, [Location(FIRST, 2)])
    assert [one.id for one in site_of(after).readings] == ["first-row-3"]


def test_a_file_without_a_row_is_no_longer_listed_and_can_be_filled_again(
    make_site: MakeSite,
) -> None:
    files = with_table(make_site, WITHOUT_XY)
    after = delete_rows(files, [Location(FIRST, 2), Location(FIRST, 3)])
    site = site_of(after)
    assert (site.rounds[0].files, site.readings) == ((), ())
    assert not [one for one in site.problems if one.severity == "error"]
    again, identifier = add_reading(after, "first", floor="ground", x=1, y=1, value="2",
                                    unit="ug/m3", height="1.5")  # fmt: skip
    assert reading(again, identifier).held == ()


def test_the_demonstration_site_is_edited_row_by_row_without_a_trace_elsewhere() -> None:
    files = read_site_files(Path(__file__).parents[2] / "demo_site")
    site = site_of(files)
    for one in site.readings[::40]:
        name, row = locate(files, one.where)
        after = set_cells(files, name, {(row, "note"): 'seen, and "checked"'})
        other = site_of(after)
        assert [b for a, b in zip(site.readings, other.readings, strict=True) if a != b] == [
            reading for reading in other.readings if reading.where == one.where
        ]
        back = set_cells(after, name, {(row, "note"): one.note})
        assert site_of(back).readings == site.readings
