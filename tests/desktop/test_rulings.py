"""What the window rules is what the command line rules, and nothing more reassuring."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pytestqt.qtbot import QtBot

from hgmap.batch import map_site
from hgmap.desktop.choices import Choices
from hgmap.desktop.export_work import Export, export
from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.print_sheets import Wanted
from hgmap.desktop.window import Window
from hgmap.desktop.work import Progress
from hgmap.editing.overrule_edits import hold, release, withdraw
from hgmap.floor_map import FloorMap, MapOptions
from hgmap.report.drawing import texts
from hgmap.report.words import square_metres
from hgmap.site.folder import read_site
from tests.conftest import HEADER
from tests.desktop.steps import SLOW_MS, settle

MakeSite = Callable[..., Path]
OpenWindow = Callable[..., Window]
pytestmark = pytest.mark.usefixtures("no_sheets")

HALF = "[map]\ncell_m = 0.5\n"


def opened(qtbot: QtBot, open_window: OpenWindow, folder: Path) -> Window:
    window = open_window()
    assert window.open_site(folder, ask=False)
    settle(qtbot, window)
    return window


def said(one: FloorMap) -> list[tuple[Any, ...]]:
    """Return everything that a floor's map rules."""
    found = [
        (zones.level.value, z.name, z.room, z.geometry.wkt, z.reasons)
        for zones in (one.zones, *one.nested)
        for z in zones.zones
    ]
    places = [
        (p.rank, p.x, p.y, p.reasons, p.repeats, f"{p.left_m2 or 0:.9g}")
        for p in one.resample.places
    ]
    return [*found, *places, (one.no_surface, one.nothing_clear, one.warnings)]


def agrees(window: Window, folder: Path, out: Path, **options: Any) -> None:
    """Check the map on the screen against that of the command line, on the files on disk."""
    session = window.session
    assert session.mapped is not None, session.why_no_map
    assert session.mapped.whole
    run = map_site(folder, MapOptions(round=session.choices.round, out=out, **options))
    theirs = next(one for one in run.floors if one.floor.name == session.choices.floor)
    assert said(session.mapped.floor_map) == said(theirs)


def lower(rows: list[str], factor: float) -> list[str]:
    """Return the same rows with values divided by a factor."""
    found = []
    for row in rows:
        cells = row.split(",")
        cells[7] = f"{float(cells[7]) / factor:.4g}"
        found.append(",".join(cells))
    return found


def with_cells(row: str, **cells: str) -> str:
    """Return a row with other cells."""
    names = HEADER.split(",")
    found = dict(zip(names, row.split(","), strict=True)) | cells
    return ",".join(found[name] for name in names)


NESTED = '[[nested_levels]]\nname = "isolate"\nlevel = "6 ug/m3"\n'


def two_round_site(make_site: MakeSite, make_table: Any, rows: list[str]) -> Path:
    folder = make_site(
        readings={"first.csv": make_table(rows), "second.csv": make_table(lower(rows, 3.0))},
        extra=HALF + NESTED,
    )
    text = (folder / "site.toml").read_text("utf-8")
    text = text.replace('readings = ["readings/first.csv"]\n',
                        'readings = ["readings/first.csv"]\n'
                        '[rounds.openings]\nground = {d1 = "sealed"}\n')  # fmt: skip
    (folder / "site.toml").write_text(text, "utf-8")
    return folder


def test_nested_levels_and_doors_that_stand_otherwise_in_each_round(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any,
    tmp_path: Path,
) -> None:  # fmt: skip
    folder = two_round_site(make_site, make_table, list(make_rows()))
    window = opened(qtbot, open_window, folder)
    for k, name in enumerate(["first", "second", "first", "second"]):
        window.session.choose(round=name)
        settle(qtbot, window)
        agrees(window, folder, tmp_path / f"cli{k}")
        door = next(o for o in window.session.mapped.floor_map.floor.openings)
        assert door.state == ("sealed" if name == "first" else "open")
    for k, (what, options) in enumerate([
        ({"level": "1 ug/m3"}, {"level": "1 ug/m3"}),
        ({"method": "idw"}, {"level": "1 ug/m3", "method": "idw"}),
        ({"walls": False}, {"level": "1 ug/m3", "method": "idw", "walls": False}),
        ({"method": None}, {"level": "1 ug/m3", "walls": False}),
        ({"walls": None, "level": None, "clear_at": 0.01}, {"clear_at": 0.01}),
        ({"zones": "whole rooms"}, {"clear_at": 0.01, "whole_rooms": True}),
        ({"zones": None, "clear_at": None}, {}),
    ]):  # fmt: skip
        window.session.choose(**what)
        settle(qtbot, window)
        agrees(window, folder, tmp_path / f"how{k}", **options)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda rows: [with_cells(r, qualifier=">") if k == 4 else r for k, r in enumerate(rows)],
        lambda rows: [with_cells(r, qualifier="<", value="0.05") for r in rows],
        lambda rows: [with_cells(r, qualifier="<", value="5") for r in rows],
        lambda rows: [with_cells(r, qualifier="<", value="2") for r in rows],
        lambda rows: [with_cells(r, unit="furlongs") if k == 0 else r for k, r in enumerate(rows)],
        lambda rows: rows[:2],
        lambda rows: [with_cells(r, floor="nowhere") for r in rows],
        lambda rows: [with_cells(r, qualifier=">", value="0.1") if k == 14 else r
                      for k, r in enumerate(rows)],
    ],
    ids=["saturated", "non-detects", "limit above", "limit near", "held", "two", "none", "low sat"],
)  # fmt: skip
def test_readings_that_say_little(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any,
    tmp_path: Path, spoil: Callable[[list[str]], list[str]],
) -> None:  # fmt: skip
    folder = make_site(readings={"first.csv": make_table(spoil(list(make_rows())))}, extra=HALF)
    window = opened(qtbot, open_window, folder)
    agrees(window, folder, tmp_path / "cli")


