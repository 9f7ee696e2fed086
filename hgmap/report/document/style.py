"""The house style: a logo, a name, colours of headings and tables, and cautions beside ours.

::

    name = "House of the surveyor"
    logo = "logo.png"
    logo_height_mm = 14
    cautions = ["Read with the scope of work."]

    [colours]
    heading = "#003355"
    table_head = "#e6eef5"
    rule = "#9fb3c4"

Zones keep their colours, and our cautions stand: a house adds to them.
"""

from __future__ import annotations

import difflib
import io
import re
import tomllib
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from hgmap.errors import SiteError
from hgmap.report.palette import INK, PAPER, RULE
from hgmap.site.files import inside_folder, read_bytes
from hgmap.site.textfile import printable
from hgmap.site.wrong_value import wrong_value

MOST_STYLE_BYTES: Final = 2**20
MOST_LOGO_BYTES: Final = 16 * 2**20
MOST_LOGO_PIXELS: Final = 16_000_000
LOGO_PX_PER_MM: Final = 300.0 / 25.4
LEAST_CONTRAST: Final = 4.5
"""Of text with what is behind it: WCAG 2.1, success criterion 1.4.3 (value from memory)."""

LEAST_LINE_CONTRAST: Final = 1.3
"""Of a line, or the strongest spot of a logo, with the paper: ours, no source."""
LEAST_LOGO_MM: Final = 1.0

_PROMISE: Final = re.compile(r"\bsafe\b", re.IGNORECASE)


@dataclass(frozen=True)
class Logo:
    """A logo as pixels of shape (rows, columns, 4), uint8, with its size on paper (mm)."""

    rgba: NDArray[np.uint8]
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class HouseStyle:
    """How a house wants its reports; ours where nothing is said."""

    name: str = ""
    logo: Logo | None = None
    heading: str = INK
    table_head: str = "#eef0f2"
    rule: str = RULE
    cautions: tuple[str, ...] = ()


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class ColoursTable(_Table):
    """``[colours]``: as #rrggbb."""

    heading: str = HouseStyle.heading
    table_head: str = HouseStyle.table_head
    rule: str = HouseStyle.rule

    @field_validator("heading", "table_head", "rule")
    @classmethod
    def _colour(cls, value: str) -> str:
        if not re.fullmatch(r"#[0-9a-fA-F]{6}", value):
            raise ValueError("a colour as #rrggbb")
        return value.lower()

    @field_validator("heading")
    @classmethod
    def _read_on_paper(cls, value: str) -> str:
        if contrast(value, PAPER) < LEAST_CONTRAST:
            raise ValueError("a darker colour: this one is hard to read on white paper")
        return value

    @field_validator("rule")
    @classmethod
    def _seen_on_paper(cls, value: str) -> str:
        if contrast(value, PAPER) < LEAST_LINE_CONTRAST:
            raise ValueError("a darker colour: lines of this one vanish on white paper")
        return value

    @field_validator("table_head")
    @classmethod
    def _read_on_it(cls, value: str) -> str:
        if contrast(value, INK) < LEAST_CONTRAST:
            raise ValueError("a lighter colour: dark text on this one is hard to read")
        return value


class StyleTable(_Table):
    """The whole of the file."""

    name: str = Field(default="", max_length=200)
    logo: str | None = Field(default=None, min_length=1)
    logo_height_mm: float = Field(default=14.0, ge=4, le=40)
    cautions: tuple[str, ...] = Field(default=(), max_length=12)
    colours: ColoursTable = ColoursTable()

    @field_validator("cautions")
    @classmethod
    def _promise_nothing(cls, texts: tuple[str, ...]) -> tuple[str, ...]:
        for text in texts:
            if not text.strip() or len(text) > 1000:
                raise ValueError("texts of 1 to 1000 letters")
            if _PROMISE.search(text):
                raise ValueError(
                    "another wording: a survey meets a level, does not, or cannot tell yet, and "
                    "says no more of people's health"
                )
        return texts


