"""Maps of the floor on the screen: a draft at once, the zones soon, the rest when it is there."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.hands import Haste
from hgmap.desktop.pipeline import Mapped
from hgmap.desktop.work import Cancelled, Jobs, Progress, WorkStopped

if TYPE_CHECKING:
    from hgmap.live.draft import Draft
    from hgmap.live.floor import LiveCase, LiveFloor, LiveMap
    from hgmap.map_case import MapCase
    from hgmap.site.model import Site


@dataclass(frozen=True)
class Asked:
    """What is to be mapped: the case as the command line has it, and as a live floor takes it."""

    case: MapCase
    live: LiveCase


@dataclass(frozen=True)
class Drafted:
    """A first look after a change; it rules on nothing."""

    case: MapCase
    draft: Draft


@dataclass(frozen=True)
class Shaped:
    """Surface and zones, as they are shown and as the rest is made of them."""

    made: LiveMap
    mapped: Mapped


NAME: Final = "map"


class Mapper:
    """Makes maps of a site; what is expensive and stays the same is kept between two of them.

    In steps, each a piece of work of its own: what is known after one can be painted before the
    next begins.
    """

    def __init__(self) -> None:
        self._live: LiveFloor | None = None

    @property
    def ready(self) -> bool:
        """Whether there is a map to draft from."""
        return self._live is not None and self._live.ready

    def draft(self, asked: Asked, progress: Progress, cancelled: Cancelled) -> Drafted | None:
        """Return a first look; None where no surface can be made: the map says why.

        Raises
        ------
        HgmapError
            If it cannot be mapped; in one line why not.
        WorkStopped
            If nobody waits for it any more.
        """
        with _stopped():
            draft = self._floor().draft(asked.live, cancelled=cancelled)
        return None if draft is None else Drafted(asked.case, draft)

    def map(self, asked: Asked, progress: Progress, cancelled: Cancelled) -> Shaped:
        """Return surface and zones; raises as :meth:`draft`."""

        def tell(done: int, whole: int) -> None:
            progress(asked.live.floor.title, 0.8 * done / max(whole, 1))

        with _stopped():
            made = self._floor().map(asked.live, progress=tell, cancelled=cancelled)
        return Shaped(made, Mapped(asked.case, pipeline.without_the_rest(made), whole=False))

    def finish(self, shaped: Shaped, progress: Progress, cancelled: Cancelled) -> Mapped:
        """Return the whole map: what is in every room, and where to measure again."""
        progress(shaped.made.floor.title, 0.8)
        with _stopped():
            found = self._floor().finish(shaped.made, cancelled=cancelled)
        return Mapped(shaped.mapped.case, found)

    def whole(
        self, site: Site, choices: Choices, progress: Progress, cancelled: Cancelled
    ) -> Mapped:
        """Return the whole map in one go; raises as :meth:`draft`."""
        shaped = self.map(ask(site, choices), progress, cancelled)
        return self.finish(shaped, progress, cancelled)

    def _floor(self) -> LiveFloor:
        from hgmap.live.floor import LiveFloor

        if self._live is None:
            self._live = LiveFloor()
        return self._live


@contextmanager
def _stopped() -> Iterator[None]:
    from hgmap.live.floor import Cancelled as NotWanted

    try:
        yield
    except NotWanted:
        raise WorkStopped from None


def ask(site: Site, choices: Choices) -> Asked:
    """Choose round, height band and levels, and judge the readings for them.

    Raises
    ------
    HgmapError
        If there is nothing to map.
    """
    pipeline.load_what_is_wanted_soon()
    from hgmap.errors import EstimateError
    from hgmap.live.floor import LiveCase

    case = pipeline.case_of(site, choices)
    floor = case.site.floor(choices.floor)
    if floor is None:
        raise EstimateError(f"no floor {choices.floor!r}")
    live = LiveCase(
        case.site, floor, case.round, case.band, case.level, pipeline.options_of(choices),
        case.unfit, case.purpose, case.further,
    )  # fmt: skip
    return Asked(case, live)


def map_in_steps(
    jobs: Jobs,
    mapper: Mapper,
    site: Site,
    choices: Choices,
    *,
    drafted: Callable[[Drafted], None],
    mapped: Callable[[Mapped], None],
    failed: Callable[[Exception], None],
) -> None:
    """Map beside the window: a draft where there is a map to draft from, zones, then the rest.

    Between two steps comes what was asked for meanwhile, first of all the picture of the last one.
    """

    def draft(progress: Progress, cancelled: Cancelled) -> tuple[Asked, Drafted | None]:
        asked = ask(site, choices)
        return asked, mapper.draft(asked, progress, cancelled)

    def take_draft(made: tuple[Asked, Drafted | None]) -> None:
        asked, found = made
        if found is not None:
            drafted(found)
        if not jobs.awaits(NAME):  # else something else is to be mapped by now
            shape(asked)

    def shape(asked: Asked | None) -> None:
        jobs.start(
            NAME, lambda *told: mapper.map(asked or ask(site, choices), *told), take_shape, failed
        )

    def take_shape(found: Shaped) -> None:
        mapped(found.mapped)
        if not jobs.awaits(NAME):
            jobs.start(
                NAME, lambda *told: mapper.finish(found, *told), mapped, failed, haste=Haste.LAST
            )

    jobs.drop(NAME)  # what was to be mapped before is not waited for
    if mapper.ready:
        jobs.start(NAME, draft, take_draft, failed)
    else:
        shape(None)
