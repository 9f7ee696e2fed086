"""Which tables each of our objects is shown as."""

from __future__ import annotations

from functools import singledispatch
from html import escape
from typing import Any

from hgmap.batch import MapRun
from hgmap.clearance import ClearanceRun
from hgmap.compare import Comparison
from hgmap.decide.change_model import FloorChange
from hgmap.decide.clearance.outcome import LevelClearance
from hgmap.decide.design.visits import FloorWalk
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.design import DesignRun
from hgmap.field.surface import Surface
from hgmap.floor_map import FloorMap
from hgmap.showing import map_tables, run_tables, site_tables
from hgmap.site.building import Floor
from hgmap.site.check import SiteCheck
from hgmap.site.importers.add_floor import ImportReport
from hgmap.site.intake.import_readings import ImportedReadings
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.quality import QualityReport


@singledispatch
def html_of(thing: Any) -> str:
    """Return tables of an object of ours; of anything else its name."""
    return escape(repr(thing))


html_of.register(Site, site_tables.site)
html_of.register(ActionLevel, site_tables.level)
html_of.register(Floor, site_tables.floor)
html_of.register(SiteCheck, site_tables.check)
html_of.register(QualityReport, site_tables.quality)
html_of.register(ImportReport, site_tables.imported_plan)
html_of.register(ImportedReadings, site_tables.imported_readings)
html_of.register(Surface, map_tables.surface)
html_of.register(FloorEvidence, map_tables.evidence)
html_of.register(Zones, map_tables.zones)
html_of.register(ResampleList, map_tables.resample)
html_of.register(FloorMap, map_tables.floor_map)
html_of.register(MapRun, run_tables.map_run)
html_of.register(FloorChange, run_tables.change)
html_of.register(Comparison, run_tables.comparison)
html_of.register(LevelClearance, run_tables.level_clearance)
html_of.register(ClearanceRun, run_tables.clearance)
html_of.register(FloorWalk, run_tables.walk)
html_of.register(DesignRun, run_tables.design)
