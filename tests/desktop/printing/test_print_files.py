"""The files that are written are of what is looked at, whole, and said to be what they are."""

from __future__ import annotations

import shutil
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from PySide6.QtCore import Qt

from hgmap.desktop.export_work import Export, Exported, export
from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.print_sheets import scale_of
from hgmap.desktop.window import Window
from hgmap.desktop.work import WorkStopped
from hgmap.editing.settings import set_site_name
from hgmap.errors import HgmapError
from hgmap.floor_map import MapOptions
from hgmap.report.document.style import HouseStyle
from hgmap.report.drawing import texts
from hgmap.report.paper import png_bytes
from hgmap.report.sheet_setup import sheet_setup
from hgmap.survey_report import FORMATS, ReportOptions, report_site, write_report
from tests.desktop.patience import SLOW_MS, SLOW_S
from tests.desktop.printing.hands import calm, choose, write


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
    window: Window, dialog: PrintDialog, qtbot: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go, left = Event(), Event(), list[type[Exception]]()

    def waits(*given: Any) -> Exported:
        begun.set()
        go.wait(SLOW_S)
        try:
            return export(*given)
        except WorkStopped:
            left.append(WorkStopped)
            raise

    monkeypatch.setattr("hgmap.desktop.export_form.export", waits)
    dialog.files._own_folder = True
    dialog.files.folder.setText(str(tmp_path / "out"))
    dialog.files.start()
    qtbot.waitUntil(begun.is_set, timeout=SLOW_MS)
    dialog.files.stop_now()
    go.set()
    window.jobs.close()
    assert left == [WorkStopped]
    assert not list((tmp_path / "out").rglob("map.p*"))
    assert not [one for one in tmp_path.rglob("*") if one.name.startswith(".tmp-")]
    assert "Stopped" in dialog.files.said.text()


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


@pytest.mark.usefixtures("quick_pdf")
def test_a_folder_that_went_away_is_said(window: Window, tmp_path: Path) -> None:
    session = window.session
    assert session.site is not None
    (tmp_path / "file").touch()
    wanted = Export(tmp_path / "file" / "out", frozenset({"map"}))
    with pytest.raises(HgmapError):
        export(session.site, session.choices, wanted, lambda text, share: None)
    shutil.rmtree(tmp_path / "house")