def read_style(path: Path) -> HouseStyle:
    """Read a house style and its logo.

    Parameters
    ----------
    path : Path
        A TOML file; its logo, PNG or JPEG, lies in the same folder or below it.

    Raises
    ------
    SiteError
        If the file cannot be read, has a key that is not known (the nearest one is named) or a
        value that does not fit, or the logo is no picture or lies outside the folder.
    """
    where = path.name
    data = read_bytes(path, where=str(path), most_bytes=MOST_STYLE_BYTES)
    try:
        raw = tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise SiteError("is not UTF-8 text", where=where, todo="save it as UTF-8") from None
    except (ValueError, RecursionError) as error:
        raise SiteError(f"TOML syntax: {error}", where=where, todo="mend that line") from None
    try:
        table = StyleTable.model_validate(raw)
    except ValidationError as error:
        first = [_complaint(dict(one)) for one in error.errors()[:3]]
        raise SiteError("; ".join(first), where=where) from None
    logo = None
    if table.logo is not None:
        file = inside_folder(
            path.parent, table.logo, where=where, folder_name="the folder of the style file"
        )
        content = read_bytes(file, where=f"{where}, logo", most_bytes=MOST_LOGO_BYTES)
        logo = _logo(content, table.logo_height_mm, where=f"{where}, logo {table.logo}")
    colours = table.colours
    return HouseStyle(
        _in_one_line(table.name), logo, colours.heading, colours.table_head, colours.rule,
        tuple(map(_in_one_line, table.cautions)),
    )  # fmt: skip


def _in_one_line(text: str) -> str:
    return printable(" ".join(text.split()))


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.1; value from memory).

    Examples
    --------
    >>> round(contrast("#000000", "#ffffff"), 1)
    21.0
    """
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    parts = []
    for start in (1, 3, 5):
        part = int(colour[start : start + 2], 16) / 255.0
        parts.append(part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4)
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def _complaint(error: dict[str, Any]) -> str:
    location: tuple[str | int, ...] = error["loc"]
    words = [str(part) for part in location if isinstance(part, str)]
    place = f"key {'.'.join(words)!r}"
    if error["type"] == "extra_forbidden":
        table = ColoursTable if len(words) > 1 else StyleTable
        known = sorted(table.model_fields)
        near = difflib.get_close_matches(words[-1], known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known keys: {', '.join(known)}"
        return f"{place} is not known; {hint}"
    return f"{place}: {wrong_value(error)}"


def _logo(content: bytes, height_mm: float, *, where: str) -> Logo:
    """Read a logo, no larger than it is printed, upright."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(content), formats=("PNG", "JPEG"))
            if picture.width * picture.height > MOST_LOGO_PIXELS:
                raise SiteError(
                    f"{picture.width} by {picture.height} pixels are too many", where=where,
                    todo="save it smaller",
                )  # fmt: skip
            upright: Image.Image = ImageOps.exif_transpose(picture).convert("RGBA")
    except UnidentifiedImageError:
        raise SiteError("is no PNG or JPEG picture", where=where, todo="save it as PNG") from None
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise SiteError(f"cannot be read as a picture ({error})", where=where) from None
    high = max(1, min(upright.height, round(height_mm * LOGO_PX_PER_MM)))
    wide = max(1, round(upright.width * high / upright.height))
    if high != upright.height:
        upright = upright.resize((wide, high), Image.Resampling.LANCZOS)
    width_mm = height_mm * wide / high
    if width_mm > 100.0:  # a banner is cut down to what the head of a page holds
        height_mm, width_mm = height_mm * 100.0 / width_mm, 100.0
    if min(width_mm, height_mm) < LEAST_LOGO_MM:
        raise SiteError(
            f"would be printed {width_mm:.3g} mm wide and {height_mm:.2g} mm high", where=where,
            todo="save it less long and thin",
        )  # fmt: skip
    rgba = np.asarray(upright, dtype=np.uint8)
    if not _shows(rgba):
        raise SiteError(
            "cannot be seen on white paper", where=where,
            todo="save it in darker colours, and not transparent",
        )  # fmt: skip
    return Logo(rgba, width_mm, height_mm)


def _shows(rgba: NDArray[np.uint8]) -> bool:
    """Tell whether anything of a picture stands out from white paper."""
    cover = rgba[..., 3:].astype(float) / 255.0
    printed = (rgba[..., :3] * cover + 255.0 * (1.0 - cover)).round().astype(np.uint8)
    colours = np.unique(printed.reshape(-1, 3), axis=0)
    on_paper = ("#" + bytes(one).hex() for one in colours)
    return any(contrast(one, PAPER) >= LEAST_LINE_CONTRAST for one in on_paper)
