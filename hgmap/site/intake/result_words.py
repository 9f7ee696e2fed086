"""Words that people write where a number should be."""

from __future__ import annotations

from typing import Final, Literal

from hgmap.site.reading import Qualifier

Word = Literal["", "non-detect", "trace", "over range", "not measured"]

_ND_CAUTION: Final = "'nd' is read as not detected; some write it for not determined"
_QUANTIFICATION: Final = "below what can be quantified: it may have been detected"

WORDS: Final[dict[str, tuple[Word, Qualifier, str]]] = {
    # as printed by ATSDR (Bartlesville: BDL) and a school district (none detected); see SOURCES of
    # the public tables. The others are common practice, no source.
    **dict.fromkeys(
        (
            "bdl", "b.d.l.", "bld", "blod", "below detection", "below detection limit",
            "below the detection limit", "below limit of detection", "below lod", "below mdl",
            "<dl", "<lod", "<mdl", "<bdl", "< dl", "< lod", "< mdl", "<detection limit", "bmdl",
            "none detected", "not detected", "non detect", "nondetect", "non-detect",
            "nothing detected", "undetected", "not detectable", "n.n.", "nicht nachweisbar",
            "u",  # laboratories: analysed for, not detected
        ),
        ("non-detect", "<", ""),
    ),
    **dict.fromkeys(("nd", "n.d.", "n.d", "n/d"), ("non-detect", "<", _ND_CAUTION)),
    **dict.fromkeys(
        ("<loq", "< loq", "<rl", "< rl", "<lloq", "<pql", "below loq", "below rl", "bql",
         "below reporting limit", "below quantification limit"),
        ("non-detect", "<", _QUANTIFICATION),
    ),
    "uj": ("non-detect", "<", "its limit is an estimate"),
    **dict.fromkeys(("trace", "traces", "tr", "tr."), ("trace", "", "")),
    **dict.fromkeys(
        (
            "ol", "o.l.", "o/l", "over range", "overrange", "over-range", "out of range high",
            "above range", "saturated", "sat", "sat.", "saturation", "overload", "over load",
            "overloaded", "off scale", "off-scale", "offscale", "full scale", ">range", "> range",
            "over scale", "over-scale", "overscale", "o.r.",
        ),
        ("over range", ">", ""),
    ),
    **dict.fromkeys(
        (
            "n/a", "na", "n.a.", "nm", "n.m.", "not measured", "not taken", "not sampled", "-",
            "--", "---", "no reading", "not tested", "not analysed", "not analyzed",
            "not accessible", "no access", "missing", "nr", "n/r", "not recorded", "lost", "void",
            "#n/a", "null", "nan", "?",
        ),
        ("not measured", "", ""),
    ),
}  # fmt: skip
"""Word to its meaning, its qualifier, and what is assumed."""
