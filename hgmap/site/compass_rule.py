"""The compass rule: what a walk misses its beginning by is shared by its courses, by their length.

Bowditch's rule, as in C. D. Ghilani and P. R. Wolf, Elementary Surveying, section 10.7 (from
memory). Deeds and taped walls are closed by it alike.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def shared_by_length(corners: Floats, lengths_m: Floats) -> Floats:
    """Return the corners of a walk that ends where it began.

    Parameters
    ----------
    corners : array of shape (n + 1, 2)
        The start, then the end of each course (m).
    lengths_m : array of shape (n,)
        Of the courses (m); their sum is more than zero.

    Returns
    -------
    array of shape (n + 1, 2)
        In metres; the last is the first.

    Examples
    --------
    >>> walk = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [-0.04, 3.0], [-0.04, 0.0]])
    >>> shared_by_length(walk, np.array([3.0, 3.0, 3.04, 3.0]))[-1].round(12).tolist()
    [0.0, 0.0]
    """
    share = np.concatenate([[0.0], np.cumsum(lengths_m)]) / lengths_m.sum()
    closed: Floats = corners - np.outer(share, corners[-1] - corners[0])
    return closed
