"""Maps of the floor on the screen, the newest kept."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop import pipeline
from hgmap.desktop.choices import Choices
from hgmap.desktop.pipeline import Mapped
from hgmap.desktop.work import Cancelled, Progress, WorkStopped

if TYPE_CHECKING:
    from hgmap.site.model import Site


class Mapper:
    """Makes maps; what is expensive and stays the same is kept between two of them."""

    def map(self, site: Site, choices: Choices, progress: Progress, cancelled: Cancelled) -> Mapped:
        """Map one floor.

        Raises
        ------
        HgmapError
            If it cannot be mapped; in one line why not.
        """
        from threadpoolctl import threadpool_limits

        from hgmap.batch import THREADS
        from hgmap.errors import EstimateError
        from hgmap.floor_map import map_floor

        case = pipeline.case_of(site, choices)
        floor = case.site.floor(choices.floor)
        if floor is None:
            raise EstimateError(f"no floor {choices.floor!r}")

        def tell(done: int, whole: int) -> None:
            if cancelled():
                raise WorkStopped
            progress(floor.title, done / max(whole, 1))

        with threadpool_limits(THREADS):
            made = map_floor(
                case.site, floor, case.round, case.band, case.level, pipeline.options_of(choices),
                tell, unfit=case.unfit, purpose=case.purpose, further=case.further,
            )  # fmt: skip
        return Mapped(case, made)
