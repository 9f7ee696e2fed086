"""A description by bearings and distances, as deeds write it, read course by course.

``N 45°30'15" E 120.5 m; S 44°29'45" E 80 ft``: a course a line, or several with a semicolon
between. A bearing counts from north or south towards east or west; a number without letters is an
azimuth, clockwise from north.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from hgmap.errors import SiteError
from hgmap.site.bearings import azimuth_of
from hgmap.site.lengths import FOOT_M, US_SURVEY_FOOT_M

METRES: Final[dict[str, float]] = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "foot", "feet"), FOOT_M),
    **dict.fromkeys(
        ("us survey feet", "us survey foot", "us survey ft", "us ft", "ftus", "us feet", "sft",
         "survey feet", "survey foot"),
        US_SURVEY_FOOT_M,
    ),
    **dict.fromkeys(("ch", "chain", "chains"), 66.0 * US_SURVEY_FOOT_M),
    **dict.fromkeys(("rod", "rods", "pole", "poles", "perch", "perches"), 16.5 * US_SURVEY_FOOT_M),
    **dict.fromkeys(("link", "links", "lk"), 0.66 * US_SURVEY_FOOT_M),
}  # fmt: skip
"""Metres of each unit. The foot is the international one unless *US survey* is said (1200/3937 m);
chain, rod and link are 66, 16.5 and 0.66 US survey feet (NIST Special Publication 811, appendix B,
values from memory). A chain of 66 international feet is 2 ppm shorter."""

MOST_COURSES: Final = 10_000

_QUADRANT: Final = re.compile(
    r"(?P<from>[ns])(?P<angle>[\d.°'\"dms: -]*)(?P<to>[ew])(?P<rest>[ :]*[\d.].*)"
)
_DUE: Final = re.compile(r"(?:due )?(?P<way>[nesw])(?P<rest>[ :]*[\d.].*)")
_AZIMUTH: Final = re.compile(r"(?:azimuth|az)?[ :.]*(?P<angle>\d.*)")
_DISTANCE: Final = re.compile(r"(?P<number>\d+(?:\.\d*)?|\.\d+) *(?P<unit>[a-z][a-z ]*?)")
_NUMBER: Final = r"\d+(?:\.\d*)?"
_ANGLE: Final = re.compile(
    rf" *(?P<degrees>{_NUMBER})"
    rf"(?:(?P<sign>[°d-]| (?=\d)) *(?:(?P<minutes>{_NUMBER})"
    rf"(?:(?:['m-]| (?=\d)) *(?:(?P<seconds>{_NUMBER})[\"s]?)?)?)?)? *"
)
_WORDS: Final = (
    ("north", "n"), ("south", "s"), ("east", "e"), ("west", "w"), ("degrees", "°"),
    ("degree", "°"), ("deg", "°"), ("minutes", "'"), ("minute", "'"), ("min", "'"),
    ("seconds", '"'), ("second", '"'), ("sec", '"'),
)  # fmt: skip
_SIGNS: Final = str.maketrans({
    "º": "°", "˚": "°", "′": "'", "’": "'", "‘": "'", "´": "'", "`": "'", "″": '"', "”": '"',
    "“": '"', "–": "-", "\u2212": "-", "\u00a0": " ", "\t": " ",
})  # fmt: skip
_DUE_DEG: Final = {"n": 0.0, "e": 90.0, "s": 180.0, "w": 270.0}


@dataclass(frozen=True, slots=True)
class Course:
    """One side of a traverse: an azimuth (degrees, clockwise from north) and a length (m)."""

    azimuth_deg: float
    length_m: float
    written: str


def read_deed(text: str, *, where: str) -> tuple[Course, ...]:
    """Read the courses of a deed; lines that begin with # are remarks.

    Raises
    ------
    SiteError
        If a course cannot be read, with its line and number, or there is none. A figure that has
        lost a side is another figure, so that no course is left out.
    """
    courses: list[Course] = []
    for line, whole in enumerate(text.splitlines(), start=1):
        if whole.lstrip().startswith("#"):
            continue
        for part in whole.split(";"):
            if not part.strip(" ,.\t"):
                continue
            place = f"{where}, row {line}, course {len(courses) + 1}"
            courses.append(read_course(part, where=place))
    if not courses:
        raise SiteError(
            "no course", where=where, todo="write one a line, as N 45°30'15\" E 120.5 m"
        )
    if len(courses) > MOST_COURSES:
        raise SiteError(f"{len(courses)} courses are more than {MOST_COURSES}", where=where)
    return tuple(courses)


def read_course(text: str, *, where: str = "") -> Course:
    """Read one course.

    Examples
    --------
    >>> read_course("S 44-29-45 E 2 chains").azimuth_deg
    135.50416666666666
    >>> read_course("thence due West, 10 ft").length_m
    3.048
    >>> read_course("azimuth 181°30' 12 m").azimuth_deg
    181.5

    Raises
    ------
    SiteError
        Naming what could not be read.
    """
    written = " ".join(text.split())
    plain = _plain(written)
    for pattern, way in ((_QUADRANT, _quadrant), (_DUE, _due)):
        found = pattern.fullmatch(plain)
        if found is not None:
            azimuth = way(found, written, where)
            return Course(azimuth, _length(found["rest"], written, where), written)
    found = _AZIMUTH.fullmatch(plain)
    if found is None:
        raise _unread(written, where)
    # the distance is what stands last, with its unit: a number and letters
    tail = re.search(rf"(?:(?<=[ '\"°,:d])|^)(?:{_DISTANCE.pattern})$", found["angle"])
    if tail is None or tail.start() == 0:
        raise _unread(written, where)
    azimuth = _degrees(found["angle"][: tail.start()], 360.0, written, where)
    return Course(azimuth % 360.0, _length(tail[0], written, where), written)


def _plain(written: str) -> str:
    """Write a course in one manner: small letters, one sign each, no words between."""
    plain = written.casefold().translate(_SIGNS).replace("''", '"')
    # 1,120.50 and 1,234,567 say by themselves what their commas are for
    plain = re.sub(r"\b\d{1,3}(?:(?:,\d{3})+(?=\.\d)|(?:,\d{3}){2,}\b)",
                   lambda found: found[0].replace(",", ""), plain)  # fmt: skip
    plain = re.sub(r"\bu\.? ?s\.?(?= (?:survey|ft|feet|foot))", "us", plain)
    plain = re.sub(r"^ *(?:\d+[.):] +)?(?:thence\b)?[ ,]*", "", plain)
    plain = re.sub(r"\b(?:for|a distance of|distance)\b", " ", plain)
    for word, sign in _WORDS:
        plain = re.sub(rf"(?<![a-z]){word}\.?(?![a-z])", sign, plain)
    plain = re.sub(r"\b([nesw])\.", r"\1", plain)
    plain = re.sub(r",(?!\d)", " ", plain)
    return re.sub(r" +(?=[°'\"])", "", " ".join(plain.rstrip(" .").split()))


def _quadrant(found: re.Match[str], written: str, where: str) -> float:
    angle = _degrees(found["angle"], 90.0, written, where)
    return azimuth_of(found["from"] == "s", angle, found["to"] == "w")


def _due(found: re.Match[str], written: str, where: str) -> float:
    return _DUE_DEG[found["way"]]


def _degrees(text: str, most: float, written: str, where: str) -> float:
    found = _ANGLE.fullmatch(text.strip(" :"))
    if found is None:
        raise _unread(written, where)
    whole, minutes, seconds = (float(found[key] or 0) for key in ("degrees", "minutes", "seconds"))
    cut = (found["minutes"] and whole % 1) or (found["seconds"] and minutes % 1)
    degrees = whole + minutes / 60.0 + seconds / 3600.0
    if minutes >= 60.0 or seconds >= 60.0 or degrees > most or cut:
        raise SiteError(f"{text.strip()!r} is no angle up to {most:g}°", where=where, todo=_FORMS)
    return degrees


def _length(text: str, written: str, where: str) -> float:
    if re.search(r"\d,\d", text):
        raise SiteError(
            f"{text.strip()!r}: is the comma a decimal mark or for thousands?",
            where=where,
            todo="write a point for decimals, and no comma",
        )
    found = _DISTANCE.fullmatch(text.strip(" :"))
    if found is None:
        raise SiteError(
            f"{written[:60]!r} has no distance with its unit",
            where=where,
            todo="write the unit after each distance: m, ft, US survey feet or chains",
        )
    metres = METRES.get(found["unit"].strip())
    if metres is None:
        raise SiteError(
            f"{found['unit'].strip()[:30]!r} is no unit of length known here",
            where=where,
            todo="write m, ft, US survey feet, chains, rods or links",
        )
    length = float(found["number"]) * metres
    if length == 0.0:
        raise SiteError("a course of no length", where=where, todo="take it out")
    return length


_FORMS: Final = "write N 45°30'15\" E 120.5 m, N 45-30-15 E 80 ft, or 45.5042° 120.5 m"


def _unread(written: str, where: str) -> SiteError:
    return SiteError(f"{written[:60]!r} is no bearing and distance", where=where, todo=_FORMS)