def test_a_reading_held_and_used_again_and_the_way_back(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any,
    tmp_path: Path,
) -> None:  # fmt: skip
    rows = list(make_rows())
    rows[0] = with_cells(rows[0], qualifier=">")
    folder = make_site(readings={"first.csv": make_table(rows)}, extra=HALF)
    window = opened(qtbot, open_window, folder)
    session = window.session
    at_first = said(session.mapped.floor_map)  # type: ignore[union-attr]

    def reading() -> Any:
        assert session.site is not None
        return next(one for one in session.site.readings if one.id == "R1")

    one = reading()
    for k, make in enumerate([
        lambda files: hold(files, one, "AB", "the lid was open"),
        lambda files: withdraw(files, reading()),
        lambda files: release(files, reading(), "AB", "seen again"),
    ]):  # fmt: skip
        assert session.edit("decide", make)
        settle(qtbot, window)
        assert session.save()
        agrees(window, folder, tmp_path / f"cli{k}")
        if k == 0:
            assert said(session.mapped.floor_map) != at_first  # type: ignore[union-attr]
    for _ in range(3):
        session.undo_stack.undo()
    settle(qtbot, window)
    assert said(session.mapped.floor_map) == at_first  # type: ignore[union-attr]


def two_floors(make_site: MakeSite, make_plan: Any, make_table: Any, make_rows: Any) -> Path:
    """Write two floors, of which the second round reads one."""
    ground, first = list(make_rows()), list(make_rows(floor="first", prefix="F"))
    return make_site(
        plans={"ground": make_plan(), "first": make_plan()},
        readings={"before.csv": make_table([*ground, *first]),
                  "after.csv": make_table(lower(ground, 50.0))},
        extra=HALF,
    )  # fmt: skip


def test_a_floor_that_was_not_read_again_is_never_taken_for_one_that_was(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_plan: Any, make_table: Any,
    make_rows: Any, tmp_path: Path,
) -> None:  # fmt: skip
    folder = two_floors(make_site, make_plan, make_table, make_rows)
    window = opened(qtbot, open_window, folder)
    session = window.session
    assert session.choices.round == "after"
    agrees(window, folder, tmp_path / "ground")
    session.choose(floor="first")
    settle(qtbot, window)
    agrees(window, folder, tmp_path / "first")
    window.choose_question(5)
    qtbot.waitUntil(lambda: session.clearance is not None, timeout=SLOW_MS)
    panel: Any = window.column.panels["release"]
    of_first = {one.cells[2] for one in panel.rooms.rows.rows if one.floor == "first"}
    assert of_first == {"cannot tell yet"}
    panel.compare.click()
    qtbot.waitUntil(lambda: bool(panel.rounds.why), timeout=SLOW_MS)
    assert "no surface in round 'after'" in panel.said.text()
    assert panel.change_rooms.isHidden()
    for key in ("map", "next", "release"):
        assert not window.column.buttons[key].toolTip().startswith("settled")


def test_a_floor_left_before_its_places_were_known_is_not_taken_for_one_without(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_plan: Any, make_table: Any,
    make_rows: Any,
) -> None:  # fmt: skip
    folder = two_floors(make_site, make_plan, make_table, make_rows)
    window = opened(qtbot, open_window, folder)
    session = window.session
    left: list[str] = []

    def leave() -> None:
        if session.mapped is not None and not session.mapped.whole and not left:
            left.append(session.choices.floor)
            session.choose(floor="first" if left == ["ground"] else "ground")

    session.map_changed.connect(leave)
    session.choose(round="before")
    settle(qtbot, window)
    assert left
    assert session.mapped is not None
    assert session.choices.floor not in left
    assert set(session.maps) == {session.choices.floor}
    assert "no map of it yet" in " ".join(
        one.cells[1]
        for one in window.column.panels["next"].places.rows.rows  # type: ignore[attr-defined]
    )


