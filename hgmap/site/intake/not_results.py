"""Words that keep a column, a date or a line from being taken for a result, its day or its unit."""

from __future__ import annotations

import re
from typing import Final

_NOT_OF_AIR: Final = re.compile(
    # common practice, no source: what stands in a survey's table beside its results
    r"\b(?:limits?|m?dl|lod|loq|lloq|m?rl|rdl|pql|action|guidelines?|guidance|standards?|criteri\w+"
    r"|thresholds?|screening|regulatory|permissible|pel|rel|tlv|alarm|target|uncertainty|error|s\.?d"
    r"|std|stdev|deviation|blanks?|background|outdoors?|zero|span|reference|dust|t?voc|co2?|pm\d*"
    r"|particul\w+|ozone)\b"
)
_ANOTHER_QUANTITY: Final = re.compile(
    r"\b(?:rsd|rpd|volume|vol|flow|rate|humidity|rh|batt\w*|duration|minutes|mins?|seconds|secs?"
    r"|count|distance|mass|weight|ng|[uµμ]g|mg|ml|lit(?:re|er)s?|percent|wind|dew|temp\w*|pressure"
    r"|serial|page|year|age|cost)\b|%"
)
_CORRECTED: Final = re.compile(r"correct|subtract|adjust|\bnet\b")
_NOT_WHEN_TAKEN: Final = re.compile(
    r"receiv|analy[sz]|report|print|calibrat|\bdue\b|issue|expir|enter|approv|review|ship|extract"
)
_A_LEVEL: Final = re.compile(
    r"action|limit|guid(?:e|ance)|level|standard|criteri|thresh|background|screen|exceed"
    r"|detect|range|clear|target|\b(?:pel|rel|tlv|lod|loq|m?dl|m?rl)\b"
)


def is_no_result(title: str, *, has_unit: bool) -> bool:
    """Tell whether a title speaks of a limit, an error, another substance or another quantity.

    With a unit of concentration it is a concentration, though it may say "1 min".

    Examples
    --------
    >>> is_no_result("Action level", has_unit=True), is_no_result("1 min mean", has_unit=True)
    (True, False)
    """
    words = title.casefold()
    if _CORRECTED.search(words) is not None:
        return False  # a result, from which the blank or the background was taken
    if _NOT_OF_AIR.search(words) is not None:
        return True
    return not has_unit and _ANOTHER_QUANTITY.search(words) is not None


def is_not_when_taken(title: str) -> bool:
    """Tell whether a title speaks of the day of something else than the reading.

    Examples
    --------
    >>> is_not_when_taken("Date analysed"), is_not_when_taken("Day of visit")
    (True, False)
    """
    return _NOT_WHEN_TAKEN.search(title.casefold()) is not None


def speaks_of_a_level(text: str) -> bool:
    """Tell whether a line speaks of a level or a limit, whose unit need not be the results'.

    Examples
    --------
    >>> speaks_of_a_level("Action level 1 ug/m3"), speaks_of_a_level("Results in ng/m3")
    (True, False)
    """
    return _A_LEVEL.search(text.casefold()) is not None
