"""The sentences that every output carries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:  # the command line says its sentence without loading any geometry
    from hgmap.site.model import Medium

LICENSED: Final = "Local codes and licensed practice decide."

SCREENING: Final = f"Screening, not a health opinion. {LICENSED}"


def screening(medium: Medium) -> str:
    """Say what a map or a table of a survey is, and what it is not.

    Examples
    --------
    >>> screening("air").split(";")[0]
    'Screening of the air at the time of the survey'
    """
    what = "air" if medium == "air" else f"{medium} samples"
    return (
        f"Screening of the {what} at the time of the survey; not a health opinion. "
        f"Contours are interpretation. {LICENSED}"
    )
