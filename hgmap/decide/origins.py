"""Where the vapour of a floor may come from: places ranked, each with its doubt and its reasons.

First what was read at a source itself, then the peaks of the estimate by the share of the draws
in which the highest air of the floor is there. Without an estimate that can be drawn from, the
readings alone are ranked. It is a hint (:data:`hgmap.decide.origin_model.HINT`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from hgmap.decide.model import FloorEvidence
from hgmap.decide.origin_direct import (
    AirAt,
    Draft,
    item_places,
    saturated_places,
    search_places,
)
from hgmap.decide.origin_draws import Spot, Spread, spread_of
from hgmap.decide.origin_heights import height_ratios
from hgmap.decide.origin_model import Basis, Climb, LikelySource, Origins
from hgmap.decide.origin_peaks import climbs_of, peaks_of, places_to_look
from hgmap.decide.origin_words import Said, floor_cautions, height_hint, place_cautions, reasons_of
from hgmap.field.branch import READING_SD
from hgmap.field.cell_estimate import CellEstimate
from hgmap.field.simulate import DRAWS
from hgmap.field.surface import Surface
from hgmap.site.building import HeightBand

LEAST_SHARE: Final = 0.05
"""A place with less of the draws than this is listed only for a peak of its own."""

LEAST_OWN: Final = 0.8
"""A room that is above all those joined to it in this share of the draws is listed, however low."""

MOST_PLACES: Final = 8
"""Of one floor, beside those that were read at a source itself."""

NOTHING: Final = "nothing to say: no reading stands out"

_BASIS: Final[dict[Basis, int]] = {"search": 0, "item": 1, "estimate": 2, "readings": 3}


@dataclass(frozen=True, slots=True)
class _Field:
    """What the estimate says: the spread of every draft with a place, and what rises to a door."""

    spreads: Sequence[Spread | None] = ()
    climbs: tuple[Climb, ...] = ()


def find_origins(
    evidence: FloorEvidence,
    surface: Surface | None,
    *,
    bands: Sequence[HeightBand] = (),
    draws: int = DRAWS,
    seed: int = 0,
) -> Origins:
    """Rank the places of one floor where its vapour may come from.

    Parameters
    ----------
    evidence : FloorEvidence
    surface : Surface or None
        Of this evidence; without an estimate to draw from the readings alone are ranked.
    bands : sequence of HeightBand
        The site's, to know at which heights nobody breathes.
    draws, seed : int
        Of the conditional simulation; the same seed gives the same answer.

    Returns
    -------
    Origins
        Places read in search of a source and above the level come first (the highest first), then
        items whose bag is above the level, then peaks of the estimate by their share of the draws.
    """
    made = None if surface is None else surface.estimate
    log = surface is None or surface.scale == "log"

    def air_at(room: int, x: float, y: float) -> float | None:
        if made is None:
            return None
        value = made.mean[_cell(made, room, x, y)]
        return _concentration(value, log=log) if np.isfinite(value) else None

    heights = height_ratios(evidence)
    direct = [*search_places(evidence, bands, air_at), *item_places(evidence)]
    quiet = _nothing_stands_out(evidence)
    drafts, seen = list(direct), _Field()
    if made is not None and surface is not None and not quiet:
        drafts, seen = _by_estimate(evidence, made, direct, draws, seed, log=log)
    elif not quiet:
        _add_readings(drafts, evidence)
    said = Said(evidence, heights, seen.climbs, draws if seen.spreads else 0)
    order = _order(drafts, seen)
    sources: list[LikelySource] = []
    for k in _listed(order, drafts, seen):
        spread = seen.spreads[k] if seen.spreads else None
        sources.append(_source(drafts[k], spread, said, len(sources) + 1, air_at, log=log))
    return Origins(
        evidence.floor,
        evidence.level,
        tuple(sources),
        quiet,
        seen.climbs,
        heights,
        floor_cautions(said, sources, quiet, _unreached(evidence, made)),
        said.draws,
    )


def _source(
    one: Draft, spread: Spread | None, said: Said, rank: int, air_at: AirAt, *, log: bool
) -> LikelySource:
    """Put a draft into words, at the middle of what was drawn for it."""
    if spread is not None:
        one.x, one.y = spread.x, spread.y
    room = said.evidence.floor.rooms[one.room]
    return LikelySource(
        rank,
        said.evidence.floor.name,
        room.id,
        room.name,
        None if one.x is None else round(one.x, 3),
        None if one.y is None else round(one.y, 3),
        height_hint(one, said.heights),
        None if spread is None else spread.share,
        None if spread is None else spread.share_in_room,
        None if spread is None else spread.own,
        None if spread is None else spread.radius_m,
        None if one.x is None or one.y is None else air_at(one.room, one.x, one.y),
        tuple(one.readings or said.highest_in(one.room)),
        one.basis,
        reasons_of(one, spread, said, log=log),
        place_cautions(one, said),
    )


def _nothing_stands_out(evidence: FloorEvidence) -> str:
    """Say why the air of the floor says nothing: no reading, or none that is more than a bound."""
    if not evidence.used:
        return "nothing to say: no usable reading"
    if all(item.reading.qualifier == "<" for item in evidence.used):
        return f"{NOTHING} (all {len(evidence.used)} are non-detects)"
    return ""


def _by_estimate(
    evidence: FloorEvidence,
    made: CellEstimate,
    direct: list[Draft],
    draws: int,
    seed: int,
    *,
    log: bool,
) -> tuple[list[Draft], _Field]:
    """Return drafts of what was read at a source, and of every peak of the estimate."""
    mean, graph = made.mean, made.graph
    known = np.isfinite(mean)
    if not known.any():
        drafts = list(direct)
        _add_readings(drafts, evidence)
        return drafts, _Field()
    # what two readings of one place may differ by: a peak lower than that is none
    least = 2.0 * READING_SD * (1.0 if log else float(np.abs(mean[known]).max()))
    places = places_to_look(mean, graph, peaks_of(mean, graph.edges, least))
    climbs = climbs_of(mean, graph, places, least / 2.0, log=log)
    drafts = list(direct)
    for room, peaks in places.items():
        for peak in peaks:
            x, y = map(float, graph.xy[peak.cell])
            _join(drafts, Draft(room, x, y, "estimate", prominence=peak.prominence))
    for one in saturated_places(evidence):
        _join(drafts, one)
    spots: dict[int, list[Spot]] = {}
    number: list[int] = []
    for one in drafts:
        own = spots.setdefault(one.room, [])
        if one.x is not None and one.y is not None:
            own.append(Spot(one.x, one.y, fixed=one.basis in ("search", "item")))
        number.append(len(own) - 1)
    found = spread_of(
        made.draws(count=draws, seed=seed), graph, {k: some for k, some in spots.items() if some}
    )
    spreads = [
        None if one.x is None else found[one.room][k] for one, k in zip(drafts, number, strict=True)
    ]
    return drafts, _Field(spreads, climbs)


def _join(drafts: list[Draft], one: Draft) -> None:
    """Add a place, or what it says to one that is nearer than 2 m; that keeps its own place."""
    kept = next((other for other in drafts if one.near(other)), None)
    if kept is None:
        drafts.append(one)
        return
    kept.prominence = max(kept.prominence, one.prominence)
    kept.readings += [name for name in one.readings if name not in kept.readings]
    kept.reasons += one.reasons


def _add_readings(drafts: list[Draft], evidence: FloorEvidence) -> None:
    """Add the highest used reading of every room that has one which is no non-detect."""
    found: dict[int, Draft] = {}
    rank = {">": 2.0}
    for item, room in zip(evidence.used, evidence.room.tolist(), strict=True):
        one = item.reading
        if room < 0 or one.qualifier == "<" or one.concentration is None:
            continue
        strength = one.concentration, rank.get(one.qualifier, 1.0)
        if room not in found or strength > found[room].strength:
            known = one.placed != "room"
            found[room] = Draft(room, one.x if known else None, one.y if known else None,
                                "readings", strength, readings=[one.id])  # fmt: skip
    for place in found.values():
        _join(drafts, place)


def _order(drafts: list[Draft], seen: _Field) -> list[int]:
    def key(k: int) -> tuple[float, ...]:
        one = drafts[k]
        spread = seen.spreads[k] if seen.spreads else None
        if one.basis == "estimate" and spread is not None:
            return (_BASIS[one.basis], -spread.share, -(spread.own or 0.0), -one.prominence, k)
        return (_BASIS[one.basis], *(-value for value in one.strength), k)

    return sorted(range(len(drafts)), key=key)


def _listed(order: list[int], drafts: list[Draft], seen: _Field) -> list[int]:
    """Leave out places that next to nothing speaks for, but where nothing better is left."""
    kept: list[int] = []
    further, likely = 0, False
    for k in order:
        spread = seen.spreads[k] if seen.spreads else None
        if drafts[k].basis == "estimate" and spread is not None:
            own = drafts[k].prominence > 0.0 and (spread.own or 0.0) >= LEAST_OWN
            if likely and spread.share < LEAST_SHARE and not own:
                continue
        if drafts[k].basis in ("estimate", "readings"):
            if further >= MOST_PLACES:
                continue
            further += 1
        likely = likely or drafts[k].basis == "estimate"
        likely = likely or (spread is not None and spread.share >= LEAST_SHARE)
        kept.append(k)
    return kept


def _cell(made: CellEstimate, room: int, x: float, y: float) -> int:
    return int(made.graph.nearest(np.array([[x, y]]), np.array([room]))[0])


def _concentration(value: float, *, log: bool) -> float:
    return float(np.exp(value)) if log else max(float(value), 0.0)


def _unreached(evidence: FloorEvidence, made: CellEstimate | None) -> list[str]:
    """Return the names of the rooms that no air way joins to any reading."""
    if made is None:
        return []
    known = set(made.graph.room[np.isfinite(made.mean)].tolist())
    return [room.name for k, room in enumerate(evidence.floor.rooms) if k not in known]
