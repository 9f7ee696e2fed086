"""The pixels of a kept image as greys, as they are stored: nothing is turned."""

from __future__ import annotations

import io

import numpy as np
from numpy.typing import NDArray

from hgmap.site.pictures.read_picture import check_size, damage_in_one_line, eight_bits


def grey_pixels(data: bytes, *, name: str) -> NDArray[np.uint8]:
    """Return the greys of a PNG or JPEG, shape (rows, columns), 0 black and 255 white.

    Raises
    ------
    PlanError
        If it is neither, is damaged or cut off, or is too large.
    """
    from PIL import Image

    with damage_in_one_line(name):
        image = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
        check_size(image, name)
        image.load()
        return np.asarray(eight_bits(image).convert("L"))
