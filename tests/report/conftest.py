"""``check_page``: whether everything on a sheet stays on the paper and no two texts overlap."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath

import pytest

from hgmap.report.drawing import PT_PER_MM, Area, Frame, Item, Label, Path, Picture, Sheet
from hgmap.report.typeset import width_mm
from tests.report.exported import FRAME, Mapped, mapped

Box = tuple[float, float, float, float]


def _text_box(item: Label, frame: Frame | None) -> Box:
    """West, south, east, north (mm) on the page, from the text's real width."""
    x, y = (item.x, item.y) if frame is None else frame.to_page(item.x, item.y)
    x, y = x + item.offset_pt[0] / PT_PER_MM, y + item.offset_pt[1] / PT_PER_MM
    wide, high = width_mm(item.text, item.size_pt, item.bold), item.size_pt * 0.36 * 0.7
    left = x - wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[item.across]
    base = y - high * {"baseline": 0.0, "middle": 0.5, "top": 1.0}[item.up]
    return left, base, left + wide, base + high


def _inside(box: Box, outer: Box) -> bool:
    return (box[0] >= outer[0] and box[1] >= outer[1] and box[2] <= outer[2]
            and box[3] <= outer[3])  # fmt: skip


def _check(sheet: Sheet) -> None:
    paper = (5.0, 5.0, sheet.width_mm - 5.0, sheet.height_mm - 5.0)
    texts: list[tuple[str, Box]] = []

    def look(item: Item, frame: Frame | None, edge: Box) -> None:
        if isinstance(item, Label):
            box = _text_box(item, frame)
            assert _inside(box, edge), item
            texts.append((item.text, box))
        elif frame is None and isinstance(item, Area | Path):
            assert _inside(item.shape.bounds, edge), item
        elif frame is None and isinstance(item, Picture):
            assert _inside(item.bounds, edge), item

    for item in sheet.page:
        look(item, None, paper)
    for frame in sheet.frames:
        edge = (frame.left_mm, frame.bottom_mm, frame.left_mm + frame.width_mm,
                frame.bottom_mm + frame.height_mm)  # fmt: skip
        assert _inside(edge, paper)
        for item in frame.drawing:
            look(item, frame, edge)
    for k, (one, a) in enumerate(texts):
        for other, b in texts[:k]:
            apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
            assert apart, (one, other)


@pytest.fixture(scope="session")
def check_page() -> Callable[[Sheet], None]:
    """Return a function that fails where a sheet's texts overlap or leave the paper."""
    return _check


@pytest.fixture(scope="session")
def plain(site_maker: Callable[..., FilePath], tmp_path_factory: pytest.TempPathFactory) -> Mapped:
    """Return a mapped site whose plan lies nowhere on the map."""
    return mapped(site_maker, tmp_path_factory.mktemp("plain") / "site")


@pytest.fixture(scope="session")
def placed(site_maker: Callable[..., FilePath], tmp_path_factory: pytest.TempPathFactory) -> Mapped:
    """Return the same site with a map frame, and a second level."""
    options = {"further_levels": ("isolate=6 ug/m3",)}
    return mapped(site_maker, tmp_path_factory.mktemp("placed") / "site", options, extra=FRAME)
