"""What people call the columns of a readings table, and the unit that stands in a title."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from hgmap.errors import HgmapError
from hgmap.site.intake.height import METRES_IN
from hgmap.site.units import parse_unit

COLUMNS: Final = (
    "id", "floor", "room", "x", "y", "height", "time", "value", "unit", "qualifier", "round",
    "note", "temperature", "low", "kind", "instrument", "duplicate_of", "detection_limit",
    "pressure", "grid", "offsets",
)  # fmt: skip
"""The columns of a site's readings file."""

TARGETS: Final = (*COLUMNS, "date")
"""What a column of theirs can be; ``date`` is joined to ``time``."""

SYNONYMS: Final[dict[str, tuple[str, ...]]] = {
    # the better name first; common practice, no source
    "id": (
        "id", "reading id", "sample id", "sample no", "sample number", "sample name", "reading no",
        "reading number", "sample", "point id", "point no", "point number", "point", "station",
        "no", "nr", "number", "tag", "label", "ref", "reference", "probe",
    ),
    "floor": ("floor", "storey", "story", "floor name", "floor level", "level", "etage",
              "geschoss", "stockwerk"),
    "room": ("room", "room name", "room no", "room number", "room id", "room area", "raum",
             "location", "sample location", "reading location", "area", "space", "place",
             "position", "salle", "sala"),
    "x": ("x", "x coord", "x coordinate", "x position", "x pos", "easting", "east"),
    "y": ("y", "y coord", "y coordinate", "y position", "y pos", "northing", "north"),
    "height": ("height", "height above floor", "sample height", "sampling height",
               "inlet height", "reading height", "z", "ht", "h", "höhe", "hoehe", "hauteur",
               "altura"),
    "date": ("date", "sample date", "survey date", "date sampled", "reading date", "day",
             "datum"),
    "time": ("time", "date time", "datetime", "date and time", "timestamp", "time stamp",
             "sample time", "reading time", "time of day", "clock", "uhrzeit", "when"),
    "value": ("value", "result", "reading", "concentration", "conc", "hg", "hg0", "mercury",
              "mercury vapor", "mercury vapour", "hg vapor", "hg vapour", "hg concentration",
              "mercury concentration", "hg conc", "hg reading", "hg result", "mercury reading",
              "mercury result", "hg level", "mercury level", "measurement", "measured value",
              "measured", "result value", "value high", "high value", "amount", "messwert",
              "wert", "ergebnis", "résultat", "resultado", "valor", "valeur"),
    "unit": ("unit", "units", "uom", "unit of measure", "result unit", "result units",
             "reading unit", "unit as reported", "einheit"),
    "qualifier": ("qualifier", "flag", "qual", "q", "lab qualifier", "lab flag",
                  "data qualifier", "result qualifier", "result flag", "sign",
                  "symbol", "prefix", "operator"),
    "low": ("low", "value low", "low value", "lower value", "range low"),
    "round": ("round", "visit", "survey round", "round name"),
    "note": ("note", "notes", "comment", "comments", "remark", "remarks", "observation",
             "observations", "bemerkung"),
    "temperature": ("temperature", "temp", "air temperature", "air temp", "room temperature",
                    "room temp", "t", "temperatur"),
    "kind": ("kind", "type", "sample type", "reading type", "kind of reading", "category",
             "qc type", "qa type"),
    "instrument": ("instrument", "instrument id", "instrument name", "meter", "analyser",
                   "analyzer", "device", "meter id"),
    "duplicate_of": ("duplicate of", "dup of", "replicate of", "parent sample", "parent"),
    "detection_limit": ("detection limit", "lod", "dl", "mdl", "limit of detection",
                        "method detection limit", "reporting limit", "rl", "mrl", "rdl", "loq",
                        "pql", "method reporting limit", "limit of quantification",
                        "limit of quantitation", "quantitation limit", "quantification limit"),
    "pressure": ("pressure", "air pressure", "barometric pressure", "barometer", "baro"),
    "grid": ("grid", "grid ref", "grid reference", "grid point", "grid node", "grid square",
             "grid cell"),
    "offsets": ("offsets", "offset", "wall offsets", "from walls", "distance from walls",
                "distances from walls"),
}  # fmt: skip

RANK: Final[dict[str, tuple[str, int]]] = {
    name: (ours, rank) for ours, names in SYNONYMS.items() for rank, name in enumerate(names)
}
"""Title to our column, and how good a name it is (0 is best)."""

KELVIN: Final = 273.15
CELSIUS: Final = {
    **dict.fromkeys(("c", "°c", "degc", "deg c", "celsius", "ºc"), "C"),
    **dict.fromkeys(("f", "°f", "degf", "deg f", "fahrenheit", "ºf"), "F"),
    "k": "K",
    "kelvin": "K",
}
KILOPASCALS_IN: Final = {
    "kpa": 1.0,
    **dict.fromkeys(("hpa", "mbar", "mb", "millibar"), 0.1),
    "pa": 0.001,
    "bar": 100.0,
    "atm": 101.325,
    # conventional millimetre and inch of mercury (value from memory)
    **dict.fromkeys(("mmhg", "mm hg", "torr"), 0.133322387415),
    **dict.fromkeys(("inhg", "in hg", '"hg'), 3.386389),
}

