"""A site folder: the only module that knows where its files lie."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from hgmap.errors import HgmapError, SiteError
from hgmap.site.building import Floor, HeightBand, NamedGrid
from hgmap.site.files import digest, slug
from hgmap.site.floor_picture import floor_picture
from hgmap.site.frames import Frames, frames_of
from hgmap.site.model import (
    Conditions,
    LevelRequest,
    MapSettings,
    NestedLevel,
    Problem,
    Round,
    Site,
    TitleBlock,
    TrustSettings,
)
from hgmap.site.plan import read_plan
from hgmap.site.reading import Reading
from hgmap.site.readings import (
    ReadingContext,
    hold_repeated_ids,
    hold_repeats_off_the_map,
    read_readings,
)
from hgmap.site.records import site_log, site_overrules, site_sampling_plan
from hgmap.site.round_openings import opening_states
from hgmap.site.schema import FloorTable, SiteTable, parse_site_table
from hgmap.site.store import SITE_FILE, FileStore, FolderStore
from hgmap.site.trust import held_problems
from hgmap.site.units import parse_quantity
from hgmap.site.warnings import lax_rules

__all__ = [
    "DEFAULT_HEIGHT_BANDS", "RESULTS_FOLDER", "SITE_FILE", "checked_table", "read_site",
    "site_from",
]  # fmt: skip

RESULTS_FOLDER: Final = "results"

# Published heights: floor sweep about an inch above the floor (value from memory); child zone
# 0.3 m and adult zone 0.9-1.5 m in agency reports; the bands around them are common practice.
DEFAULT_HEIGHT_BANDS: Final = (
    HeightBand("source search", 0.0, 0.1, breathing=False),
    HeightBand("child breathing", 0.2, 0.8),
    HeightBand("adult breathing", 0.9, 1.8),
)


def read_site(folder: Path | str) -> Site:
    """Read a site folder.

    A floor whose plan cannot be used, or a readings file that cannot be read, is reported in
    ``site.problems`` with severity ``"error"``; the others go on.

    Raises
    ------
    SiteError
        If there is no such folder, or its site.toml cannot be used.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise SiteError("no such folder", where=str(folder), todo="give the folder of a site")
    return site_from(FolderStore(folder), folder)


def site_from(store: FileStore, folder: Path) -> Site:
    """Read a site from its files, wherever they are kept.

    Parameters
    ----------
    store : FileStore
        The files: those of a folder, or some in memory.
    folder : Path
        The site's folder, for messages and for results.

    Raises
    ------
    SiteError
        If site.toml cannot be used.
    """
    where = str(folder / SITE_FILE)
    try:
        data = store.read(SITE_FILE, where=where)
    except SiteError as error:
        raise SiteError(error.message, where=where, todo=error.todo) from None
    table = checked_table(data, where=where)
    settings = MapSettings(**table.map.model_dump())
    problems = [Problem("warning", "site.toml, [map]", text) for text in lax_rules(settings)]
    digests = {SITE_FILE: digest(data)}
    frames = frames_of(table, where=where)
    floors, lost = _read_floors(store, table, frames, problems, digests)
    bands = _height_bands(table, where=where)
    rounds = tuple(
        Round(
            one.name,
            one.title or one.name,
            one.date,
            one.readings,
            opening_states(one.openings, floors, lost, where=f"{where}, round {one.name!r}"),
            one.purpose,
            Conditions(**one.conditions.model_dump()),
        )
        for one in table.rounds
    )
    context = ReadingContext(
        medium=table.medium,
        analyte=table.analyte,
        floors={key.casefold(): floor for floor in floors for key in (floor.name, floor.title)},
        lost_floors=frozenset(key.casefold() for key in lost),
        rounds=frozenset(one.name for one in rounds),
        bands=bands,
        detection_limit=_detection_limit(table, where=where),
        default_height_m=table.readings.height_m,
        conditions={one.name: one.conditions for one in rounds},
    )
    readings = _read_all_readings(store, rounds, context, problems, digests)
    return Site(
        folder=folder,
        name=table.name,
        analyte=table.analyte,
        medium=table.medium,
        use=table.use,
        invented=table.invented,
        level=LevelRequest(**table.level.model_dump()) if table.level else None,
        floors=tuple(floors),
        rounds=rounds,
        height_bands=bands,
        readings=tuple(readings),
        settings=settings,
        title_block=TitleBlock(**table.title_block.model_dump()),
        digests=digests,
        lost_floors=context.lost_floors,
        log=site_log(store, problems, digests),
        overrules=site_overrules(store, problems, digests),
        sampling_plan=site_sampling_plan(store, table.sampling_plan, problems, digests),
        trust=TrustSettings(**table.clearance.model_dump(), subtract=table.readings.subtract),
        nested_levels=tuple(NestedLevel(**one.model_dump()) for one in table.nested_levels),
        problems=tuple(problems),  # last: what was read above adds to them
    )