def test_a_sheet_is_never_laid_out_of_a_map_of_before_the_last_choice(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite
) -> None:
    window = opened(qtbot, open_window, make_site(extra=HALF))
    window.session.choose(level="1 ug/m3")
    assert window.session.behind
    window.session.stop_work()  # nobody makes the map: the sheet has to be made of its own
    dialog = PrintDialog(window.desk)
    qtbot.waitUntil(lambda: bool(dialog.sheets), timeout=SLOW_MS)
    words = " ".join(texts(dialog.sheets[0]))
    assert "level 1" in words or "1 ug/m3" in words or "1 µg/m³" in words, words[:2000]
    dialog.close()


def test_a_place_of_another_floor_is_not_explained_as_one_of_this(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_plan: Any, make_table: Any,
    make_rows: Any,
) -> None:  # fmt: skip
    folder = two_floors(make_site, make_plan, make_table, make_rows)
    window = opened(qtbot, open_window, folder)
    window.explain.explain(2.0, 2.0)
    qtbot.waitUntil(lambda: "of way" in window.explain.text.text(), timeout=SLOW_MS)
    window.session.choose(floor="first")
    window.session.stop_work()
    assert "Room" not in window.explain.text.text()
    window.explain.explain(2.0, 2.0)
    qtbot.waitUntil(lambda: "being made" in window.explain.text.text(), timeout=SLOW_MS)


def test_the_mark_of_an_old_picture_stays_until_the_new_one_is_painted(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite
) -> None:
    window = opened(qtbot, open_window, make_site(extra=HALF))
    mark = window.column.panels["map"].mark  # type: ignore[attr-defined]
    canvas, session = window.canvas, window.session
    qtbot.waitUntil(lambda: not mark.isVisible(), timeout=SLOW_MS)
    told: list[bool] = []
    session.map_changed.connect(lambda: told.append(mark.isVisible()))
    bare: list[float] = []

    def painted() -> None:
        shown = window.plan_view.shown
        if not mark.isVisible() and shown is not None and shown.zones is not None:
            bare.append(shown.zones.level.concentration)

    session.choose(level="1 ug/m3")
    canvas.picture_changed.connect(painted)
    settle(qtbot, window)
    qtbot.waitUntil(lambda: not mark.isVisible(), timeout=SLOW_MS)
    # what comes after the zones is more of the same map, and more of its picture is painted
    qtbot.waitUntil(lambda: bool(bare) and canvas.shows_the_newest, timeout=SLOW_MS)
    assert told[0]
    assert set(bare) == {1.0}


def test_the_map_says_what_the_command_line_says_below_its_table(
    qtbot: QtBot, open_window: OpenWindow, make_site: MakeSite, make_table: Any, make_rows: Any,
    tmp_path: Path,
) -> None:  # fmt: skip
    folder = two_round_site(make_site, make_table, list(make_rows()))
    text = (folder / "site.toml").read_text("utf-8")
    text = text.replace("cell_m = 0.5\n", "cell_m = 0.5\nguard_m = 1.0\n")
    (folder / "site.toml").write_text(text, "utf-8")
    window = opened(qtbot, open_window, folder)
    panel: Any = window.column.panels["map"]
    window.session.choose(clear_at=0.01)
    settle(qtbot, window)
    run = map_site(folder, MapOptions(round="second", clear_at=0.01, out=tmp_path / "cli"))
    assert "guard_m" in " ".join(run.warnings)
    assert any("0.01" in one for one in run.notes)
    shown = panel.cautions.text().splitlines()
    for one in (*run.notes, *run.warnings):
        assert one in shown or one.startswith("round not stated")
    (isolate,) = (one for one in run.floors[0].nested if one.level.value == 6.0)
    clear = square_metres(isolate.area_m2("clear"))
    (line,) = (one for one in shown if one.startswith("isolate, 6 µg/m³: "))
    assert f"clear {clear}" in line


def test_an_export_says_which_floor_is_not_in_it(
    make_site: MakeSite, make_plan: Any, make_table: Any, make_rows: Any, tmp_path: Path
) -> None:
    folder = two_floors(make_site, make_plan, make_table, make_rows)
    wanted = Export(tmp_path / "out", frozenset({"change"}), Wanted(before="before"))
    quiet = Progress(lambda text, share: None, lambda piece: None)
    done = export(read_site(folder), Choices(floor="ground", round="after"), wanted, quiet)
    assert "ground/change.pdf" in done.files
    assert any("first" in one and "no surface" in one for one in done.lost)
