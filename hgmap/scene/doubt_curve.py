"""The doubt that is expected after each further place, as a small curve (mm)."""

from __future__ import annotations

from typing import Final

import shapely

from hgmap.decide.model import ResampleList
from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import INK, SOFT

_LINE: Final = Pen("#00508a", 1.4)
_ENOUGH: Final = Pen("#00694c", 1.1, (4.0, 2.0))
_PT: Final = 6.5
_MARGIN_MM: Final = (9.0, 7.0, 3.0, 3.5)
"""Left, below, right, above."""


def expected_doubt(resample: ResampleList) -> tuple[float, ...]:
    """Return the area in doubt (m²) now and after each place that says what it leaves."""
    if resample.stop is None or resample.stop.left_m2 is None:
        return ()
    told = []
    for place in resample.places:
        if place.left_m2 is None:
            break
        told.append(place.left_m2)
    return (resample.stop.now_m2, *told) if told else ()


def doubt_curve(
    resample: ResampleList, width_mm: float, height_mm: float, chosen: int | None = None
) -> Drawing:
    """Draw the share of the floor in doubt over the number of places measured again.

    ``chosen`` is the rank of a place to mark. Nothing is drawn where nothing is foretold.
    """
    doubt, stop = expected_doubt(resample), resample.stop
    if len(doubt) < 2 or stop is None or stop.area_m2 <= 0.0:
        return ()
    left, below, right, above = _MARGIN_MM
    wide, tall = width_mm - left - right, height_mm - below - above
    shares = [one / stop.area_m2 for one in doubt]
    top = max(*shares, stop.share) * 1.05

    def at(place: float, share: float) -> tuple[float, float]:
        return left + wide * place / (len(doubt) - 1), below + tall * share / top

    points = [at(k, share) for k, share in enumerate(shares)]
    frame = shapely.LineString([(left, below + tall), (left, below), (left + wide, below)])
    items: list[Item] = [
        Area(shapely.box(left, below, left + wide, below + tall), fill="#f6f7f8"),
        Path(frame, Pen(SOFT, 0.7)),
    ]
    enough = at(0, stop.share)[1]
    items.append(Path(shapely.LineString([(left, enough), (left + wide, enough)]), _ENOUGH))
    items.append(Label(left + wide, enough, f"enough: {100 * stop.share:.3g} %", _PT, "#00694c",
                       across="right", halo="#ffffff", offset_pt=(0.0, 2.5)))  # fmt: skip
    items.append(Path(shapely.LineString(points), _LINE))
    for rank, (x, y) in enumerate(points):
        if rank == chosen:
            items.append(Dot(x, y, 8.0, "circle", "#ffffff", Pen(INK, 1.6)))
        else:
            items.append(Dot(x, y, 3.4, "circle", _LINE.colour))
    for share in (0.0, shares[0]):
        x, y = at(0, share)
        items.append(Label(x, y, f"{100 * share:.0f} %", _PT, INK, across="right", up="middle",
                           offset_pt=(-3.0, 0.0)))  # fmt: skip
    for rank in sorted({0, len(doubt) - 1, stop.places or 0}):
        x, y = at(rank, 0.0)
        text = "now" if rank == 0 else str(rank)
        items.append(Label(x, y, text, _PT, INK, across="centre", up="top",
                           offset_pt=(0.0, -3.0)))  # fmt: skip
    items.append(Label(left + wide / 2.0, 0.8, "places measured again", _PT, SOFT, across="centre"))
    return tuple(items)
