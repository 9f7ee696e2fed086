"""How long a unit of a drawing is: what its header says, held against how wide its doors are.

Codes of ``$INSUNITS`` and ``$MEASUREMENT`` as in the DXF reference, "HEADER Section Group Codes".
How wide doors are, and how large buildings, is common practice, without a source.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from hgmap.errors import PlanError
from hgmap.site.importers.outlines import length_words
from hgmap.site.lengths import FOOT_M, INCH_M, US_SURVEY_FOOT_M, YARD_M

METRES: Final[Mapping[str, float]] = {
    "mm": 0.001, "cm": 0.01, "dm": 0.1, "m": 1.0, "in": INCH_M, "ft": FOOT_M,
    "yd": YARD_M,
}  # fmt: skip
"""Length (m) of each unit that can be said."""
_USUAL: Final = ("mm", "cm", "m", "in", "ft")
"""Units that drawings of buildings are made in; a door fits one of them at most."""
_INSUNITS: Final[Mapping[int, tuple[str, float]]] = {
    1: ("inches", INCH_M), 2: ("feet", FOOT_M), 3: ("miles", 1609.344), 4: ("millimetres", 0.001),
    5: ("centimetres", 0.01), 6: ("metres", 1.0), 7: ("kilometres", 1000.0),
    8: ("microinches", 1e-6 * INCH_M), 9: ("mils", 1e-3 * INCH_M), 10: ("yards", YARD_M),
    13: ("micrometres", 1e-6), 14: ("decimetres", 0.1), 15: ("decametres", 10.0),
    16: ("hectometres", 100.0), 21: ("US survey feet", US_SURVEY_FOOT_M),
}  # fmt: skip
DOOR_M: Final = (0.6, 1.3)
"""The median door is so wide (m)."""
_ANY_DOOR_M: Final = (0.45, 2.0)
"""Every single door is so wide (m); two thirds of them have to be."""
_ANY_WAY_M: Final = (0.3, 12.0)
"""Every way through a wall is so wide, gates too (m). Ours, no source."""
DOORS: Final = 3
"""So many doors outweigh the header."""
SPAN_M: Final = (2.0, 2000.0)
"""The longer side of a floor (m)."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit, what is to be said of how it was found, and what a person must look at."""

    metres: float
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


def judge_unit(
    *,
    insunits: int,
    measurement: int | None,
    doors: Sequence[float],
    span: float,
    said: str | None,
    file: str,
) -> Unit:
    """Tell how long a unit is.

    Parameters
    ----------
    insunits, measurement : int
        ``$INSUNITS`` (0: none) and ``$MEASUREMENT`` (0: imperial, 1: metric) of the header.
    doors : sequence of float
        Widths of doors (units).
    span : float
        The longer side of the floor (units).
    said : str or None
        What a person says: one of mm, cm, dm, m, in, ft, yd.

    Raises
    ------
    PlanError
        If neither the doors nor the header tell; what each unit would give is listed.
    """
    header = _INSUNITS.get(insunits)
    by_doors = unit_of_doors(doors)
    if said is not None:
        return _as_said(said, doors, span, by_doors)
    if by_doors is not None and len(doors) >= DOORS:
        return _by_doors(by_doors, header, doors, span)
    if header is None:
        raise PlanError(
            "does not say its unit, and has too few doors to tell it by"
            if insunits == 0
            else f"says a unit that no building is drawn in ($INSUNITS {insunits})",
            where=file,
            todo=_ask(doors, span, measurement),
        )
    name, metres = header
    if not SPAN_M[0] <= span * metres <= SPAN_M[1]:
        raise PlanError(
            f"says {name}, which would make the floor {length_words(span * metres)} long",
            where=file,
            todo=_ask(doors, span, measurement),
        )
    notes, doubts = [], []
    if by_doors is not None and not _same(METRES[by_doors], metres):
        doubts.append(
            f"the header says {name}, {_doors(doors)} would be right in {by_doors}: {name} were "
            f"taken, since there are fewer than {DOORS}; look at the size of the rooms"
        )
    elif doors and by_doors is None and not _are_ways(doors, metres):
        low, high = min(doors) * metres, max(doors) * metres
        doubts.append(
            f"the header says {name}, and the doors would be {length_words(low)} to "
            f"{length_words(high)} wide: look at the size of the rooms"
        )
    imperial = name in ("inches", "feet", "yards", "US survey feet")
    if measurement is not None and imperial != (measurement == 0):
        system = "imperial" if measurement == 0 else "metric"
        notes.append(f"the header says {name}, and {system} in $MEASUREMENT: {name} were taken")
    return Unit(metres, tuple(notes), tuple(doubts))


