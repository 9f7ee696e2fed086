"""From a site folder to the clearance of every room of a round, and its files."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from threadpoolctl import threadpool_limits

from hgmap.__about__ import __version__
from hgmap.batch import THREADS, MapOptions, Progress, map_floor
from hgmap.batch_choice import choose_floors, choose_round, results_folder
from hgmap.decide.clearance.confirm import OtherRound, hours_between
from hgmap.decide.clearance.gather import RoomReadings, breathing_bands, gather_floor
from hgmap.decide.clearance.outcome import HoldBack, LevelClearance
from hgmap.decide.clearance.rooms import Nowhere, clear_floor
from hgmap.decide.clearance.rules import ClearanceRule, clearance_rules, find_rule
from hgmap.decide.clearance.withheld import of_level, of_round
from hgmap.errors import EstimateError, LevelError, SiteError
from hgmap.report.clearance_notes import level_notes, round_notes
from hgmap.report.clearance_tables import clearance_csv, clearance_summary
from hgmap.report.summary import to_json
from hgmap.report.tables import write_csv
from hgmap.shows_itself import OnPlans
from hgmap.site.building import Floor
from hgmap.site.files import write_text
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.plan_picture import GUESSED
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.staging import staged
from hgmap.site.trust import judged_site
from hgmap.site.warnings import site_warnings


@dataclass(frozen=True)
class ClearanceOptions:
    """What a clearance was asked for.

    Attributes
    ----------
    round : str or None
        None: the latest, which is said.
    levels : tuple of str
        Names or values; empty: the site's own.
    rule : str or None
        None: every rule of the table.
    out : path or None
        None: the site's results folder of the round.
    with_map : bool
        Whether floors are mapped, for the rule that asks the map.
    """

    round: str | None = None
    levels: tuple[str, ...] = ()
    rule: str | None = None
    out: Path | str | None = None
    with_map: bool = False


@dataclass(frozen=True)
class ClearanceRun(OnPlans):
    """A whole clearance: what was ruled, what failed, and what the user should read."""

    site: Site
    round: Round
    rules: tuple[ClearanceRule, ...]
    levels: tuple[LevelClearance, ...]
    failed: tuple[Problem, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    out: Path
    with_map: bool

    @property
    def exit_code(self) -> int:
        """0 only if every room meets every rule judged, at every level; else 1."""
        outcomes = {
            one.ruling.outcome
            for level in self.levels for room in level.rooms for one in room.outcomes
        }  # fmt: skip
        return 0 if outcomes == {"meets"} and not self.failed else 1


def clear_site(
    folder: Path | str,
    options: ClearanceOptions | None = None,
    progress: Progress | None = None,
) -> ClearanceRun:
    """Rule on every room of a round, at each level asked for, and write the results.

    Parameters
    ----------
    folder : path
        The site folder.
    options : ClearanceOptions, optional
    progress : callable, optional
        See :func:`hgmap.batch.map_site`.

    Raises
    ------
    HgmapError
        If nothing can be done: no site, level, floor, round, or rule of that name; or the site is
        not about air.
    """
    run = rule_on_rooms(read_site(folder), options, progress)
    write_clearance(run)
    return run


def write_clearance(run: ClearanceRun) -> tuple[str, ...]:
    """Write ``clearance.csv`` and ``clearance.json`` of a run; return their names.

    Raises
    ------
    HgmapError
        If they cannot be written; what stood there is left as it was.
    """
    with staged(run.out) as stage:
        write_csv(stage / "clearance.csv", clearance_csv(run.levels))
        summary = clearance_summary(
            run.site, run.round, run.rules, run.levels, failed=run.failed, notes=run.notes,
            warnings=run.warnings, version=__version__, with_map=run.with_map,
        )  # fmt: skip
        write_text(stage / "clearance.json", to_json(summary))
    return ("clearance.csv", "clearance.json")


def rule_on_rooms(
    site: Site, options: ClearanceOptions | None = None, progress: Progress | None = None
) -> ClearanceRun:
    """Rule on every room of a site that was read already; as :func:`clear_site`, writes nothing."""
    options = options or ClearanceOptions()
    rules = clearance_rules() if options.rule is None else (find_rule(options.rule),)
    names = breathing_bands(site)
    round_, notes = choose_round(site, options.round)
    asked = [level_in_force(site, text) for text in dict.fromkeys(options.levels or (None,))]
    if any(not one.concentration > 0.0 for one, _ in asked):
        raise LevelError("a level above zero is needed", where="--level")
    asked.sort(key=lambda pair: pair[0].concentration)
    floors, failed = choose_floors(site, ())
    if not floors:
        lost = failed[0]
        raise SiteError(lost.message, where=lost.where, todo=lost.todo)
    done = []
    for number, (level, cautions) in enumerate(asked):

        def report(share: float, number: int = number, name: str = level.name) -> None:
            if progress is not None:
                progress(name, (number + share) / len(asked))

        report(0.0)
        judged = judged_site(site, level)
        done.append(
            _at_level(
                judged, round_, floors, names, level, cautions, rules, options.with_map, report
            )
        )
    return ClearanceRun(
        judged, round_, rules, tuple(done), tuple(failed),
        (*notes, *round_notes(judged, round_, options.rule is None)), site_warnings(judged),
        Path(options.out or results_folder(site, round_, [])), options.with_map,
    )  # fmt: skip


def _at_level(
    site: Site,
    round_: Round,
    floors: Sequence[Floor],
    names: Sequence[str],
    level: ActionLevel,
    cautions: Sequence[str],
    rules: Sequence[ClearanceRule],
    with_map: bool,
    report: Callable[[float], None],
) -> LevelClearance:
    quality = quality_report(site, level, round_.name)
    held_back = [*of_level(level, site.use), *of_round(site, round_, quality)]
    against = {
        one.name: of_round(site, one, quality_report(site, level, one.name))
        for one in site.rounds
        if one is not round_ and one.purpose == "clearance"
        and any(rule.again_after_h is not None for rule in rules)
    }  # fmt: skip
    made, readings = [], []
    for number, floor in enumerate(floors):
        report(number / len(floors))
        rooms, stray = gather_floor(site, floor, round_.name, level, names)
        here = list(held_back)
        if stray:
            here.append(HoldBack(stray, "the floor and room of that held reading, or the rooms "
                                        "that it may be of read again"))  # fmt: skip
        if floor.picture is not None and floor.picture.guessed:
            here.append(HoldBack(GUESSED, "the scale of the plan, by two points of its picture"))
        nowhere: Nowhere | None = None
        of_map: Mapping[str, Sequence[HoldBack]] = {}
        if with_map and any(rule.test == "map" for rule in rules):

            def tell(done: int, whole: int, number: int = number) -> None:
                report((number + 0.9 * done / max(whole, 1)) / len(floors))

            nowhere, of_map = _map(site, floor, rooms, round_, names, level, not_fit(quality), tell)
        made.append(
            clear_floor(
                site, floor, rooms, names, level, rules, here, nowhere, of_map,
                _others(site, floor, round_, level, names, against),
            )
        )  # fmt: skip
        readings += [
            one for room in rooms
            for one in {id(r): r for r in (*room.counted, *room.samples)}.values()
        ]  # fmt: skip
    return LevelClearance(
        level, tuple(made), tuple(held_back), (*cautions, *level_notes(level, readings))
    )


def _others(
    site: Site,
    floor: Floor,
    round_: Round,
    level: ActionLevel,
    names: Sequence[str],
    against: Mapping[str, Sequence[HoldBack]],
) -> list[OtherRound]:
    """Gather what the other rounds say of a floor; ``against`` is what stands against a round."""
    found = []
    for place, one in enumerate(site.rounds):
        if one.name == round_.name:
            continue
        rooms, _ = gather_floor(site, floor, one.name, level, names)
        hours = hours_between(site, round_, one)
        later = hours >= 0.0 if hours is not None else place > site.rounds.index(round_)
        found.append(OtherRound(
            one, {room.room.id: room for room in rooms}, hours, later,
            tuple(against.get(one.name, ())),
        ))  # fmt: skip
    return found


def _map(
    site: Site,
    floor: Floor,
    rooms: Sequence[RoomReadings],
    round_: Round,
    names: Sequence[str],
    level: ActionLevel,
    unfit: tuple[str, ...],
    progress: Callable[[int, int], None],
) -> tuple[Nowhere, Mapping[str, Sequence[HoldBack]]]:
    """Map a floor at each breathing height that was read; return what it says of its rooms."""
    nowhere: dict[tuple[str, str], float | None] = {}
    against: dict[str, list[HoldBack]] = {}
    for name in names:
        if not any(room.by_band[name] for room in rooms):
            continue
        try:
            with threadpool_limits(THREADS):
                found = map_floor(
                    site, floor, round_, name, level, MapOptions(), progress, unfit=unfit
                )
        except EstimateError as error:
            against[name] = [HoldBack(f"no map: {error}", "a map of this floor")]
            continue
        if found.surface is None:
            against[name] = [HoldBack(f"no map: {found.no_surface}", "a map of this floor")]
        elif found.nothing_clear:
            against[name] = [HoldBack(found.nothing_clear, "a map that is allowed to clear")]
        for row in found.rooms:
            above = row.probability_anywhere
            nowhere[row.room.id, name] = None if above is None else 1.0 - above
    return nowhere, against
