"""What a building is laid on the map by, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hgmap.site.control.fit import Fit, FitKind
from hgmap.site.control.points import ControlPoint
from hgmap.site.control.traverse import Traverse
from hgmap.site.map_frame import MapFrame
from hgmap.site.model import Problem, Site


@dataclass(frozen=True, slots=True)
class GeoreferenceOptions:
    """What to fit.

    Attributes
    ----------
    points : Path or None
        Control points (CSV); None: only the deed is looked at.
    crs : str or None
        The map's system; None for the one that the site has.
    fit : {"conformal", "affine"}
    building : str
        One of several buildings; the empty name is that of floors that name none.
    floors : tuple of str
        Floors that lie in that building from now on.
    deed : Path or None
        A description by bearings and distances.
    start : tuple of 2 float or None
        East, north (m) of its first corner.
    corners, picture : Path or None
        Where the deed's corners, and the picture, are to be written.
    without : tuple of str
        Names of points that are left out of the fit.
    keep : tuple of str
        Names of points that are used although the others do not bear them out.
    dry_run : bool
        Leave site.toml as it is; a point that stands out is then warned of, not refused.
    """

    points: Path | None = None
    crs: str | None = None
    fit: FitKind = "conformal"
    building: str = ""
    floors: tuple[str, ...] = ()
    deed: Path | None = None
    start: tuple[float, float] | None = None
    corners: Path | None = None
    picture: Path | None = None
    without: tuple[str, ...] = ()
    keep: tuple[str, ...] = ()
    dry_run: bool = False


@dataclass(frozen=True)
class Fitted:
    """A frame with what it comes from.

    Attributes
    ----------
    frame, before : MapFrame
        From now on, and until now; ``before`` is None where there was none.
    points : tuple of ControlPoint
    fit : Fit
    grid_scale : float
        How long a metre on the ground is on the map here.
    farthest_m, reach_m : float
        How far (m) the plan's farthest corner, and the farthest point, lie from the middle of the
        points.
    floors : tuple of str
        Titles of the floors that lie so.
    """

    frame: MapFrame
    before: MapFrame | None
    points: tuple[ControlPoint, ...]
    fit: Fit
    grid_scale: float
    farthest_m: float
    reach_m: float
    floors: tuple[str, ...]


@dataclass(frozen=True)
class Georeferenced:
    """What a run found and wrote; ``problems`` are warnings first, then notes."""

    site: Site
    traverse: Traverse | None
    fitted: Fitted | None
    problems: tuple[Problem, ...]
    written: tuple[Path, ...] = ()

    @property
    def exit_code(self) -> int:
        """0 clean, 1 with something to read."""
        return 1 if any(one.severity != "note" for one in self.problems) else 0
