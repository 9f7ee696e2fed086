"""One reading, and what is said for or against it.

Concentrations are kept as they were written and beside that in the computing unit of their medium
(see :mod:`hgmap.site.units`); heights are metres above the floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal, NamedTuple

Qualifier = Literal["", "<", ">", "~", "to", "up to"]
ReadingKind = Literal[
    "reading", "source search", "headspace", "background", "field blank", "duplicate", "laboratory",
    "bulk sample", "surface wipe",
]  # fmt: skip
Verdict = Literal["usable", "usable with a caution", "held"]
OFF_MAP: Final[frozenset[ReadingKind]] = frozenset({"headspace", "background", "field blank"})
"""Kinds that say nothing about the air at a place of the floor: they are reported, never mapped."""

ROWS_NAMED: Final = 3
"""Rows of the log that a reason names in words; ``Finding.rows`` has all of them."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One reason for less trust in a reading, with the rows of the log behind it.

    Attributes
    ----------
    severity : {"hold", "caution"}
    rule : str
        Key of the rule in ``instrument_rules.toml``, to count by; ``"overrule"`` for a person's.
    message : str
        The reason, in words.
    rows : tuple of str
        File and row of every log entry behind it.
    overruled : str
        Initials and reason of the person who overruled it; empty where nobody did.
    """

    severity: Literal["hold", "caution"]
    rule: str
    message: str
    rows: tuple[str, ...] = ()
    overruled: str = ""

    @property
    def text(self) -> str:
        """The reason with its first rows, and who overruled it, in one line."""
        rows = [*self.rows[:ROWS_NAMED]]
        if len(self.rows) > ROWS_NAMED:
            rows.append(f"and {len(self.rows) - ROWS_NAMED} more")
        text = self.message + (f" ({'; '.join(rows)})" if rows else "")
        return f"{text}; overruled by {self.overruled}" if self.overruled else text


class Reading(NamedTuple):
    """One reading as written, where it was put, and whether it counts.

    A named tuple, not a dataclass: a site may have a million, and these are made in an eighth of
    the time. ``reading._replace(...)`` makes a changed copy.

    Attributes
    ----------
    value, unit, qualifier
        As written; ``qualifier`` ``"<"`` is a non-detect at the detection limit ``value``,
        ``">"`` a saturated reading that is only known to be above ``value``, ``"~"`` a number
        that was written as approximate, ``"to"`` a range from ``low`` to ``value``, ``"up to"``
        the highest of several.
    concentration : float or None
        ``value`` in the computing unit of the site's medium; None where it cannot be converted.
    placed : {"", "given", "grid", "walls", "room"}
        Where x and y come from: written, a named grid, offsets from two walls, or the room's
        representative point; empty: nowhere.
    band : str
        Name of the height band, empty where there is none.
    held : tuple of str
        Why the reading is kept out of every map; empty for a usable one.
    cautions : tuple of str
        What was assumed about it.
    where : str
        File and row.
    low, concentration_low : float or None
        Lower end of a range, as written and in the computing unit.
    kind : str
        What was measured: see ``ReadingKind``; those in ``OFF_MAP`` never enter a surface.
    medium : str
        ``""`` for the site's own; else what was measured instead, whose computing unit
        ``concentration`` is in: it never shares a map with the site's.
    instrument : str
        Name of the instrument, empty where not written.
    duplicate_of : str
        Id of the reading that this one repeats.
    error : float
        Standard deviation (computing unit) of the error that the instrument's own checks show;
        0 where they show none.
    findings : tuple of Finding
        What the instrument log says for or against it; those in force also stand, in words, in
        ``held`` or ``cautions``.
    """

    id: str
    round: str
    floor: str
    room: str
    x: float | None
    y: float | None
    height_m: float | None
    time: datetime | None
    value: float | None
    unit: str
    qualifier: Qualifier
    note: str
    concentration: float | None
    band: str
    placed: Literal["", "given", "grid", "walls", "room"]
    where: str
    temperature_c: float | None = None
    held: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    low: float | None = None
    concentration_low: float | None = None
    kind: ReadingKind = "reading"
    medium: Literal["", "air", "surface", "bulk"] = ""
    instrument: str = ""
    duplicate_of: str = ""
    error: float = 0.0
    findings: tuple[Finding, ...] = ()

    def with_verdict(
        self,
        held: tuple[str, ...],
        cautions: tuple[str, ...],
        error: float,
        findings: tuple[Finding, ...],
    ) -> Reading:
        """Return a copy with another verdict and error, as ``_replace`` does but quicker."""
        return tuple.__new__(
            Reading,
            (*self[:_HELD], held, cautions, *self[_LOW:_ERROR], error, findings),
        )

    @property
    def usable(self) -> bool:
        """Whether nothing holds this reading."""
        return not self.held

    @property
    def on_map(self) -> bool:
        """Whether it is of a kind and medium that the site's surfaces are made of."""
        return self.kind not in OFF_MAP and not self.medium

    @property
    def verdict(self) -> Verdict:
        """What the tool says of it."""
        if self.held:
            return "held"
        return "usable with a caution" if self.cautions else "usable"


_HELD: Final = Reading._fields.index("held")
_LOW: Final = Reading._fields.index("low")
_ERROR: Final = Reading._fields.index("error")
