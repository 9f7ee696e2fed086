"""The PDF's own painter against the PNG's, and lines of text as fonts and people have them."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path as File

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib import _text_helpers
from matplotlib.image import imread
from pypdf import PdfReader

from hgmap.report.drawing import (
    Area,
    Dot,
    Frame,
    Hatch,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
    Stroke,
)
from hgmap.report.glyphs import kern, kerns, line_width
from hgmap.report.paper import pdf_bytes, png_bytes
from hgmap.report.typeset import ONE_AT_A_TIME, face, width_pt

INK = "#1a1a1a"
DPI = 200.0
HEBREW = "\u05e9\u05dc\u05d5\u05dd"
ARABIC = "\u0645\u0631\u062d\u0628\u0627"


def everything() -> Sheet:
    """One of each item, opaque and not, in a frame that cuts and beside it."""
    ring = shapely.box(2, 2, 28, 28).difference(shapely.box(10, 10, 18, 18))
    slope = np.arange(48, dtype=np.uint8).reshape(4, 3, 4) * 5
    shapes = ("circle", "square", "triangle", "diamond", "cross", "plus")
    plan = (
        Picture(slope, (0.0, 0.0, 30.0, 30.0), shapely.Point(15, 15).buffer(12)),
        Area(ring, "#2266aa55", Hatch("cross", INK, 5.0, 0.5), Pen("#aa0000", 2.0, (6.0, 3.0))),
        Area(shapely.box(10, 10, 18, 18), "#ffeeaa", Hatch("dots", "#0044aa", 5.0, 1.8)),
        Label(14, 14, "12.5", 9.0, bold=True, across="centre", up="middle", halo="#ffffff"),
        Area(shapely.box(25, -9, 99, 9), "#00aa66", Hatch("diagonal", INK, 6.0, 1.0)),
    )
    marks = tuple(
        Dot(45 + 8 * n, 20, 9.0, one, None if one in ("cross", "plus") else "#ffcc00",
            Pen(INK, 1.0), (0.0, 4.0 * n))
        for n, one in enumerate(shapes)
    )  # fmt: skip
    page = (
        *marks,
        Path(shapely.LineString([(45, 10), (95, 12), (80, 4)]), Pen("#00aa00", 3.0, (9.0, 4.0))),
        Stroke(45, 12, (0, 0), (60, 30), Pen(INK, 0.7)),
        Label(95, 45, "Valley AVA, fjord 5 µg/m³", 10.0, across="right"),
        Label(45, 52, HEBREW, 12.0),
        Label(65, 52, ARABIC, 12.0),
        Label(45, 58, "$x^2$ <b>\\alpha</b> \u5b66 n\u0304o", 10.0, bold=True),
    )
    frame = Frame(plan, 5.0, 5.0, 34.0, 30.0, 0.0, 0.0, 1.0)
    return Sheet(100.0, 65.0, (frame,), page, "Everything", "N. Nobody")


def blocks(picture: np.ndarray, size: int = 8) -> np.ndarray:
    """Mean colour (0 to 1) of blocks of pixels: edges fall a pixel here or there."""
    rows, columns = picture.shape[0] // size, picture.shape[1] // size
    cut = picture[: rows * size, : columns * size, :3]
    return cut.reshape(rows, size, columns, size, 3).mean(axis=(1, 3))


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no poppler here")
def test_the_pdf_shows_what_the_png_shows(tmp_path: File) -> None:
    sheet = everything()
    (tmp_path / "sheet.pdf").write_bytes(pdf_bytes([sheet]))
    words = ["pdftoppm", "-r", f"{DPI:g}", "-png", "-singlefile", "sheet.pdf", "sheet"]
    done = subprocess.run(words, cwd=tmp_path, check=True, capture_output=True)
    assert not done.stderr
    pdf = blocks(imread(tmp_path / "sheet.png"))
    png = blocks(imread(io.BytesIO(png_bytes(sheet, DPI))))
    rows, columns = (min(a, b) for a, b in zip(pdf.shape[:2], png.shape[:2], strict=True))
    off = np.abs(pdf[:rows, :columns] - png[:rows, :columns]).max(axis=2)
    assert off.max() < 0.25
    assert off.mean() < 0.01


@given(text=st.text("AVTWYLPFJaefgotvwy.,:-0123456789 µ²³()/éÉГ", min_size=2, max_size=12))
@settings(max_examples=40, deadline=None)
def test_letters_stand_where_matplotlib_puts_them(text: str) -> None:
    # without its ligatures, which a search does not find
    for bold in (False, True):
        with ONE_AT_A_TIME:
            found = [one.x for one in _text_helpers.layout(text, face(bold), features=("-liga",))]
        widths = [width_pt(letter, 100.0, bold) for letter in text]
        moves = np.multiply(kerns(text, bold), 100.0)
        places = np.cumsum([0.0, *widths[:-1]]) + np.cumsum(moves)
        assert found == pytest.approx(places, abs=0.02 * len(text))


def test_a_pair_that_is_kerned_is_narrower_and_every_letter_is_found() -> None:
    assert kern("A", "V", False) < -0.03
    assert line_width("AV", False) < width_pt("AV", 1.0)
    text = PdfReader(io.BytesIO(pdf_bytes([everything()]))).pages[0].extract_text()
    for wanted in ("Valley AVA, fjord 5 µg/m³", "$x^2$ <b>\\alpha</b>"):
        assert wanted in text
    assert text.count("12.5") == 1  # its rim is no text


def test_a_line_from_right_to_left_keeps_its_letters() -> None:
    text = PdfReader(io.BytesIO(pdf_bytes([everything()]))).pages[0].extract_text()
    assert set(HEBREW) <= set(text)
    assert "\u200e" not in text


def test_more_letters_than_one_part_of_a_font_holds_stay_readable() -> None:
    letters = [chr(code) for code in range(0xA1, 0x250) if code != 0xAD]
    lines = ["".join(letters[start : start + 40]) for start in range(0, len(letters), 40)]
    labels = tuple(Label(2, 5 + 6 * n, line, 8.0) for n, line in enumerate(lines))
    text = (
        PdfReader(io.BytesIO(pdf_bytes([Sheet(150.0, 80.0, (), labels)]))).pages[0].extract_text()
    )
    assert set(letters) <= set(text)


@pytest.mark.skipif(shutil.which("pdffonts") is None, reason="no poppler here")
def test_every_font_of_a_pdf_is_embedded(tmp_path: File) -> None:
    (tmp_path / "sheet.pdf").write_bytes(pdf_bytes([everything()]))
    words = ["pdffonts", tmp_path / "sheet.pdf"]
    told = subprocess.run(words, check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert told
    for line in told:
        assert "DejaVuSans" in line
        assert line.split()[-5:-2] == ["yes", "yes", "yes"]  # embedded, a subset, with its letters
