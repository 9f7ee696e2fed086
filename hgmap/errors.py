"""Everything hgmap raises on purpose.

::

    HgmapError
    ├── SiteError        (also ValueError)   a site folder or one of its files
    │   ├── PlanError                        a floor plan
    │   └── ReadingsError                    a readings file
    ├── LevelError       (also ValueError)   an action level, a unit, a use that do not fit
    └── EstimateError    (also ValueError)   an estimate that cannot be made

and one warning, :class:`CoincidentReadingsWarning`.
"""

from __future__ import annotations


class HgmapError(Exception):
    """Say what is wrong, where, and what to do, in one line.

    Parameters
    ----------
    message : str
        What is wrong: what was expected and what was found.
    where : str, optional
        File, row, column or key.
    todo : str, optional
        What the reader should do about it.
    """

    exit_code = 2

    def __init__(self, message: str, *, where: str = "", todo: str = "") -> None:
        self.message = message
        self.where = where
        self.todo = todo
        super().__init__(one_line(message, where=where, todo=todo))


class SiteError(HgmapError, ValueError):
    """A site folder, or one of its files, cannot be used as it is."""


class PlanError(SiteError):
    """A floor plan cannot be used as it is."""


class ReadingsError(SiteError):
    """A readings file cannot be used as it is."""


class LevelError(HgmapError, ValueError):
    """An action level is missing, unknown, or not for this site."""


class EstimateError(HgmapError, ValueError):
    """An estimate cannot be made from what was given."""


class CoincidentReadingsWarning(UserWarning):
    """Readings stand at one place and were merged."""


def one_line(message: str, *, where: str = "", todo: str = "") -> str:
    """Join the three parts of a complaint into one line.

    Examples
    --------
    >>> one_line("no value", where="a.csv, row 3", todo="write the number")
    'a.csv, row 3: no value; write the number'
    """
    text = f"{where}: {message}" if where else message
    if todo:
        text = f"{text}; {todo}"
    return " ".join(text.split())
