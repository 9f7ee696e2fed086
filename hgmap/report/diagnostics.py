"""Diagnostic plots of one floor's surface: variogram, leave-one-out, and what carries weight."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.decide.model import FloorEvidence
from hgmap.field.surface import Surface
from hgmap.field.variogram import AveragedFit
from hgmap.report import diagnostic_numbers as numbers
from hgmap.report.diagnostic_page import (
    MARGIN_MM,
    SETTINGS,
    TOP_MM,
    WIDTH_MM,
    Page,
    boxes,
    named_words,
    pdf_of,
    png_of,
)
from hgmap.report.diagnostic_scales import limits
from hgmap.report.diagnostic_weights import draw_weights
from hgmap.report.palette import INK, PAPER, RULE, SOFT, ZONE_LOOKS
from hgmap.report.words import count, metres, number, per_cent, published_per_computed
from hgmap.site.files import write_bytes
from hgmap.site.model import Round, Site

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

DIAGNOSTICS: Final = ("diagnostics.pdf", "variogram.png", "leave-one-out.png", "weights.png")

FIT: Final = ZONE_LOOKS["resample"].pen.colour
OUTSIDE: Final = ZONE_LOOKS["remediate"].pen.colour
MOST_LABELLED: Final = 20

_LEFT: Final = 34.0
_COLUMN: Final = 212.0
_COLUMN_WIDE: Final = WIDTH_MM - MARGIN_MM - _COLUMN
_BOTTOM: Final = 42.0

VARIOGRAM_TELLS: Final = (
    "It can tell whether the differences that the fit expects grow with distance as those of the "
    "readings do; it cannot tell whether a reading is right, nor what happens closer together than "
    "the closest pair, and few pairs, which share readings, scatter widely round a good fit."
)
LEFT_OUT_TELLS: Final = (
    "It can tell whether neighbours predict each reading as well as the map claims; it cannot tell "
    "how good the map is where no reading stands, nor find an error that all readings share."
)


def write_diagnostics(
    site: Site, round_: Round, evidence: FloorEvidence, surface: Surface, folder: Path
) -> list[str]:
    """Write the diagnostic plots of a floor: a PDF of all, and a PNG of each.

    Parameters
    ----------
    site : Site
    round_ : Round
    evidence : FloorEvidence
        What the surface was made from.
    surface : Surface
    folder : Path
        Of the floor's sheets.

    Returns
    -------
    list of str
        Names of the files.

    Raises
    ------
    HgmapError
        If the folder cannot be written.
    """
    import matplotlib

    with matplotlib.rc_context(SETTINGS):
        pages = draw_pages(site, round_, evidence, surface)
        write_bytes(folder / DIAGNOSTICS[0], pdf_of(pages, site.title_block.prepared_by))
        for name, page in zip(DIAGNOSTICS[1:], pages, strict=True):
            write_bytes(folder / name, png_of(page))
    return list(DIAGNOSTICS)


def draw_pages(
    site: Site, round_: Round, evidence: FloorEvidence, surface: Surface
) -> tuple[Page, Page, Page]:
    """Return the three pages: variogram, leave-one-out, weights."""
    places = numbers.place_names(surface, evidence)
    variogram = Page(site, round_, evidence, "Variogram")
    _variogram(variogram, surface, evidence, places)
    scores = Page(site, round_, evidence, "Each reading, left out and predicted from the others")
    _left_out(scores, surface, evidence, places)
    weighed = surface.estimate is not None
    title = "Weights of ranges, nuggets and readings" if weighed else "Weights of the readings"
    weights = Page(site, round_, evidence, title)
    draw_weights(weights, surface, evidence, places)
    return variogram, scores, weights


def _variogram(
    page: Page, surface: Surface, evidence: FloorEvidence, places: numbers.PlaceNames
) -> None:
    found = numbers.pair_bins(surface, places.interval)
    factor = 1.0 if surface.scale == "log" else published_per_computed(evidence.level) ** 2
    unit = "no unit" if surface.scale == "log" else f"({evidence.level.unit})²"
    what = "ln concentration" if surface.scale == "log" else "concentration"
    axes = page.axes(_LEFT, _BOTTOM, 166.0, TOP_MM - _BOTTOM)
    furthest = 1.08 * float(found.distance_m.max(initial=0.0)) or 1.0
    h = np.linspace(furthest / 400.0, furthest, 400)
    line = numbers.fitted_line(surface, h)
    drawn = [one for one in (found.gamma, found.high, line) if one is not None]
    highest = 1.12 * factor * float(np.concatenate(drawn).max(initial=0.0)) or 1.0
    page.scale(axes, "x", 0.0, furthest, "straight-line distance between two readings (m)")
    lowest = -0.03 * highest if factor * found.gamma.min(initial=highest) < 0.03 * highest else 0.0
    page.scale(axes, "y", lowest, highest, f"semivariance of {what} ({unit})")
    y, wide = TOP_MM - 2.0, _COLUMN_WIDE
    if len(found.pairs):
        size = 16.0 + 180.0 * found.pairs / found.pairs.max()
        axes.scatter(found.distance_m, factor * found.gamma, s=size, facecolor=RULE, edgecolor=INK,
                     linewidth=1.0, zorder=2)  # fmt: skip
        y = page.key(_COLUMN, y, wide, "readings: mean of half the squared difference; the larger "
                     "the disc, the more pairs, whose number stands beside it", marker="o",
                     markersize=9.0, markerfacecolor=RULE, markeredgecolor=INK)  # fmt: skip
    if line is not None:
        axes.plot(h, factor * line, color=INK, linewidth=1.4, zorder=3)
        y = page.key(_COLUMN, y, wide, "averaged fit" if isinstance(surface.variogram, AveragedFit)
                     else "fit", linestyle="-", colour=INK, width_pt=1.4)  # fmt: skip
    if found.implied is not None and found.low is not None and found.high is not None:
        spans = factor * np.abs(np.stack([found.low, found.high]) - found.implied)
        axes.errorbar(found.distance_m, factor * found.implied, yerr=spans, fmt="D", color=FIT,
                      markersize=5.0, elinewidth=1.2, zorder=4)  # fmt: skip
        y = page.key(_COLUMN, y, wide, "what the weighed candidates expect of the same pairs; bar: "
                     "where 8 of 10 surveys of such a field would find it", marker="D",
                     markersize=5.0, colour=FIT)  # fmt: skip
    _count_pairs(page, axes, found, factor, line, h)
    for text in _variogram_words(surface, evidence, found, factor):
        y = page.paragraph(_COLUMN, y - 1.5, wide, text)
    page.paragraph(MARGIN_MM, 20.0, WIDTH_MM - 2.0 * MARGIN_MM, VARIOGRAM_TELLS)


def _count_pairs(page: Page, axes: Axes, found: numbers.PairBins, factor: float,
                 line: Floats | None, h: Floats) -> None:  # fmt: skip
    if not len(found.pairs):
        axes.text(0.5, 0.5, "no two readings that are numbers to compare", ha="center",
                  transform=axes.transAxes, color=SOFT)  # fmt: skip
        return
    points = np.column_stack([found.distance_m, factor * found.gamma])
    radius = np.sqrt(16.0 + 180.0 * found.pairs / found.pairs.max()) / 2.0
    marks = boxes(axes, points, radius)
    if found.low is not None and found.high is not None:
        low, high = (np.column_stack([found.distance_m, factor * one])
                     for one in (found.low, found.high))  # fmt: skip
        bars = np.hstack([boxes(axes, low, 4.0)[:, :2], boxes(axes, high, 4.0)[:, 2:]])
        marks = np.vstack([marks, bars])
    curves = [] if line is None else [shapely.LineString(np.column_stack([h, factor * line]))]
    page.label(axes, points, [str(one) for one in found.pairs], gap_pt=radius + 1.5, marks=marks,
               lines=curves)  # fmt: skip


def _variogram_words(
    surface: Surface, evidence: FloorEvidence, found: numbers.PairBins, factor: float
) -> list[str]:
    fit, words = surface.variogram, []
    if fit is None:
        words.append("Inverse distance weighting fits no variogram: the readings stand alone here.")
    else:
        unit = "" if surface.scale == "log" else f" ({evidence.level.unit})²"
        given = {"fitted": "weighed by the readings" if isinstance(fit, AveragedFit) else "fitted",
                 "default": "stated, not fitted", "given": "given"}[fit.origin]  # fmt: skip
        words.append(
            f"Fit ({fit.model}; {given}): nugget {number(factor * fit.nugget)}{unit}, partial sill "
            f"{number(factor * fit.psill)}{unit}, range {metres(float(number(fit.range_m)))}."
        )
        if fit.note:
            words.append(f"{fit.note[0].upper()}{fit.note[1:]}.")
        if fit.model == "through doors":
            shown = ("it is shown at the same pairs only" if found.implied is not None
                     else "with so many readings it is not shown")  # fmt: skip
            words.append("Through the doors no function of straight-line distance describes the "
                         f"fit: {shown}.")  # fmt: skip
    if found.intervals:
        words.append(
            f"Left out: {count(found.intervals, 'place')} whose reading is not a number (below its "
            "limit, or saturated)."
        )
    if found.apart:
        words.append(f"Left out: {count(found.apart, 'pair')} between parts of the floor that no "
                     "opening joins.")  # fmt: skip
    return words


def _left_out(
    page: Page, surface: Surface, evidence: FloorEvidence, places: numbers.PlaceNames
) -> None:
    found, log = numbers.left_out(surface), surface.scale == "log"
    factor = published_per_computed(evidence.level)

    def shown(values: Floats) -> Floats:
        return factor * (np.exp(values) if log else values)

    observed, predicted = shown(found.observed), shown(found.predicted)
    half = found.half_width
    low, high = (predicted, predicted) if half is None else (
        shown(found.predicted - half), shown(found.predicted + half))  # fmt: skip
    axes = page.axes(_LEFT, _BOTTOM, 166.0, TOP_MM - _BOTTOM)
    unit = evidence.level.unit
    across = limits(np.concatenate([low, high, observed]), log=log)
    upward = limits(np.concatenate([observed, predicted]), log=log)
    page.scale(axes, "x", *across, f"predicted from the others ({unit})", log=log)
    page.scale(axes, "y", *upward, f"reading ({unit})", log=log)
    ends = (max(across[0], upward[0]), min(across[1], upward[1]))
    y, wide, outside = TOP_MM - 2.0, _COLUMN_WIDE, found.outside
    for which, colour, marker, text in (
        (~outside, INK, "o", "reading" + ("" if half is None else " within its 95 % interval")),
        (outside, OUTSIDE, "s", "reading outside its 95 % interval, with its name"),
    ):
        if not which.any():
            continue
        look: dict[str, Any] = {"marker": marker, "markersize": 5.0, "markerfacecolor": colour,
                                "markeredgecolor": PAPER, "markeredgewidth": 0.6}  # fmt: skip
        if half is not None:
            axes.hlines(observed[which], low[which], high[which], color=colour, linewidth=0.8,
                        alpha=0.55, zorder=2)  # fmt: skip
        axes.plot(predicted[which], observed[which], linestyle="none", zorder=3, **look)
        y = page.key(_COLUMN, y, wide, text, **look)
    if half is not None and len(found.which):
        y = page.key(_COLUMN, y, wide, "95 % interval of the prediction", linestyle="-",
                     colour=INK, width_pt=0.8, alpha=0.55)  # fmt: skip
    if len(found.which):
        axes.plot(ends, ends, color=SOFT, linewidth=1.0, dashes=(5.0, 3.0), zorder=1)
        y = page.key(_COLUMN, y, wide, "reading equal to its prediction", linestyle="-",
                     colour=SOFT, dashes=(5.0, 3.0))  # fmt: skip
    else:
        axes.text(0.5, 0.5, "no reading that is a number is predicted by others", ha="center",
                  transform=axes.transAxes, color=SOFT)  # fmt: skip
    far = np.flatnonzero(outside)
    if half is not None:
        far = far[np.argsort(-np.abs(found.observed - found.predicted)[far] / half[far])]
    far = far[:MOST_LABELLED]
    points = np.column_stack([predicted, observed])
    bars = np.column_stack([low, observed, high, observed])
    named = page.label(
        axes,
        points[far],
        [places.names[found.which[one]] for one in far],
        gap_pt=np.full(len(far), 4.5),
        marks=np.vstack([boxes(axes, points, 3.0), bars]),
        lines=[shapely.LineString([(ends[0],) * 2, (ends[1],) * 2])],
    )
    words = _score_words(surface, evidence, found, places)
    if named < int(outside.sum()):
        words.append(named_words(named, len(far), "furthest outside"))
    for text in words:
        y = page.paragraph(_COLUMN, y - 1.5, wide, text)
    page.paragraph(MARGIN_MM, 20.0, WIDTH_MM - 2.0 * MARGIN_MM, LEFT_OUT_TELLS)


def _score_words(
    surface: Surface, evidence: FloorEvidence, found: numbers.LeftOut, places: numbers.PlaceNames
) -> list[str]:
    scores, log = surface.scores, surface.scale == "log"
    words = []
    if len(found.which):
        words.append(f"{count(scores.n, 'place')} left out in turn (n = {scores.n}).")
        if log:
            words += [
                f"Mean error {number(round(scores.mean_error, 6))} (logarithm): in the geometric "
                f"mean, readings are {number(float(np.exp(scores.mean_error)))} times their "
                "prediction.",
                f"Root mean square error {number(round(scores.rmse, 6))}: a factor of "
                f"{number(float(np.exp(scores.rmse)))} either way.",
            ]
        else:
            factor, unit = published_per_computed(evidence.level), evidence.level.unit
            words += [f"Mean error {number(factor * scores.mean_error)} {unit}.",
                      f"Root mean square error {number(factor * scores.rmse)} {unit}."]  # fmt: skip
        if scores.coverage_95 is not None:
            words.append(f"{per_cent(scores.coverage_95)} of them lie in their 95 % interval.")
    if found.sd is None and len(found.which):
        words.append("Inverse distance weighting has no error model: no interval is drawn.")
    hidden = int(places.interval.sum())
    if hidden and surface.estimate is not None:
        words.append(f"Not scored: {count(hidden, 'place')} whose reading is not a number (below "
                     "its limit, or saturated).")  # fmt: skip
    elif hidden:
        words.append(f"Taken at the value that was written: {count(hidden, 'place')} whose reading "
                     "is not a number.")  # fmt: skip
    alone = len(surface.values) - len(found.which) - (hidden if surface.estimate else 0)
    if alone > 0:
        words.append(f"Predicted by none: {count(alone, 'place')} alone in a part of the floor.")
    return words
