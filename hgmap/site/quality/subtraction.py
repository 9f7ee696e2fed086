"""Background or field blank taken off readings, with the error of both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from hgmap.site.quality.blanks import METHOD_OF, BlankKind, BlankSummary, blank_summary
from hgmap.site.quality.figures import counted, figure
from hgmap.site.quality.places import Method, method_of
from hgmap.site.reading import Reading

How = Literal["nothing", "background", "field blank"]


def subtract(readings: Sequence[Reading], how: How, unit: str = "µg/m³") -> list[Reading]:
    """Take the round's background, or its field blanks, off readings.

    Field blanks are taken off laboratory samples, background off direct readings. Only a plain
    number loses anything, so nothing comes out too low: a non-detect keeps its limit, a saturated
    reading and a range stay as they are. ``value`` stays as written, ``concentration`` is what is
    left, and ``error`` becomes ``sqrt(error² + blank's error²)``. What is left and is not above
    that error becomes a non-detect at the reading as written: nothing more is known of it.

    Parameters
    ----------
    readings : sequence of Reading
        Of any round; judged already, held ones stay as they are.
    how : {"nothing", "background", "field blank"}
    unit : str
        The computing unit, for the words.

    Returns
    -------
    list of Reading
        In the same order. A round that has nothing to take off says so in a caution: its
        readings stay too high rather than too low.
    """
    if how == "nothing":
        return list(readings)
    rounds = {one.round for one in readings}
    blanks = {name: blank_summary(readings, how, name, unit) for name in rounds}
    samples = {(one.round, one.id) for one in readings if one.kind == "laboratory"}

    def method(one: Reading) -> Method:
        repeats_a_sample = one.kind == "duplicate" and (one.round, one.duplicate_of) in samples
        return "laboratory" if repeats_a_sample else method_of(one)

    return [
        _less(one, blanks[one.round], unit)
        if one.usable and one.on_map and method(one) == METHOD_OF[how]
        else one
        for one in readings
    ]


def _less(reading: Reading, blank: BlankSummary, unit: str) -> Reading:
    as_written = reading.concentration
    if as_written is None:
        return reading
    name = _name(blank.kind)
    if blank.mean is None:
        return _cautioned(reading, f"{name} was to be taken off, and its round has none: it stays "
                          "as read, too high rather than too low")  # fmt: skip
    # nothing changes, which the quality record says once for all
    if blank.mean == 0.0 or blank.error is None or reading.qualifier not in ("", "~"):
        return reading
    error = math.hypot(reading.error, blank.error)
    left = as_written - blank.mean
    taken = (
        f"{name} of {figure(blank.mean)} {unit} (mean of "
        f"{counted(len(blank.readings), 'reading')}) taken off {figure(as_written)}"
    )
    if left <= error * (1.0 + 1e-9) or left <= 0.0:
        text = (
            f"{taken}: what is left is not above its own error of {figure(error)}, so it counts "
            f"as a non-detect below {figure(as_written)}"
        )
        return reading._replace(qualifier="<", cautions=(*reading.cautions, text))
    text = f"{taken}: {figure(left)} is left, with an error of {figure(error)}"
    return reading._replace(concentration=left, error=error, cautions=(*reading.cautions, text))


def _name(kind: BlankKind) -> str:
    return "the background" if kind == "background" else "the field blank"


def _cautioned(reading: Reading, text: str) -> Reading:
    return reading._replace(cautions=(*reading.cautions, text))
