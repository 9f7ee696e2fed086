"""Readings counted by verdict and by reason.

A finding of the instrument log is counted by its rule. What the reader of the files says stands in
words only, so those are sorted by a phrase that they hold; a wording that is not known is counted
by its own words, with names and numbers left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from hgmap.site.reading import Reading, Verdict

Severity = Literal["hold", "caution", "overruled"]
MOST_LETTERS: Final = 70

# in this order: the first phrase that a text holds names its reason
_PHRASES: Final = (
    ("the same row twice", "a row that stands twice"),
    ("stands for different readings", "an id that stands for different readings"),
    ("more cells than the header", "a row with more cells than the header"),
    ("a decimal mark or for thousands", "a comma or point that may be a decimal mark"),
    ("is not a number", "a number that cannot be read"),
    ("beyond any measurement", "a value beyond any measurement"),
    ("a non-detect without its", "a non-detect without its detection limit"),
    ("is read as not detected", "a word read as not detected that may mean something else"),
    ("a reading of zero is a non-detect", "zero without a detection limit"),
    ("zero read as a non-detect", "zero read as a non-detect"),
    ("above the saturated concentration", "above the saturated concentration"),
    ("more than the whole sample", "more than the whole sample"),
    ("a concentration of", "a concentration that cannot be"),
    ("no value", "no value"),
    ("no unit", "no unit"),
    ("is not a date", "a time that cannot be read"),
    ("no round, and several rounds share", "no round"),
    ("is not in site.toml", "a round that site.toml does not have"),
    ("the plan of floor", "a floor whose plan could not be read"),
    ("floor not stated", "floor not stated"),
    ("no floor '", "a floor that the site does not have"),
    ("no floor", "no floor"),
    ("no room '", "a room that the plan does not have"),
    ("outside room", "a place outside its room"),
    ("lies in no room", "a place in no room"),
    ("neither a room nor coordinates", "no place"),
    ("x without y", "x without y, or y without x"),
    ("cannot be converted without the temperature", "ppb without the temperature of the air"),
    ("no height:", "no height"),
    ("is in no height band", "a height in no band"),
    ("height not stated", "height not stated"),
    ("representative point", "placed in the middle of its room"),
    ("m taken as in", "a height just beside its band"),
    ("stands on the line between", "on the line between two rooms"),
    ("was to be taken off", "no background or field blank to take off"),
    ("taken off", "background or field blank taken off"),
    ("disagree", "qualifier and value disagree"),
    ("known units:", "a unit that is not known"),
    ("below the row's detection limit", "a result below the detection limit of its row"),
    ("read as < ", "not detected, read as below the limit that is stated"),
    ("taken as ", "a height in words"),
    ("is not < or >", "a qualifier that is not known"),
)


@dataclass(frozen=True, slots=True)
class ReasonCount:
    """How many readings one reason stands against.

    Attributes
    ----------
    severity : {"hold", "caution", "overruled"}
    rule : str
        Of the instrument log; empty for what the reader of the files said.
    reason : str
        The phrase that it is counted by; for a rule, the first message.
    count : int
    readings : tuple of str
        Ids, in order.
    by : str
        Initials and reason of the person who overruled it; empty where nobody did.
    """

    severity: Severity
    rule: str
    reason: str
    count: int
    readings: tuple[str, ...]
    by: str = ""

    @property
    def text(self) -> str:
        """The reason, with the rule that it comes from and who overruled it."""
        text = f"{self.reason} [{self.rule}]" if self.rule else self.reason
        return f"{text}, by {self.by}" if self.by else text


def verdict_counts(readings: Iterable[Reading]) -> dict[Verdict, int]:
    """Count readings by verdict; every verdict has a count."""
    counts: dict[Verdict, int] = dict.fromkeys(get_args(Verdict), 0)
    for one in readings:
        counts[one.verdict] += 1
    return counts


def reason_counts(readings: Sequence[Reading]) -> tuple[ReasonCount, ...]:
    """Count what stands against readings: what holds first, the commonest first.

    A reading counts once for each reason, however often it is said.
    """
    found: dict[tuple[Severity, str, str], list[str]] = {}
    messages: dict[tuple[Severity, str, str], str] = {}
    for one in readings:
        keys: dict[tuple[Severity, str, str], str] = {}
        said = set()
        for finding in one.findings:
            severity: Severity = "overruled" if finding.overruled else finding.severity
            keys.setdefault((severity, finding.rule, finding.overruled), finding.message)
            said |= {finding.message, finding.text}
        for texts, severity in ((one.held, "hold"), (one.cautions, "caution")):
            for text in texts:
                if text not in said:
                    keys.setdefault((severity, "", short_reason(text)), "")
        for key, message in keys.items():
            found.setdefault(key, []).append(one.id)
            messages.setdefault(key, message)
    counts = [
        ReasonCount(
            key[0],
            key[1],
            messages[key] or key[2],
            len(ids),
            tuple(sorted(ids)),
            key[2] if key[0] == "overruled" else "",
        )
        for key, ids in found.items()
    ]
    order = list(get_args(Severity))
    return tuple(
        sorted(counts, key=lambda one: (order.index(one.severity), -one.count, one.reason))
    )


def short_reason(text: str) -> str:
    """Return what a text is counted by: a known phrase, else its head without names and numbers.

    Examples
    --------
    >>> short_reason("no floor 'attic'; did you mean 'top'?")
    'a floor that the site does not have'
    >>> short_reason("peak of 12.5 s, seen twice: too short")
    'peak of … s, seen twice'
    >>> short_reason("value 'tr.': something was detected: write a number")
    'something was detected'
    """
    for phrase, reason in _PHRASES:
        if phrase in text:
            return reason
    # "value 'ND': ..." names a cell only; what is the matter stands behind it
    text = re.sub(r"^[\w ]+ ('[^']*'|\"[^\"]*\"): ", "", text)
    head = re.split(r"[;:]", text, maxsplit=1)[0]
    head = re.sub(r"'[^']*'|\"[^\"]*\"|[-+]?\d[\d.,]*", "…", head)
    head = " ".join(head.split()) or "no words"
    return head if len(head) <= MOST_LETTERS else head[: MOST_LETTERS - 1] + "…"
