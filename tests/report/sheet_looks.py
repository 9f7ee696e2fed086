"""How sheets look, as a few bytes each: ``python -m tests.report.sheet_looks`` remakes them.

A hash is a grid of block means of the painted sheet in grey, as steps of ink. It moves by a step or
two where another version of a library sets a line a hair otherwise, and by many where a part of the
sheet is missing. Look at every sheet before you remake the hashes.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from hgmap.report.drawing import Sheet
from hgmap.report.paper import png_bytes
from tests.report.sheet_cases import KINDS, house_sheets

FILE = Path(__file__).with_name("sheet_looks.json")
GRID = (24, 32)
DPI = 50.0
STEP = 0.02
"""Of ink (0 to 1) that one digit of a hash stands for."""

DIGITS = "0123456789abcdefghijklmnopqrstuvwxyz"
NEAR = 2
MOST_DIFFERING = 6
"""Blocks, of 768, that may differ by more."""


def ink_of(sheet: Sheet) -> NDArray[np.float64]:
    """Paint a sheet and return its ink, 0 to 1, row 0 at the top."""
    import io

    from matplotlib.image import imread

    rgb = imread(io.BytesIO(png_bytes(sheet, DPI)))[..., :3]
    return np.asarray(1.0 - rgb @ np.array([0.2126, 0.7152, 0.0722]), dtype=np.float64)


def look_of(sheet: Sheet) -> NDArray[np.int64]:
    """Return steps of ink, 0 to 35, of a grid of blocks over a sheet."""
    return look_of_ink(ink_of(sheet))


def look_of_ink(ink: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the same of what was painted."""
    rows = np.linspace(0, ink.shape[0], GRID[0] + 1).astype(int)
    columns = np.linspace(0, ink.shape[1], GRID[1] + 1).astype(int)
    sums = np.add.reduceat(np.add.reduceat(ink, rows[:-1], axis=0), columns[:-1], axis=1)
    area = np.outer(np.diff(rows), np.diff(columns))
    return np.minimum(np.round(sums / area / STEP), len(DIGITS) - 1).astype(np.int64)


def as_text(look: NDArray[np.int64]) -> list[str]:
    """Write a look as rows of digits: one sees the sheet in it."""
    return ["".join(DIGITS[step] for step in row) for row in look.tolist()]


def kept() -> dict[str, NDArray[np.int64]]:
    """Return the looks that were kept, by the kind of sheet."""
    found = json.loads(FILE.read_text("utf-8"))
    return {
        kind: np.array([[DIGITS.index(step) for step in row] for row in rows])
        for kind, rows in found.items()
    }


def differing(one: NDArray[np.int64], other: NDArray[np.int64]) -> int:
    """Count the blocks of two looks that differ by more than ``NEAR`` steps."""
    if one.shape != other.shape:
        return int(max(one.size, other.size))
    return int((np.abs(one - other) > NEAR).sum())


def main() -> None:
    """Remake the hashes of every sheet of the invented house on A4."""
    looks = {kind: as_text(look_of(house_sheets()[kind])) for kind in KINDS}
    FILE.write_text(json.dumps(looks, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
