"""What is looked at is what is printed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from PySide6.QtPrintSupport import QPrinter

from hgmap.batch import map_read_site
from hgmap.desktop import pipeline
from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.print_sheets import scale_of
from hgmap.desktop.printer import put_on_paper
from hgmap.desktop.window import Window
from hgmap.report.drawing import texts
from hgmap.report.paper import png_bytes
from tests.desktop.patience import SLOW_MS, SLOW_S
from tests.desktop.printing.hands import calm, choose, write


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


def test_titles_that_are_being_typed_outlive_a_map_that_comes_meanwhile(
    window: Window, dialog: PrintDialog, qtbot: Any
) -> None:
    field = dialog.titles.fields["client"]
    qtbot.keyClicks(field, "Owner")
    window.session.map_again()
    calm(window, qtbot)
    assert field.text() == "Owner"
    assert dialog.titles.button.isEnabled()


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


def test_a_page_turns_while_other_work_goes_on(
    window: Window, dialog: PrintDialog, qtbot: Any
) -> None:
    dialog.sheets = dialog.sheets * 2
    before, go = dialog.preview.page.pixmap().cacheKey(), Event()
    window.jobs.start("export", lambda progress, cancelled: go.wait(SLOW_S), bool, print)
    try:
        dialog.turn(1)
        qtbot.waitUntil(lambda: not window.jobs.awaits("page"), timeout=SLOW_MS)
        assert window.jobs.awaits("export")
        assert dialog.preview.page.pixmap().cacheKey() != before
    finally:
        go.set()
    calm(window, qtbot)


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
    begun, go, said = Event(), Event(), []

    def refused(printer: QPrinter, sheets: object, progress: Callable[[str, float], None]) -> bool:
        begun.set()
        go.wait(SLOW_S)
        progress("page 2", 0.5)  # raises where nobody waits any more
        return False

    monkeypatch.setattr("hgmap.desktop.printer.ask_for_printer", lambda parent, count: QPrinter())
    monkeypatch.setattr("hgmap.desktop.printer.put_on_paper", refused)
    window.session.trouble.connect(said.append)
    dialog.buttons["print"].click()
    dialog.turn(0)
    dialog.close()
    qtbot.waitUntil(begun.is_set, timeout=SLOW_MS)
    go.set()
    calm(window, qtbot)
    assert said == ["The printer did not take the pages."]