def checked_table(data: bytes, *, where: str) -> SiteTable:
    """Read site.toml, and check what can be checked without the files that it names.

    Raises
    ------
    SiteError
        If it is no UTF-8 text, or cannot be used as it is.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SiteError("is not UTF-8 text", where=where, todo="save it as UTF-8") from None
    table = parse_site_table(text, where=where)
    _check_names(table, where=where)
    frames_of(table, where=where)
    _check_band_to_map(table, _height_bands(table, where=where), where=where)
    _detection_limit(table, where=where)
    return table


def _check_names(table: SiteTable, *, where: str) -> None:
    for kind, names in (
        ("floors", [one.name for one in table.floors]),
        ("rounds", [one.name for one in table.rounds]),
        ("height bands", [one.name for one in table.height_bands]),
        ("nested levels", [one.name for one in table.nested_levels]),
    ):
        slugs = [slug(name).casefold() for name in names]
        for name, one in zip(names, slugs, strict=True):
            if slugs.count(one) > 1:
                raise SiteError(
                    f"two {kind} are called {name!r} (or alike)", where=where, todo="rename one"
                )
    owners: dict[str, str] = {}
    for floor in table.floors:
        for word in {floor.name.casefold(), (floor.title or floor.name).casefold()}:
            if owners.setdefault(word, floor.name) != floor.name:
                raise SiteError(
                    f"two floors are called {word!r}, by name or by title",
                    where=where,
                    todo="a reading's floor must mean one of them",
                )
    if table.map.clear_at >= table.map.remediate_at:
        raise SiteError(
            f"[map] clear_at {table.map.clear_at:g} is not below remediate_at "
            f"{table.map.remediate_at:g}",
            where=where,
            todo="leave both out for 0.05 and 0.5",
        )


def _height_bands(table: SiteTable, *, where: str) -> tuple[HeightBand, ...]:
    if not table.height_bands:
        return DEFAULT_HEIGHT_BANDS
    bands = tuple(HeightBand(**one.model_dump()) for one in table.height_bands)
    ordered = sorted(bands, key=lambda band: band.from_m)
    for band in ordered:
        if band.to_m < band.from_m:
            raise SiteError(f"height band {band.name!r} ends below its start", where=where)
    for low, high in itertools.pairwise(ordered):
        if high.from_m <= low.to_m:
            raise SiteError(
                f"height bands {low.name!r} and {high.name!r} share a height",
                where=where,
                todo="a reading belongs to one band",
            )
    return bands


def _check_band_to_map(table: SiteTable, bands: Iterable[HeightBand], *, where: str) -> None:
    names = [band.name for band in bands]
    wanted = table.map.height_band
    if table.medium == "air" and wanted is not None and wanted not in names:
        raise SiteError(
            f"no height band {wanted!r}",
            where=f"{where}, [map] height_band",
            todo=f"known: {', '.join(names)}",
        )


def _detection_limit(table: SiteTable, *, where: str) -> tuple[float, str] | None:
    if table.readings.detection_limit is None:
        return None
    place = f"{where}, [readings] detection_limit"
    try:
        value, unit = parse_quantity(table.readings.detection_limit)
    except HgmapError as error:
        raise SiteError(str(error), where=place) from None
    if unit.medium != table.medium:
        raise SiteError(f"{unit.symbol} is not a unit for {table.medium}", where=place)
    return value, unit.symbol


def _read_floors(
    store: FileStore,
    table: SiteTable,
    frames: Frames,
    problems: list[Problem],
    digests: dict[str, str],
) -> tuple[list[Floor], list[str]]:
    floors: list[Floor] = []
    lost: list[str] = []
    for entry in table.floors:
        title = entry.title or entry.name
        try:
            region = table.medium != "air"  # air fills buildings; soil and moss cover regions
            floors.append(_read_floor(store, entry, frames, problems, digests, region=region))
        except SiteError as error:
            lost += [entry.name, title]
            problems.append(
                Problem("error", error.where or entry.plan, error.message, error.todo, entry.name)
            )
    return floors, lost


def _read_floor(
    store: FileStore,
    entry: FloorTable,
    frames: Frames,
    problems: list[Problem],
    digests: dict[str, str],
    *,
    region: bool,
) -> Floor:
    data = store.read(entry.plan, where=f"floor {entry.name!r}")
    digests[entry.plan] = digest(data)
    plan = read_plan(data, where=entry.plan, floor=entry.name, region=region)
    problems += plan.problems
    where = f"floor {entry.name!r}, picture"
    picture, notes = floor_picture(entry, lambda name: store.exists(name, where=where))
    problems += notes
    frame = frames.get(entry.building or "")
    # in map coordinates north is grid north, whatever nobody has said
    by_grid = entry.north_deg is None and frame is not None
    return Floor(
        name=entry.name,
        title=entry.title or entry.name,
        rooms=plan.rooms,
        walls=plan.walls,
        openings=plan.openings,
        north_deg=frame.north_deg if by_grid and frame is not None else entry.north_deg,
        map_frame=frame,
        grids=tuple(NamedGrid(**one.model_dump()) for one in entry.grids),
        picture=picture,
        building=entry.building or "",
        north_is_grid=by_grid and frame is not None and frame.turned,
    )


def _read_all_readings(
    store: FileStore,
    rounds: Iterable[Round],
    context: ReadingContext,
    problems: list[Problem],
    digests: dict[str, str],
) -> list[Reading]:
    owners: dict[str, list[str]] = {}
    for one in rounds:
        for file in dict.fromkeys(one.files):
            owners.setdefault(file, []).append(one.name)
    readings: list[Reading] = []
    for file, names in owners.items():
        try:
            data = store.read(file, where=f"round {names[0]!r}")
            digests[file] = digest(data)
            found, notes = read_readings(
                data, context, where=file, round_name=names[0] if len(names) == 1 else None
            )
        except SiteError as error:
            problems += [
                Problem("error", error.where or file, error.message, error.todo, round=name)
                for name in names
            ]
            continue
        readings += found
        problems += notes
    readings = hold_repeats_off_the_map(hold_repeated_ids(readings))
    problems += held_problems(readings)
    return readings
