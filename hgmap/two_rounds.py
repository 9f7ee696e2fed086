"""Two rounds of a site on the same cells: what is compared, and what stands against it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS, FloorMap, MapOptions, map_floor
from hgmap.batch_choice import check_cell, choose_floors, choose_round
from hgmap.decide.change_model import FloorChange, Visit
from hgmap.decide.compare import compare_visits
from hgmap.decide.evidence import choose_band
from hgmap.errors import EstimateError, SiteError
from hgmap.floor_ruling import LevelCase
from hgmap.level_cases import first_level, further_levels
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import not_fit, quality_report, with_cautions
from hgmap.site.quality.temperature import (
    LEAST_STEP_C,
    TemperatureAdvice,
    round_temperature,
    temperature_advice,
)
from hgmap.site.quality.unlike import (
    unlike_conditions,
    unlike_instruments,
    unlike_openings,
    wrong_way_round,
)
from hgmap.site.rules import unusual_rules, with_rules
from hgmap.site.trust import judged_site
from hgmap.site.warnings import lost_readings, site_warnings


@dataclass(frozen=True)
class TwoRounds:
    """What two rounds of a site are compared by: the same for every floor.

    Attributes
    ----------
    site : Site
        As judged for the level.
    unfit : tuple
        Why the readings of each round are not fit to map.
    further : tuple
        Other levels that zones are made for, for each round.
    ratio : float or None
        What the temperatures alone would make of the air (after over before).
    temperature : tuple of str
        What they mean for a fall or a rise.
    warnings : tuple of str
        What holds for every floor.
    fitness : tuple of str
        What stands against the readings of a round that are fit with cautions.
    """

    site: Site
    rounds: tuple[Round, Round]
    level: ActionLevel
    cautions: tuple[str, ...]
    band: str
    band_notes: tuple[str, ...]
    floors: tuple[Floor, ...]
    lost: tuple[Problem, ...]
    unfit: tuple[tuple[str, ...], ...]
    further: tuple[tuple[LevelCase, ...], ...]
    ratio: float | None
    temperature: tuple[str, ...]
    warnings: tuple[str, ...]
    fitness: tuple[str, ...]


def two_rounds(
    as_read: Site, before: str, after: str, options: MapOptions | None = None
) -> TwoRounds:
    """Judge a site that was read already for a comparison of two of its rounds.

    Raises
    ------
    HgmapError
        If there is no level, no such floor or round, or one round twice.
    """
    options = options or MapOptions()
    as_read = with_rules(
        as_read, remediate_at=options.remediate_at, clear_at=options.clear_at,
        whole_rooms=options.whole_rooms,
    )  # fmt: skip
    level, cautions, _ = first_level(as_read, options.level)
    site = judged_site(as_read, level)
    rounds = _two_rounds(site, before, after)
    band, band_notes = common_band(site, rounds, options.height_band)
    floors, lost = choose_floors(site, options.floors)
    check_cell(options.cell_m)
    quality = tuple(quality_report(site, level, one.name) for one in rounds)
    unfit = tuple(map(not_fit, quality))
    fitness = tuple(
        f"{one.title}: {text}"
        for one, report in zip(rounds, quality, strict=True)
        for text in with_cautions(report, every=True)
    )
    # the zones of each map lie inside those of its other levels: so do the ones compared
    further = tuple(
        further_levels(as_read, level, options.level, options.further_levels, one.name)[0]
        for one in rounds
    )
    advice = between_rounds(site, rounds)
    texts = _temperature(site, rounds, advice)
    warnings = (
        *wrong_way_round(rounds),
        *(f"{one.title}: {text}" for one in rounds for text in lost_readings(site, one.name)),
        *site_warnings(site),
        *unusual_rules(site.settings),
        *(f"{one.title}: {text}" for one, why in zip(rounds, unfit, strict=True) for text in why),
        *texts,
        *unlike_conditions(rounds),
        *unlike_openings(floors, rounds),
        *unlike_instruments(site, rounds),
    )
    return TwoRounds(
        site, rounds, level, cautions, band, band_notes, tuple(floors), tuple(lost), unfit,
        further, None if advice is None else advice.ratio, texts, warnings, fitness,
    )  # fmt: skip


def compare_floor(
    case: TwoRounds,
    floor: Floor,
    options: MapOptions,
    progress: Callable[[int, int], None] | None = None,
) -> FloorChange:
    """Map two rounds of one floor on the same cells and compare them; writes nothing.

    Raises
    ------
    HgmapError
        If there is no surface in one of them.
    """
    with threadpool_limits(THREADS):
        visits = _two_visits(case, floor, options, progress)
        return compare_visits(*visits, temperature_ratio=case.ratio)


def _two_rounds(site: Site, before: str, after: str) -> tuple[Round, Round]:
    found = []
    for option, name in (("--from", before), ("--to", after)):
        if site.rounds and site.round(name) is None:
            names = ", ".join(one.name for one in site.rounds)
            raise SiteError(f"no round {name!r}", where=option, todo=f"known: {names}")
        found.append(choose_round(site, name)[0])
    if found[0].name == found[1].name:
        raise SiteError(
            f"round {before!r} cannot be compared with itself", where="--to",
            todo="give two rounds",
        )  # fmt: skip
    return found[0], found[1]


def common_band(
    site: Site, rounds: tuple[Round, Round], asked: str | None
) -> tuple[str, tuple[str, ...]]:
    """Return one height band for both rounds: that which the poorer of them has most readings of.

    ``asked``, then site.toml come first, as for the map.
    """
    if asked or site.settings.height_band or site.medium != "air":
        return choose_band(site, rounds[0].name, asked)
    names = [one.name for one in site.height_bands if one.breathing] or [
        one.name for one in site.height_bands
    ]
    read = {
        visit.name: Counter(
            one.band
            for one in site.readings
            if one.usable and one.on_map and one.round == visit.name
        )
        for visit in rounds
    }
    counts = {name: min(own[name] for own in read.values()) for name in names}
    best = max(names, key=lambda name: counts[name])
    if not counts[best]:
        has = "; ".join(
            f"{name} has "
            + (", ".join(f"{own[band]} at {band!r}" for band in names if own[band]) or "none")
            for name, own in read.items()
        )
        raise EstimateError(
            f"no height band has usable readings of both rounds: {has}",
            where="compare",
            todo="`hgmap check` says which readings are held, and why",
        )
    return best, (
        f"height band not stated: both rounds have at least {counts[best]} usable readings at "
        f"{best!r}",
    )


def between_rounds(site: Site, rounds: tuple[Round, Round]) -> TemperatureAdvice | None:
    """Return what the temperatures of two rounds alone would do; None where that is not known."""
    only = replace(site, rounds=rounds)
    found = temperature_advice(only, rounds[1].name)
    return next((one for one in found if one.subject == "rounds"), None)


def _temperature(
    site: Site, rounds: tuple[Round, Round], advice: TemperatureAdvice | None
) -> tuple[str, ...]:
    """Say what the temperatures mean for a fall or a rise."""
    if site.medium != "air":
        return ()
    if advice is not None:
        if advice.ratio < 1.0:
            return (f"a fall in the colder round is no evidence of cleaning: {advice.text}",)
        return (f"a rise in the warmer round need not be a new source: {advice.text}",)
    unknown = [one.title for one in rounds if round_temperature(one, site.readings) is None]
    if unknown:
        return (
            f"temperature not stated: {', '.join(unknown)}; colder air alone makes readings fall",
        )
    was, now = (round_temperature(one, site.readings) for one in rounds)
    if was is not None and now is not None and abs(was - now) >= LEAST_STEP_C:
        return (
            f"read at {was:.3g} °C and at {now:.3g} °C; the temperatures could not be compared",
        )
    return ()


def _two_visits(
    case: TwoRounds,
    floor: Floor,
    options: MapOptions,
    progress: Callable[[int, int], None] | None,
) -> tuple[Visit, Visit]:
    """Map both rounds, the second on the cells of the first."""
    visits = []
    for round_, why, levels in zip(case.rounds, case.unfit, case.further, strict=True):
        one = map_floor(
            case.site, floor, round_, case.band, case.level, options, progress, unfit=why,
            further=levels,
        )  # fmt: skip
        if one.surface is None:
            raise EstimateError(
                f"no surface in round {round_.name!r}: {one.no_surface}",
                where=floor.title,
                todo=f"`hgmap map --round {round_.name}` says what the readings allow",
            )
        options = replace(options, cell_m=one.surface.raster.cell_m)
        visits.append(_visit(one))
    return visits[0], visits[1]


def _visit(one: FloorMap) -> Visit:
    return Visit(one.evidence, one.surface, one.zones, one.rooms)
