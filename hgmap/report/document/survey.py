"""Everything that a report is written from, as the map and the clearance of a round left it."""

from __future__ import annotations

from dataclasses import dataclass

from hgmap.decide.change_model import FloorChange
from hgmap.decide.clearance.outcome import LevelClearance
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.rooms import RoomRow
from hgmap.field.crosscheck import SecondOpinion
from hgmap.field.surface import Surface
from hgmap.report.drawing import Sheet
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Problem, Round, Site
from hgmap.site.quality.quality import QualityReport


@dataclass(frozen=True)
class SurveyFloor:
    """One floor's map, with its sheets by name; fields as of :class:`hgmap.floor_map.FloorMap`."""

    floor: Floor
    evidence: FloorEvidence
    surface: Surface | None
    zones: Zones
    resample: ResampleList
    rooms: tuple[RoomRow, ...]
    opinion: SecondOpinion | None
    no_surface: str
    warnings: tuple[str, ...]
    sheets: tuple[tuple[str, Sheet], ...]


@dataclass(frozen=True)
class SurveyClearance:
    """The clearance of a round.

    ``why_none`` says why there is none; then nothing else is filled. ``rules_left_out`` are rules
    that were not asked here, each with its reason.
    """

    levels: tuple[LevelClearance, ...] = ()
    rules: tuple[ClearanceRule, ...] = ()
    notes: tuple[str, ...] = ()
    why_none: str = ""
    rules_left_out: tuple[str, ...] = ()


@dataclass(frozen=True)
class SurveyChange:
    """What changed since another round; ``why_none`` says why nobody can tell.

    Attributes
    ----------
    since : Round
        The round that this one is compared with.
    floors : tuple
        Each floor that was compared, with the sheet of its change.
    failed : tuple of Problem
        Floors that could not be compared.
    to_read : bool
        Something rose, cannot be told, could not be compared or comes with a warning.
    """

    since: Round
    floors: tuple[tuple[FloorChange, Sheet], ...] = ()
    failed: tuple[Problem, ...] = ()
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    to_read: bool = True
    why_none: str = ""


@dataclass(frozen=True)
class Survey:
    """One round of a site, mapped and ruled on.

    Attributes
    ----------
    site : Site
        As judged for the level.
    cautions : tuple of str
        About the level and the rules; they stand with every ruling.
    notes, warnings : tuple of str
    failed : tuple of Problem
        Floors that could not be made.
    held : tuple of Problem
    change : SurveyChange or None
        None where no comparison was asked for.
    site_map : Sheet or None
        All buildings on one map; None where there is one building, or no map to lie on.
    """

    site: Site
    round: Round
    band: str
    level: ActionLevel
    quality: QualityReport
    floors: tuple[SurveyFloor, ...]
    clearance: SurveyClearance
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    failed: tuple[Problem, ...]
    held: tuple[Problem, ...]
    version: str
    change: SurveyChange | None = None
    site_map: Sheet | None = None
