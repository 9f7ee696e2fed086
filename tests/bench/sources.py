"""Score where the air is said to come from: ``python -m tests.bench.sources``. Asserts nothing.

Each simulated building (:mod:`tests.truth.buildings`) has a main spill in one room, a trail from
it through the door, and in half of them a weaker spill in a second room: all known. The ranking of
:func:`hgmap.decide.origins.find_origins` is scored beside two that any person would try: the rooms
by their highest reading, and the place of the highest reading. No reading is taken in search of a
source here: the score is that of the estimate.
"""

from __future__ import annotations

import argparse
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.decide.origin_model import Origins
from hgmap.decide.origins import find_origins
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading
from tests.truth.buildings import Building, Readings, make_building, take_readings
from tests.truth.scores import number, table

Floats = NDArray[np.float64]

NOISE_SD: Final = 0.1
COUNTS: Final = (10, 20, 40)
CELL_M: Final = 0.2
SOURCE_SHARE: Final = 0.1
"""A room that gives off this share of all vapour counts as a source room."""
LEVEL: Final = ActionLevel(
    "invented", 1.0, "µg/m³", "air", 1.0, "8 h", "breathing zone", "invented", "stated", (),
    "invented", 2026,
)  # fmt: skip
BINS: Final = ((0.0, 0.05), (0.05, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 0.95), (0.95, 1.01))


class Truth(NamedTuple):
    """What is known of a building: its main source room, all source rooms, where they give off.

    ``places`` are the mesh cells that give off at least half as much as the strongest cell of
    their room, ``highest`` is the room with the highest air.
    """

    main: int
    rooms: frozenset[int]
    places: Floats
    main_places: Floats
    highest: int


class Ranking(NamedTuple):
    """Rooms in order, and the place of the first (m)."""

    rooms: list[int]
    first: Floats


class Result(NamedTuple):
    """One building with one set of readings, ranked in several ways."""

    truth: Truth
    origins: Origins
    rankings: dict[str, Ranking]


def truth_of(building: Building) -> Truth:
    """Return what a building gives off and where."""
    mesh, count = building.mesh, len(building.floor.rooms)
    inside = mesh.room < count
    given = np.bincount(mesh.room[inside], (building.source * mesh.areas)[inside], count)
    rooms = np.flatnonzero(given >= SOURCE_SHARE * given.sum())
    main = int(given.argmax())

    def strongest(room: int) -> Floats:
        own = mesh.room == room
        return np.asarray(mesh.centres[own & (building.source >= 0.5 * building.source[own].max())])

    return Truth(
        main,
        frozenset(rooms.tolist()),
        np.vstack([strongest(int(room)) for room in rooms]),
        strongest(main),
        int(building.target_room[np.nanargmax(building.truth)]),
    )


def evidence_of(building: Building, readings: Readings) -> FloorEvidence:
    """Return the readings of a building as the evidence of a map."""
    rooms = building.floor.rooms
    concentration = np.exp(readings.values)
    items = tuple(
        Evidence(
            Reading(
                f"R{k}", "first", building.floor.name, rooms[room].id, float(x), float(y), 1.5,
                None, float(value), "ug/m3", "", "", float(value), "adult breathing", "given", "",
            ),
            "used",
            bool(value > 1.0),
        )
        for k, ((x, y), value, room) in enumerate(
            zip(readings.xy, concentration, readings.room, strict=True)
        )
    )  # fmt: skip
    return FloorEvidence(
        building.floor, "first", "adult breathing", LEVEL, items, readings.xy, concentration
    )


def rank_all(building: Building, n: int) -> Result:
    """Rank one building from n readings in every way."""
    readings = take_readings(building, n, seed=0, noise_sd=NOISE_SD)
    evidence = evidence_of(building, readings)
    surface = estimate_surface(
        building.floor, evidence.xy, evidence.concentration, EstimateSettings(cell_m=CELL_M),
        room=evidence.room, bounds=evidence.bounds,
    )  # fmt: skip
    origins = find_origins(evidence, surface)
    ids = [room.id for room in building.floor.rooms]
    first = origins.sources[0]
    ours = Ranking(
        list(dict.fromkeys(ids.index(one.room) for one in origins.sources)),
        np.array([first.x, first.y], dtype=np.float64),
    )
    down = np.argsort(-readings.values)
    plain = Ranking(list(dict.fromkeys(readings.room[down].tolist())), readings.xy[down[0]])
    cell = np.nanargmax(surface.mean)
    row, column = np.unravel_index(cell, surface.mean.shape)
    top = np.full(len(ids), -np.inf)
    known = np.isfinite(surface.mean)
    np.maximum.at(top, surface.raster.room_index[known], surface.mean[known])
    mapped = Ranking(
        [int(k) for k in np.argsort(-top)],
        np.array([surface.raster.x[column], surface.raster.y[row]]),
    )
    return Result(
        truth_of(building),
        origins,
        {"where-from": ours, "highest estimate": mapped, "highest reading": plain},
    )


