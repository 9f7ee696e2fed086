"""Placing the picture under a plan by points whose places are known; what they miss by is shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from hgmap.desktop.panels.ask_row import Answers, AskRow, Field, number
from hgmap.desktop.tools.line_tools import PlacePoints
from hgmap.desktop.tools.places_tool import Place
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.panels.plan_tools import PlanTools
    from hgmap.site.pictures.placed import PlacedPicture

Places = tuple[Place, ...]


class PlaceByPoints:
    """Clicks first, then their coordinates, then how well they fit; only then is it placed."""

    def __init__(self, desk: Desk, tools: PlanTools, ask: AskRow) -> None:
        self.desk, self.board, self.tools, self.ask = desk, desk.board, tools, ask
        self.tool = PlacePoints(self.board, self.clicked, tools.put_down)
        self._why_not = ""

    def take(self) -> None:
        """Take the tool, unless what was drawn would stay behind."""
        entry, draft = self.board.entry, self.board.draft
        if entry is None or entry.picture is None:
            return
        if entry.picture.guessed and draft is not None and draft.features:
            self.desk.session.trouble.emit(
                tr("the plan was drawn after this picture at a guessed size: scale the picture "
                   "first, so that what was drawn goes with it")
            )  # fmt: skip
            return
        self.tools.take(self.tool)

    def clicked(self, places: Places) -> bool:
        """Ask where the points lie on the plan."""
        fields = [Field(str(n), tr("Point {n}: x, y", n=n)) for n, _ in enumerate(places, start=1)]
        self.ask.ask(
            tr("Where do the points lie on the plan? Metres to the right and up, as 0, 12.5"),
            fields, tr("See how they fit"), lambda said: self.fit(places, said),
            refused=self.tools.put_down,
        )  # fmt: skip
        return True

    def fit(self, places: Places, said: Answers) -> bool:
        """Fit the picture to the points, and ask whether it may lie so."""
        from hgmap.editing.plan_of_floor import picture_of
        from hgmap.site.pictures.placed import PicturePoint, place_by_points

        now = picture_of(self.board.entry) if self.board.entry else None
        if now is None:
            return True
        points = []
        pixels = now.to_pixels(list(places))
        for n, (column, row) in enumerate(pixels, start=1):
            place = two_numbers(said[str(n)])
            if place is None:
                return self._no(
                    tr("point {n}: {text!r} is no place: type x and y in metres, such as 0, 12.5",
                       n=n, text=said[str(n)])
                )  # fmt: skip
            points.append(PicturePoint((float(column), float(row)), place))
        try:
            placed = place_by_points(points, file=now.file)
        except HgmapError as error:
            return self._no(in_one_line(error))
        self.desk.told.mended.emit(self._why_not)  # else it stands over points that do fit
        self.ask.ask(
            fit_words(placed), [], tr("Place it so"), lambda _: self._place(placed),
            refused=self.tools.put_down,
        )  # fmt: skip
        return True

    def _no(self, why: str) -> bool:
        self._why_not = why
        self.desk.session.trouble.emit(why)
        return False

    def _place(self, placed: PlacedPicture) -> bool:
        from hgmap.editing.floor_settings import set_picture

        name = self.board.floor
        if not self.desk.session.edit(
            tr("Place the picture by points"),
            lambda files: set_picture(files, name, placed.picture),
        ):
            return False
        self.tools.put_down()
        self.desk.canvas.fit()
        return True


def two_numbers(text: str) -> Place | None:
    """Return x and y as people write them; None where it is no such pair.

    Examples
    --------
    >>> two_numbers("0, 12.5"), two_numbers("1,5; 2"), two_numbers("1,5 2,5"), two_numbers("1")
    ((0.0, 12.5), (1.5, 2.0), (1.5, 2.5), None)
    """
    text = text.strip()
    parts = text.split(";") if ";" in text else re.split(r"\s*,\s+|\s+", text)
    if len(parts) == 1:
        parts = text.split(",")
    found = [number(one) for one in parts]
    if len(found) != 2 or found[0] is None or found[1] is None:
        return None
    return found[0], found[1]


def fit_words(placed: PlacedPicture) -> str:
    """Say by how much each point misses, and what to look at again."""
    lines = [
        tr("Point {n} misses by {miss} m.", n=n, miss=f"{one.miss_m:.3f}")
        for n, one in enumerate(placed.points, start=1)
    ]
    lines.append(
        tr("Root mean square {rmse} m; a pixel is {mm} mm, turned {turn}°.",
           rmse=f"{placed.rmse_m:.3f}", mm=f"{1000 * placed.picture.m_per_px:.3g}",
           turn=f"{placed.picture.angle_deg:.2f}")
    )  # fmt: skip
    return "\n".join([*lines, *placed.doubts, *placed.notes])
