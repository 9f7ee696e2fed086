"""What is looked at is what is printed and written."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtPrintSupport import QPrinter

from hgmap.batch import map_read_site
from hgmap.desktop import pipeline
from hgmap.desktop.export_work import Export, export
from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.print_sheets import scale_of
from hgmap.desktop.printer import put_on_paper
from hgmap.desktop.window import Window
from hgmap.desktop.work import WorkStopped
from hgmap.editing.begin import Beginning, DrawnPlan, begin_site
from hgmap.editing.begin_readings import FirstReadings
from hgmap.editing.settings import set_site_name
from hgmap.errors import HgmapError
from hgmap.floor_map import MapOptions
from hgmap.report.document.style import HouseStyle
from hgmap.report.drawing import texts
from hgmap.report.paper import png_bytes
from hgmap.report.sheet_setup import sheet_setup
from hgmap.site.model import LevelRequest
from hgmap.survey_report import FORMATS, ReportOptions, report_site, write_report

PLAN = b"""{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Hall"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]}}]}"""
ROWS = b"".join(
    b"A%d,Hall,%d,%d,1.2,0.%d,ug/m3\n" % (k, 1 + k % 5, 1 + k % 3, k) for k in range(1, 7)
)
READINGS = b"id,room,x,y,height,value,unit\n" + ROWS

Opener = Callable[..., Window]


@pytest.fixture
def window(open_window: Opener, qtbot: Any, tmp_path: Path) -> Window:
    (tmp_path / "plan.geojson").write_bytes(PLAN)
    begun = begin_site(Beginning(
        tmp_path / "house", "A house", "dwelling", "ground", DrawnPlan(tmp_path / "plan.geojson"),
        FirstReadings("day.csv", READINGS), LevelRequest(name="atsdr-residential-occupancy"),
    ))  # fmt: skip
    shown = open_window()
    shown.open_site(begun.folder)
    calm(shown, qtbot)
    assert shown.session.mapped is not None
    return shown


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make no PDF where none is looked into: of all that a run writes it takes the longest."""
    for place in ("paper", "quality_page", "resample_sheet"):
        monkeypatch.setattr(f"hgmap.report.{place}.pdf_bytes", lambda sheets: b"%PDF")


def calm(window: Window, qtbot: Any) -> None:
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=60_000)


@pytest.fixture
def dialog(window: Window, qtbot: Any) -> PrintDialog:
    window.print_page()
    shown = window._dialogs[0]
    assert isinstance(shown, PrintDialog)
    calm(window, qtbot)
    return shown


@pytest.mark.usefixtures("quick_pdf")
def test_the_preview_shows_the_sheet_that_a_run_writes(
    window: Window, dialog: PrintDialog, tmp_path: Path
) -> None:
    session = window.session
    assert session.site is not None
    sheet = dialog.sheets[0]
    scale = scale_of(sheet)
    assert scale is not None
    assert f"1 : {scale:g}" in dialog.paper.text()
    assert not dialog.preview.page.pixmap().isNull()
    options = pipeline.options_of(session.choices)
    run = map_read_site(session.site, options)
    assert (run.out / "ground" / "map.png").read_bytes() == png_bytes(sheet)


def test_titles_are_one_step_that_can_be_undone_and_stand_on_the_sheet(
    window: Window, dialog: PrintDialog, qtbot: Any
) -> None:
    session = window.session
    assert session.files is not None
    before = session.files
    qtbot.keyClicks(dialog.titles.fields["client"], "Owner")
    qtbot.keyClicks(dialog.titles.fields["prepared_by"], "Surveyor")
    dialog.titles.button.click()
    assert session.undo_stack.count() == 1
    assert 'client = "Owner"' in session.files.text("site.toml")
    calm(window, qtbot)
    texts = [getattr(one, "text", "") for one in dialog.sheets[0].page]
    assert "Owner" in texts
    session.undo_stack.undo()
    assert session.files.contents == before.contents


@pytest.mark.usefixtures("quick_pdf")
def test_the_files_are_of_what_the_window_shows_and_it_says_so(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    assert dialog.files.folder.text() == str(tmp_path / "house" / "results" / "day-ground") or (
        "results" in dialog.files.folder.text()
    )
    window.session.edit("name", lambda files: set_site_name(files, "Another name"))
    calm(window, qtbot)
    dialog.files.refresh()
    assert "unsaved" in dialog.files.said.text()
    out = tmp_path / "out"
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(out))
    dialog.files.parts["clearance"].setChecked(True)
    dialog.files.start()
    calm(window, qtbot)
    done = dialog.files.done
    assert done is not None, dialog.files.said.text()
    assert set(done.files) == {str(p.relative_to(out)) for p in out.rglob("*") if p.is_file()}
    assert {"clearance.csv", "ground/map.pdf", "site.gpkg", "zones.csv"} <= set(done.files)
    assert "Another name" in (out / "summary.json").read_text("utf-8")
    assert "A house" in (tmp_path / "house" / "site.toml").read_text("utf-8")
    assert dialog.files.listed.count() == len(done.files)


def test_a_full_disk_is_one_sentence_and_leaves_nothing(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(path: Path, *given: object) -> None:
        raise OSError(28, "No space left on device")

    session = window.session
    assert session.site is not None
    monkeypatch.setattr("hgmap.site.files._fill", full)
    wanted = Export(tmp_path / "out", frozenset({"map", "clearance"}))
    with pytest.raises(HgmapError, match="No space left"):
        export(session.site, session.choices, wanted, lambda text, share: None)
    assert not [one for one in tmp_path.rglob("*") if ".tmp-" in one.name]
    assert not (tmp_path / "out").exists()


def test_stopping_leaves_nothing_half_written(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(tmp_path / "out"))
    dialog.files.start()
    dialog.files.stop_now()
    window.jobs.close()
    assert not list((tmp_path / "out").rglob("map.p*"))
    assert not [one for one in tmp_path.rglob("*") if one.name.startswith(".tmp-")]
    assert "Stopped" in dialog.files.said.text()


def test_kinds_without_a_sheet_say_why(dialog: PrintDialog, window: Window, qtbot: Any) -> None:
    dialog.kind.setCurrentIndex(dialog.kind.findData("levels"))
    calm(window, qtbot)
    assert not dialog.sheets
    assert "one level" in dialog.preview.page.text()
    assert not dialog.buttons["print"].isEnabled()
    dialog.kind.setCurrentIndex(dialog.kind.findData("quality"))
    calm(window, qtbot)
    assert dialog.sheets
    assert dialog.kind.findData("change") < 0


def test_zoom_turns_and_prints(
    dialog: PrintDialog,
    window: Window,
    qtbot: Any,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    was = dialog.preview.in_force
    dialog.buttons["closer"].click()
    assert dialog.preview.in_force > was
    dialog.buttons["size"].click()
    calm(window, qtbot)
    assert dialog.preview.in_force == 1.0
    wide = dialog.sheets[0].width_mm * 96.0 / 25.4
    assert abs(dialog.preview.page.pixmap().deviceIndependentSize().width() - wide) < 1.0
    printer = QPrinter()
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "paper.pdf"))
    monkeypatch.setattr("hgmap.desktop.printer.ask_for_printer", lambda parent, count: printer)
    dialog.sheets = dialog.sheets * 2
    dialog.buttons["print"].click()
    assert not dialog.buttons["print"].isEnabled()
    calm(window, qtbot)
    assert dialog.paper.text() == "2 pages were printed."
    assert (tmp_path / "paper.pdf").read_bytes().startswith(b"%PDF")
    assert not put_on_paper(printer, ())


def choose(dialog: PrintDialog, kind: str, window: Window, qtbot: Any) -> None:
    dialog.kind.setCurrentIndex(dialog.kind.findData(kind))
    calm(window, qtbot)


def write(dialog: PrintDialog, window: Window, qtbot: Any, out: Path) -> None:
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(out))
    dialog.files.write.click()
    calm(window, qtbot)


@pytest.mark.usefixtures("quick_pdf")
def test_every_sheet_on_another_paper_at_a_scale_is_the_one_that_a_run_writes(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    dialog.form.papers.setCurrentIndex(dialog.form.papers.findData("a3"))
    dialog.form.scale.setCurrentText("")
    qtbot.keyClicks(dialog.form.scale, "1:40")
    qtbot.keyClick(dialog.form.scale, Qt.Key.Key_Return)
    calm(window, qtbot)
    assert dialog.paper.text() == "A3 landscape; the plan is 1 : 40."
    choose(dialog, "every", window, qtbot)
    assert dialog.paper.text() == "A3 landscape; the plan is 1 : 40."
    assert dialog.contents.count() == len(dialog.sheets) == 4
    for box in (dialog.files.parts["sheets"], *map(dialog.files.also.get, ("dxf", "xlsx"))):
        assert box is not None
        box.click()
    dialog.files.dpi.setText("50")
    calm(window, qtbot)
    write(dialog, window, qtbot, tmp_path / "out")
    done = dialog.files.done
    assert done is not None, dialog.files.said.text()
    assert {"site.xlsx", "ground/plan.dxf", "ground/sheets.pdf"} <= set(done.files)
    names = ("map", "sheet-estimate", "sheet-uncertainty", "sheet-readings")
    for name, sheet in zip(names, dialog.sheets, strict=True):
        assert (tmp_path / "out" / "ground" / f"{name}.png").read_bytes() == png_bytes(sheet, 50.0)
    choose(dialog, "estimate", window, qtbot)
    assert dialog.sheets[0].title in dialog.contents.itemText(0)


def test_a_scale_that_does_not_fit_or_is_none_is_refused_in_words(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    for typed, said in (("1 : 10", "does not fit A4 at 1 : 10"), ("ten", "'ten' is no scale")):
        dialog.form.scale.setCurrentText(typed)
        dialog.form._typed()
        calm(window, qtbot)
        assert not dialog.sheets
        assert said in dialog.preview.page.text()
        assert "--" not in dialog.preview.page.text()
        write(dialog, window, qtbot, tmp_path / "out")
        assert said in dialog.files.said.text()
        assert "--" not in dialog.files.said.text()
    assert not (tmp_path / "out").exists()
    choose(dialog, "report", window, qtbot)
    assert "'ten' is no scale" in dialog.preview.page.text()
    choose(dialog, "quality", window, qtbot)
    assert dialog.sheets  # a sheet of its own paper


def test_a_room_can_be_looked_at_by_itself(window: Window, dialog: PrintDialog, qtbot: Any) -> None:
    choose(dialog, "rooms", window, qtbot)
    assert "choose a room" in dialog.preview.page.text()
    dialog.form.room.setCurrentIndex(dialog.form.room.findData("R1"))
    calm(window, qtbot)
    assert any("Hall" in text for text in texts(dialog.sheets[0]))


def test_the_report_that_is_looked_at_is_the_one_that_the_command_line_writes(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    style = tmp_path / "house.toml"
    style.write_text('name = "House of the surveyor"\n', "utf-8")
    dialog.form.rule.setCurrentIndex(dialog.form.rule.findData("every-reading-below"))
    dialog.form.style_file.setText(str(style))
    choose(dialog, "report", window, qtbot)
    assert len(dialog.sheets) > 5
    at = dialog.contents.findText("Method", Qt.MatchFlag.MatchContains)
    dialog.contents.setCurrentIndex(at)
    dialog.contents.activated.emit(at)
    assert at > 0
    assert "Method" in texts(dialog.sheets[dialog.at])
    assert any("House of the surveyor" in text for text in texts(dialog.sheets[0]))

    dialog.form.scale.setCurrentText("1:80")
    dialog.form._typed()
    dialog.form.room.setCurrentIndex(dialog.form.room.findData("R1"))
    for name in ("pdf", "docx"):  # slow, and of the same survey
        dialog.files.report[name].click()
    dialog.files.parts["sheets"].click()
    calm(window, qtbot)
    titles = [sheet.title for sheet in dialog.sheets]
    ends = {title.rpartition(", ")[2] for title in titles}
    assert {"uncertainty and where more readings help", "detail of Hall"} <= ends
    assert 80.0 in [scale_of(sheet) for sheet in dialog.sheets]
    maps = MapOptions(round="survey", setup=sheet_setup("a4", 80.0), sheets=True, rooms=("R1",))
    options = ReportOptions(maps, "every-reading-below", style, ("html",), tmp_path / "cli")
    report_site(tmp_path / "house", options)
    monkeypatch.setattr("hgmap.survey_report.survey_of", None)  # it is not made a second time
    write(dialog, window, qtbot, tmp_path / "out")
    done = dialog.files.done
    assert done is not None, dialog.files.said.text()
    assert done.files == ("report.html",)
    written = [(tmp_path / place / "report.html").read_bytes() for place in ("out", "cli")]
    assert written[0] == written[1]

    def stop_at_the_end(text: str, share: float) -> None:
        if share == 1.0:
            raise WorkStopped

    assert dialog.known is not None
    assert dialog.known.survey is not None
    with pytest.raises(WorkStopped):
        write_report(dialog.known.survey, HouseStyle(), ("html",), tmp_path / "no", stop_at_the_end)
    assert not (tmp_path / "no").exists()


def test_a_page_turns_while_other_work_goes_on(
    window: Window, dialog: PrintDialog, qtbot: Any
) -> None:
    dialog.sheets = dialog.sheets * 2
    before, go = dialog.preview.page.pixmap().cacheKey(), Event()
    window.jobs.start("export", lambda progress, cancelled: go.wait(60.0), bool, print)
    try:
        dialog.turn(1)
        qtbot.waitUntil(lambda: not window.jobs.awaits("page"), timeout=30_000)
        assert window.jobs.awaits("export")
        assert dialog.preview.page.pixmap().cacheKey() != before
    finally:
        go.set()
    calm(window, qtbot)


@pytest.mark.usefixtures("quick_pdf")
def test_after_a_change_nothing_of_before_it_is_shown_printed_or_said_to_be_of_now(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(tmp_path / "out"))
    dialog.files.start()
    dialog.kind.setCurrentIndex(dialog.kind.findData("estimate"))
    window.session.edit("name", lambda files: set_site_name(files, "Another name"))
    assert not dialog.sheets
    assert "being read again" in dialog.preview.page.text()
    assert not dialog.buttons["print"].isEnabled()
    calm(window, qtbot)
    assert "Another name" in texts(dialog.sheets[0])
    assert dialog.sheets[0].title.startswith("Another name")
    assert "of what the window showed before the last change" in dialog.files.said.text()
    assert "A house" in (tmp_path / "out" / "summary.json").read_text("utf-8")
    window.session.edit("spoil", lambda files: files.with_file("site.toml", b"name = "))
    calm(window, qtbot)
    assert not dialog.sheets
    assert "site.toml" in dialog.preview.page.text()


def test_a_floor_that_is_lost_is_said_on_every_page_and_in_the_report(
    window: Window, qtbot: Any
) -> None:
    lost = '\n[[floors]]\nname = "top"\nplan = "nowhere.geojson"\n'
    window.session.edit("top", lambda files: files.with_file(
        "site.toml", (files.text("site.toml") + lost).encode()
    ))  # fmt: skip
    calm(window, qtbot)
    window.print_page()
    dialog = window._dialogs[0]
    assert isinstance(dialog, PrintDialog)
    choose(dialog, "report", window, qtbot)
    assert dialog.form.wanted().floor == ""
    assert any("nowhere.geojson" in text for sheet in dialog.sheets for text in texts(sheet))
    dialog.turn(1)
    assert "Not among them: " in dialog.paper.text()
    assert "nowhere.geojson" in dialog.paper.text()
    choose(dialog, "readings", window, qtbot)
    dialog.form.floor.setCurrentIndex(dialog.form.floor.findData(""))
    calm(window, qtbot)
    assert len(dialog.sheets) == 1
    assert "nowhere.geojson" in dialog.paper.text()


def test_what_is_written_follows_what_is_looked_at_until_somebody_ticks(
    dialog: PrintDialog,
) -> None:
    def ticked() -> set[str]:
        boxes = {**dialog.files.parts, **dialog.files.report}
        return {key for key, box in boxes.items() if box.isChecked()}

    for kind, written in (("report", set(FORMATS)), ("map", {"map"})):
        dialog.kind.setCurrentIndex(dialog.kind.findData(kind))
        assert ticked() == written
    dialog.files.report["pdf"].click()
    dialog.kind.setCurrentIndex(dialog.kind.findData("report"))
    assert ticked() == {"map", "pdf"}


def test_a_report_that_cannot_be_is_one_line(
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path
) -> None:
    style = tmp_path / "house.toml"
    style.write_text("colour = 1\n", "utf-8")
    dialog.form.style_file.setText(str(style))
    choose(dialog, "report", window, qtbot)
    assert "house.toml: key 'colour' is not known" in dialog.preview.page.text()
    write(dialog, window, qtbot, tmp_path / "out")
    assert "house.toml: key 'colour' is not known" in dialog.files.said.text()
    assert not (tmp_path / "out").exists()
    dialog.form.style_file.clear()
    dialog.form._typed()
    (tmp_path / "file").touch()
    for name in ("pdf", "docx"):
        dialog.files.report[name].click()
    write(dialog, window, qtbot, tmp_path / "file" / "out")
    assert "cannot be written" in dialog.files.said.text()
    assert dialog.files.done is None


def test_laying_out_can_be_stopped_and_begun_again(
    window: Window, dialog: PrintDialog, qtbot: Any
) -> None:
    dialog.kind.setCurrentIndex(dialog.kind.findData("report"))
    assert dialog.buttons["stop"].text() == "Stop"
    assert not dialog.buttons["print"].isEnabled()
    dialog.buttons["stop"].click()
    calm(window, qtbot)
    assert not dialog.sheets
    assert "Stopped" in dialog.preview.page.text()
    dialog.buttons["stop"].click()
    calm(window, qtbot)
    assert len(dialog.sheets) > 5


def test_a_print_goes_on_when_its_page_is_closed_and_says_when_it_fails(
    window: Window, dialog: PrintDialog, qtbot: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    go, said = Event(), []

    def refused(printer: QPrinter, sheets: object, progress: Callable[[str, float], None]) -> bool:
        go.wait(60.0)
        progress("page 2", 0.5)  # raises where nobody waits any more
        return False

    monkeypatch.setattr("hgmap.desktop.printer.ask_for_printer", lambda parent, count: QPrinter())
    monkeypatch.setattr("hgmap.desktop.printer.put_on_paper", refused)
    window.session.trouble.connect(said.append)
    dialog.buttons["print"].click()
    dialog.turn(0)
    dialog.close()
    qtbot.wait(1)
    go.set()
    calm(window, qtbot)
    assert said == ["The printer did not take the pages."]


@pytest.mark.usefixtures("quick_pdf")
def test_a_folder_that_went_away_is_said(window: Window, tmp_path: Path) -> None:
    session = window.session
    assert session.site is not None
    (tmp_path / "file").touch()
    wanted = Export(tmp_path / "file" / "out", frozenset({"map"}))
    with pytest.raises(HgmapError):
        export(session.site, session.choices, wanted, lambda text, share: None)
    shutil.rmtree(tmp_path / "house")
