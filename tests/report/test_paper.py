from __future__ import annotations

import io
import subprocess
import sys
import weakref
from dataclasses import replace

import numpy as np
import pytest
import shapely
from pypdf import PdfReader

from hgmap.errors import HgmapError
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
from hgmap.report.painter import paint
from hgmap.report.paper import pdf_bytes, png_bytes, svg_bytes, write

BLACK = "#000000"


def pixels(sheet, dpi=254.0):
    """Grey values, row 0 at the top; at 254 dpi a pixel is 0.1 mm."""
    import io

    from matplotlib.image import imread

    return imread(io.BytesIO(png_bytes(sheet, dpi)))[..., :3].mean(axis=2)


def page(*items, frames=()):
    return Sheet(40.0, 30.0, frames, items, "A $title$", "N. Nobody")


def full_page():
    square = shapely.box(5, 5, 15, 15)
    picture = np.full((2, 2, 4), 128, dtype=np.uint8)
    frame = Frame(
        (
            Picture(picture, (0.0, 0.0, 10.0, 10.0), shapely.Point(5, 5).buffer(4)),
            Area(shapely.box(0, 0, 20, 20), hatch=Hatch("cross", BLACK, 5.0, 0.5)),
            Label(5, 5, "0.4", 7.0, halo="#ffffff"),
        ),
        20.0,
        5.0,
        15.0,
        15.0,
        0.0,
        0.0,
        1.0,
    )
    return page(
        Area(square, "#ffeeaa", Hatch("dots", BLACK, 4.0, 1.0), Pen(BLACK, 1.0, (2.0, 1.0))),
        Path(shapely.LineString([(1, 1), (39, 1)]), Pen(BLACK, 1.0)),
        Dot(10, 10, 4.0, "triangle", "#ffffff", Pen(BLACK, 1.0)),
        Stroke(10, 10, (0, 0), (8, 8), Pen(BLACK, 0.5)),
        Label(2, 25, r"$x^2$ \alpha <b>_ 中", 8.0, bold=True),
        frames=(frame,),
    )


@pytest.mark.parametrize("ending", [".pdf", ".png", ".svg"])
def test_the_same_sheet_gives_the_same_bytes_twice(ending, tmp_path):
    first = write(tmp_path / f"one{ending}", full_page())
    second = write(tmp_path / f"two{ending}", full_page())
    assert first.read_bytes() == second.read_bytes()
    assert len(first.read_bytes()) > 1000
    assert sorted(file.name for file in tmp_path.iterdir()) == [f"one{ending}", f"two{ending}"]


def test_a_pdf_embeds_its_font_names_its_work_and_has_no_date():
    content = pdf_bytes([full_page()])
    assert content.startswith(b"%PDF")
    assert b"/FontFile2" in content
    assert b"DejaVuSans" in content
    assert b"/Type3" not in content
    about = PdfReader(io.BytesIO(content)).metadata
    assert about is not None
    assert (about.title, about.author) == ("A $title$", "N. Nobody")
    assert about.creation_date is None
    assert about.modification_date is None


def test_a_pdf_has_a_bookmark_to_each_page():
    sheets = [replace(full_page(), title=one) for one in ("Zones", "学校 <b>", "")]
    pages = PdfReader(io.BytesIO(pdf_bytes(sheets)))
    marks = [one for one in pages.outline if not isinstance(one, list)]
    assert [one.title for one in marks] == ["Zones", "学校 <b>", "page 3"]
    assert [pages.get_destination_page_number(one) for one in marks] == [0, 1, 2]


def test_the_text_of_a_pdf_can_be_selected():
    page_ = PdfReader(io.BytesIO(pdf_bytes([full_page()]))).pages[0]
    assert r"$x^2$ \alpha <b>_" in page_.extract_text()


def test_a_pdf_has_a_page_for_each_sheet():
    content = pdf_bytes([full_page(), full_page()])
    assert content.count(b"/Type /Page\n") + content.count(b"/Type /Page ") == 2


def test_a_page_has_its_size_in_millimetres():
    assert pixels(page()).shape == (300, 400)
    box = PdfReader(io.BytesIO(pdf_bytes([page()]))).pages[0].mediabox
    assert (box.width, box.height) == pytest.approx((40 / 25.4 * 72, 30 / 25.4 * 72), abs=0.001)


def test_a_square_is_drawn_where_the_list_says():
    dark = pixels(page(Area(shapely.box(10, 5, 20, 8), fill=BLACK))) < 0.5
    rows, columns = np.nonzero(dark)
    assert (columns.min(), columns.max() + 1) == (100, 200)
    assert (300 - rows.max() - 1, 300 - rows.min()) == (50, 80)


