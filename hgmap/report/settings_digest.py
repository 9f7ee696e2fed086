"""A short name for what a map was made from: another setting or another input, another name."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from typing import Final

from hgmap.decide.model import FloorEvidence
from hgmap.field.surface import Surface
from hgmap.site.model import Site

_LETTERS: Final = 10


def settings_digest(site: Site, evidence: FloorEvidence, surface: Surface | None) -> str:
    """Return ten letters of the SHA-256 of a floor's settings and of every input file.

    Which they are stands in summary.json: the files with their own digests, the level, the rules,
    and the settings of the estimate.
    """
    told = {
        "inputs": dict(sorted(site.digests.items())),
        "rules": asdict(site.settings),
        "level": asdict(evidence.level),
        "round": evidence.round,
        "height_band": evidence.band,
        "floor": evidence.floor.name,
        "estimate": None if surface is None else surface.settings,
    }
    written = json.dumps(told, sort_keys=True, ensure_ascii=True, default=str)
    return hashlib.sha256(written.encode()).hexdigest()[:_LETTERS]
