"""From a site folder to what changed between two of its rounds, floor by floor."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from shapely.errors import ShapelyError
from threadpoolctl import threadpool_limits

from hgmap.__about__ import __version__
from hgmap.batch import THREADS, FloorMap, MapOptions, Progress, map_floor
from hgmap.batch_choice import check_cell, choose_floors, choose_round
from hgmap.comparison import Comparison
from hgmap.decide.change_model import FloorChange, Visit
from hgmap.decide.compare import compare_visits
from hgmap.decide.evidence import choose_band
from hgmap.errors import EstimateError, HgmapError, SiteError
from hgmap.floor_map import floor_failure
from hgmap.floor_ruling import LevelCase
from hgmap.level_cases import first_level, further_levels
from hgmap.report import paper
from hgmap.report.change_sheet import change_sheet
from hgmap.report.change_tables import (
    change_moves_csv,
    change_places_csv,
    change_rooms_csv,
    change_summary,
)
from hgmap.report.drawing import Sheet
from hgmap.report.summary import to_json
from hgmap.report.tables import write_csv
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_text
from hgmap.site.folder import RESULTS_FOLDER, read_site
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import not_fit, quality_report
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
from hgmap.site.staging import put_out_of_date, staged
from hgmap.site.trust import judged_site
from hgmap.site.warnings import lost_readings, site_warnings

__all__ = ["SHEETS", "TABLES", "Comparison", "compare_read_site", "compare_site"]

SHEETS = ("change.pdf", "change.png")
TABLES = ("compare-rooms.csv", "compare-zones.csv", "compare-places.csv", "compare.json")


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
    unfit = tuple(not_fit(quality_report(site, level, one.name)) for one in rounds)
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
        further, None if advice is None else advice.ratio, texts, warnings,
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


def compare_site(
    folder: Path | str,
    before: str,
    after: str,
    options: MapOptions | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Map two rounds of a site on the same cells, compare them, and write the results.

    A floor that cannot be compared is reported and the others go on.

    Parameters
    ----------
    folder : path
        The site folder.
    before, after : str
        Names of the rounds.
    options : MapOptions, optional
        As for the map; its round is not looked at.
    progress : callable, optional

    Raises
    ------
    HgmapError
        If nothing can be done: no site, no level, no such floor or round, one round twice, or no
        surface on any floor in one of them.
    """
    run = compare_read_site(read_site(folder), before, after, options, progress)
    write_comparison(run)
    return run


def compare_read_site(
    site: Site,
    before: str,
    after: str,
    options: MapOptions | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Compare two rounds of a site that was read already; as :func:`compare_site`, writes nothing.

    The sheets are laid out; :func:`write_comparison` writes them.
    """
    options = options or MapOptions()
    case = two_rounds(site, before, after, options)
    only = list(case.floors) if options.floors else []
    out = Path(options.out or _results_folder(case.site, case.rounds, only))
    made: list[FloorChange] = []
    sheets: list[Sheet] = []
    failed: list[Problem] = list(case.lost)
    for number, floor in enumerate(case.floors):
        if progress is not None:
            progress(floor.title, number / len(case.floors))
        try:
            change = compare_floor(case, floor, options)
            sheet = change_sheet(
                case.site, case.rounds, change, warnings=case.warnings, cautions=case.cautions,
                version=__version__,
            )  # fmt: skip
        except (HgmapError, ShapelyError, np.linalg.LinAlgError, MemoryError) as error:
            failed.append(floor_failure(floor, error, floor.title))
            continue
        made.append(change)
        sheets.append(sheet)
    if not made and failed:
        first = failed[0]
        raise EstimateError(first.message, where=first.where, todo=first.todo)
    return Comparison(
        case.site, *case.rounds, case.level, case.band, tuple(made), tuple(failed),
        (*case.band_notes, *case.cautions), tuple(dict.fromkeys(case.warnings)),
        case.temperature, out, tuple(sheets),
    )  # fmt: skip


def write_comparison(run: Comparison) -> tuple[str, ...]:
    """Write the sheets and the tables of a comparison; return their names.

    Raises
    ------
    HgmapError
        If they cannot be written; what stood there is left as it was.
    """
    names = []
    with staged(run.out) as stage:
        for change, sheet in zip(run.floors, run.sheets, strict=True):
            folder = slug(change.after.evidence.floor.name)
            for name in SHEETS:
                paper.write(stage / folder / name, sheet)
                names.append(f"{folder}/{name}")
        if run.floors:
            _write_tables(run, stage)
            names += TABLES
        for problem in run.failed:
            put_out_of_date(run.out / slug(problem.floor), SHEETS)
    return tuple(names)


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


def _results_folder(site: Site, rounds: tuple[Round, Round], only: list[Floor]) -> Path:
    """Return the folder of a comparison; one of a few floors has its own."""
    names = [f"{slug(rounds[0].name)}-to-{slug(rounds[1].name)}", *(slug(f.name) for f in only)]
    return site.folder / RESULTS_FOLDER / "-".join(names)[:200]


def _write_tables(run: Comparison, folder: Path) -> None:
    write_csv(folder / "compare-rooms.csv", change_rooms_csv(run.floors))
    write_csv(folder / "compare-zones.csv", change_moves_csv(run.floors))
    write_csv(folder / "compare-places.csv", change_places_csv(run.floors))
    summary: dict[str, Any] = change_summary(
        run.site, (run.before, run.after), run.level, run.band, run.floors, run.failed,
        notes=run.notes, warnings=run.warnings, temperature=run.temperature, version=__version__,
    )  # fmt: skip
    write_text(folder / "compare.json", to_json(summary))