def test_a_hole_stays_empty():
    ring = shapely.box(5, 5, 25, 25).difference(shapely.box(10, 10, 20, 20))
    grey = pixels(page(Area(ring, fill=BLACK)))
    assert grey[150, 150] == 1.0
    assert grey[300 - 70, 70] == 0.0


def test_row_zero_of_a_picture_is_north():
    rgba = np.array([[[0, 0, 0, 255]], [[255, 255, 255, 255]]], dtype=np.uint8)
    grey = pixels(page(Picture(rgba, (10.0, 10.0, 20.0, 20.0))))
    assert grey[300 - 180, 150] == 0.0
    assert grey[300 - 120, 150] == 1.0


def test_a_picture_is_cut_at_its_outline():
    rgba = np.zeros((4, 4, 4), dtype=np.uint8)
    rgba[..., 3] = 255
    grey = pixels(page(Picture(rgba, (5.0, 5.0, 25.0, 25.0), shapely.box(5, 5, 10, 25))))
    assert grey[150, 70] == 0.0
    assert grey[150, 150] == 1.0


def test_what_a_picture_is_cut_at_lives_as_long_as_its_renderer():
    # which knows the last outline by its address: a new one there would be cut like the old one
    from matplotlib.backends.backend_agg import RendererAgg

    rgba = np.full((2, 2, 4), 255, dtype=np.uint8)
    pictures = [Picture(rgba, (0, 0, 40, 30), shapely.box(n, 5, n + 1, 25)) for n in range(9)]
    renderer, seen = RendererAgg(200, 150, 72), []
    draw = renderer.draw_image

    def noted(look, *rest):
        seen.append(weakref.ref(look.get_clip_path()[0]))
        assert all(one() is not None for one in seen)
        draw(look, *rest)

    renderer.draw_image = noted
    paint(page(*pictures), renderer, 5.0)
    assert len(seen) == 9


def test_a_frame_cuts_what_lies_beyond_it_and_keeps_its_scale():
    plan = (Area(shapely.box(-50, -50, 1, 50), fill=BLACK),)
    grey = pixels(page(frames=(Frame(plan, 10, 5, 20, 20, west_m=0, south_m=0, mm_per_m=10.0),)))
    rows, columns = np.nonzero(grey < 0.5)
    assert (columns.min(), columns.max() + 1) == (100, 200)
    assert (300 - rows.max() - 1, 300 - rows.min()) == (50, 250)


def test_text_with_dollar_signs_is_printed_letter_by_letter():
    # as mathematics "$x$" would be one slanted letter, so it would be narrower than "x"
    plain = np.nonzero(pixels(page(Label(2, 10, "x", 20.0))) < 0.5)[1]
    dollars = np.nonzero(pixels(page(Label(2, 10, "$x$", 20.0))) < 0.5)[1]
    assert np.ptp(dollars) > 2 * np.ptp(plain)


def test_a_middle_label_is_centred_on_its_place():
    dark = pixels(page(Label(20, 15, "H", 30.0, across="centre", up="middle"))) < 0.5
    rows, columns = np.nonzero(dark)
    assert rows.mean() == pytest.approx(149.5, abs=1.5)
    assert columns.mean() == pytest.approx(199.5, abs=1.5)


def test_an_svg_needs_no_font():
    content = svg_bytes(full_page())
    assert b"<svg" in content
    assert b"<text" not in content


def test_an_unknown_ending_is_refused_with_advice(tmp_path):
    with pytest.raises(HgmapError, match=r"use \.pdf, \.png or \.svg"):
        write(tmp_path / "sheet.bmp", page())


def test_two_sheets_do_not_fit_a_png(tmp_path):
    with pytest.raises(HgmapError, match="2 sheets"):
        write(tmp_path / "sheet.png", [page(), page()])


def test_a_folder_that_is_a_file_is_a_complaint_and_no_traceback(tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(HgmapError, match="taken"):
        write(tmp_path / "taken" / "sheet.png", page())


def test_the_display_list_is_cheap_and_files_need_no_window():
    code = (
        "import sys, hgmap.report.drawing\n"
        "assert 'matplotlib' not in sys.modules\n"
        "from hgmap.report.drawing import Label, Sheet\n"
        "from hgmap.report.paper import pdf_bytes, png_bytes, svg_bytes\n"
        "assert 'matplotlib' not in sys.modules\n"
        "sheet = Sheet(20, 20, (), (Label(1, 1, 'a', 8),))\n"
        "png_bytes(sheet), pdf_bytes([sheet]), svg_bytes(sheet)\n"
        "assert 'matplotlib' in sys.modules\n"
        "loaded = {name.split('.')[0] for name in sys.modules}\n"
        "assert not loaded & {'PySide6', 'PyQt6', 'tkinter', 'wx', 'gi'}, loaded\n"
        "assert 'matplotlib.pyplot' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
