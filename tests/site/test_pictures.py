"""Images as they arrive: every kind is kept as a person sees it; what would do harm is refused."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from hgmap.errors import PlanError
from hgmap.site.pictures.grey import grey_pixels
from hgmap.site.pictures.read_picture import MOST_PX, ReadPicture, read_picture


def drawing(mode: str = "RGB", size: tuple[int, int] = (60, 40)) -> Image.Image:
    """Return white paper with a black bar near its upper left corner."""
    image = Image.new("RGB", size, "white")
    image.paste((0, 0, 0), (5, 4, 30, 8))
    return image.convert(mode)


def saved(image: Image.Image, kind: str, **how: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def kept(read: ReadPicture) -> np.ndarray[Any, Any]:
    image = Image.open(io.BytesIO(read.data))
    assert image.size == read.kept_px
    return np.asarray(image.convert("L"))


def with_header(png: bytes, wide: int, high: int) -> bytes:
    """Return a PNG whose header lies about its size."""
    body = b"IHDR" + struct.pack(">II", wide, high) + png[24:29]
    return png[:12] + body + struct.pack(">I", zlib.crc32(body)) + png[33:]


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "JPEG"])
@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "LA", "CMYK", "YCbCr", "LAB"])
def test_whatever_its_colours_it_is_kept_as_it_is_seen(kind: str, mode: str) -> None:
    try:
        data = saved(drawing(mode), kind)
    except OSError:  # no such file can be written
        return
    read = read_picture(data, name=f"plan.{kind.lower()}")
    assert read.ending == (".jpg" if kind == "JPEG" else ".png")
    grey = kept(read)
    assert grey.shape == (40, 60)
    assert grey[5, 10] < 60
    assert grey[30, 50] > 200


def test_an_image_that_can_stay_as_it_is_stays_byte_for_byte() -> None:
    for kind, mode in (("PNG", "L"), ("PNG", "1"), ("PNG", "RGB"), ("JPEG", "L"), ("JPEG", "RGB")):
        data = saved(drawing(mode), kind)
        assert read_picture(data, name=f"a.{kind.lower()}").data == data


def test_sixteen_bits_of_grey_are_stretched_over_eight() -> None:
    grey = np.full((20, 30), 4000, np.uint16)
    grey[5:8, 5:20] = 100  # a scanner of twelve bits
    for kind in ("PNG", "TIFF"):
        pixels = kept(read_picture(saved(Image.fromarray(grey), kind), name="a"))
        assert (pixels[6, 10], pixels[15, 25]) == (0, 255)


def test_what_lets_light_through_lies_on_white() -> None:
    clear = Image.new("RGBA", (10, 10), (0, 0, 0, 0))
    clear.putpixel((3, 3), (0, 0, 0, 255))
    pixels = kept(read_picture(saved(clear, "PNG"), name="a.png"))
    assert (pixels[3, 3], pixels[6, 6]) == (0, 255)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
@pytest.mark.parametrize("turn", range(1, 9))
def test_the_turn_that_a_camera_noted_is_made_once(kind: str, turn: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = turn
    how: dict[str, Any] = {"tiffinfo": {0x0112: turn}} if kind == "TIFF" else {"exif": exif}
    read = read_picture(saved(drawing(), kind, **how), name=f"a.{kind.lower()}")
    # Exif 2.3, table 6: the side that row 0 and column 0 show (value from memory)
    up = {1: (6, 15), 2: (6, 44), 3: (33, 44), 4: (33, 15),
          5: (15, 6), 6: (15, 33), 7: (44, 33), 8: (44, 6)}[turn]  # fmt: skip
    assert read.size_px == ((60, 40) if turn < 5 else (40, 60))
    assert kept(read)[up] < 60


def test_a_page_of_several_has_to_be_said() -> None:
    pages = saved(drawing(), "TIFF", save_all=True, append_images=[drawing(size=(70, 50))])
    with pytest.raises(PlanError, match="has 2 pages; say which"):
        read_picture(pages, name="a.tif")
    assert read_picture(pages, name="a.tif", page=1).size_px == (60, 40)
    assert read_picture(pages, name="a.tif", page=2).size_px == (70, 50)
    for page in (0, 3, -1):
        with pytest.raises(PlanError, match=f"has no page {page}: it has 2"):
            read_picture(pages, name="a.tif", page=page)


def test_a_large_image_is_shrunk_by_a_whole_number_so_that_points_stay_where_they_are() -> None:
    wide = Image.new("1", (16_500, 300), 1)
    wide.paste(0, (9_000, 150, 9_060, 210))
    read = read_picture(saved(wide, "TIFF", compression="group4"), name="a.tif")
    assert read.shrunk_by == 3
    assert read.size_px == (16_500, 300)
    pixels = kept(read)
    assert (pixels[50:70, 3000:3020] == 0).all()
    assert (pixels[:, 2999] == 255).all()
    assert (pixels[49] == 255).all()
    assert "shrunk 3 times" in read.notes[-1]


def test_the_content_says_what_a_file_is_not_its_name() -> None:
    read = read_picture(saved(drawing(), "JPEG"), name="plan.png")
    assert read.ending == ".jpg"
    assert read.notes == ("it is a JPEG image, whatever its name says",)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", "no PNG, JPEG, TIFF or PDF"),
        (b"words", "no PNG, JPEG, TIFF or PDF"),
        (saved(drawing("P"), "GIF"), "no PNG, JPEG, TIFF or PDF"),
        (saved(drawing(), "PNG")[:90], "less in it than|damaged or cut off"),
        (saved(drawing(size=(600, 400)), "JPEG")[:1500], "damaged or cut off"),
        (saved(drawing(size=(600, 400)), "TIFF")[:90_000], "damaged or cut off"),
        (with_header(saved(drawing(), "PNG"), 0, 40), "has 0 by 40 pixels"),
        (with_header(saved(drawing(), "PNG"), 60, 0), "has 60 by 0 pixels"),
        (with_header(saved(drawing(), "PNG"), 60, 80), "has less in it than the 60 by 80"),
        (with_header(saved(drawing(), "PNG"), 30, 40), "has more in it than the 30 by 40"),
        (with_header(saved(drawing(), "PNG"), 40_000, 25_000), "has 40000 by 25000 pixels"),
        (with_header(saved(drawing(), "PNG"), 2**31 - 1, 2**31 - 1), "million"),
        (saved(drawing("1"), "TIFF", dpi=(204, 98)), "not square"),
    ],
)
def test_what_is_no_sound_image_is_refused_in_one_line(data: bytes, text: str) -> None:
    with pytest.raises(PlanError, match=text) as refused:
        read_picture(data, name="plan.png")
    assert "plan.png" in str(refused.value)


@pytest.mark.parametrize("kind", ["TIFF", "JPEG"])
def test_a_bomb_is_refused_before_it_is_decoded(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    side = 13_000
    assert side * side > MOST_PX
    how: dict[str, Any] = {"compression": "group4"} if kind == "TIFF" else {}
    bomb = saved(Image.new("1" if kind == "TIFF" else "L", (side, side), 1), kind, **how)
    monkeypatch.setattr(Image.Image, "load", lambda self: pytest.fail("it was decoded"))
    with pytest.raises(PlanError, match=f"has {side} by {side} pixels; at most 150 million"):
        read_picture(bomb, name="a")


def test_dots_an_inch_are_said_of_a_pdf_only() -> None:
    with pytest.raises(PlanError, match="leave --dpi out"):
        read_picture(saved(drawing(), "PNG"), name="a.png", dpi=300)


SEEDS = [saved(drawing(), "PNG"), saved(drawing(), "JPEG"), saved(drawing(), "TIFF"),
         saved(drawing("P"), "PNG"), saved(drawing("1"), "TIFF", compression="group4")]  # fmt: skip


@given(
    st.sampled_from(SEEDS),
    st.lists(st.tuples(st.integers(0, 10_000), st.integers(0, 255)), max_size=6),
    st.integers(0, 10_000),
)
def test_any_damage_is_an_image_or_one_line(
    data: bytes, changes: list[tuple[int, int]], cut: int
) -> None:
    spoilt = bytearray(data)
    for at, value in changes:
        spoilt[at % len(spoilt)] = value
    damaged = bytes(spoilt[: cut or None])
    for read in (read_picture, grey_pixels):
        try:
            read(damaged, name="a.png")
        except PlanError as error:
            if "\n" in str(error):
                raise


def test_the_greys_of_a_kept_image_are_not_turned() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    assert grey_pixels(saved(drawing(), "JPEG", exif=exif), name="a.jpg").shape == (40, 60)
