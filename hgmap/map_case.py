"""What a map is asked: which round, height band and level, and the site as judged for them."""

from __future__ import annotations

from dataclasses import dataclass

from hgmap.batch_choice import check_cell, choose_round
from hgmap.decide.evidence import choose_band
from hgmap.floor_map import MapOptions
from hgmap.floor_ruling import LevelCase
from hgmap.level_cases import first_level, further_levels
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.quality.quality import QualityReport, no_clearance, not_fit, quality_report
from hgmap.site.rules import unusual_rules, with_rules
from hgmap.site.trust import judged_site
from hgmap.site.warnings import lost_readings, site_warnings


@dataclass(frozen=True)
class MapCase:
    """A site as judged for a level, and what every floor of it is mapped by.

    Attributes
    ----------
    site : Site
        As judged: its readings held or used.
    purpose : str
        What the level is for, in the site's own words.
    further : tuple of LevelCase
        Other levels that zones are made for.
    cautions, about_further : tuple of str
        What goes with the level, and with the further ones.
    notes : tuple of str
        What was chosen because nobody said it.
    quality : QualityReport
        Of the round.
    """

    site: Site
    round: Round
    band: str
    level: ActionLevel
    purpose: str
    further: tuple[LevelCase, ...]
    cautions: tuple[str, ...]
    about_further: tuple[str, ...]
    notes: tuple[str, ...]
    quality: QualityReport

    @property
    def unfit(self) -> tuple[str, ...]:
        """Why the readings of the round are not fit to map; then nothing is clear."""
        return not_fit(self.quality)

    @property
    def unusual(self) -> tuple[str, ...]:
        """Rules of the site's own that differ from what is built in."""
        return unusual_rules(self.site.settings)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What holds for every floor of the site."""
        return (
            *lost_readings(self.site, self.round.name), *site_warnings(self.site), *self.unfit,
            *no_clearance(self.quality),
        )  # fmt: skip


def map_case(as_read: Site, options: MapOptions) -> MapCase:
    """Choose round, height band and levels for a site as it was read, and judge it by them.

    Raises
    ------
    HgmapError
        If there is no level, no such round or band, or the cell size cannot be used.
    """
    as_read = with_rules(
        as_read, remediate_at=options.remediate_at, clear_at=options.clear_at,
        whole_rooms=options.whole_rooms,
    )  # fmt: skip
    level, cautions, purpose = first_level(as_read, options.level)
    site = judged_site(as_read, level)
    chosen, notes = choose_round(site, options.round)
    # the zones of a level lie inside those of the others
    further, about_further = further_levels(
        as_read, level, options.level, options.further_levels, chosen.name
    )
    band, band_notes = choose_band(site, chosen.name, options.height_band)
    check_cell(options.cell_m)
    quality = quality_report(site, level, chosen.name)
    return MapCase(
        site, chosen, band, level, purpose, further, cautions, about_further,
        (*notes, *band_notes), quality,
    )  # fmt: skip
