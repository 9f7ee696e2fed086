"""Diagnostics and maps of the estimate of very many readings are those of the estimate of few."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import LineString, box

from hgmap.batch import MapOptions, MapRun, map_site
from hgmap.field import averaged
from hgmap.field.dense_cells import DenseCells
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.influence import reading_weights
from hgmap.field.precision_cells import PrecisionCells
from hgmap.field.surface import Surface
from hgmap.report import diagnostic_numbers as numbers
from hgmap.report.diagnostic_drive import candidate_weights, drive
from hgmap.report.diagnostics import DIAGNOSTICS, draw_pages
from hgmap.site.building import Floor, Opening, Room

Floats = NDArray[np.float64]
MakeSite = Callable[..., Path]

ROOMS = (
    Room("a", "A", box(0, 0, 6, 5)),
    Room("b", "B", box(6, 0, 12, 5)),
    Room("shut", "Shut", box(0, 6, 4, 9)),
)
DOOR = Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b"))
JOINED = Floor("g", "Ground", ROOMS, openings=(DOOR,))


def use(monkeypatch: pytest.MonkeyPatch, *, precision: bool) -> None:
    monkeypatch.setattr(averaged, "precision_pays", lambda *_, **__: precision)


def surface_of(floor: Floor) -> Surface:
    random = np.random.default_rng(3)
    xy = random.uniform((0.2, 0.2), (11.8, 4.8), (24, 2))
    value = np.exp(0.2 * xy[:, 0] + 4.0 * (xy[:, 0] > 6) + random.normal(0, 0.3, 24))
    return estimate_surface(floor, xy, value, EstimateSettings(cell_m=0.5, walls=True))


def dense_and_precise(
    monkeypatch: pytest.MonkeyPatch, floor: Floor = JOINED
) -> tuple[Surface, Surface]:
    use(monkeypatch, precision=False)
    dense = surface_of(floor)
    use(monkeypatch, precision=True)
    precise = surface_of(floor)
    assert isinstance(dense.estimate, DenseCells)
    assert isinstance(precise.estimate, PrecisionCells)
    return dense, precise


def test_candidates_weigh_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    theirs, ours = map(candidate_weights, dense_and_precise(monkeypatch))
    assert ours is not None
    assert theirs is not None

    def table(one: Any) -> dict[tuple[float, float], float]:
        return dict(zip(zip(one.range_m, one.nugget_share, strict=True), one.weight, strict=True))

    assert table(ours) == pytest.approx(table(theirs), rel=1e-5)
    assert ours.flux == pytest.approx(theirs.flux, rel=1e-5)
    assert sum(ours.flux.values()) == pytest.approx(1.0)


def test_readings_drive_the_map_by_their_mean_absolute_weight(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    dense, precise = dense_and_precise(monkeypatch)
    found, theirs = drive(precise, JOINED), drive(dense, JOINED)
    assert found is not None
    graph = precise.estimate.graph if precise.estimate is not None else None
    assert graph is not None
    cells = np.flatnonzero(graph.room < 2)
    weights = [reading_weights(precise, JOINED, graph.xy[k], int(graph.room[k])) for k in cells]
    assert found == pytest.approx(np.abs(weights).mean(axis=0), rel=1e-6)
    # by the heaviest candidate alone
    assert found == pytest.approx(theirs, abs=0.02)
    assert found.sum() >= 1.0


@pytest.mark.parametrize("joined", [True, False])
def test_pairs_across_parts_that_air_does_not_join_are_left_out(
    monkeypatch: pytest.MonkeyPatch, joined: bool
) -> None:
    floor = JOINED if joined else replace(JOINED, openings=())
    theirs, ours = (
        numbers.pair_bins(one, np.zeros(24, dtype=bool))
        for one in dense_and_precise(monkeypatch, floor)
    )
    assert ours.apart == theirs.apart
    assert (ours.apart == 0) == joined
    assert ours.pairs.tolist() == theirs.pairs.tolist()
    assert ours.gamma == pytest.approx(theirs.gamma)


# --- files


def mapped(site: Path, **options: Any) -> MapRun:
    return map_site(site, MapOptions(**({"cell_m": 0.5, "diagnostics": True} | options)))


@pytest.mark.usefixtures("no_sheets")
def test_a_floor_gets_its_plots(make_site: MakeSite, monkeypatch: pytest.MonkeyPatch) -> None:
    use(monkeypatch, precision=True)
    run = mapped(make_site())
    surface = run.floors[0].surface
    assert surface is not None
    assert isinstance(surface.estimate, PrecisionCells)
    for name in DIAGNOSTICS:
        assert (run.out / "ground" / name).stat().st_size > 10_000


@pytest.mark.usefixtures("no_sheets")
def test_the_variogram_says_that_no_fit_is_shown_where_none_is(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    use(monkeypatch, precision=True)
    run = mapped(make_site(), diagnostics=False)
    one = run.floors[0]
    assert one.surface is not None
    page = draw_pages(run.site, run.round, one.evidence, one.surface)[0]
    words = " ".join(text.get_text() for axes in page.figure.axes for text in axes.texts)
    words = " ".join(words.split())
    assert "it is shown at the same pairs only" not in words
    assert "so many readings" in words


@pytest.mark.usefixtures("no_sheets")
def test_the_rulings_and_where_to_measure_next_do_not_hang_on_the_form(
    make_site: MakeSite, make_plan: Any, make_room: Any, make_feature: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    door = make_feature("opening", "LineString", [[6, 2], [6, 3]], id="d1")
    plan = make_plan(
        make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5), door, make_room("C", 12, 0, 15, 5)
    )
    site = make_site(plans={"ground": plan})
    found = []
    for precision in (False, True):
        use(monkeypatch, precision=precision)
        run = mapped(site, diagnostics=False)
        assert run.exit_code == 0
        assert "NaN" not in (run.out / "summary.json").read_text("utf-8")
        found.append(run.floors[0])
    dense, precise = found
    assert dense.surface is not None
    assert precise.surface is not None
    assert isinstance(dense.surface.estimate, DenseCells)
    assert isinstance(precise.surface.estimate, PrecisionCells)
    assert [(one.name, one.room) for one in precise.zones.zones] == [
        (one.name, one.room) for one in dense.zones.zones
    ]
    assert len({one.room for one in dense.zones.zones}) == 3
    for one, other in zip(precise.zones.zones, dense.zones.zones, strict=True):
        assert one.geometry.symmetric_difference(other.geometry).area < 1e-9
        assert one.probability == pytest.approx(other.probability, abs=1e-3)
    assert len(precise.resample.places) > 2
    assert [(one.room, one.x, one.y) for one in precise.resample.places] == [
        (one.room, one.x, one.y) for one in dense.resample.places
    ]
