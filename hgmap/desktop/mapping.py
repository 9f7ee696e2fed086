"""Maps of the floor on the screen: a draft at once, the zones soon, the rest when it is there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.pipeline import Mapped
from hgmap.desktop.work import Cancelled, Progress, WorkStopped

if TYPE_CHECKING:
    from hgmap.live import LiveFloor
    from hgmap.live_draft import Draft
    from hgmap.map_case import MapCase
    from hgmap.site.model import Site


@dataclass(frozen=True)
class Drafted:
    """A first look after a change; it rules on nothing."""

    case: MapCase
    draft: Draft


class Mapper:
    """Makes maps of a site; what is expensive and stays the same is kept between two of them."""

    def __init__(self) -> None:
        self._live: LiveFloor | None = None

    def map(self, site: Site, choices: Choices, progress: Progress, cancelled: Cancelled) -> Mapped:
        """Map one floor; drafts and zones are shown as parts before the whole map is there.

        Raises
        ------
        HgmapError
            If it cannot be mapped; in one line why not.
        WorkStopped
            If nobody waits for it any more.
        """
        pipeline.load_what_is_wanted_soon()
        from hgmap.live import Cancelled as NotWanted
        from hgmap.live import LiveFloor

        if self._live is None:
            self._live = LiveFloor()
        try:
            return self._map(self._live, site, choices, progress, cancelled)
        except NotWanted:
            raise WorkStopped from None

    def _map(
        self,
        live: LiveFloor,
        site: Site,
        choices: Choices,
        progress: Progress,
        cancelled: Cancelled,
    ) -> Mapped:
        from hgmap.errors import EstimateError
        from hgmap.live import LiveCase

        case = pipeline.case_of(site, choices)
        floor = case.site.floor(choices.floor)
        if floor is None:
            raise EstimateError(f"no floor {choices.floor!r}")
        asked = LiveCase(
            case.site, floor, case.round, case.band, case.level, pipeline.options_of(choices),
            case.unfit, case.purpose, case.further,
        )  # fmt: skip

        def tell(done: int, whole: int) -> None:
            progress(floor.title, 0.8 * done / max(whole, 1))

        if live.ready:
            draft = live.draft(asked, cancelled=cancelled)
            if draft is not None:
                progress.part(Drafted(case, draft))
        made = live.map(asked, progress=tell, cancelled=cancelled)
        progress.part(Mapped(case, pipeline.without_the_rest(made), whole=False))
        progress(floor.title, 0.8)
        return Mapped(case, live.finish(made, cancelled=cancelled))
