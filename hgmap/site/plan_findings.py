"""What may be wrong with a plan, wherever it came from: a drawing, an import, an editor.

Nothing here knows how a plan is drawn: ``Drawn`` is whatever a repair takes and gives back.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

import shapely

Drawn = TypeVar("Drawn")

Severity = Literal["error", "warning", "note"]


@dataclass(frozen=True)
class Repair(Generic[Drawn]):
    """A way to mend a finding.

    Attributes
    ----------
    text : str
        What it does, with the area that it changes.
    changed_m2 : float
        Floor (m²) that it adds to rooms, takes from them, or hands from one to another.
    apply : callable
        From the plan that the finding was made on to the mended one.
    factor : float or None
        What it multiplies the whole plan by; None where all else stays in its place. A picture
        under the plan, and places that readings give, have to go along.
    """

    text: str
    changed_m2: float
    apply: Callable[[Drawn], Drawn]
    factor: float | None = None


@dataclass(frozen=True)
class PlanFinding(Generic[Drawn]):
    """One thing that may be wrong with a plan.

    Attributes
    ----------
    key : str
        The same as long as the finding and the shapes that it speaks of are the same.
    severity : {"error", "warning", "note"}
        ``"error"``: the plan is not read with it. ``"warning"``: the map will be wrong there if
        it is a mistake. ``"note"``: look at it.
    message, todo : str
        What is wrong, and what to do.
    place : shapely geometry or None
        Where (m).
    features : tuple of str
        Keys of the features that it speaks of.
    repair : Repair or None
    kept : bool
        Whether a person has said that it is drawn so on purpose.
    """

    key: str
    severity: Severity
    message: str
    todo: str
    place: shapely.Geometry | None
    features: tuple[str, ...]
    repair: Repair[Drawn] | None = None
    kept: bool = False

    @property
    def rule(self) -> str:
        """What was looked for: the part of the key that does not change with the shapes."""
        return self.key.rpartition("-")[0]


def finding_key(rule: str, *about: str | bytes) -> str:
    """Return a key for a finding from its rule and all that it was found on.

    Examples
    --------
    >>> finding_key("overlap", "A", "B") == finding_key("overlap", "A", "B")
    True
    >>> finding_key("overlap", "AB", "").rpartition("-")[0]
    'overlap'
    """
    made = hashlib.sha256()
    for one in about:
        data = one.encode(errors="surrogatepass") if isinstance(one, str) else one
        made.update(len(data).to_bytes(8, "big") + data)
    return f"{rule}-{made.hexdigest()[:16]}"
