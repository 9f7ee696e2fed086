"""Which control points a fit rests on: none that was left out, and none that stands out unasked."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import Final

from hgmap.errors import SiteError
from hgmap.site.control.doubts import point_that_misses
from hgmap.site.control.fit import Fit
from hgmap.site.control.points import ControlPoint
from hgmap.site.model import Problem

MOST_NAMED: Final = 6
LONGEST_LIST: Final = 40
"""Names that take more characters are counted: what site.toml says of a frame is a line."""


def points_without(
    points: Sequence[ControlPoint], without: Sequence[str], keep: Sequence[str], *, where: str
) -> tuple[ControlPoint, ...]:
    """Return the points that are fitted.

    Parameters
    ----------
    points : sequence of ControlPoint
        As read.
    without, keep : sequence of str
        Names of points that are left out, and of those that are used although they stand out.
    where : str
        What complaints name: the file of the points.

    Raises
    ------
    SiteError
        If no point has such a name, or one is to be both.
    """
    known = [one.name for one in points]
    for option, names in (("--without", without), ("--keep", keep)):
        for name in names:
            if name not in known:
                more = f" and {len(known) - MOST_NAMED} more" if len(known) > MOST_NAMED else ""
                raise SiteError(
                    f"{where} has no point {name!r} that can be used", where=option,
                    todo=f"known: {', '.join(known[:MOST_NAMED])}{more}",
                )  # fmt: skip
    for name in without:
        if name in keep:
            raise SiteError(
                f"point {name!r} is to be left out and kept", where="--without, --keep",
                todo="say one of the two",
            )  # fmt: skip
    return tuple(one for one in points if one.name not in without)


def refuse_blunder(
    points: Sequence[ControlPoint], fit: Fit, keep: Sequence[str], *, where: str
) -> None:
    """Refuse a fit to a point that the others do not bear out, unless it is to be kept.

    Raises
    ------
    SiteError
        With the point, how far it is missed, and what can be said.
    """
    out = point_that_misses(points, fit)
    if out is None or out[0].name in keep:
        return
    name = shlex.quote(out[0].name)
    raise SiteError(
        f"point {out[0].name!r} stands out: the others put it {out[1]:.3f} m from where it was "
        "measured; nothing was written",
        where=where,
        todo=f"measure it again, or leave it out: --without {name}; --dry-run shows the fit, and "
        f"--keep {name} takes the point as it is",
    )


def said_of_choice(
    without: Sequence[str], keep: Sequence[str], points: Sequence[ControlPoint], fit: Fit
) -> tuple[str, list[Problem]]:
    """Say which points were left out and kept: in a few words, and as notes."""
    notes = [Problem("note", "--without", f"point {name!r} is left out of the fit", "")
             for name in dict.fromkeys(without)]  # fmt: skip
    out = point_that_misses(points, fit)
    stands_out = out[0].name if out else ""
    notes += [Problem("note", "--keep", f"point {name!r} does not stand out: it says nothing", "")
              for name in dict.fromkeys(keep) if name != stands_out]  # fmt: skip
    kept = [stands_out] if stands_out in keep else []
    parts = [f"; {how} {_listed(names)}" for how, names in (
        ("without", list(dict.fromkeys(without))), ("kept though it stands out:", kept),
    ) if names]  # fmt: skip
    return "".join(parts), notes


def _listed(names: Sequence[str]) -> str:
    text = ", ".join(" ".join(one.split()) for one in names)
    return text if len(text) <= LONGEST_LIST else f"{len(names)} of the points given"
