"""What is counted while the rows of a table go by."""

from __future__ import annotations

from dataclasses import dataclass, field

from hgmap.errors import ReadingsError
from hgmap.site.intake.sorting import LeftOut
from hgmap.site.quality.figures import counted


@dataclass
class Tally:
    """Counts of one import.

    Attributes
    ----------
    left_out : list of LeftOut
        Rows that are no readings.
    rows : int
        Rows that are.
    doubts : list of str
        The first rows that will be held, and why.
    doubtful : int
        How many will be held.
    rounds : dict
        The rounds that the rows are of, in the order of the table.
    unfilled : list of str
        Ids of rows that were never filled in.
    """

    left_out: list[LeftOut]
    rows: int = 0
    doubts: list[str] = field(default_factory=list)
    doubtful: int = 0
    rounds: dict[str, None] = field(default_factory=dict)
    unfilled: list[str] = field(default_factory=list)

    def check_rows(self, *, where: str) -> None:
        """Refuse a table without a reading.

        Raises
        ------
        ReadingsError
            If no row is one.
        """
        if self.rows:
            return
        if self.unfilled:
            raise ReadingsError(
                f"nothing is filled in: {counted(len(self.unfilled), 'row')} without a result, a "
                "sign and a time",
                where=where,
                todo="fill in what was read, and bring it in again",
            )
        listed = "; ".join(one.text for one in self.left_out[:3])
        raise ReadingsError(f"no row is a reading ({listed})", where=where, todo="look at the rows")
