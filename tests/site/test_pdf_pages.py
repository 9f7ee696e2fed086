"""A page of a PDF is painted as it is seen; without the library it is said what to install."""

from __future__ import annotations

import builtins
import io
from typing import Any

import numpy as np
import pypdf
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from hgmap.errors import PlanError
from hgmap.site.pictures.read_picture import read_picture


def pdf(pages: int = 1, size: tuple[float, float] = (288, 216), **how: Any) -> bytes:
    """Return pages of 4 by 3 inches with a black square of an inch in the lower left corner."""
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=size, **how)
    for _ in range(pages):
        canvas.rect(0, 0, 72, 72, stroke=0, fill=1)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def turned(data: bytes) -> bytes:
    writer = pypdf.PdfWriter()
    page = pypdf.PdfReader(io.BytesIO(data)).pages[0]
    page.rotate(90)
    writer.add_page(page)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


@pytest.fixture
def painted() -> None:
    pytest.importorskip("pypdfium2", reason="pypdfium2, of the extra 'drawings', is not installed")


@pytest.mark.usefixtures("painted")
@pytest.mark.parametrize("dpi", [50.0, 100.0])
def test_a_page_is_painted_at_its_size(dpi: float) -> None:
    read = read_picture(pdf(), name="a.pdf", dpi=dpi)
    assert read.size_px == (4 * dpi, 3 * dpi)
    grey = np.asarray(Image.open(io.BytesIO(read.data)))
    inch = int(dpi)
    assert (grey[2 * inch + 2 :, : inch - 2] == 0).all()
    assert (grey[: 2 * inch - 2] == 255).all()
    assert "page 1 of 1" in read.notes[0]


@pytest.mark.usefixtures("painted")
def test_a_page_that_is_kept_turned_is_painted_upright() -> None:
    read = read_picture(turned(pdf()), name="a.pdf", dpi=50)
    assert read.size_px == (150, 200)
    grey = np.asarray(Image.open(io.BytesIO(read.data)))
    assert grey[20, 20] == 0  # lower left went to upper left


@pytest.mark.usefixtures("painted")
def test_a_page_of_several_has_to_be_said() -> None:
    with pytest.raises(PlanError, match="has 3 pages; say which"):
        read_picture(pdf(3), name="a.pdf")
    assert "page 2 of 3" in read_picture(pdf(3), name="a.pdf", page=2, dpi=30).notes[0]


@pytest.mark.usefixtures("painted")
@pytest.mark.parametrize(
    ("data", "dpi", "text"),
    [
        (pdf()[:200], None, "damaged or cut off"),
        (b"%PDF-1.4 nothing", None, "damaged or cut off"),
        (pdf(encrypt="x"), None, "locked by a password"),
        (pdf(size=(14_400, 14_400)), None, "40000 by 40000 pixels; say --dpi 61"),
        (pdf(), 0.0, "--dpi: 0 dots an inch"),
        (pdf(), float("nan"), "--dpi: nan dots an inch"),
    ],
)
def test_what_cannot_be_painted_is_refused_in_one_line(
    data: bytes, dpi: float | None, text: str
) -> None:
    with pytest.raises(PlanError, match=text):
        read_picture(data, name="a.pdf", dpi=dpi)


def test_where_the_library_is_missing_it_is_said_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = builtins.__import__

    def missing(name: str, *more: Any, **also: Any) -> Any:
        if name == "pypdfium2":
            raise ImportError(name)
        return usual(name, *more, **also)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(
        PlanError, match=r"pip install 'hgmap\[drawings\]', or save the page as PNG"
    ):
        read_picture(pdf(), name="a.pdf")