def nearest(place: Floats, places: Floats) -> float:
    """Return the distance (m) of a place to the nearest of some."""
    return float(np.hypot(*(places - place).T).min())


def hits(n: int, results: list[Result]) -> list[list[str]]:
    """Return a row a way of ranking."""
    rows = []
    for name in results[0].rankings:
        ours = [(one.truth, one.rankings[name]) for one in results]
        shares = [
            np.mean([truth.main == way.rooms[0] for truth, way in ours]),
            np.mean([truth.main in way.rooms[:3] for truth, way in ours]),
            np.mean([way.rooms[0] in truth.rooms for truth, way in ours]),
        ]
        away = [nearest(way.first, truth.places) for truth, way in ours]
        main = [nearest(way.first, truth.main_places) for truth, way in ours]
        rows.append(
            [name, str(n), *(number(100.0 * float(one), ".0f") for one in shares),
             number(float(np.median(away)), ".2f"), number(float(np.median(main)), ".2f"),
             number(float(np.quantile(main, 0.9)), ".1f")]
        )  # fmt: skip
    return rows


def calibration(results: list[Result]) -> list[list[str]]:
    """Return, for bins of a room's share of the draws, how often it was true."""
    said, main, highest, own_said, own = [], [], [], [], []
    for one in results:
        share: dict[int, float] = {}
        ids = [room.id for room in one.origins.floor.rooms]
        for source in one.origins.sources:
            room = ids.index(source.room)
            share[room] = share.get(room, 0.0) + (source.share or 0.0)
            if source.own is not None:
                own_said.append(source.own)
                own.append(room in one.truth.rooms)
        said += list(share.values())
        main += [room == one.truth.main for room in share]
        highest += [room == one.truth.highest for room in share]
    rows = []
    for low, high in BINS:
        held = (np.array(said) >= low) & (np.array(said) < high)
        of_own = (np.array(own_said) >= low) & (np.array(own_said) < high)

        def percent(which: NDArray[np.bool_], what: list[bool] | list[float]) -> str:
            return (
                number(100.0 * float(np.mean(np.array(what)[which])), ".0f") if which.any() else "-"
            )

        rows.append(
            [f"{100 * low:.0f} to {min(100, 100 * high):.0f} %", str(int(held.sum())),
             percent(held, said), percent(held, highest), percent(held, main),
             str(int(of_own.sum())), percent(of_own, own_said), percent(of_own, own)]
        )  # fmt: skip
    return rows


def radius_held(results: list[Result]) -> tuple[float, float, float]:
    """Return how often the 80 % radius of the first place holds what it should, and its median.

    The nearest place that gives off vapour, where the room is a source room; then the median (m).
    """
    right = [one for one in results if _room(one) in one.truth.rooms]
    held, radii = [], []
    for one in right:
        first = one.origins.sources[0]
        if first.radius_m is None or first.x is None or first.y is None:
            continue
        held.append(nearest(np.array([first.x, first.y]), one.truth.places) <= first.radius_m)
        radii.append(first.radius_m)
    return float(np.mean(held)), float(np.median(radii)), float(len(held))


def _room(one: Result) -> int:
    return one.rankings["where-from"].rooms[0]


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--buildings", type=int, default=40)
    parser.add_argument("--counts", type=int, nargs="+", default=COUNTS)
    chosen = parser.parse_args()
    buildings = [make_building(seed) for seed in range(chosen.buildings)]
    print(f"{len(buildings)} simulated buildings; a reading is off by {NOISE_SD:g} (log scale)\n")
    rows: list[list[str]] = []
    by_count: dict[int, list[Result]] = {}
    for n in chosen.counts:
        by_count[n] = [rank_all(building, n) for building in buildings]
        rows += hits(n, by_count[n])
    print(
        "main source room ranked first / in the first three (%), first a source room at all (%),\n"
        "median distance of the first place to the nearest source, to the main one, and its 90 %"
    )
    print(table(("ranked by", "n", "first", "top 3", "any", "m", "main m", "90 % m"), rows))
    for n, results in by_count.items():
        print_calibration(f"n = {n}", results)
    print_calibration("all", [one for results in by_count.values() for one in results])


def print_calibration(title: str, results: list[Result]) -> None:
    """Print how often what was said was true."""
    held, radius, count = radius_held(results)
    print(
        f"\n{title}: share of the draws that a room was given, and how often it was true (%); "
        f"the 80 % radius (median {radius:.1f} m) held a source in {100 * held:.0f} % of "
        f"{count:.0f}"
    )
    headers = ("share", "rooms", "said", "highest air", "main source", "own", "said", "source")
    print(table(headers, calibration(results)))


if __name__ == "__main__":
    main()
