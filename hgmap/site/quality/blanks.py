"""Field blanks and background readings: what they show, and what the readings owe to them."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from hgmap.site.quality.detection import DetectionLimit, detection_limits
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.quality.places import Method
from hgmap.site.reading import Reading

BlankKind = Literal["field blank", "background"]

FEWEST_BLANKS: Final = 3
"""Fewer give no limit of detection: NIOSH 6009 (issue 2, 1994) asks for three media blanks."""

FEW_BLANKS: Final = 7
"""Fewer give a rough one only: common practice, no source."""

LIMIT_SOURCE: Final = (
    "mean + 3 standard deviations of the blanks: IUPAC, Compendium of Chemical Terminology, "
    "limit of detection, doi 10.1351/goldbook.L03540; its factor k taken as 3, common practice"
)

METHOD_OF: Final[dict[BlankKind, Method]] = {"field blank": "laboratory", "background": "direct"}
"""Field blanks are for laboratory samples, background is read with the direct-reading analyser."""


@dataclass(frozen=True, slots=True)
class BlankSummary:
    """The blanks, or the background, of one round.

    Attributes
    ----------
    kind : {"field blank", "background"}
    readings : tuple of str
        Ids of those that are usable.
    non_detects : int
        How many of them; they enter ``mean`` and ``sd`` as 0.
    mean, sd, highest : float or None
        In the computing unit; ``sd`` needs two. ``highest`` is that of the numbers.
    error : float or None
        Standard deviation of what is taken off a reading with ``mean``: see
        :func:`hgmap.site.quality.subtraction.subtract`.
    limit_of_detection : float or None
        From the blanks themselves; only for three field blanks or more that were detected.
    limit : float or None
        The detection limit that they are held against.
    above : tuple of str
        Ids of those above the detection limit of their method; where none is known, of the field
        blanks that hold any.
    texts : tuple of str
        All of it in words.
    """

    kind: BlankKind
    round: str
    readings: tuple[str, ...]
    non_detects: int
    mean: float | None
    sd: float | None
    highest: float | None
    error: float | None
    limit_of_detection: float | None
    limit: float | None
    above: tuple[str, ...]
    texts: tuple[str, ...]


def limit_of_detection(values: Sequence[float]) -> float | None:
    """Return ``mean + 3 s`` of blanks; None for fewer than three.

    IUPAC, Compendium of Chemical Terminology, doi 10.1351/goldbook.L03540 (its factor k taken
    as 3).

    Examples
    --------
    >>> limit_of_detection([1.0, 2.0, 3.0])
    5.0
    """
    if len(values) < FEWEST_BLANKS:
        return None
    return statistics.fmean(values) + 3.0 * statistics.stdev(values)


def blank_summary(
    readings: Iterable[Reading], kind: BlankKind, round_name: str, unit: str
) -> BlankSummary:
    """Summarise the blanks, or the background, of a round.

    Parameters
    ----------
    readings : iterable of Reading
        Of any round and kind; those of another medium than the site's are left out.
    kind : {"field blank", "background"}
    round_name : str
    unit : str
        The computing unit, for the words.
    """
    of_round = [one for one in readings if one.round == round_name and not one.medium]
    blanks = sorted(
        (one for one in of_round
         if one.kind == kind and one.usable and one.concentration is not None
         and one.qualifier in ("", "~", "<")),
        key=lambda one: (one.id, one.where),
    )  # fmt: skip
    numbers = [one.concentration or 0.0 for one in blanks if one.qualifier != "<"]
    bounds = [one.concentration or 0.0 for one in blanks if one.qualifier == "<"]
    values = [*numbers, *(0.0 for _ in bounds)]
    n = len(values)
    mean = math.fsum(values) / n if n else None
    sd = statistics.stdev(values) if n > 1 else None
    limit = _limit(of_round, METHOD_OF[kind], bounds)
    above = tuple(
        one.id for one in blanks
        if one.qualifier != "<" and (one.concentration or 0.0) > _clean(kind, limit)
    )  # fmt: skip
    own = limit_of_detection(numbers) if kind == "field blank" else None
    texts = (
        _counts(kind, n, numbers, bounds, mean, sd, unit),
        *_against(kind, above, numbers, limit, unit),
        *_own_limit(kind, own, numbers, unit),
    )
    return BlankSummary(
        kind=kind,
        round=round_name,
        readings=tuple(one.id for one in blanks),
        non_detects=len(bounds),
        mean=mean,
        sd=sd,
        highest=max(numbers, default=None),
        error=_error(numbers, bounds, mean, sd),
        limit_of_detection=own,
        limit=limit,
        above=above,
        texts=texts,
    )


def _limit(readings: Sequence[Reading], method: Method, bounds: Sequence[float]) -> float | None:
    limits: tuple[DetectionLimit, ...] = detection_limits(
        one for one in readings if one.kind not in ("field blank", "background")
    )
    # the lowest: a blank that is seen at all is what matters
    return min(
        (*bounds, *(one.concentration for one in limits if one.method == method)), default=None
    )


def _clean(kind: BlankKind, limit: float | None) -> float:
    """Return what a blank may hold: its detection limit; nothing, where a field blank has none."""
    if limit is not None:
        return limit
    return 0.0 if kind == "field blank" else math.inf


def _error(
    numbers: Sequence[float], bounds: Sequence[float], mean: float | None, sd: float | None
) -> float | None:
    """Return the standard deviation of one more blank about what is taken off for it.

    One blank says nothing of scatter: all of it is its error. A non-detect that counts as 0 may
    lie anywhere up to its limit L, which adds the root mean square of that, L / sqrt(3).
    """
    if mean is None:
        return None
    unseen = math.fsum(bounds) / (len(numbers) + len(bounds)) / math.sqrt(3.0)
    return math.hypot(mean if sd is None else sd, unseen)


def _counts(
    kind: str,
    n: int,
    numbers: Sequence[float],
    bounds: Sequence[float],
    mean: float | None,
    sd: float | None,
    unit: str,
) -> str:
    if not n:
        return f"no {kind} reading" if kind == "background" else "no field blank"
    name = counted(n, "field blank") if kind == "field blank" else f"background: {n} of them"
    if kind == "background":
        name = counted(n, "background reading")
    if not numbers:
        return f"{name}, all below {figure(max(bounds))} {unit}"
    spread = "" if sd is None else f", standard deviation {figure(sd)}"
    zeros = f"; {counted(len(bounds), 'non-detect')} counted as 0" if bounds else ""
    return f"{name}: mean {figure(mean or 0.0)} {unit}{spread} (n = {n}){zeros}"


def _against(
    kind: BlankKind,
    above: Sequence[str],
    numbers: Sequence[float],
    limit: float | None,
    unit: str,
) -> list[str]:
    if above and limit is not None:
        todo = (
            "mercury reached the samplers on the way, or the laboratory: ask it, and sample again"
            if kind == "field blank"
            else "the air outdoors or in the unaffected room holds mercury, or the analyser reads "
            "high: check it on zero air"
        )
        return [f"{named(list(above))} above the detection limit of {figure(limit)} {unit}: {todo}"]
    if above:
        return [
            f"{named(list(above))} not empty, and no detection limit is known to hold them "
            "against: ask the laboratory for its limit"
        ]
    if numbers and limit is None:
        return ["no detection limit is known to hold them against"]
    return []


def _own_limit(
    kind: BlankKind, own: float | None, numbers: Sequence[float], unit: str
) -> list[str]:
    if own is not None:
        rough = "; few blanks: a rough figure" if len(numbers) < FEW_BLANKS else ""
        return [
            f"limit of detection from {len(numbers)} blanks {figure(own)} {unit} "
            f"({LIMIT_SOURCE}){rough}"
        ]
    if kind == "field blank" and 0 < len(numbers) < FEWEST_BLANKS:
        few = counted(len(numbers), "blank that holds mercury", "blanks that hold mercury")
        return [f"no limit of detection from {few}: three give one"]
    return []


def compare_background(
    readings: Iterable[Reading], background: BlankSummary, unit: str
) -> tuple[bool, str] | None:
    """Hold the direct readings of a round against its background.

    Returns
    -------
    (bool, str) or None
        Whether the background is not below the median of the readings, and the comparison in
        words; None where either is missing. Non-detects count at their limits.
    """
    indoors = [
        one.concentration
        for one in readings
        if one.round == background.round and one.usable and one.concentration is not None
        and not one.medium and one.kind in ("reading", "duplicate") and one.qualifier != ">"
    ]  # fmt: skip
    if background.mean is None or not background.mean or not indoors:
        return None
    middle = statistics.median(indoors)
    text = (
        f"median of {counted(len(indoors), 'indoor reading')} {figure(middle)} {unit} against a "
        f"background of {figure(background.mean)} ({figure(middle / background.mean)} times it)"
    )
    if background.mean < middle:
        return False, text
    return True, f"{text}: the background is not below it; was it taken away from the source?"
