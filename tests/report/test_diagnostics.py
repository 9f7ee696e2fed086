"""Diagnostic plots: the numbers behind them are those of the surface, and the files are made."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from shapely import LineString, box

from hgmap.batch import SHEETS, MapOptions, MapRun, map_site
from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.errors import EstimateError
from hgmap.field.dense_cells import DenseCells
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.idw import idw
from hgmap.field.kriging import krige
from hgmap.field.surface import Surface
from hgmap.field.validate import scores_of
from hgmap.field.variogram import Variogram, empirical_variogram
from hgmap.report import diagnostic_drive as drive
from hgmap.report import diagnostic_numbers as numbers
from hgmap.report.diagnostics import DIAGNOSTICS, draw_pages
from hgmap.site.building import Floor, Opening, Room
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

Floats = NDArray[np.float64]
MakeSite = Callable[..., Path]

APART = Floor("g", "Ground", (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 12, 5))))
JOINED = replace(APART, openings=(Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b")),))
LEVEL = ActionLevel("invented", 1.0, "µg/m³", "air", 1.0, "", "", "", "stated", (), "", None)
GIVEN = {"nugget": 0.05, "sill": 0.8, "range_m": 6.0, "walls": False}
GIVEN_VARIOGRAM = Variogram("exponential", 0.05, 0.8, 6.0)


def evidence_of(
    n: int = 14, floor: Floor = JOINED, qualifiers: dict[int, Any] | None = None
) -> FloorEvidence:
    """Readings R0, R1, ... on an invented floor; ``qualifiers`` make some of them intervals."""
    random = np.random.default_rng(3)
    xy = random.uniform((0.2, 0.2), (11.8, 4.8), (n, 2))
    value = np.exp(0.2 * xy[:, 0] + random.normal(0, 0.3, n))
    items = []
    for k in range(n):
        room = "a" if xy[k, 0] < 6 else "b"
        reading = Reading(
            f"R{k}", "first", "g", room, float(xy[k, 0]), float(xy[k, 1]), 1.2, None,
            float(value[k]), "µg/m³", (qualifiers or {}).get(k, ""), "", float(value[k]), "band",
            "given", f"row {k}",
        )  # fmt: skip
        items.append(Evidence(reading, "used", False))
    return FloorEvidence(floor, "first", "band", LEVEL, tuple(items), xy, value)


def surface_of(evidence: FloorEvidence, **settings: Any) -> Surface:
    return estimate_surface(
        evidence.floor, evidence.xy, evidence.concentration,
        EstimateSettings(**({"cell_m": 0.5} | settings)), room=evidence.room,
        bounds=evidence.bounds,
    )  # fmt: skip


def parts_of(surface: Surface) -> Any:
    assert isinstance(surface.estimate, DenseCells)
    return surface.estimate.mixture


# --- which readings stand at a place


def test_each_place_has_the_names_of_its_readings_and_an_interval_stands_alone() -> None:
    evidence = evidence_of(8, qualifiers={5: "<"})
    xy = evidence.xy.copy()
    xy[1], xy[2], xy[5] = xy[0], xy[0] + (0.001, 0.0), xy[0]
    xy[4] = xy[3]
    items = tuple(
        replace(one, reading=one.reading._replace(room="a" if x < 6 else "b"))
        for one, x in zip(evidence.items, xy[:, 0], strict=True)
    )
    evidence = replace(evidence, xy=xy, items=items)
    found = numbers.place_names(surface_of(evidence), evidence)
    assert found.names == ("R0 (×3)", "R3, R4", "R5", "R6", "R7")
    assert found.interval.tolist() == [False, False, True, False, False]
    merged = numbers.place_names(surface_of(evidence, method="idw"), evidence)
    assert merged.names == ("R0 (×4)", "R3, R4", "R6", "R7")
    assert merged.interval.tolist() == [True, False, False, False]


def test_a_surface_of_other_readings_gets_no_names() -> None:
    found = numbers.place_names(surface_of(evidence_of(9)), evidence_of(8))
    assert set(found.names) == {""}


# --- variogram


@pytest.mark.parametrize("settings", [{}, {"walls": False}, {"method": "idw"}])
def test_the_binned_pairs_are_the_empirical_variogram(settings: dict[str, Any]) -> None:
    surface = surface_of(evidence_of(), **settings)
    found = numbers.pair_bins(surface, np.zeros(14, dtype=bool))
    diameter = max(np.hypot(*(a - b)) for a, b in combinations(surface.xy, 2))
    in_reach = sum(np.hypot(*(a - b)) <= diameter / 2 for a, b in combinations(surface.xy, 2))
    expected = empirical_variogram(
        surface.xy, surface.values, bins=max(3, in_reach // 15), cutoff_m=diameter / 2
    )
    assert found.pairs.sum() == in_reach
    assert found.pairs.tolist() == expected.pairs.tolist()
    assert found.distance_m == pytest.approx(expected.distance_m)
    assert found.gamma == pytest.approx(expected.gamma)
    assert (found.implied is None) == (settings.get("method") == "idw")
    assert found.intervals == found.apart == 0


def test_with_one_given_model_the_pairs_expect_what_its_line_says() -> None:
    surface = surface_of(evidence_of(), **GIVEN)
    i, j = np.triu_indices(14, 1)
    h = np.hypot(*(surface.xy[i] - surface.xy[j]).T)
    (implied,) = numbers.implied_semivariances(parts_of(surface), i, j)
    assert implied == pytest.approx(GIVEN_VARIOGRAM.gamma(h))
    assert numbers.fitted_line(surface, h) == pytest.approx(GIVEN_VARIOGRAM.gamma(h))


def test_through_the_doors_there_is_no_line_and_the_expected_is_the_mean_by_weight() -> None:
    surface = surface_of(evidence_of())
    assert surface.settings["walls"]
    assert numbers.fitted_line(surface, np.array([1.0])) is None
    mixture, found = parts_of(surface), numbers.pair_bins(surface, np.zeros(14, dtype=bool))
    assert found.implied is not None
    assert found.low is not None
    assert found.high is not None
    # the covariance of the readings, put together anew: half the variance of a difference
    covariance = sum(
        one.weight * one.sill * (one.candidate.gram + one.share * np.diag(mixture.error_weight))
        for one in mixture.parts
    )
    i, j = np.triu_indices(14, 1)
    half = (covariance[i, i] + covariance[j, j]) / 2 - covariance[i, j]
    near = np.hypot(*(surface.xy[i] - surface.xy[j]).T)
    reach = near.max() / 2
    used = near <= reach
    assert np.average(found.implied, weights=found.pairs) == pytest.approx(half[used].mean())
    assert (found.low < found.implied).all()
    assert (found.low < found.high).all()


def test_draws_vary_as_the_candidates_expect() -> None:
    surface = surface_of(evidence_of(), **GIVEN)
    mixture, which = parts_of(surface), np.arange(3, 14)
    drawn = numbers.drawn_readings(mixture, which, seed=1)
    assert drawn.shape == (11, numbers.DRAWS)
    i, j = np.triu_indices(11, 1)
    place = np.arange(len(i)) % 4
    shown = numbers.drawn_semivariances(drawn, i, j, place)
    by_hand = [((drawn[i] - drawn[j]) ** 2)[place == one].mean(axis=0) / 2 for one in range(4)]
    assert shown == pytest.approx(np.array(by_hand))
    (implied,) = numbers.implied_semivariances(mixture, which[i], which[j])
    expected = np.array([implied[place == one].mean() for one in range(4)])
    standard_error = shown.std(axis=1) / np.sqrt(numbers.DRAWS)
    assert (np.abs(shown.mean(axis=1) - expected) < 4 * standard_error).all()


def test_intervals_and_pairs_that_no_opening_joins_are_left_out_and_counted() -> None:
    evidence = evidence_of(16, floor=APART, qualifiers={2: "<", 9: ">"})
    surface = surface_of(evidence, walls=True)
    interval = numbers.place_names(surface, evidence).interval
    assert interval.tolist() == [k in (2, 9) for k in range(16)]
    assert (interval == ~parts_of(surface).numbers).all()
    found = numbers.pair_bins(surface, interval)
    west = int((surface.xy[~interval, 0] < 6).sum())
    assert found.intervals == 2
    assert found.apart == west * (14 - west) > 0
    assert 0 < found.pairs.sum() <= 14 * 13 // 2 - found.apart


# --- leave-one-out


def test_what_is_left_out_is_predicted_from_the_others_alone() -> None:
    surface = surface_of(evidence_of(), **GIVEN)
    found = numbers.left_out(surface)
    assert found.observed.tolist() == surface.values.tolist()
    for k in range(14):
        others = np.arange(14) != k
        mean, variance = krige(
            surface.xy[others], surface.values[others], surface.xy[[k]], model="exponential",
            nugget=0.05, psill=0.8, range_=6.0, exact=False,
        )  # fmt: skip
        assert found.predicted[k] == pytest.approx(mean[0])
        assert found.sd is not None
        assert found.sd[k] == pytest.approx(np.sqrt(variance[0]))


def test_what_is_left_out_of_idw_has_no_interval() -> None:
    surface = surface_of(evidence_of(), method="idw", walls=False)
    found = numbers.left_out(surface)
    assert found.sd is None
    assert found.half_width is None
    assert not found.outside.any()
    for k in range(14):
        others = np.arange(14) != k
        (alone,) = idw(surface.xy[others], surface.values[others], surface.xy[[k]])
        assert found.predicted[k] == pytest.approx(alone)


def test_the_marked_ones_are_those_that_the_coverage_counts() -> None:
    evidence = evidence_of(30, qualifiers={4: "<"})
    evidence.concentration[7] *= 40.0
    surface = surface_of(evidence)
    found, scores = numbers.left_out(surface), surface.scores
    assert 4 not in found.which
    assert len(found.which) == scores.n == 29
    assert 7 in found.which[found.outside]
    assert scores.coverage_95 == pytest.approx(1.0 - found.outside.mean())
    assert scores.rmse == pytest.approx(np.sqrt(np.mean((found.observed - found.predicted) ** 2)))


def test_scores_keep_the_sd_and_the_position_of_what_they_score() -> None:
    scores = scores_of(np.array([0.1, np.nan, -0.3]), np.array([0.2, 0.3, 0.4]))
    assert scores.which is not None
    assert scores.sd is not None
    assert scores.which.tolist() == [0, 2]
    assert scores.sd.tolist() == [0.2, 0.4]
    nothing = scores_of(np.array([np.nan]), np.array([np.nan]))
    assert nothing.which is not None
    assert not len(nothing.which)


# --- weights


@pytest.mark.parametrize("settings", [{}, {"walls": False}, {"walls": True, "floor": APART}])
def test_the_weights_make_the_estimate_of_every_cell(settings: dict[str, Any]) -> None:
    floor = settings.pop("floor", JOINED) if "floor" in settings else JOINED
    surface = surface_of(evidence_of(floor=floor), **settings)
    assert isinstance(surface.estimate, DenseCells)
    cells, weights = drive.mixture_weights(surface.estimate)
    assert len(cells) == len(surface.estimate.mean)
    assert weights @ surface.values == pytest.approx(surface.estimate.mean[cells])
    assert weights.sum(axis=1) == pytest.approx(np.ones(len(cells)))
    found = drive.drive(surface, JOINED)
    assert found == pytest.approx(np.abs(weights).mean(axis=0))


def test_many_cells_are_sampled_evenly(monkeypatch: pytest.MonkeyPatch) -> None:
    surface = surface_of(evidence_of())
    assert isinstance(surface.estimate, DenseCells)
    whole = drive.drive(surface, JOINED)
    monkeypatch.setattr(drive, "MOST_CELLS_WEIGHED", 100)
    cells, _ = drive.mixture_weights(surface.estimate)
    assert 50 <= len(cells) <= 100
    assert drive.drive(surface, JOINED) == pytest.approx(whole, rel=0.3)


def test_the_weights_of_one_variogram_are_those_of_ordinary_kriging() -> None:
    surface = surface_of(evidence_of())
    targets = np.array([[1.0, 1.0], [6.5, 2.0], [11.0, 4.4]])
    mean, _ = krige(surface.xy, surface.values, targets, model="exponential", nugget=0.05,
                    psill=0.8, range_=6.0, exact=False)  # fmt: skip
    weights = drive.kriging_weights(surface.xy, targets, GIVEN_VARIOGRAM)
    assert weights @ surface.values == pytest.approx(mean)
    single = replace(surface, estimate=None, variogram=GIVEN_VARIOGRAM)
    everywhere = drive.kriging_weights(surface.xy, surface.raster.points(), GIVEN_VARIOGRAM)
    assert drive.drive(single, JOINED) == pytest.approx(np.abs(everywhere).mean(axis=0))
    assert drive.candidate_weights(single) is None


@pytest.mark.parametrize("power", [1.0, 2.0, 3.5])
def test_the_weights_of_idw_are_its_own(power: float) -> None:
    surface = surface_of(evidence_of(), method="idw", power=power, walls=False)
    targets = np.vstack([surface.raster.points(), surface.xy[:3]])
    weights = drive.idw_weights(cdist(targets, surface.xy), power)
    assert weights @ surface.values == pytest.approx(
        idw(surface.xy, surface.values, targets, power=power)
    )
    assert weights[-3:, :3] == pytest.approx(np.eye(3))
    found = drive.drive(surface, JOINED)
    assert found is not None
    assert found.sum() == pytest.approx(1.0)


def test_the_weights_of_the_candidates_add_up_over_wall_fluxes() -> None:
    surface = surface_of(evidence_of())
    found = drive.candidate_weights(surface)
    assert found is not None
    assert found.weight.sum() == pytest.approx(1.0)
    assert sum(found.flux.values()) == pytest.approx(1.0)
    assert set(found.flux) <= {0.0, 0.1, 1.0}
    pairs = list(zip(found.range_m, found.nugget_share, strict=True))
    assert len(set(pairs)) == len(pairs) < len(parts_of(surface).parts)
    one = pairs[0]
    assert found.weight[0] == pytest.approx(
        sum(p.weight for p in parts_of(surface).parts if (p.candidate.range_m, p.share) == one)
    )
    straight = drive.candidate_weights(surface_of(evidence_of(), walls=False))
    assert straight is not None
    assert straight.flux == {}


# --- files


def mapped(site: Path, **options: Any) -> MapRun:
    return map_site(site, MapOptions(cell_m=0.5, **({"diagnostics": True} | options)))


def files_of(run: MapRun, floor: str = "ground") -> list[str]:
    folder = run.out / floor
    return sorted(one.name for one in folder.iterdir()) if folder.is_dir() else []


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("options", [{}, {"walls": False}, {"method": "idw"}])
def test_a_floor_with_a_surface_gets_its_plots(make_site: MakeSite, options: Any) -> None:
    run = mapped(make_site(), **options)
    assert run.exit_code == 0
    assert files_of(run) == sorted(DIAGNOSTICS)
    pdf = (run.out / "ground" / "diagnostics.pdf").read_bytes()
    assert len(re.findall(rb"/Type /Page\b", pdf)) == 3
    for name in DIAGNOSTICS[1:]:
        assert (run.out / "ground" / name).read_bytes().startswith(b"\x89PNG")
    summary = json.loads((run.out / "summary.json").read_text("utf-8"))
    assert summary["floors"][0]["files"] == [f"ground/{name}" for name in DIAGNOSTICS]


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("kind", ["equal", "non-detects", "three"])
@pytest.mark.parametrize("options", [{}, {"method": "idw"}])
def test_odd_readings_are_plotted_without_a_warning(
    make_site: MakeSite, make_rows: Any, make_table: Any, kind: str, options: Any
) -> None:
    rows = [one.split(",") for one in make_rows(15)]
    for row in rows:
        row[7] = {"equal": "2", "non-detects": "0.05"}.get(kind, row[7])
        row[9] = "<" if kind == "non-detects" else ""
    rows = rows[::5] if kind == "three" else rows
    table = make_table([",".join(row) for row in rows])
    run = mapped(make_site(readings={"first.csv": table}), **options)
    assert run.floors[0].surface is not None
    assert files_of(run) == sorted(DIAGNOSTICS)


@pytest.mark.usefixtures("no_sheets")
def test_a_floor_without_a_surface_makes_none_and_old_plots_are_put_out_of_date(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    site = make_site(readings={"first.csv": make_table(make_rows(2))})
    run = mapped(site)
    assert run.floors[0].surface is None
    assert files_of(run) == []
    (run.out / "ground").mkdir()
    for name in DIAGNOSTICS:
        (run.out / "ground" / name).write_text("old")
    assert files_of(mapped(site)) == sorted(f"out-of-date-{name}" for name in DIAGNOSTICS)


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("why", ["not asked for", "floor failed"])
def test_plots_of_an_earlier_run_never_lie_beside_a_newer_map(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    site = make_site()
    out = site / "results" / "first" / "ground"
    out.mkdir(parents=True)
    for name in (*DIAGNOSTICS, *SHEETS):
        (out / name).write_text("old")
    if why == "floor failed":

        def fail(*_: object) -> None:
            raise EstimateError("spoilt", where="here")

        monkeypatch.setattr("hgmap.batch.write_diagnostics", fail)
    run = mapped(site, diagnostics=why == "floor failed")
    lost = DIAGNOSTICS if why == "not asked for" else (*DIAGNOSTICS, *SHEETS)
    kept = SHEETS if why == "not asked for" else ()
    assert files_of(run) == sorted([*kept, *(f"out-of-date-{name}" for name in lost)])


@pytest.mark.usefixtures("no_sheets")
def test_the_command_line_makes_them_when_asked_and_only_then(
    make_site: MakeSite, run: Callable[..., Any]
) -> None:
    site = make_site()
    assert "--diagnostics" in run("map", "--help").out
    assert run("map", site, "--cell", "0.5").code == 0
    assert not (site / "results" / "first" / "ground").exists()
    assert run("map", site, "--cell", "0.5", "--diagnostics").code == 0
    made = sorted(one.name for one in (site / "results" / "first" / "ground").iterdir())
    assert made == sorted(DIAGNOSTICS)


# --- pages


@pytest.mark.usefixtures("no_sheets")
@pytest.mark.parametrize("options", [{}, {"walls": False}, {"method": "idw"}])
def test_no_text_covers_another_or_leaves_the_page(
    make_site: MakeSite, make_rows: Any, make_table: Any, options: Any
) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    rows = [one.replace("R", "R$x_$", 1) for one in make_rows(15)]
    rows[4] = rows[4].replace("R$x_$5", "a reading with a rather long name")
    site = make_site(readings={"first.csv": make_table(rows)})
    run = mapped(site, diagnostics=False, **options)
    one = run.floors[0]
    assert one.surface is not None
    for page in draw_pages(run.site, run.round, one.evidence, one.surface):
        page.figure.set_dpi(288)  # at 72 dots per inch letters are rounded to whole dots
        FigureCanvasAgg(page.figure).draw()
        texts = [
            text
            for axes in page.figure.axes
            for text in (
                *axes.texts,
                *((axes.xaxis.label, axes.yaxis.label, *axes.get_xticklabels(),
                   *axes.get_yticklabels()) if axes.axison else ()),
            )
            if text.get_text().strip()
        ]  # fmt: skip
        boxes = [text.get_window_extent() for text in texts]
        assert len(boxes) > 8
        for where in boxes:
            assert where.x0 > 0
            assert where.y0 > 0
            assert where.x1 < page.figure.bbox.x1
            assert where.y1 < page.figure.bbox.y1
        for (a, where), (b, other) in combinations(zip(texts, boxes, strict=True), 2):
            wide = min(where.x1, other.x1) - max(where.x0, other.x0)
            high = min(where.y1, other.y1) - max(where.y0, other.y0)
            assert wide <= 2.0 or high <= 2.0, (a.get_text(), b.get_text())


@pytest.mark.usefixtures("no_sheets")
def test_every_page_says_where_it_is_from_and_what_it_cannot_tell(make_site: MakeSite) -> None:
    run = mapped(make_site(), diagnostics=False)
    one = run.floors[0]
    assert one.surface is not None
    for page in draw_pages(run.site, run.round, one.evidence, one.surface):
        words = " ".join(text.get_text() for axes in page.figure.axes for text in axes.texts)
        for wanted in ("Test building (invented)", "ground", "1 March 2026", run.band,
                       "It can tell", "cannot tell", "INVENTED DATA",
                       "Local codes and licensed practice decide"):  # fmt: skip
            assert wanted in words


def test_idw_through_doors_weighs_readings_by_the_walk_to_them() -> None:
    surface = surface_of(evidence_of(), method="idw", walls=True)
    straight = surface_of(evidence_of(), method="idw", walls=False)
    found, other = drive.drive(surface, JOINED), drive.drive(straight, JOINED)
    assert found is not None
    assert other is not None
    assert found.sum() == pytest.approx(other.sum()) == pytest.approx(1.0)
    assert np.abs(found - other).max() > 0.005
