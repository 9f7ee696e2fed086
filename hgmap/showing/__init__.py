"""How our objects look in a notebook: tables of them, and pictures on matplotlib's axes.

:mod:`hgmap.shows_itself` finds this by name. Only pictures load
matplotlib.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def html_of(thing: Any) -> str:
    """Return tables of an object of ours as HTML; its texts are escaped."""
    from hgmap.showing.tables import html_of as made

    return str(made(thing))


def plot(thing: Any, ax: Axes | None, *, show: str | None, floor: str | None) -> Axes:
    """Draw an object of ours; see :meth:`hgmap.shows_itself.OnPlans.plot`."""
    from hgmap.showing.canvas import paint_views
    from hgmap.showing.views import views_of

    return paint_views(views_of(thing, show, floor), ax)
