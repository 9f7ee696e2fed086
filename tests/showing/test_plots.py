"""Objects drawn on matplotlib's axes: in metres, on the axes given, without pyplot."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import shapely
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.errors import HgmapError
from hgmap.report.drawing import CAP_HEIGHT, PT_PER_MM, Area, Item, Label, Path, Picture
from hgmap.report.extent import extent
from hgmap.report.glyphs import left_end
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.typeset import width_mm
from hgmap.showing.painted import Painted
from tests.showing.conftest import Held

DRAWN = ("floor", "map", "evidence", "surface", "zones", "places", "change", "walk")
SEVERAL = ("site", "run", "clearance", "at a level", "design")


def things(held: Held) -> dict[str, Any]:
    ground = held.run.floors[0]
    return {
        "site": held.site, "floor": held.site.floors[0], "run": held.run, "map": ground,
        "evidence": ground.evidence, "surface": ground.surface, "zones": ground.zones,
        "places": ground.resample, "change": held.change.floors[0], "clearance": held.cleared,
        "at a level": held.cleared.levels[0], "design": held.design, "walk": held.design.floors[0],
    }  # fmt: skip


@pytest.fixture
def ax() -> Axes:
    figure = Figure(figsize=(8, 5))
    FigureCanvasAgg(figure)
    return figure.subplots()


def drawn(axes: Axes) -> Iterator[Item]:
    for one in axes.artists:
        if isinstance(one, Painted):
            yield from one.drawing


def outlines(axes: Axes) -> Iterator[tuple[str, BaseGeometry]]:
    """Go through what is drawn with a pen: its colour and its shape."""
    for one in drawn(axes):
        if isinstance(one, (Area, Path)) and one.pen is not None:
            yield one.pen.colour, one.shape


def labels(axes: Axes) -> Iterator[tuple[str, float, float, float, float]]:
    """Go through lines of text: each with left, right, bottom and top (pixels)."""
    scale = axes.figure.dpi / 72.0
    for one in axes.artists:
        for item in one.drawing if isinstance(one, Painted) else ():
            if isinstance(item, Label) and item.text.strip():
                x, y = axes.transData.transform((one.left + item.x, one.bottom + item.y))
                x += scale * (item.offset_pt[0] + left_end(item.text, item.across, item.size_pt,
                                                           item.bold))  # fmt: skip
                y += scale * (item.offset_pt[1] + item.baseline_shift_pt)
                wide = scale * PT_PER_MM * width_mm(item.text, item.size_pt, item.bold)
                yield item.text, x, x + wide, y, y + scale * CAP_HEIGHT * item.size_pt


def ink(axes: Axes, without: bool = False) -> NDArray[np.uint8]:
    """Return the pixels of a figure, with or without what was painted by us."""
    ours = [one for one in axes.artists if isinstance(one, Painted)]
    for one in ours:
        one.set_visible(not without)
    canvas: Any = axes.figure.canvas
    canvas.draw()
    for one in ours:
        one.set_visible(True)
    return np.asarray(canvas.buffer_rgba()).copy()


@pytest.mark.parametrize("name", DRAWN)
def test_what_is_drawn_is_on_the_axes_given_in_metres_of_the_floor(
    held: Held, name: str, ax: Axes
) -> None:
    assert things(held)[name].plot(ax) is ax
    assert ax.get_aspect() == 1.0
    west, east = ax.get_xlim()
    south, north = ax.get_ylim()
    first = extent(held.site.floors[0])
    inner = (3.0, 2.0, 9.0, 3.0) if name == "places" else first
    if name != "places":
        assert west < inner[0] < inner[2] < east
        assert south < inner[1] < inner[3] < north
    assert ax.get_xlabel() == "x, m"
    assert ax.get_ylabel() == "y, m"
    assert len(list(drawn(ax))) > 3
    bare = ink(ax, without=True)
    assert (ink(ax) != bare).any(), "something of it is seen"


@pytest.mark.parametrize("name", ["zones", "map"])
def test_every_zone_is_outlined_where_it_lies(held: Held, name: str, ax: Axes) -> None:
    things(held)[name].plot(ax)
    zones = held.run.floors[0].zones.zones
    assert zones
    for zone in zones:
        pen = ZONE_LOOKS[zone.name].pen
        near = [
            shape for colour, shape in outlines(ax)
            if colour == pen.colour
            and np.allclose(shape.bounds, zone.geometry.bounds, atol=0.25)
        ]  # fmt: skip
        assert near, (zone.id, zone.geometry.bounds)


def test_rooms_of_a_floor_are_drawn_to_their_corners(held: Held, ax: Axes) -> None:
    floor = held.site.floors[0]
    floor.plot(ax)
    seen = shapely.union_all([shape.boundary if shape.area else shape for _, shape in outlines(ax)])
    for room in floor.rooms:
        for corner in room.polygon.exterior.coords:
            assert shapely.distance(shapely.Point(corner), seen) < 1e-6


@pytest.mark.parametrize("name", SEVERAL)
def test_several_floors_are_drawn_inside_the_axes_given(held: Held, name: str, ax: Axes) -> None:
    thing = things(held)[name]
    assert thing.plot(ax) is ax
    assert len(ax.child_axes) == 2
    assert {one.get_xlabel() for one in ax.child_axes} == {"x, m"}
    ax.figure.canvas.draw()


@pytest.mark.parametrize("name", SEVERAL)
def test_one_floor_by_name_is_drawn_on_the_axes_themselves(held: Held, name: str, ax: Axes) -> None:
    assert things(held)[name].plot(ax, floor="upper") is ax
    assert all(one.get_xlabel() != "x, m" for one in ax.child_axes)  # a scale, no floor
    assert ax.get_xlabel() == "x, m"
    with pytest.raises(HgmapError, match="no floor 'cellar'"):
        things(held)[name].plot(ax, floor="cellar")


@pytest.mark.parametrize("show", ["zones", "estimate", "chance", "readings"])
def test_a_map_can_be_looked_at_in_several_ways(held: Held, show: str, ax: Axes) -> None:
    held.run.floors[0].plot(ax, show=show)
    painted = any(isinstance(one, Picture) for one in drawn(ax))
    assert painted == (show != "readings")
    outlined = {colour for colour, _ in outlines(ax)}
    zones = {one.name for one in held.run.floors[0].zones.zones} - {"no data"}
    assert all((ZONE_LOOKS[one].pen.colour in outlined) == (show == "zones") for one in zones)


def test_what_cannot_be_shown_so_is_refused_with_what_can(held: Held) -> None:
    with pytest.raises(HgmapError, match="no view 'sd'") as caught:
        held.run.floors[0].surface.plot(show="sd")  # type: ignore[union-attr]
    assert "uncertainty" in caught.value.todo
    with pytest.raises(HgmapError, match="has no view"):
        held.site.plot(show="zones")


def test_new_axes_show_themselves_with_title_level_key_and_cautions(held: Held) -> None:
    axes = held.run.plot(floor="ground")
    assert axes._repr_png_().startswith(b"\x89PNG")  # type: ignore[attr-defined]
    figure = axes.figure
    every = [part for whole in figure.axes for part in (whole, *whole.child_axes)]
    texts = " ".join(
        [one.get_text() for one in figure.findobj(Text)]
        + [text for part in every for text, *_ in labels(part)]
    )
    for word in ("Action level 3 µg/m³", "source:", "remediate", "resample", "clear", "no data",
                 "Screening, not a health opinion", "Beware"):  # fmt: skip
        assert word in texts, word


def test_every_text_of_a_new_figure_lies_on_it(held: Held) -> None:
    for name in (*DRAWN, *SEVERAL):
        figure = things(held)[name].plot().figure
        figure.canvas.draw()
        wide, high = figure.get_size_inches() * figure.dpi
        every = [part for whole in figure.axes for part in (whole, *whole.child_axes)]
        # ticks beyond the ends of an axis are texts too, and never drawn
        ticks = {
            one for part in every for one in (*part.get_xticklabels(), *part.get_yticklabels())
        }
        for one in figure.findobj(Text):
            if not one.get_text().strip() or not one.get_visible() or one in ticks:
                continue
            box = one.get_window_extent()
            assert box.x0 > -2.0, (name, one.get_text())
            assert box.x1 < wide + 2.0, (name, one.get_text())
            assert box.y0 > -2.0, (name, one.get_text())
            assert box.y1 < high + 2.0, (name, one.get_text())
        for part in every:
            for text, left, right, bottom, top in labels(part):
                assert left > -2.0, (name, text)
                assert right < wide + 2.0, (name, text)
                assert bottom > -2.0, (name, text)
                assert top < high + 2.0, (name, text)


def test_what_a_person_draws_later_lies_on_top(held: Held, ax: Axes) -> None:
    held.run.floors[0].plot(ax)
    ours = max(one.get_zorder() for one in ax.artists)
    (later,) = ax.plot([1.0], [1.0], "o")
    assert later.get_zorder() > ours


def test_places_are_put_on_a_plan_that_is_there_already(held: Held, ax: Axes) -> None:
    ground = held.run.floors[0]
    ground.floor.plot(ax)
    limits, bare = (ax.get_xlim(), ax.get_ylim()), ink(ax)
    ground.resample.plot(ax)
    assert (ax.get_xlim(), ax.get_ylim()) == limits
    plan, places = ax.artists
    assert plan.get_zorder() <= places.get_zorder(), "what comes later lies on top"
    assert (ink(ax) != bare).any()


@pytest.mark.parametrize(
    "turned",
    [
        lambda ax: ax.invert_yaxis(),
        lambda ax: ax.invert_xaxis(),
        lambda ax: ax.set_aspect("auto"),
        lambda ax: ax.set(xscale="log", xlim=(0.3, 40.0)),
        lambda ax: ax.set(yscale="symlog"),
    ],
)
def test_no_plan_is_drawn_where_its_places_would_not_be_what_the_ticks_say(
    held: Held, ax: Axes, turned: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    painted, said = [], []
    monkeypatch.setattr("hgmap.showing.painted.paint_drawing", lambda *a, **k: painted.append(a))
    monkeypatch.setattr(
        "hgmap.showing.painted._say_why_not", lambda axes, renderer: said.append(axes)
    )
    held.site.floors[0].plot(ax)
    ax.figure.savefig(io.BytesIO())
    assert painted
    assert not said
    painted.clear()
    turned(ax)
    ax.figure.savefig(io.BytesIO())
    assert said
    assert not painted


@pytest.mark.parametrize("ending", ["pdf", "svg"])
def test_a_plot_can_be_written_as_a_drawing(held: Held, ax: Axes, ending: str) -> None:
    held.run.floors[0].plot(ax)
    stream = io.BytesIO()
    ax.figure.savefig(stream, format=ending)
    assert len(stream.getvalue()) > 20_000


QUICK = """
import sys
import hgmap.site.model, hgmap.decide.model, hgmap.field.surface
left_alone = ("matplotlib", "hgmap.showing", "hgmap.report")
heavy = [one for one in sys.modules if one.startswith(left_alone)]
assert not heavy, heavy
import hgmap
floor = hgmap.read_site(sys.argv[1]).floors[0]
assert "matplotlib" not in sys.modules
axes = floor.plot()
assert "matplotlib.pyplot" not in sys.modules
"""


def test_data_loads_no_matplotlib_until_it_is_drawn_and_never_pyplot(held: Held) -> None:
    done = subprocess.run([sys.executable, "-c", QUICK, str(held.site.folder)],
                          capture_output=True, text=True, timeout=120, check=False)  # fmt: skip
    assert done.returncode == 0, done.stderr
