"""One floor at one level: from its evidence to its estimates and what they rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from hgmap.decide.contours import RoomWindows
from hgmap.decide.evidence import gather_evidence
from hgmap.decide.further import AT_FULL_WEIGHT, other_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.decide.ruling import FloorRuling
from hgmap.decide.zones import rule_floor
from hgmap.errors import EstimateError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.kept_floor import KeptFloor
from hgmap.field.points import Check, never
from hgmap.field.surface import Surface
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Site
from hgmap.site.plan_picture import GUESSED
from hgmap.site.warnings import lost_readings


@dataclass(frozen=True)
class LevelCase:
    """A level that a floor is ruled on for: the site as judged for it, and what goes with it.

    ``unfit`` says why the readings of the round are not fit to map: then nothing is clear.
    ``purpose`` is what the level is for, in the site's own words.
    """

    site: Site
    level: ActionLevel
    unfit: tuple[str, ...] = ()
    purpose: str = ""


@dataclass(frozen=True)
class Ruled:
    """What one level makes of a floor; fields as in :class:`hgmap.floor_map.FloorMap`."""

    evidence: FloorEvidence
    surface: Surface | None
    ruling: FloorRuling
    no_surface: str
    nothing_clear: str


@dataclass
class Estimates:
    """Estimates of one floor, each made once: levels with the same evidence share them.

    ``check`` is called now and then, and cancels by raising. ``kept`` and ``windows`` are of this
    very floor, and may be handed on to the next estimates of it.
    """

    settings: EstimateSettings
    progress: Callable[[int, int], None] | None = None
    check: Check = never
    kept: KeptFloor = field(default_factory=KeptFloor)
    windows: RoomWindows = field(default_factory=RoomWindows)
    _made: dict[tuple[bytes, ...], Surface] = field(default_factory=dict)

    def of(self, evidence: FloorEvidence, *, trusted: bool = False) -> Surface:
        """Estimate from the used readings; ``trusted``: as though they had no error of their own.

        Raises
        ------
        EstimateError
            If no surface can be made.
        """
        error = None if trusted else evidence.error
        low, high = evidence.bounds
        arrays = (evidence.xy, evidence.concentration, evidence.room, low, high, evidence.ranges)
        key = (
            *(one.tobytes() for one in arrays),
            b"" if error is None or not error.any() else error.tobytes(),
        )
        if key not in self._made:
            progress = None if self._made else self.progress  # that of the first, the longest
            self._made[key] = estimate_surface(
                evidence.floor, evidence.xy, evidence.concentration, self.settings, progress,
                room=evidence.room, bounds=(low, high), ranges=evidence.ranges, error=error,
                kept=self.kept, check=self.check,
            )  # fmt: skip
        return self._made[key]


def rule_on(case: LevelCase, floor: Floor, round_name: str, band: str, made: Estimates) -> Ruled:
    """Gather a floor's evidence at a level, estimate from it and rule.

    Raises
    ------
    EstimateError
        If a setting does not fit; too few readings are a finding, not an error.
    """
    site = case.site
    evidence = gather_evidence(site, floor, round_name, band, case.level)
    surface, no_surface = None, ""
    also: list[tuple[str, Surface]] = []
    try:
        first = made.of(evidence)
        if evidence.error.any():
            also.append((AT_FULL_WEIGHT, made.of(evidence, trusted=True)))
        for why, other in other_evidence(site, evidence):
            also.append((why, made.of(other)))
            if other.error.any():
                also.append((why, made.of(other, trusted=True)))
        surface = first  # by all of them or not at all
    except EstimateError as error:
        if error.where:  # a step that does not fit is a mistake to mend, not a finding
            raise
        no_surface = str(error)
    contradicted = () if surface is None or not surface.contradicted else (surface.contradicted,)
    guessed = (GUESSED,) if floor.picture is not None and floor.picture.guessed else ()
    nothing_clear = "; ".join(
        (*lost_readings(site, round_name), *guessed, *contradicted, *case.unfit)
    )
    rules = site.settings
    ruling = rule_floor(
        evidence,
        surface,
        remediate_at=rules.remediate_at,
        clear_at=rules.clear_at,
        guard_m=rules.guard_m,
        no_surface=no_surface,
        nothing_clear=nothing_clear,
        also=also,
        windows=made.windows,
        check=made.check,
    )
    return Ruled(evidence, surface, ruling, no_surface, nothing_clear)
