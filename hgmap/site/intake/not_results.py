"""Words that keep a column, a date or a line from being taken for a result, its day or its unit."""

from __future__ import annotations

import re
from typing import Final

_NOT_A_RESULT: Final = re.compile(
    # common practice, no source: what stands in a survey's table beside its results
    r"\b(?:limits?|m?dl|lod|loq|lloq|m?rl|rdl|pql|action|guidelines?|guidance|standards?|criteri\w+"
    r"|thresholds?|screening|regulatory|permissible|pel|rel|tlv|alarm|target|uncertainty|error|s\.?d"
    r"|std|stdev|deviation|rsd|rpd|blanks?|background|outdoors?|zero|span|reference|volume|vol|flow"
    r"|rate|humidity|rh|batt\w*|duration|minutes|mins?|seconds|secs?|count|distance|dust|t?voc|co2?"
    r"|pm\d*|particul\w+|ozone|mass|weight|ng|[uµμ]g|mg|ml|lit(?:re|er)s?|percent|wind|dew"
    r"|temp\w*|pressure|serial|page|year|age|cost)\b|%"
)
_NOT_WHEN_TAKEN: Final = re.compile(
    r"receiv|analy[sz]|report|print|calibrat|\bdue\b|issue|expir|enter|approv|review|ship|extract"
)
_A_LEVEL: Final = re.compile(
    r"action|limit|guid(?:e|ance)|level|standard|criteri|thresh|background|screen|exceed"
    r"|detect|range|clear|target|\b(?:pel|rel|tlv|lod|loq|m?dl|m?rl)\b"
)


def is_no_result(words: str) -> bool:
    """Tell whether a title speaks of a limit, an error, another substance or another quantity.

    Examples
    --------
    >>> is_no_result("action level"), is_no_result("mercury in air")
    (True, False)
    """
    return _NOT_A_RESULT.search(words.casefold()) is not None


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
