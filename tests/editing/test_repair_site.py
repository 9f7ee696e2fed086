"""A site's plans are repaired in a copy, whole or not at all, and nothing else changes."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing import repair_site
from hgmap.editing.finding_places import place_words
from hgmap.editing.plan_check import check_plans
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import scaled
from hgmap.editing.repair_site import repair_plans, repaired
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import HgmapError, SiteError
from hgmap.site.folder import read_site
from tests.editing.drawn_plans import area, door, draft_of, feature, plan_of, plans, room
from tests.editing.test_soundness import broken
from tests.editing.test_soundness_units import HOUSE

MakeSite = Callable[..., Path]
A, B, D = room("A", 0, 0, 6, 5), room("B", 5.6, 0, 12, 5), door("d1", 5.8, 2, 5.8, 2.9)
OPEN_RING = feature("room", "Polygon", [[[12, 0], [15, 0], [15, 5], [12, 5]]], id="C", name="Nook")
SAME = feature("room", "Polygon", [[[0, 5], [4, 5], [4, 9], [0, 9], [0, 5]]], id="E", name="Room A")
SITE = """\
schema_version = 1
name = "A shed (invented)"
[[floors]]
name = "g"
plan = "g.geojson"
"""


def plan(*features: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features)}


@pytest.fixture
def bad(make_site: MakeSite) -> Path:
    site = make_site(plans={"ground": plan(A, B, D, OPEN_RING, SAME)})
    (site / "results/first").mkdir(parents=True)
    (site / "results/first/note.txt").write_text("kept", "utf-8")
    (site / "photo.bin").write_bytes(b"\x00\xff")
    return site


def everything(folder: Path) -> dict[str, bytes]:
    return {
        one.relative_to(folder).as_posix(): one.read_bytes()
        for one in folder.rglob("*") if one.is_file()
    }  # fmt: skip


def in_memory(draft: PlanDraft) -> SiteFiles:
    return SiteFiles(Path("nowhere"), {"site.toml": SITE.encode(), "g.geojson": draft.to_bytes()})


def test_a_copy_is_repaired_and_the_site_stays_as_it_was(bad: Path, tmp_path: Path) -> None:
    before = everything(bad)
    done = repair_plans(bad, tmp_path / "mended")
    assert everything(bad) == before
    after = everything(tmp_path / "mended")
    assert {name for name in before if after[name] != before[name]} == {"plans/0.geojson"}
    assert set(after) == set(before)
    assert done.left.floors[0].state != "not read"
    assert len(read_site(tmp_path / "mended").floors[0].rooms) == 4
    assert [one.number for one in done.done] == [1, 2, 3]
    ((floor, was, now),) = done.areas
    # A 30, B 32 and E 16 m² can be read before; the ring closed adds 15, the overlap takes 2
    assert (floor, was, now) == ("ground", pytest.approx(78), pytest.approx(91))


def test_what_is_written_is_valid_also_for_another_reader(bad: Path, tmp_path: Path) -> None:
    repair_plans(bad, tmp_path / "mended")
    about, _, shapes, fields = pyogrio.raw.read(tmp_path / "mended/plans/0.geojson")
    kinds = fields[list(about["fields"]).index("kind")]
    rooms = [one for one, kind in zip(shapely.from_wkb(shapes), kinds, strict=True)
             if kind == "room"]  # fmt: skip
    assert all(one.is_valid for one in rooms)
    assert sum(one.area for one in rooms) == pytest.approx(91)


def test_readings_that_were_held_for_the_plan_are_said_to_count(bad: Path, tmp_path: Path) -> None:
    (text,) = repair_plans(bad, tmp_path / "mended").readings
    assert text.startswith("15 readings held before, because the plan of floor 'ground' could not")
    assert text.endswith("(readings/first.csv, rows 2 to 16)")


def test_a_reading_that_stays_held_is_said_with_its_new_reason(
    make_site: MakeSite, tmp_path: Path
) -> None:
    head = "id,floor,room,x,y,height,time,value,unit\n"
    rows = "r1,ground,Cellar,1,1,1.5,2026-03-02T09:00,1,ug/m3\n"
    site = make_site(plans={"ground": plan(A, B, D)}, readings={"first.csv": head + rows})
    (text,) = repair_plans(site, tmp_path / "mended").readings
    assert "held for another reason now: no room 'Cellar' on floor 'ground'" in text
    assert text.endswith("(readings/first.csv, row 2)")


def test_a_refused_repair_is_left_out_whatever_is_repaired_beside_it(bad: Path) -> None:
    check = check_plans(bad)
    number = next(one.number for one in check.findings if one.finding.rule == "overlap")
    done = repaired(repair_site.read_site_files(bad), refuse=[number])
    assert number not in {one.number for one in done.done}
    assert [one.finding.rule for one in done.left.findings if one.finding.severity == "error"] == [
        "overlap"
    ]
    with pytest.raises(SiteError, match="there is no finding 99; the numbers are 1 to"):
        repaired(repair_site.read_site_files(bad), refuse=[99])


def test_a_refusal_and_a_number_hold_while_features_before_it_are_set_aside() -> None:
    flat = [feature("room", "Polygon", [[[k, 20], [k + 1, 20], [k, 20]]]) for k in range(4)]
    files = in_memory(draft_of(*flat, room("A", 0, 0, 6, 5)))
    asked = [one for one in check_plans(files).findings if one.finding.rule == "unsound"]
    assert len(asked) == 4
    done = repaired(files, refuse=[asked[2].number])
    assert [one.number for one in done.done] == [asked[k].number for k in (0, 1, 3)]
    (left,) = [one for one in done.left.findings if one.finding.rule == "unsound"]
    assert left.finding.message.endswith("[2 20]")
    aside = json.loads(done.files.data("g.geojson"))["set_aside"]
    # a made-up id is written down as soon as the feature moves up in the file
    assert [one["geometry"] for one in aside] == [flat[k]["geometry"] for k in (0, 1, 3)]


@pytest.mark.parametrize(
    ("where", "text"),
    [("site/copy", "lies within the site"), ("site", "lies within the site"),
     ("full", "This folder is not empty"), ("file", "A file of this name is there")],
)  # fmt: skip
def test_a_place_that_is_taken_is_refused_and_nothing_is_written(
    bad: Path, tmp_path: Path, where: str, text: str
) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full/x").write_text("x", "utf-8")
    (tmp_path / "file").write_text("x", "utf-8")
    before = everything(tmp_path)
    with pytest.raises(SiteError, match=text):
        repair_plans(bad, tmp_path / where)
    assert everything(tmp_path) == before


def test_a_copy_that_cannot_be_finished_leaves_nothing(
    bad: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    before = everything(tmp_path)
    monkeypatch.setattr("hgmap.editing.repair_site.shutil.copyfile", full)
    with pytest.raises(HgmapError, match=r"cannot be copied \(No space left"):
        repair_plans(bad, tmp_path / "new/mended")
    assert everything(tmp_path) == before
    assert not (tmp_path / "new").exists()


def test_a_link_out_of_the_folder_is_named_and_not_followed(bad: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.txt").write_text("secret", "utf-8")
    (bad / "link.txt").symlink_to(tmp_path / "secret.txt")
    (bad / "gone.txt").symlink_to(bad / "nowhere.txt")
    done = repair_plans(bad, tmp_path / "mended")
    assert done.skipped == ("gone.txt", "link.txt")
    assert not (tmp_path / "mended/link.txt").exists()


def test_a_plan_in_inches_is_scaled_only_where_no_reading_gives_its_place(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    inches = json.loads(scaled(HOUSE, 1 / 0.0254).to_bytes())
    placed = repair_site.read_site_files(make_site("placed", plans={"ground": inches}))
    assert repaired(placed).done == ()
    only_rooms = "id,floor,room,height,time,value,unit\nr1,ground,A,1.5,2026-03-02,1,ug/m3\n"
    free = repair_site.read_site_files(
        make_site("free", plans={"ground": inches}, readings={"first.csv": only_rooms})
    )
    done = repaired(free)
    assert [one.text.partition(":")[0] for one in done.done] == ["take its numbers for inches"]
    assert done.areas[0][2] == pytest.approx(60)
    assert done.left.sound


def test_an_opening_that_a_round_speaks_of_is_not_set_aside(make_site: MakeSite) -> None:
    twice = plan(room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 3),
                 door("d2", 6, 2, 6, 3))  # fmt: skip
    quiet = make_site("quiet", plans={"ground": twice})
    assert len(repaired(repair_site.read_site_files(quiet)).done) == 1
    said = '[rounds.openings.ground]\nd2 = "sealed"\n'
    spoken = make_site("spoken", plans={"ground": twice}, extra=said)
    done = repaired(repair_site.read_site_files(spoken))
    assert (done.done, done.readings) == ((), ())
    assert read_site(spoken).rounds[0].openings == (("ground", "d2", "sealed"),)


@given(plans(), st.lists(broken, min_size=1, max_size=4), st.randoms(use_true_random=False))
def test_a_repaired_plan_is_read_and_loses_no_more_area_than_it_says(
    draft: PlanDraft, bad: list[Any], mix: Any
) -> None:
    features = [*(one.raw for one in draft.features), *bad]
    mix.shuffle(features)
    start = draft_of(*features)
    done = repaired(in_memory(start))
    after = done.left.floors[0].draft
    assert after is not None
    assert done.left.floors[0].state != "not read"
    assert all(one.polygon.is_valid for one in plan_of(after).rooms)
    lost = area(start) - area(after)
    # 0.02 m² of drawing tolerance may be given up where rooms meet
    assert lost <= sum(one.changed_m2 for one in done.done) + 0.02


@given(plans())
def test_a_sound_site_is_copied_byte_by_byte(draft: PlanDraft) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder, copy = Path(place) / "site", Path(place) / "copy"
        folder.mkdir()
        (folder / "site.toml").write_text(SITE, "utf-8")
        (folder / "g.geojson").write_bytes(draft.to_bytes())
        done = repair_plans(folder, copy)
        assert done.done == ()
        assert everything(copy) == everything(folder)


@pytest.mark.parametrize("factor", [0.001, 0.0254])
def test_a_plan_whose_unit_is_a_question_loses_no_room_to_it(
    make_site: MakeSite, factor: float
) -> None:
    small = scaled(
        draft_of(A, room("B", 6.15, 0, 12, 5), D, door("d2", 6.08, 4, 6.08, 4.9)), factor
    )
    site = make_site(plans={"ground": json.loads(small.to_bytes())})
    done = repair_plans(site, site.parent / "copy")  # its readings give their place
    assert done.done == ()
    assert [one.finding.rule for one in done.left.findings] == ["scale"]


@pytest.mark.parametrize(
    "second", [{"id": "B", "name": "room a"}, {"id": "A", "name": "B"}, {"id": "B", "name": "A"}]
)
def test_a_word_that_two_rooms_answered_to_means_neither_after_the_repair(
    second: dict[str, str],
) -> None:
    other = room("B", 6.15, 0, 12, 5)
    other["properties"] |= second
    word = {"room a": "Room A", "B": "A", "A": "A"}[second["name"]]
    done = repaired(in_memory(draft_of(A, other)))
    rooms = check_plans(done.files).floors[0].draft.rooms  # type: ignore[union-attr]
    assert len(rooms) == 2
    said = {text.casefold() for one in rooms for text in (one.id, one.name)}
    assert word.casefold() not in said
    assert f"only {word!r} is held" in done.done[0].text or "room a" in done.done[0].text


def test_ground_that_a_repair_left_out_is_asked_for_until_a_room_has_it() -> None:
    ring = [[0, 6], [6, 11], [6, 6], [0, 11], [0, 6]]  # a bow tie of twice 7.5 m²
    crossed = feature("room", "Polygon", [ring], id="C", name="Hall")
    lost = feature("room", "Polygon", [[[0, 20], [float("nan"), 20], [0, 20]]], id="L", name="Lost")
    done = repaired(in_memory(draft_of(A, crossed, lost)))
    asked = [one.finding for one in done.left.findings if one.finding.rule == "aside"]
    assert sorted(one.message.split(": ")[1] for one in asked) == [
        "7.50 m² of it lie in no room", "nobody can say where it lies",
    ]  # fmt: skip
    assert not done.left.sound
    assert [bool(place_words(one)) for one in asked] == ["7.50" in one.message for one in asked]
    twice = repaired(in_memory(draft_of(A, room("B", 0.01, 0, 6, 5))))
    assert "drawn twice" in twice.done[0].text
    assert twice.left.sound
