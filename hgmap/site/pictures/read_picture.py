"""An image file as it arrives becomes one that is kept: upright, eight bits, PNG or JPEG.

The size is looked at before anything is decoded: a small file may say that it has a thousand
million pixels.
"""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from hgmap.errors import PlanError
from hgmap.site.pictures.pages import which_page
from hgmap.site.pictures.png_rows import SIGNATURE, check_png

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_PX: Final = 150_000_000
"""Pixels of an image that is decoded: a sheet of A0 at 300 dots an inch has 139 million."""

LONGEST_PX: Final = 8000
"""Longest side (px) of an image that is kept; a larger one is shrunk by a whole number."""

MOST_KEPT_BYTES: Final = 64 * 2**20
"""As many as the window reads of a picture."""

SQUARE: Final = 0.01
"""Pixels whose sides differ by a smaller part are square."""

_FORMATS: Final = ("PNG", "JPEG", "TIFF")
_ENDINGS: Final = {"PNG": (".png",), "JPEG": (".jpg", ".jpeg"), "TIFF": (".tif", ".tiff")}
_PDF: Final = b"%PDF-"
_FEWER: Final = "scan or save it with fewer dots an inch, or cut it to the building"
_JPEG_QUALITY: Final = 92


@dataclass(frozen=True, slots=True)
class ReadPicture:
    """An image that can be kept in a site folder.

    Attributes
    ----------
    data : bytes
        The PNG or JPEG to keep; the very bytes of the file where nothing had to be changed.
    ending : str
        ``".png"`` or ``".jpg"``.
    size_px : (int, int)
        Width and height of the image as it arrived, upright.
    shrunk_by : int
        A pixel that is kept is so many pixels of that wide and high.
    notes : tuple of str
        What was done to it.
    """

    data: bytes
    ending: str
    size_px: tuple[int, int]
    shrunk_by: int
    notes: tuple[str, ...]

    @property
    def kept_px(self) -> tuple[int, int]:
        """Width and height of the image that is kept."""
        wide, high = self.size_px
        return -(-wide // self.shrunk_by), -(-high // self.shrunk_by)


def read_picture(
    data: bytes, *, name: str, page: int | None = None, dpi: float | None = None
) -> ReadPicture:
    """Read a PNG, JPEG or TIFF image, or a page of a PDF.

    Parameters
    ----------
    data : bytes
        The file; its content says what it is, whatever its name ends in.
    name : str
        Named in messages.
    page : int, optional
        From 1; has to be said where there are several.
    dpi : float, optional
        Dots per inch that a page of a PDF is painted with; of an image it says nothing.

    Raises
    ------
    PlanError
        If it is none of these, is damaged or cut off, is too large, or its pixels are not square.
    """
    if data[:1024].lstrip().startswith(_PDF):
        from hgmap.site.pictures.pdf_page import paint_page

        image, note = paint_page(data, name=name, page=page, dpi=dpi, most_px=MOST_PX)
        return _kept(image, b"", "PNG", [note], name=name)
    if dpi is not None:
        raise PlanError(
            "is no PDF: its pixels are there already", where=name, todo="leave --dpi out"
        )
    with damage_in_one_line(name):
        return _from_image(data, name, page)


def _from_image(data: bytes, name: str, page: int | None) -> ReadPicture:
    from PIL import Image, ImageOps

    if data.startswith(SIGNATURE):
        check_png(data, name=name, most_px=MOST_PX)
    image: Image.Image = Image.open(io.BytesIO(data), formats=_FORMATS)
    kind = image.format or ""
    notes = []
    if not name.casefold().endswith(_ENDINGS[kind]):
        notes.append(f"it is a {kind} image, whatever its name says")
    pages = int(getattr(image, "n_frames", 1)) if kind == "TIFF" else 1
    page = which_page(page, pages, name=name)
    if page > 1:
        image.seek(page - 1)
    check_size(image, name)
    _check_square(image, name)
    before = image.size
    turned = image.getexif().get(0x0112, 1) not in (0, 1)
    image.load()
    upright = ImageOps.exif_transpose(image)
    if turned:
        notes.append("it was turned as the camera or scanner noted")
    plain = kind != "TIFF" and not turned and upright.size == before
    as_it_is = data if plain and image.mode in ("1", "L", "RGB") else b""
    return _kept(upright, as_it_is, kind, notes, name=name)


def check_size(image: Image, name: str) -> None:
    """Refuse an image that has no pixel, or too many, before it is decoded."""
    wide, high = image.size
    if not min(wide, high) > 0:
        raise PlanError(f"has {wide} by {high} pixels", where=name, todo="save it again")
    if wide * high > MOST_PX:
        raise PlanError(
            f"has {wide} by {high} pixels; at most {MOST_PX // 10**6} million are read", where=name,
            todo=_FEWER,
        )  # fmt: skip


def _check_square(image: Image, name: str) -> None:
    """Refuse pixels that are not square: lengths along and across would have two scales."""
    dpi = image.info.get("dpi")
    if not (isinstance(dpi, tuple) and len(dpi) == 2):
        return
    across, down = (float(one) for one in dpi)
    if min(across, down) > 0 and abs(across - down) > SQUARE * max(across, down):
        raise PlanError(
            f"its pixels are not square ({across:.0f} by {down:.0f} to the inch)", where=name,
            todo="save it with the same number of dots an inch along and across",
        )  # fmt: skip


def _kept(image: Image, as_it_is: bytes, kind: str, notes: list[str], *, name: str) -> ReadPicture:
    """Bring an upright image into the form that is kept."""
    size = image.size
    shrunk_by = -(-max(size) // LONGEST_PX)
    if as_it_is and shrunk_by == 1 and len(as_it_is) <= MOST_KEPT_BYTES:
        return ReadPicture(as_it_is, ".jpg" if kind == "JPEG" else ".png", size, 1, tuple(notes))
    plain = eight_bits(image)
    if plain.mode != image.mode:
        notes.append(f"its colours were brought to eight bits ({image.mode} to {plain.mode})")
    if shrunk_by > 1:
        # the mean of whole blocks of pixels: where a point lies stays exact
        plain = (plain.convert("L") if plain.mode == "1" else plain).reduce(shrunk_by)
        notes.append(f"it was shrunk {shrunk_by} times, from {size[0]} by {size[1]} pixels")
    out = io.BytesIO()
    if kind == "JPEG":
        plain.save(out, "JPEG", quality=_JPEG_QUALITY)
    else:
        plain.save(out, "PNG", optimize=False)
    if out.tell() > MOST_KEPT_BYTES:
        raise PlanError(
            f"would be kept in {out.tell() / 2**20:.0f} MiB, more than "
            f"{MOST_KEPT_BYTES // 2**20}", where=name, todo="save it smaller, or in grey",
        )  # fmt: skip
    ending = ".jpg" if kind == "JPEG" else ".png"
    return ReadPicture(out.getvalue(), ending, size, shrunk_by, tuple(notes))


def eight_bits(image: Image) -> Image:
    """Return an image of mode 1, L or RGB; what lets light through lies on white.

    More than eight bits of grey are stretched from the darkest to the brightest that is there.
    """
    from PIL import Image as Images

    if image.mode in ("1", "L", "RGB"):
        return image
    if image.mode == "F" or image.mode.startswith("I"):
        grey = np.asarray(image, dtype=np.float64)
        seen = grey[np.isfinite(grey)]
        low, high = (float(seen.min()), float(seen.max())) if seen.size else (0.0, 0.0)
        stretched = np.nan_to_num((grey - low) / ((high - low) or 1.0), nan=1.0)
        return Images.fromarray(np.round(255 * np.clip(stretched, 0, 1)).astype(np.uint8))
    if image.mode in ("LA", "PA", "RGBA", "La", "RGBa") or "transparency" in image.info:
        clear = image.convert("RGBA")
        paper = Images.new("RGBA", clear.size, "white")
        return Images.alpha_composite(paper, clear).convert("RGB")
    return image.convert("RGB")


@contextmanager
def damage_in_one_line(name: str) -> Iterator[None]:
    """Turn whatever the library meets in a damaged file into one line."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            # ours is the limit; what else it warns of (odd tags) changes no pixel
            warnings.simplefilter("ignore")
            yield
    except PlanError:
        raise
    except Image.DecompressionBombError:
        raise PlanError(
            f"has more than {MOST_PX // 10**6} million pixels", where=name, todo=_FEWER
        ) from None
    except UnidentifiedImageError:
        raise PlanError(
            "is no PNG, JPEG, TIFF or PDF", where=name, todo="save it as one of them"
        ) from None
    except MemoryError:
        raise PlanError("does not fit into memory", where=name, todo="save it smaller") from None
    except (OSError, SyntaxError, ValueError, TypeError, LookupError, ArithmeticError,
            AttributeError, EOFError, RuntimeError, NotImplementedError, struct.error,
            zlib.error) as error:  # fmt: skip
        # damaged parts make the library raise whatever it meets first
        raise PlanError(
            f"is damaged or cut off ({' '.join(str(error).split())[:80]})", where=name,
            todo="copy or export it again",
        ) from None  # fmt: skip
