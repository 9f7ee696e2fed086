"""What ``hgmap explain`` prints."""

from __future__ import annotations

from rich.table import Table

from hgmap.decide.explain import Driver, Explanation
from hgmap.explain import ExplainedPlace
from hgmap.report.words import number, published_per_computed
from hgmap.site.cautions import SCREENING
from hgmap.terminal.results import console_for_results

MOST_DRIVERS = 8
LEAST_WEIGHT = 0.01


def print_explanation(found: ExplainedPlace) -> None:
    """Print what the map says at a place, and the readings that drive it."""
    console = console_for_results()
    one, level = found.explanation, found.level
    scale, unit = published_per_computed(level), level.unit
    console.print(
        f"{found.floor_map.floor.title}, {found.round.title}, {found.band or found.site.medium}: "
        f"({one.x:g}, {one.y:g}) in {one.room.name}",
        style="bold",
    )
    if one.estimate is None or one.low is None or one.high is None or one.probability is None:
        console.print("estimate: none; no air way from any reading reaches this place")
    else:
        what = "median" if one.scale == "log" else "estimate"
        console.print(
            f"estimate: {number(one.estimate * scale)} {unit} ({what}); 95 % interval "
            f"{number(one.low * scale)} to {number(one.high * scale)} {unit}"
        )
        console.print(
            f"level: {number(level.value)} {unit} ({level.name}); probability above it "
            f"{one.probability:.3f}"
        )
    if one.zone is not None:
        console.print(f"zone: {one.zone}" + (f" ({'; '.join(one.reasons)})" if one.reasons else ""))
    if one.drivers:
        console.print(_table(one))
        console.print(_rest(one))
    for title, lines in (("warning", found.warnings), ("note", _notes(found))):
        for text in lines:
            console.print(f"{title}: {text}")
    console.print(SCREENING)


def _notes(found: ExplainedPlace) -> tuple[str, ...]:
    surface = found.floor_map.surface
    return (*found.notes, *(surface.notes if surface is not None else ()))


def shown(one: Explanation) -> list[Driver]:
    """Return the readings worth a line: the heaviest, down to a hundredth."""
    heavy = [driver for driver in one.drivers if abs(driver.weight) >= LEAST_WEIGHT]
    return heavy[:MOST_DRIVERS]


def _table(one: Explanation) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("weight", justify="right")
    for title in ("reading", "reads", "room"):
        table.add_column(title)
    table.add_column("straight", justify="right")
    table.add_column("through doors", justify="right")
    table.add_column("by way of")
    for driver in shown(one):
        table.add_row(
            f"{driver.weight:.2f}",
            " ".join(driver.readings),
            driver.text,
            driver.room.name,
            f"{driver.straight_m:.1f} m",
            "no way" if driver.route is None else f"{driver.route.length_m:.1f} m",
            by_way_of(driver),
        )
    return table


def by_way_of(driver: Driver) -> str:
    """Name the openings on the way from a reading, the closed doors among them as such."""
    if driver.route is None:
        return ""
    if not driver.route.openings:
        return "same room"
    return ", ".join(
        f"{name} (closed)" if name in driver.route.closed else name
        for name in driver.route.openings
    )


def _rest(one: Explanation) -> str:
    rest = one.drivers[len(shown(one)) :]
    working = "logarithms" if one.scale == "log" else "concentrations"
    text = f"weights are those of the {working} and add up to 1"
    if rest:
        total = sum(driver.weight for driver in rest)
        more = "place" if len(rest) == 1 else "places"
        text = f"{len(rest)} more {more} of readings weigh {total:z.2f} together; {text}"
    return text
