"""What a site folder keeps beside plans and readings: the instrument log, people's decisions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, TypeVar

from hgmap.errors import SiteError
from hgmap.site.files import digest
from hgmap.site.instruments.log import read_log
from hgmap.site.instruments.model import InstrumentLog, Overrule
from hgmap.site.instruments.overrules import read_overrules
from hgmap.site.model import PlannedReadings, Problem
from hgmap.site.quality.sampling_plan import read_sampling_plan
from hgmap.site.store import FileStore

LOG_FILE: Final = "instruments/log.csv"
OVERRULES_FILE: Final = "instruments/overrules.csv"

Record = TypeVar("Record")


def site_log(
    store: FileStore, problems: list[Problem], digests: dict[str, str]
) -> InstrumentLog | None:
    """Return the instrument log of a folder; None where it has none.

    One that cannot be read is a log without instruments: nothing vouches for any reading.
    """
    log = _record(store, LOG_FILE, lambda data: read_log(data, where=LOG_FILE), problems, digests,
                  "every reading is held until it can be", InstrumentLog((), ()))  # fmt: skip
    if log is not None:
        problems += log.problems
    return log


def site_overrules(
    store: FileStore, problems: list[Problem], digests: dict[str, str]
) -> tuple[Overrule, ...]:
    """Return what people decided about readings; where it cannot be read, nothing is lifted."""
    nothing: tuple[list[Overrule], list[Problem]] = ([], [])
    found = _record(
        store, OVERRULES_FILE, lambda data: read_overrules(data, where=OVERRULES_FILE), problems,
        digests, "nothing is overruled until it can be", nothing,
    )  # fmt: skip
    if found is None:
        return ()
    problems += found[1]
    return tuple(found[0])


def site_sampling_plan(
    store: FileStore, name: str | None, problems: list[Problem], digests: dict[str, str]
) -> tuple[PlannedReadings, ...]:
    """Return the sampling plan that site.toml names; one that cannot be read plans nothing."""
    if name is None:
        return ()
    nothing: tuple[list[PlannedReadings], list[Problem]] = ([], [])
    found = _record(
        store, name, lambda data: read_sampling_plan(data, where=name), problems, digests,
        "nothing is held against it", nothing,
    )  # fmt: skip
    if found is None:
        problems.append(
            Problem("warning", name, "no such sampling plan", "mend sampling_plan in site.toml")
        )
        return ()
    problems += found[1]
    return tuple(found[0])


def _record(
    store: FileStore,
    name: str,
    read: Callable[[bytes], Record],
    problems: list[Problem],
    digests: dict[str, str],
    then: str,
    unreadable: Record,
) -> Record | None:
    """Read one file; None where there is none, ``unreadable`` where it cannot be read."""
    try:
        if not store.exists(name, where=name):
            return None
        data = store.read(name, where=name)
        digests[name] = digest(data)
        return read(data)
    except SiteError as error:
        problems.append(
            Problem("warning", error.where or name, f"{error.message}: {then}", error.todo)
        )
        return unreadable
