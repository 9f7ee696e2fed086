"""Which readings of a room count towards its clearance, at which height, and which stand beside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.decide.evidence import as_written, bags_above, describe, gather_evidence, limit_of
from hgmap.decide.model import FloorEvidence, error_of
from hgmap.decide.whose import bags_of, items_by_room
from hgmap.errors import SiteError
from hgmap.site.building import Floor, Room
from hgmap.site.model import ActionLevel, Site, Use
from hgmap.site.quality.places import at_one_place
from hgmap.site.reading import Reading

CHILDREN: Final[frozenset[Use]] = frozenset({"dwelling", "school", "child care"})
"""Uses where every breathing height of the site has to be read: readings at 0.3 m tend to exceed
those at 1.5 m (Maine Department of Environmental Protection, 2008)."""

ERRORS: Final = 2.0
"""Standard deviations of its own error by which a reading is raised where a room would meet."""


@dataclass(frozen=True, slots=True)
class RoomReadings:
    """The readings of one room in one round.

    Attributes
    ----------
    room : Room
    by_band : dict
        Breathing height to the usable readings there, each place once.
    beside : tuple of Reading
        Usable ones at other heights, and sweeps for a source at any.
    held, bags : tuple of Reading
        Held ones that are of this room or may be; bags whose headspace is above the level.
    samples : tuple of Reading
        Usable laboratory samples in the breathing zone, also those that share their place.
    background : tuple of Reading
        What was called background, is in this room and is above the level.
    """

    room: Room
    by_band: dict[str, list[Reading]]
    beside: tuple[Reading, ...]
    held: tuple[Reading, ...]
    bags: tuple[Reading, ...]
    samples: tuple[Reading, ...] = ()
    background: tuple[Reading, ...] = ()

    @property
    def counted(self) -> list[Reading]:
        """The readings that count, at whatever height."""
        return [one for readings in self.by_band.values() for one in readings]


def breathing_bands(site: Site) -> tuple[str, ...]:
    """Return the names of the site's breathing heights.

    Raises
    ------
    SiteError
        If it has none, or is not about air.
    """
    if site.medium != "air":
        raise SiteError(
            f"clearance is by breathing-zone readings of air; this site is about {site.medium}",
            where="site.toml, medium",
        )
    names = tuple(one.name for one in site.height_bands if one.breathing)
    if not names:
        raise SiteError(
            "the site has no breathing height", where="site.toml, [[height_bands]]",
            todo="leave breathing = false out of one of them",
        )  # fmt: skip
    return names


def bands_asked(readings: RoomReadings, site: Site, names: Sequence[str]) -> list[str]:
    """Return the heights that a room is judged at.

    All breathing heights where children are (``CHILDREN``), else those that were read; in a room
    without any, that of the map, or the first.
    """
    if site.use in CHILDREN:
        return list(names)
    read = [name for name in names if readings.by_band[name]]
    usual = site.settings.height_band
    return read or [usual if usual is not None and usual in names else names[0]]


def gather_floor(
    site: Site, floor: Floor, round_name: str, level: ActionLevel, names: Sequence[str]
) -> tuple[list[RoomReadings], str]:
    """Sort the readings of a floor by room and height.

    Returns
    -------
    list of RoomReadings
        One for every room of the plan.
    str
        Which held reading may be of any room here and is high or unread; empty where none is.
    """
    # the empty band: no height is more than another here
    evidence = gather_evidence(site, floor, round_name, "", level)
    bags = bags_above(evidence.items)
    background = [one for one in evidence.items if one.reading.kind == "background" and one.above]
    found = []
    for room, items in zip(floor.rooms, items_by_room(evidence), strict=True):
        usable = [one.reading for one in items if one.role != "held"]
        by_band = {
            name: once(one for one in usable if one.band == name and one.kind != "source search")
            for name in names
        }
        found.append(
            RoomReadings(
                room,
                by_band,
                tuple(one for one in usable if one.band not in by_band
                      or one.kind == "source search"),
                tuple(one.reading for one in items if one.role == "held"),
                tuple(one.reading for one in bags_of(bags, room)),
                tuple(one for one in usable if one.band in by_band and one.kind == "laboratory"),
                tuple(one.reading for one in bags_of(background, room)),
            )
        )  # fmt: skip
    return found, _stray(evidence)


def _stray(evidence: FloorEvidence) -> str:
    for item in evidence.strays:
        if item.above or item.reading.concentration is None:
            why = f": {item.reasons[0]}" if item.reasons else ""
            return (f"{item.reading.id} ({describe(item.reading)}) is held and may belong to this "
                    f"floor{why}")  # fmt: skip
    return ""


def once(readings: Iterable[Reading]) -> list[Reading]:
    """Return one reading a place, its highest, in the order given.

    Repeats say how well the instrument repeats, not how the room is: they are never counted as
    more places. They are those within a hand's breadth, whatever the method, and a duplicate with
    the reading that it names. A detect speaks before a non-detect of the same place; a saturated
    reading stays beside the highest number, because it says that the place is not known.
    """
    every = list(readings)
    parent = list(range(len(every)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    at = {one.where: k for k, one in enumerate(every)}
    alike = [one._replace(kind="reading") for one in every]
    for group in at_one_place(alike, 2):
        for one in group[1:]:
            parent[root(at[one.where])] = root(at[group[0].where])
    ids = {one.id: k for k, one in enumerate(every) if one.kind != "duplicate"}
    for k, one in enumerate(every):
        if one.kind == "duplicate" and one.duplicate_of in ids:
            parent[root(k)] = root(ids[one.duplicate_of])
    places: dict[int, list[Reading]] = {}
    for k, one in enumerate(every):
        places.setdefault(root(k), []).append(one)
    kept = []
    for group in places.values():
        numbers = [one for one in group if one.qualifier != ">"]
        if numbers:
            kept.append(
                max(numbers, key=lambda one: (one.qualifier != "<", one.concentration or 0.0))
            )
        kept += [one for one in group if one.qualifier == ">"]
    return kept


def raised(reading: Reading, site: Site) -> Reading:
    """Return a reading as high as its own error lets it be, with nothing taken off it.

    Two standard deviations of what the checks of its instrument show, and of an approximate
    number; whatever background or blank was subtracted is put back.
    """
    whole = as_written(reading, site)
    value = whole.concentration or 0.0
    high = limit_of(whole) if whole.qualifier == "<" else value + ERRORS * error_of(whole)
    return whole._replace(concentration=max(high, value)) if high > value else whole