def unit_of_doors(doors: Sequence[float]) -> str | None:
    """Return the unit in which doors are as wide as doors are; None where there is none.

    Examples
    --------
    >>> unit_of_doors([885, 885, 1010, 760]), unit_of_doors([32.0, 36, 36]), unit_of_doors([5.0])
    ('mm', 'in', None)
    """
    if not doors:
        return None
    middle = statistics.median(doors)
    for unit in _USUAL:
        metres = METRES[unit]
        if DOOR_M[0] <= middle * metres <= DOOR_M[1]:
            fitting = sum(_ANY_DOOR_M[0] <= one * metres <= _ANY_DOOR_M[1] for one in doors)
            return unit if 3 * fitting >= 2 * len(doors) else None
    return None


def _as_said(said: str, doors: Sequence[float], span: float, by_doors: str | None) -> Unit:
    if said not in METRES:
        raise PlanError(
            f"{said!r} is no unit", where="--units", todo=f"say one of {', '.join(METRES)}"
        )
    metres, doubts = METRES[said], []
    if doors and by_doors != said:
        width = statistics.median(doors) * metres
        if not DOOR_M[0] / 2 <= width <= DOOR_M[1] * 2:
            fits = f"; they would be right in {by_doors}" if by_doors else ""
            doubts.append(f"in {said}, as said, the doors are {length_words(width)} wide{fits}")
    if not SPAN_M[0] <= span * metres <= SPAN_M[1]:
        doubts.append(f"in {said}, as said, the floor is {length_words(span * metres)} long")
    return Unit(metres, (), tuple(doubts))


def _are_ways(doors: Sequence[float], metres: float) -> bool:
    """Tell whether all doors are ways through a wall: no unit makes better doors of gates."""
    return _ANY_WAY_M[0] <= min(doors) * metres and max(doors) * metres <= _ANY_WAY_M[1]


def _by_doors(
    unit: str, header: tuple[str, float] | None, doors: Sequence[float], span: float
) -> Unit:
    metres = METRES[unit]
    notes, doubts = [], []
    if header is None:
        notes.append(f"the header says no unit; {_doors(doors)} are right in {unit}")
    elif _same(header[1], metres):
        metres = header[1]
    else:
        width = statistics.median(doors) * header[1]
        doubts.append(
            f"the header says {header[0]}, which would make the doors {length_words(width)} wide; "
            f"{_doors(doors)} are right in {unit}, which was taken: look at the size of the rooms"
        )
    if not SPAN_M[0] <= span * metres <= SPAN_M[1]:
        doubts.append(f"in {unit} the floor is {length_words(span * metres)} long")
    return Unit(metres, tuple(notes), tuple(doubts))


_SAID: Final = {"m": "metres"}
"""Units as a person says them, where that is otherwise."""


def _ask(doors: Sequence[float], span: float, measurement: int | None) -> str:
    """Say what each unit would give; those of the header's system first."""
    order = ("in", "ft", "mm", "cm", "m") if measurement == 0 else _USUAL
    would = "; ".join(
        f"--units {_SAID.get(unit, unit)}: {length_words(span * METRES[unit])} long"
        + (f", doors {length_words(statistics.median(doors) * METRES[unit])}" if doors else "")
        for unit in order
        if SPAN_M[0] <= span * METRES[unit] <= SPAN_M[1]
    )
    return f"say the unit ({would})" if would else "say the unit with --units"


def _same(one_m: float, other_m: float) -> bool:
    return abs(one_m - other_m) < 1e-3 * other_m  # a survey foot is a foot


def _doors(doors: Sequence[float]) -> str:
    count = "1 door" if len(doors) == 1 else f"{len(doors)} doors"
    return f"{count} of {statistics.median(doors):g} units"
