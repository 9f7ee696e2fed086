"""Whether a PNG has as many pixels as its header says.

A reader of images fills up what is missing, without a word; a wall would end where the file does.
The parts of a file and the seven passes of an interlaced one: PNG specification (W3C, 2003),
sections 5 and 8.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from typing import Final

from hgmap.errors import PlanError

SIGNATURE: Final = b"\x89PNG\r\n\x1a\n"
_CHANNELS: Final = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_PASSES: Final = (
    (0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2),
    (0, 1, 1, 2),
)  # fmt: skip
_AT_ONCE: Final = 1 << 20


def check_png(data: bytes, *, name: str, most_px: int) -> None:
    """Refuse a PNG without pixels, with too many, or with other than its header says.

    Raises
    ------
    PlanError
    """
    header = data[16:29]
    if data[12:16] != b"IHDR" or len(header) < 13 or header[9] not in _CHANNELS:
        raise PlanError("its header is damaged", where=name, todo="copy or export it again")
    wide, high = int.from_bytes(header[:4], "big"), int.from_bytes(header[4:8], "big")
    if not 0 < wide * high <= most_px:
        raise PlanError(
            f"has {wide} by {high} pixels; 1 to {most_px // 10**6} million are read", where=name,
            todo="scan or save it with fewer dots an inch, or cut it to the building",
        )  # fmt: skip
    said = _bytes_of(wide, high, header[8] * _CHANNELS[header[9]], interlaced=header[12] == 1)
    found = _unpacked(data, said + 1)
    if found != said:
        raise PlanError(
            f"has {'less' if found < said else 'more'} in it than the {wide} by {high} pixels of "
            "its header",
            where=name, todo="copy or export it again",
        )  # fmt: skip


def _bytes_of(wide: int, high: int, bits: int, *, interlaced: bool) -> int:
    """Return how many bytes the rows have, each with the byte that says its filter."""
    if not interlaced:
        return high * (1 + -(-wide * bits // 8))
    whole = 0
    for left, top, across, down in _PASSES:
        columns, rows = -(-(wide - left) // across), -(-(high - top) // down)
        if columns > 0 and rows > 0:
            whole += rows * (1 + -(-columns * bits // 8))
    return whole


def _unpacked(data: bytes, most: int) -> int:
    """Return how many bytes the rows come to, at most ``most``: they are counted, not kept."""
    unpack = zlib.decompressobj()
    found = 0
    try:
        for part in _rows(data):
            left = part
            while left and found < most and not unpack.eof:
                found += len(unpack.decompress(left, _AT_ONCE))
                left = unpack.unconsumed_tail
    except zlib.error:  # whoever decodes it says what is wrong
        return found
    return min(found, most)


def _rows(data: bytes) -> Iterator[bytes]:
    at = len(SIGNATURE)
    while at + 8 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        if data[at + 4 : at + 8] == b"IDAT":
            yield data[at + 8 : at + 8 + length]
        at += 12 + length
