"""One floor, estimated again and again while a person drags its readings.

What depends on the floor alone is kept from call to call (its cells, the factors of its field),
and what depends on the places of readings is kept place by place. A map is the one that
:func:`hgmap.floor_map.map_floor` makes, by the same code; what is not ruled on is left to
:meth:`LiveFloor.finish`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock

from hgmap.decide.contours import RoomWindows
from hgmap.decide.evidence import gather_evidence
from hgmap.errors import EstimateError
from hgmap.field.estimate import estimate_surface
from hgmap.field.kept_floor import KeptFloor
from hgmap.field.points import Progress
from hgmap.field.surface import Surface
from hgmap.field.threads import one_thread
from hgmap.floor_map import (
    FloorMap,
    MapOptions,
    ShapedFloor,
    finish_floor,
    settings_of,
    shape_floor,
)
from hgmap.floor_ruling import Estimates, LevelCase
from hgmap.live.cancel import Asked, Cancelled, check_of
from hgmap.live.draft import Draft
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.round_openings import floor_in_round

__all__ = ["Cancelled", "Draft", "LiveCase", "LiveFloor", "LiveMap"]

LiveMap = ShapedFloor
"""Evidence, surface and zones of a floor; rooms and the list to measure again are not made yet."""


@dataclass(frozen=True)
class LiveCase:
    """What is to be mapped; fields as the parameters of :func:`hgmap.floor_map.map_floor`.

    Attributes
    ----------
    site : Site
        Judged for the level, with the readings where they stand now.
    floor : Floor
    round : Round
    band : str
    level : ActionLevel
    options : MapOptions
    unfit : tuple of str
    purpose : str
    further : sequence of LevelCase
    """

    site: Site
    floor: Floor
    round: Round
    band: str
    level: ActionLevel
    options: MapOptions = field(default_factory=MapOptions)
    unfit: tuple[str, ...] = ()
    purpose: str = ""
    further: Sequence[LevelCase] = ()


class LiveFloor:
    """The drafts and maps of one floor; what is costly is kept between them.

    Another floor, or openings in another state, may be given at any time: what was kept of the one
    before is dropped then. One call works at a time; others wait for it, so cancel it first.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._floor: Floor | None = None
        self._kept = KeptFloor()
        self._windows = RoomWindows()
        self._last: Surface | None = None

    @property
    def ready(self) -> bool:
        """Whether there is a map to draft from."""
        return self._last is not None

    def draft(
        self, case: LiveCase, *, progress: Progress | None = None, cancelled: Asked | None = None
    ) -> Draft | None:
        """Return the field with range, nugget, sill and weights of the last map, ruling on nothing.

        Parameters
        ----------
        case : LiveCase
        progress : callable, optional
            Called with (done, all).
        cancelled : callable, optional
            Asked now and then whether the draft is not wanted any more.

        Returns
        -------
        Draft or None
            None where no surface can be made; the map says why.

        Raises
        ------
        Cancelled
        """
        check = check_of(cancelled)
        with self._lock, one_thread():
            floor = self._of(case)
            evidence = gather_evidence(case.site, floor, case.round.name, case.band, case.level)
            check()
            try:
                surface = estimate_surface(
                    evidence.floor, evidence.xy, evidence.concentration,
                    settings_of(case.site, case.options), progress, room=evidence.room,
                    bounds=evidence.bounds, ranges=evidence.ranges, error=evidence.error,
                    kept=self._kept, check=check, before=self._last,
                )  # fmt: skip
            except EstimateError:
                return None
            check()
            return Draft.of(evidence, surface)

    def map(
        self, case: LiveCase, *, progress: Progress | None = None, cancelled: Asked | None = None
    ) -> LiveMap:
        """Return surface and zones, as :func:`hgmap.floor_map.map_floor` makes them.

        Parameters as of :meth:`draft`.

        Raises
        ------
        Cancelled
        EstimateError
            If a setting does not fit.
        """
        with self._lock, one_thread():
            floor = self._of(case)
            made = Estimates(
                settings_of(case.site, case.options), progress, check_of(cancelled), self._kept,
                self._windows,
            )  # fmt: skip
            shaped = shape_floor(
                case.site, floor, case.round, case.band, case.level, case.options, made,
                unfit=case.unfit, purpose=case.purpose, further=case.further,
            )  # fmt: skip
            self._last = shaped.surface
            return shaped

    def finish(
        self, made: LiveMap, *, progress: Progress | None = None, cancelled: Asked | None = None
    ) -> FloorMap:
        """Return the whole map: rooms, where to measure again, and the second opinion.

        Parameters
        ----------
        made : LiveMap
            Of this floor.
        progress, cancelled
            As of :meth:`draft`.

        Raises
        ------
        Cancelled
        """
        with self._lock, one_thread():
            found = finish_floor(made, check_of(cancelled), second_opinion=False)
        if progress is not None:
            progress(1, 1)
        return found

    def _of(self, case: LiveCase) -> Floor:
        """Return the floor as it is in the round; drop what was kept of another."""
        floor = floor_in_round(case.floor, case.round)
        if floor != self._floor:
            self._floor, self._last = floor, None
            self._kept, self._windows = KeptFloor(), RoomWindows()
        return floor
