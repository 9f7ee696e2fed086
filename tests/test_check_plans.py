"""`hgmap check` answers whether the plan is sound, draws it, and repairs a copy."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.editing.plan_check import check_plans
from hgmap.editing.plan_draft import read_plan_draft
from hgmap.editing.soundness import keep_as_drawn
from hgmap.errors import SiteError
from hgmap.report.drawing import Label, Sheet, texts
from hgmap.report.soundness_sheet import soundness_sheets
from hgmap.site.check import check_site
from hgmap.site.folder import read_site
from tests.editing.drawn_plans import door, feature, room

MakeSite = Callable[..., Path]
Run = Callable[..., Any]
OVERLAP = [room("A", 0, 0, 6, 5), room("B", 5, 0, 12, 5), door("d1", 6, 2, 6, 3)]


def plan(*features: Any) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": list(features)}


@pytest.fixture
def two_floors(make_site: MakeSite) -> Path:
    upper = [room("U", 0, 0, 12, 5), door("u1", 0, 2, 0, 2.03)]
    return make_site(plans={"ground": plan(*OVERLAP), "first": plan(*upper), "top": b"no plan"})


def test_a_sound_plan_is_answered_in_a_sentence(make_site: MakeSite, run: Run) -> None:
    got = run("check", make_site())
    lines = got.out.splitlines()
    assert lines[lines.index("IS THE PLAN SOUND?") + 1] == (
        "The plan is sound: nothing stands against it."
    )
    assert "in question" not in got.out


def test_findings_are_numbered_through_the_floors_with_place_and_repair(
    two_floors: Path, run: Run
) -> None:
    got = run("check", two_floors)
    assert got.code == 1
    lines = got.out.splitlines()
    assert (
        "  ! 1. error: rooms 'Room A' and 'Room B' overlap by 5.00 m² (at x 5.50, y 2.50 m); move "
        "a corner, or cut it from one of them; repair: cut it from room 'Room B', the larger "
        "(5.00 m²)"
    ) in lines
    assert any(one.startswith("  ! 2. warning: opening 'u1' is 0.03 m wide") for one in lines)
    assert any(one.startswith("top: no plan can be made of its file: plans/2") for one in lines)
    assert lines[-1].endswith(
        "But the plan is in question: Not sound: ground (1 error, the plan is not read); first (1 "
        "warning); top (plans/2.geojson: is not GeoJSON: Expecting value at line 1)."
    )


def test_readings_fit_to_map_are_not_called_so_without_a_word_of_the_plan(
    make_site: MakeSite, run: Run
) -> None:
    narrow = [room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 2.03),
              door("d2", 6, 4, 6, 4.9)]  # fmt: skip
    lines = run("check", make_site(plans={"ground": plan(*narrow)})).out.splitlines()
    assert lines[-1].startswith("Fit with cautions: ")
    assert lines[-1].endswith("But the plan is in question: Not sound: ground (1 warning).")


def test_what_a_person_keeps_as_drawn_counts_no_more(make_site: MakeSite, run: Run) -> None:
    narrow = [room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 2.03),
              door("d2", 6, 4, 6, 4.9)]  # fmt: skip
    site = make_site(plans={"ground": plan(*narrow)})
    file = site / "plans/0.geojson"
    (one,) = check_plans(site).findings
    kept = keep_as_drawn(read_plan_draft(file.read_bytes()), one.finding)
    file.write_bytes(kept.to_bytes())
    assert check_plans(site).sound
    assert "    1. kept as drawn: opening 'd1' is 0.03 m wide (at" in run("check", site).out


def test_a_note_of_the_reader_is_not_said_twice(make_site: MakeSite, run: Run) -> None:
    far = [room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 3),
           door("d2", 30, 2, 30, 3)]  # fmt: skip
    out = run("check", make_site(plans={"ground": plan(*far)})).out
    assert out.count("opening 'd2' touches no room") == 1


def test_a_copy_is_repaired_and_the_check_of_it_is_clean_of_errors(
    two_floors: Path, run: Run, tmp_path: Path
) -> None:
    got = run("check", two_floors, "--repair", tmp_path / "mended")
    assert got.code == 1
    assert "    1. ground: cut it from room 'Room B', the larger (5.00 m²)" in got.out
    assert "  ground: rooms of 65.00 m² could be read before, 60.00 m² now" in got.out
    assert {one.name for one in check_site(tmp_path / "mended").site.floors} == {"ground", "first"}
    again = run("check", two_floors, "--repair", tmp_path / "mended")
    assert (again.code, again.out) == (2, "")
    assert "This folder is a site already" in again.err


def test_a_repair_that_is_refused_is_not_made(two_floors: Path, run: Run, tmp_path: Path) -> None:
    got = run("check", two_floors, "--repair", tmp_path / "mended", "--refuse", 1)
    assert "REPAIRED, IN A COPY\n    nothing\n" in got.out
    assert (tmp_path / "mended/plans/0.geojson").read_bytes() == (
        two_floors / "plans/0.geojson"
    ).read_bytes()
    wrong = run("check", two_floors, "--repair", tmp_path / "other", "--refuse", 77)
    assert wrong.code == 2
    assert "there is no finding 77" in wrong.err
    assert not (tmp_path / "other").exists()
    alone = run("check", two_floors, "--refuse", 1)
    assert alone.err == (
        "hgmap: --refuse: only means something with --repair; add `--repair FOLDER`\n"
    )


def test_repairs_to_refuse_are_a_list_with_ranges_or_given_again(
    two_floors: Path, run: Run, tmp_path: Path
) -> None:
    assert check_plans(two_floors).findings[1].number == 2
    for folder, refuse in (("a", ["1-2"]), ("b", ["2,1"]), ("c", ["2", "--refuse", "1"])):
        got = run("check", two_floors, "--repair", tmp_path / folder, "--refuse", *refuse)
        assert "REPAIRED, IN A COPY\n    nothing\n" in got.out
    wrong = run("check", two_floors, "--repair", tmp_path / "d", "--refuse", "1;2")
    assert wrong.err == "hgmap: --refuse: '1;2' is no number; write \"1,4-6\"\n"
    assert not (tmp_path / "d").exists()


def test_pictures_are_a_file_a_floor_or_one_pdf(two_floors: Path, run: Run, tmp_path: Path) -> None:
    run("check", two_floors, "--picture", tmp_path / "check.png")
    run("check", two_floors, "--picture", tmp_path / "check.pdf")
    assert sorted(one.name for one in tmp_path.glob("check*")) == [
        "check-first.png", "check-ground.png", "check.pdf",
    ]  # fmt: skip
    wrong = run("check", two_floors, "--picture", tmp_path / "check.bmp")
    assert wrong.code == 2
    assert "is no picture" in wrong.err


def sheet_of(site: Path) -> Sheet:
    ((_, sheet),) = soundness_sheets(read_site(site), check_plans(site).floors)
    return sheet


def test_every_finding_has_its_number_on_the_plan_and_in_the_list(make_site: MakeSite) -> None:
    bow = [[12, 0], [18, 0], [12, 5], [18, 5], [12, 0]]
    bad = [*OVERLAP, feature("room", "Polygon", [bow], id="C"), door("d2", 3, 9, 4, 9),
           door("d3", 0, 2, 0, 2.05)]  # fmt: skip
    site = make_site(plans={"ground": plan(*bad)})
    sheet = sheet_of(site)
    numbers = {str(one.number) for one in check_plans(site).findings}
    on_plan = {one.text for one in sheet.frames[0].drawing if isinstance(one, Label)}
    listed = {one.text for one in sheet.page if isinstance(one, Label)}
    assert len(numbers) >= 4
    assert numbers <= on_plan
    assert numbers <= listed
    frame = sheet.frames[0]
    for one in frame.drawing:  # nothing is drawn for a place that the sheet does not show
        if isinstance(one, Label):
            assert frame.seen_m[0] <= one.x <= frame.seen_m[2]
            assert frame.seen_m[1] <= one.y <= frame.seen_m[3]


def test_findings_that_find_no_room_on_the_sheet_are_counted(make_site: MakeSite) -> None:
    slits = [door(f"n{k}", 0.1 * k, 0, 0.1 * k + 0.02, 0) for k in range(60)]
    usual = [door(f"w{k}", 0.07 * k, 5, 0.07 * k + 0.9, 5) for k in range(61)]
    site = make_site(plans={"ground": plan(room("A", 0, 0, 6, 5), *slits, *usual)})
    assert any("more; the check itself lists all" in one for one in texts(sheet_of(site)))


def test_a_plan_of_nothing_that_can_be_drawn_has_a_sheet_all_the_same(make_site: MakeSite) -> None:
    site = make_site(plans={"ground": plan({"type": "Feature", "properties": {"kind": "room"}})})
    assert "Not read as it is drawn: an error stands against it." in texts(sheet_of(site))


def test_a_folder_that_is_no_site_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match="no such folder"):
        check_plans(tmp_path / "none")


def test_a_full_disk_leaves_no_quality_page_without_the_other(
    make_site: MakeSite, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, data: bytes) -> None:
        if path.suffix == ".png":
            raise OSError(errno.ENOSPC, "No space left on device")
        path.write_bytes(data)

    monkeypatch.setattr("hgmap.site.files._fill", full)
    found = run("check", make_site(), "--out", tmp_path / "pages")
    assert found.code == 2
    assert "No space left on device" in found.err
    assert not list(tmp_path.rglob("quality*"))
