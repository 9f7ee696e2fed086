"""What a notebook asks of an object: a table of itself, and a picture on matplotlib's axes.

How each looks stands far to the right, in :mod:`hgmap.showing`, as it needs the sheet's drawings.
It is looked up by name, and only when somebody looks: whoever imports a site or a ruling loads
neither matplotlib nor a line of it.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LOOKS = "hgmap.showing"


def _looks() -> Any:
    return importlib.import_module(_LOOKS)


class InATable:
    """Shows itself as a table in a notebook."""

    __slots__ = ()

    def _repr_html_(self) -> str:
        """Return tables of it; text of the user's is escaped, nothing is loaded from elsewhere."""
        return str(_looks().html_of(self))


class OnAPlan(InATable):
    """Shows itself as a table, and on a plan."""

    __slots__ = ()

    def plot(self, ax: Axes | None = None, *, show: str | None = None) -> Axes:
        """Draw it in metres, in the colours, hatches and words of the printed sheet.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to; a new figure with a key beside the plan where not given. Such axes show
            themselves at the end of a notebook's cell; ``.figure`` is the figure.
        show : str, optional
            What of it, where there is a choice: ``"zones"``, ``"estimate"``, ``"chance"`` or
            ``"readings"`` of a map; ``"estimate"`` or ``"uncertainty"`` of a surface.

        Returns
        -------
        Axes
            The ones given, or the new ones; x and y are metres of the floor's own frame.

        Raises
        ------
        HgmapError
            If it cannot be shown so.
        """
        axes: Axes = _looks().plot(self, ax, show=show, floor=None)
        return axes


class OnPlans(InATable):
    """Shows itself as a table, and on the plan of each of its floors."""

    __slots__ = ()

    def plot(
        self, ax: Axes | None = None, *, floor: str | None = None, show: str | None = None
    ) -> Axes:
        """Draw its floors; see :meth:`OnAPlan.plot`.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Several floors are drawn inside it, one below another, each on axes in metres of its
            own (``ax.child_axes``).
        floor : str, optional
            Name or title of one floor, which is then drawn on ``ax`` itself.
        show : str, optional

        Returns
        -------
        Axes

        Raises
        ------
        HgmapError
            If it has no such floor, or cannot be shown so.
        """
        axes: Axes = _looks().plot(self, ax, show=show, floor=floor)
        return axes