_NUMBERED: Final = 60
_LIKE_A_UNIT: Final = re.compile(r"(?:n|u|µ|μ|mc|m)g\s*/|ppb", re.IGNORECASE)
_MULTIPLES: Final = re.compile(
    r"(?:[x×*]?10{1,6}|[x×*]?10\^?\d|[x×]|1e\d|thousands?|millions?)", re.I
)
"""Words before a unit that multiply it: "x1000 ng/m3" is no title in ng/m³."""
_LENGTH_WORDS: Final = frozenset(METRES_IN) - {"in", "in.", "'", '"', "''"}
_NO_LENGTHS: Final = frozenset(
    ("tile", "tiles", "pace", "paces", "step", "steps", "square", "squares", "px", "pixel",
     "pixels", "block", "blocks", "chains", "yd", "yard", "yards")
)  # fmt: skip
"""What a distance may be counted in that is no length by itself: such a column is held."""
_OTHER_UNIT: Final = re.compile(
    r"(?:[nuµμmk]|mc)?g\b|pp[mtq]|%|m?v\b|counts?|cps|[x×*]?\s?10|\d{3}|l\b|sec|min\b",
    re.IGNORECASE,
)
_BRACKETS: Final = re.compile(r"[(\[{]([^()\[\]{}]*)[)\]}]")


@dataclass(frozen=True, slots=True)
class Title:
    """A title taken apart.

    Attributes
    ----------
    text : str
        As it stands.
    key : str
        Its words in small letters without the unit.
    concentration : str
        Unit of concentration in it, as we print it; else empty.
    measure : str
        Another unit in it (m, ft, °F, mbar ...), in small letters; else empty.
    """

    text: str
    key: str
    concentration: str = ""
    measure: str = ""

    @property
    def strange_unit(self) -> bool:
        """Whether brackets in it hold what looks like a unit, but is none of concentration."""
        inside = _BRACKETS.findall(self.text)
        return not self.concentration and any(_OTHER_UNIT.match(one.strip()) for one in inside)

    @property
    def ours(self) -> tuple[str, int] | None:
        """Our column by its name, and the rank of the name; None where it is not known."""
        known = RANK.get(self.key)
        if known is None and self.key[-1:].isdecimal():
            # "Reading 1" beside "Reading 2": which is the value has to be asked
            base = RANK.get(self.key.rstrip("0123456789 "))
            return ("value", _NUMBERED) if base and base[0] == "value" else None
        return known


def concentration_unit(text: str) -> str:
    """Return the unit of concentration that a text is, as we print it, or an empty text."""
    text = text.strip(" .,:;")
    if len(text) > 20 or _LIKE_A_UNIT.match(text) is None:
        return ""  # quick: asking for the nearest unit takes long
    try:
        return parse_unit(text).symbol
    except HgmapError:
        return ""


def other_unit(text: str) -> str:
    """Return a unit of length, temperature or pressure in small letters, or an empty text."""
    key = text.strip(" .,:;").casefold()
    if key in METRES_IN or key in CELSIUS or key in KILOPASCALS_IN:
        return key
    # "ft AFF", "US ft", "m above floor"
    return next((word for word in key.split() if word in _LENGTH_WORDS | _NO_LENGTHS), "")


def read_title(text: str) -> Title:
    """Take a title apart.

    Examples
    --------
    >>> read_title("Hg (ng/m3)")
    Title(text='Hg (ng/m3)', key='hg', concentration='ng/m³', measure='')
    >>> read_title("height_ft").measure
    'ft'
    """
    if len(text) > 200:
        return Title(text, "")
    inside = _BRACKETS.findall(text)
    words = _BRACKETS.sub(" ", text).replace("_", " ").split()
    concentration = next(filter(None, map(concentration_unit, inside)), "")
    measure = next(filter(None, map(other_unit, inside)), "")
    if concentration and words and _MULTIPLES.fullmatch(words[-1]):
        return Title(text, " ".join(words).casefold())
    for n in (3, 2, 1):
        tail = words[-n:]
        if concentration or measure:
            break
        if len(tail) < n:
            continue
        concentration = concentration_unit(" ".join(tail)) or concentration_unit("/".join(tail))
        measure = "" if concentration or len(words) == n else other_unit(" ".join(tail))
        if concentration or measure:
            words = words[:-n]
            if concentration and words and _MULTIPLES.fullmatch(words[-1]):
                return Title(text, " ".join(words).casefold())
    if words and (concentration or measure) and words[-1].casefold().strip(",") in ("in", "as"):
        words = words[:-1]
    key = " ".join(re.sub(r"[^\w]+", " ", " ".join(words).casefold()).split())
    if not key and text.strip() in ("#", "№"):
        key = "no"
    return Title(text, key, concentration, measure)
